"""Lengths of SVG in CSS pixels (CSS Values and Units 3, section 6.2: 1 in = 96 px = 2.54 cm = 72 pt = 6 pc)."""

from __future__ import annotations

import math
import re
from functools import lru_cache

from inlayfit.units import MM_PER_INCH

PX_PER_INCH = 96.0
MM_PER_PX = MM_PER_INCH / PX_PER_INCH

PHYSICAL = {
    "mm": PX_PER_INCH / MM_PER_INCH,
    "cm": PX_PER_INCH / MM_PER_INCH * 10,
    "q": PX_PER_INCH / MM_PER_INCH / 4,
    "in": PX_PER_INCH,
    "pt": PX_PER_INCH / 72,
    "pc": PX_PER_INCH / 6,
}
"""CSS px in one unit, for the units that say how large a thing is on paper."""

DEFAULT_FONT_PX = 16.0
_RELATIVE = {"em": 1.0, "ex": 0.5, "ch": 0.5, "rem": 0.0}
_LENGTH = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([A-Za-z%]*)\s*\Z")


@lru_cache(maxsize=4096)
def parse_px(text: str, *, font: float = DEFAULT_FONT_PX, whole: float = 0.0) -> float:
    """Return px (user units) for a length; `whole` is what 100 % means.

    Raises:
        ValueError: no length, or an unknown unit. A number beyond a float is infinite.
    """
    found = _LENGTH.match(text)
    if found is None:
        raise ValueError(text)
    value, unit = float(found[1]), found[2].lower()
    if unit in {"", "px"}:
        factor = 1.0
    elif unit == "%":
        factor = whole / 100
    elif unit in PHYSICAL:
        factor = PHYSICAL[unit]
    elif unit in _RELATIVE:
        factor = _RELATIVE[unit] * font or DEFAULT_FONT_PX
    else:
        raise ValueError(text)
    return value * factor


def unit_of(text: str) -> str:
    """Return the unit of a length in lower case, empty for a bare number or no length at all."""
    found = _LENGTH.match(text)
    return found[2].lower() if found else ""


def parse_numbers(text: str) -> list[float]:
    """Return the finite numbers of a list parted by spaces or commas.

    Raises:
        ValueError: something else stands among them.
    """
    numbers = [float(part) for part in text.replace(",", " ").split()]
    if not all(math.isfinite(number) for number in numbers):
        raise ValueError(text)
    return numbers
