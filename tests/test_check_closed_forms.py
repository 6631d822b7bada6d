"""What `inlayfit.check` says of shapes whose answers are known in closed form: plain geometry, formulas beside."""

from __future__ import annotations

import math

import pytest
import shapely

import inlayfit
from inlayfit.drawing import Drawing
from inlayfit.findings import Finding
from tests import shapes

TOLERANCE = 0.05
LENGTH = 0.0005
"""mm: what a reach may be off by for a radius that is right."""
MARGIN = 0.001
"""mm: the seam is made for radii larger by this, so that it never fails its own check on the last digit."""


PENTAGRAM_FILLED = 5 * (1 / math.tan(math.radians(54)) - 0.2 * math.pi)


def corner(angle_deg: float, radius: float = 0.5) -> float:
    """Return the reach in a corner, r (1/sin(t/2) - 1)."""
    return radius * (1 / math.sin(math.radians(angle_deg / 2)) - 1)


def as_corner(angle_deg: float, radius: float = 0.5) -> object:
    """Return what a reported reach must equal: no less than the closed form, no more than the margin makes of it."""
    least, most = corner(angle_deg, radius), corner(angle_deg, radius + MARGIN)
    return pytest.approx((least + most) / 2, abs=(most - least) / 2 + LENGTH)


def near(findings: tuple[Finding, ...], x: float, y: float, within: float = 1.5) -> list[Finding]:
    return [finding for finding in findings if math.hypot(finding.x - x, finding.y - y) <= within]


def check(*polygons: shapely.Polygon, cutter: str = "1mm") -> inlayfit.checker.Check:
    drawing: Drawing = shapes.drawing_of(*polygons)
    return inlayfit.check(drawing, cutter=cutter, tolerance=TOLERANCE)


def test_a_square_is_softened_at_four_corners_and_says_by_how_much() -> None:
    """Reach r (sqrt2 - 1), area (4 - pi) r^2 / 4 a corner, largest bit 2 tol / (sqrt2 - 1)."""
    answer = check(shapes.square(10))
    assert answer.verdict == "softened"
    assert sorted((round(f.x), round(f.y)) for f in answer.findings) == [(0, 0), (0, 10), (10, 0), (10, 10)]
    for finding in answer.findings:
        assert finding.severity == "warning"
        assert finding.reach_mm == as_corner(90)
        assert finding.area_mm2 == pytest.approx((1 - math.pi / 4) * 0.25, rel=0.01)
    assert answer.largest_bit == pytest.approx(2 * TOLERANCE / (math.sqrt(2) - 1), abs=MARGIN)


@pytest.mark.parametrize(
    "shape", [shapes.square(10), shapes.regular(6, 8), shapes.wedge(40, 20)], ids=["square", "hexagon", "wedge"]
)
def test_the_largest_bit_is_the_largest_that_cuts_as_drawn(shape: shapely.Polygon) -> None:
    largest = check(shape).largest_bit
    assert largest is not None
    assert check(shape, cutter=f"{largest - MARGIN:.6f}mm").verdict == "as drawn"
    assert check(shape, cutter=f"{largest + 0.004:.6f}mm").verdict != "as drawn"


@pytest.mark.parametrize("angle_deg", [20, 30, 45, 58, 62, 75, 90, 110])
def test_a_tip_is_lost_below_60_degrees_and_softened_above(angle_deg: int) -> None:
    """Reach r (1/sin(t/2) - 1), which is one bit radius at 60 degrees."""
    tips = near(check(shapes.wedge(angle_deg, 20)).findings, 0, 0)
    deepest = max(tips, key=lambda tip: tip.reach_mm or 0)
    assert deepest.reach_mm == as_corner(angle_deg)
    assert deepest.severity == ("loss" if angle_deg < 60 else "warning")


def test_a_pentagram_loses_its_tips_and_names_its_notches() -> None:
    """Tips of 36 degrees, 1/sin 18 - 1 = sqrt5: largest bit 2 tol / sqrt5. Notches are 108 degrees outside."""
    answer = check(shapes.pentagram(12))
    assert answer.verdict == "loses detail"
    tips = [finding for finding in answer.findings if finding.severity == "loss"]
    assert len(tips) == len({finding.site for finding in tips}) == 5
    assert [finding.reach_mm for finding in tips] == [as_corner(36)] * 5
    notches = [finding for finding in answer.findings if finding.part == "piece"]
    assert [finding.severity for finding in notches] == ["warning"] * 5
    assert [finding.reach_mm for finding in notches] == [as_corner(108)] * 5
    assert answer.largest_bit == pytest.approx(2 * TOLERANCE / math.sqrt(5), abs=MARGIN)


