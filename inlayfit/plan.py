"""From the groups of a drawing to their seams and cells; groups whose seams would run into one another become one."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import shapely
from manifold3d import CrossSection

from inlayfit.cells import Cell, divide
from inlayfit.offset import Section, closed, offset, opened, polygons_of, section, union
from inlayfit.regions import TOUCHING, Group, Part, parts_by_key
from inlayfit.seam import DUST, MARGIN, Choice, grown_seam, lesser_change
from inlayfit.sites import Radius, Site, find_sites
from inlayfit.units import Mm

HAIR: Mm = 0.0005
"""A part thinner than this is a slit that came to lie apart."""

WIDENINGS = 3
"""Along cutters that differ the seam is at rest after as many turns but for dust, to which the pieces give way."""

SLIT_LENGTH: Mm = 0.05
"""Shorter fills are the roots of corners, which stay as drawn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceRadii:
    """What the cutter of one stock asks: `closed` of the seam, less the piece's share of the gap, `cell` of a cell.

    `cutter` is half of what it cuts.
    """

    closed: Mm
    cell: Mm
    cutter: Mm


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRadii:
    """What a seam must allow: `opened` for the pocket bit, less the pocket's share of the gap, `pieces` by stock.

    `joint` is the gap between two pieces that share a pocket. A place that reaches no further than `tolerance` is none.
    `sharp` keeps drawn corners on the piece.
    """

    opened: Mm
    pieces: Mapping[str, PieceRadii]
    joint: Mm
    tolerance: Mm
    sharp: bool = False

    def closed(self, parts: Sequence[Part]) -> Radius:
        """Return the radius that the seam of some parts is closed for; with cutters that differ, along each its own."""
        radii = [self.pieces[part.stock].closed for part in parts]
        if len(set(radii)) == 1:
            return radii[0]
        tree = shapely.STRtree([part.area for part in parts])
        return lambda place: radii[int(tree.nearest(place.representative_point()))]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """One pocket group: what was drawn (`area`), the `seam` that can be cut, and the `sites` where the two differ.

    `centres` are those of the bit that it is open for, within the seam, if they are known.
    `body` is the seam of the pieces: the same, but with drawn corners where these shall stay sharp. `cells` divides it
    among the parts, `choices` are places where either of two ways was open, `joined` tells that groups were merged,
    `slits` are hairs between the parts that were shut.
    """

    group: Group
    area: Section
    slits: tuple[Section, ...]
    seam: Section
    centres: Section | None
    body: Section
    cells: tuple[Cell, ...]
    sites: tuple[Site, ...]
    choices: tuple[Choice, ...]
    joined: bool

    @property
    def alone(self) -> bool:
        """Whether one part has the pocket to itself."""
        return len(self.group.parts) == 1

    @property
    def names(self) -> str:
        """The parts' names, for the screen."""
        return ", ".join(part.name for part in self.group.parts[:3]) + (" ..." if len(self.group.parts) > 3 else "")


def plan_seams(groups: Sequence[Group], radii: PlanRadii) -> list[Plan]:
    """Return a seam for each group.

    Filling a cleft can cover a neighbour that stands in it: such groups are planned again as one, for one pocket.
    """
    seams = [_seam(group, radii) for group in groups]
    while (pair := _collision(seams)) is not None:
        first, second = pair
        parts = [*seams[first].group.parts, *seams[second].group.parts]
        merged = _seam(Group(parts=parts_by_key(parts)), radii, joined=True)
        seams = [seam for index, seam in enumerate(seams) if index not in pair] + [merged]
    return [_plan(seam, radii) for seam in _specks_told(seams, radii)]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seam:
    """A group with its seam, before the seam is divided."""

    group: Group
    area: Section
    slits: tuple[Section, ...]
    seam: Section
    centres: Section | None
    sites: tuple[Site, ...]
    choices: tuple[Choice, ...]
    joined: bool


def _seam(group: Group, radii: PlanRadii, *, joined: bool = False) -> _Seam:
    area, slits = drawn_area(group)
    at = radii.closed(group.parts)
    least = min(radii.pieces[part.stock].closed for part in group.parts)
    grown = grown_seam(area, radii.opened, least)
    seam = grown.seam
    sites = find_sites(area, seam, radii.tolerance, radii.opened, at)
    choices: list[Choice] = []
    if any(site.deep for site in sites):
        seam, choices = lesser_change(area, seam, radii.opened, least)
    if callable(at):
        seam = _closed_along(seam, group.parts, radii, least)
    if seam is not grown.seam:
        sites = find_sites(area, seam, radii.tolerance, radii.opened, at)
    return _Seam(
        group=group,
        area=area,
        slits=tuple(slits),
        seam=seam,
        centres=grown.centres if seam is grown.seam else None,
        sites=tuple(sites),
        choices=tuple(choices),
        joined=joined,
    )


