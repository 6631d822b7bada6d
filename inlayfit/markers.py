"""Position markers: which frets carry one, where each stands on the board, and the drawing that they make together.

A marker stands between the frets n - 1 and n, midway between their lines (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import shapely

from inlayfit.board import SIDES, Board
from inlayfit.drawing import Drawing, Region
from inlayfit.errors import JobError
from inlayfit.fretboard import TWELVE
from inlayfit.marker_shapes import Place, Style, draw, enlargement
from inlayfit.units import Mm

if TYPE_CHECKING:
    from inlayfit.fretboard import Side

SETS: Mapping[str, tuple[int, ...]] = {
    "guitar": (3, 5, 7, 9, 12, 15, 17, 19, 21, 24),
    "mandolin": (3, 5, 7, 10, 12, 15, 17, 19, 22, 24),
    "ukulele": (5, 7, 10, 12, 15, 17, 19),
    "banjo": (3, 5, 7, 10, 12, 15, 17, 19, 22),
}
"""Frets that are usually marked. Guitar: http://www.mymusicmentor.com/dots.html and https://guitarophile.com/?p=301;
the others, which mark 10 in place of 9, from memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SideDots:
    """Dots in the bass edge: `frets` None are those of the face; two of a pair stand `apart` along the edge."""

    frets: tuple[int, ...] | None = None
    doubles: tuple[int, ...] | None = None
    diameter: Mm = 2.0
    depth: Mm = 3.0
    apart: Mm = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkerSettings:
    """Which frets carry a marker, which of them two, and how they look; `overrides` has the fret's own style.

    `frets` and `doubles` None are the usual ones. `side` None is no dots in the edge.
    """

    set: str = "guitar"
    frets: tuple[int, ...] | None = None
    doubles: tuple[int, ...] | None = None
    style: Style = field(default_factory=Style)
    overrides: Mapping[int, Style] = field(default_factory=dict)
    side: SideDots | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Marker:
    """One marker, or one of a pair, on its place; `area` is all of its regions together."""

    fret: int
    name: str
    place: Place
    style: Style
    regions: tuple[Region, ...]
    area: shapely.Polygon | shapely.MultiPolygon

    @property
    def size(self) -> tuple[Mm, Mm]:
        """Length along the board and width across."""
        left, bottom, right, top = self.area.bounds
        return right - left, top - bottom


@dataclass(frozen=True, slots=True, kw_only=True)
class SideDot:
    """A hole in the bass edge: `x` along the centre line, `along_edge` from the nut's end along the edge itself, mm.

    `up` is the height of its middle over the back of the board: half of what the radius leaves there; None where the
    board's thickness is not known.
    """

    fret: int
    x: Mm
    y: Mm
    along_edge: Mm
    up: Mm | None
    diameter: Mm
    depth: Mm


def marked_frets(board: Board, settings: MarkerSettings) -> tuple[int, ...]:
    """Return the frets that carry a marker, in order.

    Raises:
        JobError: a fret that the board has not, or no usual set for these divisions.
    """
    if settings.frets is not None:
        return _existing(board, settings.frets, "markers.frets")
    if board.scale.divisions != TWELVE:
        raise JobError(
            f"which frets are marked? The usual ones are of twelve to the octave, not {board.scale.divisions}",
            where="markers.frets",
            remedy="list them: frets = [5, 10, 19]",
        )
    return tuple(fret for fret in SETS[settings.set] if fret <= board.scale.frets)


def doubled_frets(board: Board, settings: MarkerSettings) -> tuple[int, ...]:
    """Return the frets that carry two: as asked for, or the octaves among those that are marked.

    Raises:
        JobError: a fret that the board has not, or that is not marked.
    """
    marked = marked_frets(board, settings)
    return _doubles(board, settings.doubles, marked, "markers.doubles")


def _doubles(board: Board, asked: Sequence[int] | None, marked: Sequence[int], where: str) -> tuple[int, ...]:
    octave = board.scale.divisions
    if asked is None:
        return tuple(fret for fret in marked if fret in {octave, 2 * octave})
    for fret in _existing(board, asked, where):
        if fret not in marked:
            raise JobError(f"fret {fret} is not marked", where=where, remedy="add it to the frets, or leave it out")
    return tuple(asked)


def _existing(board: Board, frets: Sequence[int], where: str) -> tuple[int, ...]:
    for fret in frets:
        if not 1 <= fret <= board.scale.frets:
            raise JobError(
                f"there is no fret {fret}: the board has 1 to {board.scale.frets}",
                where=where,
                remedy="a marker stands between a fret and the one before it",
            )
    return tuple(sorted(set(frets)))


def lay_out(board: Board, settings: MarkerSettings) -> tuple[Marker, ...]:
    """Return every marker on its place, from the nut on.

    Raises:
        JobError: a fret that does not exist or is not marked, or a shape that has no room there.
    """
    doubles = doubled_frets(board, settings)
    marked = marked_frets(board, settings)
    for fret in settings.overrides:
        if fret not in marked:
            there = 1 <= fret <= board.scale.frets
            message = f"fret {fret} is not marked" if there else f"there is no fret {fret}"
            raise JobError(message, where="markers.at", remedy=f"marked are {', '.join(map(str, marked))}")
    markers: list[Marker] = []
    for fret in marked:
        style = settings.overrides.get(fret, settings.style)
        for place, name in places(board, fret, style, double=fret in doubles):
            markers.append(_marker(fret, name, place, style))
    if not markers:
        raise JobError("no fret is marked", where="markers.frets", remedy="list the frets: frets = [3, 5, 7]")
    return tuple(markers)


