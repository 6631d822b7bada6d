"""Where an outline of short chords breaks: its corners and the ends of its straight runs.

A vertex of a flattened curve turns too, by as much as its chords and the curvature beside it account for; a corner
turns more. A chord of a curve deviates from it by the flattening error; an edge that would deviate by more is a line.
Outlines are complex arrays here: x + iy, mm, closed without repeating the first point.
"""

from __future__ import annotations

import math
from bisect import bisect_left

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.units import Mm

Ring = NDArray[np.complex128]
Indices = NDArray[np.intp]
Floats = NDArray[np.float64]

CORNER_TURN = math.radians(3.0)
"""Less is not seen on a part and not felt by a machine; chords of 0.2 um error turn that far on a radius of 0.58 mm."""
NOISE: Mm = 0.00015
"""Vertices within this of the chord of their neighbours are set aside when the outline is judged."""
CHORD_ERROR: Mm = 0.0006
"""The most that a chord of a flattened curve can deviate: 0.2 um twice over, and the noise."""
LINE_ERROR: Mm = 0.002
"""An edge that a curve would leave by more is a line (chords across an inflection were seen at 1.7 um)."""
TIGHTEST: Mm = 0.01
"""Curvature of a smaller radius does not explain a turn: such a bend is a corner."""
LEG: Mm = 0.01
"""A corner shows over this much on either side too, a step of a fraction of a micron does not."""
STEP: Mm = 0.001
"""Of vertices closer than this one stands for all when the outline is judged."""
NEAR: Mm = 0.003
"""Of the vertices so close to a corner the outermost is meant; breaks closer than this are one."""


def find_breaks(ring: Ring) -> Indices:
    """Return the vertices that have to stay joints, ascending; none for a curve that is smooth all round."""
    run = _along(ring)
    kept = _bent(ring, _spread(run, thinned(ring, NOISE)))
    if kept.size < 4:
        return kept
    edges = np.roll(ring[kept], -1) - ring[kept]
    lengths = np.abs(edges)
    turns = np.angle(edges / np.roll(edges, 1))
    curvature = np.clip(2 * turns / (lengths + np.roll(lengths, 1)), -1 / TIGHTEST, 1 / TIGHTEST)
    sharp = np.abs(turns) - _explained(turns, lengths, curvature) > CORNER_TURN
    sharp[sharp] = np.abs(_turn_over_legs(ring, run, kept[sharp])) > CORNER_TURN
    corners = _outermost(ring, run, kept[sharp])
    ends = kept[_line_ends(lengths, curvature, sharp)]
    return _apart(run, corners, ends)


def thinned(ring: Ring, tolerance: Mm) -> Indices:
    """Return the vertices that keep the outline within `tolerance` (Douglas and Peucker 1973, by GEOS)."""
    marked = np.column_stack([ring.real, ring.imag, np.arange(ring.size)])
    line = shapely.linestrings(np.vstack([marked, marked[:1]]))
    thin = shapely.simplify(line, tolerance, preserve_topology=False)
    return shapely.get_coordinates(thin, include_z=True)[:-1, 2].astype(np.intp)


def _spread(run: Floats, kept: Indices) -> Indices:
    """Return the first of vertices that stand closer than a step: the direction of so short an edge says nothing."""
    places = run[kept]
    crowded = np.flatnonzero(np.diff(places) < STEP) + 1
    if not len(crowded):
        return kept
    alone, last = np.ones(len(kept), dtype=bool), -1
    for number in crowded.tolist():
        last = number - 1 if alone[number - 1] else last
        alone[number] = places[number] - places[last] >= STEP
    return kept[alone]


def _bent(ring: Ring, kept: Indices) -> Indices:
    """Return the vertices without those on the chord of their neighbours: Douglas and Peucker leave some by chance."""
    points = ring[kept]
    to_next, chord = np.roll(points, -1) - points, np.roll(points, -1) - np.roll(points, 1)
    low = np.abs((to_next * chord.conj()).imag) < NOISE * np.abs(chord)
    return kept[~low | np.roll(low, 1)]  # never two in a row


