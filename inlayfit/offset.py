"""Parallel curves and what discs leave of a shape: grow, shrink, opening, closing, within a stated error.

Words: B(r) is the closed disc of radius r. ``grow(A, r)`` is A + B(r), ``shrink(A, r)`` is A - B(r),
``opening`` is shrink then grow (what a pocket cut with that radius leaves of A), ``closing`` grow then shrink
(what an outside cut leaves of a piece).

The raw parallel curve is our own (parallel.py); Clipper2 through manifold3d sweeps it exactly, in integers, and keeps
what it winds round. GEOS, against that, simplifies its input by about 1 % of the distance before it buffers (several um
on noisy outlines). The engine is hidden here: other modules hold a `Section` and call these functions.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TypeAlias

import numpy as np
import shapely
from manifold3d import CrossSection, FillRule, JoinType
from numpy.typing import NDArray

from inlayfit.parallel import parallel_rings
from inlayfit.units import Mm

ARC_ERROR: Mm = 0.0002
"""Sagitta of the chords that stand for arcs: an offset is too small by this at most (chords are inscribed).

Vertices that lie half as close to the line between their neighbours are dropped after each offset."""

THINNING: Mm = 0.0001
"""Vertices of the drawing that lie this close to the outline without them are dropped: density slows the engine."""

FEW = 250
"""Up to so many vertices the engine's own offset is quicker than a raw curve."""

LEAST_CHORDS = 4
"""For a whole turn."""

Section: TypeAlias = CrossSection
"""A set of the plane, as the engine holds it: any number of parts, with holes."""


def section(geometry: shapely.Geometry | Iterable[shapely.Geometry]) -> Section:
    """Return the engine's form of polygons (their union); lines and points count as nothing."""
    polygons = [part for part in shapely.get_parts(geometry, return_index=False) if part.geom_type == "Polygon"]
    rings: list[NDArray[np.float64]] = []
    for polygon in shapely.orient_polygons([_thinned(polygon) for polygon in polygons]):
        rings.extend(shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(polygon))
    return CrossSection(rings, FillRule.Positive) if rings else CrossSection()


def _thinned(polygon: shapely.Polygon) -> shapely.Polygon:
    thin = shapely.simplify(polygon, THINNING, preserve_topology=False)
    return thin if thin.is_valid and thin.geom_type == "Polygon" and not thin.is_empty else polygon


def polygons_of(shape: Section) -> list[shapely.Polygon]:
    """Return the parts of a section, each with its holes, counter-clockwise outside."""
    found = _polygons([shape] if shape.num_contour() == 1 else shape.decompose())
    valid = shapely.is_valid(found)
    return found if valid.all() else _mended(found, valid)


def broad_parts(shape: Section, least_mm2: float) -> NDArray[np.object_]:
    """Return the parts of a section that have a least area, in any order and from any vertex: quicker."""
    found = np.array(_polygons([part for part in shape.decompose() if part.area() >= least_mm2]), dtype=object)
    valid = shapely.is_valid(found)
    found[~valid] = shapely.make_valid(found[~valid], method="structure", keep_collapsed=False)
    return np.asarray(shapely.get_parts(found))


def _polygons(parts: Sequence[Section]) -> list[shapely.Polygon]:
    """Return a polygon for each part; its rings may touch themselves."""
    rings = [[ring for ring in part.to_polygons() if len(ring) >= 3] for part in parts]
    rings = [around for around in rings if around]
    if not rings:
        return []
    if all(len(around) == 1 for around in rings):
        return _without_holes([around[0] for around in rings])
    return [_with_holes(around) for around in rings]


def _without_holes(rings: Sequence[NDArray[np.float64]]) -> list[shapely.Polygon]:
    """Return a polygon for each ring, all at once: an overlay may hold hundreds."""
    of = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    return list(shapely.polygons(shapely.linearrings(np.concatenate(rings), indices=of)))


def _with_holes(rings: list[NDArray[np.float64]]) -> shapely.Polygon:
    outside = int(np.argmax(signed_areas(rings))) if len(rings) > 1 else 0
    return shapely.Polygon(rings[outside], rings[:outside] + rings[outside + 1 :])


