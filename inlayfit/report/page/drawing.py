"""The drawing of the page: one SVG in true millimetres, a wrapper for each layer that can be switched.

The groups within the wrappers are those of the files that leave, named as there: the page reads back as they do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.drawing import Region
from inlayfit.recipe import Fit, Piece
from inlayfit.report.page.markup import text
from inlayfit.report.places import Place, is_softened
from inlayfit.sheet import GUIDE, Sheet
from inlayfit.write.gap_scale import TOUCHING, GapScale, colour_of, seam_runs
from inlayfit.write.svg import layer_lines

FILL_TOLERANCE = 0.002
"""How far the tint of a region may differ from its outline, mm."""

FIRST_PX = 900
"""Px across of the drawing before anything is known of the window: pins and lines start with sizes for it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """What one switch shows: `groups` are the layers of the files in it, `shown` whether it is on at first.

    `selector` is what it hides when it is off, if that is not a layer by itself.
    """

    key: str
    label: str
    says: str
    groups: tuple[str, ...] = ()
    shown: bool = True
    selector: str = ""

    @property
    def hides(self) -> str:
        """What the switch hides, as style sheets name it."""
        return self.selector or f".layer-{self.key}"


LAYERS = (
    Layer(key="drawing", label="Drawing", says="as it was drawn", groups=(GUIDE,)),
    Layer(
        key="board",
        label="Board",
        says="its edge, the slots and the holes for the pins",
        groups=("BOARD_OUTLINE", "SLOT_OUTLINE", "SLOT_PATH", "PIN_HOLE"),
    ),
    Layer(key="pocket", label="Pocket", says="walls of the pockets", groups=("POCKET_OUTLINE", "STEP_OUTLINE")),
    Layer(key="piece", label="Piece", says="edges of the pieces", groups=("PIECE_OUTLINE",)),
    Layer(
        key="paths",
        label="Paths",
        says="ways of the cutter's middle, round the pieces and along the pockets",
        groups=("PIECE_PATH", "POCKET_PATH", "STEP_PATH"),
        shown=False,
    ),
    Layer(key="seam", label="Seam", says="the gap along it, by colour"),
    Layer(key="findings", label="Findings", says="what you must know, where it is"),
    Layer(key="names", label="Names", says="of the pieces", selector=f"#{GUIDE} text"),
    Layer(key="blanks", label="Blanks", says="the number of each piece on its blank"),
)
"""From the ground up, as they are drawn."""


def layers_of(sheet: Sheet, *, numbered: bool) -> list[Layer]:
    """Return the layers that have something to show; `numbered` are pieces that lie on blanks."""
    layers = [layer for layer in LAYERS if not layer.groups or set(layer.groups) & set(sheet.layer_names)]
    if not numbered:
        return [layer for layer in layers if layer.key != "blanks"]
    return [replace(layer, shown=False) if layer.key == "names" else layer for layer in layers]  # one text on a spot


def first_scale(box: str) -> float:
    """Return mm per px of a drawing before the window is known; `box` is its view box."""
    return float(box.split()[2]) / FIRST_PX


def drawing_lines(
    fit: Fit,
    sheet: Sheet,
    box: str,
    layers: Sequence[Layer],
    places: Sequence[Place],
    scale: GapScale,
    numbers: Sequence[str],
    *,
    says: str,
) -> list[str]:
    """Return the svg element, line by line.

    Args:
        fit: the halves.
        sheet: what is drawn of them.
        box: the view box of the sheet.
        layers: those that are shown.
        places: what must be known.
        scale: the colours of the gap.
        numbers: those of the pieces on their blanks, or empty texts.
        says: in words what is shown.
    """
    px = first_scale(box)
    bodies = {
        "drawing": _tints(fit.drawing.regions),
        "seam": _seam(fit, scale),
        "findings": [_mark(number, place, px) for number, place in enumerate(places, start=1)][::-1],
        "blanks": [_number(piece, number, px) for piece, number in zip(fit.pieces, numbers, strict=True)],
    }
    lines = []
    for layer in layers:
        lines += [f'<g class="layer layer-{layer.key}">', *bodies.get(layer.key, ())]
        for name in layer.groups:
            if name in sheet.layer_names:
                lines += [f'<g id="{name}">', *layer_lines(sheet, name), "</g>"]
        lines.append("</g>")
    return [
        f'<svg id="figure" class="figure" role="img" aria-labelledby="figure-title figure-desc" viewBox="{box}">',
        f'<title id="figure-title">{text(sheet.title)}</title>',
        f'<desc id="figure-desc">{text(says)} The sections below hold all its figures.</desc>',
        *lines,
        "</svg>",
    ]


