"""Where the elements of an outline meet: each as long as one arc fits, joints slid to where tangents break least.

An arc from `first` to `last` is seen from each of its points under the same angle, so a point p of the outline asks for
the half sweep arg((p - first) conj(last - p)), and the sum of these products over the vertices for the half sweep that
has as much area under it as they have. Running sums over the outline give that for any element at once. Each element
is then held against a few points of the outline; whoever uses the joints measures all of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inlayfit.arc_breaks import Floats, Indices, Ring
from inlayfit.units import Mm

LIMIT = math.pi / 2 + 0.1
"""The largest half sweep: a half circle and a little, so that a circle of few chords still becomes two arcs."""
SHARES = np.linspace(0.0, 1.0, 10)[:, None]
"""How far along an element the points are that it is tried with."""
ASIDE = np.array([1, 2, 1, 2, 1, 0, 1, 0, 1, 0])[:, None]
"""What leads on the track from a vertex to the point: by turns the middle of an edge and a vertex between the ends."""
TRIAL = 0.92
"""The share of the tolerance that a trial may use: the whole outline leaves an element by a little more."""
STRIDE = 4
"""Elements are tried in full from every fourth vertex; those from between end between their ends."""
BLOCK = 1024
"""How many elements are tried at once: larger arrays leave the cache and cost fresh memory."""
PRECISION = 24
"""Elements are as long as they fit within this part of their length; with 15 a circle could become three arcs."""
SLIDES = (-0.5, -0.25, -0.125, -0.001, 0.0, 0.001, 0.125, 0.25, 0.5)
"""Where a joint may slide to, in shares of the element on that side; one edge at least."""
ROUNDS = 2
SWEEP_COST = 1e-3
"""Two arcs of one circle have the same tangent everywhere; the joint then goes where their sweeps are equal."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """An outline of `size` vertices, three times round, so that no element runs past an end.

    `track`: vertices (even places) and the middles of the edges after them (odd places); `sums` and `squares`: of the
    vertices before each, and of the squares of their distances from the origin, which is the middle of the outline.
    """

    size: int
    track: Ring
    sums: Ring
    squares: Floats


def course_of(ring: Ring) -> Course:
    """Return the course of an outline (n,)."""
    vertices = np.tile(ring - ring.mean(), 3)
    track = np.stack([vertices, (vertices + np.roll(vertices, -1)) / 2], axis=1).ravel()
    sums = np.append(0.0, np.cumsum(vertices))
    squares = np.append(0.0, np.cumsum(vertices.real**2 + vertices.imag**2))
    return Course(size=ring.size, track=track, sums=sums, squares=squares)


def find_joints(course: Course, breaks: Indices, tolerance: Mm) -> Indices:
    """Return the vertices where elements meet, ascending: all breaks, and as few joints as will do between them."""
    lengths = _lengths(course, _room(breaks, course.size), tolerance)
    start = int(breaks[0]) if breaks.size else int(lengths[0]) % course.size
    joints = _walked(lengths, start)
    return _slid(course, joints, np.isin(joints, breaks), tolerance)


def half_sweeps(course: Course, starts: Indices, stops: Indices) -> Floats:
    """Return the half sweeps of the arcs from vertices to vertices that have as much area under them as the outline."""
    first, last = course.track[2 * starts], course.track[2 * stops]
    total = course.sums[stops] - course.sums[starts + 1]
    squares = course.squares[stops] - course.squares[starts + 1]
    between = stops - starts - 1
    seen = total * last.conj() + first * total.conj() - squares - between * first * last.conj()
    return np.where(between > 0, np.angle(seen), 0.0)


def _tried(course: Course, starts: Indices, stops: Indices, tolerance: Mm) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Return for elements their half sweeps, the directions of their chords, and whether they seem to fit."""
    sweeps = half_sweeps(course, starts, stops)
    first, last = course.track[2 * starts], course.track[2 * stops]
    seen = course.track[2 * starts + 2 * (SHARES * (stops - starts - 1) + 0.5).astype(np.intp) + ASIDE]
    rest = np.conj(last - seen)
    seen -= first  # in place: fresh memory costs more than the arithmetic
    seen *= rest
    seen *= np.exp(-1j * sweeps)
    off, chords = np.abs(seen.imag).max(axis=0), last - first
    fits = (off <= TRIAL * tolerance * np.abs(chords)) & (np.abs(sweeps) <= LIMIT)
    return sweeps, np.angle(chords), fits


