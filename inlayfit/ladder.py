"""Which bit could cut a drawing: the reach at any radius, the largest bit, the standard sizes from large to small.

The reach of a vertex at radius r is its distance to the core (the drawing shrunk by r) less r, and the same on the
complement for a bit that goes round the piece. It grows with r, so that a largest bit can be found by halving.
Counts, areas and the first bracket come from an outline thinned by `PROXY`; the largest bit is then refined on the
drawing itself, around the vertices that fail first.
"""

from __future__ import annotations

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

PROXY: Mm = 0.002
"""How far the outline that is counted on may lie from the drawing."""

EXACT: Mm = 0.0002
"""The largest bit is known to twice this."""

QUAD_SEGS = 24
"""Chords a quarter circle of the offsets that are counted on: areas of corner leftovers within 0.3 %."""

CLOSE_SIZES = 1.06
"""Of standard sizes nearer than this ratio the ladder shows one: a millimetre size beside its inch neighbour."""


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
    """An area, its vertices ring by ring, and which of them count."""

    area: shapely.Geometry
    points: NDArray[np.object_]
    ring: NDArray[np.intp]
    counts: NDArray[np.bool_]


class Shapes:
    """What a bit must go into (`whole`) and what it must go round (`whole` and each part that touches another)."""

    def __init__(self, whole: shapely.Geometry, parts: Sequence[shapely.Geometry] = ()) -> None:
        self._exact = [_outline(whole, None), *(_outline(part, whole) for part in parts)]
        self._proxy = [
            _outline(_thin(one.area), None if index == 0 else whole) for index, one in enumerate(self._exact)
        ]
        left, bottom, right, top = whole.bounds
        self.largest_radius: Mm = max(right - left, top - bottom) / 2 + 0.01

    def rung(self, diameter: Mm, tolerance: Mm) -> Rung:
        """Return what a bit of one size loses and fills."""
        radius = diameter / 2
        lost = softened = 0
        whole = self._proxy[0]
        core, around = _core(whole.area, radius), _around(whole.area, radius)
        opened = shapely.buffer(core, radius, quad_segs=QUAD_SEGS)
        closed = shapely.buffer(around, -radius, quad_segs=QUAD_SEGS)
        for one, edge in self._edges(self._proxy, radius, core, around):
            failing = _beyond(one, edge, radius + tolerance)
            beyond = failing.copy()
            beyond[failing] = ~shapely.dwithin(edge, one.points[failing], 2 * radius) if not edge.is_empty else True
            some, worst = _runs(one.ring, failing, beyond)
            lost, softened = lost + worst, softened + some - worst
        if lost == 0 and _topology(opened, tolerance) != _topology(whole.area, tolerance):
            lost += 1
        if lost == 0 and _topology(closed, tolerance) != _topology(whole.area, tolerance):
            lost += 1
        return Rung(
            diameter=diameter,
            label=size_label(diameter),
            verdict="loses detail" if lost else "softened" if softened else "as drawn",
            places_lost=lost,
            places_softened=softened,
            area_lost_mm2=max(0.0, whole.area.area - opened.area),
            area_filled_mm2=max(0.0, closed.area - whole.area.area),
        )

    def _edges(
        self, outlines: Sequence[_Outline], radius: Mm, core: shapely.Geometry, around: shapely.Geometry
    ) -> list[tuple[_Outline, shapely.Geometry]]:
        """Return each outline with the centre line of the bit that it is held against."""
        whole, *parts = outlines
        edges = [(whole, core), (whole, around.boundary)]
        return edges + [(part, _around(part.area, radius).boundary) for part in parts]

    def fits(self, radius: Mm, tolerance: Mm) -> bool:
        """Return whether a bit of this radius leaves nothing over the tolerance, on the thinned outline."""
        whole = self._proxy[0].area
        core = _core(whole, radius)
        if core.is_empty or _beyond(self._proxy[0], core, radius + tolerance).any():
            return False
        return not any(
            _beyond(one, edge, radius + tolerance).any()
            for one, edge in self._edges(self._proxy, radius, core, _around(whole, radius))[1:]
        )

    def largest_bit(self, tolerance: Mm) -> Mm | None:
        """Return the largest diameter that leaves nothing over the tolerance, to twice `EXACT`; None below 0.02 mm."""
        low, high = _bracket(lambda radius: self.fits(radius, tolerance), 0.01, self.largest_radius)
        if low is None:
            return None
        return 2 * self._refined(low, high, tolerance)

    def largest_bit_no_loss(self, tolerance: Mm) -> Mm | None:
        """Return the largest diameter that softens at most, on the thinned outline; None below 0.02 mm."""
        low, high = _bracket(
            lambda radius: self.rung(2 * radius, tolerance).verdict != "loses detail", 0.01, self.largest_radius
        )
        if low is None:
            return None
        good, _ = _halve(
            lambda radius: self.rung(2 * radius, tolerance).verdict != "loses detail", low, high, PROXY / 4
        )
        return 2 * good

    def _refined(self, low: Mm, high: Mm, tolerance: Mm) -> Mm:
        """Return the largest radius on the exact outline; what decides are vertices that fail just above it."""
        tests = [
            window
            for index, one in enumerate(self._exact)
            for inside in ((True, False) if index == 0 else (False,))
            if (window := _window(one, inside, high * 1.02, tolerance)) is not None
        ]
        if not tests:
            return high

        def fits(radius: Mm) -> bool:
            return all(_exact_fits(area, points, inside, radius, tolerance) for area, points, inside in tests)

        return _halve(fits, low * 0.98, high * 1.02, EXACT)[0]

    def smallest_scale(self, radius: Mm, tolerance: Mm) -> float | None:
        """Return by how much the drawing must be scaled at least for a radius to leave nothing over the tolerance."""
        low, high = _bracket(lambda share: self.fits(radius * share, tolerance * share), 0.02, 50.0)
        if low is None:
            return None
        return 1 / _halve(lambda share: self.fits(radius * share, tolerance * share), low, high, low * 2e-3)[0]


