"""Which bit could cut a drawing: the reach at any radius, the largest bit, the standard sizes from large to small.

The reach of a vertex at radius r is its distance to the core (the drawing shrunk by r) less r, and the same on the
complement for a bit that goes round the piece. It grows with r, so that a largest bit can be found by halving.
Counts, areas and the first bracket come from an outline thinned by `PROXY`; the largest bit is then refined on the
drawing itself, around the vertices that fail first.
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
from inlayfit.offset import geometry_of, offset, section
from inlayfit.units import Mm

Verdict = Literal["as drawn", "softened", "loses detail"]

PROXY: Mm = 0.004
"""How far the outline that is counted on may lie from the drawing."""

EXACT: Mm = 0.0002
"""The largest bit is known to twice this."""

COARSE = 0.002
"""For a large radius the outline may lie this share of the radius off."""

FINE = 1e-4
"""The largest bit that softens at most is found to this share of itself."""

CLOSE_SIZES = 1.06
"""Of standard sizes nearer than this ratio the ladder shows one: a millimetre size beside its inch neighbour."""

QUAD_SEGS = 12
"""Chords a quarter circle where areas are counted: those of corner leftovers come out within 1 %."""

SPAN = 5.0
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


@dataclass(frozen=True, slots=True)
class _Outline:
    """An area, its vertices, which of them count, and what it is a part of (None for the whole)."""

    area: shapely.Geometry
    points: NDArray[np.object_]
    counts: NDArray[np.bool_]
    within: shapely.Geometry | None

    def beyond(self, edge: shapely.Geometry, distance: Mm) -> NDArray[np.bool_]:
        """Return which vertices that count lie further than a distance from an edge."""
        asked = self.counts
        if edge.is_empty:
            return asked.copy()
        shapely.prepare(edge)
        far = np.zeros(len(asked), dtype=bool)
        far[asked] = ~shapely.dwithin(edge, self.points[asked], distance)
        return far


_Side = tuple[_Outline, bool]


class Shapes:
    """What a bit must go into (`whole`) and what it must go round (`whole` and each part that touches another).

    A side of the work is an outline with the sense of the bit: within it, for the pocket, or round it, for the piece.
    """

    def __init__(self, whole: shapely.Geometry, parts: Sequence[shapely.Geometry] = ()) -> None:
        exact = [_outline(whole, None), *(_outline(part, whole) for part in parts)]
        self._exact = _sides(exact)
        self._whole, self._parts = whole, parts
        self._thinned: dict[Mm, list[_Side]] = {}
        self._sides = self._proxy(PROXY)
        self._topology = _topology(self._sides[0][0].area)
        left, bottom, right, top = whole.bounds
        self.largest_radius: Mm = max(right - left, top - bottom) / 2 + 0.01

    def _proxy(self, radius: Mm) -> list[_Side]:
        """Return the sides of the work, thinned by `PROXY`, or by `COARSE` of a large radius; made once each."""
        step = max(PROXY, 2.0 ** math.floor(math.log2(radius * COARSE)))
        if step not in self._thinned:
            thin = [_outline(_thin(self._whole, step), None)]
            thin += [_outline(_thin(part, step), self._whole) for part in self._parts]
            self._thinned[step] = _sides(thin)
        return self._thinned[step]

    def rung(self, diameter: Mm, tolerance: Mm) -> Rung:
        """Return what a bit of one size loses and fills, counted on the thinned outline."""
        radius = diameter / 2
        lost = softened = 0
        areas = []
        for one, inside in self._sides:
            centres = _moved(one.area, -radius if inside else radius)
            sense = 1 if inside else -1
            cut, near, far = (_moved(centres, sense * reach) for reach in (radius, radius + tolerance, 2 * radius))
            places = _places(one.area, near, inside=inside, within=one.within)
            deep = _places(one.area, far, inside=inside, within=one.within)
            worst = len(np.unique(shapely.STRtree(places).query(deep, predicate="intersects")[1])) if deep else 0
            if worst == 0 and places and one.within is None and _topology(cut) != self._topology:
                worst = 1
            lost, softened = lost + worst, softened + len(places) - worst
            areas.append(cut.area)
        return Rung(
            diameter=diameter,
            label=size_label(diameter),
            verdict="loses detail" if lost else "softened" if softened else "as drawn",
            places_lost=lost,
            places_softened=softened,
            area_lost_mm2=max(0.0, self._sides[0][0].area.area - areas[0]),
            area_filled_mm2=max(0.0, areas[1] - self._sides[0][0].area.area),
        )

    def fits(self, radius: Mm, limit: Mm) -> bool:
        """Return whether no vertex lies further than a limit from the bit's centre line, on the thinned outline."""
        return all(not one.beyond(_edge(one.area, inside, radius), limit).any() for one, inside in self._proxy(radius))

    def same_parts(self, radius: Mm) -> bool:
        """Return whether a bit leaves as many parts and holes as were drawn, on the thinned outline."""
        return all(_topology(_cut(one.area, inside, radius)) == self._topology for one, inside in self._sides[:2])

    def largest_bit(self, tolerance: Mm, rungs: Sequence[Rung]) -> Mm | None:
        """Return the largest diameter that leaves nothing over the tolerance, to twice `EXACT`; None below 0.02 mm.

        `rungs` are sizes that were tried already.
        """
        bracket = self._bracket(
            lambda radius: radius + tolerance, [(rung.diameter / 2, rung.verdict == "as drawn") for rung in rungs]
        )
        return None if bracket is None else 2 * self._refined(*bracket, tolerance)

    def largest_bit_no_loss(self, tolerance: Mm, rungs: Sequence[Rung]) -> Mm | None:
        """Return the largest diameter that softens at most, on the thinned outline; None below 0.02 mm."""

        def limit(radius: Mm) -> Mm:
            return radius + max(radius, tolerance)

        bracket = self._bracket(limit, [(rung.diameter / 2, rung.verdict != "loses detail") for rung in rungs])
        if bracket is None:
            return None
        radius = _halve(lambda radius: self.fits(radius, limit(radius)), *bracket, max(EXACT, FINE * bracket[0]))[0]
        if self.same_parts(radius * 0.999):
            return 2 * radius
        parts = _bracket(self.same_parts, 0.01, radius)
        return None if parts is None else 2 * _halve(self.same_parts, *parts, EXACT)[0]

    def _bracket(self, limit: Callable[[Mm], Mm], tried: Sequence[tuple[Mm, bool]]) -> tuple[Mm, Mm] | None:
        """Return radii within 3 %, of which the lower leaves no vertex beyond the limit, from sizes that were tried."""
        return _bracket(lambda radius: self.fits(radius, limit(radius)), *_tried(tried, self.largest_radius))

    def _refined(self, low: Mm, high: Mm, tolerance: Mm) -> Mm:
        """Return the largest radius on the drawing itself; what decides are the vertices that fail just above it."""
        low, high = low * 0.97, high * 1.03
        while True:
            tests = [w for one, inside in self._exact if (w := _window(one, inside, high, high + tolerance))]
            if not tests:
                low, high = high, high * 1.1
            elif not all(_exact_fits(*test, low, low + tolerance) for test in tests):
                low, high = low * 0.9, low
            else:
                break
            if high > 1.2 * self.largest_radius or low < 0.01:
                return min(low, self.largest_radius)
        return _halve(
            lambda radius: all(_exact_fits(*test, radius, radius + tolerance) for test in tests), low, high, EXACT
        )[0]

    def smallest_scale(self, radius: Mm, tolerance: Mm) -> float | None:
        """Return by how much the drawing must be scaled at least for a radius to leave nothing over the tolerance."""

        def fits(share: float) -> bool:
            return self.fits(radius * share, (radius + tolerance) * share)

        bracket = _bracket(fits, 0.02, 2.0) or _bracket(fits, 2.0, 50.0)
        return None if bracket is None else 1 / _halve(fits, *bracket, bracket[0] * 5e-3)[0]


