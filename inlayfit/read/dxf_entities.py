"""One DXF entity to lines and areas in the drawing's millimetres.

An entity is drawn in its own plane and then mapped; the tolerance is divided by what the map can stretch (see
dxf_curves), so arcs stay arcs under mirrored, turned and unevenly scaled blocks. Whatever lies out of the plane is seen
from above.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from ezdxf.lldxf.const import DXFError
from ezdxf.math import BSpline, fit_points_to_cad_cv, open_uniform_knot_vector
from shapely.errors import ShapelyError

from inlayfit.errors import DrawingError
from inlayfit.read.dxf_bands import band
from inlayfit.read.dxf_clip import clipped
from inlayfit.read.dxf_curves import Points, bulged, ellipse_points, nurbs_points, widening
from inlayfit.read.dxf_hatch import hatch_areas
from inlayfit.read.dxf_plane import Plane
from inlayfit.read.dxf_walk import Entity, Placed, ocs_matrix
from inlayfit.units import Mm

FARTHEST: Mm = 1e9
"""Coordinates beyond 1000 km have lost the nanometre in a double, and no drawing needs them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """What an entity is: `lines` that may close to areas (points, closed by its flag), and `areas` by themselves.

    `remarks` are (kind, message, remedy) of notes about it.
    """

    lines: tuple[tuple[Points, bool], ...] = ()
    areas: tuple[shapely.Polygon, ...] = ()
    remarks: tuple[tuple[str, str, str], ...] = ()


def draw(placed: Placed, scale: float, tolerance: Mm, join: Mm) -> Drawn:
    """Return lines and areas of one entity in mm.

    Raises:
        DrawingError: the entity has no finite size or is not what it claims; the caller leaves it out with a note.
    """
    with np.errstate(all="ignore"):  # what overflows is found by `_check`
        try:
            drawn = _DRAW[placed.entity.dxftype()](placed, np.diag([scale, scale, scale, 1.0]), tolerance, join)
        except (DXFError, ValueError, ArithmeticError, LookupError, TypeError, AttributeError, ShapelyError) as error:
            raise DrawingError(f"it cannot be read: {error}") from error
    for points in [points for points, _ in drawn.lines] + [shapely.get_coordinates(area) for area in drawn.areas]:
        _check(points)
    return clipped(drawn, placed.clips, scale)


def _check(points: Points) -> None:
    if not np.all(np.isfinite(points)):
        raise DrawingError("it has a coordinate that is no finite number", remedy="delete it, or draw it again")
    if len(points) and np.abs(points).max() > FARTHEST:
        raise DrawingError("it lies more than 1000 km away", remedy="delete it, or check the unit of the drawing")


def _plane(placed: Placed, scaling: Points, tolerance: Mm, elevation: float = 0.0, *, own: bool = True) -> Plane:
    """Return the map from the plane of the entity to the drawing, with its tolerance."""
    matrix = scaling @ placed.matrix
    if own:
        matrix = matrix @ ocs_matrix(placed.entity)
    linear, offset = matrix[:2, :2], matrix[:2, 2] * elevation + matrix[:2, 3]
    stretch = widening(linear) if np.all(np.isfinite(linear)) else math.nan
    if not (0 < stretch < math.inf and np.all(np.isfinite(offset))):
        raise DrawingError("its scale or its place is no finite number", remedy="delete it, or draw it again")
    tilted = abs(matrix[2, :2]).max() > 1e-9 * stretch
    return Plane(linear=linear, offset=offset, tolerance=tolerance / stretch, is_tilted=bool(tilted))


_TILTED = (
    "assumed",
    "lies out of the plane and is taken as seen from above",
    "flatten the drawing if this is not meant",
)

_BEVELLED = ("assumed", "has a corner so sharp that it is cut off square to it", "draw the outline of the corner")


def _remarks(plane: Plane) -> tuple[tuple[str, str, str], ...]:
    return (_TILTED,) if plane.is_tilted else ()


def _world(placed: Placed, scaling: Points, points: Iterable[Any]) -> tuple[Points, tuple[tuple[str, str, str], ...]]:
    """Return world points in the drawing's plane, and a remark where they do not lie in it."""
    matrix = scaling @ placed.matrix
    solid = np.array([tuple(point) for point in points], dtype=float).reshape(-1, 3)
    mapped = solid @ matrix[:3, :3].T + matrix[:3, 3]
    _check(mapped)
    tilted = np.ptp(mapped[:, 2]) > 1e-6 if len(mapped) else False
    return mapped[:, :2], (_TILTED,) if tilted else ()


def _line(placed: Placed, scaling: Points, tolerance: Mm, join: Mm) -> Drawn:  # noqa: ARG001  # one signature for all
    points, remarks = _world(placed, scaling, [placed.entity.dxf.start, placed.entity.dxf.end])
    return Drawn(lines=((points, False),), remarks=remarks)


