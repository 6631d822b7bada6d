"""Boards for the tests: one that is usual, and any number that are not."""

from __future__ import annotations

import random
from typing import Any

from inlayfit.board import Board
from inlayfit.errors import JobError
from inlayfit.fretboard import Scale
from inlayfit.marker_shapes import SHAPES, Style
from inlayfit.markers import MarkerSettings

INCH = 25.4
FANNED = Scale(bass=27 * INCH, treble=25.5 * INCH, frets=24, perpendicular=7)


def a_scale(length: float = 650.0, frets: int = 24, **changes: Any) -> Scale:
    return Scale(bass=length, treble=length, frets=frets, **changes)


def a_board(**changes: Any) -> Board:
    """Return a board of 650 mm, 24 frets, 43 to 57 mm wide."""
    usual = {"scale": a_scale(), "nut_width": 43.0, "end_width": 57.0, "overhang": 8.0}
    return Board(**usual | changes)


def a_random_board(chance: random.Random) -> Board:
    """Return a board of any size, straight or fanned, flat or round, for either hand; tried until it is one."""
    while True:
        length = chance.uniform(330, 900)
        nut = chance.uniform(28, 65)
        radius = chance.choice([None, chance.uniform(150, 600)])
        try:
            return Board(
                scale=Scale(
                    bass=length,
                    treble=length * chance.choice([1.0, chance.uniform(0.92, 1.0)]),
                    frets=chance.randint(12, 27),
                    perpendicular=chance.choice([0, 5, 7, 9, 12]),
                    nut_offset=chance.choice([0.0, chance.uniform(-1, 1)]),
                ),
                nut_width=nut,
                end_width=nut * chance.uniform(0.9, 1.5),
                end_fret=chance.choice([None, 12]),
                overhang=chance.uniform(0, 15),
                radius=radius,
                end_radius=None if radius is None else chance.choice([None, radius * chance.uniform(1, 2)]),
                thickness=chance.uniform(5, 8),
                slot_width=chance.uniform(0.5, 0.7),
                slot_depth=chance.uniform(1.5, 3),
                left_handed=chance.random() < 0.3,
            )
        except JobError:
            continue


def a_random_setting(chance: random.Random, board: Board) -> MarkerSettings:
    """Return markers of any shape and size, many of which cannot keep their distance, and some cannot be at all."""
    shape = chance.choice(sorted(SHAPES))
    sizes: dict[str, Any] = {"margin": chance.choice([0.0, 0.5, 1.5, 3.0])}
    if shape == "dot":
        sizes["diameter"] = chance.uniform(3, 22)
    elif chance.random() < 0.6:
        sizes["length"] = chance.uniform(4, 40)
        sizes["width_share"] = chance.uniform(0.1, 1.1)
    along = chance.choice(["centre", "centre", "bass", "treble"])
    frets = chance.sample(range(1, board.scale.frets + 1), k=min(4, board.scale.frets))
    return MarkerSettings(
        frets=tuple(frets),
        doubles=tuple(fret for fret in frets if chance.random() < 0.3),
        style=Style(
            shape=shape,
            along=along,
            edge_distance=None if along == "centre" else chance.uniform(2, 15),
            spread=chance.uniform(0.2, 0.7),
            **sizes,
        ),
    )
