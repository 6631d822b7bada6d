"""The whole recipe for a board: markers on their places, both halves of each, and how deep they go. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import shapely

from inlayfit.board import Board
from inlayfit.board_remarks import depth_remarks, place_remarks
from inlayfit.errors import JobError
from inlayfit.marker_depth import TOUCH_MM2, Depth, DepthSettings, depth_of
from inlayfit.markers import Marker, MarkerSettings, SideDot, drawing_of, lay_out, side_dots
from inlayfit.recipe import Fit, Pocket, fit


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardFit:
    """A board with its markers; `fit` holds their halves and all findings, in the coordinates of the board.

    `depths` has one entry a marker, `pockets` the numbers of the pockets that are cut for it.
    """

    board: Board
    markers: tuple[Marker, ...]
    depths: tuple[Depth, ...]
    pockets: tuple[tuple[int, ...], ...]
    dots: tuple[SideDot, ...]
    depth_settings: DepthSettings
    fit: Fit


def fit_board(
    board: Board,
    markers: MarkerSettings,
    depth: DepthSettings | None = None,
    *,
    source: str = "board",
    **asked: Any,  # noqa: ANN401
) -> BoardFit:
    """Return the markers of a board as pieces and pockets that fit, how deep each goes, and what must be known.

    Args:
        board: the board.
        markers: which frets are marked, and how.
        depth: the sheet, and how it is let in; without it no depth is reckoned.
        source: what to call the markers in messages.
        asked: cutters, gap and all else that `inlayfit.fit` takes.

    Raises:
        JobError: a fret that does not exist, no room for a shape, or a choice that is not known.
        GeometryError: nothing is left of the markers with these cutters.
        UnitError: a size that is no length.
    """
    settings = depth or DepthSettings()
    _check_depth(board, settings)
    placed = lay_out(board, markers)
    dots = side_dots(board, markers)
    both = fit(drawing_of(placed, source=source), **asked)
    pockets = _pockets_of(placed, both.pockets)
    cut = [
        shapely.union_all([marker.area, *(both.pockets[index].outline for index in indices)])
        for marker, indices in zip(placed, pockets, strict=True)
    ]
    depths = tuple(depth_of(marker, area, board, settings) for marker, area in zip(placed, cut, strict=True))
    findings = place_remarks(placed, cut, board)
    for marker, area, one in zip(placed, cut, depths, strict=True):
        findings += depth_remarks(marker, one, area, board, settings, both.settings.tolerance)
    return BoardFit(
        board=board,
        markers=placed,
        depths=depths,
        pockets=pockets,
        dots=dots,
        depth_settings=settings,
        fit=replace(both, findings=(*findings, *both.findings)),
    )


def _check_depth(board: Board, settings: DepthSettings) -> None:
    sheet = settings.sheet
    if sheet is not None and settings.proud >= sheet:
        raise JobError(
            "a sheet that stands proud by all of its thickness needs no pocket",
            where="markers.proud",
            remedy="give less than the thickness of the sheet",
        )
    if sheet is None and settings.depth is not None:
        raise JobError(
            "how thick is the sheet?", where="piece.thickness", remedy="a pocket depth alone says nothing of the sheet"
        )
    if settings.depth is not None and board.thickness is not None and settings.depth >= board.thickness:
        raise JobError("the pockets go through the board", where="markers.pocket_depth", remedy="give less")


def _pockets_of(markers: Sequence[Marker], pockets: Sequence[Pocket]) -> tuple[tuple[int, ...], ...]:
    """Return for each marker which pockets are cut for it; two that run together share one."""
    tree = shapely.STRtree([pocket.outline for pocket in pockets])
    return tuple(
        tuple(
            int(index)
            for index in sorted(tree.query(marker.area, predicate="intersects"))
            if shapely.intersection(pockets[index].outline, marker.area).area > TOUCH_MM2
        )
        for marker in markers
    )
