"""Tangles to faces, and faces to areas with holes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.read.chain_graph import Chain, union
from inlayfit.units import Mm

GRID: Mm = 1e-6
"""Grid on which tangled lines are noded: fine enough to move nothing, coarse enough that GEOS loses no face."""

Points = NDArray[np.float64]
Area = tuple[shapely.Polygon, tuple[int, ...]]
"""A polygon, and the numbers of the lines that its outer edge is made of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """What nests: a loop with its one area, or a connected tangle with all its faces. `silhouette` is their union."""

    faces: tuple[Area, ...]
    silhouette: shapely.Geometry

    @classmethod
    def of_loop(cls, chain: Chain) -> Item:
        """Return the item of a simple loop."""
        polygon = shapely.Polygon(chain.points)
        return cls(faces=((polygon, chain.sources),), silhouette=polygon)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tail:
    """A line that encloses nothing: its two ends, those of them that are free, its length."""

    ends: tuple[Points, Points]
    free: tuple[Points, ...]
    length: Mm
    sources: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tangle:
    """A group of chains, taken apart: `doubled` is the length that was drawn more than once."""

    items: tuple[Item, ...]
    tails: tuple[Tail, ...]
    doubled: Mm
    at: tuple[Mm, Mm]

    @property
    def is_divided(self) -> bool:
        """Whether one connected part has more than one face."""
        return any(len(item.faces) > 1 for item in self.items)


def untangle(group: Sequence[Chain], join: Mm) -> Tangle:
    """Node the chains, take every enclosed face, and cut away what encloses nothing."""
    lines = [shapely.LineString(chain.points) for chain in group]
    noded = shapely.get_parts(shapely.line_merge(shapely.unary_union(lines, grid_size=GRID)))
    found, cuts, dangles, _ = (shapely.get_parts(part) for part in shapely.polygonize_full(noded))
    faces = _without_slivers(list(found), join)
    tails = _tails([*cuts, *dangles], noded, lines, group)
    spot = shapely.get_coordinates(lines[0])[0]
    return Tangle(
        items=tuple(_components(faces, lines, group)),
        tails=tuple(tails),
        doubled=float(sum(line.length for line in lines) - shapely.length(noded).sum()),
        at=(float(spot[0]), float(spot[1])),
    )


def _without_slivers(faces: list[shapely.Polygon], join: Mm) -> list[shapely.Polygon]:
    """Give each face that is nowhere wider than `join` to the neighbour with the longest common edge."""
    thin = [bool(face.area <= join * face.length and shapely.buffer(face, -join / 2).is_empty) for face in faces]
    if not any(thin) or all(thin):
        return faces
    kept = [face for face, is_thin in zip(faces, thin, strict=True) if not is_thin]
    for face, is_thin in zip(faces, thin, strict=True):
        if is_thin:
            shared = shapely.length(shapely.intersection([one.boundary for one in kept], face.boundary))
            best = int(np.argmax(shared))
            grown = shapely.union(kept[best], face, grid_size=GRID)
            if shared[best] > 0 and isinstance(grown, shapely.Polygon):
                kept[best] = grown
    return kept


def _components(
    faces: Sequence[shapely.Polygon], lines: Sequence[shapely.LineString], group: Sequence[Chain]
) -> list[Item]:
    """Return the parts that hang together by their edges; a hole that another part fills is left to the nesting."""
    if not faces:
        return []
    rings = [[face.exterior, *face.interiors] for face in faces]
    flat = [ring for own in rings for ring in own]
    first, second = shapely.STRtree(flat).query(flat, predicate="intersects")
    labels = iter(union(len(flat), list(zip(first, second, strict=True))))
    tree = shapely.STRtree(lines)
    parts: dict[int, list[Area]] = {}
    for face, own in zip(faces, rings, strict=True):
        part, *others = [next(labels) for _ in own]
        holes = [hole for hole, label in zip(own[1:], others, strict=True) if label == part]
        parts.setdefault(part, []).append((shapely.Polygon(own[0], holes), _sources(face, tree, group)))
    return [
        Item(faces=tuple(part), silhouette=shapely.unary_union([face for face, _ in part])) for part in parts.values()
    ]