def ladder(shapes: Shapes, tolerance: Mm, bit: Mm) -> list[Rung]:
    """Return the standard sizes from large to small with the bit in question, a `SPAN` above and below it.

    Of sizes that are nearly alike one is shown.
    """
    sizes: list[Mm] = [bit]
    for size in STANDARD_SIZES:
        alike = any(max(size, other) / min(size, other) < CLOSE_SIZES for other in sizes)
        if not alike and bit / SPAN < size < min(bit * SPAN, 2 * shapes.largest_radius):
            sizes.append(size)
    return [shapes.rung(size, tolerance) for size in sorted(sizes, reverse=True)]


def _outline(area: shapely.Geometry, within: shapely.Geometry | None) -> _Outline:
    """Return an area with its vertices; those of a part count where they lie inside the whole, not on its edge."""
    points = shapely.points(shapely.get_coordinates(area))
    if within is None:
        counts = np.ones(len(points), dtype=bool)
    else:
        edge = within.boundary
        shapely.prepare(edge)
        counts = ~shapely.dwithin(edge, points, 2 * PROXY)
    return _Outline(area, points, counts, within)


def _sides(outlines: Sequence[_Outline]) -> list[_Side]:
    """Return the pocket's side of the whole, and the piece's side of all."""
    return [(outlines[0], True), *((one, False) for one in outlines)]


