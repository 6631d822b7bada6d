"""The tolerance stack of one gap: what may be off, by how much it moves a wall, and what that makes likely.

The model
    The gap g is the room on one side, with the piece in the middle of its pocket. An error moves it by its weight:

    - *Size.* A bit larger by d takes d/2 more off every wall. The pocket grows and the piece shrinks, so each half
      opens the gap by d/2 a side, and one bit that cuts both halves opens it by d: its error counts twice and cannot
      cancel. The same holds for a kerf. Runout is part of the diameter (d + reading); as the bit goes into the collet
      anew for each half, its two errors are independent. These errors are the same on all walls of a half.
    - *Machine.* Each wall of each half lies off by an error of its own of up to r. Of two opposite walls half the sum
      changes the size, half the difference only shifts the piece. A piece that floats leaves the shift aside: at
      worst the gap still loses r a half, but its spread is r / sqrt(2). One that cannot float meets each wall as it is.
    - *Place.* How well a half is set to its place shifts the whole piece. It counts only where the piece cannot float.
    - Between two pieces of one pocket both walls are those of pieces: the cutter of the pieces counts twice there.
    - In a row of pieces that butt, all slack is at the two ends: each piece adds its own errors. Where a gap is left
      between pieces as well, every piece has room of its own, and a row is no worse than a piece alone.

    Every +- is the half-width of a normal spread at 3 sigma, centred on nought, all independent: the usual premise
    under which a root of the sum of squares means anything (F. Scholz, Tolerance Stack Analysis Methods, 1995). So the
    worst case adds all half-widths, the root of the sum of their squares is again 3 sigma (99.73 % of all, NIST TN 1297
    6.2), and the likelihoods are those of the same normal spreads. Within a range of which nothing else is known a
    spread may be wider (even: sigma = half-width / sqrt(3)); then give a wider +-.

    A piece drops in where it has room along both axes of the machine: the size errors are shared by both, those of the
    walls are not. A piece that floats has two widths to pass, one that cannot float four walls. Errors between two
    walls of one axis, such as a wave along an edge, are not counted.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from inlayfit.cutters import STANDARD_SIZES, Bit, Cutter
from inlayfit.units import MM_PER_INCH, Mm

SIGMAS = 3.0
"""Half-widths stand for this many standard deviations."""

LABELLED: Mm = MM_PER_INCH * 0.0005
"""A small carbide bit is ground to its label within this (common practice, no source)."""

MEASURED: Mm = 0.005
"""What a micrometer reading of a bit is good for, and the least of a runout reading (common practice, no source)."""

UNREAD: Mm = MM_PER_INCH * 0.0005
"""Runout that nobody read is taken to be up to this: the large end of what is usual (common practice, no source)."""

REPEAT: Mm = MM_PER_INCH * 0.001
"""A small router that is set up well comes back to a place within this (common practice, no source)."""

KERF: Mm = 0.02
"""How much the slit of a saw or a beam varies (common practice, no source)."""

PLACING: Mm = 0.05
"""How well a half is set to its place, where it cannot float (common practice, no source)."""

LIMIT: Mm = 0.1
"""A wider line of glue shows (common practice, no source)."""

LARGEST: Mm = 1.0
"""A tolerance over this many mm is a slip of the unit."""

PRACTICE = "common practice, no source"
ASKED = "the job"


@dataclass(frozen=True, slots=True, kw_only=True)
class HalfTolerances:
    """What may be off of one half, each +- mm; None leaves it to what is usual for its cutter.

    `bit` is of the diameter, `runout` of the full indicator reading, `kerf` of the whole slit, `repeat` of where a
    wall lies.
    """

    bit: Mm | None = None
    runout: Mm | None = None
    kerf: Mm | None = None
    repeat: Mm | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerances:
    """What may be off of a fit; `placing` counts where the pieces do not float; `limit` is the widest gap wanted."""

    piece: HalfTolerances = field(default_factory=HalfTolerances)
    pocket: HalfTolerances = field(default_factory=HalfTolerances)
    placing: Mm | None = None
    floats: bool = True
    limit: Mm = LIMIT


@dataclass(frozen=True, slots=True, kw_only=True)
class Contributor:
    """One thing that may be off by +- `plus_minus`: its `cause`, and the `half` that it is in, if it is in one.

    `effect` is what it takes from the gap of a side at worst, `spread` what it adds to the root of the sum of squares
    (both mm, both at 3 sigma). `each_wall` tells an error that every wall has of its own. One that does not `count` is
    a shift that a floating piece leaves aside.
    """

    cause: str
    half: str = ""
    acts_on: Literal["size", "place"]
    plus_minus: Mm
    effect: Mm
    spread: Mm
    source: str
    remedy: str
    each_wall: bool = False
    counts: bool = True

    @property
    def name(self) -> str:
        """Cause and half in one."""
        return f"{self.cause}, {self.half}" if self.half else self.cause


@dataclass(frozen=True, slots=True)
class Stack:
    """Everything that may be off of one gap, the weightiest first."""

    contributors: tuple[Contributor, ...]
    floats: bool = True

    @property
    def worst(self) -> Mm:
        """What the gap of a side loses or gains if all is off at once, mm."""
        return worst_case(one.effect for one in self.contributors if one.counts)

    @property
    def likely(self) -> Mm:
        """The same at 3 sigma: the root of the sum of squares, mm."""
        return root_sum_square(one.spread for one in self.contributors if one.counts)

    def share(self, contributor: Contributor) -> float:
        """Return how much of the variance comes from one of the contributors, 0 to 1."""
        return (contributor.spread / self.likely) ** 2 if contributor.counts and self.likely else 0.0

    @property
    def causes(self) -> list[tuple[str, float]]:
        """How much of the variance comes from each cause, whichever half it is in, the weightiest first; none of 0."""
        shares: dict[str, float] = {}
        for one in self.contributors:
            shares[one.cause] = shares.get(one.cause, 0.0) + self.share(one)
        return sorted(((cause, share) for cause, share in shares.items() if share), key=lambda row: -row[1])

    def likelihood(self, margin: Mm) -> float:
        """Return how likely it is that no side is off by more than a margin in one direction, 0 to 1.

        With the measured gap as the margin: that the piece drops in. With what is left to a limit: that it stays under.
        """
        return _likelihood(
            round(margin, 7),
            root_sum_square(one.spread for one in self.contributors if one.acts_on == "size" and not one.each_wall),
            root_sum_square(one.spread for one in self.contributors if one.each_wall),
            root_sum_square(one.spread for one in self.contributors if one.acts_on == "place" and one.counts),
            self.floats,
        )

    def margin_for(self, likelihood: float) -> Mm:
        """Return the margin that is kept with a likelihood (0 to 1, both excluded), mm, by halving."""
        low, high = -2 * self.worst, 2 * self.worst
        while high - low > 1e-5:
            middle = (low + high) / 2
            low, high = (low, middle) if self.likelihood(middle) >= likelihood else (middle, high)
        return high


def worst_case(effects: Iterable[Mm]) -> Mm:
    """Return how far off a sum is if all its parts are off at once."""
    return sum(abs(effect) for effect in effects)


def root_sum_square(effects: Iterable[Mm]) -> Mm:
    """Return how far off a sum is at as many sigmas as its parts, which are independent."""
    return math.hypot(*effects)


def wall_stack(piece: Cutter, pocket: Cutter, tolerances: Tolerances, *, row: int = 1) -> Stack:
    """Return the stack of the gap between a piece, or a row of so many that butt, and the wall of the pocket."""
    of_piece, of_pocket = tolerances.piece, tolerances.pocket
    one_bit = piece == pocket and isinstance(piece, Bit) and _of_size(piece, of_piece) == _of_size(pocket, of_pocket)
    if one_bit:
        found = [_size(piece, of_piece, "both halves", walls=row + 1)]
    else:
        found = [_size(piece, of_piece, "piece", walls=row), _size(pocket, of_pocket, "pocket", walls=1)]
    found += [*_runout(piece, of_piece, "piece", walls=row), *_runout(pocket, of_pocket, "pocket", walls=1)]
    return _stack([*found, _machine(of_piece, "piece", row), _machine(of_pocket, "pocket")], tolerances)


def joint_stack(piece: Cutter, tolerances: Tolerances) -> Stack:
    """Return the stack of the gap between two pieces of one pocket: both walls are cut by the same cutter."""
    of_piece = tolerances.piece
    found = [_size(piece, of_piece, "piece", walls=2), *_runout(piece, of_piece, "piece", walls=2)]
    return _stack([*found, *2 * [_machine(of_piece, "piece")]], tolerances)


def _stack(found: Sequence[Contributor], tolerances: Tolerances) -> Stack:
    """Return the stack with the shift of the piece; walls that cannot move together count one by one."""
    floats, shift = tolerances.floats, _or(tolerances.placing, PLACING)
    settled = [_settled(one) if floats and one.each_wall else one for one in found]
    settled.append(
        Contributor(
            cause="placing",
            acts_on="place",
            plus_minus=shift,
            effect=shift,
            spread=shift,
            source=_source(tolerances.placing),
            remedy="find the zero of piece and pocket on the same pins or edges, or let the piece float",
            counts=not floats,
        )
    )
    return Stack(tuple(sorted(settled, key=lambda one: (not one.counts, -one.spread))), floats)


def _settled(one: Contributor) -> Contributor:
    """Return an error of each wall as a floating piece feels it: half of what two opposite walls have together."""
    return replace(one, spread=one.spread / math.sqrt(2))


def _of_size(cutter: Cutter, asked: HalfTolerances) -> tuple[Mm, str]:
    """Return +- of the diameter or the kerf, and where it is from."""
    if not isinstance(cutter, Bit):
        return _or(asked.kerf, KERF), _source(asked.kerf)
    if asked.bit is not None:
        return asked.bit, ASKED
    labelled = any(math.isclose(cutter.diameter, size, abs_tol=1e-6) for size in STANDARD_SIZES)
    if labelled:
        return LABELLED, f"a size as on the label: 0.0005 in ({PRACTICE})"
    return MEASURED, f"a size as measured with a micrometer ({PRACTICE})"


def _size(cutter: Cutter, asked: HalfTolerances, half: str, *, walls: int) -> Contributor:
    plus_minus, source = _of_size(cutter, asked)
    is_bit = isinstance(cutter, Bit)
    return Contributor(
        cause="bit" if is_bit else "kerf",
        half=half,
        acts_on="size",
        plus_minus=plus_minus,
        effect=walls * plus_minus / 2,
        spread=walls * plus_minus / 2,
        source=source,
        remedy="measure the bit, or better the width of a slot that it cut in scrap, and give that as its size"
        if is_bit
        else "cut a few slits in scrap of the same sheet, measure them, and give their mean as the kerf",
    )


def _runout(cutter: Cutter, asked: HalfTolerances, half: str, *, walls: int) -> list[Contributor]:
    """Return what runout may be off; of a slit there is none.

    The reading is the most that a slot gains: by where the edges of the bit sit it may be any part of it.
    """
    if not isinstance(cutter, Bit):
        return []
    usual = max(cutter.runout, MEASURED) if cutter.runout else UNREAD
    plus_minus = _or(asked.runout, usual)
    return [
        Contributor(
            cause="runout",
            half=half,
            acts_on="size",
            plus_minus=plus_minus,
            effect=walls * plus_minus / 2,
            spread=walls * plus_minus / 2,
            source=_source(asked.runout)
            if asked.runout is not None or cutter.runout
            else f"no runout was given: up to 0.0005 in ({PRACTICE})",
            remedy="read the runout at the bit with an indicator, clean the collet, and give the reading",
        )
    ]


def _machine(asked: HalfTolerances, half: str, row: int = 1) -> Contributor:
    plus_minus = _or(asked.repeat, REPEAT)
    return Contributor(
        cause="machine",
        half=half,
        acts_on="size",
        plus_minus=plus_minus,
        effect=row * plus_minus,
        spread=math.sqrt(row) * plus_minus,
        source=_source(asked.repeat),
        remedy="take up the slack of the machine, and cut the last pass slowly, all round in one direction",
        each_wall=True,
    )


def _or(asked: Mm | None, usual: Mm) -> Mm:
    return usual if asked is None else asked


def _source(asked: Mm | None) -> str:
    return PRACTICE if asked is None else ASKED


FARTHEST = 8.0
"""Sigmas; beyond lie 1e-15 of all."""

FINE, COARSE = 8001, 41
"""Nodes of the sums over what all walls share, and over what two walls have together: likelihoods are good to 4e-4 even
where a wall is hardly off, so that they are a step there."""

_Array = NDArray[np.float64]


@lru_cache(maxsize=2)
def _nodes(count: int) -> tuple[_Array, _Array]:
    """Return places, in sigmas, and weights of a sum that stands for the mean over a normal spread."""
    places = np.linspace(-FARTHEST, FARTHEST, count)
    weights = np.exp(-(places**2) / 2)
    return places, weights / weights.sum()


@lru_cache(maxsize=1)
def _table() -> tuple[_Array, _Array]:
    """Return the share of a normal spread below a number of sigmas, as a table; straight lines between are 3e-8 off."""
    places = np.linspace(-FARTHEST, FARTHEST, 16001)
    return places, np.array([0.5 * math.erfc(-place / math.sqrt(2)) for place in places.tolist()])


def share_below(sigmas: _Array | float) -> _Array:
    """Return the share of a normal spread that lies below a number of sigmas."""
    return np.asarray(np.interp(sigmas, *_table(), left=0.0, right=1.0))


@lru_cache(maxsize=4096)
def _likelihood(margin: Mm, common: Mm, wall: Mm, place: Mm, floats: bool) -> float:
    """Return how likely it is that all sides keep a margin; the others are spreads at 3 sigma.

    Floating: two widths, each with an error of its own (`wall`) beside the one that they share (`common`). Held: on
    each axis two walls; half their sum u is size, half their difference is shift and joins `place` as v, and the
    tighter of the two sides keeps u - |v|.
    """
    shift = math.hypot(place, wall / math.sqrt(2)) if not floats else wall
    if shift == 0:  # all walls are off by the same
        return float(share_below(margin / (common / SIGMAS))) if common else float(margin > 0)
    places, weights = _nodes(FINE)
    room = margin + places * common / SIGMAS
    if floats:
        axis = share_below(room / (shift / SIGMAS))
    else:
        sums, shares = _nodes(COARSE)
        of_pair = room[None, :] + sums[:, None] * wall / math.sqrt(2) / SIGMAS
        axis = np.einsum("i,ij->j", shares, np.maximum(2 * share_below(of_pair / (shift / SIGMAS)) - 1, 0))
    return float((weights * axis**2).sum())
