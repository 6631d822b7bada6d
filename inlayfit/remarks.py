"""Sites, webs and gaps put into words: one finding for each mark, with its remedy."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import chain

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.drawing import Region
from inlayfit.findings import Finding, Severity
from inlayfit.offset import polygons_of
from inlayfit.place_spots import MARK_SPACING
from inlayfit.plan import Plan
from inlayfit.regions import TOUCHING, Look, Part
from inlayfit.seam import Choice
from inlayfit.sites import Mark, Site
from inlayfit.units import Mm, format_mm
from inlayfit.webs import Thin

SHARED = 0.005
"""Regions that share less area with a piece than this, mm2, only border on it."""


class Names:
    """Which region of the drawing lies at a place, or under a piece."""

    def __init__(self, regions: Sequence[Region]) -> None:
        self._regions = regions
        self._tree = shapely.STRtree([region.polygon for region in regions])
        self._looks: dict[Look, tuple[list[Region], shapely.STRtree]] = {}

    def at(self, x: Mm, y: Mm) -> str:
        """Return the name of the nearest region, the uppermost where several cover the place."""
        if len(self._regions) == 1:
            return self._regions[0].name
        nearest = self._tree.query_nearest(shapely.Point(x, y))
        return self._regions[int(nearest.max())].name

    def under(self, outline: shapely.Polygon, part: Part) -> str:
        """Return the name of the region of a part's look of which most lies under a piece."""
        own = self._own(outline, part)
        if len(own) < 2:
            return own[0].name if own else ""
        return max(own, key=lambda region: float(shapely.intersection(region.polygon, outline).area)).name

    def near(self, place: shapely.Geometry, part: Part) -> str:
        """Return the name of that region of a part's look which lies nearest to a place."""
        own, tree = self._of_look(part.look)
        return own[int(tree.query_nearest(place).min())].name

    def _of_look(self, look: Look) -> tuple[list[Region], shapely.STRtree]:
        """Return the regions of a look and their tree, made once: it is asked for at every mark."""
        if look not in self._looks:
            own = [region for region in self._regions if region.look == look]
            self._looks[look] = own, shapely.STRtree([region.polygon for region in own])
        return self._looks[look]

    def united(self, plans: Sequence[Plan]) -> list[Finding]:
        """Return a note for each area that is one piece although several regions of one layer and colour make it up."""
        notes = []
        for part in (part for plan in plans for part in plan.group.parts):
            for area in shapely.get_parts(part.area):
                own = self._own(area, part)
                if len(own) < 2:
                    continue
                shapely.prepare(area)
                names = list(dict.fromkeys(one.name for one in own if _shares(area, one.polygon)))
                if len(names) > 1:
                    notes.append(_note("one-piece", area, part.name, *_together(names)))
        return notes

    def _own(self, area: shapely.Polygon, part: Part) -> list[Region]:
        """Return the regions of a part's look whose boxes meet an area's."""
        near = [self._regions[int(index)] for index in self._tree.query(area)]
        return [region for region in near if region.look == part.look]


def _shares(area: shapely.Polygon, other: shapely.Polygon) -> bool:
    """Return whether more than `SHARED` of an area lies in another: in the first, prepared, that is soon seen."""
    if other.area <= SHARED or not shapely.intersects(area, other):
        return False
    return bool(shapely.contains(area, other) or shapely.intersection(other, area).area > SHARED)


def _together(names: Sequence[str]) -> tuple[str, str]:
    listed = ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
    return (
        f"{listed} touch and have one layer and colour: they are cut as one piece",
        "give them different colours or layers for a piece each",
    )


def wall_site_remarks(plans: Sequence[Plan], names: Names, pocket_gap: Mm, piece_gap: Mm) -> list[Finding]:
    """Return what the cutters change of a drawing at the walls of the pockets."""
    choices = [choice for plan in plans for choice in plan.choices]
    sites = [site for plan in plans for site in plan.sites]
    return site_remarks(sites, names, choices, pocket_gap, piece_gap)


def drawing_remarks(plans: Sequence[Plan], names: Names, hidden: Sequence[Region], first: int) -> list[Finding]:
    """Return notes of what was made of a drawing: slits taken for shut, what is hidden, joined or one piece."""
    findings: list[Finding] = []
    for number, plan in enumerate(plans, start=first):
        findings += _shut_slits(plan, names, number)
    findings += [_note("hidden", region.polygon, region.name, *HIDDEN) for region in hidden]
    return findings + _joined(plans) + names.united(plans)


def _shut_slits(plan: Plan, names: Names, number: int) -> list[Finding]:
    """Return notes along the hair slits between the parts of a plan that were taken for shut; one site for all."""
    spots = [
        spot
        for slit in plan.slits
        for part in polygons_of(slit)
        for spot in spread(shapely.get_coordinates(shapely.segmentize(part.exterior, MARK_SPACING / 2)))
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


def spread(points: NDArray[np.float64]) -> list[tuple[Mm, Mm]]:
    """Return some of the points, so that each lies within `MARK_SPACING` of one."""
    spots = []
    while len(points):
        x, y = (float(value) for value in points[0])
        spots.append((x, y))
        points = points[np.hypot(points[:, 0] - x, points[:, 1] - y) > MARK_SPACING]
    return spots


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


def cut_remarks(idle: Sequence[shapely.LineString]) -> list[Finding]:
    """Return a note for each cut line that parts nothing."""
    message = "this cut line does not run from edge to edge of a piece: it parts nothing"
    return [_note("idle-cut", line, "cut line", message, "draw it beyond both edges of the piece") for line in idle]


def squared(corner: Finding) -> Finding:
    """Return the finding of a rounded corner as one of a corner that stays sharp on the piece."""
    return replace(
        corner,
        kind="square-corner",
        message=f"the bit leaves {format_mm(corner.reach_mm or 0, 2)} in this corner of the pocket, sharp on the piece",
        remedy="square the pocket here with a knife or a small chisel before the piece goes in",
    )


def site_remarks(
    sites: Sequence[Site], names: Names, choices: Sequence[Choice], pocket_gap: Mm, piece_gap: Mm
) -> list[Finding]:
    """Return the findings of the sites, each site numbered; the shares of the gap tell the cutters from the seam."""
    return list(
        chain.from_iterable(
            _site_remark(site, number, names, choices, site.cutter_radius + (pocket_gap if site.lost else piece_gap))
            for number, site in enumerate(sites, start=1)
        )
    )


def _site_remark(site: Site, number: int, names: Names, choices: Sequence[Choice], radius: Mm) -> Iterable[Finding]:
    message, remedy = site_words(site, radius)
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


def site_words(site: Site, radius: Mm) -> tuple[str, str]:
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
    if not choices or not site.changes_parts:
        return ""
    spot = shapely.Point(site.marks[0].x, site.marks[0].y)
    if any(choice.place.contains(spot) for choice in choices):
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
