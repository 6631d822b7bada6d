"""A job: a drawing or a board, what cuts each half, and the gap, from a TOML file. Its errors name the dotted key."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Any, TypeVar, get_args, get_origin

import msgspec

from inlayfit.choices import CORNERS, GAP_FROM, LARGEST_GAP, LARGEST_TOLERANCE
from inlayfit.cutters import Cutter
from inlayfit.depth import DepthAsked
from inlayfit.errors import JobError, nearest_of
from inlayfit.expected import Premises
from inlayfit.feeds import Cutting
from inlayfit.job_blanks import BlankJob, BlankTable, resolve_blanks
from inlayfit.job_board import BoardJob, BoardTable, MarkersTable, resolve_board
from inlayfit.job_expected import GlueTable, SeasonTable, ToleranceTable, resolve_premises
from inlayfit.job_machine import MachineTable, resolve_cutting
from inlayfit.job_part import DepthTable, PartJob, PartTable, resolve_depth, resolve_part
from inlayfit.job_stocks import CutterTable, StockTable, resolve_cutter, resolve_stocks, sheet_thickness
from inlayfit.job_values import Factor, Length, dotted, one_of
from inlayfit.stocks import Stock
from inlayfit.units import Mm, positive_length, zero_or_more

WORDS = {
    "Object missing required field": "the job lacks",
    "`float | str | null`": "a length",
    "`int | float | str`": "a number",
    "`array | null`": "a list",
    "`object | null`": "a table",
    "`int | null`": "a whole number",
    "`float | str`": "a length",
    "`float | null`": "a number",
    "`str | null`": "a text in quotes",
    "`str`": "a text in quotes",
    "`object`": "a table",
    "`float`": "a number",
    "`int`": "a whole number",
    "`array`": "a list",
    "`bool`": "true or false",
}
"""What msgspec calls things, and what a maker would."""


TWICE = re.compile(r"Cannot declare \('stock', (?:'(.*)'|\"(.*)\")\) twice (\(.*\))")
"""What TOML says of two tables of stock with one name."""


class DrawingTable(msgspec.Struct, frozen=True, kw_only=True):
    """How the drawing is brought in."""

    file: str
    width: Length | None = None
    height: Length | None = None
    scale: Factor | None = None
    units: str | None = None
    join: Length = 0.01
    ignore_page: bool = False
    fonts: tuple[str, ...] = ()
    split_layer: str | None = None


class PieceTable(CutterTable, frozen=True, kw_only=True):
    """What the pieces are made of and cut with, if it is one stock; else what holds for stocks that do not say."""

    stock: str | None = None
    thickness: Length | None = None


class FitTable(msgspec.Struct, frozen=True, kw_only=True):
    """The gap, and what counts as a finding."""

    gap: Length | None = None
    gap_from: str = "piece"
    joint: Length | None = None
    corners: str = "match"
    tolerance: Length = 0.05
    least_web: Length = 0.6


class JobFile(msgspec.Struct, frozen=True, kw_only=True):
    """The file as it is written; `read_job` turns it into a `Job`."""

    drawing: DrawingTable | None = None
    name: str = ""
    board: BoardTable | None = None
    markers: MarkersTable | None = None
    piece: PieceTable = PieceTable()
    stock: dict[str, StockTable] = {}
    blank: tuple[BlankTable, ...] = ()
    pocket: CutterTable = CutterTable()
    fit: FitTable = FitTable()
    part: PartTable | None = None
    depth: DepthTable = DepthTable()
    tolerance: ToleranceTable = ToleranceTable()
    season: SeasonTable | None = None
    glue: GlueTable | None = None
    machine: MachineTable = MachineTable()


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What a fit needs, in mm; a cutter or a gap that was not given is None. It has a drawing or a board."""

    name: str
    drawing: Path | None = None
    board: BoardJob | None = None
    width: Mm | None = None
    height: Mm | None = None
    scale: float | None = None
    units: str | None = None
    join: Mm = 0.01
    ignore_page: bool = False
    fonts: tuple[Path, ...] = ()
    split_layer: str | None = None
    piece_cutter: Cutter | None = None
    pocket_cutter: Cutter | None = None
    stock: str = "shell"
    thickness: Mm | None = None
    stocks: tuple[Stock, ...] = ()
    blanks: tuple[BlankJob, ...] = ()
    gap: Mm | None = None
    gap_from: str = "piece"
    joint: Mm | None = None
    corners: str = "match"
    tolerance: Mm = 0.05
    least_web: Mm = 0.6
    part: PartJob | None = None
    depth: DepthAsked = field(default_factory=DepthAsked)
    premises: Premises = field(default_factory=Premises)
    cutting: Cutting = field(default_factory=Cutting)


