"""The JSON of a check and of a fit: fixed names, millimetres, rounded to a nanometre, never a NaN."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import PurePath
from typing import Any

from inlayfit.checker import Check, verdict_of
from inlayfit.cutters import Bit, Cutter
from inlayfit.drawing import Drawing
from inlayfit.expected import Expected
from inlayfit.gap import GapStats, told
from inlayfit.recipe import Fit, Piece, Pocket
from inlayfit.report.expected import expected_table, piece_table
from inlayfit.report.reading import reading_table
from inlayfit.stocks import Stock
from inlayfit.wood_part import WoodPart

DIGITS = 6

ALONG_DIGITS = (3, 3, 4)
"""Of x, y and gap along a seam: micrometres, and a tenth of one."""


def look_summary(drawing: Drawing, files: Sequence[tuple[str, str]] = ()) -> dict[str, Any]:
    """Return the document of `inlayfit look --json`; `files` are (path, kind)."""
    written = [{"path": path, "kind": kind} for path, kind in files]
    return plain_table({"drawing": drawing.source} | reading_table(drawing) | {"files": written})


def check_summary(
    check: Check, drawing: Drawing | None = None, files: Sequence[tuple[str, str]] = ()
) -> dict[str, Any]:
    """Return the document of `inlayfit check --json`; `drawing` adds what was read, `files` are (path, kind)."""
    summary = {
        "drawing": check.drawing,
        "size_mm": check.size,
        "bit_mm": check.cutter.diameter,
        "cutter": _cutter(check.cutter),
        "tolerance_mm": check.tolerance,
        "verdict": check.verdict,
        "cuttable": check.verdict != "loses detail",
        "largest_bit_mm": check.largest_bit,
        "largest_bit_no_loss_mm": check.largest_bit_no_loss,
        "smallest_width_mm": check.smallest_width,
        "scaling_note": check.scaling_note,
        "findings": [finding.as_dict() for finding in check.findings],
        "ladder": [
            {
                "diameter_mm": rung.diameter,
                "label": rung.label,
                "verdict": rung.verdict,
                "places_lost": rung.places_lost,
                "places_softened": rung.places_softened,
                "area_lost_mm2": rung.area_lost_mm2,
                "area_filled_mm2": rung.area_filled_mm2,
            }
            for rung in check.ladder
        ],
        "files": [{"path": path, "kind": kind} for path, kind in files],
    }
    return plain_table(summary if drawing is None else summary | {"read": reading_table(drawing)})


def fit_summary(
    fit: Fit, files: Sequence[tuple[str, str]], *, expected: Expected | None = None, job: str = ""
) -> dict[str, Any]:
    """Return the document of `inlayfit fit --json`; `files` are (path, kind), `job` is the name of the job."""
    settings = fit.settings
    pieces = [_piece(piece, fit) for piece in fit.pieces]
    if expected is not None:
        pieces = [piece | piece_table(gap) for piece, gap in zip(pieces, expected.pieces, strict=True)]
    return plain_table(
        {
            "job": job or PurePath(fit.drawing.source).stem,
            "drawing": fit.drawing.source,
            "size_mm": fit.drawing.size,
            "verdict": verdict_of(fit.findings),
            "drops_in": all(piece.drops_in for piece in fit.pieces),
            "settings": {
                "piece_cutter": _cutter(settings.piece_cutter),
                "pocket_cutter": _cutter(settings.pocket_cutter),
                "gap_mm": settings.gap,
                "joint_mm": settings.joint_gap,
                "gap_from": settings.gap_from,
                "corners": settings.corners,
                "tolerance_mm": settings.tolerance,
                "least_web_mm": settings.least_web,
                "proud_mm": settings.depth.proud,
                "bed_mm": settings.depth.bed,
                "stock": settings.stock,
                "stocks": [_stock(stock) for stock in settings.all_stocks],
            },
            "part": None if fit.part is None else _part(fit.part),
            "read": reading_table(fit.drawing),
            "pieces": pieces,
            "pockets": [_pocket(pocket, fit) for pocket in fit.pockets],
            "findings": [finding.as_dict() for finding in fit.findings],
            "files": [{"path": path, "kind": kind} for path, kind in files],
        }
        | ({} if expected is None else expected_table(expected))
    )


def _stock(stock: Stock) -> dict[str, Any]:
    return {
        "name": stock.name,
        "kind": stock.kind,
        "thickness_mm": stock.thickness,
        "cutter": None if stock.cutter is None else _cutter(stock.cutter),
        "least_web_mm": stock.least_web,
        "figure_deg": stock.figure_deg,
        "cut_from": stock.cut_from,
        "inlaid": stock.inlaid,
        "let_in": stock.let_in,
    }


def _cutter(cutter: Cutter) -> dict[str, Any]:
    return {
        "kind": "bit" if isinstance(cutter, Bit) else "kerf",
        "label": cutter.label,
        "diameter_mm": cutter.diameter,
        "runout_mm": cutter.runout if isinstance(cutter, Bit) else 0.0,
        "effective_diameter_mm": 2 * cutter.radius,
    }


def _piece(piece: Piece, fit: Fit) -> dict[str, Any]:
    return {
        "name": piece.name,
        "layer": piece.layer,
        "colour": piece.colour,
        "stock": piece.stock,
        "pocket": fit.pockets[piece.pocket].name,
        "area_mm2": piece.outline.area,
        "bounds_mm": piece.outline.bounds,
        "path_length_mm": piece.path.length,
        "gap": _gap(piece.gap) | {"along": _along(piece)},
        "joint": None if piece.joint is None else _gap(piece.joint),
    }


def _gap(gap: GapStats) -> dict[str, Any]:
    return {
        "nominal": gap.nominal,
        "min": gap.min,
        "mean": gap.mean,
        "max": gap.max,
        "even_share": gap.even_share,
        "play": gap.play,
        "drops_in": gap.drops_in,
    }


def _along(piece: Piece) -> list[list[float]]:
    """Return [x, y, gap] in order along the seam, ring after ring; each ring ends with its first sample again."""
    return [
        [round(value, digits) + 0.0 for value, digits in zip(sample, ALONG_DIGITS, strict=True)]
        for ring in told(piece.along)
        for sample in (*ring.tolist(), ring[0].tolist())
    ]


def _pocket(pocket: Pocket, fit: Fit) -> dict[str, Any]:
    return {
        "name": pocket.name,
        "pieces": [fit.pieces[index].name for index in pocket.pieces],
        "area_mm2": pocket.outline.area,
        "bounds_mm": pocket.outline.bounds,
        "path_length_mm": pocket.path.length,
        "host": None if pocket.host is None else fit.pieces[pocket.host].name,
        "depth_mm": pocket.depth,
        "zones": [
            {
                "depth_mm": zone.depth,
                "pieces": [fit.pieces[index].name for index in zone.pieces],
                "area_mm2": zone.outline.area,
                "bounds_mm": zone.outline.bounds,
                "path_length_mm": zone.path.length,
            }
            for zone in pocket.zones
        ],
    }


def _part(part: WoodPart) -> dict[str, Any]:
    """Return the part that is inlaid, in the coordinates of the drawing."""
    return {
        "outline_mm": None if part.outline is None else [list(point) for point in part.outline.exterior.coords],
        "holes": [{"name": hole.name, "x": hole.x, "y": hole.y, "diameter_mm": hole.diameter} for hole in part.holes],
        "keep_outs": [
            {"name": keep.name, "outline_mm": [list(point) for point in keep.area.exterior.coords]}
            for keep in part.keep_outs
        ],
        "thickness_mm": part.thickness,
        "clearance_mm": part.clearance,
        "least_floor_mm": part.least_floor,
    }


def plain_table(table: dict[str, Any]) -> dict[str, Any]:
    """Return the table as JSON can hold it."""
    return {key: _plain(item) for key, item in table.items()}


def _plain(value: Any) -> Any:  # noqa: ANN401  # whatever JSON can hold
    """Return the value as JSON can hold it: plain floats, rounded; what is not finite becomes null."""
    if isinstance(value, dict):
        return plain_table(value)
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, bool) or value is None or isinstance(value, str | int):
        return value
    if hasattr(value, "item") and not isinstance(value, float):
        return _plain(value.item())
    return round(float(value), DIGITS) + 0.0 if math.isfinite(value) else None
