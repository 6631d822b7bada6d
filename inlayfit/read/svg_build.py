"""From curves to polygons: fills by their rule, strokes as areas, clips and masks cut, at a stated tolerance."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import shapely

from inlayfit.read.dash import dash
from inlayfit.read.fill import GRID, SLIVER, fill
from inlayfit.read.flatten import Track, rings, tracks
from inlayfit.read.outline import Floats
from inlayfit.read.stroke import Nib, stroke_dot, stroke_track
from inlayfit.read.svg_notes import Notes
from inlayfit.read.svg_scene import Clip, Painted, Stroke
from inlayfit.read.svg_transform import Matrix, multiply, stretches

_EVEN = 1e-9  # a transform that stretches both ways alike, within this, draws round strokes as they are


class Builder:
    """Makes polygons in the coordinates of `frame`, which leads from px of the page to the finished drawing."""

    def __init__(self, frame: Matrix, tolerance: float, notes: Notes) -> None:
        self._frame = frame
        self._tolerance = tolerance
        self._notes = notes
        self._areas: dict[Clip, Any] = {}

    def polygons(self, painted: Painted) -> list[Any]:
        """Return the valid polygons of one fill or stroke, after its clips."""
        matrix = multiply(self._frame, painted.matrix)
        largest, smallest = stretches(matrix)
        if smallest <= largest * 1e-12:
            return []  # squashed to a line by its transform
        if painted.stroke is None:
            parts, repaired = fill(rings(painted.outline, matrix, self._tolerance), painted.rule)
            if repaired and painted.source.element:
                self._notes.add(
                    "repaired",
                    painted.source.element,
                    f"its outline crosses or touches itself; cut apart by {painted.rule}",
                )
        else:
            parts = self._stroked(painted, painted.stroke, matrix)
        for clip in painted.clips:
            parts = _cut(parts, self._area(clip))
        return parts

    def _area(self, clip: Clip) -> shapely.Geometry:
        """Return the area that a clip leaves, as one prepared geometry."""
        if clip not in self._areas:
            area = shapely.Polygon()
            for shape in clip.shapes:
                parts = self.polygons(shape)
                lit = clip.kind == "clip" or shape.light > 0.5 / 255
                if area.is_empty and lit and len(parts) == 1:
                    area = parts[0]
                elif parts:
                    merge = shapely.union if lit else shapely.difference
                    area = merge(area, shapely.union_all(parts, grid_size=GRID), grid_size=GRID)
            shapely.prepare(area)
            self._areas[clip] = area
        return self._areas[clip]

    def _stroked(self, painted: Painted, stroke: Stroke, matrix: Matrix) -> list[Any]:
        """Return the stroke; where the transform is uneven it is drawn before the transform, at its largest scale."""
        largest, smallest = stretches(matrix)
        after: Matrix | None = None
        if stroke.fixed:
            scale = stretches(self._frame)[0]
        elif largest - smallest <= _EVEN * largest:
            scale = largest
        else:
            scale = largest
            after = multiply(matrix, (1 / scale, 0.0, 0.0, 1 / scale, 0.0, 0.0))
            matrix = (scale, 0.0, 0.0, scale, 0.0, 0.0)
        nib = Nib(
            half=stroke.width * scale / 2,
            cap=stroke.cap,
            join=stroke.join,
            miter_limit=stroke.miter_limit,
            tolerance=self._tolerance,
        )
        if nib.half < GRID:
            self._notes.add("left-out", painted.source.element, "its stroke is thinner than a nanometre")
            return []
        lines, dots = tracks(painted.outline, matrix, self._tolerance, nib.half)
        parts: list[Any] = []
        along = np.array((matrix[0], matrix[1])) / math.hypot(matrix[0], matrix[1])
        for dot in dots:
            parts.extend(stroke_dot(dot, nib, along))
        for line in self._dashed(lines, stroke, scale):
            short = len(line.points) == 2 and not (line.points[0] != line.points[1]).any()
            parts.extend(stroke_dot(line.points[:1], nib, line.outgoing[0]) if short else stroke_track(line, nib))
        parts = _merged(parts)
        if after is not None:
            parts = [part for one in parts for part in _moved(one, after)]
        return [part for part in parts if part.area > SLIVER]

    def _dashed(self, lines: list[Track], stroke: Stroke, scale: float) -> list[Track]:
        if not stroke.dashes:
            return lines
        return dash(lines, stroke.dashes, stroke.dash_offset, scale, stroke.path_length)


def _merged(parts: list[Any]) -> list[Any]:
    """Unite the parts of a stroke where any two of them meet."""
    if len(parts) < 2:
        return parts
    first, _second = shapely.STRtree(parts).query(parts, predicate="intersects")
    if len(first) == len(parts):
        return parts
    return _flat(shapely.union_all(parts, grid_size=GRID))


def _moved(polygon: shapely.Polygon, matrix: Matrix) -> list[Any]:
    a, b, c, d, e, f = matrix

    def move(points: Floats) -> Floats:
        return points @ np.array(((a, b), (c, d))) + np.array((e, f))

    moved = shapely.transform(polygon, move)
    return [moved] if moved.is_valid else _flat(shapely.make_valid(moved))


def _cut(parts: list[Any], area: shapely.Geometry) -> list[Any]:
    """Return what of the polygons lies in the area."""
    kept: list[Any] = []
    for part in parts:
        if shapely.contains_properly(area, part):
            kept.append(part)
        elif shapely.intersects(area, part):
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
