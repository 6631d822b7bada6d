"""`inlayfit fit`: both halves, their paths, and the proof that they fit, in one folder."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

from inlayfit.choices import CORNERS, GAP_FROM, LARGEST_GAP
from inlayfit.cli.codes import FINDINGS, GOOD
from inlayfit.cli.options import (
    Parser,
    add_common_options,
    add_drawing_options,
    add_judging_options,
    chosen_cutter,
    given,
    one_of,
    size,
    zero_up,
)
from inlayfit.cli.picture import add_picture_option, check_picture, drawn
from inlayfit.errors import JobError

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Any

    from rich.console import RenderableType

    from inlayfit.board_sheets import BoardDrawn
    from inlayfit.cli.folder import Written
    from inlayfit.cutters import Cutter
    from inlayfit.expected import Expected
    from inlayfit.job import Job
    from inlayfit.layout import Layout
    from inlayfit.programs import Program
    from inlayfit.recipe import Fit
    from inlayfit.stocks import Stock
    from inlayfit.units import Mm

DESCRIPTION = """\
Make piece and pocket outlines and tool paths that fit each other, from a job file or from a drawing and options.
Options override the job. All goes into one folder: pieces-STOCK.dxf and .svg, pockets.dxf and .svg, report.json, and
report.html: a page with all of it, to look at, and to print with a pattern at true size.
Each file is read back and measured before it is called good.
A job with a [board] lays out position markers on a fretboard, and adds board.dxf and .svg.
A job with [[blank]] lays the pieces out on them: one sheet and one cutting program a blank, a map to assemble by, and
a list to cut by. Where the thickness of every stock is known, pockets.nc cuts the pockets.
The exit code is 1 where detail is lost or a piece does not drop in; the files are written all the same."""
EXAMPLES = """\
  inlayfit fit heron.toml
  inlayfit fit heron.toml --gap 0.03mm --out tighter
  inlayfit fit heron.svg --bit 1/32in --gap 0.05mm --width 58mm --out heron
  inlayfit fit heron.svg --kerf 0.3mm --pocket-bit 0.8mm --runout 0.02mm --gap 2thou --height 2in
