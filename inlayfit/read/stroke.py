"""Strokes as areas (SVG 2, section 13.5), from chords and the exact tangents at their points.

Words: *left* and *right* are the two sides of a track in its own direction; a *corner* is a point where it turns; a
*ribbon* is what a run without corners sweeps; a *wedge* is the join at a corner. First the whole boundary is laid as
rings; where these are simple, they are the stroke. Else ribbons, wedges and caps are united by their winding.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.errors import DrawingError
from inlayfit.read.fill import unite
from inlayfit.read.flatten import Track
from inlayfit.read.outline import Floats

_WINDOW = 64  # chords on either side of a corner in which the inner sides are looked for
_MOST_PIECES = 50_000  # joins and ribbons of one line that are united: beyond, it would not end within seconds

Cap = Literal["butt", "round", "square"]
Join = Literal["miter", "round", "bevel"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Nib:
    """What draws a stroke: half its width, its ends, its joins; `step` is the angle of a chord on round parts."""

    half: float
    cap: Cap
    join: Join
    miter_limit: float
    tolerance: float

    @property
    def step(self) -> float:
        """Angle in radians whose chord strays by the tolerance."""
        return 2 * math.acos(max(1 - self.tolerance / self.half, 0.0))


@dataclass(frozen=True, slots=True, eq=False)
class _Sides:
    """Offsets of a track to both sides: where the chord that ends, and the one that begins, at each point runs."""

    turn: Floats
    corners: NDArray[np.intp]
    normal_in: Floats
    normal_out: Floats
    mitre: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Run:
    """Points (n, 2) from corner to corner with their normals (n, 2), half the width long, and the length of it all."""

    points: Floats
    normal: Floats
    length: float


def stroke_track(track: Track, nib: Nib) -> list[Any]:
    """Return valid polygons that together are the stroke of one subpath."""
    sides = _sides(track, nib)
    runs = _runs(track, sides)
    whole = _whole(track, sides, runs, nib)
    return [whole] if whole is not None else _pieces(track, sides, runs, nib)


def stroke_dot(point: Floats, nib: Nib, along: Floats | None = None) -> list[Any]:
    """Return the dot that caps make of a subpath (1, 2) without length: a disc, a square or nothing."""
    if nib.cap == "butt":
        return []
    if nib.cap == "round":
        steps = max(math.ceil(2 * math.pi / nib.step), 8)
        angles = np.arange(steps) * (2 * math.pi / steps)
        return [shapely.Polygon(point + nib.half * np.column_stack((np.cos(angles), np.sin(angles))))]
    ahead = np.array((1.0, 0.0)) if along is None else along
    aside = np.array((-ahead[1], ahead[0]))
    return [
        shapely.Polygon(
            [point[0] + nib.half * (a * ahead + b * aside) for a, b in ((1, 1), (-1, 1), (-1, -1), (1, -1))]
        )
    ]


def _left_normal(tangents: Floats) -> Floats:
    return np.column_stack((-tangents[:, 1], tangents[:, 0]))


def _sides(track: Track, nib: Nib) -> _Sides:
    cos = np.sum(track.incoming * track.outgoing, axis=1)
    sin = track.incoming[:, 0] * track.outgoing[:, 1] - track.incoming[:, 1] * track.outgoing[:, 0]
    turn = np.arctan2(sin, cos)
    sharp = nib.half * turn * turn / 8 > nib.tolerance / 4
    if not track.closed:
        sharp[0] = sharp[-1] = False
    normal_in, normal_out = _left_normal(track.incoming), _left_normal(track.outgoing)
    mitre = nib.half * (normal_in + normal_out) / np.maximum(1 + cos, 1e-12)[:, None]
    return _Sides(turn, np.flatnonzero(sharp), nib.half * normal_in, nib.half * normal_out, mitre)


def _whole(track: Track, sides: _Sides, runs: list[_Run], nib: Nib) -> shapely.Polygon | None:
    """Return the stroke as one polygon from its boundary, or None where that boundary crosses itself."""
    left = _side(track, sides, runs, nib, 1.0)
    right = _side(track, sides, runs, nib, -1.0) if left is not None else None
    if left is None or right is None:
        return None
    if not track.closed:
        ring = np.concatenate((left, _cap_end(track, sides, nib), right[::-1], _cap_start(track, sides, nib)))
        polygon = shapely.Polygon(ring)
        return polygon if polygon.is_valid else None
    if min(len(left), len(right)) < 3:
        return None  # there and back
    one, two = shapely.Polygon(left), shapely.Polygon(right)
    if one.area < two.area:
        one, two = two, one
    polygon = shapely.Polygon(one.exterior, [two.exterior])
    return polygon if polygon.is_valid and one.exterior.is_ccw == two.exterior.is_ccw else None


def _side(track: Track, sides: _Sides, runs: list[_Run], nib: Nib, way: float) -> Floats | None:
    """Return one side of the track (n, 2) in its direction, or None where it folds back or a corner has no room."""
    lines = [run.points + way * run.normal for run in runs]
    if any(_folds(run.points, line).any() for run, line in zip(runs, lines, strict=True)):
        return None
    if not len(sides.corners):
        return lines[0][:-1] if track.closed else lines[0]
    joins: list[Floats] = []
    for index, corner in enumerate(sides.corners):
        before = index if not track.closed else index - 1
        after = before + 1
        if sides.turn[corner] * way < 0:
            joins.append(_join(track.points[corner], sides, int(corner), nib, way)[1:-1])
            continue
        if not _has_room(runs[before], runs[after], float(sides.turn[corner]), nib):
            return None
        meeting = _meeting(lines[before], lines[after])
        if meeting is None:
            return None
        keep, point, resume = meeting
        lines[before], lines[after] = lines[before][: keep + 1], lines[after][resume:]
        joins.append(point[None])
    if track.closed:
        return np.concatenate([part for pair in zip(joins, lines, strict=True) for part in pair])
    tail = [part for pair in zip(joins, lines[1:], strict=True) for part in pair]
    return np.concatenate((lines[0], *tail))


def _folds(points: Floats, line: Floats) -> NDArray[np.bool_]:
    """Return for each chord (n,) whether its offset runs backwards or has no length."""
    return np.asarray(np.einsum("ij,ij->i", np.diff(points, axis=0), np.diff(line, axis=0)) <= 0)


def _has_room(before: _Run, after: _Run, turn: float, nib: Nib) -> bool:
    """Whether the ends of both ribbons lie within each other at the inner side of a corner."""
    need = nib.half * max(math.tan(min(abs(turn), 3.1) / 2), abs(math.sin(turn))) * (1 + 1e-9)
    return min(before.length, after.length) >= need


def _meeting(before: Floats, after: Floats) -> tuple[int, Floats, int] | None:
    """Return where two inner sides cross: the last point kept before, the crossing, the first point kept after it.

    The search takes in a window of both; None where they cross never or twice in it.
    """
    first, second = before[-_WINDOW:], after[:_WINDOW]
    a, b = first[:-1], np.diff(first, axis=0)
    c, d = second[:-1], np.diff(second, axis=0)
    cross = b[:, None, 0] * d[None, :, 1] - b[:, None, 1] * d[None, :, 0]
    gap = c[None, :, :] - a[:, None, :]
    with np.errstate(invalid="ignore", divide="ignore"):
        t = (gap[..., 0] * d[None, :, 1] - gap[..., 1] * d[None, :, 0]) / cross
        u = (gap[..., 0] * b[:, None, 1] - gap[..., 1] * b[:, None, 0]) / cross
    found = np.argwhere((t >= 0) & (t < 1) & (u > 0) & (u <= 1))
    if len(found) != 1:
        return None
    i, j = int(found[0, 0]), int(found[0, 1])
    return len(before) - len(first) + i, a[i] + t[i, j] * b[i], j + 1


def _join(point: Floats, sides: _Sides, corner: int, nib: Nib, way: float) -> Floats:
    """Return the outer boundary (n, 2) of the join, from the side of the old chord to that of the new one."""
    first, last = way * sides.normal_in[corner], way * sides.normal_out[corner]
    turn = float(sides.turn[corner])
    if nib.join == "round":
        return point + np.concatenate((first[None], _arc(first, turn, nib), last[None]))
    inner = math.pi - abs(turn)  # the angle between the two lines
    if nib.join == "miter" and inner > 1e-6 and 1 / math.sin(inner / 2) <= nib.miter_limit * (1 + 1e-12):
        return np.asarray(point + np.stack((first, way * sides.mitre[corner], last)))
    return np.asarray(point + np.stack((first, last)))


def _arc(start: Floats, turn: float, nib: Nib) -> Floats:
    """Return the inner points (n, 2) of an arc about the origin from `start` over `turn` radians."""
    steps = max(math.ceil(abs(turn) / nib.step), 1)
    angles = np.arange(1, steps) * (turn / steps)
    cos, sin = np.cos(angles), np.sin(angles)
    return np.column_stack((start[0] * cos - start[1] * sin, start[0] * sin + start[1] * cos))


def _cap(point: Floats, side: Floats, ahead: Floats, nib: Nib) -> Floats:
    """Return the points (n, 2) between the left and the right of an end, left being at `side`, seen along `ahead`."""
    if nib.cap == "square":
        return np.asarray(point + np.stack((side, -side)) + nib.half * ahead)
    if nib.cap == "round":
        return np.asarray(point + _arc(side, -math.pi, nib))
    return np.empty((0, 2))


def _cap_end(track: Track, sides: _Sides, nib: Nib) -> Floats:
    return _cap(track.points[-1], sides.normal_in[-1], track.incoming[-1], nib)


def _cap_start(track: Track, sides: _Sides, nib: Nib) -> Floats:
    return _cap(track.points[0], -sides.normal_out[0], -track.outgoing[0], nib)


def _pieces(track: Track, sides: _Sides, runs: list[_Run], nib: Nib) -> list[Any]:
    """Return what ribbons, wedges and caps cover together; each is a ring that covers without cancelling."""
    parts: list[Floats] = []
    for corner in sides.corners:
        way = -1.0 if sides.turn[corner] > 0 else 1.0
        boundary = _join(track.points[corner], sides, int(corner), nib, way)
        parts.append(np.concatenate((track.points[corner][None], boundary)))
    for run in runs:
        parts.extend(_ribbons(run.points, run.normal))
    if not track.closed and nib.cap != "butt":
        for point, side, cap in (
            (track.points[-1], sides.normal_in[-1], _cap_end(track, sides, nib)),
            (track.points[0], -sides.normal_out[0], _cap_start(track, sides, nib)),
        ):
            parts.append(np.concatenate(((point + side)[None], cap, (point - side)[None])))
    if len(parts) > _MOST_PIECES:
        raise DrawingError(
            f"a line with over {_MOST_PIECES:,} corners that runs over itself", remedy="simplify the line"
        )
    return unite(parts)


def _runs(track: Track, sides: _Sides) -> list[_Run]:
    """Return the runs between corners; of a closed track the first one begins at the first corner."""
    count = len(track.points)
    corners = [int(corner) for corner in sides.corners]
    around = [*corners, corners[0] + count] if corners else [0, count]
    breaks = around if track.closed else [0, *corners, count - 1]
    runs = []
    for begin, end in pairwise(breaks):
        indexes = np.arange(begin, end + 1) % count
        normal = sides.mitre[indexes]
        if corners or not track.closed:
            normal[0], normal[-1] = sides.normal_out[indexes[0]], sides.normal_in[indexes[-1]]
        points = track.points[indexes]
        runs.append(_Run(points, normal, float(np.hypot(*np.diff(points, axis=0).T).sum())))
    return runs


def _ribbons(points: Floats, normal: Floats) -> list[Floats]:
    """Return rings that cover what a run sweeps.

    Where one side folds back (the bend is tighter than half the width), that side is parted at the evolute, where
    neighbouring normals meet: before it the sweep turns one way, beyond it the other.
    """
    state = _folds(points, points + normal).astype(np.intp) - _folds(points, points - normal)
    breaks = np.concatenate(((0,), np.flatnonzero(np.diff(state)) + 1, (len(state),)))
    found = []
    for begin, end in pairwise(breaks):
        way = int(state[begin])
        p, n = points[begin : end + 1], normal[begin : end + 1]
        if way == 0:
            found.append(np.concatenate((p - n, (p + n)[::-1])))
        else:
            found.append(np.concatenate((p, (p - way * n)[::-1])))
            found.extend(_folded(p, way * n))
    return found


def _folded(points: Floats, normal: Floats) -> list[Floats]:
    """Return the rings before and beyond the evolute of a side (points to points + normal) that folds back."""
    a, b = normal[:-1], normal[1:]
    gap = points[1:] - points[:-1]
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    with np.errstate(invalid="ignore", divide="ignore"):
        reach = (gap[:, 0] * b[:, 1] - gap[:, 1] * b[:, 0]) / cross
    reach = np.clip(np.nan_to_num(reach, nan=0.5, posinf=1.0, neginf=0.0), 0.0, 1.0)
    evolute = points[:-1] + reach[:, None] * a
    far = points + normal
    return [np.concatenate((points, evolute[::-1])), np.concatenate((far, evolute[::-1]))]
