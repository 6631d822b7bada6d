"""Regions of a drawing to parts: what lies on top wins, what touches shares a pocket.

A *part* is all that one look (layer, colour and stock) shows in one connected place; a *group* is the parts that touch
one another and so share one pocket.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from inlayfit.drawing import Region
from inlayfit.errors import DrawingError
from inlayfit.units import Mm

TOUCHING: Mm = 0.01
"""Parts nearer than this share a pocket: no wood stands in a slit that thin."""

SLIVER: Mm = 0.002
"""What is left over of a region along the edge of one that was drawn over it is no part, if thinner than this."""

SPECK_MM2 = 1e-6
"""Less area than this is numeric dust of the overlay."""

Look = tuple[str, str, str, bool]
"""Layer, colour, stock, and whether let into a piece: regions that have these in common and touch are one piece."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """The visible area of one layer, colour and stock within a group; `area` mm, valid."""

    name: str
    layer: str
    colour: str
    area: shapely.Polygon | shapely.MultiPolygon
    stock: str = ""
    let_in: bool = False
    share: int = 0
    """Numbers what cut lines part; 0 is not cut."""

    @property
    def look(self) -> Look:
        """What its regions have in common."""
        return self.layer, self.colour, self.stock, self.let_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Parts that share one pocket."""

    parts: tuple[Part, ...]


def group_regions(
    regions: Sequence[Region], cuts: Sequence[shapely.LineString] = ()
) -> tuple[list[Group], list[Region]]:
    """Return the groups of touching parts, and the regions that lie wholly under others.

    Regions come lowest first. Those of one look are united; of others the upper takes what both cover. Lines cut the
    parts that they cross from edge to edge.

    Raises:
        DrawingError: there is no region.
    """
    if not regions:
        raise DrawingError("the drawing holds no closed region", remedy="close its outlines, or give its lines a width")
    shown, hidden = _visible(regions)
    pieces = [
        Part(name=name, layer=layer, colour=colour, stock=stock, let_in=let_in, area=polygon)
        for (layer, colour, stock, let_in), entries in shown.items()
        for name, polygon in _united(entries)
    ]
    pieces = _cut_along(pieces, cuts) if len(cuts) else pieces
    return [Group(parts=parts_by_key(members)) for members in _touching(pieces)], hidden


def _cut_along(pieces: Sequence[Part], cuts: Sequence[shapely.LineString]) -> list[Part]:
    """Return the parts, those that lines cross from edge to edge as several, from left to right."""
    tree = shapely.STRtree(list(cuts))
    parts: list[Part] = []
    shares = 0
    for piece in pieces:
        near = [cuts[int(index)] for index in tree.query(piece.area, predicate="intersects")]
        faces = _faces(piece.area, near) if near else []
        if len(faces) < 2:
            parts.append(piece)
            continue
        parts.extend(replace(piece, area=face, share=shares + number) for number, face in enumerate(faces, start=1))
        shares += len(faces)
    return parts


def _faces(area: shapely.Geometry, lines: Sequence[shapely.LineString]) -> list[shapely.Polygon]:
    """Return what lines part an area into, from left to right; ends within it part nothing."""
    edges = shapely.get_parts(shapely.union_all([shapely.boundary(area), *lines]))
    shapely.prepare(area)
    faces = [
        face
        for face in shapely.get_parts(shapely.polygonize(edges))
        if face.area > SPECK_MM2 and shapely.contains(area, face.representative_point())
    ]
    return sorted(faces, key=lambda face: face.bounds)


def idle_cuts(cuts: Sequence[shapely.LineString], groups: Sequence[Group]) -> list[shapely.LineString]:
    """Return the lines that part nothing: none of the parts that they cross has an edge along them."""
    edges = [shapely.boundary(part.area) for group in groups for part in group.parts if part.share]
    tree = shapely.STRtree(edges)
    return [
        cut
        for cut in cuts
        if not any(
            shapely.intersection(edges[int(index)], shapely.buffer(cut, SPECK_MM2)).length > TOUCHING
            for index in tree.query(cut, predicate="intersects")
        )
    ]


_Shown = dict[Look, list[tuple[str, shapely.Geometry]]]


