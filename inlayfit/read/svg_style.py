"""The style of an element: presentation attributes, style sheets, style attribute, inheritance (SVG 2, chapter 6)."""

from __future__ import annotations

import math
import re
from typing import Any

from tinycss2 import color3, color4

from inlayfit.read.svg_css import parse_declarations
from inlayfit.read.svg_font_style import longhands_of_font
from inlayfit.read.svg_lengths import DEFAULT_FONT_PX, parse_px, unit_of
from inlayfit.read.svg_tree import Node

Style = dict[str, str]

INHERITED = frozenset(
    [
        "clip-rule",
        "color",
        "fill",
        "fill-opacity",
        "fill-rule",
        "dominant-baseline",
        "font-family",
        "font-size",
        "font-style",
        "font-weight",
        "letter-spacing",
        "marker-end",
        "marker-mid",
        "marker-start",
        "paint-order",
        "stroke",
        "stroke-dasharray",
        "stroke-dashoffset",
        "stroke-linecap",
        "stroke-linejoin",
        "stroke-miterlimit",
        "stroke-opacity",
        "stroke-width",
        "text-anchor",
        "visibility",
        "word-spacing",
        "writing-mode",
    ]
)
_OWN = frozenset(
    [
        "clip-path",
        "display",
        "filter",
        "mask",
        "mask-type",
        "opacity",
        "overflow",
        "stop-color",
        "stop-opacity",
        "transform",
        "transform-box",
        "transform-origin",
        "vector-effect",
    ]
)
GEOMETRY = frozenset(["cx", "cy", "d", "height", "r", "rx", "ry", "width", "x", "y"])
_ATTRIBUTES = INHERITED | _OWN

_VAR = re.compile(r"var\(\s*(--[^\s,)]+)\s*(?:,([^()]*(?:\([^()]*\)[^()]*)*))?\)")
_FONT_SIZES = {
    "xx-small": 9.6, "x-small": 12.0, "small": 14.2, "medium": 16.0, "large": 19.2, "x-large": 24.0, "xx-large": 32.0,
}  # fmt: skip  # CSS Fonts 3, section 3.5, at a medium of 16 px
_LENGTHS = ("stroke-width", "stroke-dashoffset", "stroke-dasharray")


def declared(node: Node) -> Style:
    """Return what is declared on the element itself, the strongest declaration of each property."""
    result = {name: value.strip() for name, value in node.attrs.items() if value and name in _ATTRIBUTES}
    inline = parse_declarations(node.attrs["style"]) if "style" in node.attrs else []
    if not inline and not node.ruled:
        return result
    for important in (False, True):
        for name, value, marked in (*node.ruled, *inline):
            if marked == important:
                result.update(_longhands(name, value))
    return result


def _longhands(name: str, value: str) -> Style:
    if name == "marker":
        return dict.fromkeys(("marker-start", "marker-mid", "marker-end"), value)
    if name == "font":
        return longhands_of_font(value)
    return {name: value}


def computed(node: Node, inherited: Style) -> tuple[Style, Style]:
    """Return the style that the children inherit and the element's own style, which includes it."""
    own = declared(node)
    return _cascaded(own, inherited) if own else (inherited, inherited)


class Styles:
    """The computed styles of one drawing: what many elements declare alike is worked out once, as one and the same."""

    def __init__(self) -> None:
        self._known: dict[tuple[object, ...], tuple[Style, tuple[Style, Style]]] = {}  # what is kept keeps its id

    def computed(self, node: Node, inherited: Style) -> tuple[Style, Style]:
        """Return what `computed` does."""
        own = declared(node)
        if not own:
            return inherited, inherited
        key = (id(inherited), *own.items())
        if key not in self._known:
            self._known[key] = (inherited, _cascaded(own, inherited))
        return self._known[key][1]


