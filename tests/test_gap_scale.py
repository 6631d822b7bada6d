"""The colours of a gap: what was asked for in the middle, what touches apart, no stretch of seam left out."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from inlayfit.gap import EVEN, GapAlong, gap_along, told
from inlayfit.write.gap_scale import CIVIDIS, TOUCHING, GapScale, scale_for, seam_runs

ASKED = 0.05


def along(gaps: list[float], rings: list[int] | None = None, asked: float = ASKED) -> GapAlong:
    """Return samples on a circle of radius 10 mm, one ring unless `rings` says otherwise."""
    turn = np.linspace(0, 2 * np.pi, len(gaps), endpoint=False)
    return GapAlong(
        points=10 * np.column_stack([np.cos(turn), np.sin(turn)]),
        gaps=np.array(gaps),
        off=np.array(gaps) - asked,
        joint=np.zeros(len(gaps), dtype=np.bool_),
        weights=np.full(len(gaps), 20 * np.pi / len(gaps)),
        rings=np.array(rings or [0] * len(gaps)),
    )


def test_the_colours_rise_in_lightness_and_are_told_apart_without_colour() -> None:
    """CIE L* by the sRGB standard (IEC 61966-2-1); steps of at least 5 are told apart side by side (from memory)."""
    channels = np.array([[int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)] for colour in CIVIDIS])
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    lightness = 116 * np.cbrt(linear @ [0.2126, 0.7152, 0.0722]) - 16
    assert np.all(np.diff(lightness) > 5)


@pytest.mark.parametrize(
    ("farthest", "low", "high"), [(0.0, 0.03, 0.07), (0.016, 0.03, 0.07), (0.03, 0.0, 0.1), (3.0, 0.0, 0.1)]
)
def test_the_scale_reaches_as_far_as_the_gaps_but_not_below_nought(farthest: float, low: float, high: float) -> None:
    scale = scale_for([along([0.05, 0.05 + farthest, 0.05])], ASKED)
    assert scale.ends == pytest.approx((low, high))


def test_what_counts_as_even_has_the_colour_of_the_middle() -> None:
    scale = GapScale(asked=ASKED, reach=0.02)
    off = 0.9 * EVEN
    assert scale.steps_of(along([ASKED - off, ASKED, ASKED + off])).tolist() == [5, 5, 5]
    assert scale.steps_of(along([0.03, 0.0, -0.01, 9.0])).tolist() == [0, TOUCHING, TOUCHING, 10]


def test_a_joint_that_is_as_wide_as_asked_is_even_too() -> None:
    joint = along([0.1, 0.1], asked=0.1)
    assert scale_for([joint], ASKED).steps_of(joint).tolist() == [5, 5]


def test_a_gap_of_nought_that_was_asked_for_has_a_scale_too() -> None:
    low, high = scale_for([along([0.0, 0.001], asked=0.0)], 0.0).ends
    assert low < 0 < high


@pytest.mark.parametrize("gaps", [[0.05] * 40, [0.05] * 30 + [0.068] * 10, [0.05, 0.068] * 20])
def test_the_runs_of_a_seam_go_all_round_it(gaps: list[float]) -> None:
    runs = seam_runs(along(gaps), GapScale(asked=ASKED, reach=0.02))
    length = sum(shapely.LineString(points).length for _, points in runs)
    chords = shapely.LinearRing(along(gaps).points).length
    assert length == pytest.approx(chords, rel=1e-3)
    ends = [tuple(points[-1]) for _, points in runs]
    starts = [tuple(points[0]) for _, points in runs]
    assert ends == [*starts[1:], starts[0]], "each begins where the one before ends"


def test_what_is_told_of_a_seam_holds_its_least_and_its_most() -> None:
    rng = np.random.default_rng(4)
    found = along((0.05 + 0.01 * rng.standard_normal(3000)).tolist(), [0] * 2000 + [1] * 1000)
    rings = told(found)
    samples = np.vstack(rings)
    assert len(rings) == 2
    assert samples[:, 2].min() == found.gaps.min()
    assert samples[:, 2].max() == found.gaps.max()
    assert len(samples) < 700
    every = np.column_stack([found.points, found.gaps])
    assert all((every == sample).all(axis=1).any() for sample in samples), "none is made up"


def test_no_long_stretch_of_a_seam_goes_untold() -> None:
    square = shapely.box(0, 0, 20, 20)
    (ring,) = told(gap_along(square.buffer(-ASKED, join_style="mitre"), square, [], ASKED, ASKED))
    assert np.hypot(*np.diff(ring[:, :2], axis=0).T).max() < 1.0
