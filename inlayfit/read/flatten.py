"""Outlines to chords, after the transform, so that the tolerance holds in the finished drawing.

A curve of degree d in n equal steps of its parameter strays from its chords by at most d (d - 1) m / (8 n^2), with m
the largest second difference of its controls (Wang's bound); an arc of an ellipse, c + u cos t + v sin t, by
s (sweep / n)^2 / 8, with s the larger singular value of (u, v).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inlayfit.errors import DrawingError
from inlayfit.read.outline import Floats, Outline
from inlayfit.read.svg_transform import IDENTITY, Matrix

MOST_POINTS = 4_000_000
"""Chords of one element: beyond, the drawing is damaged or a trap, and memory has an end."""

_REFINEMENTS = 4  # a cusp turns at once however fine the steps are: there the chord ends up as a corner


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """One subpath as chords, with the exact tangents of the curve at every point.

    `points` (n, 2); `incoming` and `outgoing` (n, 2) are unit tangents before and after each point; `straight` (n,)
    tells whether the chord that begins at a point is a line of the drawing; a closed track does not repeat its start.
    """

    points: Floats
    incoming: Floats
    outgoing: Floats
    straight: NDArray[np.bool_]
    closed: bool


@dataclass(frozen=True, slots=True, eq=False)
class _Placed:
    """Rows after the transform: control points or axes, (n, 2) each."""

    p0: Floats
    first: Floats
    second: Floats
    p3: Floats
    centre: Floats
    angle: Floats
    sweep: Floats
    arcs: NDArray[np.bool_]


def rings(outline: Outline, matrix: Matrix, tolerance: float) -> list[Floats]:
    """Return each subpath as points (n, 2), closed or not, off by `tolerance` at most."""
    if not len(outline.rows):
        return []
    placed = _place(outline, matrix)
    row, t = _parameters(_steps(placed, tolerance, 0.0))
    points, ends = _points(placed, row, t), _row_ends(row)
    begins = [ends[span.first - 1] if span.first else 0 for span in outline.spans]
    return [
        np.concatenate((placed.p0[span.first : span.first + 1], points[begin : ends[span.last - 1]]))
        for begin, span in zip(begins, outline.spans, strict=True)
    ]


def hull(outline: Outline, matrix: Matrix) -> Floats:
    """Return corners (2, 2) of a box that holds all controls: never smaller than the outline."""
    placed = _place(outline, matrix)
    margin = np.where(placed.arcs[:, None], np.hypot(placed.first, placed.second), 0.0)
    low, high = np.minimum(placed.p0, placed.p3), np.maximum(placed.p0, placed.p3)
    first, second = (np.where(placed.arcs[:, None], placed.centre, part) for part in (placed.first, placed.second))
    low = np.minimum(low, np.minimum(first, second) - margin)
    high = np.maximum(high, np.maximum(first, second) + margin)
    return np.stack((low.min(axis=0), high.max(axis=0)))


def tracks(outline: Outline, matrix: Matrix, tolerance: float, reach: float) -> tuple[list[Track], list[Floats]]:
    """Return the subpaths with tangents, so fine that an offset by `reach` holds the tolerance too, and lone points.

    Lone points (1, 2) are the subpaths of no length, which caps turn into dots.
    """
    placed = _place(outline, matrix)
    extent = np.abs(placed.first - placed.p0) + np.abs(placed.second - placed.p0) + np.abs(placed.p3 - placed.p0)
    alive = placed.arcs | (extent.max(axis=1, initial=0.0) > 0) if len(outline.rows) else placed.arcs
    found: list[Track] = []
    dots: list[Floats] = []
    for span in outline.spans:
        chosen = np.flatnonzero(alive[span.first : span.last]) + span.first
        if len(chosen):
            found.append(_track(_take(placed, chosen), tolerance, reach, closed=span.closed))
        else:
            dots.append(placed.p0[span.first : span.first + 1])
    return found, dots


def _take(placed: _Placed, chosen: NDArray[np.intp]) -> _Placed:
    return _Placed(
        placed.p0[chosen], placed.first[chosen], placed.second[chosen], placed.p3[chosen],
        placed.centre[chosen], placed.angle[chosen], placed.sweep[chosen], placed.arcs[chosen],
    )  # fmt: skip


def _track(placed: _Placed, tolerance: float, reach: float, *, closed: bool) -> Track:
    begin, _ = end_tangents(placed)
    row, t = _parameters(_steps(placed, tolerance, reach))
    incoming = _tangents(placed, row, t)
    limit = math.sqrt(8 * tolerance / reach) if reach else math.inf
    for _ in range(_REFINEMENTS):
        parts = np.clip(np.ceil(_turns(begin, incoming, row) / limit), 1, 8).astype(np.intp)
        if parts.max() == 1:
            break
        row, t = _split(row, t, parts)
        incoming = _tangents(placed, row, t)
    points, ends = _points(placed, row, t), _row_ends(row)
    outgoing = incoming.copy()
    outgoing[ends[:-1] - 1] = begin[1:]
    straight = _straight(placed, row)
    if closed:
        outgoing[-1] = begin[0]
        order = np.r_[len(points) - 1, 0 : len(points) - 1]
        return Track(
            points=points[order], incoming=incoming[order], outgoing=outgoing[order], straight=straight, closed=True
        )
    head = begin[:1]
    return Track(
        points=np.concatenate((placed.p0[:1], points)),
        incoming=np.concatenate((head, incoming)),
        outgoing=np.concatenate((head, outgoing)),
        straight=np.append(straight, True),
        closed=False,
    )


def _straight(placed: _Placed, row: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Return whether each step (m,) is a row by itself: a line, or as good as one."""
    return np.asarray(np.bincount(row, minlength=len(placed.p0))[row] == 1)


