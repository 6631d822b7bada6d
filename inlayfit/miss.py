"""What a bit misses of an outline, by the exact offsets, and the largest radius that misses nothing.

Words: a bit of radius r *misses* what lies further than a *limit* from where its centre may be. A *window* is what of
the outline decides over a place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from inlayfit.offset import FEW, Section, boxes, corners_of, signed_areas, window_offset
from inlayfit.spots import Limit, Spot
from inlayfit.units import Mm

SPECK_MM2 = 1e-9
"""What is smaller is dust of the overlay: half a micrometre of a corner is a hundred times that."""

ARCS = 2
"""The sagitta of arcs is this part of how near an answer must be: where a miss begins hangs on walls, not on arcs."""

OFF: Mm = 0.00001
"""A spot that lies further off the outline is none of its vertices."""

INSCRIBED = 1.5
"""What a bit sweeps comes out smaller than it is by so many sagittas: half of the most."""

PROOF = 5
"""So many times as near as an answer must be above where a spot begins to be missed, more than a speck must be."""

DEEPER = 4
"""Where the lower end of a bracket misses something, the next lies this many brackets further down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Miss:
    """An area with the bit within it or round it, and what may be missed there: of the area, or of what is outside.

    `spot` is where most of it may be missed, as far as is known, `room` the area of the windows that were cut out.
    """

    area: Section
    asked: Section
    inside: bool
    spot: Spot | None = None
    room: float = math.inf

    @classmethod
    def near(
        cls,
        area: Section,
        within: Section | None,
        bounds: NDArray[np.float64],
        reach: Mm,
        slack: Mm,
        *,
        inside: bool,
        spot: Spot | None = None,
    ) -> Miss:
        """Return what may be missed in places, or within a slack of them; no more of the area is kept than matters.

        Args:
            area: as drawn.
            within: only what is missed of this counts; None for no bounds.
            bounds: of the places, (n, 4).
            reach: the radius and the limit together, mm.
            slack: mm.
            inside: whether the bit goes within the area, or round it.
            spot: where most of it may be missed.
        """
        asked = boxes(bounds, slack)
        asked = asked ^ area if inside else asked - area
        if within is not None:
            asked = asked ^ within
        return cls(area=area ^ boxes(bounds, reach + slack), asked=asked, inside=inside, spot=spot)

    def round_spot(self, reach: Mm) -> Miss:
        """Return the same with no more of the area than decides over the spot."""
        if self.spot is None or self.area.num_vert() < FEW:
            return self
        at = np.array([[self.spot.x, self.spot.y, self.spot.x, self.spot.y]])
        return replace(self, area=self.area ^ boxes(at, reach))

    def centres(self, radius: Mm, arc: Mm) -> Section:
        """Return where the bit's centre may be within the area, or where it may not be round it."""
        return window_offset(self.area, -radius if self.inside else radius, arc)

    def beyond(self, centres: Section, limit: Mm, arc: Mm) -> Section:
        """Return what of the asked lies further than a limit from the bit's centres, by chords of that sagitta."""
        swept = window_offset(centres, (limit + INSCRIBED * arc) * (1 if self.inside else -1), arc)
        return self.asked - swept if self.inside else self.asked ^ swept

    def after(self, missed: Section, spot: Spot | None, reach: Mm) -> Miss:
        """Return the same for smaller radii, of which one that missed so much goes no further than a reach."""
        bounds = _bounds(missed)
        room = float(np.prod(bounds[:, 2:] - bounds[:, :2] + 2 * reach, axis=1).sum())
        if room > self.room / 2:
            return replace(self, asked=missed, spot=spot)
        return replace(self, asked=missed, spot=spot, area=self.area ^ boxes(bounds, reach), room=room)


