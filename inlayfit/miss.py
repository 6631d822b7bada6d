"""What a bit misses of an outline, by the exact offsets, and the largest radius that misses nothing.

Words: a bit of radius r *misses* what lies further than a *limit* from where its centre may be. A *window* is what of
the outline decides over a place.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from inlayfit.offset import Section, boxes, signed_areas, window_offset
from inlayfit.units import Mm

Limit = Callable[[Mm], Mm]
"""How far from its centre a bit of a radius may leave something."""

SPECK_MM2 = 1e-9
"""What is smaller is dust of the overlay: half a micrometre of a corner is a hundred times that."""

ARCS = 4
"""The sagitta of arcs is this part of how near an answer must be: two offsets come out off by three at most."""

DEEPER = 4
"""Where the lower end of a bracket misses something, the next lies this many brackets further down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Miss:
    """An area with the bit within it or round it, and what may be missed there: of the area, or of what is outside.

    `room` is the area of the windows that were cut out.
    """

    area: Section
    asked: Section
    inside: bool
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
    ) -> Miss:
        """Return what may be missed in places, or within a slack of them; no more of the area is kept than matters.

        Args:
            area: as drawn.
            within: only what is missed of this counts; None for no bounds.
            bounds: of the places, (n, 4).
            reach: the radius and the limit together, mm.
            slack: mm.
            inside: whether the bit goes within the area, or round it.
        """
        asked = boxes(bounds, slack)
        asked = asked ^ area if inside else asked - area
        if within is not None:
            asked = asked ^ within
        return cls(area=area ^ boxes(bounds, reach + slack), asked=asked, inside=inside)

    def at(self, radius: Mm, limit: Mm, arc: Mm) -> Section:
        """Return what of the asked lies further than a limit from the bit's centres, by chords of that sagitta."""
        sense = 1 if self.inside else -1
        swept = window_offset(window_offset(self.area, -sense * radius, arc), sense * limit, arc)
        return self.asked - swept if self.inside else self.asked ^ swept

    def after(self, missed: Section, reach: Mm) -> Miss:
        """Return the same for smaller radii, of which one that missed so much goes no further than a reach."""
        bounds = _bounds(missed)
        room = float(np.prod(bounds[:, 2:] - bounds[:, :2] + 2 * reach, axis=1).sum())
        if room > self.room / 2:
            return replace(self, asked=missed)
        return replace(self, asked=missed, area=self.area ^ boxes(bounds, reach), room=room)


def first_missed(misses: Sequence[Miss], limit: Limit, low: Mm, high: Mm, within: Mm, least: Mm) -> Mm | None:
    """Return the radius where something begins to be missed, from below.

    How thick a miss is grows evenly with the radius from there on, so that two radii that miss tell where to look next;
    where that leads nowhere the bracket is halved.

    Args:
        misses: what may be missed.
        limit: mm, by radius.
        low: misses nothing, as far as is known.
        high: misses something, as far as is known.
        within: how near the answer must be, mm.
        least: mm.

    Returns: the upper end where not even that misses anything; None where the least radius does.
    """
    trail: list[tuple[Mm, float]] = []
    sure = False
    probe = high
    while True:
        left = _still_missed(misses, probe, limit(probe), within / ARCS)
        if left:
            same = len(left) == len(misses)
            misses, trail = left, [*(trail[-1:] if same else []), (probe, _thickness(left[0].asked))]
            if probe == low:
                if low <= least:
                    return None
                low = max(least, low - DEEPER * max(high - low, within))
            high = probe
        elif probe == high:
            return high
        else:
            low, sure = probe, True
        if sure and high - low <= within:
            return low
        probe = _probe(low, high, within, trail, sure=sure)


def _still_missed(misses: Sequence[Miss], radius: Mm, limit: Mm, arc: Mm) -> list[Miss]:
    """Return what is missed at a radius, the first found cut down and first, others as they were; none if nothing."""
    for number, miss in enumerate(misses):
        missed = miss.at(radius, limit, arc)
        if len(_bounds(missed)):
            return [miss.after(missed, radius + limit), *misses[number + 1 :]]
    return []


def _probe(low: Mm, high: Mm, within: Mm, trail: Sequence[tuple[Mm, float]], *, sure: bool) -> Mm:
    """Return where to look next: just below or just above where the trail comes to nothing, or else in the middle."""
    if high - low <= within:
        return low
    if len(trail) == 2:
        (far, more), (near, less) = trail
        if more > less:
            root = near - less * (far - near) / (more - less)
            for probe in (root - within / 2, root + within / 2):
                if low < probe < high:
                    return probe
            if root <= low and not sure:
                return low
    return (low + high) / 2


def _thickness(missed: Section) -> float:
    """Return the area of the thickest place over the length round it."""
    rings = missed.to_polygons()
    lengths = np.array([np.hypot(*(ring - np.roll(ring, 1, axis=0)).T).sum() for ring in rings])
    return float(np.max(signed_areas(rings) / lengths))


def _bounds(missed: Section) -> NDArray[np.float64]:
    """Return the bounds of the places of what is missed, (n, 4)."""
    rings = missed.to_polygons()
    rings = [ring for ring, area in zip(rings, signed_areas(rings), strict=True) if area > SPECK_MM2]
    return np.array([[*ring.min(axis=0), *ring.max(axis=0)] for ring in rings]).reshape(-1, 4)
