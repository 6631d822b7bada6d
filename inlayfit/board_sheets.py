"""The drawings of a board: all of it, and each setup of one that is longer than the bed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from inlayfit.arcs import ArcRing, fit_polygon
from inlayfit.board import Board
from inlayfit.board_recipe import BoardFit
from inlayfit.marker_depth import channel_area
from inlayfit.markers import SideDot
from inlayfit.setups import Bed, Setup, plan_setups
from inlayfit.sheet import GUIDE, Line, Sheet
from inlayfit.units import Mm

LETTERS: Mm = 2.0
"""Height of the numbers beside the board."""

BESIDE: Mm = 3.0
"""From the edge to the middle of a number."""

TICK: Mm = 1.5
"""Length of the mark of a side dot, and how far a guide line runs beyond the board."""

LEGEND = "at frets: their numbers; at markers: depth of the pocket, mm; short lines: side dots"


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardDrawn:
    """A board with its setups and its sheets."""

    result: BoardFit
    setups: tuple[Setup, ...]
    sheets: tuple[Sheet, ...]


def drawn(result: BoardFit, bed: Bed | None) -> BoardDrawn:
    """Return the drawings of a board; where it is longer than the bed, one of each setup as well.

    Raises:
        JobError: the bed is too short.
    """
    setups = setups_of(result, bed)
    sheets = (board_sheet(result, bed, setups), *setup_sheets(result, bed, setups))
    return BoardDrawn(result=result, setups=setups, sheets=sheets)


def setups_of(result: BoardFit, bed: Bed | None) -> tuple[Setup, ...]:
    """Return the setups: item n is the slot of the n-th fret, and after the slots come the pockets.

    Raises:
        JobError: the bed is too short.
    """
    return () if bed is None else plan_setups([_extent(area) for area in _items(result)], result.board, bed)


def _items(result: BoardFit) -> list[shapely.Polygon]:
    """Return all that is cut whole in one setup: the slots, then the pockets."""
    slots = [shapely.Polygon(result.board.slot(fret)) for fret in result.board.slots]
    return [*slots, *(pocket.outline for pocket in result.fit.pockets)]


def _extent(area: shapely.Polygon) -> tuple[Mm, Mm]:
    left, _, right, _ = area.bounds
    return left, right


def board_sheet(result: BoardFit, bed: Bed | None, setups: Sequence[Setup]) -> Sheet:
    """Return the whole board: the origin is where the nut crosses the centre line."""
    board, pockets = result.board, result.fit.pockets
    return Sheet(
        name="board",
        title="the board; origin: the nut on the centre line",
        layers={
            "BOARD_OUTLINE": _rings([shapely.Polygon(board.outline)]),
            "SLOT_OUTLINE": _rings([shapely.Polygon(board.slot(fret)) for fret in board.slots]),
            "POCKET_OUTLINE": _rings(pocket.outline for pocket in pockets),
            "POCKET_PATH": tuple(ring for pocket in pockets for ring in pocket.path_arcs),
            GUIDE: _rings(_guides(result)),
            **_pin_holes([pin for setup in setups for pin in setup.pins], bed),
        },
        lines={
            "SLOT_PATH": tuple(_fret(board, fret) for fret in board.slots),
            GUIDE: (_centre_line(board), *(_tick(dot, board) for dot in result.dots)),
        },
        labels=_labels(result),
    )


def _rings(areas: Iterable[shapely.Polygon]) -> tuple[ArcRing, ...]:
    return tuple(ring for area in areas for ring in fit_polygon(area))


def _guides(result: BoardFit) -> list[shapely.Polygon]:
    """Return what is shown but not cut from the face: the markers as drawn, and the channel in the back."""
    drawn = [region.polygon for marker in result.markers for region in marker.regions]
    channel = channel_area(result.board)
    return drawn if channel is None else [*drawn, channel]


def _fret(board: Board, fret: int) -> Line:
    (x1, y1), (x2, y2) = board.fret_line(fret)
    return Line(x1, y1, x2, y2)


def _centre_line(board: Board) -> Line:
    return Line(-TICK, 0.0, board.length + TICK, 0.0)


def _tick(dot: SideDot, board: Board) -> Line:
    return Line(dot.x, dot.y, dot.x, dot.y + board.sign("bass") * TICK)


def _pin_holes(pins: Sequence[tuple[Mm, Mm]], bed: Bed | None) -> dict[str, tuple[ArcRing, ...]]:
    """Return the holes as circles of two half arcs, each hole once."""
    if bed is None or not pins:
        return {}
    radius = bed.pin_diameter / 2
    return {
        "PIN_HOLE": tuple(
            ArcRing(points=np.array([[x - radius, y], [x + radius, y]]), bulges=np.array([1.0, 1.0]))
            for x, y in dict.fromkeys(pins)
        )
    }


def _labels(result: BoardFit) -> tuple[tuple[Mm, Mm, Mm, str], ...]:
    """Return the number of each fret beyond its bass end, and the depth of each pocket beyond the treble edge."""
    board = result.board
    bass, treble = board.sign("bass"), board.sign("treble")
    labels = [
        (x, y + bass * BESIDE, LETTERS, str(fret)) for fret in board.slots for x, y in [board.fret_line(fret).bass]
    ]
    depths: dict[int, list[str]] = {}
    for marker, depth in zip(result.markers, result.depths, strict=True):
        if depth.pocket is not None:
            depths.setdefault(marker.fret, []).append(f"{depth.pocket:.2f}")
    for fret, texts in depths.items():
        x = (board.fret_line(fret - 1).treble[0] + board.fret_line(fret).treble[0]) / 2
        labels.append((x, board.edge_at(x, "treble") + treble * BESIDE, LETTERS, " ".join(dict.fromkeys(texts))))
    widest = max(abs(y) for _, y in board.outline)
    return (*labels, (board.length / 2, -widest - 3 * BESIDE, LETTERS, LEGEND))


def setup_sheets(result: BoardFit, bed: Bed | None, setups: Sequence[Setup]) -> list[Sheet]:
    """Return one sheet a setup, in the machine's own coordinates: the x of the board less the shift of the setup."""
    if bed is None or len(setups) < 2:
        return []
    return [_setup_sheet(result, bed, setup, len(setups)) for setup in setups]