def read_job(text: str, *, source: str, folder: Path) -> Job:
    """Return the job that TOML text describes; `source` names it in errors, `folder` is where its paths start.

    Raises:
        JobError: no TOML, an unknown key, a value of the wrong kind, or sizes that contradict each other.
        UnitError: a size that cannot be read.
    """
    raw = _parse(text, source)
    _refuse_unknown_keys(raw, JobFile, source)
    if isinstance(stocks := raw.get("stock"), dict):  # of a key that the maker chose msgspec does not tell the name
        for name, table in stocks.items():
            _convert(table, StockTable, source, f"stock.{name}.")
    return _resolve(_convert(raw, JobFile, source), source, folder)


_Table = TypeVar("_Table", bound=msgspec.Struct)


def _convert(raw: object, table: type[_Table], source: str, path: str = "") -> _Table:
    try:
        return msgspec.convert(raw, table)
    except msgspec.ValidationError as error:
        message, _, key = str(error).partition(" - at `$")
        for theirs, ours in WORDS.items():
            message = message.replace(theirs, ours)
        raise JobError(
            message[0].lower() + message[1:],
            where=dotted(source, f"{path}{key.strip('.`')}".rstrip(".")),
            remedy="inlayfit new emblem writes a job with every key explained",
        ) from error


