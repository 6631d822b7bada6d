"""Strokes as areas (SVG 2, section 13.5), from chords and the exact tangents at their points.

Words: *left* and *right* are the two sides of a track in its own direction; a *corner* is a point where it turns; a
*ribbon* is what a run without corners sweeps; a *wedge* is the join at a corner. First the whole boundary is laid as
rings (see stroke_sides.py); where these are simple, they are the stroke. Else ribbons, wedges and caps are united by
their winding.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from typing import Any, NamedTuple

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


class Laid(NamedTuple):
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
    pieces = _pieces(sides, edges, torn, names)
    rings = iter(_turned([ring for parts in pieces for ring in parts]))
    covers = {number: [next(rings) for _ in parts] for number, parts in zip(torn, pieces, strict=True)}
    return [Laid(polygon=polygon, rings=covers.get(number, [])) for number, polygon in enumerate(polygons)]


def covering(lines: Sequence[Sequence[Laid]]) -> list[list[Floats]]:
    """Return the rings of the strokes of each line, to be united by their winding."""
    whole = [(number, one.polygon) for number, laid in enumerate(lines) for one in laid if one.polygon is not None]
    rings, of = shapely.get_rings(shapely.orient_polygons([polygon for _, polygon in whole]), return_index=True)
    points, stops = shapely.get_coordinates(rings), shapely.get_num_coordinates(rings).cumsum().tolist()
    found: list[list[Floats]] = [[] for _ in lines]
    for polygon, begin, stop in zip(of.tolist(), [0, *stops], stops, strict=False):
        found[whole[polygon][0]].append(points[begin : stop - 1])
    return [own + [ring for one in laid for ring in one.rings] for own, laid in zip(found, lines, strict=True)]


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


def _pieces(sides: Sides, edges: tuple[Edge, Edge], torn: Sequence[int], names: Sequence[str]) -> list[list[Points]]:
    """Return the wedges, ribbons and caps of some tracks: rings each of which covers without cancelling.

    They share whole edges, from a side to the track's own point, so that no hair is left between them.
    """
    ribbons = _ribbons(sides, torn) if torn else []
    pieces = [
        _wedges(sides, edges, number) + own + _caps(sides, number) for number, own in zip(torn, ribbons, strict=True)
    ]
    for number, parts in zip(torn, pieces, strict=True):
        if len(parts) > _MOST_PIECES:
            raise DrawingError(
                f"a line with over {_MOST_PIECES:,} corners that runs over itself",
                where=names[number],
                remedy="simplify the line",
            )
    return pieces


def _wedges(sides: Sides, edges: tuple[Edge, Edge], number: int) -> list[Points]:
    begin, end = sides.begins[number : number + 2].tolist()
    corners = sides.sharp[begin:end].nonzero()[0] + begin
    outer = [edges[0] if turn < 0 else edges[1] for turn in sides.turn[corners].tolist()]
    return [
        np.concatenate((sides.points[corner : corner + 1], edge.join(corner)))
        for corner, edge in zip(corners.tolist(), outer, strict=True)
    ]


def _caps(sides: Sides, number: int) -> list[Points]:
    if sides.closed[number] or sides.nibs[number].cap == "butt":
        return []
    begin, end = sides.begins[number], sides.begins[number + 1]
    ends = (
        (sides.points[end - 1], sides.normal_in[end - 1], _cap_end(sides, number)),
        (sides.points[begin], -sides.normal_out[begin], _cap_start(sides, number)),
    )
    return [np.concatenate(((point, point + side), cap, (point - side,))) for point, side, cap in ends]


def _runs(sides: Sides, number: int) -> list[Ints]:
    """Return the numbers of the points of each run between corners, its ends included.

    Of a closed track the first one begins at the first corner.
    """
    begin, end = sides.begins[number], sides.begins[number + 1]
    corners = sides.sharp[begin:end].nonzero()[0]
    around = np.arange(begin, end)
    breaks = [0, *corners.tolist(), len(around) - 1]
    if sides.closed[number]:
        first = int(corners[0]) if len(corners) else 0
        around = np.concatenate((around[first:], around[: first + 1]))
        breaks = [*(corners - first).tolist(), len(around) - 1] if len(corners) else [0, len(around) - 1]
    return [around[begin : end + 1] for begin, end in pairwise(breaks)]


def _ribbons(sides: Sides, numbers: Sequence[int]) -> list[list[Points]]:
    """Return rings that cover what the runs of some tracks sweep."""
    found: list[list[Points]] = [[] for _ in numbers]
    runs = [_runs(sides, number) for number in numbers]
    whose = [place for place, own in enumerate(runs) for _ in own]
    at = np.concatenate([run for own in runs for run in own])
    counts = np.array([len(run) for own in runs for run in own])
    last = counts.cumsum() - 1
    first = last + 1 - counts
    points, offsets, folding = sides.points[at], sides.offsets[:, at], sides.folding[at]
    held = sides.sharp[at[first]] | (at[first] != at[last])  # a run all round without a corner has no ends
    for ends, normal in ((first[held], sides.normal_out), (last[held], sides.normal_in)):
        offsets[0, ends] = normal[at[ends]]
        offsets[1, ends] = -offsets[0, ends]
    both, evolutes = points + offsets, _evolutes(points, offsets)
    begins = np.empty(len(at), dtype=np.bool_)  # of what folds alike
    begins[1:] = folding[1:] != folding[:-1]
    begins[first], begins[last] = True, False
    begin = begins.nonzero()[0]
    run = np.arange(len(first)).repeat(counts)[begin]
    end = np.minimum(np.append(begin[1:], len(at)), last[run])
    parts = zip(run.tolist(), begin.tolist(), end.tolist(), folding[begin].tolist(), strict=True)
    for number, start, stop, way in parts:
        own = slice(start, stop + 1)
        found[whose[number]] += _ribbon(points[own], both[:, own], evolutes[:, start:stop], way)
    return found


def _ribbon(points: Points, both: Points, evolutes: Points, way: int) -> list[Points]:
    """Return rings that cover what chords sweep that fold alike: to the left, way 1, to the right, -1, or not at all.

    Where one side folds back (the bend is tighter than half the width), that side is parted at the evolute, where
    neighbouring normals meet: before it the sweep turns one way, beyond it the other.
    """
    left, right = both
    if way == 0:
        return [np.concatenate((points[:1], right, points[-1:], left[::-1]))]
    bent, free = (left, right) if way > 0 else (right, left)
    evolute = evolutes[int(way < 0), ::-1]
    return [np.concatenate(halves) for halves in ((points, free[::-1]), (points, evolute), (bent, evolute))]


def _evolutes(points: Points, offsets: Points) -> Points:
    """Return where the normals at the ends of each chord meet (2, n - 1), on a side and on the other, or its end."""
    a, b = offsets[:, :-1], offsets[:, 1:]
    with np.errstate(invalid="ignore", divide="ignore"):
        reach = cross(points[1:] - points[:-1], b) / cross(a, b)
    reach[np.isnan(reach)] = 0.5
    return np.asarray(points[:-1] + reach.clip(0.0, 1.0) * a)
