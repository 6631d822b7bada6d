"""Rings that cross or touch, and a rule, to polygons.

Clipper2 (through manifold3d) sweeps them in integers, ten times as fast as GEOS nodes them. It leaves apart what lies a
hundred-millionth of a millimetre apart and lets rings touch themselves, so its answer counts only where that cannot be:
all else is noded by GEOS on a grid, cut into faces, and each face is kept by its winding number. Without the grid that
noding loses whole shapes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

import numpy as np
import shapely
from manifold3d import CrossSection, FillRule
from numpy.typing import NDArray

from inlayfit.errors import DrawingError
from inlayfit.read.outline import Floats

Rule = Literal["nonzero", "evenodd"]

GRID = 1e-6
"""Grid for noding, mm: a nanometre."""

SLIVER = 1e-9
"""Smaller areas, mm2, are numeric dust."""

_RULES = {"nonzero": FillRule.NonZero, "evenodd": FillRule.EvenOdd}
_DUST = GRID / 10  # spikes and steps of the sweep's rounding, a tenth of the grid, go
_MOST_MEETINGS = 2_000_000  # pairs of chords whose boxes meet: beyond, noding takes more than seconds
_MOST_PAIRS = 200  # corners abreast of an edge, on the average: beyond, a tree finds the near ones faster
_SAMPLE = 24


def swept(rings: Sequence[Floats], rule: Rule, name: str, *, touching: bool) -> list[Any]:
    """Return the polygons that rings (n, 2), closed or not, enclose by the rule.

    `touching` tells that the rings may touch at edges and corners without crossing, as those of a drawing do: then all
    parts of the answer must be clear of each other by two steps of the grid.

    Raises:
        DrawingError: so many crossings that it would take minutes; its place is `name`.
    """
    _bound_work(rings, name)
    polygons = _clipped(rings, rule)
    if not _is_clean(polygons, touching=touching):
        polygons = _by_winding(rings, rule)
    return [polygon for polygon, area in zip(polygons, shapely.area(polygons), strict=True) if area > SLIVER]


def signed_areas(points: Floats, begins: NDArray[np.intp]) -> Floats:
    """Return the areas (k,) of rings, whose points (m, 2) stand one after another, ccw positive.

    `begins` (k + 1,) tells where each ring begins; none is empty.
    """
    starts = begins[:-1]
    away = points - np.repeat(points[starts], np.diff(begins), axis=0)
    following = np.empty_like(away)
    following[:-1] = away[1:]
    following[begins[1:] - 1] = 0.0  # where each ring began
    return np.asarray(np.add.reduceat(away[:, 0] * following[:, 1] - following[:, 0] * away[:, 1], starts) / 2)


def areas_of(rings: Sequence[Floats]) -> Floats:
    """Return the areas (k,) of rings, ccw positive."""
    return signed_areas(np.concatenate(rings), np.cumsum([0, *map(len, rings)]))


def _clipped(rings: Sequence[Floats], rule: Rule) -> list[Any]:
    loops = CrossSection(list(rings), _RULES[rule]).to_polygons()[::-1]  # lowest first
    if not loops:
        return []
    points, begins = _without_dust(np.concatenate(loops), np.cumsum([0, *map(len, loops)]))
    if not len(points):
        return []
    areas = signed_areas(points, begins)
    drawn = shapely.linearrings(points, indices=np.repeat(np.arange(len(areas)), np.diff(begins)))
    shells, holes = np.flatnonzero(areas > 0), np.flatnonzero(areas <= 0)
    owner = np.concatenate((np.arange(len(shells)), _around(drawn[shells], areas[shells], drawn[holes])))
    order = np.argsort(owner, kind="stable")
    return list(shapely.polygons(drawn[np.concatenate((shells, holes))[order]], indices=owner[order]))


def _around(shells: NDArray[Any], areas: Floats, holes: NDArray[Any]) -> NDArray[np.intp]:
    """Return the number of the smallest shell round each hole, of areas (n,) of the shells; all are rings."""
    around = np.zeros(len(holes), dtype=np.intp)
    if len(holes) and len(shells) > 1:
        hole, shell = shapely.STRtree(shapely.polygons(shells)).query(shapely.polygons(holes), predicate="covered_by")
        largest_first = np.argsort(-areas[shell], kind="stable")
        around[hole[largest_first]] = shell[largest_first]
    return around


def _without_dust(points: Floats, begins: NDArray[np.intp]) -> tuple[Floats, NDArray[np.intp]]:
    """Return rings without spikes and the corners that repeat the one before or lie on the line between neighbours.

    All but for dust. Of several on a line side by side the first one goes: all of them may be a curve. Rings that are
    hairs go as a whole.
    """
    firsts, lasts = begins[:-1], begins[1:] - 1
    corners = points.view(np.complex128)[:, 0]
    ahead = np.empty_like(corners)
    np.subtract(corners[1:], corners[:-1], out=ahead[:-1])
    ahead[lasts] = corners[firsts] - corners[lasts]
    length, behind = np.abs(ahead), _before(ahead, firsts, lasts)
    bend = behind.conj() * ahead
    aside = np.abs(bend.imag)
    flat = aside <= _DUST * np.abs(behind + ahead)
    spike = (bend.real < 0) & (aside <= _DUST * np.maximum(length, _before(length, firsts, lasts)))
    wide = np.abs(signed_areas(points, begins)) > _DUST * np.add.reduceat(length, firsts)
    if wide.all() and not flat.any() and not spike.any():
        return points, begins
    short = length <= _DUST
    kept = ~spike & ~_before(short, firsts, lasts) & (~flat | short | _before(flat, firsts, lasts))
    counts = np.add.reduceat(kept, firsts, dtype=np.intp)
    wide &= counts > 2
    kept &= np.repeat(wide, np.diff(begins))
    left = points.compress(kept, axis=0), np.append(0, np.cumsum(counts[wide]))
    return _without_dust(*left) if spike.any() and len(left[0]) else left


def _before(values: NDArray[Any], firsts: NDArray[np.intp], lasts: NDArray[np.intp]) -> NDArray[Any]:
    """Return, for each corner of rings, the value (n,) of the one before it."""
    found = np.empty_like(values)
    found[1:] = values[:-1]
    found[firsts] = values[lasts]
    return found


def _is_clean(polygons: list[Any], *, touching: bool) -> bool:
    """Whether polygons are valid, without hairs, and far enough from each other that no grid would join them."""
    if not polygons or not shapely.is_valid(polygons).all():
        return False
    if touching:
        return is_clear(polygons, 2 * GRID)
    rings = shapely.polygons(shapely.get_rings(polygons)) if any(one.interiors for one in polygons) else polygons
    if (shapely.area(rings) < 2 * GRID * shapely.length(rings)).any():
        return False
    if len(polygons) == 1:
        return True
    first, _second = shapely.STRtree(polygons).query(polygons, predicate="dwithin", distance=2 * GRID)
    return len(first) == len(polygons)


def is_clear(polygons: list[Any], distance: float) -> bool:
    """Whether no corner comes as near to an edge, ends that are the same point aside, as `minimum_clearance` tells.

    It asks only for pairs whose boxes meet, which a sort along x finds: most chords are short.
    """
    points, ring = shapely.get_coordinates(shapely.get_rings(polygons), return_index=True)
    edge = np.flatnonzero((ring[1:] == ring[:-1]) & (points[1:] != points[:-1]).any(axis=1))
    ends = np.stack((points[edge], points[edge + 1]))
    low, high = ends.min(axis=0) - distance, ends.max(axis=0) + distance
    corners = points[edge]  # each one once: rings repeat their start at the end
    corners = corners[np.argsort(corners[:, 0])]
    begins = np.searchsorted(corners[:, 0], low[:, 0])
    counts = np.searchsorted(corners[:, 0], high[:, 0], side="right") - begins
    if counts.sum() > _MOST_PAIRS * len(edge):
        return bool(shapely.minimum_clearance(shapely.MultiPolygon(polygons)) > distance)
    of = np.repeat(np.arange(len(edge)), counts)
    corner = np.arange(len(of)) + np.repeat(begins - (np.cumsum(counts) - counts), counts)
    up = corners[corner, 1]
    near = np.flatnonzero((up >= low[of, 1]) & (up <= high[of, 1]))
    at, (begin, end) = corners[corner[near]], ends[:, of[near]]
    apart = (at != begin).any(axis=1) & (at != end).any(axis=1)
    away, along = (at - begin)[apart], (end - begin)[apart]
    t = np.clip(np.einsum("ij,ij->i", away, along) / np.einsum("ij,ij->i", along, along), 0.0, 1.0)
    return not (np.hypot(*(away - t[:, None] * along).T) <= distance).any()


def _by_winding(rings: Sequence[Floats], rule: Rule) -> list[Any]:
    loops = [ring if (ring[0] == ring[-1]).all() else np.concatenate((ring, ring[:1])) for ring in rings]
    edges = np.concatenate([np.stack((loop[:-1], loop[1:]), axis=1) for loop in loops])
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
    if not shapely.is_valid(joined).all():
        joined = shapely.get_parts(shapely.union_all(kept, grid_size=GRID))
    return list(joined)


def _bound_work(rings: Sequence[Floats], name: str) -> None:
    """Refuse outlines with so many chords over each other that noding would not end; judged by a sample."""
    count = sum(map(len, rings))
    if count**2 / 2 <= _MOST_MEETINGS:
        return
    points = np.concatenate(rings)
    ends = np.cumsum([len(ring) for ring in rings])
    following = np.arange(1, count + 1)
    following[ends - 1] = np.append(0, ends[:-1])
    begin, end = points.T.copy(), points[following].T.copy()
    (left, bottom), (right, top) = np.minimum(begin, end), np.maximum(begin, end)
    chosen = np.linspace(0, count - 1, _SAMPLE).astype(np.intp)
    meeting = sum(
        int(np.count_nonzero((left <= right[one]) & (right >= left[one]) & (bottom <= top[one]) & (top >= bottom[one])))
        for one in chosen
    )
    if meeting / _SAMPLE * count / 2 > _MOST_MEETINGS:
        raise DrawingError(
            "an outline crosses itself too many times to be read", where=name, remedy="simplify or redraw the outline"
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
