"""Pieces on blanks: what must hold for every layout, whatever the pieces."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
import shapely
from shapely import affinity

from inlayfit.arcs import fit_polygon
from inlayfit.blanks import Blank
from inlayfit.cutters import Bit
from inlayfit.layout import Layout, lay_out, middle_of, number_pieces
from inlayfit.layout_bench import Ground, Need, lay_needs, usable_area
from inlayfit.recipe import Piece
from inlayfit.stocks import Stock
from tests import made_up
from tests.mixed_sets import mixed

BIT = Bit(diameter=0.79375, runout=0.01)
CLEARANCE, MARGIN = 0.3, 1.0
BETWEEN, EDGE = 0.80375 + CLEARANCE, 0.80375 + MARGIN
UM = 0.001

ENOUGH = 12
"""Blanks there are: more than any set needs."""

MOST_MORE = 0.10
"""How many more blanks than the areas ask for are used over a hundred sets, five times twenty.

A twenty by itself swings from 3 to 14 %: it hangs on how many of its sets ask for over 0.9 of their blanks, which
shapes with curved edges do not fill (0.895 was the most that was found); each of those takes one more."""

WORST_TWENTY = 0.15
"""The most that a twenty by itself may take."""

ALWAYS_FILLED = 0.85
"""Where the areas ask for no larger share of the blanks than this, not one blank more is used."""


def needs_of(outlines: list[shapely.Polygon], turns: tuple[float, ...] | None = None) -> list[Need]:
    spots = [shapely.centroid(outline) for outline in outlines]
    return [
        Need(outline=affinity.translate(outline, -spot.x, -spot.y), turns=turns)
        for outline, spot in zip(outlines, spots, strict=True)
    ]


def lying_on(needs: list[Need], width: float, height: float, count: int = ENOUGH):
    """Return the outlines on each blank, by shapely's own transformations, and those left over."""
    grounds = [Ground(area=shapely.box(0, 0, width, height), edge=EDGE)] * count
    lying, left = lay_needs(needs, grounds, BETWEEN)
    laid: dict[int, list[shapely.Polygon]] = {}
    for one in lying:
        turned = affinity.rotate(needs[one.need].outline, math.degrees(one.angle), origin=(0, 0))
        laid.setdefault(one.ground, []).append(affinity.translate(turned, one.x, one.y))
    return laid, left


def least_room(outlines: list[shapely.Polygon]) -> float:
    first, second = np.triu_indices(len(outlines), 1)
    lots = np.array(outlines, dtype=object)
    return float(shapely.distance(lots[first], lots[second]).min(initial=np.inf))


def area_asked(outlines: list[shapely.Polygon], width: float, height: float) -> float:
    """Return how many blanks the areas ask for, whole or not: half of the clearance belongs to each piece."""
    zones = sum(outline.buffer(BETWEEN / 2, quad_segs=16).area for outline in outlines)
    usable = usable_area(Ground(area=shapely.box(0, 0, width, height), edge=EDGE), BETWEEN)
    return float(zones / usable.area)


@pytest.mark.parametrize("seed", range(4))
def test_no_two_pieces_come_nearer_than_the_cut_and_the_clearance(seed: int) -> None:
    outlines, (width, height) = mixed(seed, 8, 16)
    laid, left = lying_on(needs_of(outlines), width, height)
    assert not left
    assert sum(len(lot) for lot in laid.values()) == len(outlines)
    inner = shapely.box(0, 0, width, height).buffer(-(EDGE - UM), join_style="mitre")
    for lot in laid.values():
        assert least_room(lot) >= BETWEEN - UM
        assert all(inner.covers(outline) for outline in lot)


def test_the_same_input_gives_the_same_layout() -> None:
    outlines, (width, height) = mixed(5, 10, 14)
    needs = needs_of(outlines)
    grounds = [Ground(area=shapely.box(0, 0, width, height), edge=EDGE)] * 3
    assert lay_needs(needs, grounds, BETWEEN) == lay_needs(needs, grounds, BETWEEN)


def test_pieces_keep_off_the_holes_and_the_bays_of_a_real_outline() -> None:
    outline = shapely.Point(20, 20).buffer(20).difference(shapely.box(18, 22, 22, 60))
    outline = outline.difference(shapely.Point(12, 12).buffer(2))
    outlines = [shapely.box(0, 0, 8, 5)] * 6 + [shapely.Point(0, 0).buffer(3)] * 4
    needs = needs_of(outlines)
    lying, left = lay_needs(needs, [Ground(area=outline, edge=EDGE)], BETWEEN)
    assert not left
    for one in lying:
        turned = affinity.rotate(needs[one.need].outline, math.degrees(one.angle), origin=(0, 0))
        piece = affinity.translate(turned, one.x, one.y)
        assert outline.contains(piece)
        assert piece.distance(outline.boundary) >= EDGE - UM


