"""Strokes as areas (SVG 2, section 13.5), from chords and the exact tangents at their points.

Words: *left* and *right* are the two sides of a track in its own direction; a *corner* is a point where it turns; a
*ribbon* is what a run without corners sweeps; a *wedge* is the join at a corner. First the whole boundary is laid as
rings; where these are simple, they are the stroke. Else ribbons, wedges and caps are united by their winding. What can
be told of all tracks of a drawing together is worked out at once.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.errors import DrawingError
from inlayfit.read.chords import Ints
from inlayfit.read.outline import Floats
from inlayfit.read.sweep import areas_of
from inlayfit.read.tracks import Track

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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """The stroke of one subpath: one valid polygon, or None; and rings that cover it without cancelling.

    The rings run counter-clockwise where they cover and clockwise round a hole, so that those of several strokes may be
    united by their winding.
    """

    polygon: shapely.Polygon | None
    rings: list[Floats]


@dataclass(frozen=True, slots=True, eq=False)
class _Sides:
    """Offsets of a track to both sides: where the chord that ends, and the one that begins, at each point runs.

    `folds` (2, n) tells of the chord behind each point whether it runs backwards on the left and on the right.
    """

    turn: Floats
    corners: Ints
    normal_in: Floats
    normal_out: Floats
    mitre: Floats
    folds: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class _Run:
    """Points (n, 2) from corner to corner with their normals (n, 2), half the width long; folds of chords; length."""

    points: Floats
    normal: Floats
    folds: NDArray[np.bool_]
    length: float


def stroke_tracks(lines: Sequence[Track], nibs: Sequence[Nib], names: Sequence[str]) -> list[Laid]:
    """Return the stroke of each subpath; `names` are for errors."""
    sides = _sides(lines, nibs)
    outlines = [_boundary(track, one, nib) for track, one, nib in zip(lines, sides, nibs, strict=True)]
    polygons = _polygons(outlines)
    laid = []
    for track, one, nib, name, polygon in zip(lines, sides, nibs, names, polygons, strict=True):
        if polygon is not None:
            laid.append(Laid(polygon=polygon, rings=[]))
        else:
            laid.append(Laid(polygon=None, rings=_turned(_pieces(track, one, nib, name))))
    return laid


def covering(laid: Sequence[Laid]) -> list[Floats]:
    """Return the rings of several strokes, to be united by their winding."""
    whole = shapely.orient_polygons([one.polygon for one in laid if one.polygon is not None])
    return [shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(whole)] + [
        ring for one in laid for ring in one.rings
    ]


def _turned(rings: list[Floats]) -> list[Floats]:
    """Return rings counter-clockwise, each of which covers what it encloses, whichever way it ran."""
    return [ring if area > 0 else ring[::-1] for ring, area in zip(rings, areas_of(rings), strict=True) if area]


def _polygons(outlines: list[list[Floats]]) -> list[Any]:
    """Return the polygon within one ring or between two of each stroke, or None where there is no valid one."""
    whole = [number for number, rings in enumerate(outlines) if rings]
    found: list[Any] = [None] * len(outlines)
    if not whole:
        return found
    rings = [ring for number in whole for ring in outlines[number]]
    counts = np.array([len(outlines[number]) for number in whole])
    areas = areas_of(rings)
    first = np.cumsum(counts) - counts
    order = np.arange(len(rings))
    paired = first[counts == 2]
    swapped = paired[np.abs(areas[paired]) < np.abs(areas[paired + 1])]
    order[swapped], order[swapped + 1] = swapped + 1, swapped
    lines = shapely.linearrings(
        np.concatenate(rings), indices=np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    )
    polygons = shapely.polygons(lines[order], indices=np.repeat(np.arange(len(whole)), counts))
    good = shapely.is_valid(polygons)
    good[counts == 2] &= areas[paired] * areas[paired + 1] > 0
    for index in np.flatnonzero(good):
        found[whole[index]] = polygons[index]
    return found


def stroke_dot(point: Floats, nib: Nib, along: Floats) -> Laid | None:
    """Return the dot that caps make of a subpath (1, 2) without length: a disc, a square or nothing."""
    if nib.cap == "butt":
        return None
    if nib.cap == "round":
        steps = max(math.ceil(2 * math.pi / nib.step), 8)
        angles = np.arange(steps) * (2 * math.pi / steps)
        polygon = shapely.Polygon(point + nib.half * np.column_stack((np.cos(angles), np.sin(angles))))
    else:
        aside = np.array((-along[1], along[0]))
        polygon = shapely.Polygon(
            [point[0] + nib.half * (a * along + b * aside) for a, b in ((1, 1), (-1, 1), (-1, -1), (1, -1))]
        )
    return Laid(polygon=polygon, rings=[])


def _left_normal(tangents: Floats) -> Floats:
    return np.column_stack((-tangents[:, 1], tangents[:, 0]))


def _sides(lines: Sequence[Track], nibs: Sequence[Nib]) -> list[_Sides]:
    """Return the sides of all tracks, worked out together."""
    counts = np.array([len(track.points) for track in lines])
    begins = np.cumsum(counts) - counts
    points = np.concatenate([track.points for track in lines])
    incoming = np.concatenate([track.incoming for track in lines])
    outgoing = np.concatenate([track.outgoing for track in lines])
    half, tolerance = np.array([(nib.half, nib.tolerance) for nib in nibs]).repeat(counts, axis=0).T
    opens = np.array([not track.closed for track in lines])
    cos = np.einsum("ij,ij->i", incoming, outgoing)
    turn = np.arctan2(incoming[:, 0] * outgoing[:, 1] - incoming[:, 1] * outgoing[:, 0], cos)
    sharp = half * turn * turn / 8 > tolerance / 4
    sharp[begins[opens]] = sharp[(begins + counts)[opens] - 1] = False
    normal_in, normal_out = half[:, None] * _left_normal(incoming), half[:, None] * _left_normal(outgoing)
    mitre = (normal_in + normal_out) / np.maximum(1 + cos, 1e-12)[:, None]
    following = np.arange(1, len(points) + 1)
    following[begins + counts - 1] = begins
    leaving, arriving = np.where(sharp[:, None], normal_out, mitre), np.where(sharp[:, None], normal_in, mitre)
    chord = points[following] - points
    along, spread = np.einsum("ij,ij->i", chord, chord), np.einsum("ij,ij->i", chord, arriving[following] - leaving)
    folds = np.stack((along + spread <= 0, along - spread <= 0))
    corners = np.flatnonzero(sharp)
    breaks = np.searchsorted(corners, [*begins.tolist(), len(points)]).tolist()
    return [
        _Sides(
            turn[begin:end], corners[low:high] - begin, normal_in[begin:end], normal_out[begin:end], mitre[begin:end],
            folds[:, begin:end],
        )
        for begin, end, low, high in zip(
            begins.tolist(), (begins + counts).tolist(), breaks[:-1], breaks[1:], strict=True
        )
    ]  # fmt: skip


def _boundary(track: Track, sides: _Sides, nib: Nib) -> list[Floats]:
    """Return the boundary of the stroke: one ring of an open track, two of a closed one; nothing where it folds."""
    if (sides.folds if track.closed else sides.folds[:, :-1]).any():
        return []
    if len(sides.corners):
        runs = _runs(track, sides)
        left = _side(track, sides, runs, nib, 1.0)
        right = _side(track, sides, runs, nib, -1.0) if left is not None else None
        if left is None or right is None:
            return []
    else:
        left, right = track.points + sides.mitre, track.points - sides.mitre
    if not track.closed:
        return [np.concatenate((left, _cap_end(track, sides, nib), right[::-1], _cap_start(track, sides, nib)))]
    return [left, right] if min(len(left), len(right)) > 2 else []  # two points: there and back


def _side(track: Track, sides: _Sides, runs: list[_Run], nib: Nib, way: float) -> Floats | None:
    """Return one side of a track with corners (n, 2) in its direction, or None where there is no room at a corner."""
    lines = [run.points + way * run.normal for run in runs]
    joins: list[Floats] = []
    for index, corner in enumerate(sides.corners.tolist()):
        before = index if not track.closed else index - 1
        after = before + 1
        if sides.turn[corner] * way < 0:
            joins.append(_join(track.points[corner], sides, corner, nib, way)[1:-1])
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
    cos, sin = _angles(turn, max(math.ceil(abs(turn) / nib.step), 1))
    return np.column_stack((start[0] * cos - start[1] * sin, start[0] * sin + start[1] * cos))


@lru_cache(maxsize=256)
def _angles(turn: float, steps: int) -> tuple[Floats, Floats]:
    angles = np.arange(1, steps) * (turn / steps)
    return np.cos(angles), np.sin(angles)


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


def _pieces(track: Track, sides: _Sides, nib: Nib, name: str) -> list[Floats]:
    """Return ribbons, wedges and caps: rings each of which covers without cancelling.

    They share whole edges, from a side to the track's own point, so that no hair is left between them.
    """
    parts: list[Floats] = []
    for corner in sides.corners.tolist():
        way = -1.0 if sides.turn[corner] > 0 else 1.0
        boundary = _join(track.points[corner], sides, corner, nib, way)
        parts.append(np.concatenate((track.points[corner][None], boundary)))
    for run in _runs(track, sides):
        parts.extend(_ribbons(run))
    if not track.closed and nib.cap != "butt":
        for point, side, cap in (
            (track.points[-1], sides.normal_in[-1], _cap_end(track, sides, nib)),
            (track.points[0], -sides.normal_out[0], _cap_start(track, sides, nib)),
        ):
            parts.append(np.concatenate((point[None], (point + side)[None], cap, (point - side)[None])))
    if len(parts) > _MOST_PIECES:
        raise DrawingError(
            f"a line with over {_MOST_PIECES:,} corners that runs over itself", where=name, remedy="simplify the line"
        )
    return parts


def _runs(track: Track, sides: _Sides) -> list[_Run]:
    """Return the runs between corners; of a closed track the first one begins at the first corner."""
    points, mitre, folds = track.points, sides.mitre, sides.folds
    inward, outward = sides.normal_in, sides.normal_out
    breaks = sides.corners.tolist()
    if track.closed:
        first = breaks[0] if breaks else 0
        around = np.append(np.arange(first, len(points) + first) % len(points), first)
        points, mitre, folds = points[around], mitre[around], folds[:, around]
        inward, outward = inward[around], outward[around]
        breaks = [*(corner - first for corner in breaks), len(points) - 1] if breaks else [0, len(points) - 1]
    else:
        breaks = [0, *breaks, len(points) - 1]
    way = points[1:] - points[:-1]
    lengths = np.add.reduceat(np.hypot(way[:, 0], way[:, 1]), breaks[:-1]).tolist()
    runs = []
    for (begin, end), length in zip(pairwise(breaks), lengths, strict=True):
        normal = mitre[begin : end + 1].copy()
        if len(sides.corners) or not track.closed:
            normal[0], normal[-1] = outward[begin], inward[end]
        runs.append(_Run(points[begin : end + 1], normal, folds[:, begin:end], length))
    return runs


def _ribbons(run: _Run) -> list[Floats]:
    """Return rings that cover what a run sweeps.

    Where one side folds back (the bend is tighter than half the width), that side is parted at the evolute, where
    neighbouring normals meet: before it the sweep turns one way, beyond it the other.
    """
    state = run.folds[0].astype(np.intp) - run.folds[1]
    breaks = [0, *(np.flatnonzero(np.diff(state)) + 1).tolist(), len(state)]
    found = []
    for begin, end in pairwise(breaks):
        way = int(state[begin])
        p, n = run.points[begin : end + 1], run.normal[begin : end + 1]
        if way == 0:
            found.append(np.concatenate((p[:1], p - n, p[-1:], (p + n)[::-1])))
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
    reach[np.isnan(reach)] = 0.5
    reach = np.minimum(np.maximum(reach, 0.0), 1.0)
    evolute = points[:-1] + reach[:, None] * a
    far = points + normal
    return [np.concatenate((points, evolute[::-1])), np.concatenate((far, evolute[::-1]))]
