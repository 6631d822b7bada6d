"""A rectangle behind everything else: the page that a program drew under the artwork, or the frame of a sheet.

It is named whenever there is one, and left out only when that is asked for: a plaque with a motif looks the same.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from inlayfit.drawing import Drawing, ReadNote, Region
from inlayfit.units import format_mm

ALMOST_ALL = 0.98
"""A backdrop is at least this much of the width and of the height of the drawing: strokes may stick out of it."""

SQUARE = 1e-3
"""Of its size: by so much the area of a rectangle may differ from that of its bounding box."""

MOSTLY_OPEN = 0.7
"""A frame with a rectangular opening of at least this share of its area is a band round the artwork."""

DUST_MM2 = 1e-6


def backdrop_of(drawing: Drawing) -> Region | None:
    """Return the rectangle that lies under or around all other regions, or around all of its own holes."""
    if not drawing.regions:
        return None
    lowest = drawing.regions[0]
    if len(drawing.regions) == 1 and not lowest.polygon.interiors:
        return None
    if not _is_rectangle(lowest.polygon.exterior):
        return None
    left, bottom, right, top = lowest.polygon.bounds
    across, up = drawing.size
    return lowest if right - left >= ALMOST_ALL * across and top - bottom >= ALMOST_ALL * up else None


def named(drawing: Drawing) -> Drawing:
    """Return the drawing with a note that asks about its backdrop, if there is one."""
    backdrop = backdrop_of(drawing)
    if backdrop is None:
        return drawing
    note = ReadNote(
        kind="assumed",
        subject=backdrop.name,
        message=f"this rectangle of {_size(backdrop)} lies behind everything else, and is taken as a part to cut",
        remedy="a page or a frame? leave it out with --ignore-page",
    )
    return replace(drawing, notes=(*drawing.notes, note))


def without_backdrop(drawing: Drawing) -> Drawing:
    """Return the drawing without its backdrop, the lower left of the rest at the origin, with a note.

    Where shapes were holes in it, they become regions, and what lay in them becomes their holes.
    """
    backdrop = backdrop_of(drawing)
    if backdrop is None:
        return replace(drawing, notes=(*drawing.notes, _none_found()))
    inner, others = _turned_out(backdrop, drawing.regions[1:])
    regions = (*inner, *others)
    if not regions:
        return replace(drawing, notes=(*drawing.notes, _none_found()))
    message = f"the rectangle of {_size(backdrop)} behind everything else is ignored, as asked"
    note = ReadNote(kind="left-out", subject=backdrop.name, message=message)
    return at_origin(replace(drawing, regions=regions, notes=(*drawing.notes, note)))


def at_origin(drawing: Drawing, factor: float = 1.0) -> Drawing:
    """Return the drawing with the lower left of its regions at 0, 0, then enlarged."""
    left, bottom, _, _ = drawing.bounds
    corner = np.array((left, bottom))

    def moved(polygon: shapely.Polygon) -> shapely.Polygon:
        return shapely.transform(polygon, lambda points: (points - corner) * factor)

    regions = tuple(replace(region, polygon=moved(region.polygon)) for region in drawing.regions)
    notes = tuple(
        note if note.at is None else replace(note, at=((note.at[0] - left) * factor, (note.at[1] - bottom) * factor))
        for note in drawing.notes
    )
    lines = tuple(
        replace(one, line=shapely.transform(one.line, lambda points: (points - corner) * factor))
        for one in drawing.lines
    )
    return replace(drawing, regions=regions, notes=notes, lines=lines, scale=drawing.scale * factor)


def _none_found() -> ReadNote:
    message = "no rectangle lies behind everything else, so --ignore-page leaves nothing out"
    return ReadNote(kind="assumed", subject="page", message=message)


def _size(region: Region) -> str:
    left, bottom, right, top = region.polygon.bounds
    return f"{format_mm(right - left, 1)[:-3]} x {format_mm(top - bottom, 1)}"


def _is_rectangle(ring: shapely.LinearRing) -> bool:
    left, bottom, right, top = ring.bounds
    box = (right - left) * (top - bottom)
    return abs(float(shapely.Polygon(ring).area) - box) <= SQUARE * box


def _is_band(backdrop: Region, holes: list[shapely.Polygon]) -> bool:
    """Whether a backdrop is only a frame, drawn as two rectangles or as one line with a width."""
    if len(holes) != 1 or not _is_rectangle(holes[0].exterior):
        return False
    return float(holes[0].area) >= MOSTLY_OPEN * float(shapely.Polygon(backdrop.polygon.exterior).area)


def _turned_out(backdrop: Region, others: tuple[Region, ...]) -> tuple[list[Region], list[Region]]:
    """Return what the holes of a backdrop become without it, and the other regions that stay as they are."""
    holes = [shapely.Polygon(ring) for ring in backdrop.polygon.interiors]
    if not holes or _is_band(backdrop, holes):
        return [], list(others)
    own = [region for region in others if region.layer == backdrop.layer]
    islands = [region for region in own if any(hole.contains_properly(region.polygon) for hole in holes)]
    solid = shapely.difference(shapely.union_all(holes), shapely.union_all([region.polygon for region in islands]))
    parts = [part for part in shapely.get_parts(solid) if part.geom_type == "Polygon" and part.area > DUST_MM2]
    inner = [
        replace(backdrop, polygon=part, name=f"{backdrop.name} inside {number}")
        for number, part in enumerate(parts, start=1)
    ]
    return inner, [region for region in others if region not in islands]
