"""The whole recipe for a pair that fits: pure, no file is touched."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from inlayfit.arcs import ArcRing
from inlayfit.cutters import Cutter
from inlayfit.drawing import Drawing
from inlayfit.findings import Finding
from inlayfit.gap import GapStats
from inlayfit.units import Mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A male part: `outline` as the path leaves it, `path` the cutter's centre line round it (closed lines)."""

    name: str
    layer: str
    colour: str
    stock: str
    pocket: int
    outline: shapely.Polygon
    path: shapely.LineString | shapely.MultiLineString
    outline_arcs: tuple[ArcRing, ...]
    path_arcs: tuple[ArcRing, ...]
    gap: GapStats


@dataclass(frozen=True, slots=True, kw_only=True)
class Pocket:
    """A female part: `outline` as the path leaves it, `path` the wall pass; `pieces` are indices into Fit.pieces."""

    name: str
    pieces: tuple[int, ...]
    outline: shapely.Polygon
    path: shapely.LineString | shapely.MultiLineString
    outline_arcs: tuple[ArcRing, ...]
    path_arcs: tuple[ArcRing, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FitSettings:
    """What the maker asked for."""

    piece_cutter: Cutter
    pocket_cutter: Cutter
    gap: Mm
    gap_from: str = "piece"
    corners: str = "match"
    tolerance: Mm = 0.05
    least_web: Mm = 0.6
    stock: str = "shell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Pieces, pockets, and what the maker must know about them."""

    drawing: Drawing
    settings: FitSettings
    pieces: tuple[Piece, ...]
    pockets: tuple[Pocket, ...]
    findings: tuple[Finding, ...]