"""


def parser() -> Parser:
    """Return the options of the command."""
    options = Parser("fit", description=DESCRIPTION, examples=EXAMPLES)
    options.add_argument("job", metavar="JOB.toml|DRAWING", type=Path, help="a job, or the artwork: SVG or DXF")
    options.add_argument("--out", metavar="DIR", type=Path, help="folder for the results (NAME-fit, here)")
    add_picture_option(options, "the regions, the gap along the seams, and what must be known")
    _add_cutting_options(options)
    group = options.add_argument_group("the fit")
    group.add_argument(
        "--gap", type=zero_up("--gap", most=LARGEST_GAP), metavar="LENGTH", help="room for glue on each side"
    )
    group.add_argument(
        "--gap-from",
        type=one_of(GAP_FROM, "--gap-from"),
        metavar="HALF",
        help="the half that gives way: piece, pocket or shared (piece)",
    )
    group.add_argument(
        "--corners",
        type=one_of(CORNERS, "--corners"),
        metavar="POLICY",
        help="match: both halves rounded alike; sharp: drawn corners on the piece, pocket squared by hand (match)",
    )
    group.add_argument(
        "--limit", type=size("--limit", most=LARGEST_GAP), metavar="LENGTH", help="a wider gap is a finding (0.1mm)"
    )
    group.add_argument(
        "--joint",
        type=zero_up("--joint", most=LARGEST_GAP),
        metavar="LENGTH",
        help="room between two pieces of one pocket, 0 for butt joints (as the gap)",
    )
    group.add_argument("--stock", metavar="NAME", help="what the pieces are cut from; names the files (shell)")
    add_drawing_options(options)
    add_judging_options(options)
    add_common_options(options)
    return options


def _add_cutting_options(options: Parser) -> None:
    group = options.add_argument_group("what cuts")
    group.add_argument("--bit", type=size("--bit"), metavar="SIZE", help="diameter of the bit for both halves")
    group.add_argument("--piece-bit", type=size("--piece-bit"), metavar="SIZE", help="bit for the pieces")
    group.add_argument("--pocket-bit", type=size("--pocket-bit"), metavar="SIZE", help="bit for the pockets")
    group.add_argument(
        "--piece-kerf",
        "--kerf",
        type=size("--piece-kerf"),
        metavar="WIDTH",
        help="full slit of the saw or the beam that cuts the pieces",
    )
    group.add_argument(
        "--pocket-kerf", type=size("--pocket-kerf"), metavar="WIDTH", help="full slit of what cuts the pockets"
    )
    group.add_argument(
        "--runout", type=zero_up("--runout"), metavar="LENGTH", help="full indicator reading, for the bits (0)"
    )


def run(options: argparse.Namespace) -> int:
    """Fit the drawing, write the folder, print the result; 1 where detail is lost or a piece does not drop in."""
    job = job_of(options)
    check_picture(options.picture, options.job, *([] if job.drawing is None else [job.drawing]))
    piece_cutter, pocket_cutter, gap = _complete(job)
    from inlayfit.cli.blanks import blanks_of, laid_out, with_programs
    from inlayfit.cli.folder import folder_for, write_fit

    blanks = blanks_of(job, piece_cutter)
    out = options.out or Path(folder_for(job.name))
    from inlayfit.cli.output import progress

    with progress() as tell:
        asked = {
            "piece_cutter": piece_cutter,
            "pocket_cutter": pocket_cutter,
            "gap": gap,
            "gap_from": job.gap_from,
            "corners": job.corners,
            "tolerance": job.tolerance,
            "least_web": job.least_web,
            "stock": job.stock,
            "thickness": job.thickness,
            "stocks": job.stocks,
            "joint": job.joint,
            "progress": tell,
        }
        result, board = _fit(job, str(options.job), asked)
        result, board, expected = _expected(result, board, job)
        tell(1.0, "laying out")
        layout = laid_out(result, blanks)
        if layout is not None:
            result = replace(result, findings=(*result.findings, *layout.findings))
        programs: list[Program] = []
        if board is None:  # the pockets of a board follow its radius
            result, programs = with_programs(result, layout, job.cutting)
        tell(1.0, "writing, and reading back")
        written = write_fit(result, out, job=job.name, expected=expected, board=board, layout=layout, programs=programs)
        written = replace(written, files=(*written.files, *_picture(options.picture, result)))
    _show(result, written, job.name, expected, board, layout, programs, as_json=options.json)
    lost = any(finding.severity == "loss" for finding in result.findings)
    return FINDINGS if lost or not all(piece.drops_in for piece in result.pieces) else GOOD


def _picture(picture: Path | None, result: Fit) -> list[tuple[str, str]]:
    """Draw the fit if that is asked for: its regions, its seams, and what must be known; return it as (path, kind)."""
    if picture is None:
        return []
    from inlayfit.write.gap_scale import scale_for
    from inlayfit.write.picture import Seams

    alongs = [piece.along for piece in result.pieces]
    seams = Seams(alongs=alongs, scale=scale_for(alongs, result.settings.gap))
    return drawn(picture, result.drawing, result.findings, seams)


def _fit(job: Job, source: str, asked: dict[str, Any]) -> tuple[Fit, BoardDrawn | None]:
    """Return the fit of the job's drawing, or of its board with what is drawn of that; `source` is its file."""
    if job.board is not None:
        from inlayfit.cli.markers import fit_markers

        board = fit_markers(job.board, name=job.name, source=source, **asked)
        return board.result.fit, board
    import inlayfit

    drawing = inlayfit.read_drawing(
        job.drawing or "",
        width=job.width,
        height=job.height,
        scale=job.scale,
        units=job.units,
        join=job.join,
        ignore_page=job.ignore_page,
        fonts=job.fonts,
        line_layers=_line_layers(job),
    )
    try:
        part = None if job.part is None else job.part.on(drawing)
        return inlayfit.fit(drawing, **asked, split_layer=job.split_layer, part=part, depth=job.depth), None
    except JobError as error:
        if not error.where.startswith(("stock", "depth")):
            raise
        raise JobError(error.message, where=f"{source}: {error.where}", remedy=error.remedy) from error


def _line_layers(job: Job) -> list[str]:
    """Return the layers of the drawing that hold lines and no regions, each once."""
    split = () if job.split_layer is None else (job.split_layer,)
    return list(dict.fromkeys((*split, *(() if job.part is None else job.part.layers))))


def _expected(result: Fit, board: BoardDrawn | None, job: Job) -> tuple[Fit, BoardDrawn | None, Expected]:
    """Return the fit and its board with what is to be known of the gap to expect, and that itself."""
    from inlayfit.expected import expect
    from inlayfit.expected_remarks import expected_findings

    expected = expect(result, job.premises)
    result = replace(result, findings=(*result.findings, *expected_findings(expected, result)))
    if board is not None:
        board = replace(board, result=replace(board.result, fit=result))
    return result, board, expected


def job_of(options: argparse.Namespace) -> Job:
    """Return the job as the file says and the options override.

    Raises:
        JobError: a job file that cannot be read or used.
        UnitError: a size in it that is no length.
    """
    from inlayfit.job import Job, read_job

    path: Path = options.job
    if path.suffix.lower() == ".toml":
        job = read_job(_text(path), source=str(path), folder=path.parent)
    else:
        job = Job(name=path.stem, drawing=path)
    changes = given(options, "width", "height", "scale")
    if job.board is not None and (sizes := [*changes, *given(options, "units", "join", "ignore_page", "fonts")]):
        raise JobError(
            "markers have their sizes from the job",
            where=_option(sizes[0]),
            remedy="set them in its table [markers]",
        )
    if changes:  # one way to set the size takes the place of another
        changes = {"width": None, "height": None, "scale": None} | changes
    changes |= given(
        options,
        "units",
        "join",
        "ignore_page",
        "fonts",
        "gap",
        "gap_from",
        "joint",
        "corners",
        "tolerance",
        "least_web",
        "stock",
    )
    if options.limit is not None:
        tolerances = replace(job.premises.tolerances, limit=options.limit)
        changes["premises"] = replace(job.premises, tolerances=tolerances)
    if job.stocks and "stock" in changes:
        message = "the job has stocks with tables of their own"
        raise JobError(message, where="--stock", remedy="leave it out, or name the file of each stock in the job")
    return replace(job, **changes, **_cutters(options, job), stocks=_stocks(options, job))