def first_missed(miss: Miss, limit: Limit, low: Mm, high: Mm, within: Mm, least: Mm) -> Mm | None:
    """Return the radius where something begins to be missed, from below.

    The spot of what one radius misses mostly tells where it begins to be missed. Where it does not, how thick a miss is
    may tell, for that grows evenly with the radius. Where neither leads anywhere the bracket is halved.

    Args:
        miss: what may be missed.
        limit: mm, by radius.
        low: misses nothing, as far as is known.
        high: misses something, as far as is known.
        within: how near the answer must be, mm.
        least: mm.

    Returns: the upper end where not even that misses anything; None where the least radius does.
    """
    trail: list[tuple[Mm, float]] = []
    sure = False
    probe, proved, arc = high, high, within / ARCS
    begins, high = _told(miss, limit, low, high, within)
    if high < probe:
        probe = _probe(low, high, within, begins, sure=sure)
    while True:
        centres = miss.centres(probe, arc)
        missed = miss.beyond(centres, limit(probe), arc)
        if len(_bounds(missed)):
            if probe > high:
                return low
            place, thickness = _thickest(missed)
            trail, proved = [*trail[-1:], (probe, thickness)], probe
            miss = miss.after(missed, Spot.of(place, corners_of(centres)), probe + limit(probe))
            if probe == low:
                if low <= least:
                    return None
                low = max(least, low - DEEPER * max(high - low, within))
            begins, high = _told(miss, limit, low, probe, within)
        elif probe == proved:
            return proved
        elif probe > high:  # the spot lay at the end of a hair
            low, high, begins = probe, proved, None
        else:
            low, sure = probe, True
        following = _following(low, high, proved, within, begins or _even(trail), sure=sure)
        if following is None:
            return low
        probe = following


def _following(low: Mm, high: Mm, proved: Mm, within: Mm, begins: Mm | None, *, sure: bool) -> Mm | None:
    """Return where to look next; None where the lower end is the answer.

    Where a spot told the higher end and no radius `proved` it, more than a speck must be missed a little above.
    """
    if not sure or high - low > within:
        return _probe(low, high, within, begins, sure=sure)
    return None if high == proved else min(proved, high + PROOF * within)


def _told(miss: Miss, limit: Limit, low: Mm, high: Mm, within: Mm) -> tuple[Mm | None, Mm]:
    """Return where the spot of a miss begins to be missed, if it tells, and a radius just above, if that misses it.

    Otherwise the higher radius stays.
    """
    walls = miss.area.to_polygons()
    if miss.spot is None or not walls or miss.spot.beyond(walls, OFF):
        return None, high
    begins = miss.spot.begins(walls, high, limit)
    above = high if begins is None else begins + within / 2
    if not low < above < high:
        return begins, high
    centres = miss.round_spot(above + limit(above)).centres(above, within / ARCS)
    return begins, above if miss.spot.beyond(centres.to_polygons(), limit(above) - within / ARCS) else high


def _probe(low: Mm, high: Mm, within: Mm, begins: Mm | None, *, sure: bool) -> Mm:
    """Return where to look next: just below or above where a miss begins, as far as is told, or else in the middle."""
    if high - low <= within:
        return low
    if begins is not None:
        for probe in (begins - within / 2, begins + within / 2):
            if low < probe < high:
                return probe
        if begins <= low and not sure:
            return low
    return (low + high) / 2


def _even(trail: Sequence[tuple[Mm, float]]) -> Mm | None:
    """Return the radius where the thickness of what two radii miss comes to nothing."""
    if len(trail) < 2:
        return None
    (far, more), (near, less) = trail
    return near - less * (far - near) / (more - less) if more > less else None


def _thickest(missed: Section) -> tuple[NDArray[np.float64], float]:
    """Return the place (n, 2) with the greatest area over the length round it, and that thickness."""
    rings = missed.to_polygons()
    lengths = np.array([np.hypot(*(ring - np.roll(ring, 1, axis=0)).T).sum() for ring in rings])
    thickness = signed_areas(rings) / lengths
    thickest = int(thickness.argmax())
    return rings[thickest], float(thickness[thickest])


def _bounds(missed: Section) -> NDArray[np.float64]:
    """Return the bounds of the places of what is missed, (n, 4)."""
    rings = missed.to_polygons()
    rings = [ring for ring, area in zip(rings, signed_areas(rings), strict=True) if area > SPECK_MM2]
    return np.array([[*ring.min(axis=0), *ring.max(axis=0)] for ring in rings]).reshape(-1, 4)