def _tints(regions: Sequence[Region]) -> list[str]:
    """Return the regions as areas of their own colour."""
    return ['<g class="tints">', *(_tint(region) for region in regions), "</g>"]


def _tint(region: Region) -> str:
    simple = shapely.simplify(region.polygon, FILL_TOLERANCE)
    shape = simple if isinstance(simple, shapely.Polygon) and not simple.is_empty else region.polygon
    rings = (shape.exterior, *shape.interiors)
    path = "".join(f"{_line(shapely.get_coordinates(ring)[:-1])}Z" for ring in rings)
    colour = f' fill="{text(region.colour)}"' if region.colour else ""
    return f'<path{colour} d="{path}"/>'


def _seam(fit: Fit, scale: GapScale) -> list[str]:
    """Return the edges of the pieces as a dark band, and on it the stretches of seam in the colours of their gaps."""
    steps: dict[int, list[str]] = {}
    for piece in fit.pieces:
        for step, points in seam_runs(piece.along, scale):
            steps.setdefault(step, []).append(_line(points))
    return [
        '<use href="#PIECE_OUTLINE" class="casing"/>',
        '<g class="seam">',
        *(_stretches(step, "".join(paths)) for step, paths in sorted(steps.items(), reverse=True)),
        "</g>",
    ]


def _stretches(step: int, path: str) -> str:
    thick = ' class="touches"' if step == TOUCHING else ""
    return f'<path{thick} stroke="{colour_of(step)}" d="{path}"/>'


def _mark(number: int, place: Place, scale: float) -> str:
    """Return the pin of a place: its shape tells how bad it is as its colour does, its number leads to the list."""
    worst = place.worst
    kind = "softened" if is_softened(worst) else worst.severity
    shape = {
        "loss": '<path d="M0-11 11 8H-11Z"/>',
        "softened": '<circle r="9"/>',
        "warning": '<path d="M0-10.5 10.5 0 0 10.5-10.5 0Z"/>',
        "note": '<circle r="6.5"/>',
    }[kind]
    return (
        f'<g class="mark {kind}" id="mark-{number}" transform="translate({worst.x:.3f} {-worst.y:.3f})">'
        f'<g class="pin" transform="scale({scale:.4f})">{shape}'
        f'<text y="3.2">{number}</text></g></g>'
    )


def _number(piece: Piece, number: str, scale: float) -> str:
    """Return the number of a piece, on it."""
    spot = piece.outline.representative_point()
    label = f'<g class="pin" transform="scale({scale:.4f})"><text y="5">{text(number)}</text></g>'
    return f'<g class="number-of" transform="translate({spot.x:.3f} {-spot.y:.3f})">{label}</g>'


def _line(points: NDArray[np.float64]) -> str:
    """Return points as a path from the first, y down, in micrometres as steps: shorter than places."""
    steps = np.diff(np.round(points * [1, -1], 3), axis=0, prepend=0)
    spots = [f"{_short(x)} {_short(y)}" for x, y in steps.tolist()]
    return f"M{spots[0]}l{' '.join(spots[1:])}" if len(spots) > 1 else f"M{spots[0]}"


def _short(value: float) -> str:
    words = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if words in {"-0", ""} else words
