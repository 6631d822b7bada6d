"""Tangles to faces, and faces to areas with holes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.errors import DrawingError
from inlayfit.read.chain_graph import Chain, length, union
from inlayfit.units import Mm

GRID: Mm = 1e-6
"""Grid on which tangled lines are noded: fine enough to move nothing, coarse enough that GEOS loses no face."""

MOST_CROSSINGS = 50_000
"""Places where the lines of a tangle may meet: noding them takes seconds, and no outline needs as many."""
MOST_SEGMENTS = 300_000
"""Straight pieces of a tangle, for the same reason."""

_PORTION = 32  # lines that are asked about at a time: each may meet all others

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

    @classmethod
    def of_chain(cls, chain: Chain) -> Tail:
        """Return the tail of an open chain that meets nothing."""
        ends = (chain.points[0], chain.points[-1])
        return cls(ends=ends, free=ends, length=length(chain.points), sources=chain.sources)


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
    """Node the chains, take every enclosed face, and cut away what encloses nothing.

    Raises:
        DrawingError: the chains have over `MOST_SEGMENTS` pieces or meet in more than `MOST_CROSSINGS` places.
    """
    lines = [shapely.LineString(chain.points) for chain in group]
    segments = np.concatenate([np.stack([chain.points[:-1], chain.points[1:]], axis=1) for chain in group])
    if len(segments) > MOST_SEGMENTS:
        raise DrawingError(
            f"lines that cross or touch have more than {MOST_SEGMENTS:,} points",
            remedy="simplify them in the drawing, or save only what is to be cut",
        )
    meetings(shapely.linestrings(segments), spare=2 * len(segments))
    noded = shapely.get_parts(shapely.line_merge(shapely.unary_union(lines, grid_size=GRID)))
    found, cuts, dangles, _ = (shapely.get_parts(part) for part in shapely.polygonize_full(noded))
    faces = _without_slivers(found, join)
    tails = _tails([*cuts, *dangles], noded, lines, group)
    spot = shapely.get_coordinates(lines[0])[0]
    return Tangle(
        items=tuple(_components(faces, lines, group)),
        tails=tuple(tails),
        doubled=float(sum(line.length for line in lines) - shapely.length(noded).sum()),
        at=(float(spot[0]), float(spot[1])),
    )


def meetings(lines: NDArray[np.object_], spare: int = 0) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the index pairs i < j of lines that meet.

    They are sought in portions, so that the work stops soon after there are too many.

    Raises:
        DrawingError: there are more than `MOST_CROSSINGS` and `spare`.
    """
    tree = shapely.STRtree(lines)
    found: list[NDArray[np.int64]] = [np.empty((2, 0), dtype=np.int64)]
    count = 0
    for start in range(0, len(lines), _PORTION):
        pairs = tree.query(lines[start : start + _PORTION], predicate="intersects")
        pairs[0] += start
        found.append(pairs[:, pairs[0] < pairs[1]])
        count += found[-1].shape[1]
        if count > MOST_CROSSINGS + spare:
            raise DrawingError(
                f"its lines meet each other in more than {MOST_CROSSINGS:,} places",
                remedy="leave out hatching and construction lines, and save only what is to be cut",
            )
    first, second = np.concatenate(found, axis=1)
    return first, second


def _without_slivers(faces: NDArray[np.object_], join: Mm) -> list[shapely.Polygon]:
    """Give each face that is nowhere wider than `join` to the neighbour with the longest common edge."""
    thin = shapely.area(faces) <= join * shapely.length(faces)
    thin[thin] = shapely.is_empty(shapely.buffer(faces[thin], -join / 2))
    if not thin.any():
        return list(faces)
    best: dict[int, tuple[tuple[bool, float], int]] = {}
    for one, other, shared in zip(*_common_edges(faces), strict=True):
        for face, neighbour in ((int(one), int(other)), (int(other), int(one))):
            if thin[face]:
                best[face] = max(best.get(face, ((False, 0.0), face)), ((not thin[neighbour], shared), neighbour))
    groups: dict[int, list[int]] = {}
    for face, label in enumerate(union(len(faces), [(face, neighbour) for face, (_, neighbour) in best.items()])):
        groups.setdefault(label, []).append(face)
    whole = [
        faces[group[0]] if len(group) == 1 else shapely.unary_union(faces[group], grid_size=GRID)
        for group in groups.values()
    ]
    return [part for part in shapely.get_parts(whole) if isinstance(part, shapely.Polygon)]


