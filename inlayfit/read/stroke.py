"""Strokes as areas (SVG 2, section 13.5), from chords and the exact tangents at their points.

Words: *left* and *right* are the two sides of a track in its own direction; a *corner* is a point where the track turns;
a *ribbon* is what a run without corners sweeps; a *wedge* is the join at a corner. First the whole boundary is laid as
rings; where these are simple, they are the stroke. Else ribbons, wedges and caps are united by their winding.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.errors import DrawingError
from inlayfit.read.fill import unite
from inlayfit.read.flatten import Track
from inlayfit.read.outline import Floats

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


def stroke_track(track: Track, nib: Nib) -> list[Any]:
    """Return valid polygons that together are the stroke of one subpath."""
    sides = _sides(track, nib)
    whole = _whole(track, sides, nib)
    return [whole] if whole is not None else _pieces(track, sides, nib)


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


def _whole(track: Track, sides: _Sides, nib: Nib) -> Any | None:
    """Return the stroke as one polygon from its boundary, or None where that boundary crosses itself."""
    if not _inner_corners_fit(track, sides):
        return None
    left = _side(track, sides, nib, 1.0)
    right = _side(track, sides, nib, -1.0)
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


def _inner_corners_fit(track: Track, sides: _Sides) -> bool:
    """Whether the inner side of each corner is where the two offset lines meet: on lines, or next to them."""
    if not len(sides.corners):
        return True
    trim = np.abs(np.tan(sides.turn[sides.corners] / 2)) * float(np.hypot(*sides.normal_in[0]))
    chords = np.hypot(*(np.roll(track.points, -1, axis=0) - track.points).T)
    room = np.where(track.straight, np.inf, chords / 2)
    return bool((trim < np.minimum(room[sides.corners], room[sides.corners - 1])).all())


def _side(track: Track, sides: _Sides, nib: Nib, way: float) -> Floats | None:
    """Return one side of the track (n, 2) in its direction, or None where it folds back."""
    end, begin = track.points + way * sides.mitre, track.points + way * sides.mitre
    outer = sides.corners[sides.turn[sides.corners] * way < 0]
    end[outer] = track.points[outer] + way * sides.normal_in[outer]
    begin[outer] = track.points[outer] + way * sides.normal_out[outer]
    if not track.closed:
        begin[0] = track.points[0] + way * sides.normal_out[0]
        end[-1] = track.points[-1] + way * sides.normal_in[-1]
    along = np.roll(track.points, -1, axis=0) - track.points
    moved = np.roll(end, -1, axis=0) - begin
    ahead = np.sum(along * moved, axis=1)
    if not (ahead if track.closed else ahead[:-1]).min(initial=1.0) > 0:
        return None
    if not len(outer):
        return np.concatenate((begin[:1], end[1:])) if not track.closed else end
    parts: list[Floats] = []
    done = 0
    for corner in outer:
        parts.append(end[done:corner])
        parts.append(_join(track.points[corner], sides, int(corner), nib, way))
        done = corner + 1
    parts.append(end[done:])
    result = np.concatenate(parts)
    if not track.closed:
        result[0] = begin[0]
    return result


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


def _pieces(track: Track, sides: _Sides, nib: Nib) -> list[Any]:
    """Return what ribbons, wedges and caps cover together; each is a ring that covers without cancelling."""
    parts: list[Floats] = []
    for corner in sides.corners:
        way = -1.0 if sides.turn[corner] > 0 else 1.0
        boundary = _join(track.points[corner], sides, int(corner), nib, way)
        parts.append(np.concatenate((track.points[corner][None], boundary)))
    for indexes in _runs(len(track.points), sides.corners, closed=track.closed):
        parts.extend(_ribbons(track, sides, indexes))
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


def _runs(count: int, corners: NDArray[np.intp], *, closed: bool) -> list[NDArray[np.intp]]:
    """Return the indexes of the points of each run between corners."""
    if not closed:
        breaks = [0, *(int(corner) for corner in corners), count - 1]
        return [np.arange(a, b + 1) for a, b in itertools.pairwise(breaks)]
    first = int(corners[0]) if len(corners) else 0
    breaks = [*(int(corner) for corner in corners), first + count] if len(corners) else [0, count]
    return [np.arange(a, b + 1) % count for a, b in itertools.pairwise(breaks)]


def _ribbons(track: Track, sides: _Sides, indexes: NDArray[np.intp]) -> list[Floats]:
    """Return rings that cover what a run sweeps.

    Where one side folds back (the bend is tighter than half the width), that side is parted at the evolute, where
    neighbouring normals meet: before it the sweep turns one way, beyond it the other.
    """
    points, normal = track.points[indexes], sides.mitre[indexes]
    normal[0], normal[-1] = sides.normal_out[indexes[0]], sides.normal_in[indexes[-1]]
    along = np.diff(points, axis=0)
    left, right = (np.sum(along * np.diff(points + way * normal, axis=0), axis=1) <= 0 for way in (1.0, -1.0))
    state = np.where(left, 1, 0) - np.where(right, 1, 0)
    breaks = np.concatenate(((0,), np.flatnonzero(np.diff(state)) + 1, (len(state),)))
    found = []
    for begin, end in zip(breaks, breaks[1:], strict=False):
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
