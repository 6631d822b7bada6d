"""Lengths: what a maker types, to and from millimetres. The only 25.4 of the project stands here.

>>> parse_length("1/32in")
0.79375
>>> parse_length("31 thou")
0.7874
>>> parse_length("0.8")
0.8
"""

from __future__ import annotations

import math
import re

from inlayfit.errors import UnitError, nearest_of

Mm = float  # a length in millimetres; an alias, for a sum of two lengths is a plain float anyway

MM_PER_INCH = 25.4
"""Exact since 1959. Source: ISO 31-1; NIST SP 811 appendix B.9."""

UNITS: dict[str, float] = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "um": 0.001,
    "µm": 0.001,
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
    "ft": 12 * MM_PER_INCH,
    "thou": MM_PER_INCH / 1000,
    "mil": MM_PER_INCH / 1000,
}
LONGEST_SHOWN = 40
"""An error shows no more letters of what was typed than this."""

LARGEST: Mm = 100_000.0
"""No length of a guitar, in any unit, is over 100 m: what is larger is a slip of the keyboard."""

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_DIGITS = r"\d{1,12}"  # more of them are no fraction, and Python refuses to count them
_LENGTH = re.compile(
    rf"\s*(?P<sign>[+-]?)(?:(?P<whole>{_DIGITS})(?:\s+|-))?(?P<top>{_DIGITS})\s*/\s*(?P<bottom>{_DIGITS})"
    rf"\s*(?P<unit1>\D*?)\s*\Z"
    rf"|\s*(?P<number>{_NUMBER})\s*(?P<unit2>.*?)\s*\Z"
)


def parse_length(text: str | float, *, where: str = "") -> Mm:
    """Return millimetres for a length such as ``1/32in``, ``1 1/4"``, ``0.8 mm``, ``31thou``; a bare number is mm.

    Raises:
        UnitError: no number, an unknown unit, a fraction over nought, or not a finite length under 100 m.
    """
    if isinstance(text, bool):
        raise UnitError("a length is wanted, not true or false", where=where, remedy=EXAMPLES)
    if isinstance(text, int | float):
        return _finite(text, f"{text:g}" if isinstance(text, float) else "this number", where)
    found = _LENGTH.match(text)
    text = text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}..."
    if found is None:
        raise UnitError(f"no length in {text!r}", where=where, remedy=EXAMPLES)
    if found["top"]:
        if int(found["bottom"]) == 0:
            raise UnitError(f"{text!r} divides by nought", where=where, remedy=EXAMPLES)
        number = int(found["whole"] or 0) + int(found["top"]) / int(found["bottom"])
        number = -number if found["sign"] == "-" else number
        unit = found["unit1"]
    else:
        number, unit = float(found["number"]), found["unit2"]
    factor = UNITS.get(unit.strip().lower() or "mm")
    if factor is None:
        remedy = f"{nearest_of(unit.lower(), UNITS)}; a bare number is mm"
        raise UnitError(f"unit {unit[:LONGEST_SHOWN]!r} is not known", where=where, remedy=remedy)
    return _finite(number * factor, text, where)


EXAMPLES = "write it as 0.8mm, 1/32in, 0.031in or 31thou"


def _finite(value: Mm, text: str, where: str) -> Mm:
    if not abs(value) <= LARGEST:  # not a number fails this too
        raise UnitError(f"{text} is not a usable length", where=where, remedy=EXAMPLES)
    return float(value)


def positive_length(text: str | float, *, where: str = "", most: Mm = LARGEST) -> Mm:
    """Return a length over zero in mm; see `parse_length`.

    Raises:
        UnitError: zero or less, over `most`, or no length at all.
    """
    value = parse_length(text, where=where)
    if value <= 0:
        raise UnitError(f"{text} must be more than zero", where=where, remedy=EXAMPLES)
    return _at_most(value, text, most, where)


def zero_or_more(text: str | float, *, where: str = "", most: Mm = LARGEST) -> Mm:
    """Return a length of zero or more in mm; see `parse_length`.

    Raises:
        UnitError: less than zero, over `most`, or no length at all.
    """
    value = parse_length(text, where=where)
    if value < 0:
        raise UnitError(f"{text} must not be less than zero", where=where, remedy="give zero or more")
    return _at_most(value, text, most, where)


def _at_most(value: Mm, text: str | float, most: Mm, where: str) -> Mm:
    if value > most:
        raise UnitError(
            f"{text} is more than {format_mm(most)}, the most that makes sense here",
            where=where,
            remedy="look at the unit: a bare number is mm",
        )
    return value


def positive_speed(text: str | float, *, where: str = "", most: float = LARGEST) -> float:
    """Return a speed over zero in mm/min; a bare number is mm/min, a bare length is what is gone in a minute.

    >>> positive_speed("10 in/min"), positive_speed("5mm/s"), positive_speed(300)
    (254.0, 300.0, 300.0)

    Raises:
        UnitError: zero or less, over `most`, or no speed at all.
    """
    length, slash, time = text.rpartition("/") if isinstance(text, str) else (text, "", "")
    seconds = slash and time.strip().lower() in {"s", "sec"}
    whole = length if slash and (seconds or time.strip().lower() in {"min", "minute"}) else text
    value = parse_length(whole, where=where) * (60 if seconds else 1)
    if not 0 < value <= most:
        remedy = f"write it as 300mm/min or 12in/min, over 0 and up to {most:g} mm/min"
        raise UnitError(f"{text} is no usable speed", where=where, remedy=remedy)
    return value


def format_mm(value: Mm, digits: int = 3) -> str:
    """Return millimetres for the screen, without trailing noughts.

    >>> format_mm(0.79375), format_mm(12.0)
    ('0.794 mm', '12 mm')
    """
    text = f"{value:.{digits}f}".rstrip("0").rstrip(".")
    return f"{'0' if text in {'-0', ''} else text} mm"


def format_thou(value: Mm) -> str:
    """Return thousandths of an inch, to a tenth of one.

    >>> format_thou(0.0508)
    '2.0 thou'
    """
    return f"{value / MM_PER_INCH * 1000:.1f} thou"


def format_inch(value: Mm) -> str:
    """Return inches as a fraction of at most 1/64 where it is one, else with four decimals.

    >>> format_inch(0.79375), format_inch(1.0), format_inch(38.1)
    ('1/32 in', '0.0394 in', '1 1/2 in')
    """
    sixty_fourths = value / MM_PER_INCH * 64
    if sixty_fourths >= 1 and abs(sixty_fourths - round(sixty_fourths)) < 1e-6:
        whole, rest = divmod(round(sixty_fourths), 64)
        if rest == 0:
            return f"{whole} in"
        shared = math.gcd(rest, 64)
        fraction = f"{rest // shared}/{64 // shared}"
        return f"{whole} {fraction} in" if whole else f"{fraction} in"
    return f"{value / MM_PER_INCH:.4f} in"
