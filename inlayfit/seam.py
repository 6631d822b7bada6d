"""The seam: the outline nearest to the drawing from which both halves can be cut.

Words: a set is r-open when it is a union of discs of radius r, r-closed when its complement is. The pocket bit needs
an open set, the bit that cuts round the piece a closed one. Opening after closing need not be closed: closing may make
a neck that opening removes again, for ever. Two ways end (each only grows, or only shrinks, and a union of open sets is
open): the neck becomes a bridge as wide as the bit, or a gap that the bit can pass.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import shapely
from manifold3d import CrossSection, OpType

from inlayfit.offset import (
    Section,
    closed,
    core,
    halfway,
    in_one_alone,
    offset,
    opened,
    polygons_of,
    raw_rings,
    rings_less,
)
from inlayfit.units import Mm

MARGIN: Mm = 0.002
"""The seam is made with radii this much larger than those it is judged with: a limb exactly as wide as the cutter
would otherwise flip with the last digit. What is less than 4 um wider than the cutter is lost, and called marginal."""

DUST: Mm = 0.001
"""A neck counts from this reach on; what is less is noise of the offsets."""

ROUNDS = 12
"""The growing way ended within four rounds on everything tried; more than this is a fault."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A place where the two ways differ; `kept` names the one that changes the drawing less, areas in mm2."""

    place: shapely.Polygon
    kept: str
    changed: float
    other_changed: float


def seam_radii(pocket_radius: Mm, piece_radius: Mm, gap: Mm, gap_from: str) -> tuple[Mm, Mm, Mm, Mm]:
    """Return ro, rc, gp, gm: the radii by which the seam must be open and closed, and each half's share of the gap."""
    share = {"pocket": 1.0, "piece": 0.0, "shared": 0.5}[gap_from]
    pocket_gap = gap * share
    piece_gap = gap - pocket_gap
    return max(pocket_radius - pocket_gap, piece_gap), max(piece_radius - piece_gap, pocket_gap), pocket_gap, piece_gap


def unopened(shape: Section, radius: Mm) -> tuple[Section, Section]:
    """Return where the section is not a union of discs of that radius, by more than `DUST` of reach, and their centres.

    The centres are those of all such discs within it, the section shrunk.
    """
    centres, reach = core(shape, radius)
    if reach <= DUST / 2:
        return CrossSection(), centres
    none = _without_moved(shape, centres, radius + DUST / 2)  # what half as much covers needs no closer look
    return (none if none.is_empty() else shape - offset(offset(centres, radius), DUST)), centres


def _without_moved(shape: Section, other: Section, distance: Mm) -> Section:
    """Return the section without what another covers once it has grown."""
    return rings_less(shape.to_polygons(), raw_rings(other, distance))


@dataclass(frozen=True, slots=True, kw_only=True)
class Grown:
    """A seam, and where a bit of the radius that it is open for may have its centre, if that was looked for."""

    seam: Section
    centres: Section | None


def _fills_nothing(seam: Section, before: Section, radius: Mm) -> bool:
    """Return whether closing filled nothing: then what was open before is open still."""
    return bool(seam.area() - before.area() < radius**2 and _without_moved(seam, before, DUST / 2).is_empty())


def grown_seam(area: Section, open_radius: Mm, close_radius: Mm) -> Grown:
    """Return the seam by the growing way: narrow limbs go first, then clefts are filled and necks thickened."""
    made_open, made_closed = open_radius + MARGIN, close_radius + MARGIN
    seam = halfway(halfway(area, -made_open), made_open)
    for _ in range(ROUNDS):
        before, seam = seam, closed(seam, made_closed)
        if _fills_nothing(seam, before, open_radius):
            return Grown(seam=seam, centres=None)
        necks, centres = unopened(seam, open_radius)
        if necks.is_empty():
            return Grown(seam=seam, centres=centres)
        seam = opened(seam, made_open) + offset(necks, made_open)
    return Grown(seam=seam, centres=None)


def shrunk_seam(area: Section, open_radius: Mm, close_radius: Mm) -> Section:
    """Return the seam by the shrinking way: the growing one on the complement, radii swapped."""
    left, bottom, right, top = area.bounds()
    room = 4 * (open_radius + close_radius)
    inner = _box(left - room, bottom - room, right + room, top + room)
    outer = _box(left - 2 * room, bottom - 2 * room, right + 2 * room, top + 2 * room)
    return inner - grown_seam(outer - area, close_radius, open_radius).seam


def _box(left: Mm, bottom: Mm, right: Mm, top: Mm) -> Section:
    return CrossSection.square((right - left, top - bottom)).translate((left, bottom))


def is_seam(seam: Section, open_radius: Mm, close_radius: Mm) -> bool:
    """Return whether both cutters can cut the outline exactly, but for `DUST`."""
    necks, _ = unopened(seam, open_radius)
    if not necks.is_empty():
        return False
    return (offset(closed(seam, close_radius), -DUST) - seam).is_empty()


def lesser_change(area: Section, grown: Section, open_radius: Mm, close_radius: Mm) -> tuple[Section, list[Choice]]:
    """Return the outline that both cutters can cut, each place by the way that changes less of the drawing.

    Places where the two ways differ lie apart by more than the reach of either cutter, so that a choice here does not
    touch the outcome there.
    """
    shrunk = shrunk_seam(area, open_radius, close_radius)
    differs = opened(in_one_alone(grown, shrunk), DUST)
    if differs.is_empty():
        return grown, []
    places = offset(differs, 2 * max(open_radius, close_radius) + 0.01).decompose()
    choices = [_choose(place, area, grown, shrunk) for place in places]
    taken = [place for place, choice in zip(places, choices, strict=True) if choice.kept == "shrunk"]
    if not taken:
        return grown, choices
    there = CrossSection.batch_boolean(taken, OpType.Add) if len(taken) > 1 else taken[0]
    mixed = shrunk if len(taken) == len(places) else (grown - there) + (shrunk ^ there)
    if is_seam(mixed, open_radius, close_radius):
        return mixed, choices
    return grown, [replace(choice, kept="grown") for choice in choices]


def _choose(place: Section, area: Section, grown: Section, shrunk: Section) -> Choice:
    drawn = area ^ place
    by_growing, by_shrinking = (_changed(drawn, way ^ place) for way in (grown, shrunk))
    less, more = sorted((by_growing, by_shrinking))
    return Choice(
        place=polygons_of(place)[0],
        kept="grown" if by_growing <= by_shrinking else "shrunk",
        changed=less,
        other_changed=more,
    )


def _changed(drawn: Section, cut: Section) -> float:
    return float((drawn - cut).area() + (cut - drawn).area())
