"""What the JSON of a fit says of a board: frets, markers with their depths, side dots, setups; mm, to a nanometre."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import shapely

from inlayfit.board import SIDES, Board
from inlayfit.board_recipe import BoardFit
from inlayfit.marker_depth import TOUCH_MM2, Depth
from inlayfit.markers import Marker, SideDot
from inlayfit.setups import Setup
from inlayfit.units import Mm

DIGITS = 6


def board_summary(result: BoardFit, setups: Sequence[Setup] = ()) -> dict[str, Any]:
    """Return what is added to the document of a fit: board, markers, side_dots, setups."""
    settings = result.depth_settings
    rows = zip(result.markers, result.depths, result.pockets, strict=True)
    return {
        "board": _board(result.board)
        | {"sheet_mm": _mm(settings.sheet), "pockets_cut": settings.cut, "proud_mm": _mm(settings.proud)},
        "markers": [
            _marker(marker) | _depth(depth) | _halves(marker, pockets, result) for marker, depth, pockets in rows
        ],
        "side_dots": [_dot(dot) for dot in result.dots],
        "setups": [_setup(setup, result) for setup in setups],
    }


def _board(board: Board) -> dict[str, Any]:
    scale = board.scale
    return {
        "scale_mm": _mm(scale.bass),
        "treble_scale_mm": _mm(scale.treble),
        "frets": scale.frets,
        "divisions": scale.divisions,
        "left_handed": board.left_handed,
        "length_mm": _mm(board.length),
        "outline_mm": [_spot(spot) for spot in board.outline],
        "radius_mm": _mm(board.radius),
        "end_radius_mm": None if board.radius is None else _mm(board.radius_at(board.length)),
        "thickness_mm": _mm(board.thickness),
        "slot_width_mm": _mm(board.slot_width),
        "fret_lines": [
            {"fret": fret} | {f"{side}_mm": _spot(getattr(board.fret_line(fret), side)) for side in SIDES}
            for fret in board.slots
        ],
    }


def _marker(marker: Marker) -> dict[str, Any]:
    length, width = marker.size
    return {
        "name": marker.name,
        "fret": marker.fret,
        "shape": marker.style.shape,
        "x": _mm(marker.place.x),
        "y": _mm(marker.place.y),
        "length_mm": _mm(length),
        "width_mm": _mm(width),
        "space_mm": _mm(marker.place.space),
    }


def _halves(marker: Marker, pockets: Sequence[int], result: BoardFit) -> dict[str, Any]:
    """Return the names of the pockets of a marker, and of the pieces in them that lie on it."""
    on_it = [
        piece.name
        for piece in result.fit.pieces
        if piece.pocket in pockets and shapely.intersection(piece.outline, marker.area).area > TOUCH_MM2
    ]
    return {"pockets": [result.fit.pockets[index].name for index in pockets], "pieces": on_it}


def _depth(depth: Depth) -> dict[str, Any]:
    return {
        "drop_mm": _mm(depth.drop),
        "left_mm": _mm(depth.left),
        "pocket_depth_mm": _mm(depth.pocket),
        "floor_mm": _mm(depth.floor),
        "stands_mm": _mm(depth.stands),
        "wood_mm": _mm(depth.wood),
        "wood_at_slot_mm": _mm(depth.wood_at_slot),
        "wood_at_channel_mm": _mm(depth.wood_at_channel),
    }


def _dot(dot: SideDot) -> dict[str, Any]:
    return {
        "fret": dot.fret,
        "x": _mm(dot.x),
        "y": _mm(dot.y),
        "along_edge_mm": _mm(dot.along_edge),
        "over_back_mm": _mm(dot.up),
        "diameter_mm": _mm(dot.diameter),
        "depth_mm": _mm(dot.depth),
    }


def _setup(setup: Setup, result: BoardFit) -> dict[str, Any]:
    frets = list(result.board.slots)
    return {
        "number": setup.number,
        "start_mm": _mm(setup.start),
        "end_mm": _mm(setup.end),
        "shift_mm": _mm(setup.shift),
        "frets": [frets[item] for item in setup.items if item < len(frets)],
        "pockets": [result.fit.pockets[item - len(frets)].name for item in setup.items if item >= len(frets)],
        "pins_mm": [_spot(pin) for pin in setup.pins],
    }


def side_dots_csv(dots: Sequence[SideDot]) -> str:
    """Return the positions for drilling, one hole a line."""
    lines = ["fret,along_edge_mm,over_back_mm,diameter_mm,depth_mm,x_mm,y_mm"]
    for dot in dots:
        up = "" if dot.up is None else f"{dot.up:.3f}"
        lines.append(f"{dot.fret},{dot.along_edge:.3f},{up},{dot.diameter:.3f},{dot.depth:.3f},{dot.x:.3f},{dot.y:.3f}")
    return "\n".join([*lines, ""])


def _mm(value: Mm | None) -> float | None:
    return None if value is None else round(value, DIGITS) + 0.0


def _spot(spot: tuple[Mm, Mm]) -> list[float | None]:
    return [_mm(value) for value in spot]