def test_a_piece_as_large_as_the_blank_leaves_still_fits() -> None:
    laid, left = lying_on(needs_of([shapely.box(0, 0, 30, 20)]), 20 + 2 * EDGE, 30 + 2 * EDGE, count=1)
    assert not left
    assert laid[0][0].distance(shapely.box(0, 0, 20 + 2 * EDGE, 30 + 2 * EDGE).boundary) == pytest.approx(EDGE, abs=UM)


@pytest.mark.parametrize("more", [0.002, 0.05, 0.2, 5])
def test_one_that_is_a_little_larger_has_no_place_and_the_others_have(more: float) -> None:
    needs = needs_of([shapely.box(0, 0, 30 + more, 20), shapely.box(0, 0, 5, 5)])
    laid, left = lying_on(needs, 20 + 2 * EDGE, 30 + 2 * EDGE, count=2)
    assert left == [0]
    assert sum(len(lot) for lot in laid.values()) == 1


def test_the_largest_blank_is_used_first_and_a_small_one_where_it_does() -> None:
    grounds = [Ground(area=shapely.box(0, 0, side, side), edge=EDGE) for side in (20, 60, 12)]
    needs = needs_of([shapely.box(0, 0, 6, 6)])
    assert [one.ground for one in lay_needs(needs, grounds, BETWEEN)[0]] == [2]
    many = needs_of([shapely.box(0, 0, 6, 6)] * 12)
    assert {one.ground for one in lay_needs(many, grounds, BETWEEN)[0]} == {1}


def test_turned_pieces_keep_their_figure() -> None:
    outlines, (width, height) = mixed(3, 8, 12)
    lying, _ = lay_needs(
        needs_of(outlines, turns=(0.25, 0.25 + math.pi)),
        [Ground(area=shapely.box(0, 0, width, height), edge=EDGE)] * ENOUGH,
        BETWEEN,
    )
    assert {round((one.angle - 0.25) % math.pi, 9) % round(math.pi, 9) for one in lying} == {0.0}


@pytest.mark.benchmark
def test_mixed_sets_take_hardly_more_blanks_than_their_areas_ask_for() -> None:
    """A bound from areas alone, which no layout can beat; curved shapes fill 0.85 of it, and at times 0.89."""
    counts = np.array([_blanks_for(seed) for seed in range(100)])
    for first in range(0, 100, 20):
        used, asked = counts[first : first + 20].sum(axis=0).tolist()
        print(f"sets {first} to {first + 19}: {used} blanks for {asked}, {used / asked - 1:.1%} more", flush=True)
        assert used <= (1 + WORST_TWENTY) * asked
    used, asked = counts.sum(axis=0).tolist()
    print(f"all: {used} blanks for {asked}, {used / asked - 1:.1%} more")
    assert used <= (1 + MOST_MORE) * asked


def _blanks_for(seed: int) -> tuple[int, int]:
    """Return how many blanks a mixed set takes, and how many its areas ask for; it is measured on the way."""
    outlines, (width, height) = mixed(seed)
    start = time.process_time()
    laid, left = lying_on(needs_of(outlines), width, height)
    spent = time.process_time() - start
    areas = area_asked(outlines, width, height)
    bound = math.ceil(areas)
    figures = f"{len(laid)} blanks, bound {bound}, to be filled {areas / bound:.3f}, {spent:.1f} s"
    print(f"set {seed:2}: {len(outlines)} pieces, {figures}", flush=True)
    assert not left
    assert spent < 20
    assert len(laid) == bound or areas > ALWAYS_FILLED * bound
    assert min(least_room(lot) for lot in laid.values()) >= BETWEEN - UM
    return len(laid), bound


def a_piece(name: str, outline: shapely.Polygon, stock: str = "pearl") -> Piece:
    path = outline.buffer(BIT.radius)
    return made_up.a_piece(name, outline, 0, stock=stock, outline=outline, path_arcs=fit_polygon(path))


def a_blank(name: str = "pearl 1", **changes: object) -> Blank:
    usual = {
        "name": name,
        "stock": "pearl",
        "outline": shapely.box(0, 0, 30, 40),
        "clearance": CLEARANCE,
        "margin": MARGIN,
    }
    return Blank(**usual | changes)


def laid(pieces: list[Piece], blanks: list[Blank], *stocks: Stock) -> Layout:
    return lay_out(pieces, blanks, stocks, {stock.name: BIT for stock in stocks})