def _turns(begin: Floats, tangents: Floats, row: NDArray[np.intp]) -> Floats:
    """Return by how many radians the curve turns in each step (m,)."""
    before = np.empty_like(tangents)
    before[1:] = tangents[:-1]
    starts = np.concatenate(((0,), _row_ends(row)[:-1]))
    before[starts] = begin
    cross = before[:, 0] * tangents[:, 1] - before[:, 1] * tangents[:, 0]
    return np.abs(np.arctan2(cross, np.sum(before * tangents, axis=1)))


def _split(row: NDArray[np.intp], t: Floats, parts: NDArray[np.intp]) -> tuple[NDArray[np.intp], Floats]:
    """Cut each step into that many equal ones."""
    before = np.concatenate(((0.0,), t[:-1]))
    before[np.concatenate(((0,), _row_ends(row)[:-1]))] = 0.0
    source, fraction = _parameters(parts)
    return row[source], np.where(fraction == 1, t[source], before[source] + fraction * (t - before)[source])


def _place(outline: Outline, matrix: Matrix) -> _Placed:
    a, b, c, d, e, f = matrix
    rows, arcs = outline.rows, outline.arcs
    pairs = rows[:, :10].reshape(-1, 5, 2) @ np.array(((a, b), (c, d)))
    shift = np.array((e, f))
    free = np.where(arcs, 0.0, 1.0)[:, None]  # the axes of an arc are directions: no shift
    return _Placed(
        pairs[:, 0] + shift, pairs[:, 1] + shift * free, pairs[:, 2] + shift * free, pairs[:, 3] + shift,
        pairs[:, 4] + shift, rows[:, 10], rows[:, 11], arcs,
    )  # fmt: skip


def _steps(placed: _Placed, tolerance: float, reach: float) -> NDArray[np.intp]:
    """Return the number of chords of each row (n,)."""
    bend = np.maximum(
        np.hypot(*(placed.p0 - 2 * placed.first + placed.second).T),
        np.hypot(*(placed.first - 2 * placed.second + placed.p3).T),
    )
    need = np.sqrt(bend * (6 / (8 * tolerance)))
    if placed.arcs.any():
        round_ = np.abs(placed.sweep) * np.sqrt((_largest_axis(placed) + reach) / (8 * tolerance))
        need = np.where(placed.arcs, np.maximum(round_, np.abs(placed.sweep) / (math.pi / 2)), need)
    if need.sum() > MOST_POINTS:
        raise DrawingError(
            f"one outline would need over {MOST_POINTS:,} chords", remedy="check the size, or simplify the outline"
        )
    return np.maximum(np.ceil(need - 1e-9), 1).astype(np.intp)


