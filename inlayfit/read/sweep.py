"""Rings that cross or touch, and a rule, to polygons.

Clipper2 (through manifold3d) sweeps them in integers, ten times as fast as GEOS nodes them. It leaves apart what lies a
hundred-millionth of a millimetre apart and lets rings touch themselves, so its answer counts only where that cannot be:
all else is noded by GEOS on a grid, cut into faces, and each face is kept by its winding number. Without the grid that
noding loses whole shapes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import numpy as np
import shapely
from manifold3d import CrossSection, FillRule
from numpy.typing import NDArray

from inlayfit.errors import DrawingError
from inlayfit.read.chords import Ints, Points
from inlayfit.read.flatten import as_points, cross
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
_MANY = 64  # things of one owner: beyond, a tree finds those that are near each other faster than all pairs


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sweep:
    """Rings (n, 2), closed or not, that enclose something together by a rule; `name` is for errors."""

    rings: Sequence[Floats]
    rule: Rule
    name: str


def swept(sweeps: Sequence[Sweep], *, touching: bool) -> list[list[Any]]:
    """Return the polygons that each sweep encloses.

    `touching` tells that the rings may touch at edges and corners without crossing, as those of a drawing do: then all
    parts of the answer must be clear of each other by two steps of the grid.

    Raises:
        DrawingError: so many crossings that it would take minutes.
    """
    if not sweeps:
        return []
    for one in sweeps:
        _bound_work(one)
    polygons, owner = _clipped(sweeps)
    clean = _clean(polygons, owner, len(sweeps), touching=touching)
    found: list[list[Any]] = [[] for _ in sweeps]
    kept = clean[owner] & (shapely.area(polygons) > SLIVER)
    for number, polygon in zip(owner[kept].tolist(), polygons[kept].tolist(), strict=True):
        found[number].append(polygon)
    for number in (~clean).nonzero()[0].tolist():
        found[number] = [polygon for polygon in _by_winding(sweeps[number]) if polygon.area > SLIVER]
    return found


def signed_areas(points: Floats, begins: Ints) -> Floats:
    """Return the areas (k,) of rings, whose points (m, 2) stand one after another, ccw positive.

    `begins` (k + 1,) tells where each ring begins; none is empty.
    """
    starts, corners = begins[:-1], as_points(points)
    away = corners - corners[starts].repeat(begins[1:] - starts)
    following = np.empty_like(away)
    following[:-1] = away[1:]
    following[begins[1:] - 1] = 0.0  # where each ring began
    return np.asarray(np.add.reduceat(cross(away, following), starts) / 2)


def areas_of(rings: Sequence[Floats]) -> Floats:
    """Return the areas (k,) of rings, ccw positive."""
    return signed_areas(np.concatenate(rings), np.cumsum([0, *map(len, rings)]))


_Dusted = tuple[Floats, Ints, Ints, NDArray[np.bool_]]
"""Rings as points and where each begins, their owners, and which are to be looked at again."""


def _clipped(sweeps: Sequence[Sweep]) -> tuple[NDArray[Any], Ints]:
    """Return the polygons (n,) as Clipper2 finds them, and which sweep each of them belongs to."""
    loops = [CrossSection(list(one.rings), _RULES[one.rule]).to_polygons()[::-1] for one in sweeps]  # lowest first
    rings = [ring for own in loops for ring in own]
    owner = np.arange(len(loops)).repeat([*map(len, loops)])
    points, begins = np.concatenate((np.empty((0, 2)), *rings)), np.cumsum([0, *map(len, rings)])
    live = np.ones(len(owner), dtype=np.bool_)
    while live.any():
        points, begins, owner, live = _without_dust(points, begins, owner, live)
    if not len(points):
        return np.empty(0, dtype=object), owner[:0]
    areas = signed_areas(points, begins)
    drawn = shapely.linearrings(points, indices=np.arange(len(areas)).repeat(begins[1:] - begins[:-1]))
    shells, holes = (areas > 0).nonzero()[0], (areas <= 0).nonzero()[0]
    holes, around = _around(drawn, areas, owner, shells, holes)
    of = np.concatenate((np.arange(len(shells)), around))
    order = of.argsort(kind="stable")
    return shapely.polygons(drawn[np.concatenate((shells, holes))[order]], indices=of[order]), owner[shells]


def _around(drawn: NDArray[Any], areas: Floats, owner: Ints, shells: Ints, holes: Ints) -> tuple[Ints, Ints]:
    """Return the holes that have a shell of their owner, and which of the shells is the smallest one round each."""
    first = np.searchsorted(owner[shells], owner[holes])
    several = np.searchsorted(owner[shells], owner[holes], side="right") - first
    holes, first, several = holes[several > 0], first[several > 0], several[several > 0]
    doubtful = (several > 1).nonzero()[0]
    if len(doubtful):
        inner, outer = shapely.polygons(drawn[holes[doubtful]]), shapely.polygons(drawn[shells])
        hole, shell = shapely.STRtree(outer).query(inner)
        own = owner[holes[doubtful[hole]]] == owner[shells[shell]]
        hole, shell = hole[own], shell[own]
        covered = shapely.covered_by(inner[hole], outer[shell])
        hole, shell = hole[covered], shell[covered]
        largest_first = np.argsort(-areas[shells[shell]], kind="stable")
        first[doubtful[hole[largest_first]]] = shell[largest_first]
    return holes, first


def _without_dust(points: Floats, begins: Ints, owner: Ints, live: NDArray[np.bool_]) -> _Dusted:
    """Return rings without spikes and the corners that repeat the one before or lie on the line between neighbours.

    All but for dust. Of several on a line side by side the first one goes: all of them may be a curve. Rings that are
    hairs go as a whole. The rings stand one after another; with each goes its owner (k,). Only those that are `live`
    (k,) are looked at: all rings of an owner are to be looked at again where one of them had a spike.
    """
    firsts, lasts, counts = begins[:-1], begins[1:] - 1, begins[1:] - begins[:-1]
    corners = as_points(points)
    ahead = np.empty_like(corners)
    np.subtract(corners[1:], corners[:-1], out=ahead[:-1])
    ahead[lasts] = corners[firsts] - corners[lasts]
    length, behind = np.abs(ahead), _before(ahead, firsts, lasts)
    bend, seen = behind.conj() * ahead, live.repeat(counts)
    aside = np.abs(bend.imag)
    flat = seen & (aside <= _DUST * np.abs(behind + ahead))
    spike = seen & (bend.real < 0) & (aside <= _DUST * np.maximum(length, _before(length, firsts, lasts)))
    wide = ~live | (np.abs(signed_areas(points, begins)) > _DUST * np.add.reduceat(length, firsts))
    if wide.all() and not flat.any() and not spike.any():
        return points, begins, owner, np.zeros_like(live)
    short = seen & (length <= _DUST)
    kept = ~spike & ~_before(short, firsts, lasts) & (~flat | short | _before(flat, firsts, lasts))
    left = np.add.reduceat(kept, firsts, dtype=np.intp)
    wide &= left > 2
    kept &= wide.repeat(counts)
    spiked = np.zeros(owner[-1] + 1, dtype=np.bool_)
    spiked[owner[np.logical_or.reduceat(spike, firsts)]] = True
    owner = owner[wide]
    return points.compress(kept, axis=0), np.append(0, left[wide].cumsum()), owner, spiked[owner]


def _before(values: NDArray[Any], firsts: Ints, lasts: Ints) -> NDArray[Any]:
    """Return, for each corner of rings, the value (n,) of the one before it."""
    found = np.empty_like(values)
    found[1:] = values[:-1]
    found[firsts] = values[lasts]
    return found


def _clean(polygons: NDArray[Any], owner: Ints, count: int, *, touching: bool) -> NDArray[np.bool_]:
    """Return which of so many sweeps (k,) led to something that can be taken as it is.

    Its polygons (n,) are valid, without hairs, and far enough from each other that no grid would join them.
    """
    clean = np.bincount(owner, minlength=count) > 0
    clean[owner[~shapely.is_valid(polygons)]] = False
    if touching:
        begins = np.searchsorted(owner, np.arange(count + 1))
        for number in clean.nonzero()[0].tolist():
            clean[number] = is_clear(polygons[begins[number] : begins[number + 1]], 2 * GRID)
        return clean
    rings, of = shapely.get_rings(polygons, return_index=True)
    areas = shapely.polygons(rings)
    clean[owner[of[shapely.area(areas) < 2 * GRID * shapely.length(rings)]]] = False
    first, second = near_pairs(shapely.bounds(polygons) + GRID * np.array((-1.0, -1.0, 1.0, 1.0)), owner)
    shapely.prepare(polygons[first])
    clean[owner[first[shapely.dwithin(polygons[first], polygons[second], 2 * GRID)]]] = False
    return clean


def near_pairs(bounds: Floats, owner: Ints) -> tuple[Ints, Ints]:
    """Return pairs, in order, of things of the same owner, which stand together, whose boxes (n, 4) meet."""
    begins = (owner != np.concatenate(((-1,), owner[:-1]))).nonzero()[0]
    firsts, seconds = [np.empty(0, dtype=np.intp)], [np.empty(0, dtype=np.intp)]
    for begin, end in zip(begins.tolist(), [*begins[1:].tolist(), len(owner)], strict=True):
        if end - begin > _MANY:
            one, two = shapely.STRtree(shapely.box(*bounds[begin:end].T)).query(shapely.box(*bounds[begin:end].T))
            one, two = one[one < two], two[one < two]
        elif end - begin > 1:
            one, two = _all_pairs(end - begin)
        else:
            continue
        firsts.append(one + begin)
        seconds.append(two + begin)
    first, second = np.concatenate(firsts), np.concatenate(seconds)
    a, b = bounds[first], bounds[second]
    meet = (a[:, :2] <= b[:, 2:]).all(axis=1) & (b[:, :2] <= a[:, 2:]).all(axis=1)
    return first[meet], second[meet]


@lru_cache(maxsize=_MANY)
def _all_pairs(count: int) -> tuple[Ints, Ints]:
    first, second = np.triu_indices(count, 1)
    return first, second


def is_clear(polygons: Sequence[Any] | NDArray[Any], distance: float) -> bool:
    """Whether no corner comes as near to an edge, ends that are the same point aside, as `minimum_clearance` tells.

    It asks only for pairs whose boxes meet, which a sort along x finds: most chords are short.
    """
    points, ring = shapely.get_coordinates(shapely.get_rings(polygons), return_index=True)
    ends = as_points(points)
    edge = ((ring[1:] == ring[:-1]) & (ends[1:] != ends[:-1])).nonzero()[0]
    begin, end = ends[edge], ends[edge + 1]
    corners = np.sort(begin)  # by x; each one once: rings repeat their start at the end
    left = np.searchsorted(corners.real, np.minimum(begin.real, end.real) - distance)
    counts = np.searchsorted(corners.real, np.maximum(begin.real, end.real) + distance, side="right") - left
    if counts.sum() > _MOST_PAIRS * len(edge):
        return bool(shapely.minimum_clearance(shapely.multipolygons(polygons)) > distance)
    low, high = np.minimum(begin.imag, end.imag) - distance, np.maximum(begin.imag, end.imag) + distance
    corner = np.arange(counts.sum()) + (left - (counts.cumsum() - counts)).repeat(counts)
    up = corners.imag[corner]
    near = ((up >= low.repeat(counts)) & (up <= high.repeat(counts))).nonzero()[0]
    of, at = np.arange(len(edge)).repeat(counts)[near], corners[corner[near]]
    apart = ((at != begin[of]) & (at != end[of])).nonzero()[0]
    of, at = of[apart], at[apart]
    away, along = at - begin[of], end[of] - begin[of]
    t = ((away.conj() * along).real / np.square(np.abs(along))).clip(0.0, 1.0)
    return not (np.abs(away - t * along) <= distance).any()


def _by_winding(sweep: Sweep) -> list[Any]:
    loops = [ring if (ring[0] == ring[-1]).all() else np.concatenate((ring, ring[:1])) for ring in sweep.rings]
    edges = np.concatenate([np.stack((ends[:-1], ends[1:])) for ends in map(as_points, loops)], axis=1)
    owner = np.repeat(np.arange(len(loops)), [len(loop) for loop in loops])
    noded = shapely.union_all(shapely.linestrings(np.concatenate(loops), indices=owner), grid_size=GRID)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(noded)))
    if not len(faces):
        return []
    winding = _winding(as_points(shapely.get_coordinates(shapely.point_on_surface(faces))), edges)
    kept = faces[winding != 0 if sweep.rule == "nonzero" else winding % 2 == 1]
    if len(kept) < 2:
        return list(kept)
    joined = shapely.get_parts(shapely.coverage_union_all(kept))
    if not shapely.is_valid(joined).all():
        joined = shapely.get_parts(shapely.union_all(kept, grid_size=GRID))
    return list(joined)


def _bound_work(sweep: Sweep) -> None:
    """Refuse outlines with so many chords over each other that noding would not end; judged by a sample."""
    count = sum(map(len, sweep.rings))
    if count**2 / 2 <= _MOST_MEETINGS:
        return
    points = np.concatenate(sweep.rings)
    ends = np.cumsum([len(ring) for ring in sweep.rings])
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
            "an outline crosses itself too many times to be read",
            where=sweep.name,
            remedy="simplify or redraw the outline",
        )


def _winding(points: Points, edges: Points) -> Ints:
    """Return the winding number of the edges (2, n) round each point (m,), by a ray to the right."""
    order = points.imag.argsort()
    begin, end = edges
    first, last = np.searchsorted(points.imag[order], np.sort(edges.imag, axis=0))
    counts = last - first  # of the points that are as high as an edge, its upper end not counted
    edge = np.arange(len(begin)).repeat(counts)
    which = order[np.arange(len(edge)) + (first - (counts.cumsum() - counts))[edge]]
    along, away = (end - begin)[edge], points[which] - begin[edge]
    side = cross(along, away)
    turn = (side > 0) & (along.imag > 0), (side < 0) & (along.imag < 0)
    return np.bincount(which, weights=turn[0].astype(np.intp) - turn[1], minlength=len(points)).astype(np.intp)
