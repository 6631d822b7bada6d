"""The basic shapes (SVG 2, chapter 10) as outlines."""

from __future__ import annotations

from collections.abc import Callable

from inlayfit.errors import DrawingError
from inlayfit.read.outline import Outline, Pen
from inlayfit.read.svg_lengths import parse_numbers
from inlayfit.read.svg_path import MOST_SEGMENTS, parse_path

SHAPES = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})

Measure = Callable[[str, str], float | None]
"""Returns the value of a geometry property in user units, by name and direction ("x", "y", "r"); None for auto."""


def outline_of(tag: str, data: str, measure: Measure) -> tuple[Outline, bool]:
    """Return the outline of a shape and whether its data was sound; `data` is d or points.

    An outline without rows means that SVG draws nothing: no data, no width, no radius.
    """
    if tag == "path":
        return parse_path(data)
    if tag in {"polyline", "polygon"}:
        return _points(data, closed=tag == "polygon")
    pen = Pen()
    if tag == "rect":
        _rect(pen, measure)
    elif tag == "line":
        pen.move(measure("x1", "x") or 0.0, measure("y1", "y") or 0.0)
        pen.line(measure("x2", "x") or 0.0, measure("y2", "y") or 0.0)
    else:
        _round(pen, tag, measure)
    return pen.outline(), True


def _points(text: str, *, closed: bool) -> tuple[Outline, bool]:
    pen, sound = Pen(), True
    try:
        numbers = parse_numbers(text)
    except ValueError:  # "10-5" is allowed by the grammar too: let the path grammar read it
        outline, sound = parse_path(f"M{text}{'Z' if closed else ''}")
        return outline, sound
    if len(numbers) > 2 * MOST_SEGMENTS:
        raise DrawingError(f"over {MOST_SEGMENTS:,} points in one element", remedy="simplify it, or split it")
    for index in range(0, len(numbers) - 1, 2):
        (pen.line if index else pen.move)(numbers[index], numbers[index + 1])
    if closed and numbers:
        pen.close()
    return pen.outline(), len(numbers) % 2 == 0


def _round(pen: Pen, tag: str, measure: Measure) -> None:
    if tag == "circle":
        rx = ry = measure("r", "r") or 0.0
    else:
        across, down = measure("rx", "x"), measure("ry", "y")
        rx, ry = _both(across, down)
    if rx > 0 and ry > 0:
        pen.ellipse(measure("cx", "x") or 0.0, measure("cy", "y") or 0.0, rx, ry)


def _both(across: float | None, down: float | None) -> tuple[float, float]:
    """Let an auto radius follow the other one."""
    if across is None or across < 0:
        across = down
    if down is None or down < 0:
        down = across
    return across or 0.0, down or 0.0


def _rect(pen: Pen, measure: Measure) -> None:
    x, y = measure("x", "x") or 0.0, measure("y", "y") or 0.0
    width, height = measure("width", "x") or 0.0, measure("height", "y") or 0.0
    if width <= 0 or height <= 0:
        return
    rx, ry = _both(measure("rx", "x"), measure("ry", "y"))
    rx, ry = min(rx, width / 2), min(ry, height / 2)
    if rx <= 0 or ry <= 0:
        rx = ry = 0.0
    right, bottom = x + width, y + height
    pen.move(x + rx, y)
    for start, corner in (
        ((right - rx, y), (right, y + ry)),
        ((right, bottom - ry), (right - rx, bottom)),
        ((x + rx, bottom), (x, bottom - ry)),
        ((x, y + ry), (x + rx, y)),
    ):
        if start != pen.at:
            pen.line(*start)
        if rx:
            pen.arc(rx, ry, 0.0, False, True, *corner)
    pen.close()
