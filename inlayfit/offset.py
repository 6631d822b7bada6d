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
from itertools import compress
from typing import TypeAlias, TypeVar

import numpy as np
import shapely
from manifold3d import CrossSection, FillRule, JoinType, OpType
from numpy.typing import NDArray

from inlayfit.parallel import parallel_rings
from inlayfit.units import Mm

ARC_ERROR: Mm = 0.00015
"""The tangent polygons that stand for arcs lie this far outside of them at most: an offset goes too far by as much.

Vertices that lie half as close to the line between their neighbours are dropped after each offset."""

THINNING: Mm = 0.0001
"""Vertices of the drawing that lie this close to the outline without them are dropped: density slows the engine."""

WIDTH_ERROR: Mm = 0.0005
"""A width that is told is hardly further off: half as much comes from thinning, from arcs and from where one stops."""

FEW = 220
"""Up to so many vertices the engine's own offset is quicker than a raw curve."""

LEAST_CHORDS = 4
"""For a whole turn."""

CROSSED_MM2 = 1e-6
"""Less is what the engine's rounding adds up to along an outline; a neck a micrometre too thin takes more."""

MANY_VERTICES = 5000
"""From so many on thinning costs less than what it saves: noise makes crossings."""

MANY_RINGS = 12
"""Up to so many rings are swept in one go."""

CURVE_BITS = 10
"""Of each coordinate, for the curve that neighbours lie along."""

LOT = 4
"""Rings of a crowd, and then lots of them, that are united in one go: two to four cost least, whatever the distance."""

Section: TypeAlias = CrossSection
"""A set of the plane, as the engine holds it: any number of parts, with holes."""

_Item = TypeVar("_Item")


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
    found = _polygons(shape)
    valid = shapely.is_valid(found)
    return found if valid.all() else _mended(found, valid)


def parts_near(shape: Section, points: NDArray[np.object_]) -> NDArray[np.object_]:
    """Return the parts of a section whose boxes hold one of some points, in any order and from any vertex: quicker."""
    found = np.array(_polygons(shape), dtype=object)
    found = found[np.unique(shapely.STRtree(found).query(points)[1])]
    valid = shapely.is_valid(found)
    if not valid.all():
        found[~valid] = shapely.make_valid(found[~valid], method="structure", keep_collapsed=False)
    return np.asarray(shapely.get_parts(found))


def _polygons(shape: Section) -> list[shapely.Polygon]:
    """Return a polygon for each part; its rings may touch themselves."""
    rings = shape.to_polygons()[::-1]
    if (signed_areas(rings) > 0).all():
        return _without_holes(rings)
    parts = [[ring for ring in part.to_polygons() if len(ring) >= 3] for part in shape.decompose()]
    return [_with_holes(around) for around in parts if around]


def _without_holes(rings: Sequence[NDArray[np.float64]]) -> list[shapely.Polygon]:
    """Return a polygon for each ring, all at once: an overlay may hold hundreds."""
    if not len(rings):
        return []
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


def union(sections: Sequence[Section]) -> Section:
    """Return the union of sections; empty for none."""
    if len(sections) == 1:
        return sections[0]
    return CrossSection.batch_boolean(list(sections), OpType.Add) if sections else CrossSection()


def in_one_alone(one: Section, other: Section) -> Section:
    """Return what lies in one of two sections, but not in both: in one sweep."""
    return CrossSection([*one.to_polygons(), *other.to_polygons()], FillRule.EvenOdd)


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
    """Return the same with all vertices."""
    rings = shape.to_polygons()
    moved = _moved if len(rings) > MANY_RINGS else _in_one_go
    return moved(rings, distance, arc_error)


def raw_rings(shape: Section, distance: Mm) -> list[NDArray[np.float64]]:
    """Return rings that go round the same, for `rings_less`: raw ones, which need no sweep of their own.

    A growing one goes round nothing less than no time, a shrinking one round nothing more than once.
    """
    rings = shape.to_polygons()
    if len(rings) > MANY_RINGS:
        return _moved(rings, distance, ARC_ERROR).to_polygons()
    return parallel_rings(rings, distance, ARC_ERROR)[0]


def rings_less(rings: Iterable[NDArray[np.float64]], others: Iterable[NDArray[np.float64]]) -> Section:
    """Return what rings go round more often than others do."""
    return CrossSection([*rings, *(ring[::-1] for ring in others)], FillRule.Positive)


def halfway(shape: Section, distance: Mm) -> Section:
    """Return the same to be moved on: thinned only where there is so much of it that this saves time."""
    moved = swept(shape, distance)
    return moved.simplify(ARC_ERROR / 2) if moved.num_vert() > MANY_VERTICES else moved


def core(shape: Section, radius: Mm) -> tuple[Section, Mm]:
    """Return the section shrunk, and a bound for the reach of what discs of the radius do not cover of it.

    Where the raw curve crosses itself nowhere, each point between it and the outline lies on one way of the radius from
    the one to the other, but at convex vertices, which reach out as corners do. Else the bound is infinite.
    """
    rings = shape.to_polygons()
    if not rings or len(rings) > MANY_RINGS:
        return offset(shape, -radius), math.inf
    raw, sharpest = parallel_rings(rings, -radius, ARC_ERROR)
    shrunk = CrossSection(raw, FillRule.Positive)
    plain = len(raw) == len(rings) and abs(shrunk.area() - signed_areas(raw).sum()) <= CROSSED_MM2
    return shrunk, radius * (1 / math.cos(sharpest / 2) - 1) if plain and sharpest < math.pi else math.inf