def _largest_axis(placed: _Placed) -> Floats:
    (a, b), (c, d) = placed.first.T, placed.second.T
    return np.asarray((np.hypot(a + d, b - c) + np.hypot(a - d, b + c)) / 2)


def _parameters(steps: NDArray[np.intp]) -> tuple[NDArray[np.intp], Floats]:
    """Return the row and the parameter, over 0 to 1, at the end of each step (m,)."""
    row = np.repeat(np.arange(len(steps)), steps)
    before = np.cumsum(steps) - steps
    return row, (np.arange(1, len(row) + 1) - before[row]) / steps[row]


def _row_ends(row: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return where each row ends among the steps (n,)."""
    return np.cumsum(np.bincount(row))


def _points(placed: _Placed, row: NDArray[np.intp], t: Floats) -> Floats:
    """Return the points at the parameters (m, 2); the ends of rows are exact."""
    if len(row) == len(placed.p0):
        return placed.p3
    s = 1 - t
    points = (
        (s * s * s)[:, None] * placed.p0[row]
        + (3 * s * s * t)[:, None] * placed.first[row]
        + (3 * s * t * t)[:, None] * placed.second[row]
        + (t * t * t)[:, None] * placed.p3[row]
    )
    if placed.arcs.any():
        bent = placed.arcs[row]
        at, angle = row[bent], placed.angle[row[bent]] + t[bent] * placed.sweep[row[bent]]
        points[bent] = (
            placed.centre[at] + np.cos(angle)[:, None] * placed.first[at] + np.sin(angle)[:, None] * placed.second[at]
        )
    points[_row_ends(row) - 1] = placed.p3
    return points


def _tangents(placed: _Placed, row: NDArray[np.intp], t: Floats) -> Floats:
    """Return the unit tangents at the parameters (m, 2)."""
    _, last = end_tangents(placed)
    if len(row) == len(placed.p0):
        return last
    s = 1 - t
    slope = (
        (s * s)[:, None] * (placed.first - placed.p0)[row]
        + (2 * s * t)[:, None] * (placed.second - placed.first)[row]
        + (t * t)[:, None] * (placed.p3 - placed.second)[row]
    )
    if placed.arcs.any():
        bent = placed.arcs[row]
        at, angle = row[bent], placed.angle[row[bent]] + t[bent] * placed.sweep[row[bent]]
        slope[bent] = np.sign(placed.sweep[at])[:, None] * (
            np.cos(angle)[:, None] * placed.second[at] - np.sin(angle)[:, None] * placed.first[at]
        )
    result = _unit(slope)
    result[_row_ends(row) - 1] = last
    dead = ~np.isfinite(result).all(axis=1)
    if dead.any():  # the still point of a cusp inside a curve: go on as before
        result[dead] = result[np.maximum(np.flatnonzero(dead) - 1, 0)]
    return result


def end_tangents(placed: _Placed) -> tuple[Floats, Floats]:
    """Return the unit tangents at the start and at the end of each row (n, 2); controls on an end point are skipped."""
    begin = _first_nonzero(placed.first - placed.p0, placed.second - placed.p0, placed.p3 - placed.p0)
    end = _first_nonzero(placed.p3 - placed.second, placed.p3 - placed.first, placed.p3 - placed.p0)
    if placed.arcs.any():
        way = np.sign(placed.sweep)[:, None]
        for angle, slope in ((placed.angle, begin), (placed.angle + placed.sweep, end)):
            turned = way * (np.cos(angle)[:, None] * placed.second - np.sin(angle)[:, None] * placed.first)
            slope[placed.arcs] = turned[placed.arcs]
    return _unit(begin), _unit(end)


def row_tangents(outline: Outline) -> tuple[Floats, Floats]:
    """Return the unit tangents at the start and at the end of each row of an outline (n, 2); NaN where it has none."""
    return end_tangents(_place(outline, IDENTITY))


def _first_nonzero(*choices: Floats) -> Floats:
    result = choices[-1].copy()
    scale = np.max(np.abs(np.concatenate(choices)), initial=0.0) * 1e-12
    for choice in reversed(choices[:-1]):
        moves = np.abs(choice).max(axis=1) > scale
        result[moves] = choice[moves]
    return result


def _unit(vectors: Floats) -> Floats:
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(vectors / np.hypot(vectors[:, 0], vectors[:, 1])[:, None])