def _room(breaks: Indices, size: int) -> Indices:
    """Return how far it is from each vertex to the next break."""
    if breaks.size == 0:
        return np.full(size, size - 1)
    here = np.arange(size)
    return np.append(breaks, breaks[0] + size)[np.searchsorted(breaks, here, side="right")] - here


def _lengths(course: Course, room: Indices, tolerance: Mm) -> Indices:
    """Return how many edges an element from each vertex can be long.

    Elements from a few vertices come first: those from the vertices between end between the ends of these.
    """
    here = np.arange(course.size)
    few = here[::STRIDE]
    good, bad = np.ones_like(room), room + 1
    _bisect(course, few, good, bad, tolerance)
    stops = np.append(few + good[few], good[0] + course.size)
    good = np.clip(stops[here // STRIDE] - here, 1, room)
    bad = np.clip(stops[-(-here // STRIDE)] - here, good, room) + 1
    _bisect(course, here, good, bad, tolerance)
    return good


def _bisect(course: Course, starts: Indices, good: Indices, bad: Indices, tolerance: Mm) -> None:
    """Narrow in place, for every start, the longest length known to fit and the shortest known not to."""
    for block in np.split(starts, range(BLOCK, starts.size, BLOCK)):
        left, trial = block, bad[block] - 1
        while (wide := bad[left] - good[left] > np.maximum(1, good[left] // PRECISION)).any():
            left, trial = left[wide], trial[wide]
            fits = _tried(course, left, left + trial, tolerance)[2]
            good[left[fits]], bad[left[~fits]] = trial[fits], trial[~fits]
            trial = _between(good[left], bad[left])


def _between(good: Indices, bad: Indices) -> Indices:
    """Return the geometric middle of two lengths: a guess is wrong by a factor, not by a difference."""
    return np.clip(np.rint(np.sqrt(good * bad)).astype(np.intp), good + 1, bad - 1)


def _walked(lengths: Indices, start: int) -> Indices:
    """Return the joints of the longest elements from `start` once round, ascending."""
    steps, size = lengths.tolist(), lengths.size
    joints, here = [], start
    while here < start + size:
        joints.append(here % size)
        here += steps[here % size]
    return np.sort(joints)


def _slid(course: Course, joints: Indices, fixed: NDArray[np.bool_], tolerance: Mm) -> Indices:
    """Return the joints moved to where the tangents break least; every other one at a time, breaks never."""
    if joints.size < 2:
        return joints
    group = np.arange(joints.size) % 2
    group[-1] = 1 + joints.size % 2  # the last stands beside the first
    turns = 2 + joints.size % 2
    for turn in range(turns * ROUNDS):
        between = (np.roll(joints, -1) - np.roll(joints, 1) - 1) % course.size
        chosen = np.flatnonzero(~fixed & (group == turn % turns) & (between > 1))
        if chosen.size:
            joints = joints.copy()
            joints[chosen] = _best_places(course, joints, chosen, tolerance)
    return np.sort(joints % course.size)


def _best_places(course: Course, joints: Indices, chosen: Indices, tolerance: Mm) -> Indices:
    lap = course.size
    before = joints[chosen - 1] - np.where(chosen == 0, lap, 0)
    after = joints[(chosen + 1) % joints.size] + np.where(chosen == joints.size - 1, lap, 0)
    here = joints[chosen]
    shares = np.array(SLIDES)[:, None]
    room = np.where(shares < 0, here - before, after - here)
    moves = np.sign(shares) * np.maximum(np.rint(np.abs(shares) * room), 1)
    places = np.clip(here + moves.astype(np.intp), before + 1, after - 1)
    starts = np.stack(np.broadcast_arrays(before, places))
    stops = np.stack(np.broadcast_arrays(places, after))
    tried = _tried(course, lap + starts.ravel(), lap + stops.ravel(), tolerance)
    (sweep_in, sweep_out), (chord_in, chord_out), fits = (found.reshape(starts.shape) for found in tried)
    broken = np.abs(np.angle(np.exp(1j * (chord_out + sweep_out - chord_in + sweep_in))))
    cost = np.where(fits.all(axis=0), broken + SWEEP_COST * np.abs(sweep_in - sweep_out), np.inf)
    best = np.argmin(cost, axis=0)
    found = places[best, np.arange(chosen.size)]
    return np.where(np.isfinite(cost.min(axis=0)), found, here)
