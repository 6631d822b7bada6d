"""The drawings of a layout: one sheet a blank, in its own coordinates, and the map that puts the pieces together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from inlayfit.arcs import ArcRing, fit_polygon
from inlayfit.drawing import Drawing, Region
from inlayfit.layout import Laid, LaidBlank, Layout, middle_of
from inlayfit.recipe import Piece
from inlayfit.sheet import GUIDE, Label, Sheet
from inlayfit.units import Mm, format_mm

NUMBER_HEIGHT: tuple[Mm, Mm] = (0.5, 3.0)
"""Numbers are no smaller and no larger than this."""

LETTER_WIDTH = 0.9
"""Width of a letter in heights of a capital, with its space (common practice, no source)."""

SPOT_TOLERANCE: Mm = 0.05
"""How far a number may stand from the widest spot."""

LEGEND_HEIGHT: Mm = 1.8
"""Letters of the line below a blank, unless the blank is too narrow for them."""

BELOW: Mm = 2.5
"""From the edge of the blank to the middle of that line."""


def blank_sheets(layout: Layout, pieces: Sequence[Piece], names: Sequence[str]) -> list[Sheet]:
    """Return a sheet for each blank in use; `names` are those of the files."""
    return [_sheet(blank, pieces, layout.numbers, name) for blank, name in zip(layout.blanks, names, strict=True)]


def assembly_drawing(layout: Layout, pieces: Sequence[Piece], *, source: str) -> Drawing:
    """Return the pieces in place, each named by its number, in layers of their stocks: the map to assemble by."""
    return Drawing(
        source=source,
        regions=tuple(
            Region(polygon=piece.outline, name=number, layer=piece.stock)
            for piece, number in zip(pieces, layout.numbers, strict=True)
        ),
    )


def legend_of(laid: LaidBlank) -> str:
    """Return what a blank is, in a line: name, size, thickness, and whether it is cut from the back."""
    blank = laid.blank
    sizes = [*blank.size, *(() if blank.thickness is None else (blank.thickness,))]
    text = f"{blank.name}: {' x '.join(format_mm(size).removesuffix(' mm') for size in sizes)} mm"
    return f"{text}; FROM THE BACK, pieces mirrored" if any(one.mirrored for one in laid.pieces) else text


def _sheet(laid: LaidBlank, pieces: Sequence[Piece], numbers: Sequence[str], name: str) -> Sheet:
    outlines = [ring for one in laid.pieces for ring in _laid(fit_polygon(pieces[one.piece].outline), one, pieces)]
    paths = [ring for one in laid.pieces for ring in _laid(pieces[one.piece].path_arcs, one, pieces)]
    legend = legend_of(laid)
    width = laid.blank.size[0]
    height = min(LEGEND_HEIGHT, width / (LETTER_WIDTH * len(legend)))
    return Sheet(
        name=name,
        title=legend,
        layers={
            "PIECE_OUTLINE": tuple(outlines),
            "PIECE_PATH": tuple(paths),
            GUIDE: fit_polygon(laid.blank.outline),
        },
        labels=(
            *(_number(one, pieces, numbers) for one in laid.pieces),
            Label(width / 2, -BELOW, height, legend),
        ),
    )


def _laid(rings: Sequence[ArcRing], laid: Laid, pieces: Sequence[Piece]) -> list[ArcRing]:
    """Return rings as they lie on the blank: the same lines and arcs, and the same sense if they are mirrored."""
    middle = middle_of(pieces[laid.piece])
    return [_lying(ring, laid, middle) for ring in rings]


def _lying(ring: ArcRing, laid: Laid, middle: tuple[Mm, Mm]) -> ArcRing:
    points = laid.points(ring.points, middle)
    if not laid.mirrored:
        return ArcRing(points=points, bulges=ring.bulges)
    # run through backwards, so that an outside stays counter-clockwise: both turn the sign of a bulge
    return ArcRing(points=points[::-1], bulges=np.roll(ring.bulges[::-1], -1))


def _number(laid: Laid, pieces: Sequence[Piece], numbers: Sequence[str]) -> Label:
    """Return the number of a piece on its widest spot, readable from below however the piece lies."""
    piece, number = pieces[laid.piece], numbers[laid.piece]
    circle = shapely.maximum_inscribed_circle(piece.outline, tolerance=SPOT_TOLERANCE)
    x, y = laid.points(shapely.get_coordinates(circle)[:1], middle_of(piece))[0].tolist()
    least, most = NUMBER_HEIGHT
    height = 2 * circle.length / (LETTER_WIDTH * max(len(number), 2))
    return Label(x, y, min(max(height * 0.7, least), most), number)
