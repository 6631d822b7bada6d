"""The shapes of position markers, each made for its place on the board.

A *space* is what lies between two frets. Blocks and their kin keep a distance from slots and edges; unless a size is
given they take all the room that this leaves. All shapes are centred on their place.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity

from inlayfit.board import Board, Line
from inlayfit.drawing import CURVE_TOLERANCE, Drawing, Region
from inlayfit.errors import JobError
from inlayfit.units import Mm, format_mm

DOT: Mm = 6.0
"""Diameter of a dot: common practice, no source."""

SHARES = {"diamond": (0.5, 0.35), "drawing": (0.7, 0.7)}
"""Share of the fret space and of the board's width that a shape takes, unless a size is given."""

LEAST_SIDE: Mm = 0.5
"""A marker that is shorter or narrower is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """How a marker looks; what is None follows from the shape and its place.

    `length` runs along the board, `width` across; the shares are of the fret space and of the width of the board.
    `margin` is kept from slots and edges, `split` is the wood between the halves of a split block. `artwork` is a
    drawing of the maker's, turned by `turn_deg` counter-clockwise. `along` is the line that the marker stands on, at
    `edge_distance` from an edge. `spread` is how far apart the two of a pair stand, as a share of the width.
    """

    shape: str = "dot"
    artwork: Drawing | None = None
    diameter: Mm | None = None
    length: Mm | None = None
    width: Mm | None = None
    length_share: float | None = None
    width_share: float | None = None
    margin: Mm = 1.5
    split: Mm = 1.0
    along: str = "centre"
    edge_distance: Mm | None = None
    spread: float = 0.5
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a marker stands: between the lines of two frets, at x, y; `low` and `high` bound what is its own.

    `low` and `high` are (y at x = 0, growth of y along the board): the edges, or the centre line between two of a pair.
    """

    board: Board
    before: Line
    after: Line
    x: Mm
    y: Mm
    low: tuple[Mm, float]
    high: tuple[Mm, float]
    paired: bool

    @property
    def space(self) -> Mm:
        """From fret to fret, at the height of the marker."""
        return self.after.x_at(self.y) - self.before.x_at(self.y)

    @property
    def across(self) -> Mm:
        """The width of the board there."""
        return self.board.width_at(self.x)


def draw(place: Place, style: Style, name: str) -> tuple[Region, ...]:
    """Return the regions of one marker, in the coordinates of the board.

    Raises:
        JobError: no room for a block, a size that is none, a drawing with no region; `where` is the key of the style.
    """
    if style.shape == "drawing":
        regions = _placed_drawing(place, style, name)
    else:
        regions = tuple(Region(polygon=polygon, name=name) for polygon in SHAPES[style.shape](place, style))
    left, bottom, right, top = (float(edge) for edge in shapely.total_bounds([region.polygon for region in regions]))
    for size, key in ((right - left, "length"), (top - bottom, "width")):
        if not size >= LEAST_SIDE:
            where = f"markers.{'diameter' if style.shape == 'dot' else key}"
            remedy = f"give {format_mm(LEAST_SIDE)} at least: a bare number is mm"
            raise JobError(f"{format_mm(size)} is too small for a marker", where=where, remedy=remedy)
    return regions


def _dot(place: Place, style: Style) -> list[shapely.Polygon]:
    radius = (style.diameter or DOT) / 2
    count = 4 * math.ceil(math.pi / math.acos(max(1 - CURVE_TOLERANCE / radius, 0.0)) / 4)
    angles = np.arange(count) * (2 * math.pi / count)
    return [shapely.Polygon(np.column_stack([place.x + radius * np.cos(angles), place.y + radius * np.sin(angles)]))]


def _diamond(place: Place, style: Style) -> list[shapely.Polygon]:
    length, width = _size(place, style)
    half, side = (length or 0.0) / 2, (width or 0.0) / 2
    x, y = place.x, place.y
    return [shapely.Polygon([(x - half, y), (x, y - side), (x + half, y), (x, y + side)])]


