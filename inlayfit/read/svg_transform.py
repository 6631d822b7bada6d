"""Affine transforms as (a, b, c, d, e, f): x' = a x + c y + e, y' = b x + d y + f (SVG 2, chapter 8)."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from functools import lru_cache

Matrix = tuple[float, float, float, float, float, float]

IDENTITY: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)

_FUNCTION = re.compile(r"\s*,?\s*([A-Za-z0-9]+)\s*\(([^)]*)\)")
_ARGUMENT = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([a-z%]*)")
_DEGREES = {"": 1.0, "deg": 1.0, "rad": 180 / math.pi, "grad": 0.9, "turn": 360.0}

Length = Callable[[str, str], float]
"""Turns a length and its direction ("x", "y") into user units."""


def multiply(m: Matrix, n: Matrix) -> Matrix:
    """Return the transform that applies `n` first, then `m`."""
    return (
        m[0] * n[0] + m[2] * n[1],
        m[1] * n[0] + m[3] * n[1],
        m[0] * n[2] + m[2] * n[3],
        m[1] * n[2] + m[3] * n[3],
        m[0] * n[4] + m[2] * n[5] + m[4],
        m[1] * n[4] + m[3] * n[5] + m[5],
    )


def translation(x: float, y: float) -> Matrix:
    """Return the shift by (x, y)."""
    return (1.0, 0.0, 0.0, 1.0, x, y)


@lru_cache(maxsize=256)
def stretches(m: Matrix) -> tuple[float, float]:
    """Return the largest and the smallest factor by which lengths change (the singular values)."""
    half_sum = math.hypot(m[0] + m[3], m[1] - m[2]) / 2
    half_gap = math.hypot(m[0] - m[3], m[1] + m[2]) / 2
    return half_sum + half_gap, abs(half_sum - half_gap)


def parse_transform(text: str, length: Length) -> Matrix:
    """Return the product of a list of transform functions, of the attribute or of the CSS property.

    Raises:
        ValueError: not a transform list; by SVG 2 the element is then drawn without a transform.
    """
    text = text.strip()
    if text in {"", "none"}:
        return IDENTITY
    result, end = IDENTITY, 0
    while found := _FUNCTION.match(text, end):
        result = multiply(result, _function(found[1], _ARGUMENT.findall(found[2]), length))
        end = found.end()
    if text[end:].strip(" ,"):
        raise ValueError(text)
    return result


def _function(name: str, args: list[tuple[str, str]], length: Length) -> Matrix:
    numbers = [float(number) for number, _ in args]
    key = name.lower()
    if key == "matrix" and len(args) == 6:
        return (numbers[0], numbers[1], numbers[2], numbers[3], numbers[4], numbers[5])
    if key in {"translate", "translatex", "translatey"} and args:
        return _translate(key, args, length)
    if key in {"scale", "scalex", "scaley"} and args:
        first = _fraction(*args[0])
        second = _fraction(*args[-1])
        return (first if key != "scaley" else 1.0, 0.0, 0.0, second if key != "scalex" else 1.0, 0.0, 0.0)
    if key in {"rotate", "skewx", "skewy", "skew"} and args:
        return _turn(key, args, numbers)
    raise ValueError(name)


def _fraction(number: str, unit: str) -> float:
    return float(number) / (100 if unit == "%" else 1)


def _translate(key: str, args: list[tuple[str, str]], length: Length) -> Matrix:
    first = "".join(args[0])
    if key == "translatey":
        return translation(0.0, length(first, "y"))
    second = "".join(args[1]) if len(args) > 1 and key == "translate" else "0"
    return translation(length(first, "x"), length(second, "y"))


def _turn(key: str, args: list[tuple[str, str]], numbers: list[float]) -> Matrix:
    angles = [math.radians(number * _DEGREES.get(unit, 1.0)) for number, (_, unit) in zip(numbers, args, strict=True)]
    if key == "rotate":
        cos, sin = math.cos(angles[0]), math.sin(angles[0])
        turned = (cos, sin, -sin, cos, 0.0, 0.0)
        if len(args) < 3:
            return turned
        return multiply(multiply(translation(numbers[1], numbers[2]), turned), translation(-numbers[1], -numbers[2]))
    if key == "skewx":
        return (1.0, 0.0, math.tan(angles[0]), 1.0, 0.0, 0.0)
    if key == "skewy":
        return (1.0, math.tan(angles[0]), 0.0, 1.0, 0.0, 0.0)
    return (1.0, math.tan(angles[1]) if len(angles) > 1 else 0.0, math.tan(angles[0]), 1.0, 0.0, 0.0)


def fit_viewbox(box: tuple[float, float, float, float], width: float, height: float, aspect: str) -> Matrix:
    """Return the map from a viewBox (x, y, width, height) to a viewport at the origin (SVG 2, 8.2)."""
    left, top, across, down = box
    sx, sy = width / across, height / down
    words = [word for word in aspect.split() if word != "defer"]
    align = words[0] if words else "xMidYMid"
    if align == "none":
        return (sx, 0.0, 0.0, sy, -left * sx, -top * sy)
    scale = max(sx, sy) if "slice" in words else min(sx, sy)
    shift = {"xMin": 0.0, "xMid": 0.5, "xMax": 1.0, "YMin": 0.0, "YMid": 0.5, "YMax": 1.0}
    x = (width - across * scale) * shift.get(align[:4], 0.5) - left * scale
    y = (height - down * scale) * shift.get(align[4:], 0.5) - top * scale
    return (scale, 0.0, 0.0, scale, x, y)
