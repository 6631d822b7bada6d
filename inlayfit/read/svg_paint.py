"""Which colour a fill or a stroke has; gradients and patterns count as one colour, with a note."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from inlayfit.read.svg_notes import Notes
from inlayfit.read.svg_style import Style, colour_of, computed, number, reference
from inlayfit.read.svg_tree import Node

_DEEPEST = 64  # gradients that take their stops from each other: a circle ends here
GRADIENTS = frozenset({"linearGradient", "radialGradient"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Paint:
    """``#rrggbb`` and how opaque it is, 0 to 1; `boxed` paints have no extent on a line (SVG 2, 14.2.3)."""

    colour: str
    alpha: float
    boxed: bool = False


def resolve(
    text: str, style: Style, by_id: dict[str, Node], notes: Notes, context: tuple[Paint | None, Paint | None]
) -> Paint | None:
    """Return the paint of a fill or stroke value, or None where it paints nothing."""
    text = text.strip()
    if text in {"", "none"}:
        return None
    if text in {"context-fill", "context-stroke"}:
        return context[text == "context-stroke"]
    if text.startswith("url("):
        return _server(text, style, by_id, notes, context)
    if text.lower() == "currentcolor":
        text = style.get("color", "black")
    return _plain(text)


@lru_cache(maxsize=4096)
def _plain(text: str) -> Paint:
    colour, alpha = colour_of(text) or ("#000000", 1.0)
    return Paint(colour=colour, alpha=alpha)


def _server(
    text: str, style: Style, by_id: dict[str, Node], notes: Notes, context: tuple[Paint | None, Paint | None]
) -> Paint | None:
    node = by_id.get(reference(text) or "")
    if node is None or node.tag not in {*GRADIENTS, "pattern"}:
        return resolve(text.partition(")")[2], style, by_id, notes, context)
    chain = list(_chain(node, by_id))
    if node.tag == "pattern":
        return _pattern(chain, by_id, notes)
    stops = next((found for one in chain if (found := [child for child in one.children if child.tag == "stop"])), [])
    if not stops:
        return None
    colours = [_stop(stop) for stop in stops]
    if len({colour for colour, _ in colours}) > 1:
        notes.add("assumed", node.label, "a gradient is taken as one colour, the mean of its stops")
    if len({alpha for _, alpha in colours}) > 1:
        notes.add("assumed", node.label, "a gradient that fades is taken as solid all over")
    units = next((one.attrs["gradientUnits"] for one in chain if "gradientUnits" in one.attrs), "")
    boxed = units != "userSpaceOnUse" and len(stops) > 1
    return Paint(colour=_mean([colour for colour, _ in colours]), alpha=max(alpha for _, alpha in colours), boxed=boxed)


def _chain(node: Node, by_id: dict[str, Node]) -> Iterator[Node]:
    """Yield a paint server and those that it takes the rest from."""
    for _ in range(_DEEPEST):
        yield node
        following = by_id.get(node.attrs.get("href", "").removeprefix("#"))
        if following is None:
            return
        node = following


def style_of(node: Node) -> Style:
    """Return the style of an element where it stands in the file, whoever refers to it."""
    line = [node]
    while line[-1].parent is not None:
        line.append(line[-1].parent)
    inherited: Style = {}
    style: Style = {}
    for element in reversed(line):
        inherited, style = computed(element, inherited)
    return style


def _stop(node: Node) -> tuple[str, float]:
    style = style_of(node)
    text = style.get("stop-color", "black")
    paint = _plain(style.get("color", "black") if text.lower() == "currentcolor" else text)
    return paint.colour, paint.alpha * number(style, "stop-opacity", 1.0)


def _mean(colours: list[str]) -> str:
    channels = [[int(colour[at : at + 2], 16) for colour in colours] for at in (1, 3, 5)]
    return "#" + "".join(f"{round(sum(channel) / len(channel)):02x}" for channel in channels)


def _pattern(chain: list[Node], by_id: dict[str, Node], notes: Notes) -> Paint | None:
    """Return the first colour painted inside the pattern."""
    inside = next((node.children for node in chain if node.children), None)
    if inside is None:
        return None
    notes.add("assumed", chain[0].label, "a pattern is taken as one colour over the whole area", "draw it as shapes")
    waiting = list(reversed(inside))
    for _ in range(1000):
        if not waiting:
            break
        node = waiting.pop()
        style = style_of(node)
        for name in ("fill", "stroke"):
            text = style.get(name, "")
            if node.tag not in {"g", "use"} and text not in {"", "none"} and not text.startswith("url("):
                return resolve(text, style, by_id, notes, (None, None))
        waiting.extend(reversed(node.children))
    return Paint(colour="", alpha=1.0)