def _thin(area: shapely.Geometry, step: Mm) -> shapely.Geometry:
    thin = shapely.simplify(area, step, preserve_topology=False)
    return thin if thin.is_valid and not thin.is_empty else shapely.simplify(area, step)


def _edge(area: shapely.Geometry, inside: bool, radius: Mm) -> shapely.Geometry:
    """Return where the bit's centre may be, for distances from outside of it: the core, or the line round the piece."""
    moved = shapely.buffer(area, -radius if inside else radius)
    return moved if inside else moved.boundary


def _moved(area: shapely.Geometry, distance: Mm) -> shapely.Geometry:
    return shapely.buffer(area, distance, quad_segs=QUAD_SEGS)


def _cut(area: shapely.Geometry, inside: bool, radius: Mm) -> shapely.Geometry:
    """Return what a bit leaves: the area opened, or closed."""
    way = -radius if inside else radius
    return _moved(_moved(area, way), -way)


def _places(
    drawn: shapely.Geometry, cut: shapely.Geometry, *, inside: bool, within: shapely.Geometry | None
) -> list[shapely.Polygon]:
    """Return the connected places that are lost (or filled) beyond what `cut` was moved by."""
    differs = shapely.difference(drawn, cut) if inside else shapely.difference(cut, drawn)
    if within is not None:
        differs = shapely.intersection(differs, within)
    return [part for part in shapely.get_parts(differs) if part.geom_type == "Polygon" and part.area > PROXY**2]


def _topology(area: shapely.Geometry) -> tuple[int, int]:
    """Return the number of parts and of holes."""
    parts = shapely.get_parts(area)
    return len(parts), int(shapely.get_num_interior_rings(parts).sum())


_Test = Callable[[float], bool]


def _tried(tried: Sequence[tuple[float, bool]], highest: float) -> tuple[float, float]:
    """Return the largest size that was good below every bad one (or a very small one) and the smallest bad one."""
    high = min([size for size, good in tried if not good], default=highest)
    return max([size for size, good in tried if good and size < high], default=0.02), max(high, 0.021)


def _bracket(fits: _Test, low: float, high: float) -> tuple[float, float] | None:
    """Return values within 3 % of each other of which the lower fits and the upper does not; None where none fits."""
    if not fits(low):
        return None
    while high / low > 1.03:
        middle = (low * high) ** 0.5
        low, high = (middle, high) if fits(middle) else (low, middle)
    return low, high


def _halve(fits: _Test, low: float, high: float, within: float) -> tuple[float, float]:
    """Return a bracket of the last value that fits, narrower than `within`."""
    while high - low > within:
        middle = (low + high) / 2
        low, high = (middle, high) if fits(middle) else (low, middle)
    return low, high


def _window(
    one: _Outline, inside: bool, radius: Mm, limit: Mm
) -> tuple[shapely.Geometry, NDArray[np.object_], bool] | None:
    """Return the neighbourhood of the vertices that fail at a radius, and these vertices; None where none does.

    What decides over a vertex lies within the limit and the radius of it.
    """
    failing = one.beyond(_edge(one.area, inside, radius), limit - PROXY)
    if not failing.any():
        return None
    points = one.points[failing]
    room = limit + radius + PROXY
    cells = np.unique(np.floor(shapely.get_coordinates(points) / room).astype(np.int64), axis=0) * room
    left, bottom = (cells - room).T
    boxes = shapely.union_all(shapely.box(left, bottom, left + 3 * room, bottom + 3 * room))
    return shapely.intersection(one.area, boxes), points, inside


def _exact_fits(area: shapely.Geometry, points: NDArray[np.object_], inside: bool, radius: Mm, limit: Mm) -> bool:
    """Return whether all vertices lie within the limit of the bit's centre line, by the exact offsets."""
    centres = geometry_of(offset(section(area), -radius if inside else radius))
    if centres.is_empty:
        return False
    edge = centres if inside else centres.boundary
    shapely.prepare(edge)
    return bool(shapely.dwithin(edge, points, limit).all())
