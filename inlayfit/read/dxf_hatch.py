"""HATCH and MPOLYGON: boundary paths of all kinds to areas with islands."""

from __future__ import annotations

import math

import numpy as np
import shapely
from ezdxf.entities.boundary_paths import ArcEdge, EllipseEdge, LineEdge, PolylinePath, SplineEdge
from ezdxf.math import fit_points_to_cad_cv

from inlayfit.errors import DrawingError
from inlayfit.read.chain import close_outlines
from inlayfit.read.chain_faces import GRID, Item, nest
from inlayfit.read.dxf_curves import Points, bulged, nurbs_points
from inlayfit.read.dxf_plane import Plane
from inlayfit.read.dxf_walk import Entity
from inlayfit.units import Mm

Remarks = tuple[tuple[str, str, str], ...]


_DEEPEST = {0: None, 1: 1, 2: 0}
"""Hatch style to the depth that still counts: all islands; the outermost area and its holes; the outermost area."""


def hatch_areas(entity: Entity, plane: Plane, join: Mm) -> tuple[tuple[shapely.Polygon, ...], Remarks]:
    """Return the filled areas of a hatch, in mm.

    Each path gives one or more rings; the rings nest by even-odd, as deep as the style of the hatch says (DXF
    reference, HATCH, group 75). Rings that cross are combined by even-odd too. A path whose edges do not meet is closed
    by straight lines in the order of its edges, and a remark says so.
    """
    rings: list[shapely.Polygon] = []
    remarks: Remarks = ()
    for path in entity.paths:
        found, repaired = _rings(path, plane, join)
        rings.extend(found)
        if repaired:
            remarks = (("repaired", "has a boundary with holes in it, closed by straight lines", "hatch it again"),)
    if not rings:
        raise DrawingError("its boundary encloses no area", remedy="hatch it again")
    style = int(entity.dxf.get("hatch_style", 0)) if entity.dxftype() == "HATCH" else 0
    return _combined(rings, _DEEPEST.get(style)), remarks


def _combined(rings: list[shapely.Polygon], deepest: int | None) -> tuple[shapely.Polygon, ...]:
    first, second = shapely.STRtree(rings).query(rings, predicate="overlaps")
    if not np.any(first < second):
        areas, _ = nest([Item(faces=((ring, (0,)),), silhouette=ring) for ring in rings], deepest=deepest)
        return tuple(polygon for polygon, _ in areas)
    total = rings[0]
    for ring in rings[1:]:
        total = shapely.symmetric_difference(total, ring, grid_size=GRID)
    return tuple(part for part in shapely.get_parts(total) if isinstance(part, shapely.Polygon))


def _rings(path: Entity, plane: Plane, join: Mm) -> tuple[list[shapely.Polygon], bool]:
    if isinstance(path, PolylinePath):
        rows = np.array(path.vertices, dtype=float).reshape(-1, 3)
        if len(rows) < 2:
            return [], False
        return list(plane.polygons([_ring(bulged(rows, True, plane.tolerance))])), False
    edges = [points for edge in path.edges if len(points := _edge(edge, plane))]
    if not edges:
        return [], False
    chained = close_outlines(edges, [False] * len(edges), join)
    if chained.faces and not chained.opens:
        return [shapely.Polygon(face.polygon.exterior) for face in chained.faces], False
    ring = _ring(np.concatenate(edges))
    return [part for part in shapely.get_parts(shapely.make_valid(ring)) if isinstance(part, shapely.Polygon)], True


def _ring(points: Points) -> shapely.Polygon:
    return shapely.Polygon(points) if len(points) > 2 else shapely.Polygon()


def _edge(edge: Entity, plane: Plane) -> Points:
    """Return the mapped points of one edge; its direction does not matter to the joining of ends."""
    if isinstance(edge, LineEdge):
        return plane.map(np.array([tuple(edge.start), tuple(edge.end)], dtype=float))
    if isinstance(edge, ArcEdge):
        u, v = np.array([edge.radius, 0.0]), np.array([0.0, edge.radius])
        span = (math.radians(edge.start_angle), math.radians(edge.end_angle))
        return _swept(plane, np.array(tuple(edge.center)), u, v, span)
    if isinstance(edge, EllipseEdge):
        u = np.array(tuple(edge.major_axis), dtype=float)
        v = np.array([-u[1], u[0]]) * edge.ratio
        return _swept(plane, np.array(tuple(edge.center)), u, v, (edge.start_param, edge.end_param))
    return _spline_edge(edge, plane)


def _swept(plane: Plane, centre: Points, u: Points, v: Points, span: tuple[float, float]) -> Points:
    start, end = span
    sweep = (end - start) % math.tau
    if sweep < 1e-9 or math.tau - sweep < 1e-9:
        sweep = math.tau if abs(end - start) > 1e-9 else 0.0
    return plane.curve(centre, u, v, start, sweep) if sweep else np.empty((0, 2))


def _spline_edge(edge: SplineEdge, plane: Plane) -> Points:
    if edge.control_points:
        control = np.array([tuple(point)[:2] for point in edge.control_points], dtype=float)
        weights = np.array(edge.weights) if edge.weights else np.ones(len(control))
        return plane.map(nurbs_points(control, weights, np.array(edge.knot_values), edge.degree, plane.tolerance))
    fitted = fit_points_to_cad_cv(edge.fit_points)
    control = np.array([(point.x, point.y) for point in fitted.control_points])
    return plane.map(nurbs_points(control, np.ones(len(control)), np.array(fitted.knots()), 3, plane.tolerance))
