"""Pieces that are let into other pieces: an eye in a bird, as a pocket in the sheet of the bird and not in the wood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely

from inlayfit.drawing import Region
from inlayfit.findings import Finding, finding_within
from inlayfit.units import Mm, format_mm

RING: Mm = 0.05
"""Round a region that is let in, so much must be of one piece all round."""

MOSTLY = 0.98
"""Of that ring: drawn edges that should meet may be a hair apart."""

TOUCH_MM2 = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Regions of the wood, with what is let into them filled up; those that are `let_in`; and those that cannot be.

    A region that no piece surrounds goes into the wood.
    """

    wood: tuple[Region, ...]
    let_in: tuple[Region, ...]
    strays: tuple[Region, ...]


def levels_of(regions: Sequence[Region]) -> Levels:
    """Return the two levels of a drawing, by what its regions say of being let in."""
    wanted = [index for index, region in enumerate(regions) if region.let_in]
    if not wanted:
        return Levels(wood=tuple(regions), let_in=(), strays=())
    wood: dict[int, Region] = {index: region for index, region in enumerate(regions) if not region.let_in}
    outer = list(wood.values())
    let_in: list[Region] = []
    strays: list[Region] = []
    area = shapely.union_all([regions[index].polygon for index in wanted])
    for cluster in shapely.get_parts(area):
        members = [index for index in wanted if shapely.intersects(regions[index].polygon, cluster)]
        host = _host(cluster, outer)
        for index in members:
            (strays if host is None else let_in).append(regions[index])
            wood[index] = regions[index] if host is None else replace(host, polygon=regions[index].polygon)
    return Levels(wood=tuple(wood[index] for index in sorted(wood)), let_in=tuple(let_in), strays=tuple(strays))


def _host(cluster: shapely.Polygon, outer: Sequence[Region]) -> Region | None:
    """Return the uppermost region of the look that lies all round a place."""
    ring = shapely.difference(shapely.buffer(cluster, RING), shapely.buffer(cluster, RING / 10))
    for region in reversed(outer):
        own = [
            other.polygon for other in outer if other.look == region.look and shapely.intersects(other.polygon, ring)
        ]
        if own and shapely.intersection(shapely.union_all(own), ring).area >= MOSTLY * ring.area:
            return region
    return None


def stray_remarks(strays: Sequence[Region]) -> list[Finding]:
    """Return warnings of regions that no single piece surrounds."""
    return [_finding("not-let-in", region.name, region.polygon, *STRAY) for region in strays]


STRAY = (
    "no single piece lies all round it: it is let into the wood, not into a piece",
    "move it into one piece, or do not ask for it to be let in",
)


def host_remarks(
    pockets: Sequence[tuple[str, shapely.Polygon, Mm | None]],
    host: tuple[str, shapely.Polygon, Mm | None],
    least_web: Mm,
    first: int,
) -> list[Finding]:
    """Return where pockets in a piece run off it, come near to its edge, or go through it.

    Args:
        pockets: name, outline and depth of each.
        host: name, outline and thickness of the piece.
        least_web: the thinnest web that the piece bears.
        first: number of the first site.
    """
    found: list[Finding] = []
    name, outline, thickness = host
    for pocket, area, depth in pockets:
        over = shapely.difference(area, outline)
        far = float(shapely.distance(area, outline.boundary))
        if over.area > TOUCH_MM2:
            message = f"its pocket runs over the edge of {name}"
            found.append(_finding("off-piece", pocket, over, message, "move it inward, or make it smaller"))
        elif far < least_web:
            place = shapely.shortest_line(area, outline.boundary).centroid
            message = (
                f"{format_mm(far, 2)} of {name} are left beside it; under {format_mm(least_web, 2)} they may break"
            )
            found.append(replace(_finding("thin-rim", pocket, place, message, "move it inward"), size_mm=far))
        if depth is not None and thickness is not None and depth >= thickness:
            message = f"its pocket, {format_mm(depth, 2)} deep, goes through {name}, {format_mm(thickness, 2)} thick"
            found.append(_finding("through-piece", pocket, area, message, "take thinner stock for it"))
    return [replace(finding, site=number) for number, finding in enumerate(found, start=first)]


def _finding(kind: str, name: str, place: shapely.Geometry, message: str, remedy: str) -> Finding:
    return finding_within(place, kind=kind, part="pocket", name=name, message=message, remedy=remedy)
