"""The clipping of block references (XCLIP): its path as an area, and what it leaves of lines and areas.

What is closed by its own flag is cut like an area and closed along the clip; an open line keeps its parts inside.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from ezdxf.lldxf.const import DXFError
from ezdxf.xclip import XClip
from numpy.typing import NDArray

if TYPE_CHECKING:
    from ezdxf.entities import Insert

    from inlayfit.read.dxf_entities import Drawn

Points = NDArray[np.float64]

CUT = ("assumed", "is cut off at the clip of its block", "release the clip if whole shapes are meant")
OUTSIDE = ("left-out", "lies outside of the clip of its block", "")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Clip:
    """A path (n, 2) in the coordinates of the drawing, in its own unit; an inverted one hides what lies inside."""

    path: Points
    is_inverted: bool


def clip_of(insert: Insert, to_world: Points) -> Clip | None:
    """Return the clip of a block reference that is switched on; `to_world` (4 x 4) leads there from the block.

    Raises:
        ValueError: there is one, and it cannot be understood.
    """
    clip = XClip(insert)
    if not (clip.has_clipping_path and clip.is_clipping_enabled):
        return None
    try:
        path = clip.get_block_clipping_path()
        corners = [tuple(corner) for corner in path.inner_polygon()]
    except (DXFError, ArithmeticError, LookupError, TypeError, AttributeError) as error:
        raise ValueError(str(error)) from error
    flat = np.array(corners, dtype=float).reshape(-1, 2)
    if len(flat) == 2:  # a rectangle by two of its corners
        (left, bottom), (right, top) = flat.tolist()
        flat = np.array([(left, bottom), (right, bottom), (right, top), (left, top)])
    placed = flat @ to_world[:2, :2].T + to_world[:2, 3]
    if len(flat) < 3 or not np.all(np.isfinite(placed)):
        raise ValueError("its clip is no path")
    return Clip(path=placed, is_inverted=path.is_inverted_clip)


def clipped(drawn: Drawn, clips: Sequence[Clip], scale: float) -> Drawn:
    """Return what the clips leave of an entity that was drawn at `scale`, with a remark where that is not all."""
    for clip in clips:
        area = shapely.make_valid(shapely.Polygon(clip.path * scale))
        shapely.prepare(area)
        drawn = _clipped(drawn, area, is_inverted=clip.is_inverted)
    return drawn


def _clipped(drawn: Drawn, area: shapely.Geometry, *, is_inverted: bool) -> Drawn:
    shapes = [*drawn.areas, *(_shape(points, closed) for points, closed in drawn.lines)]
    spared = shapely.disjoint if is_inverted else shapely.covers
    if not shapes or all(spared(area, shape) for shape in shapes):
        return drawn
    keep = shapely.difference if is_inverted else shapely.intersection
    areas = tuple(part for shape in drawn.areas for part in _parts(keep(shape, area), "Polygon"))
    kept = [keep(shape, area) for shape in shapes[len(drawn.areas) :]]
    lines = tuple(line for shape in kept for line in _lines(shape))
    remark = CUT if areas or lines else OUTSIDE
    return replace(drawn, areas=areas, lines=lines, remarks=(*drawn.remarks, remark))


def _shape(points: Points, closed: bool) -> shapely.Geometry:
    """Return a closed line as the area in it, if it is one, and any other as a line."""
    if len(points) > 3 and (closed or (points[0] == points[-1]).all()):
        ring = shapely.Polygon(points)
        if ring.is_valid:
            return ring
        points = np.vstack([points, points[:1]])
    return shapely.LineString(points)


def _lines(shape: shapely.Geometry) -> Iterator[tuple[Points, bool]]:
    for part in _parts(shape, "Polygon"):
        for ring in (part.exterior, *part.interiors):
            yield shapely.get_coordinates(ring), True
    for part in _parts(shapely.line_merge(shapely.MultiLineString(_parts(shape, "LineString"))), "LineString"):
        yield shapely.get_coordinates(part), False


def _parts(shape: shapely.Geometry, kind: str) -> list[shapely.Geometry]:
    return [part for part in _single(shapely.get_parts(shape)) if part.geom_type == kind and not part.is_empty]


def _single(parts: Iterable[shapely.Geometry]) -> Iterator[shapely.Geometry]:
    for part in parts:
        yield from _single(part.geoms) if hasattr(part, "geoms") else (part,)
