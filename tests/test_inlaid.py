"""A piece within a piece goes through to the wood, or into a pocket of its own in the piece round it."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

import inlayfit
from inlayfit.arcs import flatten_ring
from inlayfit.blank_sheets import blank_sheets
from inlayfit.blanks import Blank
from inlayfit.cli.folder import shown_sheet
from inlayfit.cutters import Bit
from inlayfit.depth import DepthAsked
from inlayfit.drawing import Drawing, Region
from inlayfit.errors import JobError
from inlayfit.half_sheets import sheets_of
from inlayfit.layout import lay_out
from inlayfit.recipe import Fit
from inlayfit.stocks import Stock
from tests.judge import Asked, failure_lines, judge
from tests.shapes import disc, square

BIRD = square(20)
EYE = disc(2, 8, 8)
SHELL = Stock(name="shell", thickness=1.5, cutter=Bit(diameter=0.8), layers=("shell",))


def fitted(eye: shapely.Polygon = EYE, bird: shapely.Polygon = BIRD, *, inlaid: str = "piece", **asked: object) -> Fit:
    regions = (
        Region(polygon=bird, name="bird", layer="shell", colour="#e9e0cb"),
        Region(polygon=eye, name="eye", layer="ebony", colour="#1c1a19"),
    )
    stocks = (
        SHELL,
        Stock(name="ebony", kind="wood", thickness=0.8, cutter=Bit(diameter=0.5), layers=("ebony",), inlaid=inlaid),
    )
    drawing = Drawing(source="bird.svg", regions=regions)
    return inlayfit.fit(drawing, pocket_cutter=0.8, gap=0.05, stocks=stocks, **asked)


def kinds(fit: Fit) -> set[str]:
    return {finding.kind for finding in fit.findings}


@pytest.mark.parametrize("bird", [BIRD, shapely.difference(BIRD, EYE)], ids=["under it", "with a hole for it"])
def test_an_eye_that_is_let_in_has_a_pocket_in_the_bird_which_stays_whole(bird: shapely.Polygon) -> None:
    fit = fitted(bird=bird)
    assert [piece.name for piece in fit.pieces] == ["bird", "eye"]
    whole, eye = fit.pieces
    assert not whole.outline.interiors
    assert [(pocket.name, pocket.host) for pocket in fit.pockets] == [("bird", None), ("eye", 0)]
    inner = fit.pockets[1].outline
    assert whole.outline.contains(inner)
    assert inner.contains(eye.outline)
    assert eye.outline.area == pytest.approx(3.14159265 * 1.95**2, rel=1e-3)
    assert (eye.gap.min, eye.gap.max) == (pytest.approx(0.05, abs=0.002), pytest.approx(0.05, abs=0.002))


def test_an_eye_that_goes_through_shares_the_pocket_and_leaves_a_hole() -> None:
    fit = fitted(inlaid="wood")
    assert len(fit.pockets) == 1
    assert fit.pockets[0].host is None
    assert len(fit.pieces[0].outline.interiors) == 1


def test_its_depth_is_that_of_its_own_sheet_on_the_bed_flush_with_the_bird() -> None:
    fit = fitted(depth=DepthAsked(proud=0.1, bed=0.05))
    assert [pocket.depth for pocket in fit.pockets] == [pytest.approx(1.45), pytest.approx(0.85)]


def test_the_pocket_in_the_bird_stands_on_the_sheet_of_its_stock() -> None:
    sheets = {sheet.name: sheet for sheet in sheets_of(fitted())}
    assert set(sheets["pieces-shell"].layer_names) >= {"PIECE_OUTLINE", "POCKET_OUTLINE", "POCKET_PATH"}
    assert "POCKET_PATH" not in sheets["pieces-ebony"].layer_names
    assert len(sheets["pockets"].layers["POCKET_OUTLINE"]) == 1
    assert len(shown_sheet(list(sheets.values())).layers["POCKET_OUTLINE"]) == 2


@pytest.mark.parametrize(("cut_from", "pockets"), [("front", 1), ("back", 0)])
def test_a_blank_carries_the_pocket_in_its_piece_unless_that_lies_face_down(cut_from: str, pockets: int) -> None:
    fit = fitted()
    shell = replace(SHELL, cut_from=cut_from)
    blank = Blank(name="shell 1", stock="shell", outline=shapely.box(0, 0, 30, 30), clearance=0.5, margin=1.5)
    layout = lay_out(fit.pieces, [blank], [shell], {"shell": shell.cutter})
    (sheet,) = blank_sheets(layout, fit, ["blank"])
    lying = [shapely.Polygon(flatten_ring(ring, 1e-4)) for ring in sheet.layers.get("POCKET_OUTLINE", ())]
    assert len(lying) == pockets
    piece = shapely.Polygon(flatten_ring(sheet.layers["PIECE_OUTLINE"][0], 1e-4))
    for pocket in lying:
        assert pocket.area == pytest.approx(fit.pockets[1].outline.area, abs=1e-3)
        there = fit.pieces[0].outline.centroid.distance(fit.pockets[1].outline.centroid)
        assert piece.centroid.distance(pocket.centroid) == pytest.approx(there, abs=1e-4)


def test_a_pocket_near_the_edge_of_the_bird_is_told_with_the_distance() -> None:
    """The eye's pocket ends at x = 0.4, the bird's edge lies at 0.05: 0.35 mm are left, 0.6 mm are asked for."""
    told = [finding for finding in fitted(disc(2, 2.4, 8)).findings if finding.kind == "thin-rim"]
    assert [finding.size_mm for finding in told] == [pytest.approx(0.35, abs=0.002)]
    assert told[0].name == "eye"
    assert "of bird" in told[0].message


def test_an_eye_that_hangs_over_the_edge_goes_into_the_wood_and_is_told() -> None:
    fit = fitted(disc(2, 1, 8))
    assert "not-let-in" in kinds(fit)
    assert all(pocket.host is None for pocket in fit.pockets)


def test_a_pocket_through_the_bird_is_told() -> None:
    assert "through-piece" not in kinds(fitted())
    assert "through-piece" in kinds(fitted(depth=DepthAsked(bed=0.7)))


def test_both_levels_keep_every_promise_to_other_eyes() -> None:
    fit = fitted()
    asked = Asked(piece_radius=0.4, pocket_radius=0.4, gap=0.05, radii={"shell": 0.4, "ebony": 0.25})
    verdict = judge(fit, fit.drawing, asked)
    kept = [failure for failure in verdict.failures if failure.kind != "material"]  # the shell goes on under the eye
    assert not kept, failure_lines(kept)
    assert verdict.even_share_everywhere == 1.0


@pytest.mark.parametrize("corners", ["match", "sharp"])
def test_a_square_eye_drops_into_its_pocket_whatever_the_corners(corners: str) -> None:
    fit = fitted(shapely.box(6, 6, 10, 10), corners=corners)
    assert all(piece.drops_in for piece in fit.pieces)
    assert fit.pieces[1].gap.max < 0.3


def two_eyes(**asked: object) -> Fit:
    """Return a bird with an eye of ebony on either side, and a pupil of its own shell in the left one's place."""
    regions = (
        Region(polygon=BIRD, name="bird", layer="shell", colour="#e9e0cb"),
        Region(polygon=disc(2, 5, 12), name="eye left", layer="ebony", colour="#1c1a19"),
        Region(polygon=disc(2, 15, 12), name="eye right", layer="ebony", colour="#1c1a19"),
        Region(polygon=disc(2, 10, 5), name="crop", layer="shell", colour="#e9e0cb"),
    )
    stocks = (
        replace(SHELL, let_in=asked.pop("shell", ())),
        Stock(
            name="ebony",
            kind="wood",
            thickness=0.8,
            cutter=Bit(diameter=0.5),
            layers=("ebony",),
            let_in=asked.pop("ebony", ()),
            inlaid=asked.pop("inlaid", "wood"),
        ),
    )
    drawing = Drawing(source="bird.svg", regions=regions)
    return inlayfit.fit(drawing, pocket_cutter=0.8, gap=0.05, stocks=stocks, **asked)


