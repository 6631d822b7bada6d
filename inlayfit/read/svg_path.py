"""The grammar of path data (SVG 2, section 9.3) to an outline."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import chain, pairwise

from inlayfit.errors import DrawingError
from inlayfit.read.outline import Outline, Pen, Point

MOST_SEGMENTS = 300_000
"""Of one path: a traced photograph, not an outline; its polygons would take minutes."""

# Possessive throughout: no digit of a number is given to what follows, "25 6" is no 2, 5, 6
_NUMBER = r"[+-]?+(?:[0-9]++\.?+[0-9]*+|\.[0-9]++)(?:[eE][+-]?[0-9]+)?+"
_TOKEN = re.compile(rf"[MmZzLlHhVvCcSsQqTtAa]|{_NUMBER}")
_TOKENS = re.compile(rf"{_TOKEN.pattern}|[^ \t\n\r\f,]")  # the last is a fault: neither a command nor a number
_WHOLE = rf" ?({_NUMBER})"
_ARC = re.compile(rf"{_WHOLE * 3} ?([01]) ?([01]){_WHOLE * 2}")
_FLAGS = frozenset("01")
_ARC_NUMBERS = 7


def parse_path(text: str) -> tuple[Outline, bool]:
    """Return the outline and whether the data was sound; by SVG 2, 9.5.4, it is drawn up to the first fault."""
    tokens = _TOKENS.findall(text)
    if not tokens or tokens[0] not in "Mm":
        return Pen().outline(), text.strip() in {"", "none"}
    try:
        return _drawn(tokens)
    except (KeyError, ValueError):  # no such command, no number
        fault = next(place for place, token in enumerate(tokens) if not _TOKEN.fullmatch(token))
        return _drawn(tokens[:fault])[0], False


def _drawn(tokens: list[str]) -> tuple[Outline, bool]:
    """Return the outline up to a segment that lacks numbers, and whether there is no such one."""
    if len(tokens) > MOST_SEGMENTS:
        _bound(tokens)
    pen, family = Pen(), ""
    control: Point | None = None
    command, numerals = tokens[0], []
    for token in chain(tokens[1:], "Z"):
        if token < "A":
            numerals.append(token)
            continue
        draw, wanted, kin, relative = _DRAW[command]
        numbers, count = [*map(float, numerals)], len(numerals)
        is_whole = count == wanted or not wanted or (count and count % wanted == 0)
        if wanted == _ARC_NUMBERS and not (is_whole and _FLAGS.issuperset(numerals[3::7] + numerals[4::7])):
            numbers, is_whole = _run_together(" ".join(numerals))
        if not is_whole:
            del numbers[len(numbers) // wanted * wanted :]
        control = draw(pen, numbers, relative, control if kin == family else None)
        if not is_whole:
            return pen.outline(), False
        family, command, numerals = kin, token, []
    return pen.outline(), True


def _bound(tokens: list[str]) -> None:
    """Refuse a path of more segments than `MOST_SEGMENTS`."""
    letters, count = [place for place, token in enumerate(tokens) if token >= "A"], 0
    for place, end in pairwise([*letters, len(tokens)]):
        wanted = _DRAW[tokens[place]][1]
        count += (end - place - 1) // wanted - (tokens[place] in "Mm") if wanted else 1
    if count > MOST_SEGMENTS:
        raise DrawingError(f"a path of over {MOST_SEGMENTS:,} segments", remedy="simplify it, or split it")


def _run_together(body: str) -> tuple[list[float], bool]:
    """Return the numbers of arcs whose flags may stand without anything between them and what follows.

    And whether they are all that there is.
    """
    arcs = list(_ARC.finditer(body))
    contiguous = all(arc.start() == before.end() for before, arc in pairwise(arcs))
    if not arcs or arcs[0].start() != 0 or not contiguous:
        return [], False
    return [float(number) for arc in arcs for number in arc.groups()], arcs[-1].end() == len(body)


def _close(pen: Pen, n: list[float], relative: bool, control: Point | None) -> None:  # noqa: ARG001  # one signature
    pen.close()


def _move(pen: Pen, n: list[float], relative: bool, control: Point | None) -> None:
    if n:
        x, y = pen.at if relative else (0.0, 0.0)
        pen.move(x + n[0], y + n[1])
        if len(n) > 2:
            _lines(pen, n[2:], relative, control)


def _lines(pen: Pen, n: list[float], relative: bool, control: Point | None) -> None:  # noqa: ARG001
    x, y = pen.at if relative else (0.0, 0.0)
    for i in range(0, len(n), 2):
        pen.line(x + n[i], y + n[i + 1])
        if relative:
            x, y = pen.at


def _across(pen: Pen, n: list[float], relative: bool, control: Point | None) -> None:  # noqa: ARG001
    x, y = pen.at
    for value in n:
        x = x + value if relative else value
        pen.line(x, y)


def _along(pen: Pen, n: list[float], relative: bool, control: Point | None) -> None:  # noqa: ARG001
    x, y = pen.at
    for value in n:
        y = y + value if relative else value
        pen.line(x, y)


def _cubics(pen: Pen, n: list[float], relative: bool, control: Point | None) -> Point | None:
    x, y = pen.at
    for i in range(0, len(n), 6):
        x1, y1, x2, y2, x3, y3 = n[i : i + 6]
        if relative:
            x1, y1, x2, y2, x3, y3 = x + x1, y + y1, x + x2, y + y2, x + x3, y + y3
        pen.cubic(x1, y1, x2, y2, x3, y3)
        x, y, control = x3, y3, (x2, y2)
    return control


def _smooth_cubics(pen: Pen, n: list[float], relative: bool, control: Point | None) -> Point | None:
    for i in range(0, len(n), 4):
        first = _mirrored(pen.at, control)
        x, y = pen.at if relative else (0.0, 0.0)
        control = (x + n[i], y + n[i + 1])
        pen.cubic(*first, *control, x + n[i + 2], y + n[i + 3])
    return control


def _quadratics(pen: Pen, n: list[float], relative: bool, control: Point | None) -> Point | None:
    for i in range(0, len(n), 4):
        x, y = pen.at if relative else (0.0, 0.0)
        control = (x + n[i], y + n[i + 1])
        pen.quadratic(*control, x + n[i + 2], y + n[i + 3])
    return control


def _smooth_quadratics(pen: Pen, n: list[float], relative: bool, control: Point | None) -> Point | None:
    for i in range(0, len(n), 2):
        x, y = pen.at if relative else (0.0, 0.0)
        control = _mirrored(pen.at, control)
        pen.quadratic(*control, x + n[i], y + n[i + 1])
    return control


def _mirrored(at: Point, control: Point | None) -> Point:
    """Return the control point that goes on as smoothly as the last curve ended."""
    return at if control is None else (2 * at[0] - control[0], 2 * at[1] - control[1])


def _arcs(pen: Pen, n: list[float], relative: bool, control: Point | None) -> None:  # noqa: ARG001
    for i in range(0, len(n), 7):
        x, y = pen.at if relative else (0.0, 0.0)
        pen.arc(n[i], n[i + 1], n[i + 2], n[i + 3] != 0, n[i + 4] != 0, x + n[i + 5], y + n[i + 6])


_Drawer = Callable[[Pen, list[float], bool, Point | None], Point | None]
_DRAWERS: dict[str, tuple[_Drawer, int, str]] = {
    "M": (_move, 2, ""),
    "Z": (_close, 0, ""),
    "L": (_lines, 2, ""),
    "H": (_across, 1, ""),
    "V": (_along, 1, ""),
    "C": (_cubics, 6, "C"),
    "S": (_smooth_cubics, 4, "C"),
    "Q": (_quadratics, 4, "Q"),
    "T": (_smooth_quadratics, 2, "Q"),
    "A": (_arcs, _ARC_NUMBERS, ""),
}
"""For each command: what draws it, how many numbers a segment takes, and with whom it shares a control point."""

_DRAW = {name: (*drawer, name != letter) for letter, drawer in _DRAWERS.items() for name in (letter, letter.lower())}
"""The same for either case: small letters are relative to where the pen stands."""
