"""Exact distances from many points to the nearest wall.

Most points of a fit lie near a wall, at a distance that is known beforehand but for a micrometre: these are found in a
grid of cells, all at once. The tree of GEOS is asked for the others alone, which takes it three microseconds each.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.edge_grid import EdgeGrid
from inlayfit.offset import Section
from inlayfit.units import Mm

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Complex = NDArray[np.complex128]

ROOM = 1.05
"""Points are looked for so many times as far as they are likely off."""

WIDER = 8
"""Those that are not there are looked for so many times as far, before the tree is asked."""

RUN = 8
"""The tree holds lines of so many edges."""

ACROSS = 4
"""Cells are so many times as wide as what is asked: most edges lie in one or two, and few more are looked at."""

CROWDED = 24
"""Where the cells give more pairs than that for each point and edge, the tree is as quick."""


class Walls:
    """Wall segments that gaps are measured to; built once, asked for many points."""

    def __init__(self, points: Floats, ring: Indices) -> None:
        """Take the ends of edges (n, 2), of each the number of its ring (n,); the last of a ring repeats the first."""
        ends = np.ascontiguousarray(points).view(np.complex128).ravel()
        same = ring[1:] == ring[:-1]
        self._starts, self._ways, self._ring = ends[:-1][same], np.diff(ends)[same], ring[:-1][same]

    @classmethod
    def of(cls, areas: Sequence[shapely.Geometry]) -> Walls:
        """Return the walls round areas."""
        return cls(*shapely.get_coordinates(shapely.get_rings(shapely.get_parts(areas)), return_index=True))

    @classmethod
    def of_section(cls, area: Section) -> Walls:
        """Return the walls round a section; none where it is empty."""
        rings = area.to_polygons()
        points = [np.empty((0, 2)), *(np.concatenate([ring, ring[:1]]) for ring in rings)]
        counts = np.array([len(ring) + 1 for ring in rings], dtype=np.intp)
        return cls(np.concatenate(points), np.repeat(np.arange(len(rings)), counts))

    @cached_property
    def _tree(self) -> shapely.STRtree:
        """Lines of a few edges each: built sooner than of single ones, and asked as quickly."""
        here = np.arange(len(self._starts))
        last = np.append(self._ring[1:] != self._ring[:-1], True) | (here % RUN == RUN - 1)
        ends = np.repeat(self._starts, 1 + last)
        ends[(here + np.cumsum(last))[last]] += self._ways[last]
        line = np.repeat(np.cumsum(last) - last, 1 + last)
        return shapely.STRtree(shapely.linestrings(ends.view(np.float64).reshape(-1, 2), indices=line))

    def distances(self, points: Floats, likely: Mm) -> Floats:
        """Return the exact distance of points (n, 2) to the nearest wall, (n,); most are `likely` off, or less."""
        distances = self.near(points, ROOM * likely)
        far = np.flatnonzero(np.isinf(distances))
        distances[far] = self.near(points[far], WIDER * likely)
        far = far[np.isinf(distances[far])]
        distances[far] = self._by_tree(points[far], None)
        return distances

    def near(self, points: Floats, most: Mm) -> Floats:
        """Return the exact distance of points (n, 2) to the nearest wall, (n,), infinite where it is over the most."""
        if not len(self._starts) or not len(points) or most <= 0:
            return np.full(len(points), np.inf)
        places = np.ascontiguousarray(points).view(np.complex128).ravel()
        found = _Grid(self._starts, self._ways, most).distances(places)
        return self._by_tree(points, most) if found is None else found

    def _by_tree(self, points: Floats, most: Mm | None) -> Floats:
        distances = np.full(len(points), np.inf)
        if len(points):
            (order, _), found = self._tree.query_nearest(
                shapely.points(points), max_distance=most, return_distance=True, all_matches=False
            )
            distances[order] = found
        return distances


class _Grid:
    """Edges in cells; of each its length, what turns it so that it runs along x, and where its start is then."""

    def __init__(self, starts: Complex, ways: Complex, most: Mm) -> None:
        self._lengths, self._most = np.abs(ways), most
        self._turns = np.conj(ways) / np.where(self._lengths > 0, self._lengths, 1.0)
        self._places = starts * self._turns
        self._grid = EdgeGrid(starts, ways, most, max(ACROSS * most, float(self._lengths.mean())))

    def distances(self, points: Complex) -> Floats | None:
        """Return the exact distance of points (n,) to the nearest edge, (n,), infinite where that is over the most.

        Returns: None where the cells are crowded.
        """
        first, counts = self._grid.near(points)
        if counts.sum() > CROWDED * (len(points) + len(self._lengths)):
            return None
        distances = np.full(len(points), np.inf)
        found = np.flatnonzero(counts)
        if len(found):
            counts = counts[found]
            edge = self._grid.edges(first[found], counts)
            seen = points[np.repeat(found, counts)] * self._turns[edge] - self._places[edge]
            ahead = np.maximum(np.maximum(-seen.real, seen.real - self._lengths[edge]), 0.0)
            squares = ahead**2 + seen.imag**2
            nearest = np.sqrt(np.minimum.reduceat(squares, np.cumsum(counts) - counts))
            distances[found] = np.where(nearest <= self._most, nearest, np.inf)
        return distances
