"""Lines and arcs through a closed outline of short chords, within a tolerance both ways.

Each element runs between two vertices of the outline, so only its bulge is free. In the frame of its chord, half
chord h, a point (u, v) lies from the arc of half sweep alpha by r sin(alpha - phi) / 2, where r and phi are the polar
form of ((h^2 - u^2 - v^2) / h, 2 v); the bulge comes from the mean of these over the vertices. An outline that goes
from end to end so close to an arc passes it at every angle, so the arc lies as close to the outline. Where elements
meet is chosen on samples; every edge is then measured against its element. Half sweeps are positive to the left of the
chord: clockwise, the opposite of a bulge.
"""

from __future__ import annotations

import numpy as np

from inlayfit.arc_breaks import Floats, Indices, Ring, find_breaks, thinned
from inlayfit.arc_joints import LIMIT, Course, course_of, find_joints, half_sweeps
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
    thin = _without_repeats(ring[thinned(ring, THINNING * tolerance)])
    if thin.size < 3:
        thin = ring
    inner, course = (1 - THINNING) * tolerance, course_of(thin)
    joints, bulges = _proved(course, find_joints(course, find_breaks(thin), inner), inner)
    if joints.size < 3 and not np.any(bulges):  # thinner than the tolerance: as it came
        thin, joints, bulges = ring, np.arange(ring.size), np.zeros(ring.size)
    found = thin[joints]
    return np.column_stack([found.real, found.imag]), bulges


def _cleaned(points: Floats) -> Ring:
    """Return the outline as complex numbers, each once, from the vertex that is farthest out.

    No line has such a vertex within it, so the first vertex is never an artefact of where the outline was cut open.
    """
    ring = _without_repeats(np.ascontiguousarray(points, dtype=np.float64).view(np.complex128).ravel())
    others = ring[ring != ring[:1]]
    if np.all(others == others[:1]):
        raise GeometryError("an outline needs three different points", remedy="leave this outline out")
    return np.roll(ring, -int(np.argmax(np.abs(ring - ring.mean()))))


def _without_repeats(ring: Ring) -> Ring:
    return ring[ring != np.roll(ring, 1)]


def _proved(course: Course, joints: Indices, tolerance: Mm) -> tuple[Indices, Floats]:
    """Return joints and bulges after an exact measure of every edge; an element that fails is halved until it holds."""
    while True:
        stops = np.append(joints[1:], joints[0] + course.size)
        sweeps = _straightened(course, joints, stops, half_sweeps(course, joints, stops), tolerance)
        holds = (_farthest(course, joints, stops, sweeps) <= tolerance) & (np.abs(sweeps) <= LIMIT)
        failed = ~holds & (stops - joints > 1)
        if not failed.any():
            return joints, 0.0 - np.tan(sweeps / 2)
        joints = np.sort(np.append(joints, (joints + stops)[failed] // 2) % course.size)


def _straightened(course: Course, starts: Indices, stops: Indices, sweeps: Floats, tolerance: Mm) -> Floats:
    """Return the half sweeps, nought where a line does as well."""
    half = np.abs(course.track[2 * stops] - course.track[2 * starts]) / 2
    flat = np.flatnonzero((sweeps != 0) & (half * np.abs(np.tan(sweeps / 2)) < STRAIGHT * tolerance))
    line = sweeps.copy()
    if flat.size:
        far = _farthest(course, starts[flat], stops[flat], np.zeros(flat.size))
        line[flat[far <= tolerance]] = 0.0
    return line


def _farthest(course: Course, starts: Indices, stops: Indices, sweeps: Floats) -> Floats:
    """Return how far the outline lies from each element, at its vertices and where edges are closest to the centre."""
    counts = stops - starts
    heads = np.cumsum(counts) - counts
    of = np.repeat(np.arange(counts.size), counts)
    places = np.arange(of.size) + (starts - heads)[of]
    first, last = course.track[2 * starts], course.track[2 * stops]
    with np.errstate(divide="ignore", invalid="ignore"):  # of an element that ends where it starts nothing is known
        half = np.abs(last - first) / 2
        frame = (2 * half / (last - first))[of]
        middle = ((first + last) / 2)[of]
        one = (course.track[2 * places] - middle) * frame
        two = (course.track[2 * places + 2] - middle) * frame
        closest = _closest(one, two, (half / np.tan(sweeps))[of])
        circle = half[of], np.sin(sweeps)[of], np.cos(sweeps)[of]
        return np.maximum.reduceat(np.maximum(_off(one, *circle), _off(closest, *circle)), heads)


def _closest(one: Ring, two: Ring, depth: Floats) -> Ring:
    """Return the point of each edge that is closest to the centre, `depth` right of the chord (any one for a line)."""
    edge = two - one
    share = ((-1j * depth - one) * edge.conj()).real / np.abs(edge) ** 2
    return one + np.clip(np.where(np.isfinite(share), share, 0.0), 0.0, 1.0) * edge


def _off(point: Ring, half: Floats, sine: Floats, cosine: Floats) -> Floats:
    """Return the distance of points in the chord's frame from the circle of the arc, or from the line."""
    power = (point.real**2 + point.imag**2 - half**2) * sine + 2 * half * point.imag * cosine
    reach = np.sqrt(np.maximum(half**2 + power * sine, 0.0)) + half  # |p - c| sin + R sin, stable for any radius
    return np.abs(power / reach)
