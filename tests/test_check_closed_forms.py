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
LENGTH = 0.001
"""mm: what a reach or a largest bit may be off by."""


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
        assert finding.reach_mm == pytest.approx(0.5 * (math.sqrt(2) - 1), abs=LENGTH)
        assert finding.area_mm2 == pytest.approx((1 - math.pi / 4) * 0.25, rel=0.01)
    assert answer.largest_bit == pytest.approx(2 * TOLERANCE / (math.sqrt(2) - 1), abs=LENGTH)


@pytest.mark.parametrize(("cutter", "verdict"), [("0.24mm", "as drawn"), ("0.25mm", "softened")])
def test_a_square_is_as_drawn_up_to_its_largest_bit(cutter: str, verdict: str) -> None:
    """2 tol / (sqrt2 - 1) = 0.2414 mm."""
    assert check(shapes.square(10), cutter=cutter).verdict == verdict


@pytest.mark.parametrize("angle_deg", [20, 30, 45, 58, 62, 75, 90, 110])
def test_a_tip_is_lost_below_60_degrees_and_softened_above(angle_deg: int) -> None:
    """Reach r (1/sin(t/2) - 1), which is one bit radius at 60 degrees."""
    tips = near(check(shapes.wedge(angle_deg, 20)).findings, 0, 0)
    reach = 0.5 * (1 / math.sin(math.radians(angle_deg / 2)) - 1)
    assert max(tip.reach_mm or 0 for tip in tips) == pytest.approx(reach, abs=LENGTH)
    assert {tip.severity for tip in tips} == {"loss" if angle_deg < 60 else "warning"}


def test_a_pentagram_loses_its_tips_and_names_its_notches() -> None:
    """Tips of 36 degrees: reach r sqrt5, largest bit 2 tol / sqrt5. Notches, 108 outside: r (1/sin 54 - 1)."""
    answer = check(shapes.pentagram(12))
    assert answer.verdict == "loses detail"
    losses = [finding for finding in answer.findings if finding.severity == "loss"]
    assert {finding.site for finding in losses} == {finding.site for finding in answer.findings if finding.y > 8} | {
        finding.site for finding in losses
    }
    assert len({finding.site for finding in losses}) == 5
    for site in {finding.site for finding in losses}:
        reach = max(finding.reach_mm or 0 for finding in losses if finding.site == site)
        assert reach == pytest.approx(0.5 * math.sqrt(5), abs=LENGTH)
    notches = [finding for finding in answer.findings if finding.severity == "warning"]
    assert len(notches) == 5
    for notch in notches:
        assert notch.reach_mm == pytest.approx(0.5 * (1 / math.sin(math.radians(54)) - 1), abs=LENGTH)
    assert answer.largest_bit == pytest.approx(2 * TOLERANCE / math.sqrt(5), abs=LENGTH)


def test_a_slot_5_um_wider_than_the_bit_is_cut_and_one_narrower_is_lost() -> None:
    wide, narrow = check(shapes.bar(12, 1.005)), check(shapes.bar(12, 0.995))
    assert wide.verdict == "softened"
    assert narrow.verdict == "loses detail"


def test_a_limb_too_narrow_is_one_site_with_the_reach_of_its_tip() -> None:
    """With s = sqrt(r^2 - w^2/4): reach sqrt((L + s)^2 + w^2/4) - r = 6.8109 mm, area 5.4882 mm2."""
    answer = check(shapes.block_with_limb(0.8, 7))
    losses = [finding for finding in answer.findings if finding.severity == "loss"]
    assert len({finding.site for finding in losses}) == 1
    assert max(finding.reach_mm or 0 for finding in losses) == pytest.approx(6.8109, abs=LENGTH)
    assert max(finding.area_mm2 or 0 for finding in losses) == pytest.approx(5.4882, rel=0.01)
    for x in (20.5, 23.0, 26.5):
        assert near(tuple(losses), x, 10), f"no mark within 1.5 mm of x = {x}"


def test_a_cleft_too_narrow_is_a_loss_of_the_piece() -> None:
    answer = check(shapes.block_with_cleft(0.8, 7))
    losses = [finding for finding in answer.findings if finding.severity == "loss"]
    assert {finding.part for finding in losses} == {"piece"}
    assert max(finding.reach_mm or 0 for finding in losses) == pytest.approx(6.8109, abs=LENGTH)


def test_a_cleft_5_um_wider_than_the_bit_is_cut_and_one_narrower_is_filled() -> None:
    wide, narrow = (check(shapes.block_with_cleft(width, 7)) for width in (1.005, 0.995))
    assert wide.verdict == "softened"
    assert narrow.verdict == "loses detail"


@pytest.mark.parametrize(("waist", "cut"), [(1.01, True), (0.99, False)])
def test_an_hourglass_splits_where_its_waist_is_under_the_bit(waist: float, cut: bool) -> None:
    """The waist is 2 sqrt(R^2 - c^2); the notches beside it have rounded ends of 2 acos(c / R) < 180 degrees each."""
    radius = 5.0
    answer = check(shapes.hourglass(radius, math.sqrt(radius**2 - waist**2 / 4)))
    middle = near(answer.findings, 0, 0, within=1.5)
    assert any(finding.part == "pocket" for finding in middle) is not cut


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
