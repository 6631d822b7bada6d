"""The folder of a fit: its sheets as DXF and SVG and the report, written, read back, and only then put in place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from inlayfit.arcs import ArcRing
from inlayfit.half_sheets import different, safe_name, sheets_of
from inlayfit.recipe import Fit
from inlayfit.report.json_text import json_text
from inlayfit.report.summary import fit_summary
from inlayfit.sheet import Sheet
from inlayfit.units import Mm

if TYPE_CHECKING:
    from inlayfit.board_sheets import BoardDrawn
    from inlayfit.expected import Expected
    from inlayfit.layout import Layout
    from inlayfit.programs import Program

PAGE = "report.html"
"""All of it to look at and to print."""

MAP = "assembly.svg"
"""Where each numbered piece goes."""

CUT_LIST = "cut-list.csv"

OF_ONE_FIT = ("pieces-*", "board*", "side-dots.csv", "blank-*", "pockets.nc", MAP, CUT_LIST)
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
    moves: int
    largest_deviation: Mm

    @property
    def proof(self) -> str:
        """What reading back showed."""
        programs = f", programs of {self.moves:,} moves" if self.moves else ""
        return (
            f"{self.outlines} outlines of {self.elements} lines and arcs{programs}; "
            f"no point is off by more than {self.largest_deviation * 1000:.4f} um"
        )


def folder_for(job: str) -> str:
    """Return the folder of a job that names none, in the current directory.

    >>> folder_for("The Heron / no. 2")
    'the-heron-no-2-fit'
    """
    return f"{safe_name(job, otherwise='job')}-fit"


def document(
    fit: Fit,
    files: Sequence[tuple[str, str]],
    job: str,
    expected: Expected,
    board: BoardDrawn | None,
    layout: Layout | None = None,
    programs: Sequence[Program] = (),
) -> dict[str, Any]:
    """Return the JSON of a fit, with the board, the blanks and the programs if there are any."""
    report = fit_summary(fit, files, expected=expected, job=job)
    if programs:
        from inlayfit.report.program_summary import program_summary

        report |= program_summary(programs)
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
    programs: Sequence[Program] = (),
) -> Written:
    """Write the folder; nothing in it is replaced before all of it was read back and measured.

    Raises:
        WriteError: the folder cannot be written, or a file does not hold what was meant.
    """
    from inlayfit.readback import ReadBack, read_back_dxf, read_back_page, read_back_svg
    from inlayfit.readback_program import read_back_program
    from inlayfit.write.dxf import dxf_bytes
    from inlayfit.write.files import write_folder
    from inlayfit.write.gcode import program_bytes
    from inlayfit.write.svg import svg_bytes

    in_place = [*sheets_of(fit), *(board.sheets if board else ())]
    blanks = _blank_sheets(fit, layout)
    sheets = [*in_place, *blanks]
    files = {f"{sheet.name}.dxf": dxf_bytes(sheet) for sheet in sheets}
    files |= {f"{sheet.name}.svg": svg_bytes(sheet) for sheet in sheets}
    files |= {f"{program.file}.nc": program_bytes(program) for program in programs}
    files |= _side_dots(board) | _to_assemble(fit, layout, job)
    kinds = {name: _kind(name) for name in sorted(files)} | {PAGE: "page", "report.json": "report"}
    report = document(fit, list(kinds.items()), job, expected, board, layout, programs)
    shown = shown_sheet(in_place)
    files[PAGE] = _page(fit, report, shown, expected, blanks, board)
    files["report.json"] = json_text(report).encode()
    read: list[ReadBack] = []

    def verify(folder: Path) -> None:
        for sheet in sheets:
            read.append(read_back_dxf(folder / f"{sheet.name}.dxf", sheet))
            read.append(read_back_svg(folder / f"{sheet.name}.svg", sheet))
        read.extend(read_back_program(folder / f"{program.file}.nc", program) for program in programs)
        read.append(read_back_page(folder / PAGE, shown))

    write_folder(out, files, verify)
    return Written(
        files=tuple((str(out / name), kind) for name, kind in kinds.items()),
        older=tuple(sorted(path.name for glob in OF_ONE_FIT for path in out.glob(glob) if path.name not in files)),
        outlines=sum(one.rings for one in read),
        elements=sum(one.elements for one in read),
        moves=sum(one.moves for one in read),
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

    return blank_sheets(layout, fit, blank_files(layout))


def blank_files(layout: Layout) -> list[str]:
    """Return the name of the files of each blank in use, without a suffix."""
    return different([f"blank-{safe_name(laid.blank.name, otherwise='blank')}" for laid in layout.blanks])


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