def _size(place: Place, style: Style) -> tuple[Mm | None, Mm | None]:
    """Return length and width as asked for, by size or by share, or as the shape has them by itself.

    Of a pair each takes half of the usual width.
    """
    length = _one_size(style.length, style.length_share, place.space)
    width = _one_size(style.width, style.width_share, place.across)
    if length is None and width is None and style.shape in SHARES:
        along, across = SHARES[style.shape]
        return along * place.space, across * place.across / (2 if place.paired else 1)
    if style.shape == "diamond":
        length = SHARES["diamond"][0] * place.space if length is None else length
        width = SHARES["diamond"][1] * place.across / (2 if place.paired else 1) if width is None else width
    return length, width


def _one_size(size: Mm | None, share: float | None, whole: Mm) -> Mm | None:
    return size if share is None else share * whole


# -- blocks and their kin: two ends that lean or not, two sides that follow the edges or not ------------------------


def _block(place: Place, style: Style) -> list[shapely.Polygon]:
    return [_slanted(place, style, lean=0.0)]


def _parallelogram(place: Place, style: Style) -> list[shapely.Polygon]:
    return [_slanted(place, style, lean=(place.before.lean + place.after.lean) / 2)]


def _slanted(place: Place, style: Style, lean: float) -> shapely.Polygon:
    """Return a block with its sides along the board; its ends lean by `lean` mm of x for each mm of y."""
    half, side = _room(place, style, lean)
    _check_room(half, side, style)
    return shapely.Polygon(
        [
            (place.x + lean * way * side + end * half, place.y + way * side)
            for end, way in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ]
    )


def _room(place: Place, style: Style, lean: float) -> tuple[Mm, Mm]:
    """Return half the length and half the width of a block on its place: as asked for, or all that the margin leaves.

    How long it may be depends on how wide it is where frets are fanned, and the other way round where the board tapers:
    each is found from the other in turn, which settles at once, for neither depends much on the other.
    """
    length, width = _size(place, style)
    inset = _inset(place, style)
    half = place.space / 2 - inset if length is None else length / 2
    side = place.across / 2 if width is None else width / 2
    for _ in range(30 if length is None or width is None else 0):
        if width is None:
            xs = [place.x + lean * way * side + end * half for end in (-1, 1) for way in (-1, 1)]
            side = min(min(_high(place, style, x) - place.y, place.y - _low(place, style, x)) for x in xs)
        if length is None:
            half = min(
                min(place.after.x_at(y) - middle, middle - place.before.x_at(y)) - inset
                for way in (-1, 1)
                for y, middle in [(place.y + way * side, place.x + lean * way * side)]
            )
    return half, side


def _inset(place: Place, style: Style) -> Mm:
    """Return how far a block stays off the line of a fret, along the board, so that it keeps its margin square to it.

    The same at both ends, so that the block stays centred: as much as the one that leans more needs.
    """
    steeper = max(abs(place.before.lean), abs(place.after.lean))
    return (style.margin + place.board.slot_width / 2) * math.hypot(1.0, steeper)


def _high(place: Place, style: Style, x: Mm) -> Mm:
    start, growth = place.high
    return start + growth * x - style.margin * math.hypot(1.0, growth)


def _low(place: Place, style: Style, x: Mm) -> Mm:
    start, growth = place.low
    return start + growth * x + style.margin * math.hypot(1.0, growth)


def _check_room(half: Mm, side: Mm, style: Style) -> None:
    if 2 * min(half, side) < LEAST_SIDE:
        shape = style.shape.replace("-", " ")
        raise JobError(
            f"no room is left for a {shape} that keeps {format_mm(style.margin)} from slots and edges",
            where="markers.margin",
            remedy="a smaller margin or width, a parallelogram where the frets are fanned, or leave this fret out",
        )


def _trapezoid(place: Place, style: Style) -> list[shapely.Polygon]:
    """Return a block whose sides follow the taper and whose ends follow the frets."""
    length, width = _size(place, style)
    inset = _inset(place, style)
    half = place.space / 2 - inset
    low, high = _low(place, style, place.x), _high(place, style, place.x)
    side = min(high - place.y, place.y - low) if width is None else width / 2
    _check_room(half if length is None else length / 2, side, style)
    closer = 1.0 if length is None else length / 2 / (place.space / 2)
    ends = [_end(place, way, inset if length is None else 0.0, closer) for way in (-1, 1)]
    sides = [(place.y - side, place.low[1]), (place.y + side, place.high[1])]
    corners = [
        _crossing(end, *sides[way], place.x) for way, end in ((0, ends[0]), (0, ends[1]), (1, ends[1]), (1, ends[0]))
    ]
    return [shapely.Polygon(corners)]


