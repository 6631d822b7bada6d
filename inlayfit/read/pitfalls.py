"""What goes wrong with drawings in practice, found in what was read and said in a maker's words. SVG and DXF alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from inlayfit.drawing import Drawing, ReadNote, Region
from inlayfit.read.chain_graph import same_boxes, same_ring
from inlayfit.read.outline import Floats
from inlayfit.units import MM_PER_INCH, Mm, format_mm

LARGEST_USUAL: Mm = 600.0
"""A fretboard is about 500 mm long: what is larger is seldom an inlay (common practice, no source)."""

SMALLEST_USUAL: Mm = 3.0
"""Smaller than a side dot (2 to 3 mm, common practice, no source), in width and in height."""

DPI_RATIO = 96 / 72
"""What a drawing at 72 px an inch grows by if it is taken for one at 96 px: CSS has 96 (CSS Values 3, section 5.2)."""

DOUBLE: Mm = 0.005
"""Two outlines that are nowhere farther apart are one that was drawn twice."""

MOST_NAMED = 3

MANY_POINTS = 100_000
"""An emblem has some thousands of points; over this many it was traced, and is simplified."""

SIMPLIFIED: Mm = 0.0005
"""A traced outline may change by this: half a micrometre, a hundredth of a usual gap."""

SPECK: Mm = 0.1
"""A region smaller than this in both directions is a speck: a tenth of a 1 mm bit, and no cutter leaves such a part."""


def told(drawing: Drawing, *, sized: bool) -> Drawing:
    """Return the drawing with what a maker should look at; `sized` says that the finished size was asked for."""
    drawing = _simplified(drawing)
    boxes = shapely.bounds(np.array([region.polygon for region in drawing.regions], dtype=object))
    found = *_doubles(drawing.regions, boxes), *_specks(drawing.regions, boxes)
    notes = [*found, *([] if sized else _odd_size(drawing))]
    return replace(drawing, notes=(*drawing.notes, *notes))


def _specks(regions: Sequence[Region], boxes: Floats) -> list[ReadNote]:
    """Return a note on the regions that are too small to be parts; `boxes` (n, 4) are their bounds."""
    small = np.flatnonzero((boxes[:, 2:] - boxes[:, :2]).max(axis=1, initial=0.0) < SPECK)
    if not len(small):
        return []
    specks = [regions[number] for number in small.tolist()]
    left, bottom, right, top = boxes[small[0]].tolist()
    return [
        ReadNote(
            kind="assumed",
            subject=_listed([region.name for region in specks]),
            message=f"smaller than {format_mm(SPECK)} across, and taken as drawn",
            remedy="specks of a tracing? delete them in the drawing",
            at=((left + right) / 2, (bottom + top) / 2),
        )
    ]


def _listed(names: Sequence[str]) -> str:
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return ", ".join(names[:MOST_NAMED]) + more


def _odd_size(drawing: Drawing) -> list[ReadNote]:
    """Return a note that asks, where a drawing is far too large or too small for an inlay."""
    across, up = drawing.size
    if SMALLEST_USUAL <= max(across, up) <= LARGEST_USUAL:
        return []
    large = max(across, up) > LARGEST_USUAL
    ways = [
        f"--scale {_figure(1 / ratio if large else ratio)} makes it {_size(across, up, 1 / ratio if large else ratio)}"
        for ratio in (MM_PER_INCH, DPI_RATIO)
    ]
    return [
        ReadNote(
            kind="assumed",
            subject="size",
            message=f"{_size(across, up, 1.0)} is {'large' if large else 'small'} for an inlay: is the unit right?",
            remedy=f"set --width; or, inch for mm: {ways[0]}; 72 for 96 px an inch: {ways[1]}",
        )
    ]


def _size(across: Mm, up: Mm, factor: float) -> str:
    return f"{_figure(across * factor)} x {_figure(up * factor)} mm"


def _figure(value: float) -> str:
    return f"{value:.4g}" if value < 1e4 else f"{value:.0f}"


def _doubles(regions: Sequence[Region], boxes: Floats) -> list[ReadNote]:
    """Return a note on regions that lie exactly upon one another; `boxes` (n, 4) are their bounds."""
    pairs = [
        (regions[lower], regions[upper])
        for lower, upper in same_boxes(boxes, DOUBLE)
        if len(regions[lower].polygon.interiors) == len(regions[upper].polygon.interiors)
        and same_ring(regions[lower].polygon.exterior, regions[upper].polygon.exterior, DOUBLE)
    ]
    if not pairs:
        return []
    lower, upper = pairs[0]
    more = f", and so are {len(pairs) - 1} more pairs" if len(pairs) > 1 else ""
    at = shapely.point_on_surface(upper.polygon)
    return [
        ReadNote(
            kind="assumed",
            subject=f"{lower.name}, {upper.name}",
            message=f"two identical outlines on top of each other{more}; the upper one counts",
            remedy="delete one of them",
            at=(float(at.x), float(at.y)),
        )
    ]


def _simplified(drawing: Drawing) -> Drawing:
    """Return a drawing of very many points with those gone that lie within `SIMPLIFIED` of the line without them."""
    polygons = np.array([region.polygon for region in drawing.regions], dtype=object)
    before = int(shapely.get_num_coordinates(polygons).sum())
    if before <= MANY_POINTS:
        return drawing
    simple = shapely.simplify(polygons, SIMPLIFIED, preserve_topology=False)
    spoilt = ~shapely.is_valid(simple) | shapely.is_empty(simple) | (shapely.get_type_id(simple) != _POLYGON)
    simple[spoilt] = shapely.simplify(polygons[spoilt], SIMPLIFIED, preserve_topology=True)
    spoilt = ~shapely.is_valid(simple) | shapely.is_empty(simple)
    simple[spoilt] = polygons[spoilt]
    after = int(shapely.get_num_coordinates(simple).sum())
    regions = tuple(
        replace(region, polygon=polygon) for region, polygon in zip(drawing.regions, simple.tolist(), strict=True)
    )
    note = ReadNote(
        kind="repaired",
        subject="outlines",
        message=f"{before:,} points, as of a tracing, were simplified to {after:,}; none moved by over 0.5 um",
        remedy="simplify the paths in the drawing program" if after > MANY_POINTS else "",
    )
    return replace(drawing, regions=regions, notes=(*drawing.notes, note))


_POLYGON = 3
"""The type of polygons, as shapely numbers them."""
