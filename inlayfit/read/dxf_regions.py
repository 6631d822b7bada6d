"""Lines and areas of all entities to the regions of a drawing, with a note for whatever is not among them."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from inlayfit.drawing import ReadNote, Region
from inlayfit.errors import DrawingError
from inlayfit.read.chain import Chained, close_outlines
from inlayfit.read.chain_graph import same_boxes, same_ring
from inlayfit.read.dxf_curves import Points
from inlayfit.read.dxf_entities import Drawn, draw
from inlayfit.read.dxf_walk import Placed
from inlayfit.units import Mm, format_mm

_NAMED = 3  # a region made of more entities names the first of them and counts the rest
_LISTED = 20  # notes of one kind a layer; the rest is counted in one more
HAIR: Mm = 0.2
"""An outline that is open by no more than this was meant to be closed."""

MOST_POINTS = 2_000_000
"""Points of all curves: more takes minutes, and only a drawing in the wrong unit needs them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """An area before it has a name; `order` is that of the drawing, `is_filled` whether it is no outline."""

    polygon: shapely.Polygon
    placed: Placed
    element: str
    order: int
    is_filled: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    points: Points
    closed: bool
    order: int


def draw_all(
    placed: Sequence[Placed], scale: float, tolerance: Mm, join: Mm
) -> tuple[list[tuple[int, Drawn]], list[ReadNote]]:
    """Return what each entity is, with its number, and notes on those that could not be drawn.

    Raises:
        DrawingError: more than `MOST_POINTS`.
    """
    drawn: list[tuple[int, Drawn]] = []
    remarks: Counter[tuple[str, str, str, str]] = Counter()
    total = 0
    for order, entity in enumerate(placed):
        kind = entity.entity.dxftype()
        try:
            one = draw(entity, scale, tolerance, join)
        except DrawingError as error:
            remarks["left-out", entity.element, error.message, error.remedy] += 1
            continue
        total += sum(len(points) for points, _ in one.lines)
        if total > MOST_POINTS:
            raise DrawingError(
                f"the curves need more than {MOST_POINTS:,} points to be within the tolerance",
                remedy="set the unit with --units or the finished size with --width; save only what is to be cut",
            )
        for remark in one.remarks:
            remarks[remark[0], kind, *remark[1:]] += 1
        if not one.lines and not one.areas and all(remark[0] != "left-out" for remark in one.remarks):
            remarks["left-out", entity.element, "it has no area", ""] += 1
        drawn.append((order, one))
    return drawn, [_counted(*key, count) for key, count in remarks.items()]


def _counted(kind: str, subject: str, message: str, remedy: str, count: int) -> ReadNote:
    told = f"{message} ({count} times)" if count > 1 else message
    return ReadNote(kind=kind, subject=subject, message=told, remedy=remedy)  # type: ignore[arg-type]


def make_regions(
    placed: Sequence[Placed], drawn: Sequence[tuple[int, Drawn]], join: Mm
) -> tuple[list[Region], list[ReadNote]]:
    """Return the regions, lowest first, and notes on joints, open chains, doubles and crossings."""
    outlines, notes = _outlines(placed, drawn, join)
    filled = [
        _Found(polygon=area, placed=placed[order], element=placed[order].element, order=order, is_filled=True)
        for order, one in drawn
        for area in one.areas
    ]
    kept, more = _without_doubles(outlines, filled, join)
    return _named(sorted(kept, key=lambda found: found.order)), notes + more


def _outlines(
    placed: Sequence[Placed], drawn: Sequence[tuple[int, Drawn]], join: Mm
) -> tuple[list[_Found], list[ReadNote]]:
    layers: dict[str, list[_Line]] = {}
    for order, one in drawn:
        for points, closed in one.lines:
            layers.setdefault(placed[order].layer, []).append(_Line(points=points, closed=closed, order=order))
    found: list[_Found] = []
    notes: list[ReadNote] = []
    for layer, lines in layers.items():
        chained = close_outlines([line.points for line in lines], [line.closed for line in lines], join)
        orders = [line.order for line in lines]
        for face in chained.faces:
            own = sorted({orders[source] for source in face.sources})
            found.append(
                _Found(
                    polygon=face.polygon,
                    placed=placed[own[0]],
                    element=_listed([placed[order].element for order in own]),
                    order=own[0],
                    is_filled=False,
                )
            )
        notes.extend(_told(layer, chained, [placed[order].element for order in orders]))
    return found, notes


def _listed(names: Sequence[str]) -> str:
    names = list(dict.fromkeys(names))
    if len(names) <= _NAMED:
        return ", ".join(names)
    return f"{', '.join(names[: _NAMED - 1])} and {len(names) - _NAMED + 1} more"


