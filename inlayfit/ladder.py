"""Which bit could cut a drawing: the largest bit, and the standard sizes from large to small.

What a bit misses lies further than a limit from where its centre may be: beyond r plus the tolerance a corner is
softened, beyond 2 r something is lost. What one bit misses holds what every smaller one does, so that a search looks
only there. Counts, areas and the first bracket, between two standard sizes, come from a thinned outline (sides.py), the
last digits from the exact offsets of windows round what is missed at the upper end (miss.py).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.cutters import STANDARD_SIZES, size_label
from inlayfit.left import Left
from inlayfit.miss import first_missed
from inlayfit.offset import Section, geometry_of
from inlayfit.sides import SLACK, Sides, thinned
from inlayfit.spots import Limit
from inlayfit.units import Mm

Misses = Callable[[Mm, Left], bool]
"""Whether a bit of a radius misses something, by what it leaves."""

Verdict = Literal["as drawn", "softened", "loses detail"]

PROXY = 0.12
"""The outline that is counted on may lie this share of the tolerance off the drawing."""

COARSE: Mm = 0.006
"""But no more than this."""

EXACT: Mm = 0.0002
"""The radius of the largest bit is known to this."""

FINE = 5e-4
"""The largest bit that softens at most, and the smallest size, are found to this share of themselves."""

COARSER = SLACK / 4
"""For that the outlines may be off by this share of a radius."""

SMALLEST: Mm = 0.01
"""No bit of less radius is looked for."""

PROBES = 6
"""So many radii are tried at once, which costs little more than one."""

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
        self._sides = Sides(groups, parts, min(PROXY * tolerance, COARSE))
        left, bottom, right, top = shapely.total_bounds(self._sides.thin)
        self.sizes = _sizes(bit, max(right - left, top - bottom))
        """From small to large."""

    @cached_property
    def _lefts(self) -> dict[Mm, Left]:
        """Return what each of the sizes leaves, by radius."""
        radii = [size / 2 for size in self.sizes]
        return dict(zip(radii, self._sides.left(radii), strict=True))

    @cached_property
    def _inscribed(self) -> list[Mm]:
        """Return the radius of the largest disc in each part, the smallest first."""
        parts = shapely.get_parts([thinned(geometry_of(group), EXACT / 4) for group in self._groups])
        return sorted(shapely.length(shapely.maximum_inscribed_circle(parts, EXACT / 4)).tolist())

    @property
    def largest_radius(self) -> Mm:
        """No larger bit enters every part."""
        return self._inscribed[0]

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
        left = self._lefts[radius]
        lost = (left.counted + radius > self._loss(radius)) | self._other_parts(left)
        softened = (left.counted > self._tolerance) & ~lost
        clean = diameter <= (self.largest_bit or 0.0)
        places_lost, places_softened = (0 if clean else int(np.count_nonzero(some)) for some in (lost, softened))
        return Rung(
            diameter=diameter,
            label=size_label(diameter),
            verdict="loses detail" if places_lost else "softened" if places_softened else "as drawn",
            places_lost=places_lost,
            places_softened=places_softened,
            area_lost_mm2=self._sides.area_mm2(left, radius, outside=False),
            area_filled_mm2=self._sides.area_mm2(left, radius, outside=True),
        )

    def _loss(self, radius: Mm) -> Mm:
        return radius + max(radius, self._tolerance)

    def _other_parts(self, left: Left) -> NDArray[np.bool_]:
        """Return which places change the number of parts or of holes."""
        return np.asarray((left.runs != 1) & self._sides.whole(left))

    def _left(self, radius: Mm) -> Left:
        """Return what a bit leaves, on the thinned outline."""
        if radius not in self._lefts:
            (self._lefts[radius],) = self._sides.left([radius])
        return self._lefts[radius]

    def _radii(self, known: Mm) -> list[Mm]:
        """Return half of the standard sizes over a radius, those apart that are larger than a part of several."""
        single = len(shapely.get_parts(self._sides.thin)) == 1
        most = math.inf if single else self.largest_radius
        return [size / 2 for size in self.sizes if known < size / 2 < most]

    def _largest(self, limit: Limit, share: float, known: Mm = 0.0) -> Mm | None:
        """Return the radius up to which nothing is missed beyond a limit, to `EXACT` or a share; None where none does.

        Args:
            limit: mm, by radius.
            share: of the radius.
            known: misses nothing; mm.
        """

        def misses(radius: Mm, left: Left) -> bool:
            return bool((left.counted + radius > limit(radius)).any())

        radii = self._radii(known)
        if not radii and self.largest_radius <= SMALLEST:
            return None
        first = next((n for n, radius in enumerate(radii) if misses(radius, self._left(radius))), len(radii))
        low = radii[first - 1] if first else max(known, SMALLEST)
        climbed = self._climbed(max([low, *radii[first:]])) if share == 0 else ()
        for high in chain(radii[first:], climbed):
            found = self._first_missed(limit, low, high, max(EXACT, share * low))
            if found != high:
                return found
            low = high
        return self.largest_radius if share == 0 else self._largest_beyond(misses, low)

    def _first_missed(self, limit: Limit, low: Mm, high: Mm, within: Mm) -> Mm | None:
        """Return the radius where something begins to be missed, the upper one where nothing is; None for no radius."""
        found: Mm | None = high
        for miss in self._sides.misses(self._left(high), high, limit(high)):
            if found is not None:
                found = first_missed(miss, limit, min(low, found * (1 - SLACK)), found, within, SMALLEST)
        return found

    @cached_property
    def _top(self) -> Mm:
        """The largest radius that is tried."""
        return self.largest_radius - EXACT

    @property
    def _below(self) -> Mm:
        """A radius just below that: at the top itself a bit touches in one place alone."""
        return self._top * (1 - SLACK)

    def _climbed(self, radius: Mm) -> Iterator[Mm]:
        """Yield larger radii up to the largest."""
        while (radius := radius * CLIMB) < self._top:
            yield radius
        yield self._top

    def _largest_beyond(self, misses: Misses, low: Mm) -> Mm:
        """Return the largest radius above the standard ones, to `SLACK`, on the thinned outline."""
        if low >= self._below or not misses(self._below, *self._sides.left([self._below], COARSER)):
            return max(low, self._top)
        return self._narrowed(misses, low, self._below, SLACK, COARSER)

    def _largest_whole(self, low: Mm, high: Mm) -> Mm | None:
        """Return the largest radius that leaves as many parts and holes as were drawn; None if the lower does not."""

        def misses(_radius: Mm, left: Left) -> bool:
            return bool(self._other_parts(left).any())

        share, off = (FINE, FINE) if high <= self.sizes[-1] / 2 else (SLACK, COARSER)
        below = min(high * (1 - FINE), self._below)
        if below <= low or not misses(below, *self._sides.left([below], off)):
            return high
        if misses(low, *self._sides.left([low], off)):
            return None
        return self._narrowed(misses, low, below, share, off)

    def _narrowed(self, misses: Misses, low: Mm, high: Mm, share: float, off: float) -> Mm:
        """Return a radius that misses nothing, such that one larger by a share does, between one of either kind."""
        while high > low * (1 + share):
            radii = np.geomspace(low, high, PROBES + 2)[1:-1].tolist()
            lefts = zip(radii, self._sides.left(radii, off), strict=True)
            first = next((n for n, (radius, left) in enumerate(lefts) if misses(radius, left)), PROBES)
            low, high = [low, *radii, high][first : first + 2]
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
