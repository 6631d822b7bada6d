"""The tables [stock.NAME] of a job: what pieces are cut from, with what, and which regions they are."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from inlayfit.cutters import Cutter, make_bit, make_kerf
from inlayfit.errors import JobError
from inlayfit.job_values import Length, dotted, one_of
from inlayfit.stocks import CUT_FROM, INLAID, KINDS, Stock, plain_colour
from inlayfit.units import Mm, positive_length, zero_or_more

THICKEST: Mm = 50.0
"""Sheet that is thicker than this is a slip of the unit."""

FULL_TURN_DEG = 360.0


class CutterTable(msgspec.Struct, frozen=True, kw_only=True):
    """What cuts one half, and how fast."""

    bit: Length | None = None
    kerf: Length | None = None
    runout: Length | None = None
    teeth: int | None = None
    rpm: float | None = None
    feed: Length | None = None
    pass_depth: Length | None = None


class StockTable(CutterTable, frozen=True, kw_only=True):
    """A material, and the regions that are cut from it."""

    kind: str = "shell"
    thickness: Length | None = None
    least_web: Length | None = None
    figure_deg: float | None = None
    cut_from: str = "front"
    inlaid: str = "wood"
    let_in: tuple[str, ...] = ()
    layers: tuple[str, ...] = ()
    colours: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    regions: tuple[str, ...] = ()
    without: tuple[str, ...] = ()


def resolve_cutter(table: CutterTable, where: str) -> Cutter | None:
    """Return the cutter of a table, None where it names none.

    Raises:
        JobError: a bit and a kerf at once, or a runout without a bit.
        UnitError: a size that is no length.
    """
    if table.bit is not None and table.kerf is not None:
        raise JobError("a bit and a kerf at once", where=where, remedy="keep the one that cuts this half")
    if table.bit is not None:
        return make_bit(table.bit, runout=table.runout or 0.0, where=f"{where}.bit")
    if table.runout is not None:
        raise JobError("a runout without a bit", where=f"{where}.runout", remedy=f"give {where}.bit as well")
    if table.kerf is None:
        return None
    for key in ("teeth", "rpm", "feed", "pass_depth"):
        if getattr(table, key) is not None:
            remedy = "leave it out: a saw or a beam gets no program, its path stands in the drawing"
            raise JobError(f"a kerf has no {key}", where=f"{where}.{key}", remedy=remedy)
    return make_kerf(table.kerf, where=f"{where}.kerf")


def sheet_thickness(thickness: Length | None, where: str) -> Mm | None:
    """Return a thickness in mm.

    Raises:
        UnitError: no length, not over zero, or no sheet any more.
    """
    return None if thickness is None else positive_length(thickness, where=f"{where}.thickness", most=THICKEST)


def resolve_stocks(tables: Mapping[str, StockTable], source: str) -> tuple[Stock, ...]:
    """Return the stocks of a job, in its order; `source` is its file.

    Raises:
        JobError: a name that says nothing, a choice that is not known, or cutters that contradict each other.
        UnitError: a size that is no length.
    """
    return tuple(_stock(name, table, dotted(source, f"stock.{name}")) for name, table in tables.items())


def _stock(name: str, table: StockTable, where: str) -> Stock:
    if not name.strip() or not name.isprintable():
        raise JobError("a stock without a name", where=where, remedy="give it one, such as [stock.pearl]")
    if table.figure_deg is not None and not abs(table.figure_deg) <= FULL_TURN_DEG:  # not a number fails this too
        remedy = "give degrees, counter-clockwise from the width of the drawing"
        raise JobError(f"{table.figure_deg:g} is no direction", where=f"{where}.figure_deg", remedy=remedy)
    web = table.least_web
    return Stock(
        name=name,
        kind=one_of(table.kind, KINDS, f"{where}.kind"),
        thickness=sheet_thickness(table.thickness, where),
        cutter=resolve_cutter(table, where),
        least_web=None if web is None else zero_or_more(web, where=f"{where}.least_web"),
        figure_deg=table.figure_deg,
        cut_from=one_of(table.cut_from, CUT_FROM, f"{where}.cut_from"),
        inlaid=one_of(table.inlaid, INLAID, f"{where}.inlaid"),
        let_in=table.let_in,
        layers=table.layers,
        colours=tuple(plain_colour(colour, where=f"{where}.colours") for colour in table.colours),
        names=table.names,
        regions=table.regions,
        without=table.without,
    )
