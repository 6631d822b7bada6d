"""What a maker reads of a layout: which blanks are used, what lies on each, how much of them becomes pieces."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from inlayfit.layout import LaidBlank, Layout, StockYield
from inlayfit.programs import Program
from inlayfit.recipe import Piece
from inlayfit.report.blank_summary import cut_list
from inlayfit.report.program_summary import START_SLOWLY
from inlayfit.report.reading import number_of
from inlayfit.units import format_mm

MOST_LISTED = 40
"""Pieces that are listed; all of them stand in the file."""


def blank_report(layout: Layout, pieces: Sequence[Piece]) -> list[RenderableType]:
    """Return a line of each stock, a table of the blanks in use, and the list to cut by."""
    table = Table(box=None, padding=(0, 2, 0, 0), show_edge=False, header_style="bold")
    table.add_column("blank", overflow="fold")
    table.add_column("mm", no_wrap=True)
    table.add_column("pieces", overflow="fold")
    table.add_column("yield", justify="right", no_wrap=True)
    for laid in layout.blanks:
        table.add_row(*_row(laid, layout))
    lines = [Text(line) for line in map(_line, layout.stocks)]
    placed = sum(len(laid.pieces) for laid in layout.blanks)
    missing = len(layout.numbers) - placed
    rest = [Text(f"{number_of(missing, 'piece')} without a place: see below", style="bold red")] if missing else []
    return [Text(), *lines, *rest, Text(), table, *_back(layout), Text(), *_cut_list(layout, pieces)]


def _cut_list(layout: Layout, pieces: Sequence[Piece]) -> list[RenderableType]:
    table = Table(box=None, padding=(0, 2, 0, 0), show_edge=False, header_style="bold")
    for heading in ("no.", "piece", "stock"):
        table.add_column(heading, overflow="fold")
    for heading in ("mm", "mm2"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("blank", overflow="fold")
    rows = cut_list(layout, pieces)
    for row in rows[:MOST_LISTED]:
        size = f"{row['length_mm']:.1f} x {row['width_mm']:.1f}"
        names = (Text(str(row[key])) for key in ("number", "piece", "stock"))
        table.add_row(*names, size, f"{row['area_mm2']:.1f}", Text(row["blank"] or "none"))
    more = len(rows) - MOST_LISTED
    return [table, *([Text(f"and {more} more: all of them in cut-list.csv", style="dim")] if more > 0 else [])]


def _line(stock: StockYield) -> str:
    owned = number_of(stock.owned, "blank")
    return f"{stock.stock}: {stock.used} of {owned} used, {stock.yield_percent:.0f} % of it becomes pieces"


def _row(laid: LaidBlank, layout: Layout) -> tuple[str, str, str, str]:
    width, height = (format_mm(side, 1).removesuffix(" mm") for side in laid.blank.size)
    numbers = sorted((layout.numbers[one.piece] for one in laid.pieces), key=lambda number: (len(number), number))
    back = " (back)" if any(one.mirrored for one in laid.pieces) else ""
    return f"{laid.blank.name}{back}", f"{width} x {height}", " ".join(numbers), f"{laid.yield_percent:.0f} %"


def _back(layout: Layout) -> list[RenderableType]:
    """Return what to mind of blanks that are cut face down."""
    if not any(one.mirrored for laid in layout.blanks for one in laid.pieces):
        return []
    return [Text("(back): cut with its face down; the pieces on it are mirrored", style="italic")]


def program_report(programs: Sequence[Program]) -> list[RenderableType]:
    """Return a table of the cutting programs, or nothing where there are none."""
    if not programs:
        return []
    table = Table(box=None, padding=(0, 2, 0, 0), show_edge=False, header_style="bold")
    table.add_column("program", overflow="fold")
    table.add_column("bit", no_wrap=True)
    for heading in ("rpm", "mm/min", "at once", "lowest", "minutes"):
        table.add_column(heading, justify="right", no_wrap=True)
    for one in programs:
        speeds = (f"{one.speeds.rpm:.0f}", f"{one.speeds.feed:.0f}", f"{one.speeds.pass_depth:.2f}")
        table.add_row(f"{one.file}.nc", format_mm(one.bit.diameter), *speeds, f"{one.bottom:.2f}", f"{one.minutes:.1f}")
    return [Text(), table, Text(START_SLOWLY, style="italic")]