def hosts(fit: Fit) -> dict[str, str | None]:
    """Return each piece with the piece that it is let into, None for the wood."""
    names = [piece.name for piece in fit.pieces]
    into = {piece.name: fit.pockets[piece.pocket].host for piece in fit.pieces}
    return {name: None if host is None else names[host] for name, host in into.items()}


@pytest.mark.parametrize(
    ("let_in", "expected"),
    [
        ((), {"bird": None, "eye left": None, "eye right": None}),
        (("eye left",), {"bird": None, "eye left": "bird", "eye right": None}),
        (("*right",), {"bird": None, "eye left": None, "eye right": "bird"}),
        (("eye*",), {"bird": None, "eye left": "bird", "eye right": "bird"}),
    ],
)
def test_single_regions_of_a_stock_are_let_in_by_name_or_pattern(
    let_in: tuple[str, ...], expected: dict[str, str | None]
) -> None:
    assert hosts(two_eyes(ebony=let_in)) == expected


def test_a_region_is_let_into_a_piece_of_its_own_stock_and_colour() -> None:
    fit = two_eyes(shell=("crop",))
    assert hosts(fit)["crop"] == "bird"
    assert len(fit.pieces[0].outline.interiors) == 2  # of the eyes, which go through


def test_a_piece_that_goes_through_stands_proud_beside_one_of_its_stock_that_is_let_in() -> None:
    fit = two_eyes(ebony=("eye left",), depth=DepthAsked(proud=0.1))
    depths = {fit.pieces[pocket.pieces[-1]].name: [zone.depth for zone in pocket.zones] for pocket in fit.pockets}
    assert depths == {"eye right": [pytest.approx(0.7), pytest.approx(1.4)], "eye left": [pytest.approx(0.8)]}


def test_a_region_named_by_hand_that_no_piece_surrounds_is_told() -> None:
    assert {finding.name for finding in two_eyes(shell=("bird",)).findings if finding.kind == "not-let-in"} == {"bird"}


WRONG = [
    ({"ebony": ("eye lef",)}, "stock.ebony.let_in", "eye left"),
    ({"ebony": ("eye left", "beak*")}, "stock.ebony.let_in", "known"),
    ({"ebony": ("bird",)}, "stock.ebony.let_in", "known"),
    ({"ebony": ("eye left",), "inlaid": "piece"}, "stock.ebony.let_in", "leave one"),
]


@pytest.mark.parametrize(("asked", "key", "remedy"), WRONG)
def test_what_cannot_be_let_in_is_refused_by_its_key(asked: dict[str, object], key: str, remedy: str) -> None:
    with pytest.raises(JobError) as error:
        two_eyes(**asked)
    assert error.value.where == key
    assert remedy in error.value.remedy
