"""A drawing as it was understood: closed regions in millimetres, and a note for whatever is not among them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import shapely

from inlayfit.units import Mm

CURVE_TOLERANCE: Mm = 0.0002
"""Chord error of flattened curves, mm: the share of flattening in the budget of 1 um a path."""

NoteKind = Literal["left-out", "repaired", "assumed", "joined", "open"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """One closed area of the drawing; `polygon` is valid, in mm, y up, with its holes.

    Regions stand in painting order, the lowest first. `colour` is ``#rrggbb`` or empty; `element` names the source,
    `stock` what it is to be cut from, `let_in` whether its piece goes into the piece round it and not into the wood,
    once that is settled.
    """

    polygon: shapely.Polygon
    name: str
    layer: str = ""
    colour: str = ""
    element: str = ""
    stock: str = ""
    let_in: bool = False

    @property
    def look(self) -> tuple[str, str, str, bool]:
        """What makes one piece of regions that touch: layer, colour, stock, and what they are let into."""
        return self.layer, self.colour, self.stock, self.let_in


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnLine:
    """A line on a layer of lines, no region: `line` in mm as the regions are, closed where it was drawn so."""

    line: shapely.LineString
    layer: str
    element: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadNote:
    """Something that the reader left out, repaired, assumed, joined across a hair's width, or found open.

    `at` is the place in mm, in the coordinates of the regions, where there is one.
    """

    kind: NoteKind
    subject: str
    message: str
    remedy: str = ""
    at: tuple[Mm, Mm] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """What was read: the regions, lowest first, and the notes; `scale` is mm per unit of the file.

    `lines` holds what lies on the layers that were named as layers of lines; it does not count for the size.
    """

    source: str
    regions: tuple[Region, ...]
    notes: tuple[ReadNote, ...] = ()
    scale: float = 1.0
    lines: tuple[DrawnLine, ...] = ()

    @property
    def bounds(self) -> tuple[Mm, Mm, Mm, Mm]:
        """Left, bottom, right, top of all regions."""
        left, bottom, right, top = shapely.total_bounds([region.polygon for region in self.regions])
        return float(left), float(bottom), float(right), float(top)

    @property
    def size(self) -> tuple[Mm, Mm]:
        """Width and height of all regions together."""
        left, bottom, right, top = self.bounds
        return right - left, top - bottom