def _told(layer: str, chained: Chained, elements: Sequence[str]) -> list[ReadNote]:
    """Return the notes on what became of the lines of a layer."""
    where = f"layer {layer!r}"
    notes = _capped(
        where,
        "joined",
        [
            (f"{_names(joint.sources, elements)}: a gap of {format_mm(joint.gap, 4)} was closed", joint.at)
            for joint in chained.joints
        ],
    )
    far: list[tuple[str, tuple[Mm, Mm]]] = []
    near: list[tuple[str, tuple[Mm, Mm]]] = []
    for chain in chained.opens:
        ends = f"{_place(chain.start)} to {_place(chain.end)}"
        hole = f"; the hole to the nearest end is {format_mm(chain.hole, 4)}" if chain.hole is not None else ""
        told = f"{_names(chain.sources, elements)}: open from {ends}, {format_mm(chain.length)} long{hole}"
        (near if chain.hole is not None and chain.hole <= HAIR else far).append((told, chain.end))
    notes += _capped(where, "open", far, "close it in the drawing, or raise --join if the hole is a slip")
    widest = max((chain.hole for chain in chained.opens if chain.hole is not None and chain.hole <= HAIR), default=0.0)
    wide_enough = math.ceil(widest * 1100) / 1000  # a tenth more, in whole micrometres
    notes += _capped(where, "open", near, f"open by a hair: --join {wide_enough:g}mm closes it")
    for at, length in chained.doubled:
        notes.append(_note("repaired", where, f"lines drawn over one another were merged, {format_mm(length)}", at))
    for at in chained.crossed:
        notes.append(_note("assumed", where, "lines cross or branch; each face that they enclose is a region", at))
    for at in chained.lost:
        notes.append(_note("left-out", where, "lines inside an outline divide a hole; the hole is taken whole", at))
    notes += [_note("left-out", elements[number], "it has no length", None) for number in chained.pointless]
    return notes


def _note(kind: str, subject: str, message: str, at: tuple[Mm, Mm] | None, remedy: str = "") -> ReadNote:
    return ReadNote(kind=kind, subject=subject, message=message, remedy=remedy, at=at)  # type: ignore[arg-type]


def _capped(where: str, kind: str, told: Sequence[tuple[str, tuple[Mm, Mm]]], remedy: str = "") -> list[ReadNote]:
    notes = [_note(kind, where, message, at, remedy) for message, at in told[:_LISTED]]
    if len(told) > _LISTED:
        notes.append(_note(kind, where, f"and {len(told) - _LISTED} more of this kind", told[_LISTED][1], remedy))
    return notes


def _names(sources: Iterable[int], elements: Sequence[str]) -> str:
    return _listed([elements[source] for source in sources])


def _place(point: tuple[Mm, Mm]) -> str:
    return f"({point[0]:.3f}, {point[1]:.3f})"


def _without_doubles(outlines: list[_Found], filled: list[_Found], join: Mm) -> tuple[list[_Found], list[ReadNote]]:
    """Return outlines and filled areas without those that are the same area twice.

    A filled area with the outer edge of an outline is the filling of that outline: one region, the outline's, less the
    holes of either. Of two filled areas alike, one stays, too. Edges are the same where each lies within `join` of the
    other.
    """
    every = [*outlines, *filled]
    notes: list[ReadNote] = []
    gone: set[int] = set()
    for one, other in same_boxes(shapely.bounds(np.array([found.polygon for found in every], dtype=object)), join):
        if {one, other} & gone or not every[other].is_filled:
            continue
        if same_ring(every[one].polygon.exterior, every[other].polygon.exterior, join):
            every[one] = replace(every[one], polygon=_common(every[one].polygon, every[other].polygon))
            gone.add(other)
            message = f"is the same area as {every[one].element} and makes one region with it"
            notes.append(_note("repaired", every[other].element, message, None))
    return [found for number, found in enumerate(every) if number not in gone], notes


def _common(one: shapely.Polygon, other: shapely.Polygon) -> shapely.Polygon:
    """Return the first polygon with the holes of both."""
    if not other.interiors:
        return one
    parts = shapely.get_parts(shapely.intersection(one, other))
    polygons = [part for part in parts if isinstance(part, shapely.Polygon)]
    return max(polygons, key=lambda part: float(part.area), default=one)


def _named(found: Sequence[_Found]) -> list[Region]:
    """Name the regions after their layer and their number on it."""
    counts: Counter[str] = Counter()
    regions = []
    used: set[str] = set()
    for one in found:
        layer = one.placed.layer
        counts[layer] += 1
        while (name := f"{layer}-{counts[layer]}") in used:
            counts[layer] += 1
        used.add(name)
        regions.append(
            Region(polygon=one.polygon, name=name, layer=layer, colour=one.placed.colour, element=one.element)
        )
    return regions
