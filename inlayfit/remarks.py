"""Sites, webs and gaps put into words: one finding for each mark, with its remedy."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import chain

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.cells import union
from inlayfit.drawing import Region
from inlayfit.findings import Finding, Severity
from inlayfit.gap import GapAlong, uneven_stretches
from inlayfit.offset import offset, polygons_of, section
from inlayfit.plan import Plan
from inlayfit.regions import TOUCHING
from inlayfit.seam import DUST, Choice
from inlayfit.sites import MARK_SPACING, Mark, Site, find_sites
from inlayfit.units import Mm, format_mm
from inlayfit.webs import Thin

LEAST_FILLER = 0.005
"""Spots between pieces of less area, mm2, drown in the glue."""


class Names:
    """Which region of the drawing lies at a place, or under a piece."""

    def __init__(self, regions: Sequence[Region]) -> None:
        self._regions = regions
        self._tree = shapely.STRtree([region.polygon for region in regions])

    def at(self, x: Mm, y: Mm) -> str:
        """Return the name of the nearest region, the uppermost where several cover the place."""
        nearest = self._tree.query_nearest(shapely.Point(x, y))
        return self._regions[int(nearest.max())].name

    def under(self, outline: shapely.Polygon, layer: str, colour: str) -> str:
        """Return the name of the region of a layer and colour of which most lies under a piece."""
        own = self._own(outline, layer, colour)
        if len(own) < 2:
            return own[0].name if own else ""
        return max(own, key=lambda region: float(shapely.intersection(region.polygon, outline).area)).name

    def united(self, plans: Sequence[Plan]) -> list[Finding]:
        """Return a note for each area that is one piece although several regions of one layer and colour make it up."""
        notes = []
        for part in (part for plan in plans for part in plan.group.parts):
            for area in shapely.get_parts(part.area):
                own = self._own(area, part.layer, part.colour)
                if len(own) < 2:
                    continue
                names = [one.name for one in own if shapely.intersection(one.polygon, area).area > LEAST_FILLER]
                if len(names) > 1:
                    notes.append(_note("one-piece", area, part.name, *_together(names)))
        return notes

    def _own(self, area: shapely.Polygon, layer: str, colour: str) -> list[Region]:
        """Return the regions of a layer and colour whose boxes meet an area's."""
        near = [self._regions[int(index)] for index in self._tree.query(area)]
        return [region for region in near if (region.layer, region.colour) == (layer, colour)]


def _together(names: Sequence[str]) -> tuple[str, str]:
    listed = ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
    return (
        f"{listed} touch and have one layer and colour: they are cut as one piece",
        "give them different colours or layers for a piece each",
    )


def plan_remarks(
    plans: Sequence[Plan],
    names: Names,
    hidden: Sequence[Region],
    tolerance: Mm,
    open_radius: Mm,
    close_radius: Mm,
) -> list[Finding]:
    """Return what the cutters change of a drawing: at the pocket's wall, between pieces, and what shows nowhere."""
    choices = [choice for plan in plans for choice in plan.choices]
    sites = [site for plan in plans for site in plan.sites]
    findings = site_remarks(sites, names, choices, open_radius, close_radius)
    number = len(sites)
    for plan in plans:
        more = _between_pieces(plan, names, tolerance, close_radius, number + 1)
        findings += [*more, *_fillers(plan), *_shut_slits(plan, names, number + len(more) + 1)]
        number = max([number, *(finding.site or 0 for finding in more)])
    findings += [_note("hidden", region.polygon, region.name, *HIDDEN) for region in hidden]
    return findings + _joined(plans) + names.united(plans)


def _shut_slits(plan: Plan, names: Names, number: int) -> list[Finding]:
    """Return notes along the hair slits between the parts of a plan that were taken for shut; one site for all."""
    spots = [
        spot
        for slit in plan.slits
        for part in polygons_of(slit)
        for spot in _spread(shapely.get_coordinates(shapely.segmentize(part.exterior, MARK_SPACING / 2)))
    ]
    return [
        Finding(
            kind="hair-slit",
            severity="note",
            part="drawing",
            name=names.at(x, y),
            x=x,
            y=y,
            message=f"edges that do not quite meet, by less than {format_mm(TOUCHING)}, are taken as one",
            remedy="none is needed; share the edge in the drawing if you like",
            site=number,
        )
        for x, y in spots
    ]


def _spread(points: NDArray[np.float64]) -> list[tuple[Mm, Mm]]:
    """Return some of the points, so that each lies within `MARK_SPACING` of one."""
    spots = []
    while len(points):
        x, y = (float(value) for value in points[0])
        spots.append((x, y))
        points = points[np.hypot(points[:, 0] - x, points[:, 1] - y) > MARK_SPACING]
    return spots


