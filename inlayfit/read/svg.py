"""An SVG at its finished size: the recipe.

The tree is walked once, for curves; the size of those gives the scale; then they are flattened and cut to polygons at
that scale, and what the estimate was off by is corrected at the end.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.drawing import CURVE_TOLERANCE, Drawing, DrawnLine, Region
from inlayfit.errors import DrawingError, InlayfitError, UnitError
from inlayfit.read.flatten import boxes, place, rings
from inlayfit.read.outline import Floats
from inlayfit.read.svg_build import Builder
from inlayfit.read.svg_context import Context
from inlayfit.read.svg_css import apply_sheets
from inlayfit.read.svg_lengths import MM_PER_PX
from inlayfit.read.svg_notes import Notes
from inlayfit.read.svg_page import PageBox, page_of, remark_page
from inlayfit.read.svg_remarks import remark
from inlayfit.read.svg_scene import Painted, box_clip
from inlayfit.read.svg_style import computed
from inlayfit.read.svg_transform import IDENTITY, Matrix, multiply, stretches
from inlayfit.read.svg_tree import load_tree
from inlayfit.read.svg_walk import Walker
from inlayfit.units import UNITS, Mm

if TYPE_CHECKING:
    from inlayfit.read.fonts import Font

_SPARE = 0.9  # flatten a little finer, so that the last correction of the scale stays within the tolerance
_MOST_OFF = 1.1  # an estimate that is off by more is made again
_COARSE = 1 / 2000  # of the drawing's extent: enough to know its size

Built = list[tuple[Painted, list[Any]]]


def read_svg(
    source: Path,
    *,
    width: Mm | None,
    height: Mm | None,
    scale: float | None,
    units: str | None,
    page: Literal["keep", "clip"],
    fonts: Sequence[Font] = (),
    apart: frozenset[str] = frozenset(),
) -> Drawing:
    """Return the regions of an SVG; see `inlayfit.read.read_drawing`."""
    notes = Notes()
    try:
        sheet, everything = scene_of(source, notes, clip_page=page == "clip", fonts=fonts)
        painted = [one for one in everything if one.source.layer not in apart]
        if not painted:
            raise _nothing(source, notes)
        corners = _corners(painted)
        extent = np.array((corners[:, :2].min(axis=0), corners[:, 2:].max(axis=0)))
        asked = _Asked(width, height, _mm_per_px(sheet, scale, units))
        if asked.undecided:
            raise _no_size(source, painted, extent)
        regions, mm_per_px, frame = _at_size(painted, extent, asked, notes, source)
        lines = tuple(_lines([one for one in everything if one.source.layer in apart], frame))
        if page == "keep":
            _note_overhang(painted, corners, sheet, notes)
    except RecursionError:
        raise DrawingError("its styles are nested too deeply", where=source.name, remedy="export it again") from None
    except InlayfitError as error:
        if error.where and source.name in error.where:
            raise
        where = f"{source.name}: {error.where}" if error.where else source.name
        raise type(error)(error.message, where=where, remedy=error.remedy) from error
    return Drawing(
        source=str(source), regions=regions, notes=notes.collected(), scale=mm_per_px * sheet.px_per_unit, lines=lines
    )


def _lines(painted: Sequence[Painted], frame: Matrix) -> Iterator[DrawnLine]:
    """Yield the outlines of elements as lines, however they are painted; `frame` leads from px to mm."""
    for one in {one.source.serial: one for one in painted}.values():  # a fill and its stroke are one element
        for points in rings(one.outline, multiply(frame, one.matrix), CURVE_TOLERANCE):
            if len(points) > 1:
                line = shapely.LineString(points)
                yield DrawnLine(line=line, layer=one.source.layer, element=one.source.element)


class _Asked:
    """The size that was asked for: a width, a height, or mm per px."""

    def __init__(self, width: Mm | None, height: Mm | None, mm_per_px: Mm | None) -> None:
        self.axis = 0 if width is not None else 1
        self.length = width if width is not None else height
        self.mm_per_px = mm_per_px
        self.undecided = self.length is None and mm_per_px is None

    def scale_for(self, size: Floats) -> float:
        """Return the factor that brings a size (2,) in px to what was asked."""
        if self.length is None:
            return self.mm_per_px or 1.0
        if not size[self.axis] > 0:
            raise DrawingError("the drawing has no extent in that direction", remedy="give the other one, or a scale")
        return self.length / float(size[self.axis])


def _mm_per_px(sheet: PageBox, scale: float | None, units: str | None) -> Mm | None:
    """Return mm per px as the file and the call say, or None where neither does."""
    if units is not None:
        if units.lower() not in {*UNITS, "px"}:
            raise UnitError(f"unit {units!r} is not known", where="units", remedy=f"known are {', '.join(UNITS)}, px")
        unit = MM_PER_PX if units.lower() == "px" else UNITS[units.lower()]
        return unit / sheet.px_per_unit * (scale or 1.0)
    if sheet.mm_per_px is not None:
        return sheet.mm_per_px * (scale or 1.0)
    return None if scale is None else scale / sheet.px_per_unit


def scene_of(
    source: Path, notes: Notes, *, clip_page: bool = False, fonts: Sequence[Font] = ()
) -> tuple[PageBox, list[Painted]]:
    """Return the page and all that is painted on it, still as curves, lowest first."""
    tree = load_tree(source, notes)
    apply_sheets(tree, notes)
    inherited, style = computed(tree.root, {})
    sheet = page_of(tree.root, style)
    remark_page(tree.root, style, notes)
    clips = (box_clip((0.0, 0.0, *sheet.size), IDENTITY),) if clip_page and sheet.bounded else ()
    context = Context(matrix=sheet.matrix, inherited=inherited, viewport=sheet.viewport, clips=clips)
    painted = Walker(tree, notes, fonts).root(tree.root, style, context)
    for node in tree.nodes:  # nodes that know each other would stay until the garbage collector has looked at all
        node.parent = None
    return sheet, painted


def _corners(painted: list[Painted]) -> Floats:
    """Return the corners (n, 4) of each thing in px: left, top, right, bottom; strokes roughly, clips not counted."""
    found = boxes(place([one.outline for one in painted], [one.matrix for one in painted]))
    margins = np.array([_margin(one) for one in painted])[:, None]
    return found + margins * np.array((-1.0, -1.0, 1.0, 1.0))


def _margin(one: Painted) -> float:
    if one.stroke is None:
        return 0.0
    return one.stroke.width / 2 * (1.0 if one.stroke.fixed else stretches(one.matrix)[0])


def _note_overhang(painted: list[Painted], corners: Floats, sheet: PageBox, notes: Notes) -> None:
    """Name what reaches outside the page: renderers do not show it, and it counts for the size."""
    if not sheet.bounded:
        return
    slack = max(sheet.size) * _COARSE
    over = (corners[:, :2] < -slack).any(axis=1) | (corners[:, 2:] > np.array(sheet.size) + slack).any(axis=1)
    for number in np.flatnonzero(over):
        notes.add(
            "assumed",
            painted[number].source.element,
            "reaches outside the page and is taken as a whole",
            "cut it at the page if that is meant",
        )


def _frame(extent: Floats, factor: float) -> Matrix:
    """Return the map from px, y down, to mm, y up, with the lower left of the extent at the origin."""
    return (factor, 0.0, 0.0, -factor, -float(extent[0, 0]) * factor, float(extent[1, 1]) * factor)


def _at_size(
    painted: list[Painted], extent: Floats, asked: _Asked, notes: Notes, source: Path
) -> tuple[tuple[Region, ...], float, Matrix]:
    """Build at the scale of the estimate, once more where that was far off, and correct the rest."""
    factor = asked.scale_for(extent[1] - extent[0])
    for _ in range(3):
        remarks = Notes()
        frame = _frame(extent, factor)
        built = _built(painted, frame, CURVE_TOLERANCE * _SPARE, remarks)
        if not built:
            raise _nothing(source, notes)
        bounds = _bounds(built)
        rest = asked.scale_for((bounds[1] - bounds[0]) / factor) / factor
        if 1 / _MOST_OFF**4 < rest < _MOST_OFF:
            break
        factor *= rest
    notes.take(remarks)
    x, y = bounds[0].tolist()
    placed = multiply((rest, 0.0, 0.0, rest, -x * rest, -y * rest), frame)
    remark([one for one, _ in built], placed, notes)
    return tuple(_regions(built, rest, bounds[0])), factor * rest, placed


def _built(painted: list[Painted], frame: Matrix, tolerance: float, notes: Notes) -> Built:
    parts = Builder(frame, tolerance, notes).build(painted)
    return [(one, polygons) for one, polygons in zip(painted, parts, strict=True) if polygons]


def _bounds(built: Built) -> Floats:
    """Return the corners (2, 2) of all polygons."""
    return np.asarray(shapely.total_bounds([part for _, parts in built for part in parts])).reshape(2, 2)


def _regions(built: Built, rest: float, corner: Floats) -> list[Region]:
    """Return regions with names of their own, the lower left of all at the origin."""
    names: Counter[str] = Counter()
    regions: list[Region] = []
    every = np.array([part for _, parts in built for part in parts], dtype=object)
    placed = iter(_sound(shapely.transform(every, lambda points: (points - corner) * rest)))
    for one, parts in built:
        name = f"{one.source.name} stroke" if one.stroke is not None else one.source.name
        regions.extend(
            Region(
                polygon=next(placed),
                name=_unique(name, names),
                layer=one.source.layer,
                colour=one.colour,
                element=one.source.element,
            )
            for _ in parts
        )
    return regions


def _sound(polygons: NDArray[Any]) -> NDArray[Any]:
    """Return polygons with those mended whose edges lie so close that rounding let them cross."""
    for number in np.flatnonzero(~shapely.is_valid(polygons)):
        parts = shapely.get_parts(shapely.get_parts(shapely.make_valid(polygons[number])))
        polygons[number] = max((part for part in parts if part.geom_type == "Polygon"), key=shapely.area)
    return polygons


def _unique(name: str, names: Counter[str]) -> str:
    names[name] += 1
    if names[name] == 1:
        return name
    return _unique(f"{name} ({names[name]})", names)


def _nothing(source: Path, notes: Notes) -> DrawingError:
    why = "; ".join(f"{note.subject}: {note.message}" for note in notes.collected()[:4])
    return DrawingError(
        f"nothing in the drawing can be cut{f' ({why})' if why else ''}",
        where=source.name,
        remedy="fill the shapes; convert text to paths, or name the file of its font with --font",
    )


def _no_size(source: Path, painted: list[Painted], extent: Floats) -> DrawingError:
    """Return the error for a file without a physical size, with the sizes that it might have."""
    coarse = float((extent[1] - extent[0]).max()) * _COARSE
    built = _built(painted, _frame(extent, 1.0), max(coarse, 1e-9), Notes())
    if not built:
        return _nothing(source, Notes())
    bounds = _bounds(built)
    across, down = bounds[1] - bounds[0]
    sizes = [
        f"{across * MM_PER_PX * 96 / dpi:.1f} x {down * MM_PER_PX * 96 / dpi:.1f} mm at {dpi} px an inch"
        for dpi in (96, 90, 72)
    ]
    return DrawingError(
        f"the file does not say how large it is on paper: {', '.join(sizes)}",
        where=source.name,
        remedy="add --width, --height or --scale (mm per unit of the file)",
    )
