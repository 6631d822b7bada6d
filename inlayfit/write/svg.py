"""A sheet as SVG in true size: one unit is one millimetre, a group each layer, lines and arcs as M, L, A, Z.

SVG counts y downwards, so y is negated: the drawing looks as it does on the machine, and arcs turn the other way.
"""

from __future__ import annotations

import math
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from inlayfit.arcs import ArcRing, halved_arcs
from inlayfit.sheet import GUIDE, LAYER_COLOURS, Label, Line, Sheet, plain_text
from inlayfit.units import Mm

NAMESPACE = "http://www.w3.org/2000/svg"
MARGIN: Mm = 2.0
STROKE: Mm = 0.05
MOST_SWEEP = math.radians(120)
"""A path gives the radius and the ends of an arc. Near half a circle these do not settle it: a last digit of 1e-6 mm in
the radius moves the crown of a half circle of 5 mm by 3 um. At 120 degrees it moves it by 1e-6 mm."""
CAPITALS = 0.7
"""The height of capitals in a common sans-serif type, in font sizes (common practice, no source)."""


def svg_bytes(sheet: Sheet) -> bytes:
    """Return the file; the same sheet gives the same bytes."""
    box = view_box(sheet)
    _, _, width, height = box.split()
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="{NAMESPACE}" width="{width}mm" height="{height}mm" viewBox="{box}">',
        f"<title>{escape(plain_text(sheet.title))}</title>",
        *group_lines(sheet),
        "</svg>",
    ]
    return "\n".join([*lines, ""]).encode()


def view_box(sheet: Sheet) -> str:
    """Return left, top, width and height of the drawing with its margin, whole mm, y down."""
    left, bottom, right, top = sheet.bounds
    x, y = math.floor(left - MARGIN), math.floor(-top - MARGIN)
    return f"{x} {y} {math.ceil(right + MARGIN) - x} {math.ceil(-bottom + MARGIN) - y}"


def group_lines(sheet: Sheet) -> list[str]:
    """Return the layers line by line, to stand within an svg element: a group each, named after its layer."""
    return [line for name in sheet.layer_names for line in _group(sheet, name)]


def _group(sheet: Sheet, name: str) -> list[str]:
    colour = LAYER_COLOURS[name][0]
    head = f'<g id={quoteattr(name)} fill="none" stroke="{colour}" stroke-width="{STROKE}">'
    return [head, *layer_lines(sheet, name), "</g>"]


def layer_lines(sheet: Sheet, name: str) -> list[str]:
    """Return what stands on one layer, line by line: outlines, lines, and labels on the guide."""
    paths = [f'<path d="{path_data(ring)}"/>' for ring in sheet.layers.get(name, ())]
    lines = [_line(line) for line in sheet.lines.get(name, ())]
    labels = [_text(Label(*label), LAYER_COLOURS[name][0]) for label in sheet.labels] if name == GUIDE else []
    return [*paths, *lines, *labels]


def _line(line: Line) -> str:
    x1, y1, x2, y2 = (_number(value) for value in (line.x1, -line.y1, line.x2, -line.y2))
    return f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}"/>'


def path_data(ring: ArcRing) -> str:
    """Return the path of a ring, y down, arcs of more than `MOST_SWEEP` in halves."""
    ring = halved_arcs(ring, MOST_SWEEP)
    points = np.round(ring.points * [1, -1], 6)
    chords = np.hypot(*(np.roll(points, -1, axis=0) - points).T)
    with np.errstate(divide="ignore"):
        radii = chords * (1 + ring.bulges**2) / (4 * np.abs(ring.bulges))
    spots = [f"{_number(x)} {_number(y)}" for x, y in points.tolist()]
    steps = [
        f"A{_number(radius)} {_number(radius)} 0 0 {int(bulge < 0)} {spot}" if bulge else f"L{spot}"
        for radius, bulge, spot in zip(radii.tolist(), ring.bulges.tolist(), [*spots[1:], spots[0]], strict=True)
    ]
    if not ring.bulges[-1]:
        steps.pop()  # Z draws it
    return f"M{spots[0]}{''.join(steps)}Z"


def _text(label: Label, colour: str) -> str:
    size = label.height / CAPITALS
    return (
        f'<text x="{_number(label.x)}" y="{_number(label.height / 2 - label.y)}" font-size="{_number(size)}" '
        f'font-family="sans-serif" text-anchor="middle" fill="{colour}" stroke="none">'
        f"{escape(plain_text(label.text))}</text>"
    )


def _number(value: float) -> str:
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
