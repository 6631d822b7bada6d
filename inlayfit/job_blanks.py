"""The tables [[blank]] of a job: the sheets that the pieces are laid out on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import msgspec
import shapely

from inlayfit.blanks import Blank
from inlayfit.errors import JobError
from inlayfit.job_stocks import FULL_TURN_DEG, sheet_thickness
from inlayfit.job_values import Length, dotted
from inlayfit.stocks import Stock, find_stock
from inlayfit.units import Mm, format_mm, positive_length, zero_or_more

LARGEST: Mm = 1000.0
"""A blank over a metre is a slip of the unit."""

LEAST: Mm = 3.0
"""Nothing is held or cut on less."""

MOST = 100
"""So many blanks of one kind are more than anybody lays out at once."""


class BlankTable(msgspec.Struct, frozen=True, kw_only=True):
    """A sheet as owned, or several alike."""

    stock: str | None = None
    name: str = ""
    width: Length | None = None
    height: Length | None = None
    drawing: str | None = None
    thickness: Length | None = None
    count: int = 1
    figure_deg: float | None = None
    clearance: Length = 0.5
    margin: Length = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class BlankJob:
    """Blanks that are alike; where a `drawing` has their real outline, `made` lacks it still."""

    made: tuple[Blank, ...]
    drawing: Path | None = None


def resolve_blanks(
    tables: Sequence[BlankTable], stocks: Sequence[Stock], source: str, folder: Path
) -> tuple[BlankJob, ...]:
    """Return the blanks of a job in its order; `stocks` are those of the job, `folder` is where its paths start.

    Raises:
        JobError: an unknown stock, a size and a drawing at once or neither, a count or a direction that is none.
        UnitError: a size that is no length, or absurd.
    """
    blanks: list[BlankJob] = []
    counted: dict[str, int] = {}
    for number, table in enumerate(tables):
        where = dotted(source, f"blank[{number}]")
        blank = _blank(table, stocks, where)
        first = counted.get(blank.stock, 0)
        counted[blank.stock] = first + table.count
        made = tuple(replace(blank, name=_name(table, blank.stock, one, first)) for one in range(1, table.count + 1))
        blanks.append(BlankJob(made=made, drawing=None if table.drawing is None else folder / table.drawing))
    return tuple(blanks)


def _name(table: BlankTable, stock: str, number: int, first: int) -> str:
    """Return the name that the maker gave, with a number if there are several alike, or that of the stock."""
    if table.name:
        return f"{table.name} {number}" if table.count > 1 else table.name
    return f"{stock} {first + number}"


def _blank(table: BlankTable, stocks: Sequence[Stock], where: str) -> Blank:
    if not 1 <= table.count <= MOST:
        raise JobError(f"a count of {table.count}", where=f"{where}.count", remedy=f"give 1 to {MOST}")
    turn = table.figure_deg
    if turn is not None and not abs(turn) <= FULL_TURN_DEG:  # not a number fails this too
        remedy = "give degrees, counter-clockwise from the width of the blank"
        raise JobError(f"{turn:g} is no direction", where=f"{where}.figure_deg", remedy=remedy)
    return Blank(
        name=table.name,
        stock=_stock_of(table, stocks, where),
        outline=_outline(table, where),
        clearance=zero_or_more(table.clearance, where=f"{where}.clearance", most=LARGEST),
        margin=zero_or_more(table.margin, where=f"{where}.margin", most=LARGEST),
        thickness=sheet_thickness(table.thickness, where),
        figure_deg=turn,
        key=where,
    )


def _stock_of(table: BlankTable, stocks: Sequence[Stock], where: str) -> str:
    """Return the name of the stock: the only one needs none."""
    if table.stock is None and len(stocks) == 1:
        return stocks[0].name
    if table.stock is None:
        names = ", ".join(stock.name for stock in stocks)
        raise JobError("of which stock is this blank?", where=f"{where}.stock", remedy=f"give one of {names}")
    return find_stock(stocks, table.stock, where=f"{where}.stock").name


def _outline(table: BlankTable, where: str) -> shapely.Polygon:
    """Return the rectangle of a blank; an empty one where a drawing has its outline."""
    sizes = {key: value for key in ("width", "height") if (value := getattr(table, key)) is not None}
    if table.drawing is not None and sizes:
        remedy = "keep the one that tells its real outline"
        raise JobError("a size and a drawing at once", where=f"{where}.drawing", remedy=remedy)
    if table.drawing is not None:
        return shapely.Polygon()
    for key in ("width", "height"):
        if key not in sizes:
            remedy = 'give width and height, or its outline: drawing = "blank.dxf"'
            raise JobError(f"the blank lacks its {key}", where=f"{where}.{key}", remedy=remedy)
    width, height = (_side(sizes[key], f"{where}.{key}") for key in ("width", "height"))
    return shapely.box(0, 0, width, height)


def _side(value: Length, where: str) -> Mm:
    side = positive_length(value, where=where, most=LARGEST)
    if side < LEAST:
        remedy = "look at the unit: a bare number is mm"
        raise JobError(f"{value} is less than {format_mm(LEAST)}: no blank", where=where, remedy=remedy)
    return side
