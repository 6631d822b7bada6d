"""Markers on the vertices of lines and paths (SVG 2, chapter 13.7)."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from inlayfit.read.flatten import row_tangents
from inlayfit.read.outline import Outline
from inlayfit.read.svg_context import Context, measured, parse_viewbox
from inlayfit.read.svg_paint import Paint, style_of
from inlayfit.read.svg_scene import box_clip
from inlayfit.read.svg_style import INHERITED, Style, reference
from inlayfit.read.svg_transform import fit_viewbox, multiply, translation
from inlayfit.read.svg_tree import Node

_MARKED = frozenset({"path", "line", "polyline", "polygon"})


def marker_contexts(
    node: Node,
    style: Style,
    outline: Outline,
    context: Context,
    width: float,
    paints: tuple[Paint | None, Paint | None],
    by_id: dict[str, Node],
) -> Iterator[tuple[Node, Context]]:
    """Yield each child of each marker on an element, with the context to draw it in."""
    asked = {name: reference(style.get(f"marker-{name}", "none")) for name in ("start", "mid", "end")}
    if node.tag not in _MARKED or not any(asked.values()):
        return
    vertices = _vertices(outline)
    for index, (point, angle) in enumerate(vertices):
        place = "start" if index == 0 else "end" if index == len(vertices) - 1 else "mid"
        marker = by_id.get(asked[place] or "")
        if marker is None or marker.tag != "marker" or marker in context.trail:
            continue
        inner = _placed(marker, context, point, angle, width, start=place == "start")
        if inner is not None:
            inner = inner._replace(paints=paints, name=context.name or node.attrs.get("id", ""))
            yield from ((child, inner) for child in marker.children)


def _vertices(outline: Outline) -> list[tuple[tuple[float, float], float]]:
    """Return each vertex with its direction in radians: the bisector of the ways in and out."""
    begin, end = row_tangents(outline)
    found = []
    for span in outline.spans:
        first, last = span.first, span.last
        for row in range(first, last + 1):
            point = outline.points(row)[0] if row < last else outline.points(row - 1)[1]
            way_in = end[row - 1] if row > first else end[last - 1] if span.closed else begin[first]
            way_out = begin[row] if row < last else begin[first] if span.closed else end[last - 1]
            way = np.nan_to_num(way_in) + np.nan_to_num(way_out)
            if not way.any():
                way = np.array((-way_in[1], way_in[0]))
            found.append((point, math.atan2(way[1], way[0])))
    return found


def _placed(
    marker: Node, context: Context, point: tuple[float, float], angle: float, width: float, *, start: bool
) -> Context | None:
    """Return the context of the marker's children at a vertex, or None where the marker has no size."""
    style = style_of(marker)
    across = measured(marker, style, context, "markerWidth", "x")
    down = measured(marker, style, context, "markerHeight", "y")
    across, down = 3.0 if across is None else across, 3.0 if down is None else down
    if across <= 0 or down <= 0:
        return None
    size = 1.0 if marker.attrs.get("markerUnits") == "userSpaceOnUse" else width
    turn = _orientation(marker.attrs.get("orient", "0"), angle, start=start)
    cos, sin = math.cos(turn) * size, math.sin(turn) * size
    matrix = multiply(context.matrix, multiply(translation(*point), (cos, sin, -sin, cos, 0.0, 0.0)))
    box = parse_viewbox(marker.attrs.get("viewBox", ""))
    fitted = (
        fit_viewbox(box, across, down, marker.attrs.get("preserveAspectRatio", "")) if box else translation(0.0, 0.0)
    )
    inside = context._replace(viewport=box[2:] if box else (across, down))
    x, y = _reference_point(marker, style, inside, box)
    matrix = multiply(matrix, translation(-(fitted[0] * x + fitted[4]), -(fitted[3] * y + fitted[5])))
    clips = context.clips
    if style.get("overflow", "hidden") not in {"visible", "auto"}:
        clips = (*clips, box_clip((0.0, 0.0, across, down), matrix))
    return inside._replace(
        matrix=multiply(matrix, fitted),
        clips=clips,
        inherited={name: value for name, value in style.items() if name in INHERITED or name.startswith("--")},
        trail=(*context.trail, marker),
        depth=context.depth + 1,
    )


def _reference_point(
    marker: Node, style: Style, context: Context, box: tuple[float, float, float, float] | None
) -> tuple[float, float]:
    left, top = (box[0], box[1]) if box else (0.0, 0.0)
    words = {"left": left, "top": top, "center": 0.5, "right": 1.0, "bottom": 1.0}
    result = []
    for name, way, low, length in (("refX", "x", left, context.viewport[0]), ("refY", "y", top, context.viewport[1])):
        text = marker.attrs.get(name, "").strip()
        if text in {"center", "right", "bottom"}:
            result.append(low + words[text] * length)
        elif text in {"left", "top"}:
            result.append(low)
        else:
            result.append(measured(marker, style, context, name, way) or 0.0)
    return result[0], result[1]


def _orientation(text: str, angle: float, *, start: bool) -> float:
    """Return the turn of a marker in radians."""
    if text in {"auto", "auto-start-reverse"}:
        return angle + (math.pi if start and text == "auto-start-reverse" else 0.0)
    for unit, factor in (("deg", 1.0), ("grad", 0.9), ("turn", 360.0), ("rad", 180 / math.pi), ("", 1.0)):
        if text.endswith(unit):
            try:
                return math.radians(float(text.removesuffix(unit)) * factor)
            except ValueError:
                continue
    return 0.0
