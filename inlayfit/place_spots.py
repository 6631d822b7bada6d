"""The spots of places where the cut leaves the drawing, and their rims: of all places at once.

Words: a *place* is a polygon, its *spots* are the points at which its reach is taken. A *rim* is a stretch of a place's
edge that faces the part that is cut.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.units import Mm

MARK_SPACING: Mm = 1.0
"""Every spot of a site lies this close to one of its marks."""

RIM_DUST: Mm = 0.0015
"""A vertex this near to the tolerance from the cut lies on a rim."""

SHORTEST_RIM: Mm = 0.005
"""A shorter one is the foot of a hair that the overlay left."""

HAIR: Mm = 0.0005
"""A hole in a place that is thinner than this is dust of the overlay."""

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spots:
    """The spots of places: `points` (n, 2), of which `place` (n,) numbers the place, ascending.

    The first `edges` of each place are the vertices of its rings, `ring` (n,) numbers these; the rest, of ring -1, is a
    grid within a broad place.
    """

    points: Floats
    place: Indices
    ring: Indices

    @classmethod
    def of(cls, places: Sequence[shapely.Polygon]) -> Spots:
        """Return the spots of places: no two neighbours are further apart than half of `MARK_SPACING`."""
        rings, place = shapely.get_rings(shapely.segmentize(places, MARK_SPACING / 2), return_index=True)
        if len(rings) > len(places):
            fine = _first(place) | (2 * np.abs(shapely.area(shapely.polygons(rings))) > HAIR * shapely.length(rings))
            rings, place = rings[fine], place[fine]
        points, ring = shapely.get_coordinates(rings, return_index=True)
        closing = np.append(ring[1:] != ring[:-1], True)  # repeats the first
        points, ring = points[~closing], ring[~closing]
        broad = np.flatnonzero(shapely.area(places) > MARK_SPACING**2 / 4)
        inner, owner = _grids([places[n] for n in broad.tolist()])
        place, points = np.concatenate([place[ring], broad[owner]]), np.concatenate([points, inner])
        ring = np.concatenate([ring, np.full(len(inner), -1)])
        order = np.argsort(place, kind="stable")
        return cls(points=points[order], place=place[order], ring=ring[order])

    def rims(self, reaches: Floats, tolerance: Mm, places: int) -> Indices:
        """Return the number of rims of each place: stretches at just the tolerance from the cut; specks are none.

        Args:
            reaches: of the spots, (n,), mm.
            tolerance: mm.
            places: how many there are.
        """
        edge = self.ring >= 0
        points, place, ring = self.points[edge], self.place[edge], self.ring[edge]
        on_rim = np.abs(reaches[edge] - tolerance) <= RIM_DUST
        order, first = _from_off_rim(ring, on_rim)
        points, place, on_rim = points[order], place[order], on_rim[order]
        begins = on_rim & (first | ~np.append(False, on_rim[:-1]))
        heads = np.flatnonzero(begins[on_rim])
        if not len(heads):
            return np.zeros(places, dtype=np.intp)
        stretch = points[on_rim]
        extent = np.maximum.reduceat(stretch, heads) - np.minimum.reduceat(stretch, heads)
        whole = np.logical_and.reduceat(on_rim, np.flatnonzero(first))[(np.cumsum(first) - 1)[begins]]
        long = whole | (extent > SHORTEST_RIM).any(axis=1)
        some = np.bincount(place[on_rim], minlength=places) > 0
        return np.maximum(np.bincount(place[begins][long], minlength=places), some).astype(np.intp)


def _first(numbers: Indices) -> Flags:
    """Return which of ascending numbers are the first of their kind."""
    return np.append(True, numbers[1:] != numbers[:-1])


def _from_off_rim(ring: Indices, on_rim: Flags) -> tuple[Indices, Flags]:
    """Return an order in which each ring begins off a rim, if it has such a vertex, and where rings begin in it."""
    first = _first(ring)
    starts = np.flatnonzero(first)
    counts = np.diff(starts, append=len(ring))
    of = np.cumsum(first) - 1
    rank = np.arange(len(ring)) - starts[of]
    off = np.minimum.reduceat(np.where(on_rim, len(ring), rank), starts)
    shift = np.where(off < len(ring), off, 0)
    return starts[of] + (rank + shift[of]) % counts[of], first


def _grids(places: Sequence[shapely.Polygon]) -> tuple[Floats, Indices]:
    """Return the points of grids that lie within places, (n, 2), and of each the number of its place, (n,)."""
    step = MARK_SPACING / 2
    starts = shapely.bounds(places).reshape(-1, 4)
    across, up = np.ceil((starts[:, 2:] - starts[:, :2]) / step).astype(np.intp).T
    owner = np.repeat(np.arange(len(places)), across * up)
    rank = np.arange(len(owner)) - np.repeat(np.cumsum(across * up) - across * up, across * up)
    points = starts[owner, :2] + step * np.column_stack([rank % across[owner], rank // across[owner]])
    shapely.prepare(places)
    within = shapely.contains_xy(np.array(places, dtype=object)[owner], points)
    return points[within], owner[within]
