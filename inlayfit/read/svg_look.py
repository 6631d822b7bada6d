"""How the elements of one style are painted: worked out once, as a drawing has far more elements than styles."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeGuard

from inlayfit.read.flatten import box_of
from inlayfit.read.outline import Outline
from inlayfit.read.svg_context import Context
from inlayfit.read.svg_notes import Notes
from inlayfit.read.svg_paint import Paint, resolve
from inlayfit.read.svg_scene import NO_STROKE, Stroke
from inlayfit.read.svg_stroke_style import stroke_of
from inlayfit.read.svg_style import Style, number
from inlayfit.read.svg_transform import IDENTITY
from inlayfit.read.svg_tree import Node
from inlayfit.read.sweep import Rule

_ORDER = ("fill", "stroke", "markers")

MARKERS = frozenset({"marker-start", "marker-mid", "marker-end"})
"""The properties that ask for markers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """The paint inside and of the line, how the line is drawn (where it is, or where it may carry markers), the order.

    `order` names fill, stroke and markers, lowest first.
    """

    fill: Paint | None
    line: Paint | None
    stroke: Stroke
    rule: Rule
    order: tuple[str, ...]
    is_marked: bool


class Looks:
    """Finds the look of elements, and remembers it by style."""

    def __init__(self, by_id: dict[str, Node], notes: Notes) -> None:
        self._by_id = by_id
        self._notes = notes
        self._known: dict[tuple[object, ...], tuple[Style, Look]] = {}  # the style is kept: its id must stay its own

    def of(self, node: Node, style: Style, context: Context) -> Look:
        """Return the look of an element of this style."""
        key = (id(style), context.paints, context.viewport, node.attrs.get("pathLength"))
        if key not in self._known:
            self._known[key] = (style, self._found(node, style, context))
        return self._known[key][1]

    def _found(self, node: Node, style: Style, context: Context) -> Look:
        line, is_marked = self._paint(style, "stroke", "none", context), not style.keys().isdisjoint(MARKERS)
        return Look(
            fill=self._paint(style, "fill", "black", context),
            line=line,
            stroke=stroke_of(node, style, context) if line is not None or is_marked else NO_STROKE,
            rule=rule_of(style, "fill-rule"),
            order=_order_of(style["paint-order"]) if "paint-order" in style else _ORDER,
            is_marked=is_marked,
        )

    def _paint(self, style: Style, name: str, default: str, context: Context) -> Paint | None:
        paint = resolve(style.get(name, default), style, self._by_id, self._notes, context.paints)
        if paint is None:
            return None
        opacity = f"{name}-opacity"
        alpha = paint.alpha * min(max(number(style, opacity, 1.0), 0.0), 1.0) if opacity in style else paint.alpha
        if alpha <= 0:
            return None
        return paint if alpha == paint.alpha else replace(paint, alpha=alpha)


def _order_of(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*(word for word in text.split() if word in _ORDER), *_ORDER)))


def rule_of(style: Style, name: str) -> Rule:
    """Return the fill rule or the clip rule of a style."""
    return "evenodd" if style.get(name) == "evenodd" else "nonzero"


def shows(paint: Paint | None, outline: Outline) -> TypeGuard[Paint]:
    """Whether there is a paint; a gradient in units of a box without width paints nothing."""
    return paint is not None and not (paint.boxed and min(box_of([(outline, IDENTITY)])[2:]) == 0)
