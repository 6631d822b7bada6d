"""Between pieces of several stocks runs a seam of its own, and each piece is cut by the cutter of its stock."""

from __future__ import annotations

import pytest
import shapely

import inlayfit
from inlayfit.cutters import Bit, Kerf
from inlayfit.drawing import Drawing, Region
from inlayfit.errors import InlayfitError
from inlayfit.recipe import Fit
from inlayfit.stocks import Stock
from tests.judge import Asked, failure_lines, judge
from tests.shapes import disc, mosaic, square

BITS = (0.5, 1.0, 1.5875)
COLOURS = ("#a0b0c0", "#405060", "#e0c090")


def coloured(*polygons: shapely.Polygon) -> Drawing:
    """Return a drawing with a colour for each polygon, three in all, the lowest first."""
    regions = tuple(
        Region(polygon=polygon, name=f"tile-{n}", layer=f"tile-{n}", colour=COLOURS[n % 3])
        for n, polygon in enumerate(polygons)
    )
    return Drawing(source="tiles.svg", regions=regions)


def stocks_of(drawing: Drawing) -> tuple[Stock, ...]:
    colours = sorted({region.colour for region in drawing.regions})
    return tuple(
        Stock(name=f"stock {n}", cutter=Bit(diameter=bit), colours=(colour,))
        for n, (colour, bit) in enumerate(zip(colours, BITS, strict=False))
    )


def judged(drawing: Drawing, stocks: tuple[Stock, ...], pocket: float = 0.8, **asked: object) -> Fit:
    fit = inlayfit.fit(drawing, pocket_cutter=pocket, stocks=stocks, **asked)
    verdict = judge(
        fit,
        drawing,
        Asked(
            piece_radius=0.0,
            pocket_radius=pocket / 2,
            gap=asked["gap"],
            gap_from=asked.get("gap_from", "piece"),
            joint=asked.get("joint"),
            radii={stock.name: stock.cutter.radius for stock in stocks if stock.cutter},
        ),
    )
    assert not verdict.failures, failure_lines(verdict.failures)
    return fit


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(
    ("gap", "gap_from", "joint"),
    [(0.05, "piece", None), (0.1, "pocket", 0.0), (0.05, "shared", 0.15), (0.025, "pocket", None)],
)
def test_a_mosaic_of_three_stocks_keeps_every_promise(seed: int, gap: float, gap_from: str, joint: float) -> None:
    """Disjoint, within the pocket, each as its own cutter leaves it, the gaps as asked, no hole: by other eyes."""
    drawing = coloured(*mosaic(seed))
    fit = judged(drawing, stocks_of(drawing), gap=gap, gap_from=gap_from, joint=joint)
    assert len({piece.stock for piece in fit.pieces}) == 3


def halves(joint: float | None, **asked: object) -> Fit:
    drawing = coloured(shapely.box(0, 0, 6, 8), shapely.box(6, 0, 15, 8))
    return judged(drawing, stocks_of(drawing), gap=0.05, joint=joint, **asked)


@pytest.mark.parametrize("joint", [0.0, 0.02, 0.05, 0.3])
def test_the_joint_is_as_wide_as_was_asked_and_the_wall_keeps_its_own_gap(joint: float) -> None:
    left, right = halves(joint).pieces
    assert left.outline.distance(right.outline) == pytest.approx(joint, abs=0.002)
    assert left.outline.intersection(right.outline).area == 0
    assert (left.gap.nominal, right.gap.nominal) == (0.05, 0.05)
    assert left.gap.even_share > 0.99
    if joint != 0.05:
        assert left.joint is not None
        assert left.joint.nominal == joint
        assert left.joint.mean == pytest.approx(joint, abs=0.002)
    assert left.drops_in
    assert right.drops_in


def test_without_a_joint_of_its_own_each_piece_gives_half_of_the_gap() -> None:
    left, right = halves(None).pieces
    assert left.outline.bounds[2] == pytest.approx(5.975, abs=0.001)
    assert right.outline.bounds[0] == pytest.approx(6.025, abs=0.001)
    assert left.joint is None