def _end(place: Place, way: int, inset: Mm, closer: float) -> tuple[Mm, float]:
    """Return an end as (x at y = 0, lean): from the middle of the space toward a fret, or `inset` off that fret."""
    fret = place.before if way < 0 else place.after
    middle = (place.before.x_at(0.0) + place.after.x_at(0.0)) / 2
    lean = (place.before.lean + place.after.lean) / 2
    return middle + closer * (fret.x_at(0.0) - middle) - way * inset, lean + closer * (fret.lean - lean)


def _crossing(end: tuple[Mm, float], y_there: Mm, growth: float, x_there: Mm) -> tuple[Mm, Mm]:
    """Return where an end meets a side that passes through `x_there`, `y_there`."""
    start, lean = end
    x = (start + lean * (y_there - growth * x_there)) / (1 - lean * growth)
    return x, y_there + growth * (x - x_there)


def _split_block(place: Place, style: Style) -> list[shapely.Polygon]:
    """Return a block in two halves, parted by a slanting strip of wood."""
    block = _slanted(place, style, lean=0.0)
    left, bottom, right, top = block.bounds
    quarter = (right - left) / 4
    start, end = np.array([place.x - quarter, bottom]), np.array([place.x + quarter, top])
    way = (end - start) / np.hypot(*(end - start))
    strip = shapely.LineString([start - way * quarter * 4, end + way * quarter * 4]).buffer(
        style.split / 2, cap_style="flat"
    )
    halves = [part for part in shapely.get_parts(shapely.difference(block, strip)) if part.area > 0]
    if len(halves) != 2:
        raise JobError(
            f"a split {format_mm(style.split)} wide leaves no halves of a block {format_mm(right - left)} long",
            where="markers.split",
            remedy="a narrower split, or leave this fret out",
        )
    return sorted(halves, key=lambda part: part.centroid.x)


SHAPES: dict[str, Callable[[Place, Style], list[shapely.Polygon]]] = {
    "dot": _dot,
    "diamond": _diamond,
    "block": _block,
    "split-block": _split_block,
    "trapezoid": _trapezoid,
    "parallelogram": _parallelogram,
}


# -- the maker's own ------------------------------------------------------------------------------------------------


def _placed_drawing(place: Place, style: Style, name: str) -> tuple[Region, ...]:
    """Return a drawing at its size, the middle of its box on the place; on a left-handed board mirrored with it."""
    regions = style.artwork.regions if style.artwork else ()
    if not regions:
        raise JobError(
            "the drawing has no region", where="markers.drawing", remedy="name a drawing with closed outlines"
        )
    turned = [affinity.rotate(region.polygon, style.turn_deg, origin=(0.0, 0.0)) for region in regions]
    left, bottom, right, top = (float(value) for value in shapely.total_bounds(turned))
    factor = enlargement(place, style)
    flip = -factor if place.board.left_handed else factor
    matrix = (factor, 0.0, 0.0, flip, place.x - factor * (left + right) / 2, place.y - flip * (bottom + top) / 2)
    return tuple(
        Region(
            polygon=shapely.orient_polygons(affinity.affine_transform(polygon, matrix)),
            name=f"{name} {region.name}",
            layer=region.layer,
            colour=region.colour,
            element=region.element,
        )
        for polygon, region in zip(turned, regions, strict=True)
    )


def enlargement(place: Place, style: Style) -> float:
    """Return how many times its own size a drawing is placed; both of length and width hold it."""
    artwork = style.artwork
    if artwork is None or not artwork.regions:
        return 1.0
    turned = [affinity.rotate(region.polygon, style.turn_deg, origin=(0.0, 0.0)) for region in artwork.regions]
    left, bottom, right, top = (float(value) for value in shapely.total_bounds(turned))
    length, width = _size(place, style)
    limits = [] if length is None else [length / (right - left)]
    limits += [] if width is None else [width / (top - bottom)]
    return min(limits)
