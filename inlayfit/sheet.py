"""What one drawing file holds: named layers of outlines, and labels; for the writers and the read-back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from inlayfit.arcs import ArcRing, flatten_ring
from inlayfit.units import Mm

GUIDE = "GUIDE"
LAYER_COLOURS: Mapping[str, tuple[str, int]] = {
    "PIECE_OUTLINE": ("#1b6f5c", 3),
    "PIECE_PATH": ("#d1495b", 1),
    "POCKET_OUTLINE": ("#2e4fa3", 5),
    "POCKET_PATH": ("#c9781f", 30),
    "STEP_OUTLINE": ("#5a3fa0", 202),
    "STEP_PATH": ("#b5489b", 211),
    "BOARD_OUTLINE": ("#4b3a2a", 7),
    "SLOT_OUTLINE": ("#8c6d3f", 32),
    "SLOT_PATH": ("#a33b8f", 6),
    "PIN_HOLE": ("#0f8b8d", 4),
    GUIDE: ("#7a7f87", 8),
}
"""Each layer's colour as #rrggbb, and the nearest of the numbered colours for programs that know only those."""

_EXTENT_TOLERANCE: Mm = 0.01


class Label(NamedTuple):
    """A line of text on the guide layer; x, y is its middle, `height` that of its capitals, all mm."""

    x: Mm
    y: Mm
    height: Mm
    text: str


class Line(NamedTuple):
    """A straight line that closes nothing, from x1, y1 to x2, y2, mm."""

    x1: Mm
    y1: Mm
    x2: Mm
    y2: Mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One file: `layers` by the names of `LAYER_COLOURS`, mm, y up; `labels` stand on the guide layer.

    `lines` holds the lines that close nothing, by layer as well.

    Raises:
        ValueError: a layer that has no colour.
    """

    name: str
    title: str
    layers: Mapping[str, tuple[ArcRing, ...]]
    labels: tuple[tuple[Mm, Mm, Mm, str], ...] = ()
    lines: Mapping[str, tuple[Line, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        unknown = {*self.layers, *self.lines} - set(LAYER_COLOURS)
        if unknown:
            raise ValueError(f"no such layer: {', '.join(sorted(unknown))}")

    @property
    def layer_names(self) -> tuple[str, ...]:
        """The layers in use, in the order of `LAYER_COLOURS`."""
        used = {*self.layers, *self.lines, *([GUIDE] if self.labels else [])}
        return tuple(name for name in LAYER_COLOURS if name in used)

    @property
    def bounds(self) -> tuple[Mm, Mm, Mm, Mm]:
        """Left, bottom, right, top of all outlines and lines, and the middles of all labels; noughts if none are."""
        rings = [flatten_ring(ring, _EXTENT_TOLERANCE) for rings in self.layers.values() for ring in rings]
        spots = np.array([label[:2] for label in self.labels]).reshape(-1, 2)
        ends = np.array([line for lines in self.lines.values() for line in lines]).reshape(-1, 2)
        points = np.vstack([*rings, ends, spots])
        if not points.size:
            return 0.0, 0.0, 0.0, 0.0
        (left, bottom), (right, top) = points.min(axis=0), points.max(axis=0)
        return float(left), float(bottom), float(right), float(top)


def plain_text(text: str) -> str:
    r"""Return the text on one line, with a space for whatever neither format can hold.

    >>> plain_text("leaf 3\n\x00")
    'leaf 3'
    """
    return "".join(sign if sign.isprintable() else " " for sign in text).strip()
