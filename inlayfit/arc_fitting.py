"""Lines and arcs through a closed outline of short chords, within a tolerance both ways.

Each element runs between two vertices of the outline, so only its bulge is free. In the frame of its chord, half
chord h, a point (u, v) lies from the arc of half sweep alpha by r sin(alpha - phi) / 2, where r and phi are the polar
form of ((h^2 - u^2 - v^2) / h, 2 v): every vertex and every middle of an edge allows one closed interval of alpha, and
an element fits where the intervals meet. An outline that goes from end to end so close to an arc passes it at every
angle, so the arc lies as close to the outline. Elements are made as long as they fit, joints slid to where tangents
break least. Half sweeps are positive to the left of the chord: clockwise, the opposite of a bulge.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from inlayfit.arc_breaks import Floats, Indices, Ring, thinned
from inlayfit.arc_joints import LIMIT, find_joints
from inlayfit.errors import GeometryError
from inlayfit.units import Mm

THINNING = 0.04
"""The share of the tolerance that is spent on leaving out vertices; it makes dense outlines ten times faster."""
STRAIGHT = 0.3
"""An element whose height is below this share of the tolerance is written as a line, where a line fits."""


def fit_closed(points: Floats, tolerance: Mm) -> tuple[Floats, Floats]:
    """Return joints (k, 2) and bulges (k,) of a closed outline (n, 2), no farther than `tolerance` from it both ways.

    Raises:
        GeometryError: fewer than three different points.
    """
    ring = _cleaned(points)
    thin = ring[thinned(ring, THINNING * tolerance)]
    if thin.size < 3:
        thin = ring
    inner = (1 - THINNING) * tolerance
    joints, bulges = _proved(thin, find_joints(thin, inner), inner)
    if joints.size < 3 and not np.any(bulges):  # thinner than the tolerance: as it came
        thin, joints, bulges = ring, np.arange(ring.size), np.zeros(ring.size)
    found = thin[joints]
    return np.column_stack([found.real, found.imag]), bulges


def _cleaned(points: Floats) -> Ring:
    """Return the outline as complex numbers, each once, from the vertex that is farthest out.

    No line has such a vertex within it, so the first vertex is never an artefact of where the outline was cut open.
    """
    ring = np.ascontiguousarray(points, dtype=np.float64) @ np.array([1.0, 1.0j])
    ring = ring[ring != np.roll(ring, 1)]
    others = ring[ring != ring[:1]]
    if np.all(others == others[:1]):
        raise GeometryError("an outline needs three different points", remedy="leave this outline out")
    return np.roll(ring, -int(np.argmax(np.abs(ring - ring.mean()))))


def _allowed(points: Ring, first: Ring, last: Ring, tolerance: Mm) -> tuple[Floats, Floats, Floats]:
    """Return, for points of elements, the middle and half width of the half sweeps allowed, and the weight r."""
    half = abs(last - first) / 2
    local = (points - (first + last) / 2) * ((last - first).conjugate() / (2 * half))
    height = 2 * local.imag
    rise = half - (local.real**2 + local.imag**2) / half
    weight = np.hypot(rise, height)
    free = weight <= 2 * tolerance
    width = np.where(free, 2 * math.pi, np.arcsin(2 * tolerance / np.maximum(weight, 2 * tolerance)))
    return np.arctan2(height, rise), width, weight


def _elements(ring: Ring, starts: Indices, stops: Indices, tolerance: Mm) -> tuple[Floats, NDArray[np.bool_], Floats]:
    """Return for many elements at once the best half sweep, whether it fits, and the direction of the chord.

    The best is the mean over the vertices (they lie on the curve, the middles of the chords inside it), weighted to the
    least sum of squares, held within what all points allow. Stops may run past the end of the outline.
    """
    track = np.stack([ring, (ring + np.roll(ring, -1)) / 2], axis=1).ravel()
    counts = 2 * (stops - starts) - 1
    heads = np.cumsum(counts) - counts
    places = np.arange(counts.sum()) + np.repeat(2 * starts + 1 - heads, counts)
    first, last = ring[starts % ring.size], ring[stops % ring.size]
    closed = first == last
    last = np.where(closed, first + tolerance, last)
    phi, width, weight = _allowed(
        track[places % track.size], np.repeat(first, counts), np.repeat(last, counts), tolerance
    )
    low = np.maximum(np.maximum.reduceat(phi - width, heads), -LIMIT)
    high = np.minimum(np.minimum.reduceat(phi + width, heads), LIMIT)
    share = np.where(places % 2 == 0, weight**2, 0.0)
    total = np.add.reduceat(share, heads)
    mean = np.add.reduceat(share * phi, heads) / np.where(total > 0, total, 1.0)
    return np.clip(mean, low, np.maximum(low, high)), (low <= high) & ~closed, np.angle(last - first)


def _proved(ring: Ring, joints: Indices, tolerance: Mm) -> tuple[Indices, Floats]:
    """Return joints and bulges after an exact measure of every edge; an element that fails is halved until it holds."""
    while True:
        stops = np.append(joints[1:], joints[0] + ring.size)
        sweeps, fits, _ = _elements(ring, joints, stops, tolerance)
        sweeps = _straightened(ring, joints, stops, sweeps, tolerance)
        far = _farthest(ring, joints, stops, sweeps)
        failed = ((far > tolerance) | ~fits) & (stops - joints > 1)
        if not failed.any():
            return joints, 0.0 - np.tan(sweeps / 2)
        joints = np.sort(np.append(joints, (joints + stops)[failed] // 2) % ring.size)


def _straightened(ring: Ring, starts: Indices, stops: Indices, sweeps: Floats, tolerance: Mm) -> Floats:
    """Return the half sweeps, nought where a line does as well."""
    half = np.abs(ring[stops % ring.size] - ring[starts]) / 2
    flat = half * np.abs(np.tan(sweeps / 2)) < STRAIGHT * tolerance
    line = np.where(flat | (stops - starts == 1), 0.0, sweeps)
    if not np.any(flat):
        return line
    return np.where(_farthest(ring, starts, stops, line) <= tolerance, line, sweeps)


def _farthest(ring: Ring, starts: Indices, stops: Indices, sweeps: Floats) -> Floats:
    """Return how far the outline lies from each element, at its vertices and where edges are closest to the centre."""
    counts = stops - starts
    heads = np.cumsum(counts) - counts
    places = np.arange(counts.sum()) + np.repeat(starts - heads, counts)
    first, last = ring[starts], ring[stops % ring.size]
    half = np.repeat(np.abs(last - first) / 2, counts)
    frame = np.repeat((last - first) / np.abs(last - first), counts)
    middle = np.repeat((first + last) / 2, counts)
    one = (ring[places % ring.size] - middle) * frame.conj()
    two = (ring[(places + 1) % ring.size] - middle) * frame.conj()
    sweep = np.repeat(sweeps, counts)
    off = np.maximum(_off(one, half, sweep), _off(_closest(one, two, half, sweep), half, sweep))
    return np.maximum.reduceat(off, heads)


def _closest(one: Ring, two: Ring, half: Floats, sweep: Floats) -> Ring:
    """Return the point of each edge that is closest to the centre of its arc (any point for a line)."""
    edge = two - one
    with np.errstate(divide="ignore", invalid="ignore"):
        centre = -1j * half / np.tan(sweep)
        share = ((centre - one) * edge.conj()).real / np.abs(edge) ** 2
    return one + np.clip(np.where(np.isfinite(share), share, 0.0), 0.0, 1.0) * edge


def _off(point: Ring, half: Floats, sweep: Floats) -> Floats:
    """Return the distance of points in the chord's frame from the circle of the arc, or from the line."""
    sine, cosine = np.sin(sweep), np.cos(sweep)
    power = (point.real**2 + point.imag**2 - half**2) * sine + 2 * half * point.imag * cosine
    reach = np.sqrt(np.maximum(half**2 + power * sine, 0.0)) + half  # |p - c| sin + R sin, stable for any radius
    return np.abs(power / reach)