def _visible(regions: Sequence[Region]) -> tuple[_Shown, list[Region]]:
    """Return what each look shows, names kept, and what shows nowhere."""
    keys = [region.look for region in regions]
    shown: _Shown = {}
    if len(set(keys)) == 1:
        return {keys[0]: [(region.name, region.polygon) for region in regions]}, []
    polygons = np.array([region.polygon for region in regions], dtype=object)
    tree = shapely.STRtree(polygons)
    hidden = []
    for index, region in enumerate(regions):
        over = [
            int(other)
            for other in tree.query(region.polygon, predicate="intersects")
            if other > index and keys[other] != keys[index]
        ]
        left = region.polygon
        if over:
            left = _without_slivers(shapely.difference(left, shapely.union_all(polygons[over])))
        if left.area <= SPECK_MM2:
            hidden.append(region)
        else:
            shown.setdefault(keys[index], []).append((region.name, left))
    return shown, hidden


def _without_slivers(area: shapely.Geometry) -> shapely.Geometry:
    """Return an area without what is thinner than `SLIVER` throughout, corners kept: two edges drawn as one differ."""
    shrunk = shapely.buffer(_polygonal(area), -SLIVER / 2, join_style="mitre", mitre_limit=10)
    return shapely.buffer(shrunk, SLIVER / 2, join_style="mitre", mitre_limit=10)


def _polygonal(geometry: shapely.Geometry) -> shapely.Geometry:
    if geometry.geom_type in {"Polygon", "MultiPolygon"}:
        return geometry
    return shapely.union_all([part for part in shapely.get_parts(geometry) if part.geom_type == "Polygon"])


def _united(entries: list[tuple[str, shapely.Geometry]]) -> list[tuple[str, shapely.Polygon]]:
    """Return the connected areas of one look, each named after its largest region."""
    if len(entries) == 1 and entries[0][1].geom_type == "Polygon":
        return [(entries[0][0], entries[0][1])]
    areas = shapely.get_parts(_polygonal(shapely.union_all([polygon for _, polygon in entries])))
    areas = [area for area in areas if area.area > SPECK_MM2]
    tree = shapely.STRtree(areas)
    names: dict[int, str] = {}
    for name, polygon in sorted(entries, key=lambda entry: -entry[1].area):
        for part in shapely.get_parts(polygon):
            found = tree.query(shapely.point_on_surface(part), predicate="intersects")
            for place in found:
                names.setdefault(int(place), name)
    return [(names.get(index, entries[0][0]), area) for index, area in enumerate(areas)]


def _touching(pieces: list[Part]) -> list[list[Part]]:
    """Return the parts in lots that touch one another, directly or through others."""
    areas = [piece.area for piece in pieces]
    root = list(range(len(pieces)))

    def find(index: int) -> int:
        while root[index] != index:
            root[index] = root[root[index]]
            index = root[index]
        return index

    for one, other in _near(areas):
        root[max(find(one), find(other))] = min(find(one), find(other))
    lots: dict[int, list[Part]] = {}
    for index, piece in enumerate(pieces):
        lots.setdefault(find(index), []).append(piece)
    return list(lots.values())


def _near(areas: list[shapely.Polygon]) -> list[tuple[int, int]]:
    """Return the pairs of areas, by number, that touch. The larger of two is prepared: it is asked for many specks."""
    boxes = shapely.box(*(shapely.bounds(areas) + TOUCHING * np.array([-1, -1, 1, 1])).T)
    one, other = shapely.STRtree(areas).query(boxes)
    size = shapely.get_num_coordinates(areas)
    once = (size[one] > size[other]) | ((size[one] == size[other]) & (one < other))
    one, other = one[once], other[once]
    shapely.prepare(areas)
    polygons = np.array(areas, dtype=object)
    touch = shapely.dwithin(polygons[one], polygons[other], TOUCHING)
    return list(zip(one[touch].tolist(), other[touch].tolist(), strict=True))


def parts_by_key(members: Sequence[Part]) -> tuple[Part, ...]:
    """Return one part for each look and share of a group: areas that touch at a point may be joined by the seam."""
    lots: dict[tuple[Look, int], list[Part]] = {}
    for part in members:
        lots.setdefault((part.look, part.share), []).append(part)
    return tuple(lot[0] if len(lot) == 1 else _one(lot) for lot in lots.values())


def _one(lot: list[Part]) -> Part:
    largest = max(lot, key=lambda part: part.area.area)
    polygons = [polygon for part in lot for polygon in shapely.get_parts(part.area)]
    return replace(largest, area=shapely.MultiPolygon(polygons))
