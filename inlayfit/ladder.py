"""Which bit could cut a drawing: the reach at any radius, the largest bit, the standard sizes from large to small.

The reach of a vertex at radius r is its distance to the core (the drawing shrunk by r) less r, and the same on the
complement for a bit that goes round the piece. It grows with r, so that a largest bit can be found by halving, and what
fits at one radius need not be asked at a smaller one. Counts, areas and the first bracket come from an outline thinned
by `PROXY`; the largest bit is then refined on the drawing itself, around the vertices that fail first.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.cutters import STANDARD_SIZES, size_label
from inlayfit.offset import Section, geometry_of, offset, section
from inlayfit.units import Mm

Verdict = Literal["as drawn", "softened", "loses detail"]

PROXY: Mm = 0.006
"""How far the outline that is counted on may lie from the drawing."""

EXACT: Mm = 0.0002
"""The largest bit is known to twice this."""

COARSE = 0.006
"""For a large radius the outline may lie this share of it off."""

FINE = 2e-4
"""The largest bit that softens at most is found to this share of itself."""

SMALLEST: Mm = 0.01
"""No bit of less radius is looked for."""

CLOSE_SIZES = 1.06
"""Of standard sizes nearer than this ratio the ladder shows one: a millimetre size beside its inch neighbour."""

SPAN = 4.5
"""The ladder goes this many times above and below the bit in question."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """One standard size on the ladder: what it would lose and fill; `label` names the size."""

    diameter: Mm
    label: str
    verdict: Verdict
    places_lost: int
    places_softened: int
    area_lost_mm2: float
    area_filled_mm2: float


_Mask = NDArray[np.bool_]
_Limit = Callable[[Mm], Mm]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Side:
    """An area with the bit within it (for the pocket) or round it (for the piece), and the vertices that it may miss.

    `within` is what the area is a part of, None for the whole.
    """

    area: shapely.Geometry
    inside: bool
    points: NDArray[np.object_]
    within: shapely.Geometry | None

    def edge(self, radius: Mm) -> shapely.Geometry:
        """Return where the bit's centre may be, as seen from the vertices: the core, or the line round the piece."""
        moved = shapely.buffer(self.area, -radius if self.inside else radius)
        return moved if self.inside else moved.boundary

    def failing(self, radius: Mm, limit: Mm, among: _Mask) -> _Mask:
        """Return which vertices among some lie further than a limit from the bit's centre line."""
        if not among.any():
            return among
        edge = self.edge(radius)
        if edge.is_empty:
            return among
        shapely.prepare(edge)
        far = among.copy()
        far[among] = ~shapely.dwithin(edge, self.points[among], limit)
        return far

    def cut(self, radius: Mm) -> shapely.Geometry:
        """Return what a bit leaves: the area opened, or closed."""
        way = -radius if self.inside else radius
        return shapely.buffer(shapely.buffer(self.area, way), -way)