def ladder(shapes: Shapes, tolerance: Mm, always: Mm) -> list[Rung]:
    """Return the standard sizes from large to small; `always` is among them, neighbours that are nearly alike are not.

    Sizes that lose all of the drawing are left out but for the smallest of them.
    """
    sizes: list[Mm] = [always]
    for size in STANDARD_SIZES:
        if (
            all(max(size, other) / min(size, other) > CLOSE_SIZES for other in sizes)
            and size < 4 * shapes.largest_radius
        ):
            sizes.append(size)
    return [shapes.rung(size, tolerance) for size in sorted(sizes, reverse=True)]


def _outline(area: shapely.Geometry, within: shapely.Geometry | None) -> _Outline:
    """Return an area with its vertices; those of a part count where they lie inside the whole, not on its edge."""
    coordinates, ring = shapely.get_coordinates(shapely.get_rings(area), return_index=True)
    points = shapely.points(coordinates)
    if within is None:
        counts = np.ones(len(points), dtype=bool)
    else:
        edge = within.boundary
        shapely.prepare(edge)
        counts = ~shapely.dwithin(edge, points, 2 * PROXY)
    return _Outline(area, points, ring, counts)


def _thin(area: shapely.Geometry) -> shapely.Geometry:
    thin = shapely.simplify(area, PROXY, preserve_topology=False)
    return thin if thin.is_valid and not thin.is_empty else shapely.simplify(area, PROXY)


def _core(area: shapely.Geometry, radius: Mm) -> shapely.Geometry:
    return shapely.buffer(area, -radius, quad_segs=QUAD_SEGS)


def _around(area: shapely.Geometry, radius: Mm) -> shapely.Geometry:
    return shapely.buffer(area, radius, quad_segs=QUAD_SEGS)


def _beyond(one: _Outline, edge: shapely.Geometry, distance: Mm) -> NDArray[np.bool_]:
    """Return which vertices that count lie further than a distance from the bit's centre line."""
    if edge.is_empty:
        return one.counts.copy()
    shapely.prepare(edge)
    return one.counts & ~shapely.dwithin(edge, one.points, distance)


def _runs(ring: NDArray[np.intp], failing: NDArray[np.bool_], beyond: NDArray[np.bool_]) -> tuple[int, int]:
    """Return how many runs of failing vertices there are along the rings, and how many hold one that is beyond."""
    some = worst = 0
    for number in np.unique(ring[failing]):
        on = np.flatnonzero(ring == number)[:-1]  # the closing point repeats the first
        marks = failing[on]
        start = int(np.argmin(marks)) if not marks.all() else 0
        marks, far = np.roll(marks, -start), np.roll(beyond[on], -start)
        heads = np.flatnonzero(marks & ~np.concatenate([[False], marks[:-1]]))
        some += len(heads)
        worst += int(np.count_nonzero(np.add.reduceat(far, heads))) if len(heads) else 0
    return some, worst


def _topology(area: shapely.Geometry, speck: Mm) -> tuple[int, int]:
    """Return the number of parts and of holes, specks left out."""
    parts = [part for part in shapely.get_parts(area) if part.area > speck**2 / 100]
    return len(parts), int(shapely.get_num_interior_rings(parts).sum()) if parts else 0


_Test = Callable[[float], bool]


def _bracket(fits: _Test, low: float, high: float) -> tuple[float | None, float]:
    """Return values within 3 % of each other of which the lower fits and the upper does not; None where none fits."""
    if not fits(low):
        return None, low
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
    one: _Outline, inside: bool, radius: Mm, tolerance: Mm
) -> tuple[shapely.Geometry, NDArray[np.object_], bool] | None:
    """Return the neighbourhood of the vertices that fail at a radius, and these vertices; None where none does.

    What decides over a vertex lies within twice the radius and the tolerance of it.
    """
    centres = _core(one.area, radius) if inside else _around(one.area, radius).boundary
    failing = _beyond(one, centres, radius + tolerance - PROXY)
    if not failing.any():
        return None
    points = one.points[failing]
    room = 2 * radius + 2 * tolerance
    xy = shapely.get_coordinates(points)
    cells = np.unique(np.floor(xy / room).astype(np.int64), axis=0) * room
    boxes = shapely.union_all(
        shapely.box(cells[:, 0] - room, cells[:, 1] - room, cells[:, 0] + 2 * room, cells[:, 1] + 2 * room)
    )
    return shapely.intersection(one.area, boxes), points, inside


def _exact_fits(area: shapely.Geometry, points: NDArray[np.object_], inside: bool, radius: Mm, tolerance: Mm) -> bool:
    """Return whether all vertices lie within the tolerance of what a radius can cut, by the exact offsets."""
    centres = geometry_of(offset(section(area), -radius if inside else radius))
    if centres.is_empty:
        return False
    if not inside:
        centres = centres.boundary
    shapely.prepare(centres)
    return bool(shapely.dwithin(centres, points, radius + tolerance).all())
