"""Outlines to chords, after the transform, so that the tolerance holds in the finished drawing.

A curve of degree d in n equal steps of its parameter strays from chords between its points by at most
d (d - 1) m / (8 n^2), with m the largest second difference of its controls (Wang's bound); an arc of an ellipse,
c + u cos t + v sin t, by s (sweep / n)^2 / 8, with s the larger singular value of (u, v). Then the points are moved so
that areas are kept (see chords.py). All outlines of a drawing are flattened together.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, chain, pairwise

import numpy as np
from numpy.typing import NDArray

from inlayfit.errors import DrawingError
from inlayfit.read.chords import ROOM, Ints, Points, chords_for, levelled, quarters, swelling
from inlayfit.read.outline import Floats, Outline
from inlayfit.read.svg_transform import IDENTITY, Matrix

_AT_ONCE = 10_000  # points of curves: what is reckoned for them then stays in the cache, in two thirds of the time

MOST_POINTS = 4_000_000
"""Chords of one drawing: beyond, it is damaged or a trap, and memory has an end."""


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """Rows of outlines after their transforms: `controls` (4, n), for arcs the ends and between them the axes.

    Arcs (j,): their rows, centres, start angles and sweeps. Subpaths (k,): their first rows, how many rows they have,
    whether they are closed, and which outline each one belongs to.
    """

    controls: Points
    bent: Ints
    centre: Points
    angle: Floats
    sweep: Floats
    begins: Ints
    counts: Ints
    closed: NDArray[np.bool_]
    owner: Ints

    @property
    def legs(self) -> Points:
        """What leads from control to control of each row (3, n)."""
        return np.asarray(self.controls[1:] - self.controls[:-1])

    def axes(self, rows: Ints) -> tuple[Points, Points]:
        """Return both axes (j,) of the arcs in these rows."""
        return self.controls[1][rows], self.controls[2][rows]

    def taken(self, kept: NDArray[np.bool_]) -> Placed:
        """Return the rows that are kept, and the subpaths that have such rows."""
        counts = np.add.reduceat(kept, self.begins, dtype=np.intp)
        left, bent = counts > 0, kept[self.bent]
        return Placed(
            self.controls.compress(kept, axis=1), (kept.cumsum() - 1)[self.bent[bent]],
            self.centre[bent], self.angle[bent], self.sweep[bent],
            counts[left].cumsum() - counts[left], counts[left], self.closed[left], self.owner[left],
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

    def of(self, outline: int) -> list[Floats]:
        """Return the points of each subpath of one outline."""
        own = (self.owner == outline).nonzero()[0].tolist()
        return [self.points[self.begins[number] : self.begins[number + 1]] for number in own]


def place(outlines: Sequence[Outline], matrices: Sequence[Matrix]) -> Placed:
    """Return outlines after their transforms, one matrix each."""
    counts = [len(outline.numbers) // 8 for outline in outlines]
    *firsts, total = accumulate(counts, initial=0)
    packed = struct.pack(f"{8 * total}d", *chain.from_iterable([one.numbers for one in outlines]))
    numbers = np.frombuffer(packed)  # numpy takes twice as long to look at each number
    bends = [(first + bend[0], *bend[1:]) for first, one in zip(firsts, outlines, strict=True) for bend in one.bends]
    arcs = np.array(bends, dtype=np.float64).reshape(-1, 5).T.copy()
    bent = arcs[0].astype(np.intp)
    maps = np.array(matrices[:1] if len(set(matrices)) == 1 else matrices, dtype=np.float64).reshape(-1, 6).T
    if maps.shape[1] != 1:
        maps = maps.repeat(counts, axis=1)
    moved, shift = _turned(numbers.reshape(-1, 8).T, maps), maps[4] + 1j * maps[5]
    axes = moved[1][bent], moved[2][bent]  # of arcs: they are directions, without a shift
    moved += shift
    moved[1][bent], moved[2][bent] = axes
    own = maps if maps.shape[1] == 1 else maps.take(bent, axis=1)
    spans = [
        (first + span.first, span.last - span.first, span.closed, number)
        for number, (first, outline) in enumerate(zip(firsts, outlines, strict=True))
        for span in outline.spans
    ]
    begins, rows, closed, owner = np.array(spans, dtype=np.intp).reshape(-1, 4).T.copy()
    centre = _turned(arcs[1:3], own)[0] + (own[4] + 1j * own[5])
    return Placed(moved, bent, centre, arcs[3], arcs[4], begins, rows, closed == 1, owner)


def _turned(coordinates: Floats, maps: Floats) -> Points:
    """Return points (m, n) of x and y in turn (2m, n) after their maps (6, n), but for the shift.

    In reals: points that are the same must stay so, and complex products may round one way here and another there.
    """
    x, y = coordinates[::2], coordinates[1::2]
    turned = np.empty(x.shape, dtype=np.complex128)
    turned.real, turned.imag = maps[0] * x + maps[2] * y, maps[1] * x + maps[3] * y
    return turned


def rings(outline: Outline, matrix: Matrix, tolerance: float) -> list[Floats]:
    """Return each subpath of one outline as points (n, 2), closed or not, off by `tolerance` at most."""
    return loops(place([outline], [matrix]), tolerance).parts()


def loops(placed: Placed, tolerance: float) -> Loops:
    """Return all subpaths as points, off by `tolerance` at most, which enclose what the curves enclose."""
    count = len(placed.begins)
    if not count:
        return Loops(np.empty((0, 2)), np.zeros(1, dtype=np.intp), placed.owner)
    need, bent = needed(placed, tolerance), placed.bent
    steps = chords_for(need, np.where(_is_gentle(placed), ROOM, 1.0))
    if len(bent):
        parts = quarters(placed.sweep)
        chords = chords_for(need[bent] / parts, ROOM)
        steps[bent] = parts * chords
    # where each row starts and ends among the points: each subpath has its start, and then the ends of its steps
    ends = steps.cumsum() + np.arange(count).repeat(placed.counts)
    starts = ends - steps
    points = np.empty(ends[-1] + 1, dtype=np.complex128)
    curved = steps > 1
    if len(bent):
        _lay_arcs(placed, curved[bent].nonzero()[0], steps, chords, starts, points)
        curved[bent] = False
    for rows in _portions(curved.nonzero()[0], steps):
        _lay_curves(placed, rows, steps, starts, points, tolerance)
    begins = starts[placed.begins]
    points[begins], points[ends] = placed.controls[0][placed.begins], placed.controls[3]
    return Loops(plain(points), np.concatenate((begins, ends[-1:] + 1)), placed.owner)


def _is_gentle(placed: Placed) -> NDArray[np.bool_]:
    """Return which rows (n,) turn one way and by a right angle at most: all of their inner points can be moved."""
    legs = placed.legs
    (start, end), whole = legs[:2].conj() * legs[1:], legs[0].conj() * legs[2]
    one_way = (np.minimum(start.real, end.real) >= 0) & (start.imag * end.imag >= 0)
    return np.asarray(one_way & (whole.real >= -1e-9 * np.abs(whole)))


def plain(points: Points) -> Floats:
    """Return points (n,) as x and y (n, 2)."""
    return points.view(np.float64).reshape(-1, 2)


def as_points(coordinates: Floats) -> Points:
    """Return x and y (n, 2) as points (n,)."""
    return coordinates.view(np.complex128)[:, 0]


def _portions(rows: Ints, steps: Ints) -> list[Ints]:
    """Return rows in portions of about `_AT_ONCE` points."""
    ends = steps[rows].cumsum()
    cuts = np.searchsorted(ends, np.arange(_AT_ONCE, ends[-1], _AT_ONCE)).tolist() if len(rows) else []
    return [rows[begin:end] for begin, end in pairwise((0, *cuts, len(rows))) if begin < end]


def _lay_curves(placed: Placed, rows: Ints, steps: Ints, starts: Ints, points: Points, tolerance: float) -> None:
    """Put the points of the rows that are no arcs in their places, so that areas are kept; see chords.py."""
    count = steps[rows]
    last = (count + 1).cumsum() - 1
    first = last - count
    points_of = count + 1
    step = np.arange(last[-1] + 1) - first.repeat(points_of)
    controls = placed.controls.take(rows, axis=1)
    legs = controls[1:] - controls[:-1]
    t = step / count.repeat(points_of)
    curves = (controls[3] - controls[0] - 3 * legs[1]).repeat(points_of) * t
    for part in (3 * (legs[1] - legs[0]), 3 * legs[0]):
        curves += part.repeat(points_of)
        curves *= t
    curves += controls[0].repeat(points_of)
    # c' x c'' of a cubic at its ends is 18 times the cross product of its legs
    begin, end = 18 / count**3 * cross(legs[:2], legs[1:])
    points[starts[rows].repeat(points_of) + step] = levelled(curves, first, last, (begin, end), tolerance)


def _lay_arcs(placed: Placed, arcs: Ints, steps: Ints, chords: Ints, starts: Ints, points: Points) -> None:
    """Put the points of arcs but the first in their places, so that areas are kept; see chords.py."""
    rows = placed.bent[arcs]
    count, own = steps[rows], chords[arcs]
    step = np.arange(1, count.sum() + 1) - (count.cumsum() - count).repeat(count)
    swell = swelling(placed.sweep[arcs] * own / count, own).repeat(count)
    radii = 1.0 + swell * (step % own.repeat(count) != 0)
    flat = arc_points(placed, arcs.repeat(count), step / count.repeat(count), radii)
    points[starts[rows].repeat(count) + step] = flat


def curve_points(placed: Placed, row: Ints, t: Floats) -> Points:
    """Return points (m,) of cubics at their parameters, over 0 to 1."""
    s = 1 - t
    return np.asarray(
        (s * s * s) * placed.controls[0][row]
        + (3 * s * s * t) * placed.controls[1][row]
        + (3 * s * t * t) * placed.controls[2][row]
        + (t * t * t) * placed.controls[3][row]
    )


def arc_points(placed: Placed, arc: Ints, t: Floats, radii: Floats | float = 1.0) -> Points:
    """Return points (m,) of arcs at their parameters, over 0 to 1, at so many times the radius from the centre."""
    angle = placed.angle[arc] + t * placed.sweep[arc]
    row = placed.bent[arc]
    across, up = radii * np.cos(angle), radii * np.sin(angle)
    u, v = placed.axes(row)
    return np.asarray(placed.centre[arc] + across * u + up * v)


def cross(a: Points, b: Points) -> Floats:
    """Return the cross product (n,) of vectors (n,)."""
    return np.asarray(a.real * b.imag - a.imag * b.real)


def boxes(placed: Placed) -> Floats:
    """Return the exact box (k, 4) of each outline, none of which is empty: left, bottom, right, top."""
    p0, first, second, p3 = controls = placed.controls.view(np.float64)  # x and y in turn
    low, high = np.minimum(p0, p3), np.maximum(p0, p3)
    outside = (np.minimum(first, second) < low) | (np.maximum(first, second) > high)
    outside.reshape(-1, 2)[placed.bent] = False
    bulging = outside.nonzero()[0]
    if len(bulging):
        one, other = _extremes(*controls.take(bulging, axis=1))
        low[bulging] = np.minimum(low[bulging], np.minimum(one, other))
        high[bulging] = np.maximum(high[bulging], np.maximum(one, other))
    low, high = low.reshape(-1, 2), high.reshape(-1, 2)
    if len(placed.bent):
        _reach_out(placed, low, high)
    is_first = np.ones(len(placed.owner), dtype=np.bool_)  # of the subpaths of an outline
    is_first[1:] = placed.owner[1:] != placed.owner[:-1]
    begins = placed.begins[is_first]
    return np.concatenate((np.minimum.reduceat(low, begins), np.maximum.reduceat(high, begins)), axis=1)


def box_of(drawn: Sequence[tuple[Outline, Matrix]]) -> tuple[float, float, float, float]:
    """Return x, y, width, height of outlines, which are not empty, after their transforms."""
    found = boxes(place([outline for outline, _ in drawn], [matrix for _, matrix in drawn]))
    (left, top), (right, bottom) = found[:, :2].min(axis=0).tolist(), found[:, 2:].max(axis=0).tolist()
    return left, top, right - left, bottom - top


def _extremes(p0: Floats, p1: Floats, p2: Floats, p3: Floats) -> Floats:
    """Return the extremes (2, n) of cubics in one coordinate, two each; their start for none."""
    a, b, c = p3 - 3 * (p2 - p1) - p0, p2 - 2 * p1 + p0, p1 - p0
    with np.errstate(invalid="ignore", divide="ignore"):
        root = -(b + np.copysign(np.sqrt(b * b - a * c), b))  # a t^2 + 2 b t + c = 0 without a loss of digits
        t = np.array((root / a, c / root))
    t[~((t > 0) & (t < 1))] = 0.0
    return np.asarray(p0 + t * (3 * c + t * (3 * b + t * a)))


def _reach_out(placed: Placed, low: Floats, high: Floats) -> None:
    """Widen the boxes of arcs, whose corners are `low` and `high` (n, 2), in place."""
    u, v, centre = (plain(part) for part in (*placed.axes(placed.bent), placed.centre))
    reach, way, most = np.hypot(u, v), np.sign(placed.sweep)[:, None], np.abs(placed.sweep)[:, None]
    turned = (np.arctan2(v, u) - placed.angle[:, None]) * way
    met = (turned + np.array(((0.0,), (math.pi,)))[:, None]) % math.tau <= most
    high[placed.bent] = np.where(met[0], centre + reach, high[placed.bent])
    low[placed.bent] = np.where(met[1], centre - reach, low[placed.bent])


def needed(placed: Placed, tolerance: float, reach: Floats | float = 0.0) -> Floats:
    """Return into how many chords each row (n,) is to be cut if all points lie on it; an offset by `reach` too.

    Raises:
        DrawingError: more than `MOST_POINTS`.
    """
    legs = placed.legs
    bend = np.abs(legs[1:] - legs[:-1])
    need = np.sqrt(np.maximum(bend[0], bend[1]) * (6 / (8 * tolerance)))
    if len(placed.bent):
        reached = _largest_axis(placed) + (reach if isinstance(reach, float) else reach[placed.bent])
        need[placed.bent] = np.abs(placed.sweep) * np.sqrt(reached / (8 * tolerance))
    if need.sum() > MOST_POINTS:
        raise DrawingError(
            f"the outlines would need over {MOST_POINTS:,} chords", remedy="check the size, or simplify the outline"
        )
    return need


def _largest_axis(placed: Placed) -> Floats:
    u, v = placed.axes(placed.bent)
    return np.asarray((np.abs(u - 1j * v) + np.abs(u + 1j * v)) / 2)


def parameters(steps: Ints) -> tuple[Ints, Floats]:
    """Return the row and the parameter, over 0 to 1, at the end of each step (m,)."""
    row = np.arange(len(steps)).repeat(steps)
    before = steps.cumsum() - steps
    return row, (np.arange(1, len(row) + 1) - before[row]) / steps[row]


def end_tangents(placed: Placed) -> tuple[Points, Points]:
    """Return the unit tangents at the start and at the end of each row (n,); controls on an end point are skipped."""
    controls = placed.controls
    begin = _first_nonzero(controls[1:] - controls[0])
    end = _first_nonzero((controls[3] - controls[:3])[::-1])
    count = len(placed.bent)
    if count:
        arcs = np.arange(count)
        begin[placed.bent] = arc_slopes(placed, arcs, np.zeros(count))
        end[placed.bent] = arc_slopes(placed, arcs, np.ones(count))
    return unit(begin), unit(end)


def arc_slopes(placed: Placed, arc: Ints, t: Floats) -> Points:
    """Return the directions (m,) of arcs at their parameters, over 0 to 1."""
    sweep, row = placed.sweep[arc], placed.bent[arc]
    angle = placed.angle[arc] + t * sweep
    u, v = placed.axes(row)
    return np.asarray(np.sign(sweep) * (np.cos(angle) * v - np.sin(angle) * u))


def row_tangents(outline: Outline) -> tuple[Floats, Floats]:
    """Return the unit tangents at the start and at the end of each row of an outline (n, 2); NaN where it has none."""
    begin, end = end_tangents(place([outline], [IDENTITY]))
    return plain(begin), plain(end)


def _first_nonzero(choices: Points) -> Points:
    """Return for each row (n,) the first of its choices (3, n) that is not as good as nothing beside the others."""
    sizes = np.abs(choices)
    there = sizes > sizes.max(axis=0) * 1e-12
    result = choices[2].copy()
    for choice in (1, 0):
        np.copyto(result, choices[choice], where=there[choice])
    return result


def unit(vectors: Points) -> Points:
    """Return vectors (n,) of length 1; NaN for those of none."""
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(vectors / np.abs(vectors))