def _mended(polygons: list[shapely.Polygon], valid: NDArray[np.bool_]) -> list[shapely.Polygon]:
    """Return polygons, some with rings that touch themselves, which the engine allows, in valid parts."""
    each = zip(polygons, valid, strict=True)
    parts = shapely.get_parts([polygon if fine else shapely.make_valid(polygon) for polygon, fine in each])
    parts = shapely.get_parts(parts)  # a collection may hold a multipolygon
    return [part for part in parts if part.geom_type == "Polygon" and part.area > 0]


def boxes(bounds: NDArray[np.float64], reach: Mm) -> Section:
    """Return the union of boxes (n, 4), left, bottom, right, top, that go so much further."""
    corners = (bounds + reach * np.array([-1, -1, 1, 1]))[:, [[0, 1], [2, 1], [2, 3], [0, 3]]]
    return CrossSection(list(corners), FillRule.Positive)


def corners_of(shape: Section) -> NDArray[np.float64]:
    """Return the vertices of a section, (n, 2)."""
    return np.concatenate([np.empty((0, 2)), *shape.to_polygons()])


def signed_areas(rings: Sequence[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return the areas of closed rings, each of shape (n, 2), positive when counter-clockwise."""
    if not len(rings):
        return np.empty(0)
    lengths = np.array([len(ring) for ring in rings])
    starts = np.cumsum(lengths) - lengths
    points = np.concatenate(rings)
    points = points - np.repeat(points[starts], lengths, axis=0)
    following = np.roll(points, -1, axis=0)
    following[starts + lengths - 1] = 0.0  # where each ring began
    return np.asarray(np.add.reduceat(points[:, 0] * following[:, 1] - following[:, 0] * points[:, 1], starts) / 2)


def geometry_of(shape: Section) -> shapely.Polygon | shapely.MultiPolygon:
    """Return a section as one shapely geometry."""
    parts = polygons_of(shape)
    whole = parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)
    return whole if whole.is_valid else shapely.union_all(parts)  # parts may share an edge


def offset(shape: Section, distance: Mm, arc_error: Mm = ARC_ERROR) -> Section:
    """Return the section grown (or, below zero, shrunk) by a distance, round at corners."""
    if distance == 0 or shape.is_empty():
        return shape
    return swept(shape, distance, arc_error).simplify(arc_error / 2)


def swept(shape: Section, distance: Mm, arc_error: Mm = ARC_ERROR) -> Section:
    """Return the same with all vertices: sooner, for what is but held against another section."""
    return CrossSection(parallel_rings(shape.to_polygons(), distance, arc_error), FillRule.Positive)


def window_offset(shape: Section, distance: Mm, arc_error: Mm) -> Section:
    """Return the same for a window of a section: of few vertices, and asked for a single place.

    There the engine's own offset is many times quicker. It takes the sense of all contours from the lowest one: what
    grew when it should have shrunk is done again.
    """
    if distance == 0 or shape.is_empty() or shape.num_vert() > FEW:
        return offset(shape, distance, arc_error)
    chords = math.ceil(math.pi / math.acos(max(0.0, 1 - arc_error / abs(distance))))
    moved = shape.offset(distance, JoinType.Round, circular_segments=max(chords, LEAST_CHORDS))
    right = (moved.area() > shape.area()) == (distance > 0)
    return moved.simplify(arc_error / 2) if right else offset(shape, distance, arc_error)


def opened(shape: Section, radius: Mm) -> Section:
    """Return the union of all discs of that radius inside the section."""
    return offset(offset(shape, -radius), radius)


def closed(shape: Section, radius: Mm) -> Section:
    """Return the section with everything filled that a disc of that radius outside of it cannot enter."""
    return offset(offset(shape, radius), -radius)


def grow(geometry: shapely.Geometry, radius: Mm) -> shapely.Polygon | shapely.MultiPolygon:
    """Return A + B(radius); mm."""
    return geometry_of(offset(section(geometry), radius))


def shrink(geometry: shapely.Geometry, radius: Mm) -> shapely.Polygon | shapely.MultiPolygon:
    """Return A - B(radius); mm; empty where nothing is left."""
    return geometry_of(offset(section(geometry), -radius))


def opening(geometry: shapely.Geometry, radius: Mm) -> shapely.Polygon | shapely.MultiPolygon:
    """Return what a cutter of that radius, working inside, can cut of the shape."""
    return geometry_of(opened(section(geometry), radius))


def closing(geometry: shapely.Geometry, radius: Mm) -> shapely.Polygon | shapely.MultiPolygon:
    """Return what a cutter of that radius, working outside, leaves standing of the shape."""
    return geometry_of(closed(section(geometry), radius))
