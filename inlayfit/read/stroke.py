"""Strokes as areas (SVG 2, section 13.5), from chords and the exact tangents at their points.

Words: *left* and *right* are the two sides of a track in its own direction; a *corner* is a point where it turns; a
*ribbon* is what a run without corners sweeps; a *wedge* is the join at a corner. First the whole boundary is laid as
rings (see stroke_sides.py); where these are simple, they are the stroke. Else ribbons, wedges and caps are united by
their winding.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
import shapely

from inlayfit.errors import DrawingError
from inlayfit.read.chords import ROOM, Ints, Points, chords_for, swelling
from inlayfit.read.flatten import cross, plain
from inlayfit.read.outline import Floats
from inlayfit.read.stroke_sides import Edge, Nib, Sides, laid_side, meetings, sides_of
from inlayfit.read.sweep import areas_of, signed_areas
from inlayfit.read.tracks import Track

_MOST_PIECES = 50_000  # joins and ribbons of one line that are united: beyond, it would not end within seconds


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """The stroke of one subpath: one valid polygon, or None; and rings that cover it without cancelling.

    The rings run counter-clockwise where they cover and clockwise round a hole, so that those of several strokes may be
    united by their winding.
    """

    polygon: shapely.Polygon | None
    rings: list[Floats]


def stroke_tracks(lines: Sequence[Track], nibs: Sequence[Nib], names: Sequence[str]) -> list[Laid]:
    """Return the stroke of each subpath; `names` are for errors."""
    sides = sides_of(lines, nibs)
    inner = meetings(sides)
    edges = laid_side(sides, inner, 1.0), laid_side(sides, inner, -1.0)
    outlines = [_boundary(sides, edges, number) if whole else [] for number, whole in enumerate(inner.whole.tolist())]
    polygons = _polygons(outlines)
    torn = [number for number, polygon in enumerate(polygons) if polygon is None]
    pieces = [_pieces(sides, edges, number, names[number]) for number in torn]
    rings = iter(_turned([ring for parts in pieces for ring in parts]))
    covers = {number: [next(rings) for _ in parts] for number, parts in zip(torn, pieces, strict=True)}
    return [Laid(polygon=polygon, rings=covers.get(number, [])) for number, polygon in enumerate(polygons)]


def covering(laid: Sequence[Laid]) -> list[Floats]:
    """Return the rings of several strokes, to be united by their winding."""
    whole = shapely.orient_polygons([one.polygon for one in laid if one.polygon is not None])
    return [shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(whole)] + [
        ring for one in laid for ring in one.rings
    ]


def _turned(rings: list[Points]) -> list[Floats]:
    """Return rings counter-clockwise, each of which covers what it encloses, whichever way it ran."""
    if not rings:
        return []
    flat = [plain(ring) for ring in rings]
    return [ring if area >= 0 else ring[::-1] for ring, area in zip(flat, areas_of(flat), strict=True)]


def _polygons(outlines: list[list[Points]]) -> list[Any]:
    """Return the polygon within one ring or between two of each stroke, or None where there is no valid one."""
    whole = [number for number, rings in enumerate(outlines) if rings]
    found: list[Any] = [None] * len(outlines)
    if not whole:
        return found
    rings = [ring for number in whole for ring in outlines[number]]
    counts = np.array([len(outlines[number]) for number in whole])
    lengths = [*map(len, rings)]
    points = plain(np.concatenate(rings))
    areas = signed_areas(points, np.cumsum([0, *lengths]))
    first = counts.cumsum() - counts
    order = np.arange(len(rings))
    paired = first[counts == 2]
    swapped = paired[np.abs(areas[paired]) < np.abs(areas[paired + 1])]
    order[swapped], order[swapped + 1] = swapped + 1, swapped
    lines = shapely.linearrings(points, indices=np.arange(len(rings)).repeat(lengths))
    polygons = shapely.polygons(lines[order], indices=np.arange(len(whole)).repeat(counts))
    good = shapely.is_valid(polygons)
    good[counts == 2] &= areas[paired] * areas[paired + 1] > 0
    for index in np.flatnonzero(good):
        found[whole[index]] = polygons[index]
    return found


def stroke_dot(point: Points, nib: Nib, along: complex) -> Laid | None:
    """Return the dot that caps make of a subpath (1,) without length: a disc, a square or nothing."""
    if nib.cap == "butt":
        return None
    turns = _turned_by(4, nib.need)[:-1] if nib.cap == "round" else along * np.array((1 + 1j, -1 + 1j, -1 - 1j, 1 - 1j))
    return Laid(polygon=shapely.Polygon(plain(point + nib.half * turns)), rings=[])


def _boundary(sides: Sides, edges: tuple[Edge, Edge], number: int) -> list[Points]:
    """Return the boundary of the stroke: one ring of an open track, two of a closed one."""
    left, right = (edge.of(number) for edge in edges)
    if sides.closed[number]:
        return [left, right] if min(len(left), len(right)) > 2 else []  # two points: there and back
    return [np.concatenate((left, _cap_end(sides, number), right[::-1], _cap_start(sides, number)))]


@lru_cache(maxsize=256)
def _turned_by(quarters: int, need: float) -> Points:
    """Return directions from 1 on, over so many quarter turns to the left; `need` is that of a radian.

    Those between quarters are as much too long as keeps areas; see chords.py.
    """
    sweep = math.pi / 2
    chords = chords_for(np.array([need * sweep]), ROOM)
    steps = np.arange(quarters * chords[0] + 1)
    angles = steps * (sweep / chords[0])
    radii = np.where(steps % chords[0] == 0, 1.0, 1.0 + swelling(np.array([sweep]), chords))
    return np.asarray(radii * (np.cos(angles) + 1j * np.sin(angles)))


def _cap(point: complex, side: complex, nib: Nib) -> Points:
    """Return the points (n,) between the left and the right of an end, left being at `side`."""
    if nib.cap == "square":
        ahead = -1j * side
        return np.array((point + side + ahead, point - side + ahead))
    if nib.cap == "round":
        return np.asarray(point + side * _turned_by(2, nib.need)[1:-1].conj())
    return np.empty(0, dtype=np.complex128)


def _cap_end(sides: Sides, number: int) -> Points:
    last = sides.begins[number + 1] - 1
    return _cap(sides.points[last], sides.normal_in[last], sides.nibs[number])


def _cap_start(sides: Sides, number: int) -> Points:
    first = sides.begins[number]
    return _cap(sides.points[first], -sides.normal_out[first], sides.nibs[number])


def _pieces(sides: Sides, edges: tuple[Edge, Edge], number: int, name: str) -> list[Points]:
    """Return ribbons, wedges and caps: rings each of which covers without cancelling.

    They share whole edges, from a side to the track's own point, so that no hair is left between them.
    """
    begin, end = sides.begins[number], sides.begins[number + 1]
    corners = sides.sharp[begin:end].nonzero()[0]
    parts = []
    for corner in (corners + begin).tolist():
        edge = edges[0] if sides.turn[corner] < 0 else edges[1]
        parts.append(np.concatenate((sides.points[corner, None], edge.join(corner))))
    for run in _runs(sides, number, corners):
        parts.extend(_ribbons(*run))
    if not sides.closed[number] and sides.nibs[number].cap != "butt":
        for at, side, cap in (
            (end - 1, sides.normal_in[end - 1], _cap_end(sides, number)),
            (begin, -sides.normal_out[begin], _cap_start(sides, number)),
        ):
            point = sides.points[at]
            parts.append(np.concatenate(((point, point + side), cap, (point - side,))))
    if len(parts) > _MOST_PIECES:
        raise DrawingError(
            f"a line with over {_MOST_PIECES:,} corners that runs over itself", where=name, remedy="simplify the line"
        )
    return parts


def _runs(sides: Sides, number: int, corners: Ints) -> Iterator[tuple[Points, Points, Ints]]:
    """Yield the runs between corners: points, offsets (2, n), and where they fold, to the left 1 and to the right -1.

    Of a closed track the first one begins at the first corner.
    """
    around = np.arange(sides.begins[number], sides.begins[number + 1])
    breaks = [0, *corners.tolist(), len(around) - 1]
    if sides.closed[number]:
        first = int(corners[0]) if len(corners) else 0
        around = np.append(np.roll(around, -first), around[first])
        breaks = [*(corners - first).tolist(), len(around) - 1] if len(corners) else [0, len(around) - 1]
    bare = sides.closed[number] and not len(corners)
    points, offsets, state = sides.points[around], sides.offsets[:, around], sides.folding[around]
    for begin, end in pairwise(breaks):
        own = offsets[:, begin : end + 1].copy()
        if not bare:
            own[0, 0], own[0, -1] = sides.normal_out[around[begin]], sides.normal_in[around[end]]
            own[1, 0], own[1, -1] = -own[0, 0], -own[0, -1]
        yield points[begin : end + 1], own, state[begin:end]


def _ribbons(points: Points, offsets: Points, state: Ints) -> list[Points]:
    """Return rings that cover what a run sweeps.

    Where one side folds back (the bend is tighter than half the width), that side is parted at the evolute, where
    neighbouring normals meet: before it the sweep turns one way, beyond it the other.
    """
    breaks = [0, *(np.diff(state).nonzero()[0] + 1).tolist(), len(state)]
    found = []
    for begin, end in pairwise(breaks):
        way = int(state[begin])
        p, (left, right) = points[begin : end + 1], offsets[:, begin : end + 1]
        if way == 0:
            found.append(np.concatenate((p[:1], p + right, p[-1:], (p + left)[::-1])))
        else:
            bent, open_ = (left, right) if way > 0 else (right, left)
            found.append(np.concatenate((p, (p + open_)[::-1])))
            found.extend(_folded(p, bent))
    return found


def _folded(points: Points, normal: Points) -> list[Points]:
    """Return the rings before and beyond the evolute of a side (points to points + normal) that folds back."""
    a, b = normal[:-1], normal[1:]
    gap = points[1:] - points[:-1]
    with np.errstate(invalid="ignore", divide="ignore"):
        reach = cross(gap, b) / cross(a, b)
    reach[np.isnan(reach)] = 0.5
    evolute = points[:-1] + np.minimum(np.maximum(reach, 0.0), 1.0) * a
    return [np.concatenate((points, evolute[::-1])), np.concatenate((points + normal, evolute[::-1]))]
