"""The whole recipe for a pair that fits: pure, no file is touched."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from inlayfit.arcs import ArcRing
from inlayfit.cells import union
from inlayfit.choices import CORNERS, GAP_FROM
from inlayfit.cutters import Cutter, as_cutter
from inlayfit.drawing import Drawing, Region
from inlayfit.errors import GeometryError, JobError
from inlayfit.findings import Finding
from inlayfit.gap import GapAlong, GapStats, gap_along, gap_stats
from inlayfit.halves import Half, make_pieces, make_pockets, names_for, piece_bodies
from inlayfit.offset import geometry_of, offset, section
from inlayfit.plan import Plan, PlanRadii, plan_seams
from inlayfit.regions import Part, group_regions
from inlayfit.remarks import Names, gap_remarks, plan_remarks, squared, wall_remarks, web_remarks
from inlayfit.seam import seam_radii
from inlayfit.units import Mm, format_mm, parse_length, positive_length
from inlayfit.webs import thin_walls, thin_webs

Progress = Callable[[float, str], None]
"""Called with the share done (0 to 1) and what is being done."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A male part: `outline` as the path leaves it, `path` the cutter's centre line round it (closed lines).

    `along` is the gap at every step, `gap` what is to be said of it.
    """

    name: str
    layer: str
    colour: str
    stock: str
    pocket: int
    outline: shapely.Polygon
    path: shapely.LineString | shapely.MultiLineString
    path_arcs: tuple[ArcRing, ...]
    along: GapAlong
    gap: GapStats


@dataclass(frozen=True, slots=True, kw_only=True)
class Pocket:
    """A female part: `outline` as the path leaves it, `path` the wall pass; `pieces` are indices into Fit.pieces."""

    name: str
    pieces: tuple[int, ...]
    outline: shapely.Polygon
    path: shapely.LineString | shapely.MultiLineString
    path_arcs: tuple[ArcRing, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FitSettings:
    """What the maker asked for."""

    piece_cutter: Cutter
    pocket_cutter: Cutter
    gap: Mm
    gap_from: str = "piece"
    corners: str = "match"
    tolerance: Mm = 0.05
    least_web: Mm = 0.6
    stock: str = "shell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Pieces, pockets, and what the maker must know about them."""

    drawing: Drawing
    settings: FitSettings
    pieces: tuple[Piece, ...]
    pockets: tuple[Pocket, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cut:
    """A piece before its gap is known; `pocket` numbers the pocket that it goes into."""

    plan: Plan
    part: Part
    name: str
    half: Half
    pocket: int


def fit(
    drawing: Drawing,
    *,
    piece_cutter: Cutter | str | float,
    pocket_cutter: Cutter | str | float,
    gap: str | float,
    gap_from: str = "piece",
    corners: str = "match",
    tolerance: str | float = 0.05,
    least_web: str | float = 0.6,
    stock: str = "shell",
    progress: Progress | None = None,
) -> Fit:
    """Return pieces and pockets that fit each other, proved on the paths, and what the maker must know.

    Args:
        drawing: as read; regions that touch share a pocket.
        piece_cutter: what goes round the pieces; a size alone is a bit without runout.
        pocket_cutter: what clears the pockets.
        gap: clearance per side.
        gap_from: "piece" (it shrinks), "pocket" (it grows) or "shared".
        corners: "match" rounds both halves alike, "sharp" keeps the drawn corners on the piece.
        tolerance: a place that reaches no further is no finding.
        least_web: thinner webs and walls are findings.
        stock: what the pieces are cut from.
        progress: told how far the work has come.

    Raises:
        GeometryError: nothing of the drawing is left with these cutters and this gap.
        JobError: a choice that is not known.
        UnitError: a size that is no length.
    """
    settings = _settings(piece_cutter, pocket_cutter, gap, gap_from, corners, tolerance, least_web, stock)
    tell = progress or _silent
    tell(0.0, "sorting regions")
    groups, hidden = group_regions(drawing.regions)
    tell(0.1, "finding the seams")
    plans = plan_seams(groups, _plan_radii(settings))
    tell(0.4, "making pieces and pockets")
    names = Names(drawing.regions)
    pockets, pieces = _make_pairs(plans, names, settings)
    if not pieces or not pockets:
        raise GeometryError(
            f"nothing of the drawing is left for a {settings.pocket_cutter.label} in the pocket and a "
            f"{settings.piece_cutter.label} round the piece with a gap of {format_mm(settings.gap)}",
            where=drawing.source,
            remedy="use smaller cutters or a smaller gap, or enlarge the drawing",
        )
    tell(0.7, "measuring the gap")
    findings = _remarks(plans, names, pieces, pockets, hidden, settings)
    walls = _walls(plans, pockets, settings)
    measured, gap_findings = _measure(pieces, walls, settings, first=len(findings) + 1)
    tell(1.0, "done")
    return Fit(
        drawing=drawing,
        settings=settings,
        pieces=tuple(measured),
        pockets=tuple(pockets),
        findings=(*findings, *gap_findings),
    )


def _silent(_share: float, _doing: str) -> None:
    """Take progress that nobody asked for."""


def _settings(
    piece_cutter: Cutter | str | float,
    pocket_cutter: Cutter | str | float,
    gap: str | float,
    gap_from: str,
    corners: str,
    tolerance: str | float,
    least_web: str | float,
    stock: str,
) -> FitSettings:
    """Return what was asked for, checked."""
    for given, known, where in ((gap_from, GAP_FROM, "gap_from"), (corners, CORNERS, "corners")):
        if given not in known:
            raise JobError(f"{given!r} is not known", where=where, remedy=f"known are {', '.join(known)}")
    clearance = parse_length(gap, where="gap")
    if clearance < 0:
        raise JobError("the gap must not be less than zero", where="gap", remedy="0.05mm is usual for shell")
    web = parse_length(least_web, where="least_web")
    if web < 0:
        raise JobError("the least web must not be less than zero", where="least_web", remedy="0.6mm is usual for shell")
    return FitSettings(
        piece_cutter=as_cutter(piece_cutter, where="piece_cutter"),
        pocket_cutter=as_cutter(pocket_cutter, where="pocket_cutter"),
        gap=clearance,
        gap_from=gap_from,
        corners=corners,
        tolerance=positive_length(tolerance, where="tolerance"),
        least_web=web,
        stock=stock,
    )


def _radii(settings: FitSettings) -> tuple[Mm, Mm, Mm, Mm]:
    return seam_radii(settings.pocket_cutter.radius, settings.piece_cutter.radius, settings.gap, settings.gap_from)


def _plan_radii(settings: FitSettings) -> PlanRadii:
    """Return what the seams must allow; between two pieces each gives half of the gap.

    A disc of the cutter may touch the wall and a neighbour at once, so that the lesser of the two shares counts.
    """
    opened, closed, _, piece_gap = _radii(settings)
    half = settings.gap / 2
    return PlanRadii(
        opened=opened,
        closed=closed,
        cell=max(settings.piece_cutter.radius - min(piece_gap, half), half),
        joint=settings.gap,
        tolerance=settings.tolerance,
        sharp=settings.corners == "sharp",
    )


def _make_pairs(plans: Sequence[Plan], names: Names, settings: FitSettings) -> tuple[list[Pocket], list[_Cut]]:
    """Return the pockets of all plans, and the pieces with the pocket that each goes into."""
    _, _, pocket_gap, piece_gap = _radii(settings)
    radius = settings.piece_cutter.radius
    halves: list[Half] = []
    cuts: list[_Cut] = []
    for plan in plans:
        first = len(halves)
        halves.extend(make_pockets(plan.seam, settings.pocket_cutter.radius, pocket_gap))
        outlines = [half.outline for half in halves[first:]]
        for number, body in piece_bodies(plan, radius, piece_gap, settings.gap):
            for half in make_pieces(body, radius) if outlines else []:
                part = plan.group.parts[number]
                name = names.under(half.outline, part.layer, part.colour) or part.name
                cuts.append(_Cut(plan=plan, part=part, name=name, half=half, pocket=first + _home(half, outlines)))
    return [_pocket(half, number, cuts) for number, half in enumerate(halves)], cuts


def _pocket(half: Half, number: int, cuts: Sequence[_Cut]) -> Pocket:
    """Return a pocket named after the pieces that go into it."""
    inside = tuple(index for index, cut in enumerate(cuts) if cut.pocket == number)
    names = list(dict.fromkeys(cuts[index].name for index in inside))
    return Pocket(
        name=", ".join(names[:3]) + (" ..." if len(names) > 3 else ""),
        pieces=inside,
        outline=half.outline,
        path=half.path,
        path_arcs=half.path_arcs,
    )


def _home(half: Half, pockets: Sequence[shapely.Polygon]) -> int:
    """Return which pocket a piece goes into: the one that covers most of it."""
    if len(pockets) == 1:
        return 0
    inside = half.outline.representative_point()
    return int(shapely.STRtree(pockets).nearest(inside))


def _walls(plans: Sequence[Plan], pockets: Sequence[Pocket], settings: FitSettings) -> list[shapely.Geometry]:
    """Return the wall of each pocket as the piece meets it: as cut, or with its corners squared by hand."""
    if settings.corners == "match":
        return [pocket.outline for pocket in pockets]
    squares = geometry_of(offset(union([plan.body for plan in plans]), _radii(settings)[2]))
    return [shapely.union(pocket.outline, _at(squares, pocket.outline)) for pocket in pockets]


def _at(areas: shapely.Geometry, outline: shapely.Polygon) -> shapely.Geometry:
    parts = shapely.get_parts(areas)
    return parts[int(np.argmax(shapely.area(shapely.intersection(parts, outline))))]


def _measure(
    cuts: Sequence[_Cut], walls: Sequence[shapely.Geometry], settings: FitSettings, first: int
) -> tuple[list[Piece], list[Finding]]:
    """Return the pieces with the gap of each as cut, and a finding wherever it is not what was asked for."""
    names = names_for([cut.name for cut in cuts])
    pieces: list[Piece] = []
    findings: list[Finding] = []
    for cut, name in zip(cuts, names, strict=True):
        wall = walls[cut.pocket]
        neighbours = [other.half.outline for other in cuts if other.pocket == cut.pocket and other is not cut]
        along = gap_along(cut.half.outline, wall, neighbours)
        stats = gap_stats(along, wall, cut.half.outline, settings.gap)
        findings.extend(gap_remarks(along, name, settings.gap, shared=bool(neighbours), first=first + len(findings)))
        pieces.append(
            Piece(
                name=name,
                layer=cut.part.layer,
                colour=cut.part.colour,
                stock=settings.stock,
                pocket=cut.pocket,
                outline=cut.half.outline,
                path=cut.half.path,
                path_arcs=cut.half.path_arcs,
                along=along,
                gap=stats,
            )
        )
    return pieces, findings


def _remarks(
    plans: Sequence[Plan],
    names: Names,
    cuts: Sequence[_Cut],
    pockets: Sequence[Pocket],
    hidden: Sequence[Region],
    settings: FitSettings,
) -> list[Finding]:
    """Return what the cutters change of the drawing, thin webs and walls, joined groups and hidden regions."""
    pocket_radius, piece_radius = settings.pocket_cutter.radius, settings.piece_cutter.radius
    findings = plan_remarks(plans, names, hidden, settings.tolerance, pocket_radius, piece_radius)
    if settings.corners == "sharp":
        findings = [squared(finding) if finding.kind == "sharp-corner" else finding for finding in findings]
    opened, _, _, piece_gap = _radii(settings)
    least_left = 2 * (opened - piece_gap)  # a seam of discs, shrunk
    for cut in cuts:
        alone = cut.plan.alone
        webs = (
            []
            if alone and settings.least_web < least_left
            else thin_webs(section(cut.half.outline), settings.least_web)
        )
        findings += web_remarks(webs, cut.name, settings.least_web, first=len(findings) + 1)
    walls = thin_walls([pocket.outline for pocket in pockets], settings.least_web)
    return findings + wall_remarks(walls, [p.name for p in pockets], settings.least_web, first=len(findings) + 1)
