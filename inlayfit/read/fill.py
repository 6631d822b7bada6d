"""Outlines and their fill rules to polygons, all outlines of a drawing together.

Rings that are simple and properly nested are nested as they are, which most are; all others are swept.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.read.chords import Ints
from inlayfit.read.flatten import Loops
from inlayfit.read.outline import Floats
from inlayfit.read.sweep import GRID, SLIVER, Rule, Sweep, near_pairs, signed_areas, swept

Filled = tuple[list[Any], bool]
"""The polygons of one outline, and whether an outline that crosses or touches itself was repaired."""


def fill(loops: Loops, rules: Sequence[Rule], names: Sequence[str]) -> list[Filled]:
    """Return what a fill paints of each outline; `names` are for errors."""
    found: list[Filled] = [([], False) for _ in rules]
    loops, areas = _enclosing(loops)
    if not len(loops.owner):
        return found
    owner = loops.owner
    counts = loops.begins[1:] - loops.begins[:-1]
    ringed = shapely.linearrings(loops.points, indices=np.arange(len(owner)).repeat(counts))
    polygons = shapely.polygons(ringed)
    crossed = np.zeros(len(rules), dtype=np.bool_)
    crossed[owner[~shapely.is_valid(polygons)]] = True
    several = np.bincount(owner, minlength=len(rules)) > 1
    for ring in np.flatnonzero(~crossed[owner] & ~several[owner] & (np.abs(areas) > SLIVER)):
        found[owner[ring]] = ([polygons[ring]], False)
    nested = np.flatnonzero(~crossed[owner] & several[owner])
    touching = np.zeros(len(rules), dtype=np.bool_)
    if len(nested):
        nested = nested[np.lexsort((-np.abs(areas[nested]), owner[nested]))]
        evenodd = np.array([rule == "evenodd" for rule in rules])[owner[nested]]
        parts, of, meeting = _nest(polygons[nested], ringed[nested], np.sign(areas[nested]), owner[nested], evenodd)
        touching[meeting] = True
        for part, number in zip(parts, of, strict=True):
            if not touching[number]:
                found[number][0].append(part)
    spoilt = (crossed | touching).nonzero()[0].tolist()
    sweeps = [Sweep(rings=loops.of(number), rule=rules[number], name=names[number]) for number in spoilt]
    for number, parts in zip(spoilt, swept(sweeps, touching=True), strict=True):
        found[number] = (parts, bool(crossed[number]))
    return found


def _enclosing(loops: Loops) -> tuple[Loops, Floats]:
    """Return the rings that enclose something, and their areas (k,), ccw positive."""
    counts = np.diff(loops.begins)
    areas = signed_areas(loops.points, loops.begins) if len(counts) else np.empty(0)
    kept = counts > 2
    starts = loops.begins[:-1]
    if len(counts):
        extent = np.maximum.reduceat(loops.points, starts) - np.minimum.reduceat(loops.points, starts)
        for ring in np.flatnonzero(kept & (np.abs(areas) <= extent.sum(axis=1) * GRID)):
            kept[ring] = not _is_line(loops.points[loops.begins[ring] : loops.begins[ring + 1]])
    if kept.all():
        return loops, areas
    return Loops(
        loops.points[np.repeat(kept, counts)], np.append(0, np.cumsum(counts[kept])), loops.owner[kept]
    ), areas[kept]


def _is_line(loop: Floats) -> bool:
    """Whether all points lie on one line, within a hundredth of the grid."""
    away = loop - loop[0]
    far = away[np.argmax(np.abs(away).sum(axis=1))]
    length = float(np.hypot(*far))
    return length == 0 or float(np.abs(away @ np.array((-far[1], far[0]))).max()) / length < GRID / 100


def _nest(
    polygons: NDArray[Any], ringed: NDArray[Any], signs: Floats, owner: Ints, evenodd: NDArray[np.bool_]
) -> tuple[list[Any], list[int], Ints]:
    """Return the polygons by the nesting of simple rings, their owners, and the owners of which rings touch or cross.

    The rings stand by owner, and each owner's by size, the largest first.
    """
    one, two, meeting = _containing(polygons, owner)
    depth = np.bincount(two, minlength=len(polygons))
    winding = np.bincount(two, weights=signs[one], minlength=len(polygons))
    outside = np.where(evenodd, depth % 2 == 1, winding != 0)
    inside = np.where(evenodd, depth % 2 == 0, winding + signs != 0)
    shells, holes = ~outside & inside, outside & ~inside
    parent = np.arange(len(polygons))
    parent[holes] = -1
    around = holes[two] & shells[one]
    np.maximum.at(parent, two[around], one[around])  # the smallest one around it
    pierced = np.zeros(len(polygons), dtype=np.bool_)
    pierced[parent[holes & (parent >= 0)]] = True
    chosen = np.flatnonzero((shells | (holes & (parent >= 0))) & pierced[parent])
    chosen = chosen[np.lexsort((holes[chosen], parent[chosen]))]
    result = polygons.copy()
    if len(chosen):
        whose, which = np.unique(parent[chosen], return_inverse=True)
        result[whose] = shapely.polygons(ringed[chosen], indices=which)
    kept = np.flatnonzero(shells)
    kept = kept[shapely.area(result[kept]) > SLIVER]
    return result[kept].tolist(), owner[kept].tolist(), meeting


def _containing(polygons: NDArray[Any], owner: Ints) -> tuple[Ints, Ints, Ints]:
    """Return pairs (outer, inner) of rings of one owner in each other, and the owners of which two boundaries meet."""
    bounds = shapely.bounds(polygons)
    one, two = near_pairs(bounds, owner)
    outer, inner = bounds[one], bounds[two]
    within = (outer[:, :2] <= inner[:, :2]).all(axis=1) & (outer[:, 2:] >= inner[:, 2:]).all(axis=1)
    contained = np.zeros(len(one), dtype=np.bool_)
    if within.any():
        shapely.prepare(polygons[one[within]])
        contained[within] = shapely.contains_properly(polygons[one[within]], polygons[two[within]])
    rest = np.flatnonzero(~contained)
    meets = rest[shapely.intersects(polygons[one[rest]], polygons[two[rest]])] if len(rest) else rest
    return one[contained], two[contained], np.unique(owner[one[meets]])
