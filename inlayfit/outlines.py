"""Outlines as corners and edges in long arrays, each outline laid apart from the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Self

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Complex = NDArray[np.complex128]

APART = 3.0
"""From one outline to the next it is so many times their largest size: no disc that fits in one reaches another."""


@dataclass(frozen=True, kw_only=True)
class Outlines:
    """The corners of outlines, ring by ring, x + iy, areas to the left; edge i goes from corner i to that `after` it.

    The first `both` corners are followed on both sides, the rest from outside alone. `ring` (corners,) numbers the
    rings, `outline` (rings,) the outlines, which are laid apart by their `shift` (outlines,).
    """

    corners: Complex
    after: Indices
    before: Indices
    ring: Indices
    both: int
    outline: Indices
    shift: Complex

    @classmethod
    def of(cls, both: Sequence[shapely.Geometry], outside: Sequence[shapely.Geometry]) -> Self:
        """Take areas that are followed on both sides, and such as are followed from outside alone."""
        parts, outline = shapely.get_parts([*both, *outside], return_index=True)
        rings, part = shapely.get_rings(shapely.orient_polygons(parts), return_index=True)
        points, ring = shapely.get_coordinates(rings, return_index=True)
        closing = np.append(ring[1:] != ring[:-1], True)  # repeats the first
        points, ring = points[~closing], ring[~closing]
        outline = outline[part]
        shift = np.arange(len(both) + len(outside)) * complex(APART * float(np.ptp(points, axis=0).max()))
        ends = np.cumsum(np.bincount(ring))
        starts = np.append(0, ends[:-1])
        after, before = np.arange(len(ring)) + 1, np.arange(len(ring)) - 1
        after[ends - 1], before[starts] = starts, ends - 1
        return cls(
            corners=np.ascontiguousarray(points).view(np.complex128).ravel() + shift[outline[ring]],
            after=after,
            before=before,
            ring=ring,
            both=int(np.count_nonzero(outline[ring] < len(both))),
            outline=outline,
            shift=np.asarray(shift, dtype=np.complex128),
        )

    @cached_property
    def ways(self) -> Complex:
        """The way along each edge."""
        return np.asarray(self.corners[self.after] - self.corners)

    @cached_property
    def lengths(self) -> Floats:
        """Of the edges, mm."""
        return np.abs(self.ways)

    @cached_property
    def along(self) -> Complex:
        """The direction of each edge, of length one."""
        return np.asarray(self.ways / self.lengths)

    @cached_property
    def turns(self) -> Floats:
        """By how much each corner turns, radians, to the left above 0."""
        return np.angle(self.along * self.along[self.before].conj())