def _marker(fret: int, name: str, place: Place, style: Style) -> Marker:
    try:
        regions = draw(place, style, name)
    except JobError as error:
        raise JobError(f"{name}: {error.message}", where=error.where, remedy=error.remedy) from error
    area = shapely.union_all([region.polygon for region in regions])
    return Marker(fret=fret, name=name, place=place, style=style, regions=regions, area=area)


def places(board: Board, fret: int, style: Style, *, double: bool) -> list[tuple[Place, str]]:
    """Return the place of a marker, or the two of a pair, bass first, each with its name."""
    before, after = board.fret_line(fret - 1), board.fret_line(fret)

    def middle(y: Mm) -> Mm:
        return (before.x_at(y) + after.x_at(y)) / 2

    def place(y: Mm, low: tuple[Mm, float], high: tuple[Mm, float]) -> Place:
        return Place(board=board, before=before, after=after, x=middle(y), y=y, low=low, high=high, paired=double)

    edges = sorted((board.edge_at(0.0, side), board.sign(side) * board.flare / 2) for side in SIDES)
    if style.along != "centre":
        return _along_an_edge(board, style, middle, lambda y: place(y, edges[0], edges[1]), f"fret {fret}", double)
    if not double:
        return [(place(0.0, edges[0], edges[1]), f"fret {fret}")]
    off = style.spread * board.width_at(middle(0.0)) / 2
    pair = []
    for side in SIDES:
        sign = board.sign(side)
        own = (edges[0], (0.0, 0.0)) if sign < 0 else ((0.0, 0.0), edges[1])
        pair.append((place(sign * off, *own), f"fret {fret} {side}"))
    return pair


def _along_an_edge(
    board: Board,
    style: Style,
    middle: Callable[[Mm], Mm],
    place: Callable[[Mm], Place],
    name: str,
    double: bool,
) -> list[tuple[Place, str]]:
    """Return places whose middles lie at a set distance from an edge, square to it; the second of a pair farther in."""
    side: Side = "bass" if style.along == "bass" else "treble"
    sign = board.sign(side)

    def y_for(distance: Mm) -> Mm:
        """Solve for y: where the middle of the space lies depends on y as well, if the frets are fanned."""
        reach = distance * (1 + (board.flare / 2) ** 2) ** 0.5
        y = 0.0
        for _ in range(30):
            y = sign * (board.width_at(middle(y)) / 2 - reach)
        return y

    distance = style.edge_distance or 0.0
    first = place(y_for(distance))
    if not double:
        return [(first, name)]
    second = place(y_for(distance + style.spread * first.across))
    return [(first, f"{name} {side}"), (second, f"{name} inner")]


def drawing_of(markers: Sequence[Marker], *, source: str) -> Drawing:
    """Return all markers as one drawing, in the coordinates of the board; a fit takes it as any other."""
    notes = [note for marker in markers if marker.style.artwork for note in marker.style.artwork.notes]
    return Drawing(
        source=source,
        regions=tuple(region for marker in markers for region in marker.regions),
        notes=tuple(replace(note, at=None) for note in dict.fromkeys(notes)),
    )


def largest_enlargement(markers: Sequence[Marker], artwork: Drawing) -> float:
    """Return how many times its own size a drawing is placed at most: it must be read that fine."""
    return max([enlargement(m.place, m.style) for m in markers if m.style.artwork is artwork], default=1.0)


def side_dots(board: Board, settings: MarkerSettings) -> tuple[SideDot, ...]:
    """Return the holes in the bass edge, from the nut on; two of a pair on either side of the middle of their space.

    Raises:
        JobError: a fret that does not exist or is not marked.
    """
    side = settings.side
    if side is None:
        return ()
    marked = marked_frets(board, settings)
    frets = marked if side.frets is None else _existing(board, side.frets, "markers.side.frets")
    asked = settings.doubles if side.doubles is None and side.frets is None else side.doubles
    doubles = _doubles(board, asked, frets, "markers.side.doubles")
    nut = board.nut_line.bass[0]
    stretch = (1 + (board.flare / 2) ** 2) ** 0.5
    dots = []
    for fret in frets:
        middle = (board.fret_line(fret - 1).bass[0] + board.fret_line(fret).bass[0]) / 2
        for off in (-side.apart / 2, side.apart / 2) if fret in doubles else (0.0,):
            x = middle + off / stretch
            thick = board.edge_thickness(x)
            dots.append(
                SideDot(
                    fret=fret,
                    x=x,
                    y=board.edge_at(x, "bass"),
                    along_edge=(x - nut) * stretch,
                    up=None if thick is None else thick / 2,
                    diameter=side.diameter,
                    depth=side.depth,
                )
            )
    return tuple(dots)
