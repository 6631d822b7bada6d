"""Where frets lie: equal temperament with any number of divisions, one scale or two, fanned. Plain numbers alone.

Bass and treble side are divided each by itself. Fret `n` stands at `L (1 - 2^(-n / divisions))` from the origin of its
scale; `along` counts parallel to the centre line, from where the bass scale begins. The perpendicular fret is the one
whose two ends lie at the same `along`. Source: twelfth root of two, plain geometry.
"""

from __future__ import annotations

from dataclasses import dataclass

from inlayfit.errors import JobError
from inlayfit.units import LARGEST, Mm, format_mm

TYPE_CHECKING = False  # as type checkers know it; `typing` would cost the start of the program
if TYPE_CHECKING:
    from typing import Literal

    Side = Literal["bass", "treble"]

TWELVE = 12
"""Divisions of the octave, unless another number is asked for."""

MOST_FRETS = 200
"""More frets than this no board has, in however many divisions."""

MOST_DIVISIONS = 1200
"""Finer than a cent nobody divides an octave."""

LONGEST_SCALE: Mm = 3000.0
"""The longest scale that makes sense; a bass has about 870 mm."""

FARTHEST_NUT = 0.1
"""How far behind the origin of its scale a nut may stand, in scale lengths."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """The scale of a board, mm; `bass` and `treble` differ where the frets are fanned.

    `nut_offset` is how much nearer to the bridge the nut stands than the origin of the scale (below zero: behind it).
    `zero_fret` puts a fret at that origin. `perpendicular` is the fret that stands square, fractions allowed.

    Raises:
        JobError: a length, a count or an offset that no board has; `where` is the name of the field.
    """

    bass: Mm
    treble: Mm
    frets: int
    divisions: int = TWELVE
    perpendicular: float = 0.0
    nut_offset: Mm = 0.0
    zero_fret: bool = False

    def __post_init__(self) -> None:
        _check_lengths(self)
        _check_counts(self)
        _check_nut(self)

    @property
    def fanned(self) -> bool:
        """Whether the two sides have scales of their own."""
        return self.bass != self.treble

    @property
    def shift(self) -> Mm:
        """How far the treble scale begins beyond the bass scale."""
        return fret_distance(self.bass - self.treble, self.perpendicular, self.divisions)

    def from_nut(self, fret: float, side: Side = "bass") -> Mm:
        """Return the distance of a fret from the nut, on one side."""
        scale = self.bass if side == "bass" else self.treble
        return fret_distance(scale, fret, self.divisions) - self.nut_offset

    def along(self, fret: float, side: Side = "bass") -> Mm:
        """Return the place of a fret's end, counted along the centre line from the nut on the bass side."""
        return self.from_nut(fret, side) + (self.shift if side == "treble" else 0.0)

    @property
    def first(self) -> int:
        """The number of the first fret: 0 where there is a zero fret."""
        return 0 if self.zero_fret else 1


def fret_distance(scale: Mm, fret: float, divisions: int = TWELVE) -> Mm:
    """Return the distance from the origin of a scale to a fret.

    >>> fret_distance(650.0, 12), fret_distance(650.0, 24)
    (325.0, 487.5)
    """
    return scale * (1.0 - 2.0 ** (-fret / divisions))


@dataclass(frozen=True, slots=True, kw_only=True)
class FretRow:
    """One fret on one side, mm: from the nut, from the fret before (from the nut for the first), and along the board.

    `along` is counted parallel to the centre line, from the nut on the bass side.
    """

    fret: int
    from_nut: Mm
    step: Mm
    along: Mm


def fret_rows(scale: Scale, side: Side = "bass") -> tuple[FretRow, ...]:
    """Return the table of one side; every distance is reckoned from the nut by itself, so that no error adds up."""
    rows: list[FretRow] = []
    before = 0.0
    for fret in range(scale.first, scale.frets + 1):
        here = scale.from_nut(fret, side)
        rows.append(FretRow(fret=fret, from_nut=here, step=here - before, along=scale.along(fret, side)))
        before = here
    return tuple(rows)


def _check_lengths(scale: Scale) -> None:
    for length, where in ((scale.bass, "scale"), (scale.treble, "treble_scale")):
        if not 0 < length <= LONGEST_SCALE:
            raise JobError(
                f"a scale of {length:g} mm is none: it must be over zero, and at most {format_mm(LONGEST_SCALE)}",
                where=where,
                remedy="give the scale length with its unit, such as 25.5in or 650mm",
            )


def _check_counts(scale: Scale) -> None:
    if not 1 <= scale.frets <= MOST_FRETS:
        raise JobError(
            f"{scale.frets} frets: a board has 1 to {MOST_FRETS}", where="frets", remedy="give a number such as 22"
        )
    if not 1 <= scale.divisions <= MOST_DIVISIONS:
        raise JobError(
            f"{scale.divisions} divisions: an octave is divided into 1 to {MOST_DIVISIONS}",
            where="divisions",
            remedy="12 is usual, 24 gives quarter tones",
        )
    if not 0 <= scale.perpendicular <= scale.frets:
        raise JobError(
            f"fret {scale.perpendicular:g} cannot stand square: the board has frets 0 to {scale.frets}",
            where="perpendicular",
            remedy="0 is the nut; 7 to 9 is usual",
        )


def _check_nut(scale: Scale) -> None:
    shorter = min(scale.bass, scale.treble)
    first = fret_distance(shorter, 1, scale.divisions)
    if not -FARTHEST_NUT * shorter <= scale.nut_offset < first or abs(scale.nut_offset) > LARGEST:
        raise JobError(
            f"a nut {format_mm(scale.nut_offset)} nearer to the bridge stands beyond fret 1 or far behind the scale",
            where="nut_offset",
            remedy=f"give less than {format_mm(first)}; below zero the nut stands behind the origin of the scale",
        )
    if scale.zero_fret and scale.nut_offset > 0:
        raise JobError(
            "with a zero fret the nut stands behind it, not before it",
            where="nut_offset",
            remedy=f"give {format_mm(-scale.nut_offset)}, or leave the zero fret out",
        )
