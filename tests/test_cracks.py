"""A crack between two regions: under ten micrometres nobody drew it, and wider it is a slot like any other."""

from __future__ import annotations

import pytest
import shapely

import inlayfit
from inlayfit.drawing import Drawing, Region
from tests.judge import Asked, judge


def with_crack(ends: float, middle: float, length: float) -> Drawing:
    """Return two plates of different colours that touch but for a crack of these widths, `length` long."""
    crack = shapely.Polygon(
        [
            (-length / 2, -ends / 2),
            (0, -middle / 2),
            (length / 2, -ends / 2),
            (length / 2, ends / 2),
            (0, middle / 2),
            (-length / 2, ends / 2),
        ]
    )
    lower, upper = shapely.box(-5, -4, 5, 0) - crack, shapely.box(-5, 0, 5, 4) - crack
    regions = (
        Region(polygon=lower, name="lower", colour="#204060"),
        Region(polygon=upper, name="upper", colour="#c0a060"),
    )
    return Drawing(source="crack.svg", regions=regions)


CRACKS = [
    (0.009, 0.009, 2.0, "note"),
    (0.011, 0.011, 2.0, "loss"),
    (0.009, 0.011, 2.0, "loss"),
    (0.0, 0.0105, 0.3, "loss"),
    (0.0, 0.0095, 0.3, "note"),
]
"""Widths at the ends and in the middle, mm, length, and the gravest word about it."""


@pytest.mark.parametrize(("ends", "middle", "length", "gravest"), CRACKS)
def test_a_crack_is_a_note_under_ten_micrometres_and_a_loss_above(
    ends: float, middle: float, length: float, gravest: str
) -> None:
    drawing = with_crack(ends, middle, length)
    fit = inlayfit.fit(drawing, piece_cutter=0.79375, pocket_cutter=1.0, gap=0.05, gap_from="shared")
    here = [finding for finding in fit.findings if abs(finding.y) < 0.1 and abs(finding.x) < 1.5]
    assert ("loss" in {finding.severity for finding in here}) == (gravest == "loss")
    assert here
    assert not judge(
        fit, drawing, Asked(piece_radius=0.396875, pocket_radius=0.5, gap=0.05, gap_from="shared")
    ).failures
