"""What a bit cannot cut, where, how bad it is, and which bit or which size would do."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import shapely

from inlayfit.cutters import Cutter, as_cutter
from inlayfit.drawing import Drawing
from inlayfit.errors import GeometryError
from inlayfit.findings import Finding, next_site
from inlayfit.joint_remarks import filler_remarks, joint_remarks
from inlayfit.ladder import Rung, Shapes, Verdict, ladder
from inlayfit.offset import geometry_of, polygons_of, section
from inlayfit.plan import PieceRadii, Plan, PlanRadii, plan_seams
from inlayfit.regions import TOUCHING, group_regions
from inlayfit.remarks import Names, drawing_remarks, wall_remarks, wall_site_remarks, web_remarks
from inlayfit.units import Mm, format_mm, parse_length, positive_length
from inlayfit.webs import thin_walls, thin_webs

MOST_SCALE = 50.0
"""No drawing is enlarged more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """The answer to "can it be cut with this bit?".

    `largest_bit` leaves nothing over the tolerance, `largest_bit_no_loss` softens at most; None where none does.
    `smallest_width` is the width of the drawing at which this bit cuts everything within the tolerance, None where
    no size does (`scaling_note` says why: sharp corners never go away).
    """

    drawing: str
    size: tuple[Mm, Mm]
    cutter: Cutter
    tolerance: Mm
    verdict: Verdict
    largest_bit: Mm | None
    largest_bit_no_loss: Mm | None
    smallest_width: Mm | None
    scaling_note: str
    findings: tuple[Finding, ...]
    ladder: tuple[Rung, ...]


def check(
    drawing: Drawing,
    *,
    cutter: Cutter | str | float,
    tolerance: str | float = 0.05,
    least_web: str | float = 0.6,
    progress: Callable[[float, str], None] | None = None,
) -> Check:
    """Return what one cutter, in the pocket and round the piece, would lose or fill of a drawing.

    Args:
        drawing: as read.
        cutter: a size alone is a bit without runout.
        tolerance: a place that reaches no further is no finding.
        least_web: thinner webs and walls are findings.
        progress: told the share done (0 to 1) and what is being done.

    Raises:
        GeometryError: the cutter is wider than the drawing.
        UnitError: a size that is no length.
    """
    cutter = as_cutter(cutter, where="cutter")
    reach = positive_length(tolerance, where="tolerance")
    tell = progress or _silent
    groups, hidden = group_regions(drawing.regions)
    if cutter.diameter > max(drawing.size):
        width, height = (format_mm(size) for size in drawing.size)
        raise GeometryError(
            f"the {cutter.label} is wider than the whole drawing ({width} by {height})",
            where=drawing.source,
            remedy="use a smaller cutter or enlarge the drawing",
        )
    tell(0.1, "cutting with this bit")
    radius = cutter.radius
    plans = plan_seams(groups, _radii(drawing, radius, reach))
    names = Names(drawing.regions)
    findings = wall_site_remarks(plans, names, 0.0, 0.0)
    findings += joint_remarks(plans, names, _radii(drawing, radius, reach), first=next_site(findings))
    for plan in (plan for plan in plans if not plan.alone):
        cells = [(plan.group.parts[cell.part].name, geometry_of(cell.area)) for cell in plan.cells]
        findings += filler_remarks(geometry_of(plan.body), cells, 0.0)
    findings += drawing_remarks(plans, names, hidden, first=next_site(findings))
    findings += _thin_remarks(
        plans, parse_length(least_web, where="least_web"), cutter.radius, first=next_site(findings)
    )
    tell(0.4, "searching the largest bit")
    shapes = Shapes(
        [plan.area for plan in plans],
        [
            (section(piece), index)
            for index, plan in enumerate(plans)
            if not plan.alone
            for part in plan.group.parts
            for piece in _apart(part.area)
        ],
        tolerance=reach,
        bit=2 * radius,
    )
    smallest, note = _smallest_width(shapes, drawing, findings)
    tell(0.7, "climbing the ladder of sizes")
    rungs = ladder(shapes)
    verdict = verdict_of(findings)
    result = Check(
        drawing=drawing.source,
        size=drawing.size,
        cutter=cutter,
        tolerance=reach,
        verdict=verdict,
        largest_bit=shapes.largest_bit,
        largest_bit_no_loss=shapes.largest_bit_no_loss,
        smallest_width=smallest,
        scaling_note=note,
        findings=tuple(findings),
        ladder=tuple(_own(rung, findings, verdict) if rung.diameter == 2 * radius else rung for rung in rungs),
    )
    tell(1.0, "done")
    return result


def _apart(area: shapely.Geometry) -> list[shapely.Geometry]:
    """Return what of an area hangs together: each is cut by itself, so that no bit need pass between two."""
    if shapely.get_num_geometries(area) == 1:
        return [area]
    return [shapely.intersection(area, round_one) for round_one in shapely.get_parts(area.buffer(TOUCHING / 2))]


def _silent(_share: float, _doing: str) -> None:
    """Take progress that nobody asked for."""


def _radii(drawing: Drawing, radius: Mm, tolerance: Mm) -> PlanRadii:
    """Return the radii where one cutter is to cut it all, without a gap."""
    own = PieceRadii(closed=radius, cell=radius, cutter=radius)
    pieces = {region.stock: own for region in drawing.regions}
    return PlanRadii(opened=radius, pieces=pieces, joint=0.0, tolerance=tolerance)


def verdict_of(findings: Sequence[Finding]) -> Verdict:
    """Return the verdict: only what is lost, filled or softened counts, not thin webs or walls."""
    shape = [finding for finding in findings if finding.reach_mm is not None or finding.severity == "loss"]
    if any(finding.severity == "loss" for finding in shape):
        return "loses detail"
    return "softened" if any(finding.severity == "warning" for finding in shape) else "as drawn"


def _own(rung: Rung, findings: Sequence[Finding], verdict: Verdict) -> Rung:
    """Return the rung of the bit in question with the exact counts of its findings."""
    sites: dict[int | None, list[str]] = {}
    for finding in findings:
        if finding.reach_mm is not None or finding.severity == "loss":
            sites.setdefault(finding.site, []).append(finding.severity)
    lost = sum("loss" in severities for severities in sites.values())
    return replace(rung, verdict=verdict, places_lost=lost, places_softened=len(sites) - lost)


def _thin_remarks(plans: Sequence[Plan], least: Mm, radius: Mm, first: int) -> list[Finding]:
    """Return thin webs of the pieces and thin walls between the pockets."""
    findings: list[Finding] = []
    names: list[str] = []
    pockets: list[shapely.Polygon] = []
    for plan in plans:
        webs = thin_webs(plan.seam, least) if least > 2 * radius else []  # the seam is a union of discs of the bit
        findings += web_remarks(webs, plan.names, least, first=first + len(findings))
        parts = polygons_of(plan.seam)
        pockets += parts
        names += [plan.names] * len(parts)
    return findings + wall_remarks(thin_walls(pockets, least), names, least, first=first + len(findings))


def _smallest_width(shapes: Shapes, drawing: Drawing, findings: Sequence[Finding]) -> tuple[Mm | None, str]:
    """Return the smallest width that this cutter can cut, or None and why."""
    if any(finding.kind in {"sharp-corner", "inner-corner"} for finding in findings):
        return None, "sharp corners never go away by scaling: round them, or accept them softened"
    scale = shapes.smallest_scale
    if scale is None or scale > MOST_SCALE:
        return None, "at no size up to fifty times as large does this cutter stay within the tolerance"
    return drawing.size[0] * scale, ""
