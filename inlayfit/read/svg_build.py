"""From curves to polygons: fills by their rule, strokes as areas, clips and masks cut, at a stated tolerance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

import numpy as np
import shapely

from inlayfit.read.dash import dash
from inlayfit.read.fill import fill
from inlayfit.read.flatten import Placed, loops, place
from inlayfit.read.outline import Floats
from inlayfit.read.stroke import Laid, covering, stroke_dot, stroke_tracks
from inlayfit.read.stroke_sides import Nib
from inlayfit.read.svg_notes import Notes
from inlayfit.read.svg_scene import Clip, Painted, Stroke
from inlayfit.read.svg_transform import Matrix, multiply, stretches
from inlayfit.read.sweep import GRID, SLIVER, Sweep, near_pairs, swept
from inlayfit.read.tracks import Track, tracks

_EVEN = 1e-9  # a transform that stretches both ways alike, within this, draws round strokes as they are


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Line:
    """A stroke to be drawn: the outline's map, the scale of its lengths, and a map for what was drawn, if any."""

    name: str
    stroke: Stroke
    nib: Nib
    matrix: Matrix
    scale: float
    after: Matrix | None

    @property
    def along(self) -> complex:
        """The way in which the squares on lone points look."""
        return complex(*self.matrix[:2]) / math.hypot(*self.matrix[:2])


class Builder:
    """Makes polygons in the coordinates of `frame`, which leads from px of the page to the finished drawing."""

    def __init__(self, frame: Matrix, tolerance: float, notes: Notes) -> None:
        self._frame = frame
        self._tolerance = tolerance
        self._notes = notes
        self._areas: dict[Clip, Any] = {}

    def build(self, painted: Sequence[Painted]) -> list[list[Any]]:
        """Return the valid polygons of each fill or stroke, after its clips."""
        result: list[list[Any]] = [[] for _ in painted]
        matrices = [multiply(self._frame, one.matrix) for one in painted]
        seen = [number for number, matrix in enumerate(matrices) if _has_extent(matrix)]
        filled = [number for number in seen if painted[number].stroke is None]
        placed = place([painted[number].outline for number in filled], [matrices[number] for number in filled])
        names = [painted[number].source.element for number in filled]
        areas = fill(loops(placed, self._tolerance), [painted[number].rule for number in filled], names)
        for number, (parts, repaired) in zip(filled, areas, strict=True):
            one = painted[number]
            result[number] = parts
            if repaired and one.source.element:
                message = f"its outline crosses or touches itself; cut apart by {one.rule}"
                self._notes.add("repaired", one.source.element, message)
        lined = [number for number in seen if painted[number].stroke is not None]
        stroked = self._stroked([painted[number] for number in lined], [matrices[number] for number in lined])
        for number, parts in zip(lined, stroked, strict=True):
            result[number] = parts
        for number in seen:
            for clip in painted[number].clips:
                result[number] = _cut(result[number], self._area(clip))
        return result

    def _area(self, clip: Clip) -> shapely.Geometry:
        """Return the area that a clip leaves, as one prepared geometry."""
        if clip not in self._areas:
            area = shapely.Polygon()
            for shape, parts in zip(clip.shapes, self.build(clip.shapes), strict=True):
                lit = clip.kind == "clip" or shape.light > 0.5 / 255
                if area.is_empty and lit and len(parts) == 1:
                    area = parts[0]
                elif parts:
                    merge = shapely.union if lit else shapely.difference
                    area = merge(area, shapely.union_all(parts, grid_size=GRID), grid_size=GRID)
            shapely.prepare(area)
            self._areas[clip] = area
        return self._areas[clip]

    def _line(self, painted: Painted, matrix: Matrix) -> _Line:
        """Return how a stroke is drawn; where the transform is uneven, before the transform, at its largest scale."""
        stroke = cast("Stroke", painted.stroke)
        largest, smallest = stretches(matrix)
        scale, after = largest, None
        if stroke.fixed:
            scale = stretches(self._frame)[0]
        elif largest - smallest > _EVEN * largest:
            after = multiply(matrix, (1 / scale, 0.0, 0.0, 1 / scale, 0.0, 0.0))
            matrix = (scale, 0.0, 0.0, scale, 0.0, 0.0)
        nib = Nib(
            half=stroke.width * scale / 2,
            cap=stroke.cap,
            join=stroke.join,
            miter_limit=stroke.miter_limit,
            tolerance=self._tolerance,
        )
        return _Line(name=painted.source.element, stroke=stroke, nib=nib, matrix=matrix, scale=scale, after=after)

    def _stroked(self, painted: Sequence[Painted], matrices: Sequence[Matrix]) -> list[list[Any]]:
        """Return the polygons of strokes."""
        lines = [self._line(one, matrix) for one, matrix in zip(painted, matrices, strict=True)]
        drawn = [number for number, line in enumerate(lines) if line.nib.half >= GRID]
        for number in set(range(len(lines))) - set(drawn):
            self._notes.add("left-out", painted[number].source.element, "its stroke is thinner than a nanometre")
        laid: list[list[Laid]] = [[] for _ in lines]
        if drawn:
            placed = place([painted[number].outline for number in drawn], [lines[number].matrix for number in drawn])
            for number, parts in zip(drawn, self._laid(placed, [lines[number] for number in drawn]), strict=True):
                laid[number] = parts
        moved = [
            parts if line.after is None else [part for one in parts for part in _moved(one, line.after)]
            for parts, line in zip(_merged(laid, lines), lines, strict=True)
        ]
        large = iter((shapely.area([part for parts in moved for part in parts]) > SLIVER).tolist())
        return [[part for part in parts if next(large)] for parts in moved]

    def _laid(self, placed: Placed, lines: Sequence[_Line]) -> list[list[Laid]]:
        """Return the strokes of the subpaths and of the lone points of each line."""
        found, dots = tracks(placed, self._tolerance, np.array([line.nib.half for line in lines]))
        laid: list[list[Laid]] = [[] for _ in lines]
        spots = [(owner, point, lines[owner].along) for owner, point in dots]
        drawn = []
        for owner, track in _dashed(found, lines):
            if len(track.points) == 2 and track.points[0] == track.points[1]:
                spots.append((owner, track.points[:1], complex(track.outgoing[0])))
            else:
                drawn.append((owner, track))
        for owner, point, along in spots:
            dot = stroke_dot(point, lines[owner].nib, along)
            laid[owner].extend([dot] if dot is not None else [])
        if drawn:
            nibs, names = zip(*((lines[owner].nib, lines[owner].name) for owner, _ in drawn), strict=True)
            strokes = stroke_tracks([track for _, track in drawn], nibs, names)
            for (owner, _), one in zip(drawn, strokes, strict=True):
                laid[owner].append(one)
        return laid


