"""Reads a DXF file, R12 to R2018, at its finished size.

What becomes a region: closed outlines (see chain.py for how loose lines are closed and how outlines on one layer nest;
outlines on different layers are not holes of each other), hatches, solids, traces, and polylines with a width. All else
is named in a note. The lower left of the bounding box of all regions comes to lie at (0, 0).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely

from inlayfit.drawing import CURVE_TOLERANCE, Drawing, DrawnLine, ReadNote, Region
from inlayfit.errors import DrawingError
from inlayfit.read.dxf_entities import Drawn
from inlayfit.read.dxf_load import Loaded, load
from inlayfit.read.dxf_regions import draw_all, make_regions
from inlayfit.read.dxf_units import INSUNITS, no_unit, unit_by_name
from inlayfit.read.dxf_walk import Placed, walk
from inlayfit.units import Mm

if TYPE_CHECKING:
    from inlayfit.read.fonts import Font

_ROUNDS = 6
"""A finished size is met by drawing again at the size that the last round gave; two rounds are the rule."""
_TOLD = 5  # notes that an error quotes
_CLOSE = "draw closed outlines, or explode what was left out"
_ROUGH = 1e-4  # of the size: the tolerance while only the size is measured


def read_dxf(
    path: Path,
    *,
    width: Mm | None = None,
    height: Mm | None = None,
    scale: float | None = None,
    units: str | None = None,
    join: Mm = 0.01,
    fonts: Sequence[Font] = (),
    apart: frozenset[str] = frozenset(),
) -> Drawing:
    """Return the regions of a DXF file in mm, y up.

    Args:
        path: the file.
        width: finished width of the bounding box of all regions, mm.
        height: the same for its height. Of width, height and scale only one is given.
        scale: a factor on the physical size, or mm per unit where the file states no unit.
        units: the unit of the file, such as ``mm`` or ``in``; it overrides what the file says.
        join: how far apart two ends may be and still be joined, mm at the finished size.
        fonts: what texts are drawn with; without one they are named and left out.
        apart: layers whose lines are kept as lines.

    Raises:
        DrawingError: not a DXF, damaged, cut off, without a unit and a size, too large, or without any region.
        UnitError: `units` is not known.
    """
    loaded = load(path)
    walked = walk(loaded.document, fonts)
    notes = [*loaded.notes, *_counts("left-out", walked.left_out), *_counts("assumed", walked.assumed)]
    per_unit, unit_notes = _mm_per_unit(loaded, units)
    notes += unit_notes
    placed = [one for one in walked.placed if one.layer not in apart]
    try:
        if width is not None:
            factor, regions, found = _at_size(placed, 0, width, per_unit or 1.0, join)
        elif height is not None:
            factor, regions, found = _at_size(placed, 1, height, per_unit or 1.0, join)
        else:
            factor = _physical(placed, per_unit, scale, notes)
            regions, found = _at_scale(placed, factor, join)
        notes += found
        if not regions:
            raise _empty(notes)
    except DrawingError as error:
        raise _placed_error(error, path.name) from error
    lines = tuple(_lines([one for one in walked.placed if one.layer in apart], factor, join))
    return _at_origin(Drawing(source=str(path), regions=tuple(regions), notes=tuple(notes), scale=factor, lines=lines))


def _lines(placed: Sequence[Placed], factor: float, join: Mm) -> Iterator[DrawnLine]:
    """Yield the lines of entities as they are, closed ones with their first point again at the end."""
    drawn, _ = draw_all(placed, factor, CURVE_TOLERANCE, join)
    for order, one in drawn:
        for points, closed in one.lines:
            ring = np.concatenate([points, points[:1]]) if closed else points
            yield DrawnLine(line=shapely.LineString(ring), layer=placed[order].layer, element=placed[order].element)


def _placed_error(error: DrawingError, name: str) -> DrawingError:
    where = f"{name}: {error.where}" if error.where and error.where != name else name
    return DrawingError(error.message, where=where, remedy=error.remedy)


def _counts(kind: str, counted: Counter[tuple[str, str, str]]) -> list[ReadNote]:
    return [
        ReadNote(kind=kind, subject=what, message=f"{count} x {what}: {why}", remedy=remedy)  # type: ignore[arg-type]
        for (what, why, remedy), count in counted.items()
    ]


def _mm_per_unit(loaded: Loaded, units: str | None) -> tuple[Mm | None, list[ReadNote]]:
    """Return mm per unit, None where nobody says; and a note where the maker contradicts the file."""
    stated = INSUNITS.get(int(loaded.document.header.get("$INSUNITS", 0))) if loaded.states_unit else None
    if units is None:
        return (stated[1] if stated else None), []
    asked = unit_by_name(units)
    if stated is None or math.isclose(stated[1], asked):
        return asked, []
    message = f"the file says {stated[0]}, but is read in {units} as asked"
    return asked, [ReadNote(kind="assumed", subject="unit", message=message)]


def _extent(placed: Sequence[Placed], factor: float) -> tuple[float, float]:
    """Return width and height of all lines and areas, roughly, in units of the file times `factor`; else 0.

    A first look with coarse curves finds the size, a second one the curves within a part of it.
    """
    tolerance = 1.0
    size = (0.0, 0.0)
    for _ in range(2):
        drawn, _notes = draw_all(placed, factor, tolerance, 0.0)
        points = [part for _, one in drawn for part in _points(one)]
        if not points:
            return 0.0, 0.0
        corners = np.concatenate(points)
        size = (float(np.ptp(corners[:, 0])), float(np.ptp(corners[:, 1])))
        if not max(size) > 0:
            return 0.0, 0.0
        tolerance = max(size) * _ROUGH
    return size


def _points(one: Drawn) -> list[np.ndarray]:
    return [points for points, _ in one.lines] + [shapely.get_coordinates(area) for area in one.areas]


def _physical(placed: Sequence[Placed], per_unit: Mm | None, scale: float | None, notes: Sequence[ReadNote]) -> float:
    if per_unit is None and scale is None:
        extent = _extent(placed, 1.0)
        raise no_unit(*extent) if any(extent) else _empty(notes)
    return (per_unit or 1.0) * (scale or 1.0)


def _at_scale(placed: Sequence[Placed], factor: float, join: Mm) -> tuple[list[Region], list[ReadNote]]:
    drawn, notes = draw_all(placed, factor, CURVE_TOLERANCE, join)
    regions, more = make_regions(placed, drawn, join)
    return regions, notes + more


def _at_size(
    placed: Sequence[Placed], axis: int, wanted: Mm, near: float, join: Mm
) -> tuple[float, list[Region], list[ReadNote]]:
    """Return mm per unit, regions and notes for a finished width (axis 0) or height (axis 1).

    The size of the regions depends on what closes, and that on the scale; so draw, measure, and draw again until the
    size is met within a millionth; the rest is a plain scaling. The first try starts from `near` mm per unit.
    """
    extent = _extent(placed, near)[axis]
    if not extent > 0:
        return near, [], []
    factor = wanted / extent * near
    for _ in range(_ROUNDS):
        regions, notes = _at_scale(placed, factor, join)
        if not regions:
            break
        bounds = shapely.total_bounds([region.polygon for region in regions])
        off = wanted / float(bounds[axis + 2] - bounds[axis])
        factor *= off
        if abs(off - 1) < 1e-6:
            return factor, [_scaled(region, off) for region in regions], notes
    if regions:
        raise DrawingError("no scale gives that size", remedy="close the outlines in the drawing, or use --scale")
    return factor, regions, notes


def _scaled(region: Region, factor: float) -> Region:
    return replace(region, polygon=shapely.transform(region.polygon, lambda points: points * factor))


def _empty(notes: Sequence[ReadNote]) -> DrawingError:
    """Return the error for a drawing without a region; it says what there was instead."""
    found = [note for note in notes if note.subject != "unit"]
    told = "; ".join(f"{note.subject}: {note.message}" for note in found[:_TOLD])
    more = f"; and {len(found) - _TOLD} more" if len(found) > _TOLD else ""
    return DrawingError(
        f"nothing in the drawing encloses an area; {told or 'its model space is empty'}{more}",
        remedy=next((note.remedy for note in notes if note.kind == "open" and note.remedy), _CLOSE),
    )


def _at_origin(drawing: Drawing) -> Drawing:
    left, bottom, _, _ = drawing.bounds
    shift = np.array([left, bottom])
    regions = tuple(
        replace(region, polygon=_sound(shapely.transform(region.polygon, lambda points: points - shift)))
        for region in drawing.regions
    )
    notes = tuple(
        note if note.at is None else replace(note, at=(note.at[0] - left, note.at[1] - bottom))
        for note in drawing.notes
    )
    lines = tuple(
        replace(one, line=shapely.transform(one.line, lambda points: points - shift)) for one in drawing.lines
    )
    return replace(drawing, regions=regions, notes=notes, lines=lines)


def _sound(polygon: shapely.Polygon) -> shapely.Polygon:
    """Return the polygon, valid: rounding while it is moved may push a hole through the edge that it touches."""
    if polygon.is_valid:
        return polygon
    parts = shapely.get_parts(shapely.make_valid(polygon))
    return max((part for part in parts if isinstance(part, shapely.Polygon)), key=lambda part: float(part.area))