class Shapes:
    """What a bit must go into (all `groups`) and what it must go round (each group, each part that touches another).

    Groups are cut from the sheet one by one, so that a bit that goes round one need not pass between two. Each part
    comes with the number of its group.
    """

    def __init__(self, groups: Sequence[shapely.Geometry], parts: Sequence[tuple[shapely.Geometry, int]] = ()) -> None:
        self._groups, self._parts = groups, parts
        self._thinned: dict[Mm, list[_Side]] = {}
        self._exact = _sides(groups, parts, 0.0)
        self._sides = self._thinned_for(0.0)
        left, bottom, right, top = shapely.total_bounds(groups)
        self.largest_radius: Mm = max(right - left, top - bottom) / 2 + 0.01

    def _thinned_for(self, radius: Mm) -> list[_Side]:
        """Return the sides thinned by `PROXY`, or by `COARSE` of a large radius; made once each."""
        step = PROXY * 4.0 ** max(0, math.floor(math.log(max(radius, PROXY) * COARSE / PROXY, 4)))
        if step not in self._thinned:
            self._thinned[step] = _sides(self._groups, self._parts, step)
        return self._thinned[step]

    def largest_bit(self, tolerance: Mm, known: tuple[Mm, bool]) -> Mm | None:
        """Return the largest diameter that leaves nothing over the tolerance, to twice `EXACT`; None below 0.02 mm.

        Args:
            tolerance: mm.
            known: a diameter, and whether it leaves nothing over the tolerance.
        """
        radius = self._largest(lambda radius: radius + tolerance, known, EXACT)
        return None if radius is None else 2 * radius

    def largest_bit_no_loss(self, tolerance: Mm, known: tuple[Mm, bool]) -> Mm | None:
        """Return the largest diameter that softens at most, on the thinned outline; None below 0.02 mm."""

        def limit(radius: Mm) -> Mm:
            return radius + max(radius, tolerance)

        bracket = self._bracket(limit, known)
        if bracket is None:
            return None
        radius = self._narrowed(limit, *bracket, max(EXACT, FINE * bracket[0]))[0]
        if self.same_parts(radius * 0.999):
            return 2 * radius
        low, high = SMALLEST, radius
        if not self.same_parts(low):
            return None
        return 2 * _halve(self.same_parts, low, high, EXACT)[0]

    def same_parts(self, radius: Mm) -> bool:
        """Return whether a bit leaves as many parts and holes as were drawn, on the thinned outline."""
        return all(_topology(side.cut(radius)) == _topology(side.area) for side in self._sides if side.within is None)

    def smallest_scale(self, radius: Mm, tolerance: Mm, known: tuple[Mm, bool]) -> float | None:
        """Return by how much the drawing must be scaled at least for a radius to leave nothing over the tolerance.

        A radius on a scaled drawing is a smaller one on the drawing itself, with a tolerance smaller alike.
        """
        largest = self._largest(lambda r: r * (1 + tolerance / radius), known, 1e-3 * radius)
        return None if largest is None else radius / largest

    def rung(self, diameter: Mm, tolerance: Mm, *, clean: bool) -> Rung:
        """Return what a bit of one size loses and fills, on the thinned outline; a `clean` one has no places."""
        radius = diameter / 2
        lost = softened = 0
        area_lost = area_filled = 0.0
        for side in self._sides:
            if clean and side.within is not None:
                continue
            centres = shapely.buffer(side.area, -radius if side.inside else radius)
            sense = 1 if side.inside else -1
            cut = shapely.buffer(centres, sense * radius)
            if side.inside:
                area_lost += max(0.0, side.area.area - cut.area)
            elif side.within is None:
                area_filled += max(0.0, cut.area - side.area.area)
            if clean:
                continue
            places = _places(side, shapely.buffer(centres, sense * (radius + tolerance)))
            deep = _places(side, shapely.buffer(centres, sense * 2 * radius)) if places else []
            worst = len(np.unique(shapely.STRtree(places).query(deep, predicate="intersects")[1])) if deep else 0
            if worst == 0 and places and side.within is None and _topology(cut) != _topology(side.area):
                worst = 1
            lost, softened = lost + worst, softened + len(places) - worst
        return Rung(
            diameter=diameter,
            label=size_label(diameter),
            verdict="loses detail" if lost else "softened" if softened else "as drawn",
            places_lost=lost,
            places_softened=softened,
            area_lost_mm2=area_lost,
            area_filled_mm2=area_filled,
        )

    def _bracket(self, limit: _Limit, known: tuple[Mm, bool]) -> tuple[Mm, Mm] | None:
        """Return radii within 3 %, of which the lower leaves no vertex beyond the limit; None where none does."""
        low, high = (known[0] / 2 * 0.97, self.largest_radius) if known[1] else (SMALLEST, known[0] / 2 * 1.03)
        if any(side.failing(low, limit(low), _all(side)).any() for side in self._sides):
            low = SMALLEST
            if any(side.failing(low, limit(low), _all(side)).any() for side in self._sides):
                return None
        return self._narrowed(limit, low, max(high, 1.01 * low), 0.03)

    def _narrowed(self, limit: _Limit, low: Mm, high: Mm, within: float) -> tuple[Mm, Mm]:
        """Return a narrower bracket: a share of the radius for 0.01 and more, else mm.

        A vertex that fits at one radius is not asked at smaller ones.
        """
        sides: list[_Side] = []
        among: list[_Mask] = []
        while (high / low > 1 + within) if within >= 0.01 else (high - low > within):
            middle = (low * high) ** 0.5
            if sides is not self._thinned_for(middle):
                sides = self._thinned_for(middle)
                among = [_all(side) for side in sides]
            for number, side in enumerate(sides):
                still = side.failing(middle, limit(middle), among[number])
                if still.any():
                    high, among[number] = middle, still
                    break
            else:
                low = middle
        return low, high

    def _largest(self, limit: _Limit, known: tuple[Mm, bool], within: Mm) -> Mm | None:
        """Return the largest radius that leaves no vertex of the drawing itself beyond the limit; None where none does.

        What decides are the vertices that fail just above the bracket from the thinned outline.
        """
        bracket = self._bracket(limit, known)
        if bracket is None:
            return None
        low, high = bracket[0] * 0.97, bracket[1] * 1.03
        while True:
            windows = [window for side in self._exact if (window := _window(side, high, limit(high)))]
            if not windows:
                low, high = high, high * 1.1
            elif not all(window.fits(low, limit(low)) for window in windows):
                low, high = low * 0.9, low
            else:
                break
            if high > 1.2 * self.largest_radius or low < SMALLEST:
                return min(low, self.largest_radius)
        return _halve(lambda radius: all(window.fits(radius, limit(radius)) for window in windows), low, high, within)[
            0
        ]


