"""A job: the drawing, what cuts each half, and the gap, from a TOML file. Its errors name the dotted key."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Annotated, Any

import msgspec

from inlayfit.choices import CORNERS, GAP_FROM, LARGEST_GAP, LARGEST_TOLERANCE
from inlayfit.cutters import Cutter, make_bit, make_kerf
from inlayfit.errors import JobError, nearest_of
from inlayfit.units import Mm, positive_length, zero_or_more

Length = str | float  # as written: "1/32in", "0.8 mm", or a bare number of millimetres
Factor = Annotated[float, msgspec.Meta(gt=0, le=1e6)]

WORDS = {
    "Object missing required field": "the job lacks",
    "`float | str | null`": "a length",
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


class DrawingTable(msgspec.Struct, frozen=True, kw_only=True):
    """How the drawing is brought in."""

    file: str
    width: Length | None = None
    height: Length | None = None
    scale: Factor | None = None
    units: str | None = None
    join: Length = 0.01


class CutterTable(msgspec.Struct, frozen=True, kw_only=True):
    """What cuts one half."""

    bit: Length | None = None
    kerf: Length | None = None
    runout: Length | None = None


class PieceTable(CutterTable, frozen=True, kw_only=True):
    """What the piece is made of and cut with."""

    stock: str = "shell"


class FitTable(msgspec.Struct, frozen=True, kw_only=True):
    """The gap, and what counts as a finding."""

    gap: Length | None = None
    gap_from: str = "piece"
    corners: str = "match"
    tolerance: Length = 0.05
    least_web: Length = 0.6


class JobFile(msgspec.Struct, frozen=True, kw_only=True):
    """The file as it is written; `read_job` turns it into a `Job`."""

    drawing: DrawingTable
    name: str = ""
    piece: PieceTable = PieceTable()
    pocket: CutterTable = CutterTable()
    fit: FitTable = FitTable()


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What a fit needs, in mm; a cutter or a gap that was not given is None."""

    name: str
    drawing: Path
    width: Mm | None = None
    height: Mm | None = None
    scale: float | None = None
    units: str | None = None
    join: Mm = 0.01
    piece_cutter: Cutter | None = None
    pocket_cutter: Cutter | None = None
    stock: str = "shell"
    gap: Mm | None = None
    gap_from: str = "piece"
    corners: str = "match"
    tolerance: Mm = 0.05
    least_web: Mm = 0.6


def read_job(text: str, *, source: str, folder: Path) -> Job:
    """Return the job that TOML text describes; `source` names it in errors, `folder` is where its paths start.

    Raises:
        JobError: no TOML, an unknown key, a value of the wrong kind, or sizes that contradict each other.
        UnitError: a size that cannot be read.
    """
    raw = _parse(text, source)
    _refuse_unknown_keys(raw, JobFile, source)
    try:
        written = msgspec.convert(raw, JobFile)
    except msgspec.ValidationError as error:
        message, _, path = str(error).partition(" - at `$")
        for theirs, ours in WORDS.items():
            message = message.replace(theirs, ours)
        raise JobError(
            message[0].lower() + message[1:],
            where=_dotted(source, path.strip(".`")),
            remedy="inlayfit new emblem writes a job with every key explained",
        ) from error
    return _resolve(written, source, folder)


def _parse(text: str, source: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # a slip of TOML, a number without end, tables without end
        raise JobError(
            f"this is not TOML: {error}", where=source, remedy='texts stand in quotes: bit = "1/32in"'
        ) from error


def _refuse_unknown_keys(table: dict[str, Any], struct: type[msgspec.Struct], source: str, path: str = "") -> None:
    known = {field.name: field.type for field in msgspec.structs.fields(struct)}
    for key, value in table.items():
        dotted = f"{path}{key}"
        if key not in known:
            raise JobError(f"no such key {key!r}", where=_dotted(source, dotted), remedy=_nearest(key, path, known))
        part = known[key]
        if isinstance(value, dict) and isinstance(part, type) and issubclass(part, msgspec.Struct):
            _refuse_unknown_keys(value, part, source, f"{dotted}.")


def _nearest(key: str, path: str, known: Iterable[str]) -> str:
    """Return which key is near: one of the same table, or that name in the table where it belongs."""
    if not get_close_matches(key, known):
        for table in msgspec.structs.fields(JobFile):
            fields = getattr(table.type, "__struct_fields__", ())
            if key in fields:
                return f"{key} belongs to [{table.name}]"
    return nearest_of(key, known, prefix=path)


def _dotted(source: str, path: str) -> str:
    return f"{source}: {path}" if path else source


def _resolve(written: JobFile, source: str, folder: Path) -> Job:
    drawing, fit = written.drawing, written.fit

    def size(value: Length | None, key: str) -> Mm | None:
        return None if value is None else positive_length(value, where=_dotted(source, key))

    return Job(
        name=written.name or Path(source).stem,
        drawing=folder / drawing.file,
        width=size(drawing.width, "drawing.width"),
        height=size(drawing.height, "drawing.height"),
        scale=drawing.scale,
        units=drawing.units,
        join=positive_length(drawing.join, where=_dotted(source, "drawing.join")),
        piece_cutter=_cutter(written.piece, _dotted(source, "piece")),
        pocket_cutter=_cutter(written.pocket, _dotted(source, "pocket")),
        stock=written.piece.stock,
        gap=None if fit.gap is None else zero_or_more(fit.gap, where=_dotted(source, "fit.gap"), most=LARGEST_GAP),
        gap_from=_one_of(fit.gap_from, GAP_FROM, _dotted(source, "fit.gap_from")),
        corners=_one_of(fit.corners, CORNERS, _dotted(source, "fit.corners")),
        tolerance=positive_length(fit.tolerance, where=_dotted(source, "fit.tolerance"), most=LARGEST_TOLERANCE),
        least_web=zero_or_more(fit.least_web, where=_dotted(source, "fit.least_web")),
    )


def _one_of(name: str, known: tuple[str, ...], where: str) -> str:
    if name not in known:
        raise JobError(f"{name!r} is none of the choices", where=where, remedy=nearest_of(name, known))
    return name


def _cutter(table: CutterTable, where: str) -> Cutter | None:
    if table.bit is not None and table.kerf is not None:
        raise JobError("a bit and a kerf at once", where=where, remedy="keep the one that cuts this half")
    if table.bit is not None:
        return make_bit(table.bit, runout=table.runout or 0.0, where=f"{where}.bit")
    if table.runout is not None:
        raise JobError("a runout without a bit", where=f"{where}.runout", remedy=f"give {where}.bit as well")
    return None if table.kerf is None else make_kerf(table.kerf, where=f"{where}.kerf")