def _stocks(options: argparse.Namespace, job: Job) -> tuple[Stock, ...]:
    """Return the stocks of the job; what was typed for the pieces holds for all of them."""
    from inlayfit.cutters import Bit, make_bit

    typed = any(getattr(options, name) is not None for name in ("bit", "piece_bit", "piece_kerf"))
    stocks = []
    for stock in job.stocks:
        cutter = None if typed else stock.cutter
        if isinstance(cutter, Bit) and options.runout is not None:
            cutter = make_bit(cutter.diameter, runout=options.runout, where=f"bit of {stock.name}")
        web = stock.least_web if options.least_web is None else None
        stocks.append(replace(stock, cutter=cutter, least_web=web))
    return tuple(stocks)


def _option(name: str) -> str:
    """Return an option as it is typed."""
    return "--font" if name == "fonts" else f"--{name.replace('_', '-')}"


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise JobError("this is no text in UTF-8", where=str(path), remedy="save the job as plain text") from error
    except OSError as error:
        reason = error.strerror or str(error)
        raise JobError(f"it cannot be read: {reason}", where=str(path), remedy="look at the name") from error


def _cutters(options: argparse.Namespace, job: Job) -> dict[str, Any]:
    """Return the cutter of each half: its own option, else --bit, else the job's, with the runout that was typed."""
    from inlayfit.cutters import Bit, make_bit

    cutters: dict[str, Any] = {}
    for half, of_job in (("piece", job.piece_cutter), ("pocket", job.pocket_cutter)):
        bit, kerf = getattr(options, f"{half}_bit"), getattr(options, f"{half}_kerf")
        own = chosen_cutter(bit, kerf, None, bit_name=f"--{half}-bit", kerf_name=f"--{half}-kerf")
        cutter = own or (of_job if options.bit is None else Bit(diameter=options.bit))
        if isinstance(cutter, Bit) and options.runout is not None:
            cutter = make_bit(cutter.diameter, runout=options.runout, where=f"{half} bit")
        cutters[f"{half}_cutter"] = cutter
    return cutters


def _complete(job: Job) -> tuple[Cutter | None, Cutter, Mm]:
    """Return both cutters and the gap; no cutter for the pieces where each stock has its own.

    Raises:
        JobError: one of them is not known: the tool does not guess it.
    """
    if job.gap is None:
        raise JobError("how wide is the gap to be?", where="fit.gap", remedy="give --gap 0.05mm, or fit.gap in the job")
    pocket_cutter = _cutter_of("pocket", job.pocket_cutter)
    if job.stocks and all(stock.cutter for stock in job.stocks):
        return job.piece_cutter, pocket_cutter, job.gap
    return _cutter_of("piece", job.piece_cutter), pocket_cutter, job.gap


def _cutter_of(half: str, cutter: Cutter | None) -> Cutter:
    if cutter is None:
        raise JobError(
            f"what is the {half} to be cut with?",
            where=f"{half}.bit",
            remedy=f"give --bit 1/32in for both halves, --{half}-bit or --{half}-kerf, or {half}.bit in the job",
        )
    return cutter


def _show(
    result: Fit,
    written: Written,
    name: str,
    expected: Expected,
    board: BoardDrawn | None,
    layout: Layout | None,
    programs: Sequence[Program],
    *,
    as_json: bool,
) -> None:
    if written.older:
        print(f"inlayfit: not of this fit, but of an earlier one: {', '.join(written.older)}", file=sys.stderr)
    from inlayfit.cli.output import show, show_json

    if as_json:
        from inlayfit.cli.folder import document

        show_json(document(result, written.files, name, expected, board, layout, programs))
    else:
        from inlayfit.report.terminal import fit_report

        verdict, *rest = fit_report(result, written.files, expected=expected, proof=written.proof)
        show(verdict, *_board_report(board), *_blank_report(layout, result, programs), *rest)


def _blank_report(layout: Layout | None, result: Fit, programs: Sequence[Program]) -> list[RenderableType]:
    from inlayfit.report.blank_terminal import blank_report, program_report

    blanks = [] if layout is None else blank_report(layout, result.pieces)
    return blanks + program_report(programs)


def _board_report(board: BoardDrawn | None) -> list[RenderableType]:
    if board is None:
        return []
    from inlayfit.report.board_terminal import board_report

    return board_report(board.result, board.setups)