def _has_extent(matrix: Matrix) -> bool:
    """Whether a transform does not squash everything to a line."""
    largest, smallest = stretches(matrix)
    return smallest > largest * 1e-12


def _dashed(found: list[tuple[int, Track]], lines: Sequence[_Line]) -> list[tuple[int, Track]]:
    """Return the tracks, those of dashed lines cut up."""
    if not any(line.stroke.dashes for line in lines):
        return found
    result = [(owner, track) for owner, track in found if not lines[owner].stroke.dashes]
    for owner, line in enumerate(lines):
        own = [track for number, track in found if number == owner]
        stroke = line.stroke
        if stroke.dashes and own:
            cut = dash(own, stroke.dashes, stroke.dash_offset, line.scale, stroke.path_length)
            result.extend((owner, track) for track in cut)
    return result


def _merged(laid: list[list[Laid]], lines: Sequence[_Line]) -> list[list[Any]]:
    """Return the polygons of each line, its subpaths united where any two of them meet."""
    whole = [number for number, parts in enumerate(laid) if all(one.polygon is not None for one in parts)]
    owner = np.repeat(whole, [len(laid[number]) for number in whole]).astype(np.intp)
    polygons = np.array([one.polygon for number in whole for one in laid[number]], dtype=object)
    meeting: set[int] = set(range(len(laid))) - set(whole)
    if len(owner) > len(whole):
        first, second = near_pairs(shapely.bounds(polygons), owner)
        meeting |= set(owner[first[shapely.intersects(polygons[first], polygons[second])]].tolist())
    numbers = sorted(meeting)
    rings = covering([laid[number] for number in numbers]) if numbers else []
    names = [lines[number].name for number in numbers]
    sweeps = [Sweep(rings=own, rule="nonzero", name=name) for own, name in zip(rings, names, strict=True)]
    united = iter(swept(sweeps, touching=False))
    return [next(united) if number in meeting else [one.polygon for one in parts] for number, parts in enumerate(laid)]


def _moved(polygon: shapely.Polygon, matrix: Matrix) -> list[Any]:
    a, b, c, d, e, f = matrix

    def move(points: Floats) -> Floats:
        return points @ np.array(((a, b), (c, d))) + np.array((e, f))

    moved = shapely.transform(polygon, move)
    return [moved] if moved.is_valid else _flat(shapely.make_valid(moved))


def _cut(parts: list[Any], area: shapely.Geometry) -> list[Any]:
    """Return what of the polygons lies in the area."""
    if not parts:
        return parts
    within, meets = shapely.contains_properly(area, parts), shapely.intersects(area, parts)
    kept: list[Any] = []
    for part, inside, meeting in zip(parts, within, meets, strict=True):
        if inside:
            kept.append(part)
        elif meeting:
            kept.extend(piece for piece in _flat(shapely.intersection(part, area)) if piece.area > SLIVER)
    return kept


def _flat(geometry: shapely.Geometry) -> list[Any]:
    """Return the polygons of a geometry; points and lines are no area."""
    return [
        part
        for one in shapely.get_parts(geometry)
        for part in (shapely.get_parts(one) if one.geom_type == "GeometryCollection" else (one,))
        if part.geom_type == "Polygon" and not part.is_empty
    ]
