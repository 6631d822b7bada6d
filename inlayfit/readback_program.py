"""A cutting program read again, word by word, and held against the moves that were meant.

Ends, centres and senses follow here from the words of the file alone. What no program of ours may do is refused as
well: a rapid move within the stock, a cut without feed or with the spindle at rest, an arc whose ends do not agree.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from pathlib import Path

from inlayfit.errors import WriteError
from inlayfit.programs import Program
from inlayfit.readback import REMEDY, ReadBack
from inlayfit.toolpath import Move
from inlayfit.units import MM_PER_INCH, Mm

ALLOWED: Mm = 0.00025
"""How far an end may lie from where it was meant: half of the fifth decimal of an inch along three axes at once.

For the middle of an arc it is twice that: its ends and its centre are rounded, each by itself."""

ARC_RULE: Mm = 0.002
"""By how much the two ends of an arc may differ in their distance from its centre. Source: NISTIR 6556, 3.5.3.2."""

LONGEST_LINE = 256
"""Letters. Source: NISTIR 6556, 3.3."""

_LINE = re.compile(r"\([^()]*\)|[A-Z][+-]?\d*\.?\d+(?: [A-Z][+-]?\d*\.?\d+)*")
_START = "G17 {units} G40 G49 G54 G80 G90 G94", "S{rpm:.0f} M3"
_END = ["M5", "M2"]
_MOTIONS = ("G0", "G1", "G2", "G3")


def read_back_program(path: Path, program: Program) -> ReadBack:
    """Return how well a file holds a program.

    Raises:
        WriteError: it does not: a line that is none, a move that is another one, or one that no program may make.
    """
    try:
        lines = path.read_text(encoding="ascii").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise WriteError(f"the file does not read back: {error}", where=path.name, remedy=REMEDY) from error
    found = list(_moves_of(path.name, lines, program))
    meant = program.moves
    if len(found) != len(meant):
        raise _fault(path.name, f"{len(found)} moves were read back, {len(meant)} were meant")
    off, here = 0.0, None
    for (number, move, middle), wanted in zip(found, meant, strict=True):
        far = math.dist(move[:3], wanted[:3])
        if wanted.bulge and here is not None:
            far = max(far, math.dist(middle, _middle(here, wanted)) / 2)
        feeds = (0.0 if one.feed is None else one.feed for one in (move, wanted))
        if not far <= ALLOWED or (move.feed is None) != (wanted.feed is None) or not math.isclose(*feeds, abs_tol=0.06):
            raise _fault(f"{path.name}, line {number}", f"{move} was read back, {wanted} was meant")
        off, here = max(off, far), wanted
    return ReadBack(rings=0, elements=0, moves=len(meant), largest_deviation=off)


def _moves_of(name: str, lines: list[str], program: Program) -> Iterator[tuple[int, Move, tuple[float, float]]]:
    """Yield the line, the move and the middle of it as seen from above, mm, of each line that moves the cutter."""
    scale = 1.0 if program.machine.units == "mm" else MM_PER_INCH
    at: dict[str, float] = {}
    feed = 0.0
    for number, line in _body(name, lines, program):
        where = f"{name}, line {number}"
        code, *words = line.split(" ")
        values = {word[0]: float(word[1:]) * scale for word in words}
        if code not in _MOTIONS or len(values) < len(words) or not values.keys() <= set("XYZIJF"):
            raise _fault(where, f"{line!r} has no place in a program of ours")
        feed = values.get("F", feed)
        there = at | {axis: values[axis] for axis in "XYZ" if axis in values}
        if {"X", "Y"} <= there.keys():  # but for the first, which goes up from wherever the machine stands
            _refuse(where, code, at, there, feed, program)
            yield number, *_move(where, code, at, there, values, feed)
        at = there
    if at.get("Z", 0.0) < program.machine.safe_height - ALLOWED:
        raise _fault(name, "it does not end over the work")


def _body(name: str, lines: list[str], program: Program) -> list[tuple[int, str]]:
    """Return the lines that move the cutter, with their numbers: between a head and an end that are always the same."""
    for number, line in enumerate(lines, start=1):
        if len(line) > LONGEST_LINE or not _LINE.fullmatch(line):
            raise _fault(f"{name}, line {number}", f"{line[:60]!r} is no line of a program")
    said = [(number, line) for number, line in enumerate(lines, start=1) if not line.startswith("(")]
    units = "G21" if program.machine.units == "mm" else "G20"
    head = [text.format(units=units, rpm=program.speeds.rpm) for text in _START]
    if [line for _, line in said[:2]] != head or [line for _, line in said[-2:]] != _END:
        raise _fault(name, f"it does not begin with {' / '.join(head)}, or not end with {' / '.join(_END)}")
    if not said[2][1].startswith("G4 P"):
        raise _fault(f"{name}, line {said[2][0]}", "the spindle gets no time to come up to its speed")
    return said[3:-2]


def _refuse(
    where: str, code: str, at: dict[str, float], there: dict[str, float], feed: float, program: Program
) -> None:
    """Refuse a move that no program of ours may make."""
    if there["Z"] < program.bottom - ALLOWED:
        raise _fault(where, f"Z {there['Z']:.4f} is lower than the program goes")
    if code != "G0":
        if feed <= 0:
            raise _fault(where, "a cut without a feed")
        return
    upright = all(at.get(axis) == there[axis] for axis in "XY")
    high = min(at["Z"], there["Z"]) >= program.machine.safe_height - ALLOWED
    if not (high or (upright and (there["Z"] > at["Z"] or there["Z"] > 0))):
        raise _fault(where, "a rapid move within the work")


def _move(
    where: str, code: str, at: dict[str, float], there: dict[str, float], values: dict[str, float], feed: float
) -> tuple[Move, tuple[float, float]]:
    """Return a move with the middle of it."""
    x, y, z = (there[axis] for axis in "XYZ")
    if code in ("G0", "G1"):
        return Move(x, y, z, 0.0, None if code == "G0" else feed), (x, y)
    centre = at["X"] + values["I"], at["Y"] + values["J"]
    first, last = math.dist(centre, (at["X"], at["Y"])), math.dist(centre, (x, y))
    if abs(first - last) > ARC_RULE:
        raise _fault(where, f"the ends of the arc lie {first:.4f} and {last:.4f} mm from its centre")
    begin = math.atan2(at["Y"] - centre[1], at["X"] - centre[0])
    turn = math.atan2(y - centre[1], x - centre[0]) - begin
    sweep = turn % math.tau if code == "G3" else -(-turn % math.tau)
    middle = centre[0] + first * math.cos(begin + sweep / 2), centre[1] + first * math.sin(begin + sweep / 2)
    return Move(x, y, z, math.tan(sweep / 4), feed), middle


def _middle(here: Move, there: Move) -> tuple[float, float]:
    """Return the middle of an arc as it was meant: half the chord times the bulge over the middle of the chord."""
    across, up = (there.x - here.x) / 2, (there.y - here.y) / 2
    return here.x + across + there.bulge * up, here.y + up - there.bulge * across


def _fault(where: str, message: str) -> WriteError:
    return WriteError(message, where=where, remedy=REMEDY)
