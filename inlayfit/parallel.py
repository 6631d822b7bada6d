"""The raw parallel curve of a ring: each edge moved outward, joined at the vertices; it may cross itself.

Words: a vertex is *outer* where moving opens a wedge between its two edges (it needs an arc), *inner* where they run
into one another. What counts of a raw curve is where its winding number is positive: the overlay finds that.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from inlayfit.units import Mm

Floats = NDArray[np.float64]

MITRE_ERROR: Mm = 0.00005
"""An outer vertex whose mitre lies this close to its arc gets the mitre: a smooth outline keeps its vertices."""

LARGEST_INNER_HALF = 1.4
"""Half of the turn, radians, up to which an inner vertex may be met at the mitre of its moved edges."""


def parallel_ring(ring: Floats, distance: Mm, arc_error: Mm) -> Floats | None:
    """Return the raw curve at a distance to the right of a ring (n, 2), that is outside of a counter-clockwise one.

    Below zero it goes inward. Arcs are chords with a sagitta of at most `arc_error`, inscribed.

    Returns: shape (m, 2), mm; None where the ring has fewer than three edges.
    """
    points, edges, lengths = _edges(ring)
    if len(points) < 3:
        return None
    after = np.stack([edges[:, 1], -edges[:, 0]], axis=1) / lengths[:, None]
    before = np.roll(after, 1, axis=0)
    dot = np.einsum("ij,ij->i", before, after)
    turn = np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], dot)
    half = np.abs(turn) / 2
    outer = turn * distance >= 0
    room = np.minimum(lengths, np.roll(lengths, 1))
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
    return np.asarray(points[of] + distance * arms)


def _edges(ring: Floats) -> tuple[Floats, Floats, Floats]:
    """Return the points of a ring with the edge that leaves each, and its length; repeated points dropped."""
    edges = np.roll(ring, -1, axis=0) - ring
    lengths = np.hypot(edges[:, 0], edges[:, 1])
    real = lengths > 1e-9
    if real.all():
        return ring, edges, lengths
    points = ring[real]
    edges = np.roll(points, -1, axis=0) - points
    lengths = np.hypot(edges[:, 0], edges[:, 1])
    return points, edges, np.maximum(lengths, 1e-12)


def _turned(arms: Floats, angles: Floats) -> Floats:
    cosine, sine = np.cos(angles), np.sin(angles)
    return np.stack([arms[:, 0] * cosine - arms[:, 1] * sine, arms[:, 0] * sine + arms[:, 1] * cosine], axis=1)
