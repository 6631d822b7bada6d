"""Font properties of SVG text: the `font` shorthand, families, weight and slant (CSS Fonts 3)."""

from __future__ import annotations

import re

_SIZE = re.compile(
    r"(?:^|\s)((?:[\d.]+(?:[a-z]+|%))|(?:xx-|x-)?(?:small|large)|medium|smaller|larger)(?:\s*/\s*\S+)?\s+(.+)$",
    re.IGNORECASE,
)
_WEIGHTS = {"normal": 400, "bold": 700, "bolder": 700, "lighter": 300}
_SLANTS = {"italic", "oblique"}


def longhands_of_font(value: str) -> dict[str, str]:
    """Return what the shorthand sets; nothing where it names a font of the system or cannot be read.

    >>> longhands_of_font("italic bold 12px/1.5 'Fine Print', serif")["font-family"]
    "'Fine Print', serif"
    """
    found = _SIZE.search(value.strip())
    if found is None:
        return {}
    words = value[: found.start()].lower().split()
    weight = next((word for word in words if word in _WEIGHTS or word.isdigit()), "normal")
    return {
        "font-style": next((word for word in words if word in _SLANTS), "normal"),
        "font-weight": weight,
        "font-size": found[1].lower(),
        "font-family": found[2].strip(),
    }


def families_of(text: str) -> list[str]:
    """Return the names of a list of families.

    >>> families_of("'Fine Print', serif")
    ['Fine Print', 'serif']
    """
    return [name.strip().strip("\"'") for name in text.split(",") if name.strip()]


def weight_of(text: str) -> int:
    """Return the weight as a number; what is none counts as normal."""
    return int(text) if text.isdecimal() and len(text) <= 4 else _WEIGHTS.get(text.lower(), 400)


def is_slanted(text: str) -> bool:
    """Return whether the style of a font is italic or oblique."""
    return text.lower().partition(" ")[0] in _SLANTS
