"""What an element is drawn in: the transform, style, viewport and clips that its ancestors hand down."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from inlayfit.read.svg_lengths import parse_numbers, parse_px
from inlayfit.read.svg_paint import Paint
from inlayfit.read.svg_scene import Clip
from inlayfit.read.svg_style import Style, font_of, geometry
from inlayfit.read.svg_transform import Matrix
from inlayfit.read.svg_tree import Node

Mode = Literal["paint", "clip", "box"]
"""Whether paint is wanted, the shapes of a clip path, or only the extent of an element."""


class Context(NamedTuple):
    """Handed from parent to child; `viewport` is the (width, height) that percentages refer to, in user units.

    Nearly every group changes something in it, and a tuple is copied in a third of the time of a dataclass.
    """

    matrix: Matrix
    inherited: Style
    viewport: tuple[float, float]
    mode: Mode = "paint"
    clips: tuple[Clip, ...] = ()
    opacity: float = 1.0
    layer: tuple[int, str] = (0, "")
    name: str = ""
    trail: tuple[Node, ...] = ()
    paints: tuple[Paint | None, Paint | None] = (None, None)
    depth: int = 0


def whole(context: Context, direction: str) -> float:
    """Return what 100 % is along "x", along "y", or for all other lengths, "r" (SVG 2, 8.9)."""
    width, height = context.viewport
    if direction == "x":
        return width
    return height if direction == "y" else math.sqrt((width**2 + height**2) / 2)


def measured(node: Node, style: Style, context: Context, name: str, direction: str) -> float | None:
    """Return a geometry property in user units, or None where it is auto, missing or no length."""
    text = geometry(node, style, name)
    if not text or text == "auto":
        return None
    try:
        return parse_px(text, font=font_of(style), whole=whole(context, direction))
    except ValueError:
        return None


def parse_viewbox(text: str) -> tuple[float, float, float, float] | None:
    """Return x, y, width, height of a viewBox, or None where there is none or it encloses nothing."""
    try:
        numbers = parse_numbers(text)
    except ValueError:
        return None
    if len(numbers) != 4 or numbers[2] <= 0 or numbers[3] <= 0:
        return None
    return numbers[0], numbers[1], numbers[2], numbers[3]


def layer_of(node: Node, current: tuple[int, str]) -> tuple[int, str]:
    """Return the layer below a group: a real layer beats a label, a label an id; of equals the outermost."""
    label = node.attrs.get("label:label", "")
    title = label or node.attrs.get("id", "")
    if not title:
        return current
    rank = 3 if node.attrs.get("label:groupmode") == "layer" else 2 if label else 1
    return (rank, title) if rank > current[0] else current
