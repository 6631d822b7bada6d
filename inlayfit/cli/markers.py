"""The part of `inlayfit fit` that is about a board: the maker's drawings for it, and the fit of its markers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from inlayfit.errors import InlayfitError

USUAL_WIDTH = 20.0
"""Drawings are read this wide, mm, and again where one is set larger: a marker has a size of its own, whatever its file
says. Chords are then as fine as they are promised to be."""

if TYPE_CHECKING:
    from inlayfit.board_recipe import BoardFit
    from inlayfit.drawing import Drawing
    from inlayfit.job import Job
    from inlayfit.job_board import BoardJob
    from inlayfit.markers import MarkerSettings


def fit_markers(job: Job, board: BoardJob, **asked: Any) -> BoardFit:  # noqa: ANN401  # as `inlayfit.fit` has them
    """Return the fit of a board.

    Raises:
        InlayfitError: the job asks for something impossible; `where` begins with the name of the job.
    """
    from inlayfit.board_recipe import fit_board

    try:
        markers = _with_artwork(board)
        return fit_board(board.board, markers, board.depth, source=job.name, **asked)
    except InlayfitError as error:
        where = (
            f"{job.name}: {error.where}" if error.where.startswith(("markers.", "board.", "piece.")) else error.where
        )
        raise type(error)(error.message, where=where, remedy=error.remedy) from error


def _with_artwork(board: BoardJob) -> MarkerSettings:
    """Return the settings with the drawings in place, each read as large as it is set at most."""
    from inlayfit.markers import largest_enlargement, lay_out

    if not board.drawings:
        return board.markers
    import inlayfit

    drawings = {path: inlayfit.read_drawing(path, width=USUAL_WIDTH) for path in sorted(set(board.drawings.values()))}
    placed = lay_out(board.board, _set_in(board, drawings))
    for path, drawing in drawings.items():
        times = largest_enlargement(placed, drawing)
        if times > 1:
            drawings[path] = inlayfit.read_drawing(path, width=times * USUAL_WIDTH)
    return _set_in(board, drawings)


def _set_in(board: BoardJob, drawings: dict[Path, Drawing]) -> MarkerSettings:
    """Return the settings with each drawing in the style that it belongs to."""
    settings, files = board.markers, board.drawings
    overrides = {
        fret: replace(style, artwork=drawings[files[fret]]) if fret in files else style
        for fret, style in settings.overrides.items()
    }
    style = replace(settings.style, artwork=drawings[files[None]]) if None in files else settings.style
    return replace(settings, style=style, overrides=overrides)
