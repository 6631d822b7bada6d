"""Rings and a fill rule to polygons.

Rings that are simple and properly nested are nested as they are; all others are noded on a grid, cut into faces, and
each face is kept by its winding number. Without the grid the noding loses whole shapes.
"""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.errors import DrawingError
from inlayfit.read.outline import Floats

Rule = Literal["nonzero", "evenodd"]

GRID = 1e-6
"""Grid for noding, mm: a nanometre."""

SLIVER = 1e-9
"""Smaller areas, mm2, are numeric dust."""

_MOST_MEETINGS = 2_000_000  # pairs of chords whose boxes meet: beyond, noding takes more than seconds
_SAMPLE = 200


def fill(outlines: list[Floats], rule: Rule) -> tuple[list[Any], bool]:
    """Return the polygons that a fill paints, and whether an outline that crosses or touches itself was repaired."""
    loops = [loop for loop in map(_closed, outlines) if loop is not None]
    if not loops:
        return [], False
    polygons = shapely.polygons([shapely.linearrings(loop) for loop in loops])
    crossed = not bool(_valid(polygons))
    if not crossed:
        nested = _nest(polygons, loops, rule)
        if nested is not None:
            return [polygon for polygon in nested if polygon.area > SLIVER], False
    return [polygon for polygon in _by_winding(loops, rule) if polygon.area > SLIVER], crossed


def unite(pieces: list[Floats]) -> list[Any]:
    """Return the polygons that rings cover together, whichever way each one runs; a ring may cover a place twice."""
    loops = [loop if _signed_area(loop) > 0 else loop[::-1] for loop in map(_closed, pieces) if loop is not None]
    return [polygon for polygon in _by_winding(loops, "nonzero") if polygon.area > SLIVER] if loops else []


def _closed(loop: Floats) -> Floats | None:
    """Return the ring without straight-through points and spikes, closed, or None where nothing is enclosed."""
    if len(loop) < 3:
        return None
    if (loop[0] != loop[-1]).any():
        loop = np.concatenate((loop, loop[:1]))
    if _is_line(loop):
        return None
    return loop if len(loop) > 3 else None


def _is_line(loop: Floats) -> bool:
    """Whether all points lie on one line, within a hundredth of the grid."""
    away = loop - loop[0]
    far = away[np.argmax(np.abs(away).sum(axis=1))]
    length = float(np.hypot(*far))
    return length == 0 or float(np.abs(away @ np.array((-far[1], far[0]))).max()) / length < GRID / 100


def _valid(polygons: NDArray[Any]) -> bool:
    return bool(shapely.is_valid(polygons).all())


def _nest(polygons: NDArray[Any], loops: list[Floats], rule: Rule) -> list[Any] | None:
    """Return the polygons by the nesting of simple rings, or None where rings touch or cross."""
    if len(polygons) == 1:
        return [polygons[0]]
    areas = np.array([_signed_area(loop) for loop in loops])
    order = np.argsort(-np.abs(areas), kind="stable")
    polygons, signs = polygons[order], np.sign(areas[order])
    outer, inner = _containing(polygons)
    if outer is None or inner is None:
        return None
    depth = np.bincount(inner, minlength=len(polygons))
    winding = np.bincount(inner, weights=signs[outer], minlength=len(polygons)) if len(inner) else np.zeros(len(signs))
    if rule == "evenodd":
        outside, inside = depth % 2 == 1, depth % 2 == 0
    else:
        outside, inside = winding != 0, winding + signs != 0
    shells, holes = ~outside & inside, outside & ~inside
    parents: dict[int, list[Any]] = {int(index): [] for index in np.flatnonzero(shells)}
    for hole in np.flatnonzero(holes):
        around = outer[(inner == hole) & shells[outer]]
        parents[int(around.max())].append(shapely.get_exterior_ring(polygons[hole]))  # the smallest one around it
    return [
        shapely.Polygon(polygons[shell].exterior, within) if within else polygons[shell]
        for shell, within in parents.items()
    ]


def _containing(polygons: NDArray[Any]) -> tuple[NDArray[np.intp], NDArray[np.intp]] | tuple[None, None]:
    """Return pairs (outer, inner) of rings in each other, or Nones where two boundaries meet."""
    first, second = shapely.STRtree(polygons).query(polygons, predicate="intersects")
    one, two = first[first < second], second[first < second]
    if not shapely.contains_properly(polygons[one], polygons[two]).all():
        return None, None
    return one, two


def _signed_area(loop: Floats) -> float:
    x, y = loop[:, 0] - loop[0, 0], loop[:, 1] - loop[0, 1]
    return float(np.dot(x[:-1], y[1:]) - np.dot(x[1:], y[:-1])) / 2


def _by_winding(loops: list[Floats], rule: Rule) -> list[Any]:
    edges = np.concatenate([np.stack((loop[:-1], loop[1:]), axis=1) for loop in loops])
    _bound_work(edges)
    owner = np.repeat(np.arange(len(loops)), [len(loop) for loop in loops])
    noded = shapely.union_all(shapely.linestrings(np.concatenate(loops), indices=owner), grid_size=GRID)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(noded)))
    if not len(faces):
        return []
    winding = _winding(shapely.get_coordinates(shapely.point_on_surface(faces)), edges)
    kept = faces[winding != 0 if rule == "nonzero" else winding % 2 == 1]
    if len(kept) < 2:
        return list(kept)
    joined = shapely.get_parts(shapely.coverage_union_all(kept))
    return list(joined if _valid(joined) else shapely.get_parts(shapely.union_all(kept, grid_size=GRID)))


def _bound_work(edges: NDArray[np.float64]) -> None:
    """Refuse outlines with so many chords over each other that noding would not end; judged by a sample."""
    if len(edges) ** 2 / 2 <= _MOST_MEETINGS:
        return
    low, high = edges.min(axis=1), edges.max(axis=1)
    chosen = np.linspace(0, len(edges) - 1, _SAMPLE).astype(np.intp)
    (left, bottom), (right, top) = np.ascontiguousarray(low.T), np.ascontiguousarray(high.T)
    meeting = sum(
        int(np.count_nonzero((left <= right[one]) & (right >= left[one]) & (bottom <= top[one]) & (top >= bottom[one])))
        for one in chosen
    )
    if meeting / _SAMPLE * len(edges) / 2 > _MOST_MEETINGS:
        raise DrawingError(
            "an outline crosses itself too many times to be read", remedy="simplify or redraw the outline"
        )


def _winding(points: Floats, edges: NDArray[np.float64]) -> NDArray[np.intp]:
    """Return the winding number of the edges (n, 2, 2) round each point (m,), by a ray to the right."""
    right = edges[:, :, 0].max() + 1
    rays = shapely.linestrings(np.stack((points, np.column_stack((np.full(len(points), right), points[:, 1]))), axis=1))
    which, edge = shapely.STRtree(shapely.linestrings(edges)).query(rays)
    at, (begin, end) = points[which], edges[edge].transpose(1, 0, 2)
    up = (begin[:, 1] <= at[:, 1]) & (end[:, 1] > at[:, 1])
    down = (begin[:, 1] > at[:, 1]) & (end[:, 1] <= at[:, 1])
    side = (end[:, 0] - begin[:, 0]) * (at[:, 1] - begin[:, 1]) - (at[:, 0] - begin[:, 0]) * (end[:, 1] - begin[:, 1])
    turn = (up & (side > 0)).astype(np.intp) - (down & (side < 0)).astype(np.intp)
    return np.bincount(which, weights=turn, minlength=len(points)).astype(np.intp)