def _setup_sheet(result: BoardFit, bed: Bed, setup: Setup, of: int) -> Sheet:
    board, frets = result.board, list(result.board.slots)
    cut = [frets[item] for item in setup.items if item < len(frets)]
    pockets = [result.fit.pockets[item - len(frets)] for item in setup.items if item >= len(frets)]
    text = f"setup {setup.number} of {of}: x of the board less {setup.shift:.3f} mm"
    widest = max(abs(y) for _, y in board.outline)
    rings = {
        "SLOT_OUTLINE": _rings([shapely.Polygon(board.slot(fret)) for fret in cut]),
        "POCKET_OUTLINE": _rings(pocket.outline for pocket in pockets),
        "POCKET_PATH": tuple(ring for pocket in pockets for ring in pocket.path_arcs),
        **_pin_holes(setup.pins, bed),
    }
    lines = {
        "BOARD_OUTLINE": _within(setup, shapely.Polygon(board.outline).exterior),
        "SLOT_PATH": tuple(_fret(board, fret) for fret in cut),
        GUIDE: _within(setup, shapely.LineString([(-TICK, 0.0), (board.length + TICK, 0.0)])),
    }
    return Sheet(
        name=f"board-setup-{setup.number}",
        title=text,
        layers={name: tuple(_moved(ring, setup.shift) for ring in of_layer) for name, of_layer in rings.items()},
        lines={
            name: tuple(Line(x1 - setup.shift, y1, x2 - setup.shift, y2) for x1, y1, x2, y2 in of_layer)
            for name, of_layer in lines.items()
        },
        labels=(((setup.start + setup.end) / 2 - setup.shift, -widest - 3 * BESIDE, LETTERS, text),),
    )


def _moved(ring: ArcRing, shift: Mm) -> ArcRing:
    return ArcRing(points=ring.points - [shift, 0.0], bulges=ring.bulges)


def _within(setup: Setup, line: shapely.LineString) -> tuple[Line, ...]:
    """Return what a setup reaches of straight lines."""
    window = shapely.box(setup.start, -1e4, setup.end, 1e4)
    parts = [shapely.LineString(ends) for ends in pairwise(shapely.get_coordinates(line))]
    reached = shapely.intersection(parts, window)
    return tuple(Line(*part.coords[0], *part.coords[-1]) for part in reached if part.geom_type == "LineString" and part)
