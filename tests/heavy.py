"""A design with more in it than makers draw, put together by hand: what only shows it must stay quick."""

from __future__ import annotations

import numpy as np
import shapely

from inlayfit.arcs import ArcRing
from inlayfit.drawing import Drawing, Region
from inlayfit.findings import Finding
from inlayfit.recipe import Fit
from inlayfit.sheet import Sheet
from tests.made_up import a_finding, a_fit, a_piece, a_pocket, square_sheet

PIECES, VERTICES, FINDINGS = 64, 220, 200
"""Pieces, vertices of each of their outlines and paths (more than 50,000 in all), and places that must be known."""


def heavy_fit() -> Fit:
    """Return flowers in rows, each with a path round it and one along its pocket."""
    flowers = [_flower(12.0 * (index % 8), 12.0 * (index // 8), 5.0) for index in range(PIECES)]
    names = [f"flower {index + 1}" for index in range(PIECES)]
    colours = ("#c9a45c", "#4f9d8f", "#8a9bb0")
    regions = tuple(
        Region(polygon=flower, name=name, layer="shell", colour=colours[index % 3])
        for index, (flower, name) in enumerate(zip(flowers, names, strict=True))
    )
    pieces = tuple(
        a_piece(name, flower, index, path_arcs=(_path(flower, 0.35),))
        for index, (flower, name) in enumerate(zip(flowers, names, strict=True))
    )
    pockets = [a_pocket(name, flower, index) for index, (flower, name) in enumerate(zip(flowers, names, strict=True))]
    return a_fit(
        drawing=Drawing(source="garden.svg", regions=regions),
        pieces=pieces,
        pockets=tuple(pockets),
        findings=tuple(_finding(index, flowers) for index in range(FINDINGS)),
    )


def heavy_sheet(fit: Fit) -> Sheet:
    """Return all of it as one sheet, with no vertex spared."""
    return square_sheet(fit, title="garden")


def _flower(x: float, y: float, radius: float) -> shapely.Polygon:
    turn = np.linspace(0, 2 * np.pi, VERTICES, endpoint=False)
    out = radius * (1 + 0.12 * np.cos(7 * turn) + 0.01 * np.cos(53 * turn))
    return shapely.Polygon(np.column_stack([x + out * np.cos(turn), y + out * np.sin(turn)]))


def _path(flower: shapely.Polygon, room: float) -> ArcRing:
    middle = np.array(flower.centroid.coords[0])
    points = shapely.get_coordinates(flower.exterior)[:-1]
    points = middle + (points - middle) * (1 + room / 5)
    return ArcRing(points=points, bulges=np.full(len(points), 0.01))


def _finding(index: int, flowers: list[shapely.Polygon]) -> Finding:
    flower = flowers[index % PIECES]
    x, y = flower.exterior.interpolate(index / FINDINGS, normalized=True).coords[0]
    severity = ("loss", "warning", "note")[index % 3]
    reach = 0.1 + 0.001 * index if severity != "note" else None
    message = f"corner of {40 + index} degrees: the bit leaves 0.166 mm"
    return a_finding(name=f"flower {index % PIECES + 1}", x=x, y=y, severity=severity, reach_mm=reach, message=message)
