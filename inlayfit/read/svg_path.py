"""The grammar of path data (SVG 2, section 9.3) to an outline."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator

from inlayfit.errors import DrawingError
from inlayfit.read.outline import Outline, Pen

MOST_SEGMENTS = 300_000
"""Of one path: a traced photograph, not an outline; its polygons would take minutes."""

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_COMMAND = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])([^MmZzLlHhVvCcSsQqTtAa]*)")
_NUMBERS = re.compile(_NUMBER)
_WHOLE = rf"[\s,]*((?>{_NUMBER}))"  # no digit of it is given to what follows: "25 6" is no 2, 5, 6
_ARC = re.compile(rf"{_WHOLE * 3}[\s,]*([01])[\s,]*([01]){_WHOLE * 2}")
_SPACE = str.maketrans("", "", " \t\n\r\f,")
_WANTED = {"M": 2, "Z": 0, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7}


def parse_path(text: str) -> tuple[Outline, bool]:
    """Return the outline and whether the data was sound; by SVG 2, 9.5.4, it is drawn up to the first fault."""
    pen = Pen()
    sound = True
    control, last = (0.0, 0.0), ""
    for command, numbers, sound in _segments(text):  # noqa: B007  # the last value tells whether the end was reached
        control, last = _draw(pen, command, numbers, control, last)
        if len(pen.rows) > MOST_SEGMENTS:
            raise DrawingError(f"a path of over {MOST_SEGMENTS:,} segments", remedy="simplify it, or split it")
    return pen.outline(), sound


def _segments(text: str) -> Iterator[tuple[str, list[float], bool]]:
    """Yield one command with its numbers a segment, and whether the data has been sound so far."""
    first = _COMMAND.search(text)
    head = text[: first.start()] if first else text
    sound = not head.strip() and (first is None or first[1] in "Mm")
    if first is None or not sound:
        yield "", [], not text.strip() or text.strip() == "none"
        return
    for found in _COMMAND.finditer(text):
        letter, wanted = found[1], _WANTED[found[1].upper()]
        numbers, sound = _arguments(letter, found[2])
        if wanted == 0:
            yield letter, [], sound
        for begin in range(0, len(numbers) - wanted + 1, wanted or 1) if wanted else ():
            yield letter, numbers[begin : begin + wanted], sound
            letter = {"M": "L", "m": "l"}.get(letter, letter)
        if wanted and (not numbers or len(numbers) % wanted):
            sound = False
        if not sound:
            yield "", [], False
            return


def _arguments(letter: str, text: str) -> tuple[list[float], bool]:
    """Return the numbers of one command and whether nothing else stood among them."""
    if letter in "Aa":
        arcs = list(_ARC.finditer(text))
        contiguous = all(arc.start() == before.end() for before, arc in itertools.pairwise(arcs))
        if not arcs or arcs[0].start() != 0 or not contiguous:
            return [], False
        return [float(number) for arc in arcs for number in arc.groups()], not text[arcs[-1].end() :].translate(_SPACE)
    tokens = _NUMBERS.findall(text)
    sound = len(text.translate(_SPACE)) == sum(map(len, tokens))
    if not sound:
        tokens = _up_to_fault(text)
    return [float(token) for token in tokens], sound


def _up_to_fault(text: str) -> list[str]:
    sound = re.match(rf"(?:[\s,]*{_NUMBER})*", text)
    return _NUMBERS.findall(sound[0]) if sound else []


def _draw(
    pen: Pen, command: str, n: list[float], control: tuple[float, float], last: str
) -> tuple[tuple[float, float], str]:
    """Draw one segment; returns the control point to be mirrored and the command that set it."""
    key = command.upper()
    x0, y0 = pen.at
    dx, dy = (x0, y0) if command.islower() else (0.0, 0.0)
    if key == "Z":
        pen.close()
    elif key == "M":
        pen.move(n[0] + dx, n[1] + dy)
    elif key == "L":
        pen.line(n[0] + dx, n[1] + dy)
    elif key == "H":
        pen.line(n[0] + dx, y0)
    elif key == "V":
        pen.line(x0, n[0] + dy)
    elif key == "A":
        pen.arc(n[0], n[1], n[2], n[3] != 0, n[4] != 0, n[5] + dx, n[6] + dy)
    elif key in {"C", "S"}:
        mirrored = (2 * x0 - control[0], 2 * y0 - control[1]) if last == "C" else (x0, y0)
        first = (n[0] + dx, n[1] + dy) if key == "C" else mirrored
        control = (n[-4] + dx, n[-3] + dy)
        pen.cubic(*first, *control, n[-2] + dx, n[-1] + dy)
        return control, "C"
    elif key in {"Q", "T"}:
        mirrored = (2 * x0 - control[0], 2 * y0 - control[1]) if last == "Q" else (x0, y0)
        control = (n[0] + dx, n[1] + dy) if key == "Q" else mirrored
        pen.quadratic(*control, n[-2] + dx, n[-1] + dy)
        return control, "Q"
    return control, key
