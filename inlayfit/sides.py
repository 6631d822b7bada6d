"""The sides of a drawing that a bit works on, and what it leaves of all of them: quickly, to some hundredths of a bit.

Words: a *side* is an area with the bit within it (for the pocket) or round it (for the piece). The bit is followed
along outlines thinned until they cost little (touches.py, left.py); what of the drawing itself may be missed is cut out
round the places that this tells of (miss.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.left import Left, left
from inlayfit.miss import Miss
from inlayfit.offset import Section, geometry_of, union
from inlayfit.outlines import Outlines
from inlayfit.seam import MARGIN
from inlayfit.spots import Spot
from inlayfit.touches import Touches
from inlayfit.units import Mm

SLACK = 0.01
"""How deep a place is may be off by this share of the radius, where touches lie far apart."""

BESIDE = 2.0
"""So many steps off an outline it is told whether a touch lies within another."""


CHORDS = 32
"""Of a quarter of a turn, for areas."""


@dataclass(frozen=True, slots=True)
class Side:
    """An area with the bit `inside`, or round it; `within` is what the area is a part of, None for the whole."""

    area: Section
    inside: bool
    within: Section | None = None

    def miss(self, bounds: NDArray[np.float64], reach: Mm, slack: Mm, spot: Spot | None = None) -> Miss:
        """Return what may be missed in places, (n, 4), or within a slack of them; arguments as those of `Miss.near`."""
        return Miss.near(self.area, self.within, bounds, reach, slack, inside=self.inside, spot=spot)


@dataclass(frozen=True, slots=True)
class _Followed:
    """The touches of discs up to a radius, along outlines thinned by a step, and which of them count."""

    touches: Touches
    counted: NDArray[np.bool_]
    step: Mm
    most: Mm


class Sides:
    """All sides of a drawing: within all groups together, round each of them, round each part that touches another."""

    def __init__(self, groups: Sequence[Section], parts: Sequence[tuple[Section, int]], step: Mm) -> None:
        """Thin the outlines by no more than a step, mm; a part comes with the number of its group."""
        self._step, self._groups, self._group = step, groups, [group for _, group in parts]
        self.thin = [thinned(geometry_of(group), step) for group in groups]
        self._thin_parts = [thinned(geometry_of(part), step) for part, _ in parts]
        self._round = [Side(group, inside=False) for group in groups]
        self._round += [Side(part, inside=False, within=groups[group]) for part, group in parts]
        self._followed: list[_Followed] = []

    @cached_property
    def _within(self) -> Side:
        return Side(union(self._groups), inside=True)

    def left(self, radii: Sequence[Mm], share: float | None = None) -> list[Left]:
        """Return what bits of some radii leave.

        Args:
            radii: mm.
            share: of the smallest radius that the outlines may be off. If it is not given they are off by a step, and
                what is wider than a bit by no more than that counts as no wider.
        """
        step = self._step if share is None else share * min(radii)
        fits = (one for one in self._followed if one.step <= step and one.most >= max(radii))
        followed = next(fits, None) or self._follow(step, max(radii))
        even = MARGIN if share is None else 0.0
        return left(followed.touches, np.array(radii), hair=followed.step, even=even, counted=followed.counted)

    def _follow(self, step: Mm, most: Mm) -> _Followed:
        """Return the touches of discs up to a radius, and keep them."""
        count = len(self._groups)
        lots = [self.thin, self._thin_parts]
        if step > self._step:
            lots = [[thinned(area, step) for area in lot] for lot in lots]
        elif step < self._step:
            exact = self._round[:count], self._round[count:]
            lots = [[thinned(geometry_of(side.area), step) for side in lot] for lot in exact]
        touches = Touches.along(Outlines.of(*lots), most, step)
        followed = _Followed(touches, self._beside_groups(touches, step), step, most)
        self._followed.append(followed)
        return followed

    def _beside_groups(self, touches: Touches, step: Mm) -> NDArray[np.bool_]:
        """Return which touches lie beside a whole group, or within one: there a part is cut out of its own sheet."""
        outline = touches.outlines.outline[touches.ring[touches.track]]
        counted = outline < len(self._groups)
        for part, group in enumerate(self._group, start=len(self._groups)):
            own = np.flatnonzero(outline == part)
            seats = touches.seats.of(own)
            beside = seats.points + BESIDE * step * seats.normals - touches.outlines.shift[part]
            shapely.prepare(self.thin[group])
            counted[own] = shapely.contains_xy(self.thin[group], beside.real, beside.imag)
        return counted

    def whole(self, places: Left) -> NDArray[np.bool_]:
        """Return which places lie beside a whole group, not beside a part of one."""
        return np.asarray(places.outline < len(self._groups))

    def area_mm2(self, places: Left, radius: Mm, *, outside: bool) -> float:
        """Return the area of what a bit leaves within or round the groups; between necks it is taken from buffers."""
        areas = places.area[(places.outside == outside) & self.whole(places)]
        if not np.isnan(areas).any():
            return float(areas.sum())
        return sum(_area_left(thin, radius if outside else -radius, self._step) for thin in self.thin)

    def misses(self, places: Left, radius: Mm, limit: Mm) -> list[Miss]:
        """Return what of the drawing itself a bit may miss, were the thinning all in its favour.

        The deepest plain place of each side comes first, by itself: mostly it decides, and costs little.
        """
        slack = 3 * self._step + SLACK * radius
        reach = radius + limit
        if limit - slack <= radius:
            every = shapely.total_bounds(self.thin)[None]
            return [side.miss(every, reach, 2 * slack) for side in (self._within, *self._round)]
        places = places.of(places.deep + radius > limit - slack)
        plain = ~(places.area < self._step * places.deep)  # and no hair that reaches far in
        plain = np.isinf(places.deep) | (np.isfinite(places.area) & plain)
        places = places.of(np.lexsort((-places.counted, ~plain)))
        numbers = np.where(places.outside, places.outline + 1, 0)
        deepest, others = [], []
        for number in dict.fromkeys(numbers.tolist()):
            side = self._round[number - 1] if number else self._within
            own = np.flatnonzero(numbers == number)
            if side.within is None:  # or else its spot may lie where nothing counts
                deepest.append(side.miss(places.bounds[own[:1]], reach, 2 * slack, _spot(places, own[0])))
                own = own[1:]
            if len(own):
                others.append(side.miss(places.bounds[own], reach, 2 * slack))
        return deepest + others


def _area_left(area: shapely.Geometry, grown: Mm, hair: Mm) -> float:
    """Return the area that closing adds, or below 0 opening takes: of the parts that reach further than a hair."""
    cut = shapely.buffer(shapely.buffer(area, grown, quad_segs=CHORDS), -grown, quad_segs=CHORDS)
    more, less = (cut, area) if grown > 0 else (area, cut)
    parts = shapely.get_parts(shapely.difference(more, less))
    beyond = shapely.intersection if grown > 0 else shapely.difference
    far = beyond(parts, shapely.buffer(cut, -hair if grown > 0 else hair))
    return float(shapely.area(parts[~shapely.is_empty(far)]).sum())


def _spot(places: Left, place: int) -> Spot | None:
    """Return the spot of a place; None where the bit comes nowhere near."""
    spot, centre = complex(places.spot[place]), complex(places.centre[place])
    if not np.isfinite(centre):
        return None
    return Spot(x=spot.real, y=spot.imag, centre=(centre.real, centre.imag))


def thinned(area: shapely.Geometry, step: Mm) -> shapely.Geometry:
    """Return an outline with as few vertices as stay within a step of it, mm."""
    thin = shapely.simplify(area, step, preserve_topology=False)
    return thin if thin.is_valid and not thin.is_empty else shapely.simplify(area, step)