def _sweep(start: float, end: float, turn: float) -> float:
    """Return the counter-clockwise angle from `start` to `end`; a whole turn only where they are a turn apart."""
    if abs(end - start) >= turn * (1 - 1e-12):
        return turn if (end - start) % turn < 1e-9 * turn or turn - (end - start) % turn < 1e-9 * turn \
            else (end - start) % turn  # fmt: skip
    return (end - start) % turn


def _circle(placed: Placed, scaling: Points, tolerance: Mm, join: Mm) -> Drawn:  # noqa: ARG001
    dxf = placed.entity.dxf
    is_arc = placed.entity.dxftype() == "ARC"
    start = math.radians(dxf.start_angle) if is_arc else 0.0
    sweep = math.radians(_sweep(dxf.start_angle, dxf.end_angle, 360.0)) if is_arc else math.tau
    if not dxf.radius > 0:
        raise DrawingError("its radius is not more than zero", remedy="delete it, or draw it again")
    plane = _plane(placed, scaling, tolerance, dxf.center.z)
    centre = np.array([dxf.center.x, dxf.center.y])
    u, v = np.array([dxf.radius, 0.0]), np.array([0.0, dxf.radius])
    points = plane.curve(centre, u, v, start, sweep)
    return Drawn(lines=((points, not is_arc),), remarks=_remarks(plane))


def _ellipse(placed: Placed, scaling: Points, tolerance: Mm, join: Mm) -> Drawn:  # noqa: ARG001
    dxf = placed.entity.dxf
    major = np.array(dxf.major_axis.xyz)
    normal = np.array(dxf.extrusion.normalize().xyz)
    minor = np.cross(normal, major) * dxf.ratio
    if not np.hypot.reduce(major) > 0 or not abs(dxf.ratio) > 0:
        raise DrawingError("it is an ellipse without an area", remedy="delete it, or draw it again")
    matrix = (scaling @ placed.matrix)[:3]
    axes = matrix[:, :3] @ np.column_stack([major, minor])
    centre = matrix[:, :3] @ np.array(dxf.center.xyz) + matrix[:, 3]
    for numbers in (axes, centre):
        _check(numbers)
    sweep = _sweep(dxf.start_param, dxf.end_param, math.tau)
    points = ellipse_points(centre[:2], axes[:2, 0], axes[:2, 1], dxf.start_param, sweep, tolerance=tolerance)
    tilted = abs(axes[2]).max() > 1e-9 * np.abs(axes).max()
    return Drawn(lines=((points, sweep == math.tau),), remarks=(_TILTED,) if tilted else ())


def _spline(placed: Placed, scaling: Points, tolerance: Mm, join: Mm) -> Drawn:
    entity = placed.entity
    control, weights, knots, degree = _nurbs(entity)
    flat, remarks = _world(placed, scaling, control)
    points = nurbs_points(flat, weights, knots, degree, tolerance)
    hole = float(np.hypot(*(points[0] - points[-1])))
    if entity.closed and hole > join:
        told = ("repaired", f"is marked closed but its ends are {hole:.3g} mm apart; a straight line closes it", "")
        return Drawn(lines=((points, True),), remarks=(*remarks, told))
    return Drawn(lines=((points, bool(entity.closed)),), remarks=remarks)


def _nurbs(spline: Entity, degree: int | None = None) -> tuple[list[Any], Points, Points, int]:
    """Return control points, weights, knots and degree; fit points alone are joined by a cubic as CAD does."""
    control = [tuple(point) for point in spline.control_points]
    if not control:
        if len(spline.fit_points) < 2:
            raise DrawingError("it is a spline without points", remedy="delete it, or draw it again")
        fitted: BSpline = fit_points_to_cad_cv(spline.fit_points, tangents=_tangents(spline))
        return list(fitted.control_points), np.ones(fitted.count), np.array(fitted.knots()), fitted.degree
    degree = int(spline.dxf.degree) if degree is None else degree
    knots = list(spline.knots) or list(open_uniform_knot_vector(len(control), degree + 1))
    weights = np.array(spline.weights) if len(spline.weights) else np.ones(len(control))
    return control, weights, np.array(knots), degree


def _tangents(spline: Entity) -> list[Any] | None:
    if spline.dxf.hasattr("start_tangent") and spline.dxf.hasattr("end_tangent"):
        return [spline.dxf.start_tangent, spline.dxf.end_tangent]
    return None


