"""The drawings of both halves in place: a sheet a stock for the pieces, one for the pockets, and what blanks share."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence

import shapely

from inlayfit.arcs import ArcRing, fit_polygon
from inlayfit.depth import Zone
from inlayfit.recipe import Fit, Piece, Pocket
from inlayfit.sheet import GUIDE, Label, Sheet
from inlayfit.units import Mm, format_mm

LABEL_HEIGHT: tuple[Mm, Mm] = (0.5, 3.0)
"""Letters are no smaller and no larger than this."""

LETTER_WIDTH = 0.9
"""Width of a letter in heights of a capital, with its space (common practice, no source)."""

SPOT_TOLERANCE: Mm = 0.05
"""How far a label may stand from the widest spot."""

LONGEST_NAME = 60
"""Letters of a file name: with suffix and folder it stays far below what file systems hold (255)."""


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
    names = different([f"pieces-{safe_name(stock, otherwise='stock')}" for stock in stocks])
    pieces = [
        _piece_sheet(name, stock, [piece for piece in fit.pieces if piece.stock == stock], _let_into(fit, stock))
        for name, stock in zip(names, stocks, strict=True)
    ]
    return [*pieces, _pocket_sheet(fit)]


def different(names: Sequence[str]) -> list[str]:
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
        layers={"PIECE_OUTLINE": _outlines(pieces), "PIECE_PATH": _paths(pieces)} | pocket_layers(pockets),
        labels=tuple(label_on(piece.outline, piece.name) for piece in pieces),
    )


def pocket_layers(pockets: Sequence[Pocket]) -> dict[str, tuple[ArcRing, ...]]:
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
        layers=pocket_layers(pockets) | {GUIDE: guide},
        labels=tuple(label for pocket in pockets for label in _pocket_labels(pocket)),
    )


def _pocket_labels(pocket: Pocket) -> list[Label]:
    """Return the name of a pocket with its depth, and the depth of each step within it on the floor of that."""
    if not pocket.zones:
        return [label_on(pocket.outline, pocket.name)]
    first, *steps = pocket.zones
    floor = shapely.difference(pocket.outline, steps[0].outline) if steps else pocket.outline
    labels = [label_on(_largest(floor), f"{pocket.name} {format_mm(first.depth)}")]
    return labels + [
        label_on(part, format_mm(zone.depth)) for zone in steps for part in shapely.get_parts(zone.outline)
    ]


def _largest(area: shapely.Geometry) -> shapely.Polygon:
    parts = [part for part in shapely.get_parts(area) if part.geom_type == "Polygon"]
    return max(parts, key=lambda part: float(part.area))


def _outlines(halves: Iterable[Piece | Pocket | Zone]) -> tuple[ArcRing, ...]:
    return tuple(ring for half in halves for part in shapely.get_parts(half.outline) for ring in fit_polygon(part))


def _paths(halves: Iterable[Piece | Pocket | Zone]) -> tuple[ArcRing, ...]:
    return tuple(ring for half in halves for ring in half.path_arcs)


def label_on(outline: shapely.Polygon, text: str) -> Label:
    """Return a text on the widest spot of an outline, within the largest circle there, if it can be read so small."""
    circle = shapely.maximum_inscribed_circle(outline, tolerance=SPOT_TOLERANCE)
    (x, y), (least, most) = circle.coords[0], LABEL_HEIGHT
    height = 2 * circle.length / (LETTER_WIDTH * max(len(text), 2))
    return Label(x, y, min(max(height, least), most), text)
