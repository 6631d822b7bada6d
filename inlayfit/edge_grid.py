"""Square cells over the edges of outlines, each with those that come near it: which edges may a point be near to?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from inlayfit.units import Mm

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Complex = NDArray[np.complex128]


class EdgeGrid:
    """Cells of a size, each with the edges that come as near as `most` to some point of it; points are x + iy."""

    def __init__(self, starts: Complex, ways: Complex, most: Mm, size: Mm) -> None:
        """Take where edges start (n,) and the ways along them (n,)."""
        self._size = size
        pieces = np.maximum(1, np.ceil(np.abs(ways) / size)).astype(np.intp)  # a long one slants through many
        owner = np.repeat(np.arange(len(pieces)), pieces)
        step = (ways / pieces)[owner]
        head = starts[owner] + step * ranks(pieces)
        self._corner = complex(head.real.min() - size - most, head.imag.min() - size - most)
        left, right = _between(head.real, step.real, self._corner.real, size, most)
        low, high = _between(head.imag, step.imag, self._corner.imag, size, most)
        self._high = int(high.max()) + 2
        wide = right - left + 1
        counts = wide * (high - low + 1)
        piece = np.repeat(np.arange(len(counts)), counts)
        rank = ranks(counts)
        up = rank // wide[piece]
        cells = (left[piece] + rank - up * wide[piece]) * self._high + low[piece] + up
        order = np.argsort(cells)
        self._cells, self._edges = cells[order], owner[piece[order]]

    def near(self, points: Complex) -> tuple[Indices, Indices]:
        """Return for points (n,) where the edges near to each begin in the grid's own list, and how many there are."""
        place = points - self._corner
        across, up = np.floor(place.real / self._size), np.floor(place.imag / self._size)
        cells = np.where((up >= 0) & (up < self._high), across * self._high + up, -1.0).astype(np.intp)
        first = np.searchsorted(self._cells, cells)
        return first, np.searchsorted(self._cells, cells, side="right") - first

    def edges(self, first: Indices, counts: Indices) -> Indices:
        """Return the numbers of the edges that such counts, none of them 0, stand for, one after the other."""
        return np.asarray(self._edges[np.repeat(first, counts) + ranks(counts)])


def ranks(counts: Indices) -> Indices:
    """Return 0 to count - 1 for each count, one after the other."""
    ends = np.cumsum(counts)
    return np.arange(counts.sum()) - np.repeat(ends - counts, counts)


def first_least(values: Floats, counts: Indices) -> tuple[Floats, Indices]:
    """Return the least value of each lot, of lots one after the other, and where the first such one is."""
    if not len(counts):
        return np.empty(0), np.empty(0, dtype=np.intp)
    heads = np.cumsum(counts) - counts
    least = np.minimum.reduceat(values, heads)
    at = np.flatnonzero(values == np.repeat(least, counts))
    return least, at[np.searchsorted(at, heads)]


def _between(heads: Floats, steps: Floats, corner: Mm, size: Mm, most: Mm) -> tuple[Indices, Indices]:
    """Return the first and the last cell, along one axis, that edges come near to."""
    low, high = heads + np.minimum(steps, 0.0), heads + np.maximum(steps, 0.0)
    first, last = (np.floor((end - corner) / size).astype(np.intp) for end in (low - most, high + most))
    return first, last
