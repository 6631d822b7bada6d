"""The sides of a drawing that a bit works on, on outlines thinned until they cost little: right to a few micrometres.

Words: a *side* is an area with the bit within it (for the pocket) or round it (for the piece). What a bit *leaves* are
the parts of it that it does not cut, or fills. They hold what every smaller bit leaves, so that the next smaller one is
asked for nothing but the surroundings of these parts. *Places* are what of them lies further than a limit from where
the bit's centre may be.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.miss import Miss
from inlayfit.offset import Section, geometry_of
from inlayfit.spots import Limit, Spot
from inlayfit.units import Mm

SLACK = 0.01
"""A plain buffer may be off by this share of its radius."""

MOST_CHORDS = 16
"""For a quarter of a turn: their sagitta is a fifth of what `SLACK` allows."""


HAIR = 1.0
"""What is left no further than so many thinnings beyond a bit is told by its length alone."""

MIXED = (0.7548776662, 0.5698402910)
"""Makes of the two coordinates of a vertex one number that only the same vertex has."""

MOST_ROOM = 0.5
"""Windows that take more than this share of an area save nothing."""

BOX_VERTICES = 25
"""A window costs as much as so many vertices of an area."""

DENSE = 0.5
"""Distances are asked for every so many limits along an edge."""

FIRST_ASKED = 8
"""Whether a part reaches beyond a limit is asked of every so many spots first."""


class Side:
    """An area with the bit within it, or round it.

    `drawn` is exact, `thin` no more than a `step` off it; `within` is what the area is a part of, None for the whole.
    """

    def __init__(
        self, drawn: Section, thin: shapely.Geometry, step: Mm, *, inside: bool, within: Section | None = None
    ) -> None:
        self.inside, self.within = inside, within
        self._drawn, self._thin, self._step, self.hair = drawn, thin, step, HAIR * step
        self._bounds = None if within is None else thinned(geometry_of(within), step)

    def left(self, radius: Mm, spots: shapely.Geometry | None = None) -> Left:
        """Return what a bit leaves; it may go to spots as well, where a plain buffer loses a core next to nothing."""
        area = self._for(radius)
        centres = self._centres(area, radius)
        if spots is not None:
            centres = shapely.union(centres, spots)
        swept = self._swept(centres, radius + self.hair)
        left = shapely.difference(area, swept) if self.inside else shapely.difference(swept, area)
        if self._bounds is not None:
            left = shapely.intersection(left, self._bounds)
        return self._left(radius, area, centres, swept, left, whole=True)

    def left_of(self, larger: Left, radius: Mm, reach: Mm) -> Left:
        """Return what a bit leaves of what a larger one left; nothing further than a reach from that matters."""
        if not len(larger.parts):
            return replace(larger, radius=radius, whole=False)
        near = _windows(larger.near, larger.parts, reach)
        centres = self._centres(near, radius)
        swept = self._swept(centres, radius + self.hair)
        whole = near is larger.near and larger.whole
        return self._left(radius, near, centres, swept, self._unswept(larger.parts, swept), whole=whole)

    def _left(
        self,
        radius: Mm,
        near: shapely.Geometry,
        centres: shapely.Geometry,
        swept: shapely.Geometry,
        left: shapely.Geometry,
        *,
        whole: bool,
    ) -> Left:
        parts = self._polygons(left)
        limit = radius + self.hair
        inscribed = limit * (1 - math.cos(math.pi / 4 / self._chords(limit))) * 2 / 3  # what chords leave, in the mean
        rim = np.sort(_mixed(shapely.get_coordinates(swept)))
        strip = _strip(parts, rim, radius, max(0.0, self.hair - inscribed)) if len(parts) else 0.0
        area_mm2 = float(shapely.area(parts).sum()) + strip
        edge = centres if self.inside else shapely.boundary(centres)
        shapely.prepare(edge)
        return Left(
            side=self,
            radius=radius,
            near=near,
            whole=whole,
            centres=centres,
            edge=edge,
            rim=rim,
            parts=parts,
            outlines=_outlines(parts, self.hair),
            area_mm2=area_mm2,
        )

    def _for(self, radius: Mm) -> shapely.Geometry:
        """Return the outline, as thin as will do for a radius."""
        step = SLACK / 4 * radius
        return self._thin if step <= self._step else thinned(self._thin, step)

    def same_parts(self, radius: Mm, left: Left | None = None) -> bool:
        """Return whether a bit leaves as many parts and holes as were drawn; what it leaves may be known."""
        if left is None:
            centres = self._centres(self._for(radius), radius)
        else:
            centres = left.centres if left.whole else self._centres(self._thin, radius)
        return _topology(self._swept(centres, radius)) == _topology(self._thin)

    def misses(self, left: Left, limit: Mm) -> list[Miss]:
        """Return what of the drawing itself a bit may miss, were the thinning all in its favour.

        The thickest part comes first, by itself: mostly it decides, and costs little.
        """
        slack = 3 * self._step + SLACK * left.radius
        spot = None
        if limit - slack <= left.radius:
            bounds = shapely.bounds([self._thin])
        else:
            parts = left.thickest(limit - slack)
            bounds, spot = shapely.bounds(parts), left.spot(parts)
        return [
            Miss.near(self._drawn, self.within, some, left.radius + limit, 2 * slack, inside=self.inside, spot=deepest)
            for some, deepest in ((bounds[:1], spot), (bounds[1:], None))
            if len(some)
        ]

    def begins(self, left: Left, limit: Limit) -> Mm | None:
        """Return the radius where the spot of the thickest part that a bit leaves begins to be missed, if it tells."""
        spot = left.spot(left.thickest(limit(left.radius)))
        rings = [shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(shapely.get_parts(self._thin))]
        return spot.begins(rings, left.radius, limit) if spot else None

    def places(self, left: Left, parts: NDArray[np.object_], limit: Mm) -> NDArray[np.object_]:
        """Return what of some parts lies further than a limit from the bit's centres."""
        return self._polygons(self._unswept(parts, self._swept(left.centres, limit)))

    def _unswept(self, parts: NDArray[np.object_], swept: shapely.Geometry) -> shapely.Geometry:
        """Return what of some parts lies beyond what was swept."""
        whole = shapely.multipolygons(parts)
        return shapely.difference(whole, swept) if self.inside else shapely.intersection(whole, swept)

    def _swept(self, centres: shapely.Geometry, limit: Mm) -> shapely.Geometry:
        """Return what lies within a limit of the centres, or for a bit round the area what lies further off."""
        return shapely.buffer(centres, limit if self.inside else -limit, quad_segs=self._chords(limit))

    def _centres(self, area: shapely.Geometry, radius: Mm) -> shapely.Geometry:
        """Return where the bit's centre may be within an area, or where it may not be round it."""
        return shapely.buffer(area, -radius if self.inside else radius, quad_segs=self._chords(radius))

    def _chords(self, radius: Mm) -> int:
        """Return how many chords for a quarter of a turn stay within half a hair."""
        return min(MOST_CHORDS, math.ceil(math.pi / 4 / math.acos(max(0.0, 1 - self.hair / 2 / radius))))

    def _polygons(self, found: shapely.Geometry) -> NDArray[np.object_]:
        """Return the parts of a geometry that are no dust."""
        parts = shapely.get_parts(found)
        parts = parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON]
        return np.asarray(parts[shapely.area(parts) > self._step**2])


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """What a bit of a radius leaves of a side.

    `parts` are polygons: what lies further than a hair beyond the bit, `outlines` their rings and the part of each;
    `near` is the outline round them or the `whole`, `centres` as a side gives them, `edge` what of them a part is
    nearest to, `rim` the mixed vertices of what is swept, ascending. `area_mm2` is all that is left, to the last hair.
    """

    side: Side
    radius: Mm
    near: shapely.Geometry
    whole: bool
    centres: shapely.Geometry
    edge: shapely.Geometry
    rim: NDArray[np.float64]
    parts: NDArray[np.object_]
    outlines: tuple[NDArray[np.object_], NDArray[np.intp]]
    area_mm2: float

    def beyond(self, limit: Mm) -> NDArray[np.bool_]:
        """Return which parts reach further than a limit from the bit's centres."""
        if not len(self.parts):
            return np.zeros(0, dtype=np.bool_)
        points, ring = _spots(self.outlines[0], limit)
        return self._reaching(points, self.outlines[1][ring], len(self.parts), limit)

    def thickest(self, limit: Mm) -> NDArray[np.object_]:
        """Return the parts that reach further than a limit from the bit's centres, the thickest first."""
        parts = self.parts[self.beyond(limit)]
        return np.asarray(parts[np.argsort(-shapely.area(parts) / shapely.length(parts))])

    def spot(self, parts: NDArray[np.object_]) -> Spot | None:
        """Return the spot of the first of some parts; None where there is none, or the bit has no centre."""
        return Spot.of(*map(shapely.get_coordinates, (parts[:1], self.centres))) if len(parts) else None

    def places(self, limit: Mm, deep: Mm) -> tuple[int, int]:
        """Return how many places lie further than a limit from the bit's centres, and how many reach a deeper one.

        A part with one stretch of edge beyond the limit is one place, one with more may hold several.
        """
        if not len(self.parts):
            return 0, 0
        stretches, points, part = self._stretches(limit)
        deeper = self._reaching(points, part, len(self.parts), deep)
        several = stretches > 1
        simple = int(np.count_nonzero(stretches == 1))
        if not several.any():
            return simple, int(np.count_nonzero(deeper))
        places = self.side.places(self, self.parts[several], limit)
        rings, part = _outlines(places, self.side.hair)
        points, ring = _spots(rings, deep)
        deep_places = self._reaching(points, part[ring], len(places), deep)
        return simple + len(places), int(np.count_nonzero(deeper & ~several) + np.count_nonzero(deep_places))

    def _stretches(self, limit: Mm) -> tuple[NDArray[np.intp], NDArray[np.float64], NDArray[np.intp]]:
        """Return how many stretches of the edge of each part lie further than a limit from the bit's centres.

        And the spots (n, 2) that do, with the part of each (n,).
        """
        count, (rings, part) = len(self.parts), self.outlines
        points, ring = _spots(rings, limit)
        if shapely.is_empty(self.edge):
            return np.ones(count, dtype=np.intp), points, part[ring]
        far = np.ones(len(points), dtype=np.bool_)
        if limit > (1 + SLACK) * (self.radius + self.side.hair):
            far = ~_among(_mixed(points), self.rim)  # these lie as far as was swept
        far[far] = self._further(points[far], limit)
        begins = far[1:] & ~far[:-1] & (ring[1:] == ring[:-1])
        counts = np.bincount(ring[1:][begins], minlength=len(rings))
        whole = np.bincount(ring[far], minlength=len(rings)) == np.bincount(ring, minlength=len(rings))
        stretches = np.bincount(part, weights=counts + whole, minlength=count).astype(np.intp)
        return stretches, points[far], part[ring[far]]

    def _reaching(
        self, points: NDArray[np.float64], part: NDArray[np.intp], count: int, limit: Mm
    ) -> NDArray[np.bool_]:
        """Return which parts have a spot further than a limit from the bit's centres; mostly a few spots tell."""
        if shapely.is_empty(self.edge):
            return np.ones(count, dtype=np.bool_)
        reaching = np.zeros(count, dtype=np.bool_)
        every = np.arange(len(points))
        for asked in (every[::FIRST_ASKED], every):
            open_spots = asked[~reaching[part[asked]]]
            reaching[part[open_spots[self._further(points[open_spots], limit)]]] = True
        return reaching

    def _further(self, points: NDArray[np.float64], limit: Mm) -> NDArray[np.bool_]:
        return np.asarray(~shapely.dwithin(self.edge, shapely.points(points), limit))


