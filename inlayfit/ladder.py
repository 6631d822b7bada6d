"""Which bit could cut a drawing: the largest bit, and the standard sizes from large to small.

What a bit misses lies further than a limit from where its centre may be: beyond r plus the tolerance a corner is
softened, beyond 2 r something is lost. What one bit misses holds what every smaller one does, so that a search looks
only there. Counts, areas and the first bracket, between two standard sizes, come from a thinned outline (sides.py), the
last digits from the exact offsets of windows round what is missed at the upper end (miss.py).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain
from typing import Literal

import shapely

from inlayfit.cutters import STANDARD_SIZES, size_label
from inlayfit.miss import first_missed
from inlayfit.offset import Section, geometry_of, union
from inlayfit.sides import SLACK, Left, Side, thinned
from inlayfit.spots import Limit
from inlayfit.units import Mm

Verdict = Literal["as drawn", "softened", "loses detail"]

PROXY = 0.12
"""The outline that is counted on may lie this share of the tolerance off the drawing."""

COARSE: Mm = 0.006
"""But no more than this."""

EXACT: Mm = 0.0002
"""The radius of the largest bit is known to this."""

FINE = 5e-4
"""The largest bit that softens at most, and the smallest size, are found to this share of themselves."""

SMALLEST: Mm = 0.01
"""No bit of less radius is looked for."""

CLIMB = 1.5
"""Above the standard sizes each next bit is so many times larger."""

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


class Shapes:
    """What a bit must go into (all `groups`) and what it must go round (each group, each part that touches another).

    Groups are cut from the sheet one by one, so that a bit that goes round one need not pass between two. Each part
    comes with the number of its group.
    """

    def __init__(
        self, groups: Sequence[Section], parts: Sequence[tuple[Section, int]], *, tolerance: Mm, bit: Mm
    ) -> None:
        """Thin the outlines; lengths in mm, `bit` is the diameter in question."""
        self._tolerance, self._radius, self._groups = tolerance, bit / 2, groups
        self._lefts: dict[Mm, list[Left]] = {}
        step = min(PROXY * tolerance, COARSE)
        thin = [thinned(geometry_of(group), step) for group in groups]
        whole = shapely.MultiPolygon([polygon for group in thin for polygon in shapely.get_parts(group)])
        self._sides = [Side(union(groups), whole, step, inside=True)]
        self._sides += [Side(group, outline, step, inside=False) for group, outline in zip(groups, thin, strict=True)]
        self._sides += [
            Side(part, thinned(geometry_of(part), step), step, inside=False, within=groups[group])
            for part, group in parts
        ]
        self._single = len(whole.geoms) == 1
        left, bottom, right, top = shapely.total_bounds(whole)
        self.sizes = _sizes(bit, max(right - left, top - bottom))
        """From small to large."""

    @cached_property
    def _inscribed(self) -> list[shapely.LineString]:
        """Return the largest disc in each part, as a line from its middle to its edge, the smallest first."""
        parts = shapely.get_parts([thinned(geometry_of(group), EXACT / 4) for group in self._groups])
        return sorted(shapely.maximum_inscribed_circle(parts, EXACT / 4), key=shapely.length)

    @property
    def largest_radius(self) -> Mm:
        """No larger bit enters every part."""
        return float(self._inscribed[0].length)

    @cached_property
    def largest_bit(self) -> Mm | None:
        """The largest diameter that leaves nothing over the tolerance, to twice `EXACT`; None below 0.02 mm."""
        radius = self._largest(lambda radius: radius + self._tolerance, 0.0)
        return None if radius is None else 2 * radius

    @cached_property
    def largest_bit_no_loss(self) -> Mm | None:
        """The largest diameter up to which bits soften at most; None below 0.02 mm."""
        known = 0.0 if self.largest_bit is None else self.largest_bit / 2
        radius = self._largest(self._loss, FINE, known)
        if radius is None or radius <= known:
            return self.largest_bit
        if not self._same_parts(radius if radius in self._lefts else radius * (1 - FINE)):
            radius = self._largest_whole(max(known, SMALLEST), radius)
        return None if radius is None else 2 * radius

    @cached_property
    def smallest_scale(self) -> float | None:
        """By how much the drawing must be scaled at least for the bit to leave nothing over the tolerance.

        A radius on a scaled drawing is a smaller one on the drawing itself, with a tolerance smaller alike.
        """
        largest = self._largest(lambda radius: radius * (1 + self._tolerance / self._radius), FINE)
        return None if largest is None else self._radius / largest

    def rung(self, diameter: Mm) -> Rung:
        """Return what a bit of one size leaves and fills, on the thinned outline; no places up to the largest bit."""
        radius = diameter / 2
        clean = diameter <= (self.largest_bit or 0.0)
        lost = softened = 0
        area_lost = area_filled = 0.0
        for left in self._left(radius):
            whole = left.side.within is None
            if left.side.inside:
                area_lost = left.area_mm2
            elif whole:
                area_filled += left.area_mm2
            if clean:
                continue
            places, worst = left.places(radius + self._tolerance, self._loss(radius))
            if places and worst == 0 and whole and not left.side.same_parts(radius, left):
                worst = 1
            lost, softened = lost + worst, softened + places - worst
        return Rung(
            diameter=diameter,
            label=size_label(diameter),
            verdict="loses detail" if lost else "softened" if softened else "as drawn",
            places_lost=lost,
            places_softened=softened,
            area_lost_mm2=area_lost,
            area_filled_mm2=area_filled,
        )

    def _loss(self, radius: Mm) -> Mm:
        return radius + max(radius, self._tolerance)

    def _same_parts(self, radius: Mm) -> bool:
        """Return whether a bit leaves as many parts and holes as were drawn, on the thinned outline."""
        known = self._lefts.get(radius, [None] * len(self._sides))
        sides = zip(self._sides, known, strict=True)
        return all(side.same_parts(radius, left) for side, left in sides if side.within is None)

    def _misses(self, radius: Mm, limit: Mm) -> bool:
        """Return whether a bit misses something, on the thinned outline."""
        return any(left.beyond(limit).any() for left in self._left(radius))

    def _left(self, radius: Mm) -> list[Left]:
        """Return what a bit leaves of each side: of what the next larger standard size leaves, if it is one."""
        if radius not in self._lefts:
            larger = next((size / 2 for size in self.sizes if size / 2 > radius), None)
            if larger is None or 2 * radius not in self.sizes:
                self._lefts[radius] = [side.left(radius) for side in self._sides]
            else:
                reach = 2 * radius + max(radius, self._tolerance, radius * self._tolerance / self._radius)
                self._lefts[radius] = [left.side.left_of(left, radius, reach) for left in self._left(larger)]
        return self._lefts[radius]

    def _radii(self, known: Mm) -> list[Mm]:
        """Return half of the standard sizes over a radius, those apart that are larger than a part of several."""
        radii = [size / 2 for size in self.sizes if size / 2 > known]
        return radii if self._single else [radius for radius in radii if radius < self.largest_radius]

    def _largest(self, limit: Limit, share: float, known: Mm = 0.0) -> Mm | None:
        """Return the radius up to which nothing is missed beyond a limit, to `EXACT` or a share; None where none does.

        Args:
            limit: mm, by radius.
            share: of the radius.
            known: misses nothing; mm.
        """
        radii = self._radii(known)
        first = next((n for n, radius in enumerate(radii) if self._misses(radius, limit(radius))), len(radii))
        low = radii[first - 1] if first else max(known, SMALLEST)
        climbed = self._climbed(max([low, *radii[first:]])) if share == 0 else ()
        for high in chain(radii[first:], climbed):
            found = self._first_missed(limit, low, high, max(EXACT, share * low))
            if found != high:
                return found
            low = high
        return self.largest_radius if share == 0 else self._largest_beyond(limit, low)

    def _first_missed(self, limit: Limit, low: Mm, high: Mm, within: Mm) -> Mm | None:
        """Return the radius where something begins to be missed, the upper one where nothing is; None for no radius."""
        found: Mm | None = high
        lots = [left.side.misses(left, limit(high)) for left in self._left(high)]
        for miss in [*chain.from_iterable(lot[:1] for lot in lots), *chain.from_iterable(lot[1:] for lot in lots)]:
            if found is not None:
                found = first_missed(miss, limit, min(low, found * (1 - SLACK)), found, within, SMALLEST)
        return found

    @cached_property
    def _top(self) -> Mm:
        """The largest radius that is tried."""
        return self.largest_radius - EXACT

    def _climbed(self, radius: Mm) -> Iterator[Mm]:
        """Yield larger radii up to the largest."""
        while (radius := radius * CLIMB) < self._top:
            yield radius
        yield self._top

    def _largest_beyond(self, limit: Limit, low: Mm) -> Mm:
        """Return the largest radius above the standard ones, to `SLACK`, on the thinned outline."""
        radius = high = self._top
        middles = shapely.MultiPoint([line.coords[0] for line in self._inscribed if line.length < high / (1 - SLACK)])
        self._lefts[high] = [side.left(high, middles if side.inside else None) for side in self._sides]
        begins: Mm | None = None
        while high - low > SLACK * low:
            if self._misses(radius, limit(radius) + SLACK * radius):
                if low == begins:
                    return low
                high, begins = radius, self._begins(radius, limit)
            elif radius == high:
                return high
            else:
                low = radius
            told = [] if begins is None else [begins, begins * (1 + 2 * SLACK)]
            radius = next((radius for radius in told if low < radius < high), (low * high) ** 0.5)
        return low

    def _begins(self, radius: Mm, limit: Limit) -> Mm | None:
        """Return the least radius that begins to miss the spot of some side that a radius misses, if one tells."""
        found = [left.side.begins(left, limit) for left in self._left(radius)]
        return min((begins for begins in found if begins is not None), default=None)

    def _largest_whole(self, low: Mm, high: Mm) -> Mm | None:
        """Return the largest radius that leaves as many parts and holes as were drawn; None if the lower does not."""
        if not self._same_parts(low):
            return None
        for radius in [radius for radius in self._radii(low) if radius < high]:
            if not self._same_parts(radius):
                high = radius
                break
            low = radius
        while high - low > max(EXACT, FINE * low):
            middle = (low + high) / 2
            low, high = (middle, high) if self._same_parts(middle) else (low, middle)
        return low


def ladder(shapes: Shapes) -> list[Rung]:
    """Return the standard sizes from large to small with the bit in question, what each would lose and fill."""
    return [shapes.rung(size) for size in reversed(shapes.sizes)]


def _sizes(bit: Mm, most: Mm) -> list[Mm]:
    """Return the standard sizes a `SPAN` above and below a bit, and the bit; of sizes nearly alike one."""
    sizes: list[Mm] = [bit]
    for size in STANDARD_SIZES:
        alike = any(max(size, other) / min(size, other) < CLOSE_SIZES for other in sizes)
        if not alike and bit / SPAN < size < min(bit * SPAN, most):
            sizes.append(size)
    return sorted(sizes)
