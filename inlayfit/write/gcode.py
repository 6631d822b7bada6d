"""A cutting program in the plain core of RS-274: G0, G1, G2, G3 with centres, one bit, no cutter compensation.

Source: Kramer, Proctor, Messina, The NIST RS274NGC Interpreter, Version 3, NISTIR 6556 (2000). Four decimals in mm and
five in inches keep both ends of every arc within its rule (3.5.3.2: 0.002 mm, 0.0002 in).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from inlayfit.cutters import Bit
from inlayfit.programs import Program
from inlayfit.toolpath import Move
from inlayfit.units import MM_PER_INCH, Mm, format_mm

DECIMALS = {"mm": 4, "in": 5}

LONGEST = 200
"""Letters of a comment: a line has 256 at most (NISTIR 6556, 3.3)."""

SPIN_UP_SECONDS = 5
"""For the spindle to come up to its speed. Where P counts milliseconds the way down is all the wait there is."""

CAUTIONS = (
    "starting figures: try them in waste first, and defer to the makers of machine and bit",
    "eye protection; dust extracted or bound by water: dust of shell, bone and wood harms",
    "clamps and hands clear of the bit; run it in the air once, over the work",
)


def program_bytes(program: Program) -> bytes:
    """Return the file; the same program gives the same bytes."""
    return "\n".join([*_lines(program), ""]).encode("ascii")


def _lines(program: Program) -> Iterator[str]:
    units, machine = program.machine.units, program.machine
    yield from map(comment, _head(program))
    yield f"G17 {'G21' if units == 'mm' else 'G20'} G40 G49 G54 G80 G90 G94"
    yield f"S{program.speeds.rpm:.0f} M3"
    yield f"G4 P{SPIN_UP_SECONDS}"
    yield f"G0 Z{_number(machine.safe_height, units)}"
    yield from _moves(program)
    yield "M5"
    yield "M2"


def _head(program: Program) -> Iterator[str]:
    speeds, machine = program.speeds, program.machine
    yield program.title
    yield bit_line(program.bit)
    yield f"origin: {program.origin}; Z 0 on the upper face of {program.of}"
    yield (
        f"lowest: Z {format_mm(program.bottom)}; travels at Z {format_mm(machine.safe_height)}; "
        f"{format_mm(speeds.pass_depth)} at once"
    )
    yield f"{speeds.rpm:.0f} turns a minute; feed {speeds.feed:.0f} mm/min; {program.minutes:.1f} minutes at least"
    yield from program.says
    yield from CAUTIONS


def bit_line(bit: Bit) -> str:
    """Return the bit as it is put into the machine."""
    return f"bit: {bit.label}, measured {format_mm(bit.diameter, 4)}"


def comment(text: str) -> str:
    """Return a comment that holds no sign which would end it, or that a controller may not know.

    >>> comment("A1 (leaf)")
    '(A1 [leaf])'
    """
    plain = text.replace("(", "[").replace(")", "]").encode("ascii", "replace").decode("ascii")
    return f"({''.join(sign if sign.isprintable() else ' ' for sign in plain)[:LONGEST]})"


def _moves(program: Program) -> Iterator[str]:
    """Yield the cuts, each after its name; words that change nothing are left out."""
    units = program.machine.units
    at, feed = {"Z": _number(program.machine.safe_height, units)}, ""
    for cut in program.cuts:
        yield comment(cut.label)
        for move in cut.moves:
            there = {axis: _number(value, units) for axis, value in zip("XYZ", move[:3], strict=True)}
            words = [f"{axis}{value}" for axis, value in there.items() if move.bulge or value != at.get(axis)]
            if move.bulge:
                words += _centre(at, there, move.bulge, units)
            pace = feed if move.feed is None else f"F{_rate(move.feed, units)}"
            yield " ".join([_kind(move), *words, *([pace] if pace != feed else [])])
            at, feed = there, pace


def _kind(move: Move) -> str:
    if move.feed is None:
        return "G0"
    return "G1" if not move.bulge else "G3" if move.bulge > 0 else "G2"


def _centre(at: Mapping[str, str], there: Mapping[str, str], bulge: float, units: str) -> list[str]:
    """Return I and J from where the arc starts, worked out from its ends as they are written."""
    x, y = float(at["X"]), float(at["Y"])
    across, up = float(there["X"]) - x, float(there["Y"]) - y
    aside = (1 - bulge**2) / (4 * bulge)
    offsets = {"I": across / 2 - aside * up, "J": up / 2 + aside * across}
    return [f"{letter}{_text(value, DECIMALS[units])}" for letter, value in offsets.items()]


def _number(value: Mm, units: str) -> str:
    """Return a length in the units of the program."""
    return _text(value if units == "mm" else value / MM_PER_INCH, DECIMALS[units])


def _rate(feed: float, units: str) -> str:
    """Return a feed in the units of the program, a minute."""
    return _text(feed, 1) if units == "mm" else _text(feed / MM_PER_INCH, 3)


def _text(value: float, decimals: int) -> str:
    """Return a number without trailing noughts."""
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in {"-0", ""} else text