def _fillers(plan: Plan) -> list[Finding]:
    """Return the spots of a shared pocket that no piece can fill: they are left for glue and dust."""
    if plan.alone:
        return []
    left = offset(plan.body - union([cell.area for cell in plan.cells]), -DUST)
    return [
        Finding(
            kind="filler",
            severity="warning",
            part="pocket",
            name=plan.names,
            x=float(spot.x),
            y=float(spot.y),
            message=f"{place.area:.2f} mm2 between the pieces can be filled by none of them",
            remedy="fill it with dust and glue, or ease the drawing here",
            area_mm2=float(place.area),
        )
        for place in polygons_of(left)
        if place.area > LEAST_FILLER and (spot := shapely.point_on_surface(place)) is not None
    ]


HIDDEN = ("lies wholly under what was drawn over it: nothing of it is cut", "bring it to the front, or delete it")
JOINED = (
    "stands so close to its neighbours that the bit cannot leave wood between: they share one pocket",
    "move them apart by more than the bit, or let them touch in the drawing",
)


def _note(kind: str, area: shapely.Geometry, name: str, message: str, remedy: str) -> Finding:
    """Return a finding that only tells, at a spot within an area."""
    spot = shapely.point_on_surface(area)
    return Finding(
        kind=kind, severity="note", part="drawing", name=name, x=spot.x, y=spot.y, message=message, remedy=remedy
    )


def _joined(plans: Sequence[Plan]) -> list[Finding]:
    return [
        _note("shared-pocket", part.area, part.name, *JOINED)
        for plan in plans
        if plan.joined
        for part in plan.group.parts
    ]


def _between_pieces(plan: Plan, names: Names, tolerance: Mm, radius: Mm, first: int) -> list[Finding]:
    """Return where the seams between the pieces of one pocket leave the drawn lines, and pieces that vanish.

    What one piece loses there its neighbour gains, so that nothing stays open: a loss is only a piece that is gone.
    """
    findings: list[Finding] = []
    if plan.alone:
        return findings
    number = first
    for index, part in enumerate(plan.group.parts):
        cell = union([cell.area for cell in plan.cells if cell.part == index])
        drawn = section(part.area) ^ plan.body
        sites = [site for site in find_sites(drawn, cell, tolerance, radius, radius) if site.lost]
        for site in sites:
            gone = site.rims == 0
            message, remedy = _words(site, radius)
            findings += [
                Finding(
                    kind="lost-piece" if gone else site.kind,
                    severity="loss" if gone and mark is site.marks[0] else "warning",
                    part="piece",
                    name=names.at(mark.x, mark.y),
                    x=mark.x,
                    y=mark.y,
                    message=f"towards its neighbour, {message}; the neighbour takes its place",
                    remedy=remedy,
                    size_mm=site.width if site.width is not None else site.radius,
                    reach_mm=mark.reach if math.isfinite(mark.reach) else None,
                    area_mm2=site.area,
                    site=number,
                )
                for mark in site.marks
            ]
            number += 1
    return findings


def squared(corner: Finding) -> Finding:
    """Return the finding of a rounded corner as one of a corner that stays sharp on the piece."""
    return replace(
        corner,
        kind="square-corner",
        message=f"the bit leaves {format_mm(corner.reach_mm or 0, 2)} in this corner of the pocket, sharp on the piece",
        remedy="square the pocket here with a knife or a small chisel before the piece goes in",
    )


def site_remarks(
    sites: Sequence[Site], names: Names, choices: Sequence[Choice], open_radius: Mm, close_radius: Mm, first: int = 1
) -> list[Finding]:
    """Return the findings of the sites, each site numbered from `first`."""
    return list(
        chain.from_iterable(
            _site_remark(site, number, names, choices, open_radius if site.lost else close_radius)
            for number, site in enumerate(sites, start=first)
        )
    )


def _site_remark(site: Site, number: int, names: Names, choices: Sequence[Choice], radius: Mm) -> Iterable[Finding]:
    message, remedy = _words(site, radius)
    if site.marginal:
        message += " (marginal: as wide as the cutter to within 5 um; measure the bit and the runout)"
    message += _choice_words(site, choices)
    for mark in site.marks:
        yield Finding(
            kind=site.kind,
            severity=_severity(site, mark, radius),
            part="pocket" if site.lost else "piece",
            name=names.at(mark.x, mark.y),
            x=mark.x,
            y=mark.y,
            message=message if mark is site.marks[0] else f"{message} (goes on here)",
            remedy=remedy,
            size_mm=site.width if site.width is not None else site.radius,
            reach_mm=mark.reach if math.isfinite(mark.reach) else None,
            area_mm2=site.area,
            site=number,
        )