def _sources(face: shapely.Polygon, tree: shapely.STRtree, group: Sequence[Chain]) -> tuple[int, ...]:
    corners = shapely.get_coordinates(face.exterior)
    middles = shapely.points((corners[:-1] + corners[1:]) / 2)
    _, nearest = tree.query_nearest(middles, all_matches=False)
    return tuple(sorted({source for index in set(nearest.tolist()) for source in group[index].sources}))


def _tails(
    loose: Sequence[shapely.LineString],
    noded: NDArray[np.object_],
    lines: Sequence[shapely.LineString],
    group: Sequence[Chain],
) -> list[Tail]:
    if not loose:
        return []
    ends = np.concatenate([shapely.get_coordinates(edge)[[0, -1]] for edge in noded])
    places, count = np.unique(ends, axis=0, return_counts=True)
    alone = {(float(x), float(y)) for x, y in places[count == 1]}
    tree = shapely.STRtree(lines)
    tails = []
    for line in loose:
        points = shapely.get_coordinates(line)
        free = tuple(point for point in points[[0, -1]] if (float(point[0]), float(point[1])) in alone)
        sources = group[int(tree.nearest(line.interpolate(0.5, normalized=True)))].sources
        attached_first = sorted(points[[0, -1]], key=lambda point: (float(point[0]), float(point[1])) in alone)
        tails.append(
            Tail(ends=(attached_first[0], attached_first[1]), free=free, length=float(line.length), sources=sources)
        )
    return tails


def nest(items: Sequence[Item], deepest: int | None = None) -> tuple[list[Area], list[tuple[Mm, Mm]]]:
    """Return the areas by even-odd, and a place for each divided tangle that became a single hole.

    Items that lie in more than `deepest` others count for nothing.
    """
    if not items:
        return [], []
    shapes = np.array([item.silhouette for item in items], dtype=object)
    spots = shapely.point_on_surface(np.array([item.faces[0][0] for item in items], dtype=object))
    sizes = shapely.area(shapes)
    inner, outer = shapely.STRtree(shapes).query(spots, predicate="within")
    inside = sizes[outer] > sizes[inner]
    inner, outer = inner[inside], outer[inside]
    depth = np.bincount(inner, minlength=len(items))
    counts = depth <= (len(items) if deepest is None else deepest)
    holes: dict[int, list[int]] = {}
    for hole in np.flatnonzero(counts & (depth % 2 == 1)):
        around = outer[inner == hole]
        holes.setdefault(int(around[np.argmin(sizes[around])]), []).append(int(hole))
    areas = [
        area
        for number in np.flatnonzero(counts & (depth % 2 == 0))
        for area in _pierced(items[number], [(shapes[hole], spots[hole]) for hole in holes.get(int(number), [])])
    ]
    lost = [
        items[hole].faces[0][0].exterior.coords[0] for hole in np.flatnonzero(depth % 2) if len(items[hole].faces) > 1
    ]
    return areas, [(float(x), float(y)) for x, y in lost]


def _pierced(item: Item, holes: Sequence[tuple[shapely.Geometry, shapely.Point]]) -> list[Area]:
    """Return the faces of an item without the holes, each hole taken from the face that it lies in."""
    pierced = []
    for face, sources in item.faces:
        own = [shape for shape, spot in holes if len(item.faces) == 1 or face.contains(spot)]
        parts = [face] if not own else shapely.get_parts(_minus(face, own))
        pierced.extend((part, sources) for part in parts if isinstance(part, shapely.Polygon) and part.area > 0)
    return pierced


def _minus(face: shapely.Polygon, holes: Sequence[shapely.Geometry]) -> shapely.Geometry:
    """Take holes that lie inside from a face: as rings where that is valid, which moves no point, else by overlay."""
    if all(isinstance(hole, shapely.Polygon) and not hole.interiors for hole in holes):
        direct = shapely.Polygon(face.exterior, [*face.interiors, *(hole.exterior for hole in holes)])
        if direct.is_valid:
            return direct
    return shapely.difference(face, shapely.unary_union(list(holes)), grid_size=GRID)
