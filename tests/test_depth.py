"""Pockets are as deep as the sheet of their pieces asks, in steps where neighbours differ, and leave wood below."""

from __future__ import annotations

from pathlib import Path

import pytest
import shapely

import inlayfit
from inlayfit.cutters import Bit
from inlayfit.depth import DepthAsked
from inlayfit.drawing import Drawing, Region
from inlayfit.errors import InlayfitError, JobError
from inlayfit.half_sheets import sheets_of
from inlayfit.job import Job, read_job
from inlayfit.recipe import Fit
from inlayfit.stocks import Stock
from inlayfit.wood_part import WoodPart
from tests.shapes import mosaic
from tests.swept import as_cut_pocket


def tiles(*polygons: shapely.Polygon) -> Drawing:
    regions = tuple(Region(polygon=area, name=f"tile-{n}", layer=f"tile-{n}") for n, area in enumerate(polygons))
    return Drawing(source="tiles.svg", regions=regions)


def fitted(drawing: Drawing, *thicknesses: float | None, **asked: object) -> Fit:
    """Fit a drawing, each tile of a stock of its own, with these thicknesses in turn."""
    stocks = tuple(
        Stock(name=region.name, thickness=thicknesses[n % len(thicknesses)], layers=(region.layer,))
        for n, region in enumerate(drawing.regions)
    )
    usual = {"piece_cutter": 0.8, "pocket_cutter": 0.8, "gap": 0.05, "stocks": stocks}
    return inlayfit.fit(drawing, **usual | asked)


HALVES = (shapely.box(0, 0, 8, 8), shapely.box(8, 0, 20, 8))


def test_depth_is_thickness_less_proud_and_with_the_bed_of_glue() -> None:
    fit = fitted(tiles(HALVES[0]), 1.5, depth=DepthAsked(proud=0.2, bed=0.05))
    assert [zone.depth for zone in fit.pockets[0].zones] == [pytest.approx(1.35)]
    assert fit.pockets[0].depth == pytest.approx(1.35)
    assert fit.pockets[0].zones[0].outline.equals(fit.pockets[0].outline)


def test_pieces_of_one_thickness_have_one_floor() -> None:
    fit = fitted(tiles(*HALVES), 1.5)
    assert [(zone.depth, zone.pieces) for zone in fit.pockets[0].zones] == [(1.5, (0, 1))]


def test_without_a_thickness_no_depth_is_told() -> None:
    fit = fitted(tiles(*HALVES), None)
    assert fit.pockets[0].zones == ()
    assert fit.pockets[0].depth is None
    assert not [finding for finding in fit.findings if finding.kind == "unknown-depth"]


def test_a_thickness_that_is_missing_beside_others_is_told() -> None:
    fit = fitted(tiles(*HALVES), 1.5, None)
    assert fit.pockets[0].zones == ()
    told = [finding for finding in fit.findings if finding.kind == "unknown-depth"]
    assert len(told) == 1
    assert "tile-1" in told[0].message


def test_the_deeper_half_is_a_step_that_its_piece_drops_into_with_the_gap_all_round() -> None:
    fit = fitted(tiles(*HALVES), 1.0, 1.6)
    shallow, deep = fit.pockets[0].zones
    assert (shallow.depth, deep.depth) == (1.0, 1.6)
    assert (shallow.pieces, deep.pieces) == ((0,), (1,))
    thick = fit.pieces[1].outline
    assert deep.outline.contains(thick)
    assert deep.outline.distance(shapely.box(0, 0, 7, 8)) > 0
    straight = thick.intersection(shapely.box(7, 2, 9, 6))
    assert deep.outline.boundary.distance(straight) == pytest.approx(0.05, abs=0.002)
    assert deep.outline.difference(fit.pockets[0].outline).area < 0.001 * deep.outline.length


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("bit", [0.5, 1.5875])
def test_each_zone_of_a_mosaic_is_as_its_path_leaves_it_and_holds_its_pieces(seed: int, bit: float) -> None:
    """Swept by another engine (Clipper 1): within the pocket, nested, and no piece stands on a step.

    Walls that two paths share may differ by 1 um: each path is within 0.5 um.
    """
    fit = fitted(tiles(*mosaic(seed)), 1.0, 1.3, 1.7, pocket_cutter=bit)
    for pocket in fit.pockets:
        assert pocket.zones
        for zone, following in zip(pocket.zones, [*pocket.zones[1:], None], strict=True):
            cut = as_cut_pocket(zone.path, Bit(diameter=bit).radius)
            assert cut.symmetric_difference(zone.outline).area < 0.001 * zone.outline.length
            assert zone.outline.difference(pocket.outline).area < 0.001 * zone.outline.length
            for index in zone.pieces:
                assert fit.pieces[index].outline.difference(zone.outline).area < 1e-4
            if following is not None:
                assert following.depth > zone.depth
                assert following.outline.difference(zone.outline).area < 0.001 * zone.outline.length


@pytest.mark.parametrize(("thickness", "kind"), [(3.0, None), (2.2, "thin-floor"), (1.5, "through-part")])
def test_too_little_wood_below_is_told(thickness: float, kind: str | None) -> None:
    fit = fitted(tiles(HALVES[0]), 1.5, part=WoodPart(thickness=thickness, least_floor=1.0))
    told = [finding for finding in fit.findings if finding.kind in {"thin-floor", "through-part"}]
    assert [finding.kind for finding in told] == ([kind] if kind else [])
    assert all(finding.size_mm == pytest.approx(thickness - 1.5) for finding in told)


def test_a_sheet_that_stands_proud_by_all_of_its_thickness_is_refused() -> None:
    with pytest.raises(JobError, match="would need no pocket") as error:
        fitted(tiles(HALVES[0]), 1.0, depth=DepthAsked(proud=1.0))
    assert error.value.where == "depth.proud"


def test_the_steps_stand_on_layers_of_their_own_with_their_depth() -> None:
    sheet = sheets_of(fitted(tiles(*HALVES), 1.0, 1.6))[-1]
    assert {"STEP_OUTLINE", "STEP_PATH"} <= set(sheet.layer_names)
    assert {label[3] for label in sheet.labels} == {"tile-0, tile-1 1 mm", "1.6 mm"}
    assert "STEP_PATH" not in sheets_of(fitted(tiles(*HALVES), 1.0))[-1].layer_names


def job(text: str) -> Job:
    return read_job(f'[drawing]\nfile = "a.svg"\n{text}', source="a.toml", folder=Path())


def test_the_job_gives_proud_and_bed() -> None:
    assert job('[depth]\nproud = "0.1mm"\nbed = "2thou"').depth == DepthAsked(proud=0.1, bed=0.0508)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("bed = -1", "depth.bed"),
        ('proud = "x"', "depth.proud"),
        ("prod = 1", "depth.prod"),
        ("bed = true", "depth.bed"),
    ],
)
def test_what_is_wrong_with_a_depth_is_named_by_its_key(text: str, key: str) -> None:
    with pytest.raises(InlayfitError) as error:
        job(f"[depth]\n{text}")
    assert error.value.where == f"a.toml: {key}"
    assert error.value.remedy
