"""The whole recipe for a pair that fits: pure, no file is touched."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from inlayfit.arcs import ArcRing
from inlayfit.cutters import Cutter
from inlayfit.depth import DepthAsked, Zone, floor_remarks, unknown_depth_remarks, zones_of
from inlayfit.drawing import Drawing, Region
from inlayfit.errors import GeometryError
from inlayfit.findings import Finding, next_site
from inlayfit.gap import GapAlong, GapStats, gap_along, gap_stats
from inlayfit.halves import Bodies, Half, make_pieces, make_pockets, names_for, piece_bodies
from inlayfit.inlaid import host_remarks, levels_of, stray_remarks
from inlayfit.joint_remarks import body_remarks, filler_remarks, gap_remarks, joint_remarks
from inlayfit.offset import geometry_of, offset, section
from inlayfit.plan import Plan, plan_seams
from inlayfit.regions import Part, group_regions, idle_cuts
from inlayfit.remarks import Names, cut_remarks, drawing_remarks, squared, wall_remarks, wall_site_remarks, web_remarks
from inlayfit.settings import FitSettings, make_settings, radii_of
from inlayfit.stocks import Stock, assign
from inlayfit.units import Mm, format_mm
from inlayfit.webs import thin_walls, thin_webs
from inlayfit.wood_part import WoodPart, part_remarks

Progress = Callable[[float, str], None]
"""Called with the share done (0 to 1) and what is being done."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A male part: `outline` as the path leaves it, `path` the cutter's centre line round it (closed lines).

    `along` is the gap at every step, `gap` what is to be said of it.
    `joint` tells of the gap towards other pieces apart, where another was asked for there than to the wall.
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
    joint: GapStats | None = None

    @property
    def drops_in(self) -> bool:
        """Whether it touches neither its pocket nor a neighbour; butt joints may."""
        return self.gap.drops_in and (self.joint is None or self.joint.drops_in)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pocket:
    """A female part: `outline` as the path leaves it, `path` the wall pass; `pieces` are indices into Fit.pieces.

    `zones` are its depths, the shallowest first, which is all of it; none where a thickness is not known. `host` is the
    index of the piece that it is cut into, None where it is cut into the wood.
    """

    name: str
    pieces: tuple[int, ...]
    outline: shapely.Polygon
    path: shapely.LineString | shapely.MultiLineString
    path_arcs: tuple[ArcRing, ...]
    zones: tuple[Zone, ...] = ()
    host: int | None = None

    @property
    def depth(self) -> Mm | None:
        """How deep it is at its deepest, if that is known."""
        return self.zones[-1].depth if self.zones else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Pieces, pockets, and what the maker must know about them."""

    drawing: Drawing
    settings: FitSettings
    pieces: tuple[Piece, ...]
    pockets: tuple[Pocket, ...]
    findings: tuple[Finding, ...]
    part: WoodPart | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cut:
    """A piece before its gap is known; `region` is what it shows of the drawing, `pocket` numbers its pocket."""

    plan: Plan
    part: Part
    region: str
    name: str
    half: Half
    pocket: int


def fit(
    drawing: Drawing,
    *,
    piece_cutter: Cutter | str | float | None = None,
    pocket_cutter: Cutter | str | float,
    gap: str | float,
    gap_from: str = "piece",
    corners: str = "match",
    tolerance: str | float = 0.05,
    least_web: str | float = 0.6,
    stock: str = "shell",
    thickness: str | float | None = None,
    stocks: Sequence[Stock] = (),
    joint: str | float | None = None,
    split_layer: str | None = None,
    part: WoodPart | None = None,
    depth: DepthAsked | None = None,
    progress: Progress | None = None,
) -> Fit:
    """Return pieces and pockets that fit each other, proved on the paths, and what the maker must know.

    Args:
        drawing: as read; regions that touch share a pocket.
        piece_cutter: what goes round the pieces of stocks that name no cutter; a size alone is a bit without runout.
        pocket_cutter: what clears the pockets.
        gap: clearance per side.
        gap_from: "piece" (it shrinks), "pocket" (it grows) or "shared".
        corners: "match" rounds both halves alike, "sharp" keeps the drawn corners on the piece.
        tolerance: a place that reaches no further is no finding.
        least_web: thinner webs and walls are findings.
        stock: what the pieces are cut from, if it is one.
        thickness: of the sheet, as measured, where a stock does not say.
        stocks: what they are cut from if there are several, each with its regions.
        joint: clearance between two pieces of one pocket, 0 for butt joints; as the gap if it is not given.
        split_layer: its lines, which the drawing was read with as lines, part the pieces that they cross.
        part: what the drawing lies on, in its coordinates.
        depth: how proud pieces stand, and on how much glue; depths are known where thicknesses are.
        progress: told how far the work has come.

    Raises:
        GeometryError: nothing of the drawing is left with these cutters and this gap.
        JobError: a choice that is not known, a stock without a cutter, a region without a stock or with two.
        UnitError: a size that is no length.
    """
    settings = make_settings(
        piece_cutter=piece_cutter,
        pocket_cutter=pocket_cutter,
        gap=gap,
        gap_from=gap_from,
        corners=corners,
        tolerance=tolerance,
        least_web=least_web,
        stock=stock,
        thickness=thickness,
        stocks=stocks,
        joint=joint,
        depth=depth or DepthAsked(),
    )
    tell = progress or _silent
    tell(0.0, "sorting regions")
    drawing, unused = assign(drawing, settings.all_stocks)
    cuts = [one.line for one in drawing.lines if one.layer == split_layer]
    levels = levels_of(drawing.regions)
    groups, hidden = group_regions(levels.wood, cuts)
    inner, covered = group_regions(levels.let_in) if levels.let_in else ([], [])
    tell(0.1, "finding the seams")
    plans = plan_seams(groups, radii_of(settings))
    let_in = plan_seams(inner, radii_of(settings)) if inner else []
    hidden, plans = [*hidden, *covered], [*plans, *let_in]
    tell(0.4, "making pieces and pockets")
    names = Names(drawing.regions)
    pockets, pieces, made = _make_pairs(plans, names, settings)
    if not pieces or not pockets:
        raise GeometryError(
            f"nothing of the drawing is left for a {settings.pocket_cutter.label} in the pocket and a "
            f"{settings.cutters} round the piece with a gap of {format_mm(settings.gap)}",
            where=drawing.source,
            remedy="use smaller cutters or a smaller gap, or enlarge the drawing",
        )
    tell(0.7, "measuring the gap")
    pockets = _with_hosts(pockets, pieces, let_in)
    findings = (
        unused
        + stray_remarks(levels.strays)
        + cut_remarks(idle_cuts(cuts, groups))
        + _remarks(plans, names, pieces, pockets, hidden, settings)
    )
    pockets = [replace(pocket, zones=_zones(pocket, pieces, settings)) for pocket in pockets]
    findings += _wood_remarks(pockets, pieces, part, settings, next_site(findings))
    outlines = [(cut.name, cut.half.outline) for cut in pieces]
    findings += body_remarks(made, outlines, names, next_site(findings))
    walls = _walls(plans, pieces, pockets, settings)
    measured, gap_findings = _measure(pieces, walls, settings, first=next_site(findings))
    tell(1.0, "done")
    return Fit(
        drawing=drawing,
        settings=settings,
        pieces=tuple(measured),
        pockets=tuple(pockets),
        findings=(*findings, *gap_findings),
        part=part,
    )


def _silent(_share: float, _doing: str) -> None:
    """Take progress that nobody asked for."""


def _make_pairs(
    plans: Sequence[Plan], names: Names, settings: FitSettings
) -> tuple[list[Pocket], list[_Cut], list[Bodies]]:
    """Return the pockets of all plans, pieces with the pocket that each goes into, and how they came about."""
    pocket_gap, piece_gap = settings.shares
    halves: list[Half] = []
    cuts: list[_Cut] = []
    made: list[Bodies] = []
    for plan in plans:
        first = len(halves)
        centres = plan.centres if radii_of(settings).opened == settings.pocket_cutter.radius - pocket_gap else None
        halves.extend(make_pockets(plan.seam, settings.pocket_cutter.radius, pocket_gap, centres))
        outlines = [half.outline for half in halves[first:]]
        radii = [settings.cutter_of(part.stock).radius for part in plan.group.parts]
        unsaid = settings.widest_gap + settings.tolerance
        bodies = piece_bodies(plan, radii, piece_gap, settings.joint_gap, unsaid)
        made.append(bodies)
        for number, body in bodies.pieces:
            for half in make_pieces(body, radii[number]) if outlines else []:
                part = plan.group.parts[number]
                region = names.under(half.outline, part) or part.name
                home = first + _home(half, outlines)
                cuts.append(_Cut(plan=plan, part=part, region=region, name="", half=half, pocket=home))
    named = zip(cuts, names_for([cut.region for cut in cuts]), strict=True)
    cuts = [replace(cut, name=name) for cut, name in named]
    return [_pocket(half, number, cuts) for number, half in enumerate(halves)], cuts, made


def _pocket(half: Half, number: int, cuts: Sequence[_Cut]) -> Pocket:
    """Return a pocket named after the pieces that go into it."""
    inside = tuple(index for index, cut in enumerate(cuts) if cut.pocket == number)
    names = list(dict.fromkeys(cuts[index].region for index in inside))
    return Pocket(
        name=", ".join(names[:3]) + (" ..." if len(names) > 3 else ""),
        pieces=inside,
        outline=half.outline,
        path=half.path,
        path_arcs=half.path_arcs,
    )


def _with_hosts(pockets: Sequence[Pocket], cuts: Sequence[_Cut], let_in: Sequence[Plan]) -> list[Pocket]:
    """Return the pockets, those of the plans that are let in with the piece that they are cut into."""
    inner = {id(plan) for plan in let_in}
    hosts = [index for index, cut in enumerate(cuts) if id(cut.plan) not in inner]
    tree = shapely.STRtree([cuts[index].half.outline for index in hosts])
    return [
        replace(pocket, host=hosts[int(tree.nearest(pocket.outline.representative_point()))])
        if hosts and any(id(cuts[index].plan) in inner for index in pocket.pieces)
        else pocket
        for pocket in pockets
    ]


def _zones(pocket: Pocket, cuts: Sequence[_Cut], settings: FitSettings) -> tuple[Zone, ...]:
    """Return how deep a pocket goes for the pieces in it."""
    flush, radius, room = pocket.host is not None, settings.pocket_cutter.radius, settings.widest_gap
    own = [(index, cuts[index]) for index in pocket.pieces]
    inside = [(index, cut.half.outline, settings.depth_of(cut.part.stock, flush=flush)) for index, cut in own]
    return zones_of(pocket.outline, pocket.path, pocket.path_arcs, inside, radius=radius, room=room)


def _wood_remarks(
    pockets: Sequence[Pocket], cuts: Sequence[_Cut], part: WoodPart | None, settings: FitSettings, first: int
) -> list[Finding]:
    """Return what is to be known of the depth of the pockets, and of the part that they are cut into."""
    sheets = [(cut.part.stock, settings.thickness_of(cut.part.stock)) for cut in cuts]
    used = [(pocket.name, pocket.outline, [sheets[index] for index in pocket.pieces]) for pocket in pockets]
    found = unknown_depth_remarks(used, first)
    for host in sorted({pocket.host for pocket in pockets if pocket.host is not None}):
        cut = cuts[host]
        found += host_remarks(
            [(pocket.name, pocket.outline, pocket.depth) for pocket in pockets if pocket.host == host],
            (cut.name, cut.half.outline, settings.thickness_of(cut.part.stock)),
            settings.least_web_of(cut.part.stock),
            first + len(found),
        )
    pockets = [pocket for pocket in pockets if pocket.host is None]
    if part is None:
        return found
    found += part_remarks(part, [(pocket.name, pocket.outline) for pocket in pockets], first + len(found))
    if part.thickness is not None:
        zones = [(pocket.name, pocket.zones) for pocket in pockets]
        found += floor_remarks(zones, part.thickness, part.least_floor, first + len(found))
    return found


def _home(half: Half, pockets: Sequence[shapely.Polygon]) -> int:
    """Return which pocket a piece goes into: the one that covers most of it."""
    if len(pockets) == 1:
        return 0
    inside = half.outline.representative_point()
    return int(shapely.STRtree(pockets).nearest(inside))


def _walls(
    plans: Sequence[Plan], cuts: Sequence[_Cut], pockets: Sequence[Pocket], settings: FitSettings
) -> list[shapely.Geometry]:
    """Return the wall of each pocket as the piece meets it: as cut, or with its corners squared by hand."""
    if settings.corners == "match":
        return [pocket.outline for pocket in pockets]
    squares = {id(plan): geometry_of(offset(plan.body, settings.shares[0])) for plan in plans}
    return [
        shapely.union(pocket.outline, _at(squares[id(cuts[pocket.pieces[0]].plan)], pocket.outline))
        if pocket.pieces
        else pocket.outline
        for pocket in pockets
    ]


def _at(areas: shapely.Geometry, outline: shapely.Polygon) -> shapely.Geometry:
    parts = shapely.get_parts(areas)
    return parts[int(np.argmax(shapely.area(shapely.intersection(parts, outline))))]


def _measure(
    cuts: Sequence[_Cut], walls: Sequence[shapely.Geometry], settings: FitSettings, first: int
) -> tuple[list[Piece], list[Finding]]:
    """Return the pieces with the gap of each as cut, and a finding wherever it is not what was asked for."""
    nominal, joint = settings.gap, settings.joint_gap
    pieces: list[Piece] = []
    findings: list[Finding] = []
    for cut in cuts:
        wall, outline = walls[cut.pocket], cut.half.outline
        others = [(other.name, other.half.outline) for other in cuts if other.pocket == cut.pocket and other is not cut]
        along = gap_along(outline, wall, [other for _, other in others], nominal, joint)
        gap, between = gap_stats(along, wall, outline, nominal, joint)
        findings.extend(gap_remarks(along, cut.name, others, first=first + len(findings)))
        pieces.append(
            Piece(
                name=cut.name,
                layer=cut.part.layer,
                colour=cut.part.colour,
                stock=cut.part.stock,
                pocket=cut.pocket,
                outline=outline,
                path=cut.half.path,
                path_arcs=cut.half.path_arcs,
                along=along,
                gap=gap,
                joint=between,
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
    findings = wall_site_remarks(plans, names, *settings.shares)
    if settings.corners == "sharp":
        findings = [squared(finding) if finding.kind == "sharp-corner" else finding for finding in findings]
    findings += joint_remarks(plans, names, radii_of(settings), first=next_site(findings))
    findings += _filler_remarks(cuts, pockets, settings)
    findings += drawing_remarks(plans, names, hidden, first=next_site(findings))
    least_left = 2 * (radii_of(settings).opened - settings.shares[1])  # a seam of discs, shrunk
    for cut in cuts:
        least = settings.least_web_of(cut.part.stock)
        webs = [] if cut.plan.alone and least < least_left else thin_webs(section(cut.half.outline), least)
        findings += web_remarks(webs, cut.region, least, first=next_site(findings))
    for host in dict.fromkeys(pocket.host for pocket in pockets):
        level = [pocket for pocket in pockets if pocket.host == host]
        walls = thin_walls([pocket.outline for pocket in level], settings.least_web)
        findings += wall_remarks(walls, [p.name for p in level], settings.least_web, first=next_site(findings))
    return findings


def _filler_remarks(cuts: Sequence[_Cut], pockets: Sequence[Pocket], settings: FitSettings) -> list[Finding]:
    """Return the spots of the shared pockets that no piece fills."""
    findings = []
    for pocket in pockets:
        inside = [cuts[index] for index in pocket.pieces]
        if inside and not inside[0].plan.alone:
            outlines = [(cut.name, cut.half.outline) for cut in inside]
            findings += filler_remarks(pocket.outline, outlines, settings.widest_gap)
    return findings