def _cascaded(own: Style, inherited: Style) -> tuple[Style, Style]:
    if any("var(" in value for value in own.values()):
        known = inherited | own
        own = {name: _resolved(value, known) for name, value in own.items()}
    for name, value in list(own.items()):
        if value in {"inherit", "unset", "initial", "revert"}:
            del own[name]
            if (value == "inherit" or (value != "initial" and _is_inherited(name))) and name in inherited:
                own[name] = inherited[name]
            elif value == "initial" and _is_inherited(name):
                own[name] = _INITIAL.get(name, "")
    if "font-size" in own:
        own["font-size"] = f"{_font_px(own['font-size'], inherited)}"
    for name in _LENGTHS:
        if name in own and own[name][-1:].isalpha() and unit_of(own[name]) in {"em", "ex", "ch", "rem"}:
            own[name] = f"{parse_px(own[name], font=font_of(inherited | own))}"
    passed = {name: value for name, value in own.items() if _is_inherited(name)}
    return (inherited | passed if passed else inherited), inherited | own


def _is_inherited(name: str) -> bool:
    return name in INHERITED or name.startswith("--")


_INITIAL = {
    "fill": "black", "stroke": "none", "color": "black", "fill-rule": "nonzero", "clip-rule": "nonzero",
    "stroke-width": "1", "stroke-linecap": "butt", "stroke-linejoin": "miter", "stroke-miterlimit": "4",
    "stroke-dasharray": "none", "stroke-dashoffset": "0", "visibility": "visible", "fill-opacity": "1",
    "stroke-opacity": "1", "marker-start": "none", "marker-mid": "none", "marker-end": "none",
    "paint-order": "normal", "font-size": f"{DEFAULT_FONT_PX}",
}  # fmt: skip


def _resolved(value: str, known: Style) -> str:
    for _ in range(8):  # custom properties may name each other; a circle ends here
        found = _VAR.search(value)
        if found is None:
            return value
        value = value[: found.start()] + known.get(found[1], found[2] or "").strip() + value[found.end() :]
    return ""


def font_of(style: Style) -> float:
    """Return the font size in px."""
    return float(style.get("font-size", DEFAULT_FONT_PX))


def _font_px(text: str, inherited: Style) -> float:
    outer = font_of(inherited)
    if text in _FONT_SIZES:
        return _FONT_SIZES[text]
    try:
        size = parse_px(text, font=outer, whole=outer)
    except ValueError:
        return outer
    return size if 0 <= size < math.inf else outer


def number(style: Style, name: str, default: float, node: Node | None = None) -> float:
    """Return a plain number or a percentage (as a fraction) of a property; the default where it is neither."""
    text = style.get(name) or (node.attrs.get(name, "") if node is not None else "")
    try:
        return parse_px(text, whole=1.0) if text else default
    except ValueError:
        return default


def geometry(node: Node, style: Style, name: str) -> str:
    """Return a geometry property, from the style (SVG 2) or from the attribute."""
    if name in GEOMETRY and name in style:
        return style[name]
    return node.attrs.get(name, "").strip()


def reference(text: str) -> str | None:
    """Return the id in ``url(#id)``, or None where the text is no reference within the file."""
    found = re.match(r"""\s*url\(\s*["']?\s*#([^"')]+?)\s*["']?\s*\)""", text)
    return found[1] if found else None


def colour_of(text: str) -> tuple[str, float] | None:
    """Return ``#rrggbb`` and alpha, or None where the text is no colour (``currentColor`` is none here)."""
    plain = text.split(" icc-color(", maxsplit=1)[0].strip()
    parsed: Any = color3.parse_color(plain)
    if parsed is None or parsed == "currentColor":
        parsed = color4.parse_color(plain)
        if parsed is None or parsed == "currentcolor":
            return None
        parsed = parsed.to("srgb")
        channels = [part if part is not None else 0.0 for part in parsed.coordinates]
        alpha = parsed.alpha
    else:
        channels, alpha = [parsed.red, parsed.green, parsed.blue], parsed.alpha
    red, green, blue = (min(max(round(channel * 255), 0), 255) for channel in channels)
    return f"#{red:02x}{green:02x}{blue:02x}", float(alpha)