def test_numbers_run_as_one_reads_with_a_letter_for_each_stock() -> None:
    spots = {"low": (5, 0), "right": (30, 30), "left": (0, 29), "other": (10, 30)}
    pieces = [
        a_piece(name, shapely.box(x, y, x + 3, y + 3), stock="horn" if name == "other" else "pearl")
        for name, (x, y) in spots.items()
    ]
    assert number_pieces(pieces, ["pearl", "unused", "horn"]) == ["A3", "A2", "A1", "B1"]


def test_what_is_cut_from_the_back_is_mirrored() -> None:
    hook = shapely.Polygon([(0, 0), (9, 0), (9, 3), (3, 3), (3, 12), (0, 12)])
    pieces = [a_piece("hook", hook)]
    for face in ("front", "back"):
        layout = laid(pieces, [a_blank()], Stock(name="pearl", cut_from=face))
        (one,) = layout.blanks[0].pieces
        corners = one.points(shapely.get_coordinates(hook), middle_of(pieces[0]))
        assert shapely.LinearRing(corners).is_ccw == (shapely.LinearRing(hook.exterior).is_ccw == (face == "front"))
        assert one.mirrored == (face == "back")


@pytest.mark.parametrize("face", ["front", "back"])
@pytest.mark.parametrize(("kind", "halves"), [("shell", {0.0}), ("wood", {0.0, 180.0})])
def test_the_figure_of_each_piece_runs_as_that_of_its_blank(face: str, kind: str, halves: set[float]) -> None:
    figure = np.array([[0.0, 0.0], [math.cos(math.radians(30)), math.sin(math.radians(30))]])
    outlines, _ = mixed(2, 10, 12)
    pieces = [a_piece(f"p{n}", outline) for n, outline in enumerate(outlines)]
    blanks = [a_blank(f"pearl {n}", figure_deg=75.0, outline=shapely.box(0, 0, 40, 50)) for n in range(4)]
    layout = laid(pieces, blanks, Stock(name="pearl", kind=kind, figure_deg=30.0, cut_from=face))
    runs = [one.points(figure, middle_of(pieces[one.piece])) for used in layout.blanks for one in used.pieces]
    angles = {round(math.degrees(math.atan2(*(ends[1] - ends[0])[::-1])) - 75, 6) % 360 for ends in runs}
    assert angles <= halves
    assert sum(len(used.pieces) for used in layout.blanks) == len(pieces)


def test_a_piece_larger_than_any_blank_is_told_with_the_size_that_it_needs() -> None:
    layout = laid([a_piece("spear", shapely.box(0, 0, 60, 4))], [a_blank()], Stock(name="pearl"))
    (finding,) = layout.findings
    assert finding.kind == "larger-than-blank"
    assert finding.remedy == "a blank of 63.6 mm by 7.6 mm at least, or split it in the drawing"
    assert not layout.blanks


def test_pieces_that_find_full_blanks_are_told() -> None:
    pieces = [a_piece(f"tile {n}", shapely.box(0, 20 * n, 15, 20 * n + 15)) for n in range(4)]
    layout = laid(pieces, [a_blank(outline=shapely.box(0, 0, 20, 36))], Stock(name="pearl"))
    assert [finding.kind for finding in layout.findings] == ["no-place"] * 2
    assert layout.findings[0].remedy == "one more blank, of 18.6 mm by 18.6 mm at least"


def test_a_stock_without_a_blank_is_told() -> None:
    pieces = [a_piece("leaf", shapely.box(0, 0, 5, 5)), a_piece("stem", shapely.box(9, 0, 11, 9), stock="horn")]
    layout = laid(pieces, [a_blank()], Stock(name="pearl"), Stock(name="horn"))
    assert [(finding.kind, finding.name) for finding in layout.findings] == [("no-blank", "horn")]


def test_yield_is_what_becomes_pieces() -> None:
    layout = laid([a_piece("tile", shapely.box(0, 0, 10, 12))], [a_blank(), a_blank("pearl 2")], Stock(name="pearl"))
    assert layout.blanks[0].yield_percent == pytest.approx(10.0)
    assert (layout.stocks[0].used, layout.stocks[0].owned) == (1, 2)
    assert layout.stocks[0].yield_percent == pytest.approx(10.0)


def test_a_small_piece_keeps_off_the_edge_where_there_is_room() -> None:
    pieces = [a_piece("eye", shapely.Point(0, 0).buffer(1.5)), a_piece("tile", shapely.box(9, 0, 19, 8))]
    layout = laid(pieces, [a_blank()], Stock(name="pearl"))
    eye = next(one for one in layout.blanks[0].pieces if one.piece == 0)
    assert min(eye.x, eye.y, 30 - eye.x, 40 - eye.y) - 1.5 > EDGE + 2.5