def _closed_along(seam: Section, parts: Sequence[Part], radii: PlanRadii, least: Mm) -> Section:
    """Return the seam, which is closed for the smallest cutter of its pieces, closed along each part for its own."""
    own = [(section(part.area), radii.pieces[part.stock].closed + MARGIN) for part in parts]
    for _ in range(WIDENINGS):
        claims = []
        for index, (area, radius) in enumerate(own):
            claim = closed(area ^ seam, radius) - seam if radius > least + MARGIN else CrossSection()
            if not (claim - offset(seam, DUST)).is_empty():
                claims.append(claim)
                own[index] = area + claim, radius
        if not claims:
            break
        seam = grown_seam(union([seam, *claims]), radii.opened, least).seam
    return seam


def _specks_told(seams: Sequence[_Seam], radii: PlanRadii) -> list[_Seam]:
    """Return the groups, those of which nothing is cut with their reach to what is cut of the others.

    So a speck beside another pocket is none; the first of the lost groups carries the sites of all.
    """
    lost = [one for one in seams if one.seam.is_empty()]
    cut = [one for one in seams if not one.seam.is_empty()]
    if not lost or not cut:
        return list(seams)
    closes = radii.closed([part for one in cut for part in one.group.parts])
    sites = find_sites(
        union([one.area for one in lost]), union([one.seam for one in cut]), radii.tolerance, radii.opened, closes
    )
    first = replace(lost[0], sites=tuple(site for site in sites if site.lost))
    return [*cut, first, *(replace(one, sites=()) for one in lost[1:])]


def drawn_area(group: Group) -> tuple[Section, list[Section]]:
    """Return the area of a group with the hair slits between its parts shut, and these slits.

    Nobody draws a slit thinner than `TOUCHING`: two edges that were meant as one differ by that. Where a slit is wider,
    it stays open.
    """
    area = section([part.area for part in group.parts])
    if len(group.parts) == 1 and shapely.get_num_geometries(group.parts[0].area) == 1:
        return area, []
    slits = [slit for slit in (closed(area, TOUCHING / 2 + DUST) - area).decompose() if _length(slit) > SLIT_LENGTH]
    wide = opened(union(slits), TOUCHING / 2)
    if not wide.is_empty():
        slits = [part for slit in slits for part in (slit - wide).decompose()]
    parts = polygons_of(union([area, *slits]))
    return section([_without_hair_holes(part) for part in parts if 2 * part.area > HAIR * part.length]), slits


def _without_hair_holes(polygon: shapely.Polygon) -> shapely.Polygon:
    """Return a polygon without the holes that are nowhere wider than a hair slit."""
    holes = [ring for ring in polygon.interiors if not _is_hair(shapely.Polygon(ring))]
    return shapely.Polygon(polygon.exterior, holes)


def _is_hair(hole: shapely.Polygon) -> bool:
    """Return whether a hole is narrower than `TOUCHING` throughout: in the mean, to begin with."""
    return 2 * hole.area <= TOUCHING * hole.length and offset(section(hole), -TOUCHING / 2).is_empty()


def _length(hair: Section) -> Mm:
    left, bottom, right, top = hair.bounds()
    return math.hypot(right - left, top - bottom)


def _plan(drawn: _Seam, radii: PlanRadii) -> Plan:
    """Return the plan of one group: corners kept where asked for, and the body divided among the parts."""
    body = _with_corners(drawn, radii) if radii.sharp else drawn.seam
    if len(drawn.group.parts) == 1:
        cells = [Cell(part=0, area=part) for part in body.decompose()]
    else:
        closes = [radii.pieces[part.stock].cell for part in drawn.group.parts]
        cells = divide(body, [section(part.area) for part in drawn.group.parts], closes, radii.joint)
    return Plan(
        group=drawn.group,
        area=drawn.area,
        slits=drawn.slits,
        seam=drawn.seam,
        centres=drawn.centres,
        body=body,
        cells=tuple(cells),
        sites=drawn.sites,
        choices=drawn.choices,
        joined=drawn.joined,
    )


def _with_corners(drawn: _Seam, radii: PlanRadii) -> Section:
    """Return the seam with the drawn corners put back that the pocket bit rounds."""
    discs = [
        shapely.Point(mark.x, mark.y).buffer(mark.reach + radii.opened)
        for site in drawn.sites
        if site.kind == "sharp-corner"
        for mark in site.marks
    ]
    if not discs:
        return drawn.seam
    widest = max(radii.pieces[part.stock].closed for part in drawn.group.parts)
    return closed(drawn.seam + (drawn.area ^ section(discs)), widest + MARGIN)


def _collision(seams: Sequence[_Seam]) -> tuple[int, int] | None:
    """Return the first two groups whose seams overlap by more than dust."""
    if len(seams) < 2:
        return None
    boxes = [shapely.box(*one.seam.bounds()) if not one.seam.is_empty() else shapely.Polygon() for one in seams]
    first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    for one, other in zip(first.tolist(), second.tolist(), strict=True):
        if one < other and (seams[one].seam ^ seams[other].seam).area() > DUST**2:
            return one, other
    return None
