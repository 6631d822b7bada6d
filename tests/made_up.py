"""Checks and fits put together by hand, for what only shows or writes them."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from inlayfit.arcs import ArcRing
from inlayfit.checker import Check, Rung
from inlayfit.cutters import Bit
from inlayfit.drawing import Drawing, ReadNote, Region
from inlayfit.findings import Finding
from inlayfit.gap import GapStats, gap_along
from inlayfit.recipe import Fit, FitSettings, Piece, Pocket
from inlayfit.sheet import GUIDE, Sheet

BIT = Bit(diameter=0.79375, runout=0.01)


def a_drawing(**changes: Any) -> Drawing:
    """Return two squares on two layers, with a note."""
    squares = [shapely.box(0, 0, 20, 20), shapely.box(30, 5, 40, 15)]
    regions = [
        Region(polygon=square, name=name, layer=layer)
        for square, name, layer in zip(squares, ("body", "eye"), ("shell", "stone"), strict=True)
    ]
    note = ReadNote(kind="left-out", subject="text 'Opus'", message="letters are no outline", remedy="turn into paths")
    return Drawing(**{"source": "heron.svg", "regions": tuple(regions), "notes": (note,)} | changes)


def a_finding(**changes: Any) -> Finding:
    """Return a corner that is softened."""
    usual = {
        "kind": "corner",
        "severity": "warning",
        "part": "pocket",
        "name": "body",
        "x": 20.0,
        "y": 20.0,
        "message": "corner of 90 degrees: the bit leaves 0.166 mm",
        "remedy": "round it, or take a smaller bit",
        "reach_mm": 0.166,
    }
    return Finding(**usual | changes)


def a_check(**changes: Any) -> Check:
    """Return a check that is softened in one place."""
    rung = Rung(
        diameter=0.79375,
        label="1/32 in",
        verdict="softened",
        places_lost=0,
        places_softened=1,
        area_lost_mm2=0.13,
        area_filled_mm2=0.0,
    )
    usual = {
        "drawing": "heron.svg",
        "size": (40.0, 20.0),
        "cutter": BIT,
        "tolerance": 0.05,
        "verdict": "softened",
        "largest_bit": 0.2414213,
        "largest_bit_no_loss": 3.17549,
        "smallest_width": None,
        "scaling_note": "sharp corners stay at any size",
        "findings": (a_finding(),),
        "ladder": (rung,),
    }
    return Check(**usual | changes)


def a_gap(**changes: Any) -> GapStats:
    """Return an even gap of 0.05 mm."""
    usual = {
        "nominal": 0.05,
        "min": 0.0499,
        "mean": 0.05,
        "max": 0.0502,
        "even_share": 0.998,
        "play": 0.0499,
        "drops_in": True,
    }
    return GapStats(**usual | changes)


def a_piece(name: str, square: shapely.Polygon, pocket: int, **changes: Any) -> Piece:
    """Return a square piece, 0.05 mm smaller than `square` all round."""
    outline, path = square.buffer(-0.05, join_style="mitre"), square.buffer(0.35, join_style="mitre").exterior
    usual = {
        "name": name,
        "layer": "",
        "colour": "",
        "stock": "shell",
        "pocket": pocket,
        "outline": outline,
        "path": shapely.LineString(path.coords),
        "path_arcs": (_ring(shapely.Polygon(path)),),
        "along": gap_along(outline, square, [], 0.05, 0.05),
        "gap": a_gap(),
    }
    return Piece(**usual | changes)


def a_pocket(name: str, square: shapely.Polygon, *pieces: int) -> Pocket:
    """Return a square pocket."""
    path = square.buffer(-0.4, join_style="mitre")
    return Pocket(
        name=name,
        pieces=pieces,
        outline=square,
        path=shapely.LineString(path.exterior.coords),
        path_arcs=(_ring(path),),
    )


def a_fit(**changes: Any) -> Fit:
    """Return two squares with their pockets."""
    drawing = a_drawing()
    squares = [region.polygon for region in drawing.regions]
    usual = {
        "drawing": drawing,
        "settings": FitSettings(piece_cutter=BIT, pocket_cutter=BIT, gap=0.05),
        "pieces": tuple(
            a_piece(name, square, index)
            for index, (name, square) in enumerate(zip(("body", "eye"), squares, strict=True))
        ),
        "pockets": tuple(a_pocket(f"pocket {index + 1}", square, index) for index, square in enumerate(squares)),
        "findings": (),
    }
    return Fit(**usual | changes)


def square_sheet(fit: Fit, title: str = "squares") -> Sheet:
    """Return what a page shows of squares: each as it is, in straight lines."""
    return Sheet(
        name="page",
        title=title,
        layers={
            "PIECE_OUTLINE": tuple(_ring(piece.outline) for piece in fit.pieces),
            "PIECE_PATH": tuple(ring for piece in fit.pieces for ring in piece.path_arcs),
            "POCKET_OUTLINE": tuple(_ring(pocket.outline) for pocket in fit.pockets),
            "POCKET_PATH": tuple(ring for pocket in fit.pockets for ring in pocket.path_arcs),
            GUIDE: tuple(_ring(region.polygon) for region in fit.drawing.regions),
        },
        labels=tuple((*piece.outline.centroid.coords[0], 2.0, piece.name) for piece in fit.pieces),
    )


def _ring(polygon: shapely.Polygon) -> ArcRing:
    points = shapely.get_coordinates(polygon.exterior)[:-1]
    return ArcRing(points=points, bulges=np.zeros(len(points)))
