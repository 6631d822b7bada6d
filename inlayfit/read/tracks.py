"""Subpaths as chords with the exact tangents of the curve at every point: what strokes, dashes and caps are made from.

The points lie on the curve, and are so dense that an offset by `reach` holds the tolerance too.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from inlayfit.read.chords import ROOM, Ints, Points, chords_for
from inlayfit.read.flatten import (
    Placed,
    arc_points,
    arc_slopes,
    curve_points,
    end_tangents,
    needed,
    parameters,
    unit,
)
from inlayfit.read.outline import Floats

_REFINEMENTS = 4  # a cusp turns at once however fine the steps are: there the chord ends up as a corner


class Track(NamedTuple):
    """One subpath as chords.

    `points` (n,); `incoming` and `outgoing` (n,) are unit tangents before and after each point; `swell` (n,) is by how
    many sagittas a side is moved outwards there, which keeps areas (see chords.py). A closed track does not repeat its
    start.
    """

    points: Points
    incoming: Points
    outgoing: Points
    swell: Floats
    closed: bool


def tracks(
    placed: Placed, tolerance: float, reaches: Floats
) -> tuple[list[tuple[int, Track]], list[tuple[int, Points]]]:
    """Return the subpaths, each with the number of its outline, and the lone points in the same way.

    `reaches` (n,) are those of the outlines. Lone points (1,) are the subpaths of no length, which caps turn into dots.
    """
    p0 = placed.controls[0]
    alive = (placed.controls[1:] != p0).any(axis=0)
    alive[placed.bent] = True
    empty = (~np.logical_or.reduceat(alive, placed.begins)).nonzero()[0]
    dots = [(int(placed.owner[span]), p0[placed.begins[span]][None]) for span in empty]
    if not alive.any():
        return [], dots
    return _drawn(placed if alive.all() else placed.taken(alive), tolerance, reaches), dots


def _drawn(placed: Placed, tolerance: float, reaches: Floats) -> list[tuple[int, Track]]:
    rows = placed.counts
    reach = reaches[placed.owner].repeat(rows)
    need = needed(placed, tolerance, reach)
    need[placed.bent] = np.maximum(need[placed.bent], np.abs(placed.sweep) / (math.pi / 2))
    steps = np.where(need <= 1, 1, chords_for(need, ROOM))
    tangents = end_tangents(placed)
    row, t, ends, incoming = _refined(placed, steps, tangents, np.sqrt(8 * tolerance / np.maximum(reach, 1e-300)))
    steps = ends.copy()
    steps[1:] -= ends[:-1]
    swell = np.where(steps > 1, 2 / 3 * steps / np.maximum(steps - 1, 1), 0.0)[row]
    swell[ends - 1] = 0.0
    outgoing = incoming.copy()
    outgoing[ends[:-1] - 1] = tangents[0][1:]  # the last row of a subpath is put right below
    first, opens = placed.begins, ~placed.closed
    finish = ends[first + rows - 1] - 1
    outgoing[finish] = np.where(placed.closed, tangents[0][first], incoming[finish])
    # each track has its start, and then the ends of its steps; the last step of a closed one ends at the start
    lengths = np.add.reduceat(steps, first)
    begins = (lengths + opens).cumsum() - (lengths + opens)
    places = np.arange(1, len(row) + 1) + (begins - (lengths.cumsum() - lengths)).repeat(lengths)
    places[finish[placed.closed]] = begins[placed.closed]
    laid = np.empty((3, len(row) + int(np.count_nonzero(opens))), dtype=np.complex128)
    starts, own = (placed.controls[0], tangents[0], tangents[0]), (_points(placed, row, t, ends), incoming, outgoing)
    for line, start, rest in zip(laid, starts, own, strict=True):
        line[begins[opens]], line[places] = start[first[opens]], rest
    swells = np.zeros(laid.shape[1])
    swells[places] = swell
    stops = [*begins[1:].tolist(), laid.shape[1]]
    return [
        (owner, Track(laid[0, begin:end], laid[1, begin:end], laid[2, begin:end], swells[begin:end], closed))
        for owner, begin, end, closed in zip(
            placed.owner.tolist(), begins.tolist(), stops, placed.closed.tolist(), strict=True
        )
    ]


def _refined(
    placed: Placed, steps: Ints, tangents: tuple[Points, Points], limit: Floats
) -> tuple[Ints, Floats, Ints, Points]:
    """Return row, parameter, ends of rows and tangents of steps in which no curve turns by more than `limit` (n,)."""
    row, t = parameters(steps)
    ends = steps.cumsum()
    incoming = _tangents(placed, row, t, ends, tangents[1])
    for _ in range(_REFINEMENTS):
        turns = _turns(tangents[0], incoming, ends)
        parts = np.ceil(turns / limit[row]).clip(1, 8).astype(np.intp)
        if parts.max() == 1:
            break
        row, t = _split(row, t, ends, parts)
        ends = np.bincount(row, minlength=len(steps)).cumsum()
        incoming = _tangents(placed, row, t, ends, tangents[1])
    return row, t, ends, incoming


def _turns(begin: Points, tangents: Points, ends: Ints) -> Floats:
    """Return by how many radians the curve turns in each step (m,)."""
    before = np.empty_like(tangents)
    before[1:] = tangents[:-1]
    before[0], before[ends[:-1]] = begin[0], begin[1:]
    return np.abs(np.angle(before.conj() * tangents))


def _split(row: Ints, t: Floats, ends: Ints, parts: Ints) -> tuple[Ints, Floats]:
    """Cut each step into that many equal ones."""
    before = np.empty_like(t)
    before[1:] = t[:-1]
    before[0] = before[ends[:-1]] = 0.0
    source, fraction = parameters(parts)
    return row[source], np.where(fraction == 1, t[source], before[source] + fraction * (t - before)[source])


def _points(placed: Placed, row: Ints, t: Floats, ends: Ints) -> Points:
    """Return the points at the parameters (m,); the ends of rows are exact."""
    if len(row) == placed.controls.shape[1]:
        return placed.controls[3]
    points = curve_points(placed, row, t)
    which, arc = _on_arcs(placed, row)
    points[which] = arc_points(placed, arc, t[which])
    points[ends - 1] = placed.controls[3]
    return points


def _on_arcs(placed: Placed, row: Ints) -> tuple[Ints, Ints]:
    """Return which of the rows (m,) are arcs, and the numbers of those arcs."""
    number = np.full(placed.controls.shape[1], -1)
    number[placed.bent] = np.arange(len(placed.bent))
    arc = number[row]
    which = (arc >= 0).nonzero()[0]
    return which, arc[which]


def _tangents(placed: Placed, row: Ints, t: Floats, ends: Ints, last: Points) -> Points:
    """Return the unit tangents at the parameters (m,); `last` are those at the ends of rows."""
    if len(row) == placed.controls.shape[1]:
        return last
    s, legs = 1 - t, placed.legs
    slope = (s * s) * legs[0][row] + (2 * s * t) * legs[1][row] + (t * t) * legs[2][row]
    which, arc = _on_arcs(placed, row)
    slope[which] = arc_slopes(placed, arc, t[which])
    result = unit(slope)
    result[ends - 1] = last
    dead = (~np.isfinite(result)).nonzero()[0]
    if len(dead):  # the still point of a cusp inside a curve: go on as before
        result[dead] = result[np.maximum(dead - 1, 0)]
    return result
