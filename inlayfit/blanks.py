"""The blanks that a maker owns: what they are of, what of them may be cut, and whether they will do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from inlayfit.cutters import Cutter
from inlayfit.drawing import Drawing
from inlayfit.errors import JobError
from inlayfit.stocks import Stock, find_stock
from inlayfit.units import Mm, format_mm

BAND: Mm = 1.0
"""An area that is thinner than this in the mean is a line that was drawn round the blank, with its width."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """One sheet of a stock: `outline` mm, its lower left corner at the origin, as it lies on the machine.

    `clearance` is what must stay of it between the cuts round two pieces, `margin` the strip along its edge that no
    cutter may touch. `figure_deg` is the direction of its figure as it lies, counter-clockwise from x; `key` is where
    it stands in the job.
    """

    name: str
    stock: str
    outline: shapely.Polygon
    clearance: Mm
    margin: Mm
    thickness: Mm | None = None
    figure_deg: float | None = None
    key: str = ""

    @property
    def size(self) -> tuple[Mm, Mm]:
        """Width and height."""
        left, bottom, right, top = self.outline.bounds
        return right - left, top - bottom

    def between(self, cutter: Cutter) -> Mm:
        """Return the least distance between two outlines: the cut round one, and the stock that stays."""
        return 2 * cutter.radius + self.clearance

    def edge(self, cutter: Cutter) -> Mm:
        """Return the least distance of an outline from the edge: the cut, and the margin."""
        return 2 * cutter.radius + self.margin


def outline_of(drawing: Drawing, *, where: str) -> shapely.Polygon:
    """Return the outline of a blank from its drawing, moved to the origin; of a line with a width its inner edge.

    Raises:
        JobError: an outline that is open, or several.
    """
    for note in drawing.notes:
        if note.kind == "open":
            raise JobError(f"the outline of the blank is open: {note.message}", where=where, remedy=CLOSE)
    parts = shapely.get_parts(shapely.union_all([region.polygon for region in drawing.regions]))
    if len(parts) > 1:
        raise JobError(
            f"{len(parts)} outlines: a blank has one",
            where=where,
            remedy="draw each blank in a file of its own, without anything beside it",
        )
    outline = parts[0]
    if 2 * outline.area < BAND * outline.length:
        outline = _within_line(outline, where)
    left, bottom, _, _ = outline.bounds
    return shapely.transform(outline, lambda points: points - (left, bottom))


CLOSE = "close it in the drawing: the last point on the first"


def _within_line(line: shapely.Polygon, where: str) -> shapely.Polygon:
    """Return what a line with a width goes round."""
    inner = max((shapely.Polygon(ring) for ring in line.interiors), key=lambda area: area.area, default=None)
    if inner is None:
        raise JobError("the outline of the blank is open: it goes round nothing", where=where, remedy=CLOSE)
    return inner


def check_blanks(blanks: Sequence[Blank], stocks: Sequence[Stock]) -> None:
    """Refuse blanks that no piece can be cut from; the stocks come with their cutters.

    Raises:
        JobError: a stock that is not known, a blank thinner than its pieces, or nothing left of it within its margin.
    """
    for blank in blanks:
        stock = find_stock(stocks, blank.stock, where=f"{blank.key}.stock")
        if stock.thickness is not None and blank.thickness is not None and blank.thickness < stock.thickness:
            raise JobError(
                f"{format_mm(blank.thickness)} is thinner than the pieces of {stock.name} need "
                f"({format_mm(stock.thickness)})",
                where=f"{blank.key}.thickness",
                remedy="take a thicker blank, or thinner pieces throughout",
            )
        edge = blank.margin if stock.cutter is None else blank.edge(stock.cutter)
        if shapely.buffer(blank.outline, -edge).is_empty:
            raise JobError(
                f"nothing is left of {format_mm(blank.size[0])} by {format_mm(blank.size[1])}: pieces stay "
                f"{format_mm(edge)} off the edge for the cut and the margin",
                where=blank.key,
                remedy="take a larger blank, a smaller margin or a smaller bit",
            )
    _refuse_half_figured(blanks, stocks)


def _refuse_half_figured(blanks: Sequence[Blank], stocks: Sequence[Stock]) -> None:
    """Refuse blanks of which one says how its figure runs and another does not, where that matters."""
    for stock in stocks:
        of_stock = [blank for blank in blanks if blank.stock == stock.name]
        silent = [blank for blank in of_stock if blank.figure_deg is None]
        if stock.figure_deg is not None and silent and len(silent) < len(of_stock):
            raise JobError(
                f"the figure of {stock.name} has a direction, and this blank does not say how it runs",
                where=f"{silent[0].key}.figure_deg",
                remedy="give the direction on each blank of the stock, or on none: then pieces turn freely",
            )