def _explained(turns: Floats, lengths: Floats, curvature: Floats) -> Floats:
    """Return how far each vertex turns if the curve of the vertex before or after it runs through it."""
    sense = np.sign(turns)

    def share(chord: Floats, shift: int) -> Floats:
        smooth = chord * np.abs(np.roll(turns, shift)) / 8 < CHORD_ERROR
        return np.where(smooth, np.maximum(chord * sense * np.roll(curvature, shift), 0.0), 0.0)

    return np.maximum(share(np.roll(lengths, 1), 1), share(lengths, -1))


def _along(ring: Ring) -> Floats:
    """Return the length run at each vertex, and the whole length at the end: (n + 1,)."""
    return np.concatenate([[0.0], np.cumsum(np.abs(np.roll(ring, -1) - ring))])


def _point_at(ring: Ring, run: Floats, at: Floats) -> Ring:
    points = np.append(ring, ring[0])
    at = np.mod(at, run[-1])
    return np.asarray(np.interp(at, run, points.real) + 1j * np.interp(at, run, points.imag))


def _turn_over_legs(ring: Ring, run: Floats, at: Indices) -> Floats:
    leg = min(LEG, run[-1] / 8)
    before = ring[at] - _point_at(ring, run, run[at] - leg)
    after = _point_at(ring, run, run[at] + leg) - ring[at]
    return np.angle(after * before.conj())


def _outermost(ring: Ring, run: Floats, at: Indices) -> list[int]:
    """Return for each vertex the one close to it that lies farthest from the chord over both legs."""
    near = min(NEAR, run[-1] / 16)
    firsts, lasts = (np.searchsorted(run[:-1], run[at] + reach) for reach in (-near, near))
    starts, stops = (_point_at(ring, run, run[at] + leg) for leg in (-LEG, LEG))
    found = at.copy()
    for number in np.flatnonzero(lasts - firsts > 1).tolist():
        first, chord = firsts[number], stops[number] - starts[number]
        height = np.abs(((ring[first : lasts[number]] - starts[number]) * chord.conj()).imag)
        if height.max() > 1.001 * height[at[number] - first]:
            found[number] = first + np.argmax(height)
    return list(found.tolist())


def _line_ends(lengths: Floats, curvature: Floats, sharp: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Tell which vertices end a line."""
    bend = np.abs(curvature)
    before = np.where(sharp, np.inf, np.roll(bend, 1))
    after = np.where(np.roll(sharp, -1), np.inf, np.roll(bend, -2))
    line = lengths**2 * np.minimum(before, after) / 8 > LINE_ERROR
    return np.asarray(line | np.roll(line, 1))


def _apart(run: Floats, corners: list[int], ends: Indices) -> Indices:
    """Return all breaks, ascending; a line's end that lies on top of a corner is that corner."""
    breaks = np.union1d(np.array(corners, dtype=np.intp), ends)
    steps = np.diff(run[breaks], append=run[breaks[:1]] + run[-1])
    alone = (steps > NEAR) & (np.roll(steps, 1) > NEAR)
    if alone.all():
        return breaks
    crowd, places = set(breaks[~alone].tolist()), run.tolist()
    chosen = sorted(crowd.intersection(corners))
    for end in (end for end in ends.tolist() if end in crowd):
        spot = bisect_left(chosen, end)
        near = [chosen[k % len(chosen)] for k in (spot - 1, spot)] if chosen else []
        if all(_distance(places, end, other) > NEAR for other in near):
            chosen.insert(spot, end)
    return np.union1d(breaks[alone], np.array(chosen, dtype=np.intp))


def _distance(run: list[float], one: int, other: int) -> float:
    straight = abs(run[one] - run[other])
    return min(straight, run[-1] - straight)