def _severity(site: Site, mark: Mark, radius: Mm) -> Severity:
    """Return loss for what vanishes, parts, joins or reaches further than the cutter's radius; else warning."""
    main = mark is site.marks[0]
    return "loss" if mark.reach > radius or (main and site.changes_parts) else "warning"


def _words(site: Site, radius: Mm) -> tuple[str, str]:
    """Return what happens at a site and what to do about it."""
    size, own = format_mm(2 * radius), format_mm(radius)
    width, curve, reach = (format_mm(value or 0, 2) for value in (site.width, site.radius, site.reach))
    angle = f"{site.angle_deg or 0:.0f} degrees"
    bigger = f"{2 * radius / site.width:.2f} times" if site.width else "more"
    smaller = f"use a cutter of {width} or less, or enlarge the drawing {bigger}"
    tight = f"a curve of radius {curve} is tighter than the cutter ({own}): up to {reach} change"
    wider = f"widen the curve to a radius of {own}, or use a cutter of {format_mm(2 * (site.radius or 0), 2)}"
    words = {
        "sharp-corner": (
            f"a corner of {angle} is rounded to {own}: {reach} of its tip go",
            "round it in the drawing, square the pocket by hand, or use a smaller cutter",
        ),
        "inner-corner": (
            f"an inner corner of {angle} is filled to {own}: {reach} at its root stay",
            "round it in the drawing, file the piece by hand, or use a smaller cutter",
        ),
        "tight-curve": (tight, wider),
        "tight-inner-curve": (tight, wider),
        "narrow-limb": (f"a limb about {width} wide is lost, for the cutter is {size} wide: {reach} of it go", smaller),
        "narrow-neck": (f"a neck about {width} wide is lost, for the cutter is {size} wide: it parts", smaller),
        "lost-island": (f"an area about {width} wide is lost: the cutter is {size} wide", smaller),
        "narrow-cleft": (
            f"a cleft about {width} wide is filled, for the cutter is {size} wide: {reach} close",
            smaller,
        ),
        "narrow-slot": (f"a slot about {width} wide is filled, for the cutter is {size} wide: it joins", smaller),
        "lost-hole": (f"a hole about {width} wide is filled: the cutter is {size} wide", smaller),
    }
    return words[site.kind]


def _choice_words(site: Site, choices: Sequence[Choice]) -> str:
    """Return which way was taken at a neck, a slot, an island or a hole where either could be."""
    spot = shapely.Point(site.marks[0].x, site.marks[0].y)
    if site.changes_parts and any(choice.place.contains(spot) for choice in choices):
        return " (the other way, " + ("keeping" if site.lost else "opening") + " it, would change more of the drawing)"
    return ""


def web_remarks(webs: Sequence[Thin], name: str, limit: Mm, first: int) -> list[Finding]:
    """Return a finding for each thin web of a piece."""
    return [
        Finding(
            kind="thin-web",
            severity="warning",
            part="piece",
            name=name,
            x=web.x,
            y=web.y,
            message=f"a web {format_mm(web.width, 2)} wide joins two parts; under {format_mm(limit, 2)} it may break",
            remedy="thicken it in the drawing, back the sheet before cutting, or choose a tougher stock",
            size_mm=web.width,
            site=number,
        )
        for number, web in enumerate(webs, start=first)
    ]


def wall_remarks(walls: Sequence[Thin], names: Sequence[str], limit: Mm, first: int) -> list[Finding]:
    """Return a finding for each thin wall between two pockets."""
    found = []
    for number, wall in enumerate(walls, start=first):
        one, other = (names[index] for index in wall.between or (0, 0))
        gone = wall.width <= 0
        found.append(
            Finding(
                kind="no-wall" if gone else "thin-wall",
                severity="warning",
                part="pocket",
                name=one,
                x=wall.x,
                y=wall.y,
                message=f"the pockets of {one} and {other} run into one another"
                if gone
                else f"the wood between {one} and {other} is {format_mm(wall.width, 2)} thin; "
                f"under {format_mm(limit, 2)} it may break",
                remedy="move them apart, let them touch in the drawing so that they share a pocket, or fill with dust",
                size_mm=wall.width,
                site=number,
            )
        )
    return found


def gap_remarks(along: GapAlong, name: str, nominal: Mm, shared: bool, first: int) -> list[Finding]:
    """Return a finding for each stretch of a piece's edge where the gap is not what was asked for."""
    found: list[Finding] = []
    for number, run in enumerate(uneven_stretches(along, nominal), start=first):
        off = np.abs(along.gaps[run] - nominal)
        tight = bool((along.gaps[run] < nominal).any())
        left = off.copy()
        worst = int(np.argmax(off))
        value = float(along.gaps[run][worst])
        junction = shared and not tight
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
                    + ("edges of several pieces meet" if junction else f"{format_mm(nominal)} was asked for"),
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
