"""The part of `inlayfit fit` that is about a board: the maker's drawings for it, the fit of its markers, its sheets."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from inlayfit.errors import InlayfitError

USUAL_WIDTH = 20.0
"""Drawings are read this wide, mm, and again where one is set larger: a marker has a size of its own, whatever its file
says. Chords are then as fine as they are promised to be."""

if TYPE_CHECKING:
    from inlayfit.board_sheets import BoardDrawn
    from inlayfit.drawing import Drawing
    from inlayfit.job_board import Artwork, BoardJob
    from inlayfit.markers import MarkerSettings


def fit_markers(board: BoardJob, *, name: str, source: str, **asked: Any) -> BoardDrawn:  # noqa: ANN401
    """Return the fit of a board and its sheets.

    Args:
        board: the board and its markers, as the job has them.
        name: the name of the job.
        source: the file of the job, for errors.
        asked: what `inlayfit.fit` takes.

    Raises:
        InlayfitError: the job asks for something impossible; `where` begins with the file where it is about a key.
    """
    from inlayfit.board_recipe import fit_board
    from inlayfit.board_sheets import drawn

    try:
        result = fit_board(board.board, _with_artwork(board), board.depth, source=name, **asked)
        return drawn(result, board.bed)
    except InlayfitError as error:
        of_job = error.where.startswith(("markers.", "board.", "piece."))
        where = f"{source}: {error.where}" if of_job else error.where
        raise type(error)(error.message, where=where, remedy=error.remedy) from error


def _with_artwork(board: BoardJob) -> MarkerSettings:
    """Return the settings with the drawings in place, each read as large as it is set at most."""
    from inlayfit.markers import largest_enlargement, lay_out

    if not board.drawings:
        return board.markers
    drawings = {artwork: _read(artwork, USUAL_WIDTH) for artwork in dict.fromkeys(board.drawings.values())}
    placed = lay_out(board.board, _set_in(board, drawings))
    for artwork, drawing in drawings.items():
        times = largest_enlargement(placed, drawing)
        if times > 1:
            drawings[artwork] = _read(artwork, times * USUAL_WIDTH)
    return _set_in(board, drawings)


def _read(artwork: Artwork, width: float) -> Drawing:
    import inlayfit

    try:
        return inlayfit.read_drawing(artwork.path, width=width)
    except InlayfitError as error:
        message = f"{artwork.path.name}: {error.message}"
        raise type(error)(message, where=artwork.key, remedy=error.remedy or "look at the drawing") from error


def _set_in(board: BoardJob, drawings: dict[Artwork, Drawing]) -> MarkerSettings:
    """Return the settings with each drawing in the style that it belongs to."""
    settings, files = board.markers, board.drawings
    overrides = {
        fret: replace(style, artwork=drawings[files[fret]]) if fret in files else style
        for fret, style in settings.overrides.items()
    }
    style = replace(settings.style, artwork=drawings[files[None]]) if None in files else settings.style
    return replace(settings, style=style, overrides=overrides)
