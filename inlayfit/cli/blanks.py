"""The part of `inlayfit fit` that is about blanks and programs: blanks are looked at, pieces are laid out on them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from inlayfit.errors import InlayfitError, JobError

if TYPE_CHECKING:
    from pathlib import Path

    import shapely

    from inlayfit.blanks import Blank
    from inlayfit.cutters import Cutter
    from inlayfit.feeds import Cutting
    from inlayfit.job import Job
    from inlayfit.layout import Layout
    from inlayfit.programs import Program
    from inlayfit.recipe import Fit
    from inlayfit.stocks import Stock


def blanks_of(job: Job, piece_cutter: Cutter | None) -> tuple[Blank, ...]:
    """Return the blanks of a job with their real outlines; looked at before anything is cut, even on the screen.

    Raises:
        JobError: a drawing that holds no closed outline, or a blank that no piece can be cut from.
    """
    if not job.blanks:
        return ()
    from inlayfit.blanks import check_blanks

    blanks: list[Blank] = []
    for kind in job.blanks:
        outline = None if kind.drawing is None else _outline(kind.drawing, kind.made[0].key)
        blanks += [blank if outline is None else replace(blank, outline=outline) for blank in kind.made]
    if not job.stocks:  # the only stock may have got another name on the command line
        blanks = [replace(blank, stock=job.stock) for blank in blanks]
    check_blanks(blanks, _stocks(job, piece_cutter))
    return tuple(blanks)


def laid_out(result: Fit, blanks: tuple[Blank, ...]) -> Layout | None:
    """Return the pieces of a fit on the blanks, if there are any."""
    if not blanks:
        return None
    from inlayfit.layout import lay_out

    stocks = result.settings.all_stocks
    cutters = {stock.name: result.settings.cutter_of(stock.name) for stock in stocks}
    return lay_out(result.pieces, blanks, stocks, cutters)


def with_programs(result: Fit, layout: Layout | None, cutting: Cutting) -> tuple[Fit, list[Program]]:
    """Return the fit with what is to be known of its cutting programs, and these: of blanks, and of pockets in wood."""
    from inlayfit.cli.folder import blank_files
    from inlayfit.programs import blank_programs, deep_remarks, part_program

    programs, findings = ([], []) if layout is None else blank_programs(layout, result, blank_files(layout), cutting)
    part = part_program(result, cutting)
    programs += [] if part is None else [part]
    findings += deep_remarks(programs, result)
    return replace(result, findings=(*result.findings, *findings)), programs


def _stocks(job: Job, piece_cutter: Cutter | None) -> list[Stock]:
    """Return the stocks of a job, each with what cuts it and its thickness."""
    from inlayfit.stocks import Stock

    return [
        replace(stock, cutter=stock.cutter or piece_cutter, thickness=stock.thickness or job.thickness)
        for stock in job.stocks or (Stock(name=job.stock),)
    ]


def _outline(path: Path, key: str) -> shapely.Polygon:
    import inlayfit
    from inlayfit.blanks import outline_of

    try:
        drawing = inlayfit.read_drawing(path)
    except InlayfitError as error:
        message = f"{path.name}: {error.message}"
        remedy = error.remedy or "look at the drawing"
        raise JobError(message, where=f"{key}.drawing", remedy=remedy) from error
    return outline_of(drawing, where=f"{key}.drawing")
