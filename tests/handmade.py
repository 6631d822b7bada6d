"""Pairs made by formula alone: rounded rectangles, whose offsets are rounded rectangles again."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import shapely

from tests.judge import Asked

ARC_STEPS = 200
"""To a quarter turn: 0.02 um of chord error at a radius of 2 mm."""


def rounded(x: float, y: float, width: float, height: float, corner: float, *, grow: float = 0.0) -> shapely.Polygon:
    """Return a rectangle with its lower left at x, y, with round corners, grown by `grow` (shrunk if below nought)."""
    radius = corner + grow
    angles = np.linspace(0, math.pi / 2, ARC_STEPS + 1) if radius > 0 else np.zeros(1)
    lows, highs = (x + corner, y + corner), (x + width - corner, y + height - corner)
    if radius < 0:  # square inside: the sides move in and the corners stay sharp
        lows, highs, radius = tuple(v - radius for v in lows), tuple(v + radius for v in highs), 0.0
    centres = [(highs[0], highs[1]), (lows[0], highs[1]), (lows[0], lows[1]), (highs[0], lows[1])]
    turns = [angles + quarter * math.pi / 2 for quarter in range(4)]
    rings = [
        np.column_stack([cx + radius * np.cos(turn), cy + radius * np.sin(turn)])
        for (cx, cy), turn in zip(centres, turns, strict=True)
    ]
    return shapely.Polygon(np.concatenate(rings))


def centre_line(area: shapely.Polygon) -> shapely.LineString:
    """Return the outer boundary as a closed line."""
    return shapely.LineString(area.exterior.coords)


def finding(x: float, y: float, severity: str = "warning") -> SimpleNamespace:
    """Return a finding with what the judge looks at."""
    return SimpleNamespace(x=x, y=y, severity=severity, kind="corner", part="pocket", site=None)


def drawing_of(*polygons: shapely.Polygon, colours: tuple[str, ...] = ()) -> SimpleNamespace:
    """Return a drawing with these regions, the lowest first."""
    shades = colours or ("",) * len(polygons)
    regions = [SimpleNamespace(polygon=p, layer="", colour=c) for p, c in zip(polygons, shades, strict=True)]
    return SimpleNamespace(regions=tuple(regions))


def plate(asked: Asked, *, side: float = 20.0, piece_grow: float = 0.0, shift: float = 0.0) -> tuple[Any, Any]:
    """Return a fit and its drawing: a sharp square, rounded alike on both halves as the pocket's bit demands."""
    ro = asked.pocket_radius - asked.pocket_gap
    inset = asked.gap - asked.pocket_gap - piece_grow
    corner = max(ro, inset)

    def seam(grow: float, dx: float = 0.0) -> shapely.Polygon:
        return rounded(dx, 0, side, side, corner, grow=grow)

    piece = SimpleNamespace(
        outline=seam(-inset, shift),
        path=centre_line(seam(asked.piece_radius - inset, shift)),
        pocket=0,
        layer="",
        colour="",
    )
    pocket = SimpleNamespace(
        outline=seam(asked.pocket_gap),
        path=centre_line(seam(asked.pocket_gap - asked.pocket_radius)),
        pieces=(0,),
    )
    corners = [finding(x, y) for x in (0.0, side) for y in (0.0, side)]
    fit = SimpleNamespace(pieces=(piece,), pockets=(pocket,), findings=tuple(corners))
    return fit, drawing_of(shapely.box(0, 0, side, side))


def halves(asked: Asked) -> tuple[Any, Any]:
    """Return a fit and its drawing: two colours side by side in one pocket, with a gap between them too."""
    ro, inset = asked.pocket_radius - asked.pocket_gap, asked.gap - asked.pocket_gap
    pocket = SimpleNamespace(
        outline=rounded(0, 0, 20, 10, ro, grow=asked.pocket_gap),
        path=centre_line(rounded(0, 0, 20, 10, ro, grow=asked.pocket_gap - asked.pocket_radius)),
        pieces=(0, 1),
    )
    whole = rounded(0, 0, 20, 10, ro, grow=-inset)
    pieces = []
    for left, right, colour in ((-1.0, 10 - asked.gap / 2, "#aa0000"), (10 + asked.gap / 2, 21.0, "#0000aa")):
        outline = shapely.intersection(whole, shapely.box(left, -1, right, 11))
        path = centre_line(outline.buffer(asked.piece_radius, quad_segs=ARC_STEPS))
        pieces.append(SimpleNamespace(outline=outline, path=path, pocket=0, layer="", colour=colour))
    corners = tuple(finding(x, y) for x in (0.0, 20.0) for y in (0.0, 10.0))
    fit = SimpleNamespace(pieces=tuple(pieces), pockets=(pocket,), findings=corners)
    drawn = drawing_of(shapely.box(0, 0, 10, 10), shapely.box(10, 0, 20, 10), colours=("#aa0000", "#0000aa"))
    return fit, drawn
