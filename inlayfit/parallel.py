"""The raw parallel curves of rings: each edge moved outward, joined at the vertices; they may cross themselves.

Words: a vertex is *outer* where moving opens a wedge between its two edges (it needs an arc), *inner* where they run
into one another. What counts of a raw curve is where its winding number is positive: the overlay finds that.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from inlayfit.units import Mm

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

MITRE_ERROR: Mm = 0.00005
"""An outer vertex whose mitre lies this close to its arc gets the mitre: a smooth outline keeps its vertices."""

LARGEST_INNER_HALF = 1.4
"""Half of the turn, radians, up to which an inner vertex may be met at the mitre of its moved edges."""

SHORTEST: Mm = 1e-9
"""A shorter edge is a repeated point."""


def parallel_rings(rings: Sequence[Floats], distance: Mm, arc_error: Mm) -> list[Floats]:
    """Return the raw curves at a distance to the right of rings (n, 2), that is outside of counter-clockwise ones.

    Below zero they go inward. Arcs are chords with a sagitta of at most `arc_error`, inscribed. All rings are worked at
    once: an overlay may hold thousands of small ones.

    Returns: shapes (m, 2), mm; rings of fewer than three edges are left out.
    """
    points, lengths = _without_repeats(rings)
    if not len(points):
        return []
    before_it, after_it = _neighbours(lengths)
    edges = points[after_it] - points
    long = np.hypot(edges[:, 0], edges[:, 1])
    after = np.stack([edges[:, 1], -edges[:, 0]], axis=1) / long[:, None]
    before = after[before_it]
    dot = np.einsum("ij,ij->i", before, after)
    turn = np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], dot)
    half = np.abs(turn) / 2
    outer = turn * distance >= 0
    room = np.minimum(long, long[before_it])
    with np.errstate(divide="ignore", over="ignore"):
        mitred = np.where(
            outer,
            abs(distance) * (1 / np.cos(half) - 1) <= MITRE_ERROR,
            (half < LARGEST_INNER_HALF) & (abs(distance) * np.tan(half) < room / 2),
        )
    step = 2 * math.acos(max(0.0, 1 - arc_error / abs(distance)))
    chords = np.maximum(1, np.ceil(np.abs(turn) / step)).astype(np.intp)
    counts = np.where(mitred, 1, np.where(outer, chords + 1, 3))
    of = np.repeat(np.arange(len(points)), counts)
    rank = np.arange(len(of)) - np.repeat(np.cumsum(counts) - counts, counts)
    arms = np.empty((len(of), 2))
    at_mitre, at_arc = mitred[of], (outer & ~mitred)[of]
    place = of[at_mitre]
    arms[at_mitre] = (before[place] + after[place]) / (1 + dot[place])[:, None]
    place = of[at_arc]
    arms[at_arc] = _turned(before[place], turn[place] * rank[at_arc] / chords[place])
    at_inner = ~(at_mitre | at_arc)
    place, rank = of[at_inner], rank[at_inner]  # out along one edge, back through the vertex, out along the other
    arms[at_inner] = np.where(rank[:, None] == 0, before[place], np.where(rank[:, None] == 2, after[place], 0.0))
    moved = points[of] + distance * arms
    return np.split(moved, np.cumsum(counts)[np.cumsum(lengths)[:-1] - 1])


def _without_repeats(rings: Sequence[Floats]) -> tuple[Floats, Indices]:
    """Return the points of all rings one after the other, without repeated ones, and how many each ring has."""
    lengths = np.array([len(ring) for ring in rings if len(ring) >= 3], dtype=np.intp)
    if not len(lengths):
        return np.empty((0, 2)), lengths
    points = np.concatenate([ring for ring in rings if len(ring) >= 3])
    _, after_it = _neighbours(lengths)
    edges = points[after_it] - points
    real = np.hypot(edges[:, 0], edges[:, 1]) > SHORTEST
    if real.all():
        return points, lengths
    ring_of = np.repeat(np.arange(len(lengths)), lengths)
    left = np.bincount(ring_of[real], minlength=len(lengths))
    kept = real & (left >= 3)[ring_of]
    return points[kept], left[left >= 3]


def _neighbours(lengths: Indices) -> tuple[Indices, Indices]:
    """Return for each point of rings of these lengths the index of the one before it and of the one after it."""
    ends = np.cumsum(lengths)
    starts = ends - lengths
    here = np.arange(ends[-1])
    before, after = here - 1, here + 1
    before[starts], after[ends - 1] = ends - 1, starts
    return before, after


def _turned(arms: Floats, angles: Floats) -> Floats:
    cosine, sine = np.cos(angles), np.sin(angles)
    return np.stack([arms[:, 0] * cosine - arms[:, 1] * sine, arms[:, 0] * sine + arms[:, 1] * cosine], axis=1)