def test_a_slot_5_um_wider_than_the_bit_is_cut_and_one_narrower_is_lost() -> None:
    wide, narrow = check(shapes.bar(12, 1.005)), check(shapes.bar(12, 0.995))
    assert wide.verdict == "softened"
    assert narrow.verdict == "loses detail"


def nestled(width: float, depth: float, radius: float) -> float:
    """Return the reach at the tip of a dead end that is too narrow, where its mouth is rounded for the other cutter.

    A disc enters until it touches both rounds of the mouth, its centre x behind it: x = r - sqrt(4 r^2 - (w/2 + r)^2).
    With mouth corners as drawn it would stop at the corners, and the reach of 0.8, 7, 0.5 be 6.8109 in place of 6.4475.
    """
    x = radius - math.sqrt(4 * radius**2 - (width / 2 + radius) ** 2)
    return math.hypot(depth - x, width / 2) - radius


def test_a_limb_too_narrow_is_one_site_with_the_reach_of_its_tip() -> None:
    answer = check(shapes.block_with_limb(0.8, 7))
    losses = [finding for finding in answer.findings if finding.severity == "loss"]
    assert len({finding.site for finding in losses}) == 1
    assert max(finding.reach_mm or 0 for finding in losses) == pytest.approx(nestled(0.8, 7, 0.5), abs=2 * MARGIN)
    for x in (20.5, 23.0, 26.5):
        assert near(answer.findings, x, 10), f"no mark within 1.5 mm of x = {x}"


def test_a_cleft_too_narrow_is_a_loss_of_the_piece() -> None:
    answer = check(shapes.block_with_cleft(0.8, 7))
    losses = [finding for finding in answer.findings if finding.severity == "loss"]
    assert {finding.part for finding in losses} == {"piece"}
    assert max(finding.reach_mm or 0 for finding in losses) == pytest.approx(nestled(0.8, 7, 0.5), abs=2 * MARGIN)


def test_a_cleft_5_um_wider_than_the_bit_is_cut_and_one_narrower_is_filled() -> None:
    wide, narrow = (check(shapes.block_with_cleft(width, 7)) for width in (1.005, 0.995))
    assert wide.verdict == "softened"
    assert narrow.verdict == "loses detail"


@pytest.mark.parametrize(("width", "cut"), [(1.01, True), (0.99, False)])
def test_a_neck_under_the_bit_is_a_loss_and_one_over_it_is_none(width: float, cut: bool) -> None:
    bells = [shapely.box(x, 0, x + 8, 8) for x in (0, 14)]
    answer = check(shapely.union_all([*bells, shapely.box(7, 4 - width / 2, 15, 4 + width / 2)]))
    losses = [finding for finding in near(answer.findings, 11, 4, within=3.0) if finding.severity == "loss"]
    assert (not losses) is cut


def test_the_width_at_which_a_stadium_can_be_cut() -> None:
    """Ten by 0.8 mm with round ends: a bit of 1 mm needs it 1 / 0.8 times as large, 12.5 mm wide."""
    stadium = shapely.LineString([(0.4, 0), (9.6, 0)]).buffer(0.4, quad_segs=200)
    answer = check(stadium)
    assert answer.verdict == "loses detail"
    assert answer.smallest_width == pytest.approx(12.5, abs=0.02)
    assert answer.largest_bit == pytest.approx(0.8, abs=0.002)
    assert check(shapely.affinity.scale(stadium, 1.26, 1.26)).verdict == "as drawn"


def test_sharp_corners_never_go_away_with_size_and_the_note_says_so() -> None:
    answer = check(shapes.square(10))
    assert answer.smallest_width is None
    assert answer.scaling_note


@pytest.mark.parametrize(
    ("shape", "lost", "filled"),
    [
        (shapes.square(10), 4 - math.pi, 0.0),
        (shapes.pentagram(30), 5 * (1 / math.tan(math.radians(18)) - 0.4 * math.pi), PENTAGRAM_FILLED),
    ],
    ids=["square: (4 - pi) r^2", "pentagram: 5 r^2 (cot 18 - 0.4 pi), filled 5 r^2 (cot 54 - 0.2 pi)"],
)
def test_every_rung_tells_the_area_that_its_corners_lose(shape: shapely.Polygon, lost: float, filled: float) -> None:
    """Right to 2 %, and to the thinning of the outline along what is left."""
    for rung in check(shape).ladder:
        assert rung.area_lost_mm2 == pytest.approx(lost * rung.diameter**2 / 4, rel=0.02, abs=0.001)
        assert rung.area_filled_mm2 == pytest.approx(filled * rung.diameter**2 / 4, rel=0.02, abs=0.001)
