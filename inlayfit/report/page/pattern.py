"""The pattern at true size, for paper alone: both halves, on as many pages as they take, all with bars to check them.

A page holds 180 x 225 mm of drawing, which both A4 and US letter paper can take with a margin of 10 mm, so that nothing
needs to be scaled. Sources: ISO 216 (A4 is 210 x 297 mm); ANSI/ASME Y14.1 (A is 8.5 x 11 in).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from inlayfit.report.page.blanks import blank_id
from inlayfit.report.page.markup import text
from inlayfit.sheet import Sheet
from inlayfit.units import MM_PER_INCH, Mm

WIDE: Mm = 180.0
HIGH: Mm = 225.0
OVERLAP: Mm = 10.0
"""What two neighbouring pages both show: room for glue, and for the marks that bring them together."""

MARGIN: Mm = 5.0
CROSS: Mm = 4.0
"""Half the length of the lines of a registration mark."""

BARS = (("50 mm", 50.0), ("2 in", 2 * MM_PER_INCH))

TOUCHING = " (of pieces that touch, print one page each)"
"""Of two pieces that touch, the saw takes its slit from one; on blanks they lie apart."""

NOTE = (
    "Lay a rule on both bars before you trust this page. If one is not 50 mm, or the other not 2 in, print again at "
    "100 %, without &#8220;fit to page&#8221;."
)

Area = tuple[Mm, Mm, Mm, Mm]
"""Left, top, width and height, y down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tile:
    """One page: `left` and `top` of what it shows, y down, its `row` and `column` of `rows` and `columns`."""

    left: Mm
    top: Mm
    row: int
    column: int
    rows: int
    columns: int


def tiles(left: Mm, top: Mm, width: Mm, height: Mm) -> Iterator[Tile]:
    """Return the pages that show an area, row by row."""
    columns, rows = _count(width, WIDE), _count(height, HIGH)
    for row in range(rows):
        for column in range(columns):
            at = (left + column * (WIDE - OVERLAP), top + row * (HIGH - OVERLAP))
            yield Tile(left=at[0], top=at[1], row=row + 1, column=column + 1, rows=rows, columns=columns)


def _count(length: Mm, page: Mm) -> int:
    return max(math.ceil((length - OVERLAP) / (page - OVERLAP) - 1e-9), 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """What is printed at true size: its name, the id of what is drawn of it, and where that lies."""

    name: str
    drawn: str
    area: Area


def pattern_pages(sheet: Sheet, blanks: Sequence[Sheet]) -> list[str]:
    """Return the pages of the pieces (as they lie on the blanks, where there are any) and of the pockets, for paper."""
    halves = [Pattern(name="the pockets", drawn="POCKET_OUTLINE", area=_area(sheet))]
    if blanks:
        laid = enumerate(blanks)
        halves += [Pattern(name=text(blank.title), drawn=blank_id(index), area=_area(blank)) for index, blank in laid]
    else:
        halves.insert(0, Pattern(name=f"the pieces{TOUCHING}", drawn="PIECE_OUTLINE", area=_area(sheet)))
    pages = [line for half in halves for tile in tiles(*half.area) for line in _page(half, tile)]
    return ['<div class="patterns" aria-hidden="true">', *pages, "</div>"]


def _area(sheet: Sheet) -> Area:
    left, bottom, right, top = sheet.bounds
    return left - MARGIN, -top - MARGIN, right - left + 2 * MARGIN, top - bottom + 2 * MARGIN


def _page(half: Pattern, tile: Tile) -> list[str]:
    of = f", page {tile.column} of {tile.columns} across, {tile.row} of {tile.rows} down"
    title = f"Pattern of {half.name}, true size{of if tile.rows * tile.columns > 1 else ''}"
    high = HIGH if tile.rows > 1 else min(half.area[3], HIGH)
    return [
        f'<div class="pattern"><p class="pattern-title">{title}</p>',
        f'<svg width="{WIDE:g}mm" height="{high:g}mm" viewBox="{tile.left:.3f} {tile.top:.3f} {WIDE:g} {high:g}">',
        f'<use href="#{half.drawn}"/>',
        *registration_marks(tile, high),
        "</svg>",
        *_bars(),
        "</div>",
    ]


def registration_marks(tile: Tile, high: Mm) -> list[str]:
    """Return two crosses in each overlap with a neighbour: the same spots of the drawing on both pages."""
    xs = [tile.left + OVERLAP / 2 + step * (WIDE - OVERLAP) for step in _shared(tile.column, tile.columns)]
    ys = [tile.top + OVERLAP / 2 + step * (HIGH - OVERLAP) for step in _shared(tile.row, tile.rows)]
    spots = {(x, tile.top + high * share) for x in xs for share in (0.25, 0.75)}
    spots |= {(tile.left + WIDE * share, y) for y in ys for share in (0.25, 0.75)}
    return [_cross(x, y) for x, y in sorted(spots)]


def _shared(number: int, count: int) -> list[int]:
    """Return 0 if there is a page before, 1 if there is one after."""
    return [*([0] if number > 1 else []), *([1] if number < count else [])]


def _cross(x: Mm, y: Mm) -> str:
    lines = f"M{x - CROSS:.3f} {y:.3f}h{2 * CROSS:g}M{x:.3f} {y - CROSS:.3f}v{2 * CROSS:g}"
    return f'<path class="cross" d="{lines}"/><circle class="cross" cx="{x:.3f}" cy="{y:.3f}" r="{CROSS / 2:g}"/>'


def _bars() -> list[str]:
    """Return the bars that show whether the paper has the true size."""
    lines = [f'<svg class="bars" width="{WIDE:g}mm" height="12mm" viewBox="0 0 {WIDE:g} 12">']
    x = 0.2
    for name, length in BARS:
        lines.append(f'<path class="bar" d="M{x:g} 4v4M{x:g} 6h{length:g}M{x + length:g} 4v4"/>')
        lines.append(f'<text x="{x + length / 2:g}" y="4.5">{name}</text>')
        x += length + 12
    return [*lines, "</svg>", f'<p class="pattern-note">{NOTE}</p>']