def ladder(shapes: Shapes, tolerance: Mm, bit: Mm, largest: Mm | None) -> list[Rung]:
    """Return the standard sizes from large to small with the bit in question, a `SPAN` above and below it.

    Of sizes that are nearly alike one is shown. None up to the `largest` bit misses anything.
    """
    sizes: list[Mm] = [bit]
    for size in STANDARD_SIZES:
        alike = any(max(size, other) / min(size, other) < CLOSE_SIZES for other in sizes)
        if not alike and bit / SPAN < size < min(bit * SPAN, 2 * shapes.largest_radius):
            sizes.append(size)
    return [shapes.rung(size, tolerance, clean=size <= (largest or 0)) for size in sorted(sizes, reverse=True)]


def _sides(groups: Sequence[shapely.Geometry], parts: Sequence[tuple[shapely.Geometry, int]], step: Mm) -> list[_Side]:
    """Return the pocket's side of all and the piece's side of each, on outlines thinned by a step."""
    thin = [_thin(group, step) for group in groups]
    whole = shapely.MultiPolygon([polygon for group in thin for polygon in shapely.get_parts(group)])
    sides = [_side(whole, inside=True)] + [_side(group, inside=False) for group in thin]
    return sides + [_side(_thin(part, step), inside=False, within=groups[group]) for part, group in parts]


def _side(area: shapely.Geometry, *, inside: bool, within: shapely.Geometry | None = None) -> _Side:
    edge = None if within is None else within.boundary
    return _Side(area=area, inside=inside, points=_vertices(area, convex=inside, off=edge), within=within)


def _vertices(area: shapely.Geometry, *, convex: bool, off: shapely.Geometry | None) -> NDArray[np.object_]:
    """Return the convex (or concave) vertices of an area, those on an edge (`off`) left out.

    A bit within an area misses most at a convex vertex, one round it at a concave one.
    """
    found = [np.empty((0, 2))]
    for ring in shapely.get_rings(shapely.get_parts(shapely.orient_polygons(area))):
        points = shapely.get_coordinates(ring)[:-1]
        back, on = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
        turn = back[:, 0] * on[:, 1] - back[:, 1] * on[:, 0]
        found.append(points[turn > 0] if convex else points[turn < 0])
    points = shapely.points(np.concatenate(found))
    if off is None or not len(points):
        return points
    shapely.prepare(off)
    return points[~shapely.dwithin(off, points, 2 * PROXY)]


def _all(side: _Side) -> _Mask:
    return np.ones(len(side.points), dtype=bool)


def _thin(area: shapely.Geometry, step: Mm) -> shapely.Geometry:
    if step == 0:
        return area
    thin = shapely.simplify(area, step, preserve_topology=False)
    return thin if thin.is_valid and not thin.is_empty else shapely.simplify(area, step)


def _places(side: _Side, moved: shapely.Geometry) -> list[shapely.Polygon]:
    """Return the connected places that are lost (or filled) beyond what the cut was moved by."""
    differs = shapely.difference(side.area, moved) if side.inside else shapely.difference(moved, side.area)
    if side.within is not None:
        differs = shapely.intersection(differs, side.within)
    return [part for part in shapely.get_parts(differs) if part.geom_type == "Polygon" and part.area > PROXY**2]


def _topology(area: shapely.Geometry) -> tuple[int, int]:
    """Return the number of parts and of holes."""
    parts = shapely.get_parts(area)
    return len(parts), int(shapely.get_num_interior_rings(parts).sum())


def _halve(fits: Callable[[float], bool], low: float, high: float, within: float) -> tuple[float, float]:
    """Return a bracket of the last value that fits, narrower than `within`."""
    while high - low > within:
        middle = (low + high) / 2
        low, high = (middle, high) if fits(middle) else (low, middle)
    return low, high


@dataclass(frozen=True, slots=True, kw_only=True)
class _Window:
    """The neighbourhood of the vertices that decide over the largest bit."""

    area: Section
    inside: bool
    points: NDArray[np.object_]

    def fits(self, radius: Mm, limit: Mm) -> bool:
        """Return whether all vertices lie within the limit of the bit's centre line, by the exact offsets."""
        centres = geometry_of(offset(self.area, -radius if self.inside else radius))
        if centres.is_empty:
            return False
        edge = centres if self.inside else centres.boundary
        shapely.prepare(edge)
        return bool(shapely.dwithin(edge, self.points, limit).all())


def _window(side: _Side, radius: Mm, limit: Mm) -> _Window | None:
    """Return the neighbourhood of the vertices that fail at a radius; None where none does.

    What decides over a vertex lies within the limit and the radius of it.
    """
    failing = side.failing(radius, limit - PROXY, _all(side))
    if not failing.any():
        return None
    points = side.points[failing]
    room = limit + radius + PROXY
    cells = np.unique(np.floor(shapely.get_coordinates(points) / room).astype(np.int64), axis=0) * room
    left, bottom = (cells - room).T
    boxes = shapely.union_all(shapely.box(left, bottom, left + 3 * room, bottom + 3 * room))
    return _Window(area=section(shapely.intersection(side.area, boxes)), inside=side.inside, points=points)