def _polyline(placed: Placed, scaling: Points, tolerance: Mm, join: Mm) -> Drawn:  # noqa: ARG001
    """A light or an old two-dimensional polyline: bulges, and widths that make a band of it."""
    entity = placed.entity
    if entity.dxftype() == "LWPOLYLINE":
        rows = np.array(entity.get_points("xyseb"), dtype=float).reshape(-1, 5)
        if entity.dxf.hasattr("const_width") and entity.dxf.const_width:
            rows[:, 2:4] = entity.dxf.const_width
        elevation, closed = float(entity.dxf.elevation), bool(entity.closed)
    elif entity.is_2d_polyline:
        rows, elevation, closed = _old_rows(entity), float(entity.dxf.elevation.z), bool(entity.is_closed)
    elif entity.is_3d_polyline:
        frame = [vertex.dxf.location for vertex in entity.vertices if not vertex.dxf.flags & _FRAME]
        points, remarks = _world(placed, scaling, frame)
        return Drawn(lines=((points, bool(entity.is_closed)),), remarks=remarks)
    else:
        raise DrawingError("it is a mesh, not an outline", remedy="draw its outline")
    if not len(rows):
        raise DrawingError("it is a polyline without points", remedy="delete it")
    plane = _plane(placed, scaling, tolerance, elevation)
    _check(rows)
    if rows[:, 2:4].any():
        solid, is_cut = band(rows, closed, plane.tolerance)
        return Drawn(areas=plane.polygons(solid), remarks=(*_remarks(plane), *([_BEVELLED] if is_cut else [])))
    return Drawn(
        lines=((plane.map(bulged(rows[:, [0, 1, 4]], closed, plane.tolerance)), closed),), remarks=_remarks(plane)
    )


_FRAME = 16  # VERTEX flag: a control point of a fitted spline, drawn only while it is edited


def _old_rows(entity: Entity) -> Points:
    """Return x, y, start width, end width, bulge of an old polyline; the frame of a fitted spline is no part of it."""
    start, end = entity.dxf.get("default_start_width", 0.0), entity.dxf.get("default_end_width", 0.0)
    rows = [
        (
            vertex.dxf.location.x,
            vertex.dxf.location.y,
            vertex.dxf.get("start_width", start),
            vertex.dxf.get("end_width", end),
            vertex.dxf.get("bulge", 0.0),
        )
        for vertex in entity.vertices
        if not vertex.dxf.flags & _FRAME
    ]
    return np.array(rows, dtype=float).reshape(-1, 5)


def _solid(placed: Placed, scaling: Points, tolerance: Mm, join: Mm) -> Drawn:  # noqa: ARG001
    """SOLID and TRACE name their corners in the order 0, 1, 3, 2."""
    corners = placed.entity.vertices()
    _check(np.array([corner.xyz for corner in corners]))
    plane = _plane(placed, scaling, tolerance, corners[0].z)
    polygon = shapely.Polygon([(corner.x, corner.y) for corner in corners])
    return Drawn(areas=plane.polygons([polygon]), remarks=_remarks(plane))


def _hatch(placed: Placed, scaling: Points, tolerance: Mm, join: Mm) -> Drawn:
    entity = placed.entity
    plane = _plane(placed, scaling, tolerance, entity.dxf.elevation.z)
    areas, remarks = hatch_areas(entity, plane, join)
    if entity.dxftype() == "HATCH" and not entity.dxf.solid_fill:
        remarks = (*remarks, ("assumed", "is a pattern and is taken as a full area", "use a solid fill"))
    return Drawn(areas=areas, remarks=(*remarks, *_remarks(plane)))


def _text(placed: Placed, scaling: Points, tolerance: Mm, join: Mm) -> Drawn:  # noqa: ARG001
    """A text is drawn letter by letter; a TEXT lies in its own plane, an MTEXT in the world."""
    from inlayfit.read.dxf_text import mtext_lettering, text_lettering  # noqa: PLC0415  # fonttools: who names a font
    from inlayfit.read.fill import fill  # noqa: PLC0415
    from inlayfit.read.flatten import loops, place  # noqa: PLC0415

    if placed.font is None:
        raise DrawingError("it is text, and no font is given", remedy="name the file of its font with --font")
    is_line = placed.entity.dxftype() == "TEXT"
    plane = _plane(placed, scaling, tolerance, placed.entity.dxf.insert.z, own=is_line)
    lettering = (text_lettering if is_line else mtext_lettering)(placed.entity, placed.font)
    (a, c), (b, d) = plane.linear.tolist()
    letters = loops(place([lettering.outline], [(a, b, c, d, *plane.offset.tolist())]), tolerance)
    _check(letters.points)
    [(areas, _)] = fill(letters, ["nonzero"], [placed.element])
    return Drawn(areas=tuple(areas), remarks=(*lettering.remarks, *_remarks(plane)))


def _compound(placed: Placed, scaling: Points, tolerance: Mm, join: Mm) -> Drawn:
    """A multiline is drawn by its parts."""
    parts = [
        _DRAW[part.dxftype()](replace(placed, entity=part), scaling, tolerance, join)
        for part in placed.entity.virtual_entities()
    ]
    return Drawn(
        lines=tuple(line for part in parts for line in part.lines),
        areas=tuple(area for part in parts for area in part.areas),
        remarks=tuple(remark for part in parts for remark in part.remarks),
    )


_DRAW: dict[str, Callable[[Placed, Points, Mm, Mm], Drawn]] = {
    "LINE": _line,
    "ARC": _circle,
    "CIRCLE": _circle,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
    "LWPOLYLINE": _polyline,
    "POLYLINE": _polyline,
    "HATCH": _hatch,
    "MPOLYGON": _hatch,
    "SOLID": _solid,
    "TRACE": _solid,
    "MLINE": _compound,
    "TEXT": _text,
    "MTEXT": _text,
}