def test_an_inner_corner_of_the_pocket_is_filled_for_the_cutter_of_the_piece_that_lies_in_it() -> None:
    """An L of two stocks with a corner in each: radius 0.25 there, 0.79375 here, less the piece's share of the gap.

    The fill of a square corner is r^2 (1 - pi / 4), r being the cutter's radius less 0.05.
    """
    fine = shapely.Polygon([(0, 0), (10, 0), (10, 4), (4, 4), (4, 10), (0, 10)])
    coarse = shapely.Polygon([(10, 0), (20, 0), (20, 10), (16, 10), (16, 4), (10, 4)])
    drawing = coloured(fine, coarse)
    first, second = stocks_of(drawing)
    stocks = (
        Stock(name=first.name, cutter=Bit(diameter=0.5), colours=first.colours),
        Stock(name=second.name, cutter=Bit(diameter=1.5875), colours=second.colours),
    )
    owner = {region.colour: region.polygon.bounds[0] for region in drawing.regions}
    fit = judged(drawing, stocks, gap=0.05)
    pocket = fit.pockets[0].outline
    for stock in stocks:
        x = 4 if owner[stock.colours[0]] == 0 else 16
        corner = shapely.box(x - 1, 4, x + 1, 5)
        filled = pocket.intersection(corner).area - 1.0
        radius = (stock.cutter.radius if stock.cutter else 0) - 0.05
        assert filled == pytest.approx((radius + 0.002) ** 2 * (1 - 3.14159265 / 4), rel=0.03)


def test_findings_between_pieces_name_both_neighbours() -> None:
    """A tooth of 0.6 mm of one stock in another that a 1.5875 mm bit goes round: the bit takes it."""
    plate = shapely.difference(square(12), shapely.box(5.7, 8, 6.3, 12))
    drawing = coloured(plate, shapely.union(shapely.box(5.7, 8, 6.3, 12), shapely.box(0, 12, 12, 18)))
    stocks = tuple(
        Stock(name=region.name, cutter=Bit(diameter=1.5875), layers=(region.layer,)) for region in drawing.regions
    )
    fit = judged(drawing, stocks, gap=0.05)
    told = [finding for finding in fit.findings if finding.kind == "narrow-limb"]
    assert told
    assert all(finding.name == "tile-1" and "towards tile-0" in finding.message for finding in told)
    assert all("tile-0 takes its place" in finding.message for finding in told)


def test_an_eye_in_a_bird_is_cut_by_the_finer_cutter_of_its_own() -> None:
    """A disc of 1.2 mm in a plate: a kerf of 0.3 mm goes round it, the 1.5875 mm bit round the plate not through it."""
    drawing = coloured(square(10), disc(0.6, 5, 5))
    stocks = (
        Stock(name="plate", cutter=Bit(diameter=1.5875), layers=("tile-0",)),
        Stock(name="eye", cutter=Kerf(width=0.3), layers=("tile-1",)),
    )
    fit = inlayfit.fit(drawing, pocket_cutter=0.8, gap=0.05, stocks=stocks)
    assert any(finding.severity == "loss" and "tile-1" in finding.name for finding in fit.findings)


def test_a_stock_without_a_cutter_is_refused_by_its_key() -> None:
    with pytest.raises(InlayfitError, match="what is pearl to be cut with") as error:
        inlayfit.fit(coloured(square(10)), pocket_cutter=0.8, gap=0.05, stocks=[Stock(name="pearl")])
    assert error.value.where == "stock.pearl.bit"


def test_the_stock_of_each_piece_stands_on_it() -> None:
    drawing = coloured(square(10), disc(2, 5, 5))
    stocks = (Stock(name="pearl", names=("tile-0",)), Stock(name="ebony", kind="wood", names=("tile-1",)))
    fit = inlayfit.fit(drawing, piece_cutter=0.8, pocket_cutter=0.8, gap=0.05, stocks=stocks)
    assert sorted((piece.name, piece.stock) for piece in fit.pieces) == [("tile-0", "pearl"), ("tile-1", "ebony")]
    assert [region.stock for region in fit.drawing.regions] == ["pearl", "ebony"]