def _spots(rings: NDArray[np.object_], limit: Mm) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Return spots along rings (n, 2), and the ring of each (n,)."""
    points, ring = shapely.get_coordinates(shapely.segmentize(rings, DENSE * limit), return_index=True)
    return points, ring


def _mixed(points: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(points @ MIXED)


def _among(values: NDArray[np.float64], ascending: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which values are among ascending ones."""
    if not len(ascending):
        return np.zeros(len(values), dtype=np.bool_)
    place = np.searchsorted(ascending, values)
    return np.asarray(ascending[np.minimum(place, len(ascending) - 1)] == values)


def _outlines(parts: NDArray[np.object_], hair: Mm) -> tuple[NDArray[np.object_], NDArray[np.intp]]:
    """Return the rings of parts without what is less than a hair, and which part each belongs to."""
    rings, part = shapely.get_rings(shapely.simplify(parts, hair), return_index=True)
    return np.asarray(rings), np.asarray(part)


def thinned(area: shapely.Geometry, step: Mm) -> shapely.Geometry:
    """Return an outline with as few vertices as stay within a step of it, mm."""
    thin = shapely.simplify(area, step, preserve_topology=False)
    return thin if thin.is_valid and not thin.is_empty else shapely.simplify(area, step)


def _windows(area: shapely.Geometry, parts: NDArray[np.object_], reach: Mm) -> shapely.Geometry:
    """Return an area within the boxes of parts that go so much further; the area itself where that saves little."""
    if shapely.get_num_coordinates(area) < BOX_VERTICES * len(parts):
        return area
    left, bottom, right, top = (shapely.bounds(parts) + np.array([-reach, -reach, reach, reach])).T
    if ((right - left) * (top - bottom)).sum() > MOST_ROOM * shapely.box(*area.bounds).area:
        return area
    return shapely.intersection(area, shapely.union_all(shapely.box(left, bottom, right, top)))


def _strip(parts: NDArray[np.object_], rim: NDArray[np.float64], radius: Mm, hair: Mm) -> float:
    """Return the area of the hair between what a bit cuts and parts beyond it: along what they share with the swept.

    Where the hair runs out along a straight edge it is a wedge, sqrt(2 r h) long, a third of that by the hair in area.
    """
    points, ring = shapely.get_coordinates(shapely.get_rings(parts), return_index=True)
    shared = _among(_mixed(points), rim)
    rim = (shared[1:] | shared[:-1]) & (ring[1:] == ring[:-1])
    steps = np.diff(points, axis=0)[rim]
    ends = np.count_nonzero(rim[1:] != rim[:-1])
    return float(hair * (np.hypot(steps[:, 0], steps[:, 1]).sum() + ends * math.sqrt(2 * radius * hair) / 3))


def _topology(area: shapely.Geometry) -> tuple[int, int]:
    """Return the number of parts and of holes."""
    parts = shapely.get_parts(area)
    return len(parts), int(shapely.get_num_interior_rings(parts).sum())
