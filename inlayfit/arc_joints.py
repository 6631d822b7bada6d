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

from inlayfit.arc_breaks import Floats, Indices, Ring, find_breaks
from inlayfit.units import Mm

LIMIT = math.pi / 2 + 0.1
"""The largest half sweep: a half circle and a little, so that a circle of few chords still becomes two arcs."""
SAMPLES = 8
"""How many points an element is tried with, by turns middles of chords and vertices: even."""
PRECISION = 32
"""Elements are as long as they fit within this part of their length."""
SLIDES = (-0.5, -0.25, -0.125, -0.03, 0.0, 0.03, 0.125, 0.25, 0.5)
"""Where a joint may slide to, in shares of the element on that side."""
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


def find_joints(ring: Ring, tolerance: Mm) -> Indices:
    """Return the vertices of an outline (n,) where its elements meet, ascending: all breaks, and joints between."""
    breaks = find_breaks(ring)
    course = _course(ring)
    lengths = _lengths(course, _room(breaks, ring.size), tolerance)
    start = int(breaks[0]) if breaks.size else int(lengths[0]) % ring.size
    joints = _walked(lengths, start)
    return _slid(course, joints, np.isin(joints, breaks), tolerance)


def _course(ring: Ring) -> Course:
    vertices = np.tile(ring - ring.mean(), 3)
    track = np.stack([vertices, (vertices + np.roll(vertices, -1)) / 2], axis=1).ravel()
    sums = np.append(0.0, np.cumsum(vertices))
    squares = np.append(0.0, np.cumsum(vertices.real**2 + vertices.imag**2))
    return Course(size=ring.size, track=track, sums=sums, squares=squares)


def _tried(course: Course, starts: Indices, stops: Indices, tolerance: Mm) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Return for elements their half sweeps, the directions of their chords, and whether they seem to fit."""
    first, last = course.track[2 * starts], course.track[2 * stops]
    total = course.sums[stops] - course.sums[starts + 1]
    squares = course.squares[stops] - course.squares[starts + 1]
    between = stops - starts - 1
    sweeps = np.angle(total * last.conj() + first * total.conj() - squares - between * first * last.conj())
    chords = last - first
    seen = course.track[2 * starts + _samples(between)]
    seen = (seen - first) * (last - seen).conj() * np.exp(-1j * sweeps)
    off = np.abs(seen.imag).max(axis=0)
    return sweeps, np.angle(chords), (off <= tolerance * np.abs(chords)) & (np.abs(sweeps) <= LIMIT)


def _samples(between: Indices) -> Indices:
    """Return the places on the track, counted from the start, that elements are tried at: (SAMPLES, k)."""
    share = np.linspace(0.0, 1.0, SAMPLES)[:, None]
    odd = np.arange(SAMPLES)[:, None] % 2
    return 2 * np.rint(share * between).astype(np.intp) + 1 - odd * (2 * (share > 0.5) - 1)


def _room(breaks: Indices, size: int) -> Indices:
    """Return how far it is from each vertex to the next break."""
    if breaks.size == 0:
        return np.full(size, size - 1)
    here = np.arange(size)
    return np.append(breaks, breaks[0] + size)[np.searchsorted(breaks, here, side="right")] - here


def _lengths(course: Course, room: Indices, tolerance: Mm) -> Indices:
    """Return how many edges an element from each vertex can be long, by bisection from all of them at once."""
    good, bad = np.ones_like(room), room + 1
    left = np.flatnonzero(room > 1)
    trial = room[left]
    while left.size:
        fits = _tried(course, left, left + trial, tolerance)[2]
        good[left[fits]], bad[left[~fits]] = trial[fits], trial[~fits]
        left = left[bad[left] - good[left] > 1 + good[left] // PRECISION]
        trial = _between(good[left], bad[left])
    return good


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
        chosen = np.flatnonzero(~fixed & (group == turn % turns))
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
    places = np.clip(here + np.rint(shares * room).astype(np.intp), before + 1, after - 1)
    starts = np.stack(np.broadcast_arrays(before, places))
    stops = np.stack(np.broadcast_arrays(places, after))
    tried = _tried(course, lap + starts.ravel(), lap + stops.ravel(), tolerance)
    (sweep_in, sweep_out), (chord_in, chord_out), fits = (found.reshape(starts.shape) for found in tried)
    broken = np.abs(np.angle(np.exp(1j * (chord_out + sweep_out - chord_in + sweep_in))))
    cost = np.where(fits.all(axis=0), broken + SWEEP_COST * np.abs(sweep_in - sweep_out), np.inf)
    best = np.argmin(cost, axis=0)
    found = places[best, np.arange(chosen.size)]
    return np.where(np.isfinite(cost.min(axis=0)), found, here)