def _common_edges(faces: NDArray[np.object_]) -> tuple[NDArray[np.int64], NDArray[np.int64], Points]:
    """Return the pairs of faces that share edges, and the length of those; faces of one noding share them exactly."""
    rings, owners = shapely.get_rings(faces, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    inside = ring[:-1] == ring[1:]
    start, end, owner = points[:-1][inside], points[1:][inside], owners[ring[:-1][inside]]
    swap = (start[:, 0] > end[:, 0]) | ((start[:, 0] == end[:, 0]) & (start[:, 1] > end[:, 1]))
    edges = np.where(swap[:, None], np.hstack([end, start]), np.hstack([start, end]))
    order = np.lexsort(edges.T)
    edges, owner = edges[order], owner[order]
    twice = np.flatnonzero((edges[:-1] == edges[1:]).all(axis=1))
    pairs = np.sort(np.column_stack([owner[twice], owner[twice + 1]]), axis=1)
    pairs, which = np.unique(pairs, axis=0, return_inverse=True)
    lengths = np.hypot(*(edges[twice, 2:] - edges[twice, :2]).T)
    shared = np.bincount(which.ravel(), weights=lengths, minlength=len(pairs)).astype(np.float64)
    return pairs[:, 0], pairs[:, 1], shared


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
    parts: dict[int, list[Area]] = {}
    for own, sources in zip(rings, _sources(faces, lines, group), strict=True):
        part, *others = [next(labels) for _ in own]
        holes = [hole for hole, label in zip(own[1:], others, strict=True) if label == part]
        parts.setdefault(part, []).append((shapely.Polygon(own[0], holes), sources))
    return [
        Item(faces=tuple(part), silhouette=shapely.unary_union([face for face, _ in part])) for part in parts.values()
    ]


def _sources(
    faces: Sequence[shapely.Polygon], lines: Sequence[shapely.LineString], group: Sequence[Chain]
) -> list[tuple[int, ...]]:
    """Return for each face the lines of the chains that run along its outer edge."""
    corners, owner = shapely.get_coordinates(shapely.get_exterior_ring(faces), return_index=True)
    inside = owner[:-1] == owner[1:]
    middles = shapely.points((corners[:-1] + corners[1:])[inside] / 2)
    _, nearest = shapely.STRtree(lines).query_nearest(middles, all_matches=False)
    chains: list[set[int]] = [set() for _ in faces]
    for face, chain in zip(owner[:-1][inside].tolist(), nearest.tolist(), strict=True):
        chains[face].add(chain)
    return [tuple(sorted({source for chain in own for source in group[chain].sources})) for own in chains]


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
    for hole in np.flatnonzero(counts & (depth % 2 == 1)).tolist():
        around = outer[inner == hole]
        holes.setdefault(int(around[np.argmin(sizes[around])]), []).append(hole)
    areas = [
        area
        for number in np.flatnonzero(counts & (depth % 2 == 0)).tolist()
        for area in _pierced(items[number], [(shapes[hole], spots[hole]) for hole in holes.get(number, [])])
    ]
    odd = np.flatnonzero(depth % 2).tolist()
    lost = [items[hole].faces[0][0].exterior.coords[0] for hole in odd if len(items[hole].faces) > 1]
    return areas, [(float(x), float(y)) for x, y in lost]


def _pierced(item: Item, holes: Sequence[tuple[shapely.Geometry, shapely.Point]]) -> list[Area]:
    """Return the faces of an item without the holes, each hole taken from the face that it lies in."""
    pierced: list[Area] = []
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
