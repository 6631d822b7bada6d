"""The drawings of a layout: one sheet a blank, in its own coordinates, and the map that puts the pieces together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from inlayfit.arcs import ArcRing, fit_polygon
from inlayfit.drawing import Drawing, Region
from inlayfit.half_sheets import LETTER_WIDTH, label_on, pocket_layers
from inlayfit.layout import Laid, LaidBlank, Layout, middle_of
from inlayfit.recipe import Fit, Piece
from inlayfit.sheet import GUIDE, Label, Sheet
from inlayfit.units import Mm, format_mm

LEGEND_HEIGHT: Mm = 1.8
"""Letters of the line below a blank, unless the blank is too narrow for them."""

BELOW: Mm = 2.5
"""From the edge of the blank to the middle of that line."""


def blank_sheets(layout: Layout, fit: Fit, names: Sequence[str]) -> list[Sheet]:
    """Return a sheet for each blank in use; `names` are those of the files."""
    return [_sheet(blank, fit, layout.numbers, name) for blank, name in zip(layout.blanks, names, strict=True)]


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


def _sheet(laid: LaidBlank, fit: Fit, numbers: Sequence[str], name: str) -> Sheet:
    legend = legend_of(laid)
    width = laid.blank.size[0]
    height = min(LEGEND_HEIGHT, width / (LETTER_WIDTH * len(legend)))
    layers: dict[str, tuple[ArcRing, ...]] = {GUIDE: fit_polygon(laid.blank.outline)}
    for one in laid.pieces:
        for layer, rings in _layers(one, fit).items():
            layers[layer] = layers.get(layer, ()) + rings
    return Sheet(
        name=name,
        title=legend,
        layers=layers,
        labels=(
            *(_number(one, fit.pieces, numbers) for one in laid.pieces),
            Label(width / 2, -BELOW, height, legend),
        ),
    )


def _layers(laid: Laid, fit: Fit) -> dict[str, tuple[ArcRing, ...]]:
    """Return a piece as it lies on the blank, with the pockets in it: the same lines and arcs, and the same sense.

    One that is cut with its face down has its pockets on the other side; they stand on the sheet of its stock.
    """
    piece = fit.pieces[laid.piece]
    pockets = [] if laid.mirrored else [pocket for pocket in fit.pockets if pocket.host == laid.piece]
    layers = {"PIECE_OUTLINE": fit_polygon(piece.outline), "PIECE_PATH": piece.path_arcs} | pocket_layers(pockets)
    middle = middle_of(piece)
    return {layer: tuple(lying(ring, laid, middle) for ring in rings) for layer, rings in layers.items()}


def lying(ring: ArcRing, laid: Laid, middle: tuple[Mm, Mm]) -> ArcRing:
    """Return an outline of a piece as it lies on the blank, in the same sense; `middle` is that of the piece."""
    points = laid.points(ring.points, middle)
    if not laid.mirrored:
        return ArcRing(points=points, bulges=ring.bulges)
    # run through backwards, so that an outside stays counter-clockwise: both turn the sign of a bulge
    return ArcRing(points=points[::-1], bulges=np.roll(ring.bulges[::-1], -1))


def _number(laid: Laid, pieces: Sequence[Piece], numbers: Sequence[str]) -> Label:
    """Return the number of a piece on its widest spot, readable from below however the piece lies."""
    piece = pieces[laid.piece]
    label = label_on(piece.outline, numbers[laid.piece])
    x, y = laid.points(np.array([[label.x, label.y]]), middle_of(piece))[0].tolist()
    return label._replace(x=x, y=y)