def _in_one_go(rings: Sequence[NDArray[np.float64]], distance: Mm, arc_error: Mm) -> Section:
    """Return what rings, holes clockwise, go round once they are moved outward, all in one sweep."""
    return CrossSection(parallel_rings(rings, distance, arc_error)[0], FillRule.Positive)


def _moved(rings: Sequence[NDArray[np.float64]], distance: Mm, arc_error: Mm) -> Section:
    """Return the same for many rings: the raw curves of small ones cross one another, each nearly all of the others.

    Where no disc of the distance finds room in a ring, it vanishes when its inside shrinks, with all that lies in it,
    and else it grows by itself: nothing within it counts. So the one is left out, and the other need not be swept with
    the rest.
    """
    areas, small = signed_areas(rings), _without_room(rings, abs(distance))
    grows = areas * distance > 0
    crowd = [ring if distance > 0 else ring[::-1] for ring in compress(rings, small & grows)]
    rest = _in_one_go(list(compress(rings, ~small)), distance, arc_error)
    raw, _ = parallel_rings(crowd, abs(distance), arc_error)
    if not raw:
        return rest
    grown = _united(raw)
    return rest + grown if distance > 0 else rest - grown


def _without_room(rings: Sequence[NDArray[np.float64]], radius: Mm) -> NDArray[np.bool_]:
    """Return which rings plainly hold no disc of a radius: too low, too narrow or of too little area."""
    bounds = ring_bounds(rings)
    narrow = (bounds[:, 2:] - bounds[:, :2]).min(axis=1) < 2 * radius
    return np.asarray(narrow | (np.abs(signed_areas(rings)) < math.pi * radius**2))


def ring_bounds(rings: Sequence[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return the boxes round rings, each of shape (n, 2): (m, 4), left, bottom, right, top."""
    points = np.concatenate(rings)
    starts = np.cumsum([0, *(len(ring) for ring in rings[:-1])])
    return np.hstack([np.minimum.reduceat(points, starts), np.maximum.reduceat(points, starts)])


def _united(raw: Sequence[NDArray[np.float64]]) -> Section:
    """Return the union of what raw curves go round, neighbours first: what they cover is gone before it costs."""
    lots = [CrossSection([raw[index] for index in lot], FillRule.Positive) for lot in _lots(_along_a_curve(raw))]
    while len(lots) > 1:
        lots = [CrossSection.batch_boolean(lot, OpType.Add) for lot in _lots(lots)]
    return lots[0]


def _lots(items: Sequence[_Item]) -> list[list[_Item]]:
    return [list(items[first : first + LOT]) for first in range(0, len(items), LOT)]


def _along_a_curve(rings: Sequence[NDArray[np.float64]]) -> list[int]:
    """Return the numbers of rings such that neighbours in the list lie near one another.

    Source: the bits of both coordinates in turn, G. M. Morton, A computer oriented geodetic data base, 1966.
    """
    starts = np.array([ring[0] for ring in rings])
    grid = (starts - starts.min(axis=0)) / max(float(np.ptp(starts, axis=0).max()), ARC_ERROR) * (2**CURVE_BITS - 1)
    cells, bits = grid.astype(np.int64), np.arange(CURVE_BITS)
    spread = ((cells[:, :, None] >> bits) & 1) << (2 * bits)
    return [int(index) for index in np.argsort(spread[:, 0].sum(axis=1) + 2 * spread[:, 1].sum(axis=1), kind="stable")]


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


def inner_width(polygon: shapely.Polygon) -> Mm:
    """Return the diameter of the largest disc within a polygon, to `WIDTH_ERROR`.

    A part has room for a disc of its area over its length at least, so that shrinking goes by such steps to where
    nothing is left. That takes no longer along a limb that is as wide all along.
    """
    whole = left = section(shapely.simplify(polygon, WIDTH_ERROR / 2))
    radius = 0.0
    while True:
        step = max(WIDTH_ERROR / 2, _room(left))
        while (deeper := window_offset(whole, -(radius + step), WIDTH_ERROR / 2)).is_empty():
            if step <= WIDTH_ERROR / 2:
                return 2 * radius + step
            step = max(WIDTH_ERROR / 2, step / 2)
        radius, left = radius + step, deeper


def _room(shape: Section) -> Mm:
    """Return the largest share of area over length that a part has, if holes are left aside."""
    rings = shape.to_polygons()
    lengths = [float(np.hypot(*(ring - np.roll(ring, 1, axis=0)).T).sum()) for ring in rings]
    return float((signed_areas(rings) / lengths).max())


def opened(shape: Section, radius: Mm) -> Section:
    """Return the union of all discs of that radius inside the section."""
    return offset(halfway(shape, -radius), radius)


def closed(shape: Section, radius: Mm) -> Section:
    """Return the section with everything filled that a disc of that radius outside of it cannot enter."""
    return offset(halfway(shape, radius), -radius)


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
