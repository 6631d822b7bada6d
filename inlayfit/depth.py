"""How deep each pocket goes: from the sheet of each piece, in steps where neighbours differ."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from inlayfit.arcs import ArcRing
from inlayfit.errors import JobError
from inlayfit.findings import Finding
from inlayfit.halves import written
from inlayfit.offset import Section, geometry_of, offset, opened, section, union
from inlayfit.seam import DUST, MARGIN
from inlayfit.units import Mm, format_mm

SAME: Mm = 0.001
"""Depths nearer to each other than this are one: no machine tells them apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthAsked:
    """How a piece is to sit: `proud` of the surface, on a `bed` of glue; mm."""

    proud: Mm = 0.0
    bed: Mm = 0.0

    def of(self, thickness: Mm, *, stock: str) -> Mm:
        """Return the depth of the pocket of a piece of that thickness.

        Raises:
            JobError: it stands proud by all of its thickness.
        """
        depth = thickness - self.proud + self.bed
        if depth <= 0:
            raise JobError(
                f"{stock} is {format_mm(thickness)} thick and would need no pocket",
                where="depth.proud",
                remedy="give less than the thickness of the sheet",
            )
        return depth


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """What of a pocket is cut at least `depth` deep: the whole of it, or within that a deeper step.

    `outline` and `path` are as those of a pocket; `pieces` are indices into Fit.pieces: they stand on this floor.
    """

    depth: Mm
    outline: shapely.Polygon | shapely.MultiPolygon
    path: shapely.LineString | shapely.MultiLineString
    path_arcs: tuple[ArcRing, ...]
    pieces: tuple[int, ...]


def zones_of(
    pocket: shapely.Polygon,
    path: shapely.LineString | shapely.MultiLineString,
    path_arcs: tuple[ArcRing, ...],
    pieces: Sequence[tuple[int, shapely.Polygon, Mm | None]],
    *,
    radius: Mm,
    room: Mm,
) -> tuple[Zone, ...]:
    """Return the zones of a pocket, the shallowest, which is all of it, first; none if a depth is not known.

    Args:
        pocket: as cut.
        path: its wall pass.
        path_arcs: the same as lines and arcs.
        pieces: index, outline as cut and depth of each piece.
        radius: half of what the pocket's bit cuts.
        room: what a step stays clear of the piece that stands in it.
    """
    depths = [depth for _, _, depth in pieces if depth is not None]
    if not depths or len(depths) < len(pieces):
        return ()
    levels: list[Mm] = []
    for depth in sorted(depths):
        if not levels or depth - levels[-1] > SAME:
            levels.append(depth)
    zones: list[Zone] = []
    deeper, below = Section(), None
    for level in reversed(levels):  # each step holds those within it
        here = tuple(
            i for i, _, depth in pieces if depth is not None and depth >= level and not _at_least(depth, below)
        )
        below = level
        if level == levels[0]:
            zones.append(Zone(depth=level, outline=pocket, path=path, path_arcs=path_arcs, pieces=here))
            break
        standing = section([outline for index, outline, _ in pieces if index in here])
        deeper = _step(section(pocket), offset(standing, room) + deeper, radius)
        line, arcs = written(offset(deeper, -radius))
        outline = geometry_of(offset(section(line), radius))
        zones.append(Zone(depth=level, outline=outline, path=line.boundary, path_arcs=arcs, pieces=here))
    return tuple(reversed(zones))


def _at_least(depth: Mm, limit: Mm | None) -> bool:
    return limit is not None and depth >= limit


def _step(pocket: Section, wanted: Section, radius: Mm) -> Section:
    """Return the least that the bit can cut deeper within a pocket so that all of an area is.

    Tips that the bit cannot follow are cut round, into the floor of the neighbour: each spot of a pocket lies in a disc
    of the bit within it, and that disc within two radii of the spot.
    """
    radius += MARGIN
    wanted = wanted ^ pocket
    whole = opened(wanted, radius)
    missed = wanted - offset(whole, DUST)
    if missed.is_empty():
        return whole
    return union([whole, opened(pocket ^ offset(missed, 2 * radius + DUST), radius)])


def floor_remarks(
    pockets: Sequence[tuple[str, tuple[Zone, ...]]], thickness: Mm, least_floor: Mm, first: int
) -> list[Finding]:
    """Return where pockets go through the part, or leave less wood below them than they may."""
    found: list[Finding] = []
    for name, zones in pockets:
        for zone in zones:
            left = thickness - zone.depth
            if left > 0 and left >= least_floor:
                continue
            spot = shapely.point_on_surface(zone.outline)
            through = left <= 0
            found.append(
                Finding(
                    kind="through-part" if through else "thin-floor",
                    severity="warning",
                    part="pocket",
                    name=name,
                    x=float(spot.x),
                    y=float(spot.y),
                    message=f"a pocket {format_mm(zone.depth, 2)} deep goes through a part of {format_mm(thickness, 2)}"
                    if through
                    else f"{format_mm(left, 2)} of wood are left under a pocket {format_mm(zone.depth, 2)} deep",
                    remedy="take thinner stock there, or let it stand prouder",
                    size_mm=left,
                    site=first + len(found),
                )
            )
    return found


def unknown_depth_remarks(
    pockets: Sequence[tuple[str, shapely.Polygon, Sequence[tuple[str, Mm | None]]]], first: int
) -> list[Finding]:
    """Return notes on pockets of which some pieces have a thickness and others none; `pockets` tell it by stock."""
    found: list[Finding] = []
    for name, outline, stocks in pockets:
        unknown = sorted({stock for stock, thickness in stocks if thickness is None})
        if unknown and len(unknown) < len({stock for stock, _ in stocks}):
            spot = shapely.point_on_surface(outline)
            found.append(
                Finding(
                    kind="unknown-depth",
                    severity="note",
                    part="pocket",
                    name=name,
                    x=float(spot.x),
                    y=float(spot.y),
                    message=f"how deep is it to be? The thickness of {', '.join(unknown)} is not known",
                    remedy=f"measure it: stock.{unknown[0]}.thickness",
                    site=first + len(found),
                )
            )
    return found
