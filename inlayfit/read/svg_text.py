"""Text of SVG as outlines of letters, where fonts are given (SVG 2, chapter 11, for one line set from left to right).

Letters are *addressed* in turn, once runs of spaces are one: x, y, dx, dy and rotate of an element go to its letters.
A *chunk* begins at each letter with an x or y of its own and at either end of a path, and is anchored as a whole.
Letters on a *way* stand at the end of its tangent: their x runs along it, their y away from it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from inlayfit.read.fonts import Font, draw, pick
from inlayfit.read.outline import Outline, Pen
from inlayfit.read.svg_context import Context, whole
from inlayfit.read.svg_font_style import families_of, is_slanted, weight_of
from inlayfit.read.svg_lengths import parse_px
from inlayfit.read.svg_notes import Notes
from inlayfit.read.svg_style import INHERITED, Style, computed, font_of
from inlayfit.read.svg_text_path import Way, way_of
from inlayfit.read.svg_transform import Matrix, multiply
from inlayfit.read.svg_tree import Node

MOST_LETTERS = 20_000
"""Letters of one text; an inlay has some dozens."""

LAST_SIMPLE = "\u052f"
"""Latin, Greek and Cyrillic end here; scripts beyond may run the other way or join their letters (Unicode blocks)."""

_HANGING = 0.8
"""Of the ascent: where letters that hang have their line (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Letters of one style and their outline in the user space of the text."""

    node: Node
    style: Style
    outline: Outline


@dataclass(slots=True, kw_only=True)
class _Sign:
    """One addressed letter; None where nothing was said of it."""

    text: str
    node: Node
    style: Style
    x: float | None = None
    y: float | None = None
    dx: float | None = None
    dy: float | None = None
    rotate: float | None = None
    at: tuple[float, float] = (0.0, 0.0)
    turn: float = 0.0
    way: Way | None = None
    space: float = 0.0
    """What a textLength adds behind it."""
    stretch: float = 1.0
    """What a textLength makes of its width."""


def text_runs(
    node: Node, style: Style, context: Context, fonts: Sequence[Font], notes: Notes, by_id: Mapping[str, Node]
) -> list[Run]:
    """Return the runs of a text element in order; whatever is not set as the file asks is noted."""
    setter = _Setter(context, fonts, notes, by_id)
    setter.collect(node, style)
    if setter.signs and setter.signs[-1].text == " ":
        setter.signs.pop()
    if not setter.signs:
        return []
    setter.place()
    return list(setter.runs(node))


class _Setter:
    """The letters of one text element, from collecting them to drawing them."""

    def __init__(self, context: Context, fonts: Sequence[Font], notes: Notes, by_id: Mapping[str, Node]) -> None:
        self.signs: list[_Sign] = []
        self._context = context
        self._fonts = fonts
        self._notes = notes
        self._by_id = by_id
        self._way: Way | None = None

    def collect(self, node: Node, style: Style) -> None:
        """List the letters of an element and of those in it, with the positions that it gives them."""
        first = len(self.signs)
        keep = _keeps_spaces(node)
        self._add(node.head, node, style, keep=keep)
        inherited = {name: value for name, value in style.items() if name in INHERITED or name.startswith("--")}
        for child in node.children:
            if child.tag in {"tspan", "a"}:
                _, own = computed(child, inherited)
                if own.get("display") != "none":
                    self.collect(child, own)
            elif child.tag == "textPath":
                self._along(child, computed(child, inherited)[1])
            self._add(child.tail, node, style, keep=keep)
        self._address(node, style, self.signs[first:])
        if "textLength" in node.attrs:
            self._fit(node, style, self.signs[first:])

    def _along(self, node: Node, style: Style) -> None:
        """List the letters of a textPath, with the way that they stand on."""
        if style.get("display") == "none":
            return
        target = self._by_id.get(node.attrs.get("href", "").removeprefix("#"))
        way = way_of(node, target, self._context, font_of(style))
        if way is None or self._way is not None:
            self._notes.add("left-out", node.label, "the path that its text stands on is not in this file")
            return
        if node.attrs.get("side", "left") != "left" or node.attrs.get("method", "align") != "align":
            self._notes.add(
                "assumed", node.label, "letters stand upright on the left of the path", "convert it to paths"
            )
        self._way = way
        self.collect(node, style)
        self._way = None

    def _fit(self, node: Node, style: Style, signs: Sequence[_Sign]) -> None:
        """Make the letters of an element as long as its textLength says (SVG 2, 11.5), if they stand on one line."""
        try:
            wanted = parse_px(node.attrs["textLength"], font=font_of(style), whole=whole(self._context, "x"))
        except ValueError:
            wanted = math.nan
        spread = any(sign.x is not None or sign.y is not None for sign in signs[1:])
        ways = {sign.way for sign in signs}
        length = sum(self._advance(sign) for sign in signs) + sum(sign.dx or 0.0 for sign in signs[1:])
        fitted = any(sign.space or sign.stretch != 1.0 for sign in signs)
        if not 0 <= wanted < math.inf or spread or fitted or len(ways) > 1 or length <= 0:
            self._notes.add("assumed", node.label, "its textLength is not applied", "convert it to paths")
        elif node.attrs.get("lengthAdjust") == "spacingAndGlyphs":
            for sign in signs:
                sign.stretch = wanted / length
        elif len(signs) > 1:
            for sign in signs[:-1]:
                sign.space = (wanted - length) / (len(signs) - 1)

    def _add(self, text: str, node: Node, style: Style, *, keep: bool) -> None:
        for sign in text:
            blank = sign in " \t\r\n"
            if blank and not keep and (not self.signs or self.signs[-1].text == " "):
                continue
            if len(self.signs) >= MOST_LETTERS:
                self._notes.add("left-out", node.label, f"all that comes after {MOST_LETTERS} letters")
                return
            self.signs.append(_Sign(text=" " if blank else sign, node=node, style=style, way=self._way))

    def _address(self, node: Node, style: Style, signs: Sequence[_Sign]) -> None:
        for name in ("x", "y", "dx", "dy", "rotate"):
            numbers = self._lengths(node, style, name)
            if name == "rotate" and numbers:
                numbers += numbers[-1:] * (len(signs) - len(numbers))
            for sign, number in zip(signs, numbers, strict=False):
                if getattr(sign, name) is None:
                    setattr(sign, name, number)

    def _lengths(self, node: Node, style: Style, name: str) -> list[float]:
        way = "y" if name.endswith("y") else "x"
        try:
            numbers = [
                parse_px(part, font=font_of(style), whole=whole(self._context, way))
                for part in node.attrs.get(name, "").replace(",", " ").split()
            ]
        except ValueError:
            self._notes.add("repaired", node.label, f"its {name} is no list of lengths and is not applied")
            return []
        return numbers if all(map(math.isfinite, numbers)) else []

    def place(self) -> None:
        """Give each letter its place on the line, move each chunk to its anchor, and bend those that follow a way."""
        x = y = begin = 0.0
        chunk: list[_Sign] = []
        for sign in self.signs:
            before = chunk[-1].way if chunk else sign.way
            if chunk and (sign.x is not None or sign.y is not None or sign.way is not before):
                _anchor(chunk, x - begin)
                chunk = []
            if sign.way is not before:
                x, y = (0.0, 0.0) if before is None or sign.way is not None else before.end
            x, y = x if sign.x is None else sign.x, y if sign.y is None or sign.way is not None else sign.y
            if not chunk:
                begin = x
                y = 0.0 if sign.way is not None else y
            x, y = x + (sign.dx or 0.0) * sign.stretch, y + (sign.dy or 0.0)
            sign.at, sign.turn = (x, y), math.radians(sign.rotate or 0.0)
            chunk.append(sign)
            x += self._advance(sign) * sign.stretch + sign.space
        _anchor(chunk, x - begin)
        self._bend()

    def _bend(self) -> None:
        """Set letters on their ways; those whose middle lies beyond the ends are not drawn (SVG 2, 11.8.3)."""
        drawn = []
        for sign in self.signs:
            if sign.way is not None:
                half = (self._advance(sign) - self._space(sign.style, "letter-spacing")) * sign.stretch / 2
                spot = sign.way.spot(sign.way.start + sign.at[0] + half)
                if spot is None:
                    self._notes.add("left-out", sign.node.label, "letters beyond the end of the path that it stands on")
                    continue
                x, y, turn = spot
                cos, sin = math.cos(turn), math.sin(turn)
                sign.at = (x - half * cos - sign.at[1] * sin, y - half * sin + sign.at[1] * cos)
                sign.turn += turn
            drawn.append(sign)
        self.signs = drawn

    def _advance(self, sign: _Sign) -> float:
        letter = self._font(sign).letter(sign.text)
        width = (letter.width if letter else 0.0) * font_of(sign.style) + self._space(sign.style, "letter-spacing")
        return width + (self._space(sign.style, "word-spacing") if sign.text == " " else 0.0)

    def _space(self, style: Style, name: str) -> float:
        text = style.get(name, "normal")
        try:
            return 0.0 if text == "normal" else parse_px(text, font=font_of(style), whole=font_of(style))
        except ValueError:
            return 0.0

    def _font(self, sign: _Sign) -> Font:
        style = sign.style
        families = families_of(style.get("font-family", ""))
        weight, italic = weight_of(style.get("font-weight", "")), is_slanted(style.get("font-style", ""))
        font, was_named = pick(self._fonts, families, weight, italic=italic)
        if not was_named and families:
            message = f"its font {families[0]!r} is none of those given; {font.name} is taken in its place"
            self._notes.add("assumed", sign.node.label, message, "give that font with --font")
        return font

    def runs(self, text: Node) -> Iterator[Run]:
        """Draw the letters, those that follow one another in one element together."""
        if not self.signs:
            return
        self._remark(text)
        pen, last = Pen(), self.signs[0]
        for sign in self.signs:
            if sign.node is not last.node:
                yield Run(node=last.node, style=last.style, outline=pen.outline())
                pen, last = Pen(), sign
            self._draw(sign, pen)
        yield Run(node=last.node, style=last.style, outline=pen.outline())

    def _draw(self, sign: _Sign, pen: Pen) -> None:
        font = self._font(sign)
        letter = font.letter(sign.text)
        if letter is None:
            if not sign.text.isspace():
                message = f"the letter {sign.text!r} is not in {font.name}"
                self._notes.add("left-out", sign.node.label, message, "give a font that has it with --font")
            return
        size = font_of(sign.style)
        (x, y), cos, sin = sign.at, math.cos(sign.turn), math.sin(sign.turn)
        turned: Matrix = (cos, sin, -sin, cos, x, y)
        flipped: Matrix = (size * sign.stretch, 0.0, 0.0, -size, 0.0, _baseline(sign.style, font) * size)
        draw(letter, multiply(turned, flipped), pen)

    def _remark(self, text: Node) -> None:
        self._notes.add(
            "assumed",
            text.label,
            f"set letter by letter from {self._font(self.signs[0]).name}, without kerning",
            "convert it to paths where the spacing matters",
        )
        if self.signs[0].style.get("writing-mode", "horizontal-tb")[:2] in {"ve", "tb"}:
            self._notes.add("assumed", text.label, "set from left to right, not downwards", "convert it to paths")
        if any(sign.text > LAST_SIMPLE for sign in self.signs):
            message = "its letters are set one by one from left to right; its script may join or turn them"
            self._notes.add("assumed", text.label, message, "convert it to paths")


def _anchor(chunk: Sequence[_Sign], length: float) -> None:
    """Move a chunk so that its start, middle or end stands where it began."""
    share = {"middle": 0.5, "end": 1.0}.get(chunk[0].style.get("text-anchor", "start"), 0.0)
    for sign in chunk:
        sign.at = (sign.at[0] - share * length, sign.at[1])


def _baseline(style: Style, font: Font) -> float:
    """Return how far below its place a letter stands, in font sizes (CSS Inline 3, 4.1, for the common values)."""
    name = style.get("dominant-baseline", "auto")
    if name == "middle":
        return font.small_letters / 2
    if name == "central":
        return (font.ascent + font.descent) / 2
    if name == "hanging":
        return font.ascent * _HANGING
    if name in {"text-before-edge", "text-top"}:
        return font.ascent
    return font.descent if name in {"text-after-edge", "text-bottom", "ideographic"} else 0.0


def _keeps_spaces(node: Node | None) -> bool:
    while node is not None:
        if "xml:space" in node.attrs:
            return node.attrs["xml:space"] == "preserve"
        node = node.parent
    return False
