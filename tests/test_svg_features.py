"""Every feature of SVG that changes what is painted: against closed forms, and against a renderer by other hands."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

from inlayfit.drawing import CURVE_TOLERANCE
from inlayfit.read import read_drawing
from tests.svg_features import FEATURES, Feature
from tests.svg_judge import pixels_as_read, pixels_of_file, share_beyond_edges, share_that_differs

JUDGED = [feature for feature in FEATURES if feature.judged]
WIDTH = 1024  # px
MOST = 0.005
"""Share of painted pixels that may differ; on small shapes, where edges are a large share, in proportion more."""


def _file(feature: Feature, folder: Path) -> Path:
    path = folder / "feature.svg"
    path.write_text(feature.text)
    return path


@pytest.mark.parametrize("feature", FEATURES, ids=lambda feature: feature.name)
def test_areas_and_colours_are_those_of_the_closed_form(feature: Feature, tmp_path: Path) -> None:
    regions = read_drawing(_file(feature, tmp_path)).regions
    drawn = [
        (colour, list(group))
        for (colour, _), group in itertools.groupby(regions, lambda one: (one.colour, one.element))
    ]
    if len(set(feature.painted)) == 1 < len(feature.painted):  # markers: the same shape again and again
        drawn = [(region.colour, [region]) for region in regions]
    assert [colour for colour, _ in drawn] == [colour for colour, _ in feature.painted]
    for (_, group), (_, area) in zip(drawn, feature.painted, strict=True):
        # chords lie within the tolerance of the curve: the area is off by that times the length of the boundary at most
        slack = CURVE_TOLERANCE * sum(region.polygon.length for region in group) + 1e-6
        assert sum(region.polygon.area for region in group) == pytest.approx(area, abs=slack)


@pytest.mark.parametrize("feature", FEATURES, ids=lambda feature: feature.name)
def test_regions_are_valid_and_named_apart(feature: Feature, tmp_path: Path) -> None:
    regions = read_drawing(_file(feature, tmp_path)).regions
    assert all(region.polygon.is_valid and region.polygon.area > 0 for region in regions)
    assert len({region.name for region in regions}) == len(regions)


@pytest.mark.parametrize("feature", JUDGED, ids=lambda feature: feature.name)
def test_a_renderer_paints_the_same(feature: Feature, tmp_path: Path) -> None:
    path = _file(feature, tmp_path)
    theirs = pixels_of_file(path, WIDTH)
    ours, _ = pixels_as_read(path, theirs.shape[:2])
    assert share_beyond_edges(theirs, ours) == 0
    painted = (theirs[..., 3] >= 128).mean()
    assert share_that_differs(theirs, ours) <= MOST * max(1.0, 0.02 / painted)


def test_the_judge_sees_a_difference(tmp_path: Path) -> None:
    one, two = (next(feature for feature in FEATURES if feature.name == name) for name in ("clip", "mask, white"))
    a = pixels_of_file(_file(one, tmp_path), 512)
    b = pixels_of_file(_file(FEATURES[0], tmp_path), 512)
    c = pixels_of_file(_file(two, tmp_path), 512)
    assert share_that_differs(a, b) > 0.4
    assert share_beyond_edges(a, b) > 0.4
    assert share_that_differs(a, c) < MOST
