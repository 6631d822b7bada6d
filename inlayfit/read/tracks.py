"""Subpaths as chords with the exact tangents of the curve at every point: what strokes, dashes and caps are made from.

The points lie on the curve, and are so dense that an offset by `reach` holds the tolerance too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inlayfit.read.chords import Ints
from inlayfit.read.flatten import (
    Placed,
    arc_points,
    arc_slopes,
    cross,
    curve_points,
    end_tangents,
    needed,
    parameters,
    unit,
)
from inlayfit.read.outline import Floats

_REFINEMENTS = 4  # a cusp turns at once however fine the steps are: there the chord ends up as a corner


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """One subpath as chords.

    `points` (n, 2); `incoming` and `outgoing` (n, 2) are unit tangents before and after each point; `straight` (n,)
    tells whether the chord that begins at a point is a line of the drawing; a closed track does not repeat its start.
    """

    points: Floats
    incoming: Floats
    outgoing: Floats
    straight: NDArray[np.bool_]
    closed: bool


def tracks(
    placed: Placed, tolerance: float, reaches: Floats
) -> tuple[list[tuple[int, Track]], list[tuple[int, Floats]]]:
    """Return the subpaths, each with the number of its outline, and the lone points in the same way.

    `reaches` (n,) are those of the outlines. Lone points (1, 2) are the subpaths of no length, which caps turn into
    dots.
    """
    extent = np.abs(placed.first - placed.p0) + np.abs(placed.second - placed.p0) + np.abs(placed.p3 - placed.p0)
    alive = placed.arcs | (extent.max(axis=0, initial=0.0) > 0)
    empty = np.flatnonzero(~np.logical_or.reduceat(alive, placed.begins))
    dots = [(int(placed.owner[span]), placed.p0[:, placed.begins[span]][None]) for span in empty]
    if not alive.any():
        return [], dots
    return _drawn(placed if alive.all() else placed.taken(alive), tolerance, reaches), dots


def _drawn(placed: Placed, tolerance: float, reaches: Floats) -> list[tuple[int, Track]]:
    rows = placed.counts
    reach = np.repeat(reaches[placed.owner], rows)
    need = np.maximum(needed(placed, tolerance, reach), np.where(placed.arcs, np.abs(placed.sweep) / (math.pi / 2), 1))
    steps = np.ceil(need - 1e-9).astype(np.intp)
    tangents = end_tangents(placed)
    row, t, ends, incoming = _refined(placed, steps, tangents, np.sqrt(8 * tolerance / np.maximum(reach, 1e-300)))
    steps = np.diff(ends, prepend=0)
    points = _points(placed, row, t, ends)
    outgoing = incoming.copy()
    outgoing[:, ends[:-1] - 1] = tangents[0][:, 1:]  # the last row of a subpath is put right below
    first, opens = placed.begins, ~placed.closed
    finish = ends[first + rows - 1] - 1
    outgoing[:, finish] = np.where(placed.closed, tangents[0][:, first], incoming[:, finish])
    # each track has its start, and then the ends of its steps; the last step of a closed one ends at the start
    lengths = np.add.reduceat(steps, first)
    begins = np.cumsum(lengths + opens) - (lengths + opens)
    starts = np.arange(len(row)) + np.repeat(begins - (np.cumsum(lengths) - lengths), lengths)
    places = starts + 1
    places[finish[placed.closed]] = begins[placed.closed]
    total = len(row) + int(np.count_nonzero(opens))
    laid = np.empty((total, 3, 2))
    laid[begins[opens]] = np.stack((placed.p0, tangents[0], tangents[0]))[:, :, first[opens]].transpose(2, 0, 1)
    laid[places] = np.stack((points, incoming, outgoing)).transpose(2, 0, 1)
    lines = np.ones(total, dtype=np.bool_)
    lines[starts] = steps[row] == 1
    return [
        (
            owner,
            Track(
                points=laid[begin:end, 0], incoming=laid[begin:end, 1], outgoing=laid[begin:end, 2],
                straight=lines[begin:end], closed=closed,
            ),
        )
        for owner, begin, end, closed in zip(
            placed.owner.tolist(), begins.tolist(), [*begins[1:].tolist(), total], placed.closed.tolist(), strict=True
        )
    ]  # fmt: skip


def _refined(
    placed: Placed, steps: Ints, tangents: tuple[Floats, Floats], limit: Floats
) -> tuple[Ints, Floats, Ints, Floats]:
    """Return row, parameter, ends of rows and tangents of steps in which no curve turns by more than `limit` (n,)."""
    row, t = parameters(steps)
    ends = np.cumsum(steps)
    incoming = _tangents(placed, row, t, ends, tangents[1])
    for _ in range(_REFINEMENTS):
        turns = _turns(tangents[0], incoming, ends)
        parts = np.clip(np.ceil(turns / limit[row]), 1, 8).astype(np.intp)
        if parts.max() == 1:
            break
        row, t = _split(row, t, ends, parts)
        ends = np.cumsum(np.bincount(row, minlength=len(steps)))
        incoming = _tangents(placed, row, t, ends, tangents[1])
    return row, t, ends, incoming


def _turns(begin: Floats, tangents: Floats, ends: Ints) -> Floats:
    """Return by how many radians the curve turns in each step (m,)."""
    before = np.empty_like(tangents)
    before[:, 1:] = tangents[:, :-1]
    before[:, np.concatenate(((0,), ends[:-1]))] = begin
    return np.abs(np.arctan2(cross(before, tangents), np.sum(before * tangents, axis=0)))


def _split(row: Ints, t: Floats, ends: Ints, parts: Ints) -> tuple[Ints, Floats]:
    """Cut each step into that many equal ones."""
    before = np.concatenate(((0.0,), t[:-1]))
    before[np.concatenate(((0,), ends[:-1]))] = 0.0
    source, fraction = parameters(parts)
    return row[source], np.where(fraction == 1, t[source], before[source] + fraction * (t - before)[source])


def _points(placed: Placed, row: Ints, t: Floats, ends: Ints) -> Floats:
    """Return the points at the parameters (2, m); the ends of rows are exact."""
    if len(row) == len(placed.arcs):
        return placed.p3
    points = curve_points(placed, row, t)
    bent = np.flatnonzero(placed.arcs[row])
    if len(bent):
        points[:, bent] = arc_points(placed, row[bent], t[bent])
    points[:, ends - 1] = placed.p3
    return points


def _tangents(placed: Placed, row: Ints, t: Floats, ends: Ints, last: Floats) -> Floats:
    """Return the unit tangents at the parameters (2, m); `last` are those at the ends of rows."""
    if len(row) == len(placed.arcs):
        return last
    s = 1 - t
    slope = (
        (s * s) * (placed.first - placed.p0)[:, row]
        + (2 * s * t) * (placed.second - placed.first)[:, row]
        + (t * t) * (placed.p3 - placed.second)[:, row]
    )
    bent = np.flatnonzero(placed.arcs[row])
    if len(bent):
        slope[:, bent] = arc_slopes(placed, row[bent], t[bent])
    result = unit(slope)
    result[:, ends - 1] = last
    dead = np.flatnonzero(~np.isfinite(result).all(axis=0))
    if len(dead):  # the still point of a cusp inside a curve: go on as before
        result[:, dead] = result[:, np.maximum(dead - 1, 0)]
    return result
