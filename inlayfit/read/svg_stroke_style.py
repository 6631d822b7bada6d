"""The stroke properties of an element (SVG 2, section 13.5)."""

from __future__ import annotations

from typing import cast

from inlayfit.read.outline import LARGEST_COORDINATE
from inlayfit.read.stroke_sides import Cap, Join
from inlayfit.read.svg_context import Context, whole
from inlayfit.read.svg_lengths import parse_px
from inlayfit.read.svg_scene import Stroke
from inlayfit.read.svg_style import Style, font_of
from inlayfit.read.svg_tree import Node

_JOINS = {"miter": "miter", "miter-clip": "miter", "arcs": "miter", "round": "round", "bevel": "bevel"}


def stroke_of(node: Node, style: Style, context: Context) -> Stroke:
    """Return how the line of an element is drawn; what is no valid value counts as not given."""
    cap = style.get("stroke-linecap", "butt")
    join = style.get("stroke-linejoin", "miter")
    limit = _length(style.get("stroke-miterlimit", ""), style, context, 4.0)
    return Stroke(
        width=_length(style.get("stroke-width", ""), style, context, 1.0),
        cap=cast("Cap", cap if cap in {"butt", "round", "square"} else "butt"),
        join=cast("Join", _JOINS.get(join, "miter")),
        miter_limit=limit if limit >= 1 else 4.0,
        dashes=_dashes(style, context),
        dash_offset=_length(style.get("stroke-dashoffset", ""), style, context, 0.0),
        path_length=_path_length(node),
        fixed=style.get("vector-effect", "none") == "non-scaling-stroke",
    )


def _length(text: str, style: Style, context: Context, default: float) -> float:
    try:
        return parse_px(text, font=font_of(style), whole=whole(context, "r")) if text else default
    except ValueError:
        return default


def _dashes(style: Style, context: Context) -> tuple[float, ...]:
    """Return the dash array, of even count, or nothing for a solid line."""
    text = style.get("stroke-dasharray", "none")
    if text in {"", "none"}:
        return ()
    try:
        lengths = [
            parse_px(part, font=font_of(style), whole=whole(context, "r")) for part in text.replace(",", " ").split()
        ]
    except ValueError:
        return ()
    if min(lengths) < 0 or sum(lengths) <= 0:
        return ()
    lengths = [min(length, LARGEST_COORDINATE) for length in lengths]
    return tuple(lengths if len(lengths) % 2 == 0 else lengths * 2)


def _path_length(node: Node) -> float | None:
    try:
        value = parse_px(node.attrs.get("pathLength", ""))
    except ValueError:
        return None
    return value if value > 0 else None
