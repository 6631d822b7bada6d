"""Outlines to chords, after the transform, so that the tolerance holds in the finished drawing.

A curve of degree d in n equal steps of its parameter strays from chords between its points by at most
d (d - 1) m / (8 n^2), with m the largest second difference of its controls (Wang's bound); an arc of an ellipse,
c + u cos t + v sin t, by s (sweep / n)^2 / 8, with s the larger singular value of (u, v). Then the points are moved so
that areas are kept (see chords.py). All outlines of a drawing are flattened together.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, chain

import numpy as np
from numpy.typing import NDArray

from inlayfit.errors import DrawingError
from inlayfit.read.chords import Ints, chords_for, levelled, quarters, swelling
from inlayfit.read.outline import Floats, Outline
from inlayfit.read.svg_transform import IDENTITY, Matrix

MOST_POINTS = 4_000_000
"""Chords of one drawing: beyond, it is damaged or a trap, and memory has an end."""


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """Rows of outlines after their transforms: control points or axes, (2, n) each; angles and sweeps of arcs (n,).

    Here x and y lie apart, which is what numpy is fast at. Subpaths (k,): their first rows, whether they are closed,
    and which outline each one belongs to.
    """

    p0: Floats
    first: Floats
    second: Floats
    p3: Floats
    centre: Floats
    angle: Floats
    sweep: Floats
    arcs: NDArray[np.bool_]
    begins: Ints
    closed: NDArray[np.bool_]
    owner: Ints

    @property
    def counts(self) -> Ints:
        """The number of rows of each subpath (k,)."""
        return np.diff(self.begins, append=len(self.arcs))

    def taken(self, kept: NDArray[np.bool_]) -> Placed:
        """Return the rows that are kept, and the subpaths that have such rows."""
        counts = np.add.reduceat(kept, self.begins, dtype=np.intp)
        left = counts > 0
        return Placed(
            self.p0[:, kept], self.first[:, kept], self.second[:, kept], self.p3[:, kept], self.centre[:, kept],
            self.angle[kept], self.sweep[kept], self.arcs[kept],
            np.cumsum(counts[left]) - counts[left], self.closed[left], self.owner[left],
        )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Loops:
    """Subpaths as points: all of them (m, 2), where each one begins (k + 1,), which outline it belongs to (k,)."""

    points: Floats
    begins: Ints
    owner: Ints

    def parts(self) -> list[Floats]:
        """Return the points of each subpath."""
        return [self.points[begin:end] for begin, end in zip(self.begins[:-1], self.begins[1:], strict=True)]


def place(outlines: Sequence[Outline], matrices: Sequence[Matrix]) -> Placed:
    """Return outlines after their transforms, one matrix each."""
    counts = [len(outline.numbers) // 8 for outline in outlines]
    firsts = list(accumulate(counts, initial=0))
    numbers = np.array([*chain.from_iterable(outline.numbers for outline in outlines)], dtype=np.float64)
    bends = [(first + bend[0], *bend[1:]) for first, one in zip(firsts, outlines, strict=False) for bend in one.bends]
    bent, *round_ = np.array(bends, dtype=np.float64).reshape(-1, 5).T
    rows = np.zeros((12, firsts[-1]))
    rows[:8] = numbers.reshape(-1, 8).T
    arcs = np.zeros(firsts[-1], dtype=np.bool_)
    which = bent.astype(np.intp)
    rows[8:, which], arcs[which] = round_, True
    a, b, c, d, e, f = np.array(matrices, dtype=np.float64).reshape(-1, 6).T.repeat(counts, axis=1)
    x, y = rows[0:10:2], rows[1:10:2]
    moved = np.stack((a * x + c * y, b * x + d * y), axis=1)
    shift = np.stack((e, f))
    free = np.where(arcs, 0.0, shift)  # the axes of an arc are directions: no shift
    spans = [
        (first + span.first, span.closed, number)
        for number, (first, outline) in enumerate(zip(firsts, outlines, strict=False))
        for span in outline.spans
    ]
    begins, closed, owner = np.array(spans, dtype=np.intp).reshape(-1, 3).T
    return Placed(
        moved[0] + shift, moved[1] + free, moved[2] + free, moved[3] + shift, moved[4] + shift,
        rows[10], rows[11], arcs, begins, closed == 1, owner,
    )  # fmt: skip


def rings(outline: Outline, matrix: Matrix, tolerance: float) -> list[Floats]:
    """Return each subpath of one outline as points (n, 2), closed or not, off by `tolerance` at most."""
    return loops(place([outline], [matrix]), tolerance).parts()


def loops(placed: Placed, tolerance: float) -> Loops:
    """Return all subpaths as points, off by `tolerance` at most, which enclose what the curves enclose."""
    count = len(placed.begins)
    if not count:
        return Loops(np.empty((0, 2)), np.zeros(1, dtype=np.intp), placed.owner)
    need = needed(placed, tolerance)
    steps, parts = chords_for(need), np.ones(len(need), dtype=np.intp)
    bent = np.flatnonzero(placed.arcs)
    parts[bent] = quarters(placed.sweep[bent])
    steps[bent] = parts[bent] * chords_for(need[bent] / parts[bent])
    # where each row starts and ends among the points: each subpath has its start, and then the ends of its steps
    ends = np.cumsum(steps) + np.repeat(np.arange(count), placed.counts)
    starts = ends - steps
    points = np.empty((2, int(steps.sum()) + count))
    points[:, starts[placed.begins]] = placed.p0[:, placed.begins]
    points[:, ends] = placed.p3
    inner = steps > 1
    _lay_curves(placed, np.flatnonzero(inner & ~placed.arcs), steps, starts, points, tolerance)
    _lay_arcs(placed, bent[inner[bent]], steps, parts, starts, points)
    return Loops(points.T.copy(), np.append(starts[placed.begins], points.shape[1]), placed.owner)


def _lay_curves(placed: Placed, rows: Ints, steps: Ints, starts: Ints, points: Floats, tolerance: float) -> None:
    """Put the inner points of the rows that are no arcs in their places, so that areas are kept; see chords.py."""
    if not len(rows):
        return
    counts = steps[rows] + 1
    last = np.cumsum(counts) - 1
    first = last - steps[rows]
    step = np.arange(last[-1] + 1) - np.repeat(first, counts)
    p0, p1, p2, p3 = (part[:, rows] for part in (placed.p0, placed.first, placed.second, placed.p3))
    legs = p1 - p0, p2 - p1, p3 - p2
    t = step / np.repeat(steps[rows], counts)
    curves = np.repeat(3 * (p1 - p2) + p3 - p0, counts, axis=1) * t
    for part in (3 * (legs[1] - legs[0]), 3 * legs[0], p0):
        curves += np.repeat(part, counts, axis=1)
        if part is not p0:
            curves *= t
    turns = 18 / steps[rows] ** 3  # c' x c'' of a cubic at its ends is 18 times the cross product of its legs
    curves = levelled(
        curves, first, last, (turns * cross(legs[0], legs[1]), turns * cross(legs[1], legs[2])), tolerance
    )
    inner = (step > 0) & (step < np.repeat(steps[rows], counts))
    points[:, (np.repeat(starts[rows], counts) + step)[inner]] = curves[:, inner]


def _lay_arcs(placed: Placed, rows: Ints, steps: Ints, parts: Ints, starts: Ints, points: Floats) -> None:
    """Put the inner points of arcs in their places, so that areas are kept; see chords.py."""
    if not len(rows):
        return
    row, step = _inner_steps(rows, steps)
    chords = steps // parts
    swell = np.zeros(len(steps))
    swell[rows] = swelling(placed.sweep[rows] / parts[rows], chords[rows])
    radii = np.where(step % chords[row] == 0, 1.0, 1.0 + swell[row])
    points[:, starts[row] + step] = arc_points(placed, row, step / steps[row], radii)


def _inner_steps(rows: Ints, steps: Ints) -> tuple[Ints, Ints]:
    """Return the row (m,) and the number of the step, from 1, of all inner points of rows."""
    counts = steps[rows] - 1
    return np.repeat(rows, counts), np.arange(1, int(counts.sum()) + 1) - np.repeat(np.cumsum(counts) - counts, counts)


def curve_points(placed: Placed, row: Ints, t: Floats) -> Floats:
    """Return points (2, m) of cubics at their parameters, over 0 to 1."""
    s = 1 - t
    return np.asarray(
        (s * s * s) * placed.p0[:, row]
        + (3 * s * s * t) * placed.first[:, row]
        + (3 * s * t * t) * placed.second[:, row]
        + (t * t * t) * placed.p3[:, row]
    )


def arc_points(placed: Placed, row: Ints, t: Floats, radii: Floats | float = 1.0) -> Floats:
    """Return points (2, m) of arcs at their parameters, over 0 to 1, at so many times the radius from the centre."""
    angle = placed.angle[row] + t * placed.sweep[row]
    across, up = radii * np.cos(angle), radii * np.sin(angle)
    return np.asarray(placed.centre[:, row] + across * placed.first[:, row] + up * placed.second[:, row])


def cross(a: Floats, b: Floats) -> Floats:
    """Return the cross product (n,) of vectors (2, n)."""
    return np.asarray(a[0] * b[1] - a[1] * b[0])


def boxes(placed: Placed) -> Floats:
    """Return the exact box (k, 4) of each outline, none of which is empty: left, bottom, right, top."""
    low, high = np.minimum(placed.p0, placed.p3), np.maximum(placed.p0, placed.p3)
    for points in _extremes(placed, low, high):
        low, high = np.fmin(low, points), np.fmax(high, points)
    begins = placed.begins[np.flatnonzero(placed.owner != np.concatenate(((-1,), placed.owner[:-1])))]
    edges = (np.minimum.reduceat(low, begins, axis=1), np.maximum.reduceat(high, begins, axis=1))
    return np.concatenate(edges).T


def box_of(drawn: Sequence[tuple[Outline, Matrix]]) -> tuple[float, float, float, float]:
    """Return x, y, width, height of outlines, which are not empty, after their transforms."""
    found = boxes(place([outline for outline, _ in drawn], [matrix for _, matrix in drawn]))
    (left, top), (right, bottom) = found[:, :2].min(axis=0).tolist(), found[:, 2:].max(axis=0).tolist()
    return left, top, right - left, bottom - top


def _extremes(placed: Placed, low: Floats, high: Floats) -> Iterator[Floats]:
    """Yield points of the curves (2, n) that lie farthest left, right, up or down, by axis; NaN for none."""
    outside = (np.minimum(placed.first, placed.second) < low) | (np.maximum(placed.first, placed.second) > high)
    outside &= ~placed.arcs
    if outside.any():
        p0, p1, p2, p3 = (part[outside] for part in (placed.p0, placed.first, placed.second, placed.p3))
        a, b, c = p3 - 3 * (p2 - p1) - p0, p2 - 2 * p1 + p0, p1 - p0
        with np.errstate(invalid="ignore", divide="ignore"):
            root = -(b + np.copysign(np.sqrt(b * b - a * c), b))  # a t^2 + 2 b t + c = 0 without a loss of digits
            for t in (root / a, c / root):
                inner = np.where((t > 0) & (t < 1), t, np.nan)
                points = np.full_like(low, np.nan)
                points[outside] = p0 + inner * (3 * c + inner * (3 * b + inner * a))
                yield points
    bent = np.flatnonzero(placed.arcs)
    if len(bent):
        u, v, centre, sweep = placed.first[:, bent], placed.second[:, bent], placed.centre[:, bent], placed.sweep[bent]
        for side in (1.0, -1.0):
            turned = (np.arctan2(side * v, side * u) - placed.angle[bent]) * np.sign(sweep) % (2 * math.pi)
            points = np.full_like(low, np.nan)
            points[:, bent] = np.where(turned <= np.abs(sweep), centre + side * np.hypot(u, v), np.nan)
            yield points


def needed(placed: Placed, tolerance: float, reach: Floats | float = 0.0) -> Floats:
    """Return into how many chords each row (n,) is to be cut if all points lie on it; an offset by `reach` too.

    Raises:
        DrawingError: more than `MOST_POINTS`.
    """
    bend = np.maximum(
        np.hypot(*(placed.p0 - 2 * placed.first + placed.second)),
        np.hypot(*(placed.first - 2 * placed.second + placed.p3)),
    )
    need = np.sqrt(bend * (6 / (8 * tolerance)))
    if placed.arcs.any():
        need = np.where(
            placed.arcs, np.abs(placed.sweep) * np.sqrt((_largest_axis(placed) + reach) / (8 * tolerance)), need
        )
    if need.sum() > MOST_POINTS:
        raise DrawingError(
            f"the outlines would need over {MOST_POINTS:,} chords", remedy="check the size, or simplify the outline"
        )
    return need


def _largest_axis(placed: Placed) -> Floats:
    (a, b), (c, d) = placed.first, placed.second
    return np.asarray((np.hypot(a + d, b - c) + np.hypot(a - d, b + c)) / 2)


def parameters(steps: Ints) -> tuple[Ints, Floats]:
    """Return the row and the parameter, over 0 to 1, at the end of each step (m,)."""
    row = np.repeat(np.arange(len(steps)), steps)
    before = np.cumsum(steps) - steps
    return row, (np.arange(1, len(row) + 1) - before[row]) / steps[row]


def end_tangents(placed: Placed) -> tuple[Floats, Floats]:
    """Return the unit tangents at the start and at the end of each row (2, n); controls on an end point are skipped."""
    begin = _first_nonzero(placed.first - placed.p0, placed.second - placed.p0, placed.p3 - placed.p0)
    end = _first_nonzero(placed.p3 - placed.second, placed.p3 - placed.first, placed.p3 - placed.p0)
    bent = np.flatnonzero(placed.arcs)
    if len(bent):
        begin[:, bent] = arc_slopes(placed, bent, np.zeros(len(bent)))
        end[:, bent] = arc_slopes(placed, bent, np.ones(len(bent)))
    return unit(begin), unit(end)


def arc_slopes(placed: Placed, row: Ints, t: Floats) -> Floats:
    """Return the directions (2, m) of arcs at their parameters, over 0 to 1."""
    angle = placed.angle[row] + t * placed.sweep[row]
    way = np.sign(placed.sweep[row])
    return np.asarray(way * (np.cos(angle) * placed.second[:, row] - np.sin(angle) * placed.first[:, row]))


def row_tangents(outline: Outline) -> tuple[Floats, Floats]:
    """Return the unit tangents at the start and at the end of each row of an outline (n, 2); NaN where it has none."""
    begin, end = end_tangents(place([outline], [IDENTITY]))
    return begin.T, end.T


def _first_nonzero(*choices: Floats) -> Floats:
    """Return for each column (2, n) the first choice that is not as good as nothing beside the others."""
    result = choices[-1].copy()
    sizes = [np.abs(choice).max(axis=0, initial=0.0) for choice in choices]
    least = np.maximum.reduce(sizes) * 1e-12
    for choice, size in zip(reversed(choices[:-1]), reversed(sizes[:-1]), strict=True):
        np.copyto(result, choice, where=size > least)
    return result


def unit(vectors: Floats) -> Floats:
    """Return vectors (2, n) of length 1; NaN for those of none."""
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(vectors / np.hypot(vectors[0], vectors[1]))
