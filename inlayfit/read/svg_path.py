"""The grammar of path data (SVG 2, section 9.3) to an outline."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable

from inlayfit.errors import DrawingError
from inlayfit.read.outline import Outline, Pen, Point

MOST_SEGMENTS = 300_000
"""Of one path: a traced photograph, not an outline; its polygons would take minutes."""

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_COMMAND = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])([^MmZzLlHhVvCcSsQqTtAa]*)")
_NUMBERS = re.compile(_NUMBER)
_WHOLE = rf"[\s,]*((?>{_NUMBER}))"  # no digit of it is given to what follows: "25 6" is no 2, 5, 6
_ARC = re.compile(rf"{_WHOLE * 3}[\s,]*([01])[\s,]*([01]){_WHOLE * 2}")
_SPACE = str.maketrans("", "", " \t\n\r\f,")
_FLAGS = {"0", "1"}
_ARC_NUMBERS = 7


def parse_path(text: str) -> tuple[Outline, bool]:
    """Return the outline and whether the data was sound; by SVG 2, 9.5.4, it is drawn up to the first fault."""
    commands = _COMMAND.findall(text)
    if len(commands) > 3 * MOST_SEGMENTS:  # each may stand between a move and a close
        raise _too_long()
    words = [_NUMBERS.findall(body) for _, body in commands]
    if not commands or commands[0][0] not in "Mm" or text.partition(commands[0][0])[0].strip():
        return Pen().outline(), not text.strip() or text.strip() == "none"
    if sum(map(len, words)) > MOST_SEGMENTS * _ARC_NUMBERS:
        raise _too_long()
    letters = len(commands) + sum(map(len, itertools.chain.from_iterable(words)))
    is_clean = letters == len(text.translate(_SPACE))  # nothing but commands, numbers and what parts them
    pen, family, sound = Pen(), "", True
    control: Point | None = None
    for (letter, body), numerals in zip(commands, words, strict=True):
        draw, wanted, kin, relative = _DRAW[letter]
        if is_clean and wanted != _ARC_NUMBERS:
            numbers = list(map(float, numerals))
        else:
            numbers, sound = _numbers(body, numerals, is_clean=is_clean, is_arc=wanted == _ARC_NUMBERS)
        if wanted and (not numbers or len(numbers) % wanted):
            sound = False
            del numbers[len(numbers) - len(numbers) % wanted :]
        if pen.count + len(numbers) // (wanted or 1) > MOST_SEGMENTS:
            raise _too_long()
        control = draw(pen, numbers, relative, control if kin == family else None)
        family = kin
        if not sound:
            break
    return pen.outline(), sound


def _too_long() -> DrawingError:
    return DrawingError(f"a path of over {MOST_SEGMENTS:,} segments", remedy="simplify it, or split it")


def _numbers(body: str, numerals: list[str], *, is_clean: bool, is_arc: bool) -> tuple[list[float], bool]:
    """Return the numbers of one command and whether nothing else stood among them."""
    sound = is_clean or len(body.translate(_SPACE)) == sum(map(len, numerals))
    if is_arc and not (sound and len(numerals) % _ARC_NUMBERS == 0 and {*numerals[3::7], *numerals[4::7]} <= _FLAGS):
        return _run_together(body)
    return [float(numeral) for numeral in (numerals if sound else _up_to_fault(body))], sound


def _run_together(body: str) -> tuple[list[float], bool]:
    """Return the numbers of arcs whose flags may stand without anything between them and what follows."""
    arcs = list(_ARC.finditer(body))
    contiguous = all(arc.start() == before.end() for before, arc in itertools.pairwise(arcs))
    if not arcs or arcs[0].start() != 0 or not contiguous:
        return [], False
    return [float(number) for arc in arcs for number in arc.groups()], not body[arcs[-1].end() :].translate(_SPACE)


def _up_to_fault(body: str) -> list[str]:
    sound = re.match(rf"(?:[\s,]*{_NUMBER})*", body)
    return _NUMBERS.findall(sound[0]) if sound else []


def _close(pen: Pen, n: list[float], relative: bool, control: Point | None) -> None:  # noqa: ARG001  # one signature
    pen.close()


def _move(pen: Pen, n: list[float], relative: bool, control: Point | None) -> None:
    if n:
        x, y = pen.at if relative else (0.0, 0.0)
        pen.move(x + n[0], y + n[1])
        _lines(pen, n[2:], relative, control)


def _lines(pen: Pen, n: list[float], relative: bool, control: Point | None) -> None:  # noqa: ARG001
    x = y = 0.0
    for i in range(0, len(n), 2):
        if relative:
            x, y = pen.at
        pen.line(x + n[i], y + n[i + 1])


def _across(pen: Pen, n: list[float], relative: bool, control: Point | None) -> None:  # noqa: ARG001
    for value in n:
        x, y = pen.at
        pen.line(x + value if relative else value, y)


def _along(pen: Pen, n: list[float], relative: bool, control: Point | None) -> None:  # noqa: ARG001
    for value in n:
        x, y = pen.at
        pen.line(x, y + value if relative else value)


def _cubics(pen: Pen, n: list[float], relative: bool, control: Point | None) -> Point | None:
    x = y = 0.0
    for i in range(0, len(n), 6):
        if relative:
            x, y = pen.at
        control = (x + n[i + 2], y + n[i + 3])
        pen.cubic(x + n[i], y + n[i + 1], *control, x + n[i + 4], y + n[i + 5])
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