def _parse(text: str, source: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # a slip of TOML, a number without end, tables without end
        if twice := TWICE.match(str(error)):
            name, place = twice[1] or twice[2], twice[3]
            remedy = "give each a name of its own, or put all into one table"
            raise JobError(
                f"two stocks are called {name!r} {place}", where=f"{source}: stock.{name}", remedy=remedy
            ) from error
        raise JobError(
            f"this is not TOML: {error}", where=source, remedy='texts stand in quotes: bit = "1/32in"'
        ) from error


def _refuse_unknown_keys(table: dict[str, Any], struct: type[msgspec.Struct], source: str, path: str = "") -> None:
    known = {field.name: field.type for field in msgspec.structs.fields(struct)}
    for key, value in table.items():
        here = f"{path}{key}"
        if key not in known:
            raise JobError(f"no such key {key!r}", where=dotted(source, here), remedy=_nearest(key, path, known))
        part = _table_type(known[key])
        if part is not None and isinstance(value, dict) and get_origin(known[key]) is dict:
            for name, entry in value.items():
                _refuse_unknown_keys(entry if isinstance(entry, dict) else {}, part, source, f"{here}.{name}.")
        elif part is not None and isinstance(value, dict):
            _refuse_unknown_keys(value, part, source, f"{here}.")
        for number, entry in enumerate(value if isinstance(value, list) else ()):
            if part is not None and isinstance(entry, dict):
                _refuse_unknown_keys(entry, part, source, f"{here}[{number}].")


def _table_type(kind: Any) -> type[msgspec.Struct] | None:  # noqa: ANN401  # a type, a union or a list of them
    """Return the table that a key holds, perhaps one of many or none."""
    for part in (kind, *get_args(kind)):
        if isinstance(part, type) and issubclass(part, msgspec.Struct):
            return part
    return None


def _nearest(key: str, path: str, known: Iterable[str]) -> str:
    """Return which key is near: one of the same table, or that name in the table where it belongs."""
    if not get_close_matches(key, known):
        for table in msgspec.structs.fields(JobFile):
            part = _table_type(table.type)
            if part is not None and key in part.__struct_fields__:
                return f"{key} belongs to [{table.name}]"
    return nearest_of(key, known, prefix=path)


def _resolve(written: JobFile, source: str, folder: Path) -> Job:
    drawing, fit = written.drawing, written.fit
    board = _board(written, source, folder)
    stocks = _stocks(written, source)
    stock = "shell" if written.piece.stock is None else written.piece.stock
    return Job(
        name=written.name or Path(source).stem,
        board=board,
        **({} if drawing is None else _drawing(drawing, source, folder)),
        piece_cutter=resolve_cutter(written.piece, dotted(source, "piece")),
        pocket_cutter=resolve_cutter(written.pocket, dotted(source, "pocket")),
        stock=stock,
        thickness=sheet_thickness(written.piece.thickness, dotted(source, "piece")),
        stocks=stocks,
        blanks=resolve_blanks(written.blank, stocks or (Stock(name=stock),), source, folder),
        part=_part(written, source),
        depth=resolve_depth(written.depth, source),
        gap=None if fit.gap is None else zero_or_more(fit.gap, where=dotted(source, "fit.gap"), most=LARGEST_GAP),
        joint=None
        if fit.joint is None
        else zero_or_more(fit.joint, where=dotted(source, "fit.joint"), most=LARGEST_GAP),
        gap_from=one_of(fit.gap_from, GAP_FROM, dotted(source, "fit.gap_from")),
        corners=one_of(fit.corners, CORNERS, dotted(source, "fit.corners")),
        tolerance=positive_length(fit.tolerance, where=dotted(source, "fit.tolerance"), most=LARGEST_TOLERANCE),
        least_web=zero_or_more(fit.least_web, where=dotted(source, "fit.least_web")),
        premises=resolve_premises(
            written.tolerance,
            written.season,
            written.glue,
            source,
            figures={stock.name: stock.figure_deg for stock in stocks},
        ),
        cutting=resolve_cutting(written.machine, written.piece, written.stock, written.pocket, source),
    )


def _part(written: JobFile, source: str) -> PartJob | None:
    if written.part is not None and written.board is not None:
        raise JobError("a part and a board at once", where=dotted(source, "part"), remedy="leave one of them out")
    return None if written.part is None else resolve_part(written.part, source)


def _stocks(written: JobFile, source: str) -> tuple[Stock, ...]:
    """Return the stocks that have a table of their own; none where [piece] tells of the only one."""
    if written.stock and written.piece.stock is not None:
        remedy = "leave it out: the stocks are those with a table of their own"
        raise JobError(
            "a stock of the pieces beside tables of stock", where=dotted(source, "piece.stock"), remedy=remedy
        )
    if written.stock and written.board is not None:
        remedy = "give the sheet of all markers in [piece]"
        raise JobError("markers are cut from one stock", where=dotted(source, "stock"), remedy=remedy)
    return resolve_stocks(written.stock, source)


def _board(written: JobFile, source: str, folder: Path) -> BoardJob | None:
    """Return the board, if the job has one; it has a drawing or a board."""
    if written.board is None:
        if written.markers is not None:
            raise JobError("markers without a board", where=dotted(source, "markers"), remedy="add a table [board]")
        if written.drawing is None:
            remedy = "name its file: inlayfit new emblem writes a job with every key explained; markers want a [board]"
            raise JobError("the job lacks `drawing`", where=source, remedy=remedy)
        return None
    if written.drawing is not None:
        raise JobError(
            "a drawing and a board at once",
            where=dotted(source, "drawing"),
            remedy='a drawing for the markers stands in [markers]: drawing = "leaf.svg"',
        )
    sheet = sheet_thickness(written.piece.thickness, dotted(source, "piece"))
    return resolve_board(written.board, written.markers or MarkersTable(), sheet, source, folder)


def _drawing(table: DrawingTable, source: str, folder: Path) -> dict[str, Any]:
    def size(value: Length | None, key: str) -> Mm | None:
        return None if value is None else positive_length(value, where=dotted(source, key))

    return {
        "drawing": folder / table.file,
        "width": size(table.width, "drawing.width"),
        "height": size(table.height, "drawing.height"),
        "scale": table.scale,
        "units": table.units,
        "join": positive_length(table.join, where=dotted(source, "drawing.join")),
        "ignore_page": table.ignore_page,
        "fonts": tuple(folder / font for font in table.fonts),
        "split_layer": table.split_layer,
    }
