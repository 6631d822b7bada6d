"""A fretboard: its outline, its slots and its radius, from plain numbers.

The origin is where the nut crosses the centre line; x runs along the centre line toward the bridge, y across the board,
y up: seen from above with the nut on the left, the bass side of a right-handed board lies at the bottom (y below zero).
A left-handed board is its mirror image. The edges are straight. At a fanned nut or fret the width is measured square to
the centre line, midway between its two ends.

Heights count from the crown, which runs level along the centre line: `drop` is how far the surface lies below it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from inlayfit.errors import JobError
from inlayfit.fretboard import Scale
from inlayfit.units import Mm, format_mm

if TYPE_CHECKING:
    from inlayfit.fretboard import Side

NARROWEST: Mm = 5.0
"""A board that is nowhere wider than this is a slip of the unit, or its edges cross."""

SIDES: tuple[Side, Side] = ("bass", "treble")

Spot = tuple[Mm, Mm]


class Line(NamedTuple):
    """A straight line across the board from its bass end to its treble end; mm."""

    bass: Spot
    treble: Spot

    def x_at(self, y: Mm) -> Mm:
        """Return where the line, however long, crosses a line along the board."""
        return self.bass[0] + (y - self.bass[1]) * self.lean

    @property
    def lean(self) -> float:
        """How far it runs along the board for each millimetre of y."""
        return (self.treble[0] - self.bass[0]) / (self.treble[1] - self.bass[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """A channel in the back of the board, along the centre line, from `start` to `end` (None: to the end of the board).

    `depth` counts from the back.
    """

    width: Mm
    depth: Mm
    start: Mm = 0.0
    end: Mm | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """A board as it shall be; `end_width` is the width at `end_fret`, or, where that is None, at the end.

    `radius` is the radius at the nut, `end_radius` at the end: in between it grows in proportion to the way (a cone).
    None is a flat board. `overhang` is what stands beyond the last fret. `slot_depth` counts from the finished surface.

    Raises:
        JobError: sizes that make no board; `where` is the name of the field.
    """

    scale: Scale
    nut_width: Mm
    end_width: Mm
    end_fret: int | None = None
    overhang: Mm = 0.0
    radius: Mm | None = None
    end_radius: Mm | None = None
    thickness: Mm | None = None
    slot_width: Mm = 0.6
    slot_depth: Mm | None = None
    left_handed: bool = False
    channel: Channel | None = None

    def __post_init__(self) -> None:
        _check_width(self)
        _check_radius(self)
        _check_slots(self)
        _check_thickness(self)

    def sign(self, side: Side) -> int:
        """Return the sign of y on a side."""
        return -1 if (side == "bass") != self.left_handed else 1

    @property
    def flare(self) -> float:
        """How much wider the board grows for each millimetre of its length."""
        return (self.end_width - self.nut_width) / self._width_known_at

    @property
    def _width_known_at(self) -> Mm:
        """How far from the middle of the nut the second width is given."""
        if self.end_fret is not None:
            return self._middle_of(self.end_fret)
        return self._middle_of(self.scale.frets) + self.overhang

    def _middle_of(self, fret: int) -> Mm:
        """Return how far along the board the middle of a fret lies from the middle of the nut."""
        return (self.scale.along(fret, "bass") + self.scale.along(fret, "treble") - self.scale.shift) / 2

    @property
    def _origin(self) -> Mm:
        """Where the nut crosses the centre line, from the middle between its ends: off it where both fan and taper.

        Source: the point at y = 0 on the line between the ends of the nut; plain geometry.
        """
        return -self.flare * self.scale.shift**2 / (4 * self.nut_width)

    def width_at(self, x: Mm) -> Mm:
        """Return the width of the board, square to the centre line."""
        return self.nut_width + self.flare * (x + self._origin)

    def edge_at(self, x: Mm, side: Side) -> Mm:
        """Return y of an edge."""
        return self.sign(side) * self.width_at(x) / 2

    def fret_line(self, fret: int) -> Line:
        """Return the line of a fret from edge to edge; 0 is the zero fret, or else the nut."""
        if fret == 0 and not self.scale.zero_fret:
            return self.nut_line
        return Line(*(self._on_edge(self.scale.along(fret, side), side) for side in SIDES))

    @property
    def nut_line(self) -> Line:
        """The line of the nut, from edge to edge."""
        return Line(*(self._on_edge(0.0 if side == "bass" else self.scale.shift, side) for side in SIDES))

    def _on_edge(self, along: Mm, side: Side) -> Spot:
        x = along - self.scale.shift / 2 - self._origin
        return x, self.edge_at(x, side)

    @property
    def end_line(self) -> Line:
        """The end of the board from edge to edge: along the last fret, `overhang` beyond it."""
        last = self.fret_line(self.scale.frets)
        crossing = last.x_at(0.0) + self.overhang
        return Line(*(self._meets_edge(crossing, last.lean, side) for side in SIDES))

    def _meets_edge(self, crossing: Mm, lean: float, side: Side) -> Spot:
        """Return where a line that crosses the centre line at `crossing` meets an edge."""
        slope = self.sign(side) * self.flare / 2
        at_origin = self.edge_at(0.0, side)
        x = (crossing + lean * at_origin) / (1 - lean * slope)
        return x, self.edge_at(x, side)

    @property
    def outline(self) -> tuple[Spot, Spot, Spot, Spot]:
        """The corners: nut bass, end bass, end treble, nut treble."""
        nut, end = self.nut_line, self.end_line
        return nut.bass, end.bass, end.treble, nut.treble

    @property
    def length(self) -> Mm:
        """From the nut to the end, along the centre line."""
        return self.end_line.x_at(0.0)

    def slot(self, fret: int) -> tuple[Spot, Spot, Spot, Spot]:
        """Return the corners of a fret slot, edge to edge."""
        line = self.fret_line(fret)
        half = self.slot_width / 2 * math.hypot(1.0, line.lean)  # along the board, so that it is as wide across itself
        middle = line.x_at(0.0)
        corners = [self._meets_edge(middle + way, line.lean, side) for side in SIDES for way in (-half, half)]
        return corners[0], corners[1], corners[3], corners[2]

    @property
    def slots(self) -> range:
        """The frets that have a slot."""
        return range(self.scale.first, self.scale.frets + 1)

    def radius_at(self, x: Mm) -> Mm:
        """Return the radius of the surface; infinite on a flat board.

        Source: a cone's radius grows in a straight line along it; "Hartstein's formula as restated in print".
        """
        if self.radius is None:
            return math.inf
        end = self.radius if self.end_radius is None else self.end_radius
        return self.radius + (end - self.radius) * x / self.length

    def drop_at(self, x: Mm, y: Mm) -> Mm:
        """Return how far the surface lies below the crown; see `drop`."""
        return 0.0 if self.radius is None else drop(self.radius_at(x), y)

    def edge_thickness(self, x: Mm) -> Mm | None:
        """Return how thick the board is at its edge, once it is sanded to its radius."""
        return None if self.thickness is None else self.thickness - self.drop_at(x, self.width_at(x) / 2)


def drop(radius: Mm, off: Mm) -> Mm:
    """Return how far a circle has fallen at `off` from its crown: h = R - sqrt(R^2 - off^2), without cancellation.

    Source: Machinery's Handbook, 31st ed. (Industrial Press 2020), p. 79, segment of a circle.

    >>> round(drop(12 * 25.4, 1.25 * 25.4) / 25.4, 5)
    0.06528
    """
    return off**2 / (radius + math.sqrt(radius**2 - off**2))


def _check_width(board: Board) -> None:
    if board._width_known_at <= 0:  # noqa: SLF001  # its own check
        raise JobError("the width is given at the nut twice", where="end_fret", remedy="give a fret from 1 on")
    for width, where in ((board.nut_width, "nut_width"), (board.end_width, "end_width")):
        if width < NARROWEST:
            message = f"{format_mm(width)} is too narrow for a board"
            raise JobError(message, where=where, remedy="look at the unit: a bare number is mm")
    last = board.fret_line(board.scale.frets)
    ends = [board.nut_line.bass[0], board.nut_line.treble[0], last.bass[0], last.treble[0]]
    _check_edges(board, [*ends, max(ends) + board.overhang])
    _check_edges(board, [x for x, _ in board.outline])


def _check_edges(board: Board, places: list[Mm]) -> None:
    for x in places:
        width = board.width_at(x)
        if width < NARROWEST:
            raise JobError(
                f"the edges would cross: the board is {format_mm(width)} wide at {format_mm(x)} from the nut",
                where="end_width",
                remedy="give the width at the end, or look at end_fret: a board is usually wider there than at the nut",
            )


def _check_radius(board: Board) -> None:
    if board.radius is None:
        if board.end_radius is not None:
            raise JobError("a radius at the end, and none at the nut", where="end_radius", remedy="give radius as well")
        return
    for x, y in board.outline:
        if board.radius_at(x) < abs(y):
            raise JobError(
                f"a radius of {format_mm(board.radius_at(x))} is smaller than half the width, {format_mm(abs(y))}",
                where="radius" if board.end_radius is None or x < board.length / 2 else "end_radius",
                remedy="look at the unit: 12in is usual, and a bare number is mm",
            )


def _check_slots(board: Board) -> None:
    width = board.slot_width
    if board.scale.zero_fret and -board.scale.nut_offset <= width:
        raise JobError(
            "with a zero fret the nut stands behind it", where="nut_offset", remedy='give how far: nut_offset = "-4mm"'
        )
    lines = [board.nut_line, *(board.fret_line(fret) for fret in board.slots)]
    for fret, (before, line) in enumerate(pairwise(lines), start=board.scale.first):
        room = min(line.bass[0] - before.bass[0], line.treble[0] - before.treble[0])
        if room <= width:
            raise JobError(
                f"fret {fret} lies {format_mm(room)} from the one before, and a slot is {format_mm(width)} wide",
                where="frets",
                remedy="fewer frets, or narrower slots",
            )


def _check_thickness(board: Board) -> None:
    channel, thick = board.channel, board.thickness
    if thick is None:
        return
    thinnest = min(board.edge_thickness(x) or 0.0 for x, _ in board.outline)
    if thinnest <= 0:
        message = f"the radius leaves nothing of {format_mm(thick)} at the edge"
        raise JobError(message, where="thickness", remedy="a thicker board, or a larger radius")
    if channel is not None and channel.depth >= thick:
        message = f"a channel {format_mm(channel.depth)} deep goes through the board"
        raise JobError(message, where="channel.depth", remedy=f"give less than {format_mm(thick)}")
    if board.slot_depth is not None and board.slot_depth >= thick:
        message = f"slots {format_mm(board.slot_depth)} deep go through the board"
        raise JobError(message, where="slot_depth", remedy=f"give less than {format_mm(thick)}")
