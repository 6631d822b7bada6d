"""What happens between the pieces of one pocket, put into words: both neighbours are named."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import shapely

from inlayfit.findings import Finding, Severity
from inlayfit.gap import EVEN, GapAlong, uneven_stretches
from inlayfit.halves import Bodies
from inlayfit.offset import Section, opened, polygons_of, section, union
from inlayfit.place_spots import MARK_SPACING
from inlayfit.plan import Plan, PlanRadii
from inlayfit.remarks import Names, site_words, spread
from inlayfit.seam import DUST
from inlayfit.sites import find_sites
from inlayfit.units import Mm, format_mm

LEAST_FILLER = 0.005
"""Spots between pieces of less area, mm2, drown in the glue."""

JUNCTION_SHARE = 0.25
"""Where four edges meet squarely, the room between is wider than the channels by 0.21 of their width."""

UNFILLED = (
    "no cutter can reach between the pieces here, and none of them fills it",
    "fill it with dust and glue, or ease the drawing here",
)

BORDER: Mm = 0.05
"""A piece this near to a spot, beyond the nearest, borders on it as well."""

MOST_NAMES = 4
"""A finding names no more pieces than this."""


Pieces = Sequence[tuple[str, shapely.Polygon]]
"""Name and outline, as cut."""


def joint_remarks(plans: Sequence[Plan], names: Names, radii: PlanRadii, first: int) -> list[Finding]:
    """Return where the seams between the pieces of one pocket leave the drawn lines, and pieces that vanish.

    What one piece loses there its neighbour gains, so that nothing stays open: a loss is only a piece that is gone.
    """
    findings: list[Finding] = []
    number = first
    for plan in plans:
        if plan.alone:
            continue
        takers = _Takers(plan)
        for index in range(len(plan.group.parts)):
            more = _yields_of(plan, index, takers, names, radii, number)
            number = max([number, *(1 + (finding.site or 0) for finding in more)])
            findings += more
    return findings


class _Takers:
    """The cells of a plan, part by part, asked which of them took a place."""

    def __init__(self, plan: Plan) -> None:
        self.cells = [
            union([cell.area for cell in plan.cells if cell.part == part]) for part in range(len(plan.group.parts))
        ]
        boxes = [shapely.box(*cell.bounds()) if not cell.is_empty() else shapely.Polygon() for cell in self.cells]
        self._tree = shapely.STRtree(boxes)

    def at(self, place: shapely.Polygon, own: int) -> int:
        """Return the part that has most of a place: its cutter is what the place is too fine for; `own` if none has."""
        here = section(place)
        near = sorted(self._tree.query(place).tolist())
        shares = [float((self.cells[part] ^ here).area()) for part in near]
        return near[int(np.argmax(shares))] if any(shares) else own


def _yields_of(plan: Plan, index: int, takers: _Takers, names: Names, radii: PlanRadii, first: int) -> list[Finding]:
    """Return where one part of a plan gives way to its neighbours."""
    parts = plan.group.parts
    drawn = section(parts[index].area) ^ plan.body

    def radius(place: shapely.Polygon) -> Mm:
        return radii.pieces[parts[takers.at(place, index)].stock].cutter

    findings: list[Finding] = []
    sites = [site for site in find_sites(drawn, takers.cells[index], radii.tolerance, radius, radius) if site.lost]
    for number, site in enumerate(sites, start=first):
        gone = site.rims == 0
        spot = shapely.Point(site.marks[0].x, site.marks[0].y)
        reach = site.marks[0].reach
        winner = takers.at(spot.buffer(max(reach, DUST) if math.isfinite(reach) else DUST), index)
        message, remedy = UNFILLED
        if winner != index:
            words, remedy = site_words(site, site.cutter_radius)
            neighbour = names.near(spot, parts[winner])
            message = f"towards {neighbour}, {words}; {neighbour} takes its place"
        findings += [
            Finding(
                kind="lost-piece" if gone else site.kind,
                severity="loss" if gone and mark is site.marks[0] else "warning",
                part="piece",
                name=names.near(shapely.Point(mark.x, mark.y), parts[index]),
                x=mark.x,
                y=mark.y,
                message=message,
                remedy=remedy,
                size_mm=site.width if site.width is not None else site.radius,
                reach_mm=mark.reach if math.isfinite(mark.reach) else None,
                area_mm2=site.area,
                site=number,
            )
            for mark in site.marks
        ]
    return findings


def filler_remarks(pocket: shapely.Polygon, pieces: Pieces, gap: Mm) -> list[Finding]:
    """Return the spots of a shared pocket that no piece fills: they are left for glue and dust.

    Args:
        pocket: as cut.
        pieces: name and outline, as cut, of all that go into it.
        gap: the wider of the gap to the wall and that between two pieces.
    """
    open_area = section(pocket) - section([outline for _, outline in pieces])
    wide = opened(open_area, gap / 2 + JUNCTION_SHARE * gap + DUST)
    return [
        Finding(
            kind="filler",
            severity="warning",
            part="pocket",
            name=_listed(_nearest(place, pieces, 2 * gap)),
            x=float(spot.x),
            y=float(spot.y),
            message=f"{place.area:.2f} mm2 between the pieces can be filled by none of them",
            remedy="fill it with dust and glue, or ease the drawing here",
            area_mm2=float(place.area),
        )
        for place in polygons_of(wide)
        if place.area > LEAST_FILLER and (spot := shapely.point_on_surface(place)) is not None
    ]


def body_remarks(made: Sequence[Bodies], pieces: Pieces, names: Names, first: int) -> list[Finding]:
    """Return notes where pieces gave way, at tips that the gap blunts, and losses where it leaves nothing."""
    found: list[Finding] = []
    for words, lots in (
        (_eased, [bodies.eased for bodies in made]),
        (_blunt, [bodies.blunted for bodies in made]),
        (_gone, [bodies.gone for bodies in made]),
    ):
        for number, place in enumerate((place for lot in lots for place in lot), start=first):
            found += _along(place, pieces, names, words, number)
            first = number + 1
    return found


_Words = tuple[str, str, Severity, str]
"""Kind, whose it is, severity and message of a finding."""


def _eased(meeting: Sequence[str], _drawn: str) -> _Words:
    where = f"where {_listed(meeting)} meet" if len(meeting) > 1 else f"of {_listed(meeting)} at the wall"
    return "eased-joint", meeting[0], "note", f"no cutter can follow all edges {where}: the gap is wider here"


def _blunt(meeting: Sequence[str], _drawn: str) -> _Words:
    neighbours = f", beside {_listed(meeting[1:])}" if len(meeting) > 1 else ""
    return "blunt-tip", meeting[0], "note", f"the gap on both sides blunts a tip of {meeting[0]}{neighbours}"


def _gone(meeting: Sequence[str], drawn: str) -> _Words:
    return "lost-piece", drawn, "loss", f"it is so thin beside {_listed(meeting)} that the gap leaves nothing of it"


def _along(
    place: Section, pieces: Pieces, names: Names, words: Callable[[Sequence[str], str], _Words], site: int
) -> list[Finding]:
    """Return findings such that every spot of a place lies near one, with the pieces that border on it."""
    found: list[Finding] = []
    for part in polygons_of(place):
        far = shapely.distance([outline for _, outline in pieces], part)
        spot = shapely.point_on_surface(part)
        meeting = _nearest(part, pieces, 2 * float(far.min()) + BORDER)
        kind, name, severity, message = words(meeting, names.at(spot.x, spot.y))
        edge = shapely.get_coordinates(shapely.segmentize(part.exterior, MARK_SPACING / 2))
        found += [
            Finding(
                kind=kind,
                severity=severity,
                part="piece",
                name=name,
                x=x,
                y=y,
                message=message,
                remedy="fill it with dust and glue, or ease the drawing here"
                if severity == "note"
                else "thicken it in the drawing, or take a smaller gap",
                area_mm2=float(part.area),
                site=site,
            )
            for x, y in spread(edge)
        ]
    return found


def _nearest(place: shapely.Geometry, pieces: Pieces, within: Mm) -> list[str]:
    """Return the names of the pieces that border on a place, nearest first."""
    far = shapely.distance([outline for _, outline in pieces], place)
    return [pieces[int(index)][0] for index in np.argsort(far, kind="stable") if far[index] <= within]


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names[:MOST_NAMES]) + (" ..." if len(names) > MOST_NAMES else "")


def gap_remarks(along: GapAlong, name: str, neighbours: Pieces, first: int) -> list[Finding]:
    """Return a finding for each stretch of a piece's edge where the gap is not what was asked for."""
    found: list[Finding] = []
    for number, run in enumerate(uneven_stretches(along), start=first):
        off = np.abs(along.off[run])
        tight = bool((along.off[run] < -EVEN).any())
        left = off.copy()
        worst = int(np.argmax(off))
        value, asked = float(along.gaps[run][worst]), float(along.gaps[run][worst] - along.off[run][worst])
        place = shapely.Point(along.points[run][worst])
        meeting = [name, *_nearest(place, neighbours, 2 * max(value, asked) + EVEN)] if neighbours else []
        junction = len(meeting) > 1 and not tight
        while True:
            spot = int(np.argmax(left))
            x, y = along.points[run][spot]
            found.append(
                Finding(
                    kind="junction" if junction else "uneven-gap",
                    severity="note" if not tight else "warning",
                    part="piece",
                    name=name,
                    x=float(x),
                    y=float(y),
                    message=f"the gap is {format_mm(value)} where "
                    + (f"edges of {_listed(meeting)} meet" if junction else f"{format_mm(asked)} was asked for")
                    + (f", towards {_listed(meeting[1:])}" if tight and len(meeting) > 1 else ""),
                    remedy="fill it with dust and glue, or ease the drawing here"
                    if not tight
                    else "ease the piece here",
                    size_mm=value,
                    site=number,
                )
            )
            near = np.hypot(*(along.points[run] - along.points[run][spot]).T) <= MARK_SPACING
            left[near] = 0.0
            if not left.any():
                break
    return found
