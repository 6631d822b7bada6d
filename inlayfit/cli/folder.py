"""The folder of a fit: its sheets as DXF and SVG and the report, written, read back, and only then put in place."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import shapely

from inlayfit.arcs import ArcRing, fit_polygon
from inlayfit.depth import Zone
from inlayfit.recipe import Fit, Piece, Pocket
from inlayfit.report.json_text import json_text
from inlayfit.report.summary import fit_summary
from inlayfit.sheet import GUIDE, Sheet
from inlayfit.units import Mm, format_mm

if TYPE_CHECKING:
    from inlayfit.board_sheets import BoardDrawn
    from inlayfit.expected import Expected
    from inlayfit.layout import Layout

LABEL_HEIGHT: tuple[Mm, Mm] = (0.5, 3.0)
"""Letters are no smaller and no larger than this."""

LETTER_WIDTH = 0.9
"""Width of a letter in heights of a capital, with its space (common practice, no source)."""

SPOT_TOLERANCE: Mm = 0.05
"""How far a label may stand from the widest spot."""

LONGEST_NAME = 60
"""Letters of a file name: with suffix and folder it stays far below what file systems hold (255)."""


PAGE = "report.html"
"""All of it to look at and to print."""

MAP = "assembly.svg"
"""Where each numbered piece goes."""

CUT_LIST = "cut-list.csv"

OF_ONE_FIT = ("pieces-*", "board*", "side-dots.csv", "blank-*", MAP, CUT_LIST)
"""What another fit in the same folder may have left there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What stands in the folder: `files` as (path, kind), and how well the drawings read back.

    `older` names the pieces of an earlier run that lie there still: nobody should cut those by mistake.
    """

    files: tuple[tuple[str, str], ...]
    older: tuple[str, ...]
    outlines: int
    elements: int
    largest_deviation: Mm

    @property
    def proof(self) -> str:
        """What reading back showed."""
        return (
            f"{self.outlines} outlines of {self.elements} lines and arcs; "
            f"no point is off by more than {self.largest_deviation * 1000:.4f} um"
        )


def folder_for(job: str) -> str:
    """Return the folder of a job that names none, in the current directory.

    >>> folder_for("The Heron / no. 2")
    'the-heron-no-2-fit'
    """
    return f"{safe_name(job, otherwise='job')}-fit"


def safe_name(text: str, *, otherwise: str) -> str:
    """Return a name of small letters, digits and hyphens, for any file system.

    >>> safe_name("Mother-of-pearl, 1.3 mm", otherwise="stock"), safe_name("../..", otherwise="stock")
    ('mother-of-pearl-1-3-mm', 'stock')
    """
    plain = unicodedata.normalize("NFKD", text).casefold()
    letters = "".join(sign for sign in plain if not unicodedata.combining(sign))
    return re.sub(r"[\W_]+", "-", letters)[:LONGEST_NAME].strip("-") or otherwise


def sheets_of(fit: Fit) -> list[Sheet]:
    """Return one sheet a stock for the pieces, then one for all pockets; all in place, as on the drawing."""
    stocks = list(dict.fromkeys(piece.stock for piece in fit.pieces))
    names = _different([f"pieces-{safe_name(stock, otherwise='stock')}" for stock in stocks])
    pieces = [
        _piece_sheet(name, stock, [piece for piece in fit.pieces if piece.stock == stock], _let_into(fit, stock))
        for name, stock in zip(names, stocks, strict=True)
    ]
    return [*pieces, _pocket_sheet(fit)]


def _different(names: list[str]) -> list[str]:
    """Return the names with a number behind those that were there before."""
    return [
        f"{name}-{names[:index].count(name) + 1}" if name in names[:index] else name for index, name in enumerate(names)
    ]


def _let_into(fit: Fit, stock: str) -> list[Pocket]:
    """Return the pockets that are cut into the pieces of a stock."""
    return [pocket for pocket in fit.pockets if pocket.host is not None and fit.pieces[pocket.host].stock == stock]


def _piece_sheet(name: str, stock: str, pieces: list[Piece], pockets: list[Pocket]) -> Sheet:
    return Sheet(
        name=name,
        title=f"pieces, {stock}",
        layers={"PIECE_OUTLINE": _outlines(pieces), "PIECE_PATH": _paths(pieces)} | _pocket_layers(pockets),
        labels=tuple(_label(piece.outline, piece.name) for piece in pieces),
    )


def _pocket_layers(pockets: list[Pocket]) -> dict[str, tuple[ArcRing, ...]]:
    """Return the layers of pockets, and of their steps if there are any; none for no pockets."""
    steps = [zone for pocket in pockets for zone in pocket.zones[1:]]
    layers = {"POCKET_OUTLINE": _outlines(pockets), "POCKET_PATH": _paths(pockets)} if pockets else {}
    return layers | ({"STEP_OUTLINE": _outlines(steps), "STEP_PATH": _paths(steps)} if steps else {})


def _pocket_sheet(fit: Fit) -> Sheet:
    drawn = [region.polygon for region in fit.drawing.regions]
    part = [] if fit.part is None else fit.part.areas
    pockets = [pocket for pocket in fit.pockets if pocket.host is None]
    guide = tuple(ring for polygon in (*drawn, *part) for ring in fit_polygon(polygon))
    return Sheet(
        name="pockets",
        title="pockets; the guide is the drawing",
        layers=_pocket_layers(pockets) | {GUIDE: guide},
        labels=tuple(label for pocket in pockets for label in _pocket_labels(pocket)),
    )


def _pocket_labels(pocket: Pocket) -> list[tuple[Mm, Mm, Mm, str]]:
    """Return the name of a pocket with its depth, and the depth of each step within it on the floor of that."""
    if not pocket.zones:
        return [_label(pocket.outline, pocket.name)]
    first, *steps = pocket.zones
    floor = shapely.difference(pocket.outline, steps[0].outline) if steps else pocket.outline
    labels = [_label(_largest(floor), f"{pocket.name} {format_mm(first.depth)}")]
    return labels + [_label(part, format_mm(zone.depth)) for zone in steps for part in shapely.get_parts(zone.outline)]


def _largest(area: shapely.Geometry) -> shapely.Polygon:
    parts = [part for part in shapely.get_parts(area) if part.geom_type == "Polygon"]
    return max(parts, key=lambda part: float(part.area))


def _outlines(halves: Iterable[Piece | Pocket | Zone]) -> tuple[ArcRing, ...]:
    return tuple(ring for half in halves for part in shapely.get_parts(half.outline) for ring in fit_polygon(part))


def _paths(halves: Iterable[Piece | Pocket | Zone]) -> tuple[ArcRing, ...]:
    return tuple(ring for half in halves for ring in half.path_arcs)


def _label(outline: shapely.Polygon, name: str) -> tuple[Mm, Mm, Mm, str]:
    """Return the name on the widest spot of the half, within the largest circle there, if it can be read so small."""
    circle = shapely.maximum_inscribed_circle(outline, tolerance=SPOT_TOLERANCE)
    (x, y), (least, most) = circle.coords[0], LABEL_HEIGHT
    height = 2 * circle.length / (LETTER_WIDTH * max(len(name), 2))
    return x, y, min(max(height, least), most), name


def document(
    fit: Fit,
    files: Sequence[tuple[str, str]],
    job: str,
    expected: Expected,
    board: BoardDrawn | None,
    layout: Layout | None = None,
) -> dict[str, Any]:
    """Return the JSON of a fit, with the board and the blanks if there are any."""
    report = fit_summary(fit, files, expected=expected, job=job)
    if layout is not None:
        from inlayfit.report.blank_summary import blank_summary

        numbered = zip(report["pieces"], layout.numbers, strict=True)
        report["pieces"] = [{"number": number} | piece for piece, number in numbered]
        report |= blank_summary(layout, fit.pieces)
    if board is not None:
        from inlayfit.report.board_summary import board_summary

        report |= board_summary(board.result, board.setups)
    return report


def write_fit(
    fit: Fit,
    out: Path,
    *,
    job: str,
    expected: Expected,
    board: BoardDrawn | None = None,
    layout: Layout | None = None,
) -> Written:
    """Write the folder; nothing in it is replaced before all of it was read back and measured.

    Raises:
        WriteError: the folder cannot be written, or a file does not hold what was meant.
    """
    from inlayfit.readback import ReadBack, read_back_dxf, read_back_page, read_back_svg
    from inlayfit.write.dxf import dxf_bytes
    from inlayfit.write.files import write_folder
    from inlayfit.write.svg import svg_bytes

    in_place = [*sheets_of(fit), *(board.sheets if board else ())]
    blanks = _blank_sheets(fit, layout)
    sheets = [*in_place, *blanks]
    files = {f"{sheet.name}.dxf": dxf_bytes(sheet) for sheet in sheets}
    files |= {f"{sheet.name}.svg": svg_bytes(sheet) for sheet in sheets}
    files |= _side_dots(board) | _to_assemble(fit, layout, job)
    kinds = {name: _kind(name) for name in sorted(files)} | {PAGE: "page", "report.json": "report"}
    report = document(fit, list(kinds.items()), job, expected, board, layout)
    shown = shown_sheet(in_place)
    files[PAGE] = _page(fit, report, shown, expected, blanks, board)
    files["report.json"] = json_text(report).encode()
    read: list[ReadBack] = []

    def verify(folder: Path) -> None:
        for sheet in sheets:
            read.append(read_back_dxf(folder / f"{sheet.name}.dxf", sheet))
            read.append(read_back_svg(folder / f"{sheet.name}.svg", sheet))
        read.append(read_back_page(folder / PAGE, shown))

    write_folder(out, files, verify)
    return Written(
        files=tuple((str(out / name), kind) for name, kind in kinds.items()),
        older=tuple(sorted(path.name for glob in OF_ONE_FIT for path in out.glob(glob) if path.name not in files)),
        outlines=sum(one.rings for one in read),
        elements=sum(one.elements for one in read),
        largest_deviation=max(one.largest_deviation for one in read),
    )


def shown_sheet(sheets: Sequence[Sheet]) -> Sheet:
    """Return what a page shows as one sheet: all pieces, and the board with its pockets, or the pockets alone."""
    boards = [sheet for sheet in sheets if sheet.name == "board"]
    pieces = [sheet for sheet in sheets if "PIECE_OUTLINE" in sheet.layers]
    base = boards[0] if boards else next(sheet for sheet in sheets if sheet.name == "pockets")
    labels = [label for sheet in (boards or pieces) for label in sheet.labels]
    layers: dict[str, tuple[ArcRing, ...]] = {}
    for sheet in (*pieces, base):
        layers |= {name: (*layers.get(name, ()), *rings) for name, rings in sheet.layers.items()}
    return Sheet(name="page", title=base.title, layers=layers, lines=base.lines, labels=tuple(labels))


def _page(
    fit: Fit,
    report: dict[str, Any],
    shown: Sheet,
    expected: Expected,
    blanks: Sequence[Sheet],
    board: BoardDrawn | None,
) -> bytes:
    from inlayfit.report.page import page_bytes

    if board is None:
        return page_bytes(fit, report, shown, expected, blanks)
    from inlayfit.report.board_terminal import board_line, depth_legend

    result = board.result
    says = {"board_line": board_line(result), "depth_legend": depth_legend(result)}
    return page_bytes(fit, report, shown, expected, blanks, **says)


def _blank_sheets(fit: Fit, layout: Layout | None) -> list[Sheet]:
    if layout is None:
        return []
    from inlayfit.blank_sheets import blank_sheets

    names = [f"blank-{safe_name(laid.blank.name, otherwise='blank')}" for laid in layout.blanks]
    return blank_sheets(layout, fit.pieces, _different(names))


def _to_assemble(fit: Fit, layout: Layout | None, job: str) -> dict[str, bytes]:
    """Return the map and the list of a layout."""
    if layout is None:
        return {}
    from inlayfit.blank_sheets import assembly_drawing
    from inlayfit.report.blank_summary import cut_list_csv
    from inlayfit.write.picture import picture_bytes

    picture = picture_bytes(assembly_drawing(layout, fit.pieces, source=f"{job}: where each piece goes"))
    return {MAP: picture, CUT_LIST: cut_list_csv(layout, fit.pieces).encode()}


def _side_dots(board: BoardDrawn | None) -> dict[str, bytes]:
    if board is None or not board.result.dots:
        return {}
    from inlayfit.report.board_summary import side_dots_csv

    return {"side-dots.csv": side_dots_csv(board.result.dots).encode()}


def _kind(name: str) -> str:
    """Return what a file is: ``pieces-dxf``, ``pockets-svg``, ``board-dxf``, ``side-dots-csv``."""
    stem, _, suffix = name.rpartition(".")
    for several in ("pieces", "blank"):
        stem = several if stem.startswith(f"{several}-") else stem
    return f"{'board-setup' if stem.startswith('board-setup-') else stem}-{suffix}"
