"""The judge itself on trial: it lets a right pair pass, and catches every kind of wrong one."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from tests.handmade import centre_line, drawing_of, finding, halves, plate, rounded
from tests.judge import Asked, Judgement, failure_lines, judge
from tests.swept import as_cut_piece, as_cut_pocket

SIDES = ("piece", "pocket", "shared")
ASKED = [
    Asked(piece_radius=piece, pocket_radius=pocket, gap=gap, gap_from=side)
    for piece, pocket, gap in ((0.396875, 0.396875, 0.025), (0.25, 0.79375, 0.1), (0.5, 0.25, 0.05))
    for side in SIDES
]
PLAIN = Asked(piece_radius=0.396875, pocket_radius=0.396875, gap=0.05)


def kinds(verdict: Judgement) -> set[str]:
    return {failure.kind for failure in verdict.failures}


def changed(item: SimpleNamespace, **values: object) -> SimpleNamespace:
    return SimpleNamespace(**{**vars(item), **values})


@pytest.mark.parametrize("asked", ASKED, ids=str)
@pytest.mark.parametrize("make", [plate, halves], ids=["plate", "halves"])
def test_a_right_pair_passes(make, asked: Asked) -> None:
    verdict = judge(*make(asked), asked)
    assert verdict.failures == (), failure_lines(verdict.failures)
    assert verdict.even_share_everywhere == 1.0
    assert verdict.outline_error_mm < 3e-5


@pytest.mark.parametrize("asked", ASKED, ids=str)
@pytest.mark.parametrize("grow", [0.003, -0.003])
def test_a_piece_too_large_or_too_small_by_3_um_is_caught(asked: Asked, grow: float) -> None:
    fit, drawing = plate(asked, piece_grow=grow)
    assert kinds(judge(fit, drawing, asked)) == {"uneven"}


def test_a_piece_too_large_by_1_um_is_within_the_promise() -> None:
    assert judge(*plate(PLAIN, piece_grow=0.001), PLAIN).failures == ()


def test_a_piece_that_lies_3_um_aside_is_caught() -> None:
    assert kinds(judge(*plate(PLAIN, shift=0.003), PLAIN)) == {"uneven"}


def test_a_piece_larger_than_its_pocket_is_caught_as_outside() -> None:
    assert {"outside", "uneven"} <= kinds(judge(*plate(PLAIN, piece_grow=0.06), PLAIN))


def test_a_corner_that_no_finding_names_is_caught() -> None:
    fit, drawing = plate(PLAIN)
    verdict = judge(changed(fit, findings=fit.findings[1:]), drawing, PLAIN)
    assert kinds(verdict) == {"unnamed"}
    assert [(round(f.x), round(f.y)) for f in verdict.failures] == [(0, 0)]


@pytest.mark.parametrize("side", SIDES)
def test_a_corner_is_named_by_its_reach_from_the_seam_whoever_gives_the_gap(side: str) -> None:
    """Reach of a square corner, r (sqrt2 - 1), with the seam's radius r = 0.25 - gp: 0.1036, 0.0621 and 0.0828."""
    asked = Asked(piece_radius=0.25, pocket_radius=0.25, gap=0.1, gap_from=side)
    fit, drawing = plate(asked)
    assert len(judge(changed(fit, findings=()), drawing, asked).failures) == 4


def test_a_corner_within_the_tolerance_needs_no_finding() -> None:
    """The largest radius whose square corner stays within 0.05 is 0.05 / (sqrt2 - 1) = 0.1207."""
    asked = Asked(piece_radius=0.12, pocket_radius=0.12, gap=0.05)
    fit, drawing = plate(asked)
    assert judge(changed(fit, findings=()), drawing, asked).failures == ()


def test_a_loss_where_nothing_is_lost_is_caught() -> None:
    fit, drawing = plate(PLAIN)
    false_alarm = finding(10.0, 10.0, "loss")
    assert kinds(judge(changed(fit, findings=(*fit.findings, false_alarm)), drawing, PLAIN)) == {"placeless"}


def test_a_limb_that_is_lost_must_be_called_a_loss() -> None:
    fit, drawing = plate(PLAIN)
    limb = shapely.union(drawing.regions[0].polygon, shapely.box(20, 9.9, 22, 10.1))
    for severity, wanted in (("warning", {"understated"}), ("loss", set())):
        marks = (*fit.findings, finding(20.7, 10, severity), finding(21.9, 10, severity))
        assert kinds(judge(changed(fit, findings=marks), drawing_of(limb), PLAIN)) == wanted


def test_a_long_loss_with_one_mark_alone_is_not_named_all_along() -> None:
    fit, drawing = plate(PLAIN)
    limb = shapely.union(drawing.regions[0].polygon, shapely.box(20, 9.9, 26, 10.1))
    verdict = judge(changed(fit, findings=(*fit.findings, finding(21, 10, "loss"))), drawing_of(limb), PLAIN)
    assert kinds(verdict) == {"unnamed", "understated"}


def test_a_pocket_cut_where_nothing_was_drawn_is_caught() -> None:
    fit, drawing = plate(PLAIN)
    notched = shapely.difference(drawing.regions[0].polygon, shapely.box(9.9, 15, 10.1, 20))
    assert "unnamed" in kinds(judge(fit, drawing_of(notched), PLAIN))


def test_an_outline_that_is_not_what_its_path_leaves_is_caught() -> None:
    fit, drawing = plate(PLAIN)
    other, _ = plate(PLAIN, piece_grow=0.0015)
    wrong = changed(fit, pieces=(changed(fit.pieces[0], outline=other.pieces[0].outline),))
    verdict = judge(wrong, drawing, PLAIN)
    assert kinds(verdict) == {"outline"}
    assert verdict.outline_error_mm == pytest.approx(0.0015, abs=2e-5)


def test_an_open_path_and_a_piece_without_its_pocket_are_malformed() -> None:
    fit, drawing = plate(PLAIN)
    gone = shapely.LineString(fit.pieces[0].path.coords[:-1])
    assert "malformed" in kinds(judge(changed(fit, pieces=(changed(fit.pieces[0], path=gone),)), drawing, PLAIN))
    orphan = changed(fit, pockets=(changed(fit.pockets[0], pieces=()),))
    assert "malformed" in kinds(judge(orphan, drawing, PLAIN))


def test_a_pocket_whose_second_piece_is_missing_is_caught_from_the_wall() -> None:
    fit, drawing = halves(PLAIN)
    half = changed(fit, pieces=fit.pieces[:1], pockets=(changed(fit.pockets[0], pieces=(0,)),))
    assert {"uneven", "material"} <= kinds(judge(half, drawing, PLAIN))


def test_two_pieces_too_near_to_one_another_are_caught() -> None:
    fit, drawing = halves(PLAIN)
    left = fit.pieces[0]
    wide = changed(left, outline=shapely.union(left.outline, shapely.box(9, 1, 10 - 0.02, 9)))
    wide.path = centre_line(wide.outline.buffer(PLAIN.piece_radius, quad_segs=200))
    assert "uneven" in kinds(judge(changed(fit, pieces=(wide, fit.pieces[1])), drawing, PLAIN))


def test_two_pieces_in_one_place_are_caught() -> None:
    fit, drawing = halves(PLAIN)
    double = changed(fit, pieces=(*fit.pieces, fit.pieces[0]), pockets=(changed(fit.pockets[0], pieces=(0, 1, 2)),))
    assert "pieces overlap" in kinds(judge(double, drawing, PLAIN))


def test_pieces_that_changed_places_are_of_strange_material() -> None:
    fit, drawing = halves(PLAIN)
    left, right = fit.pieces
    swapped = (changed(left, colour=right.colour), changed(right, colour=left.colour))
    assert kinds(judge(changed(fit, pieces=swapped), drawing, PLAIN)) == {"material"}


def test_what_the_judge_sweeps_lies_one_radius_from_the_path() -> None:
    """By distance alone, with no offset engine: every point of the wall is r from the centre line."""
    rng = np.random.default_rng(7)
    for _ in range(20):
        angles = np.sort(rng.uniform(0, 2 * np.pi, 40))
        radii = rng.uniform(4, 9, 40)
        ring = np.column_stack([radii * np.cos(angles), radii * np.sin(angles)])
        path = shapely.LineString([*ring, ring[0]])
        for cut in (as_cut_pocket(path, 0.4), as_cut_piece(path, 0.4)):
            spots = shapely.points(shapely.get_coordinates(shapely.segmentize(cut.boundary, 0.05)))
            assert np.abs(shapely.distance(path, spots) - 0.4).max() < 5e-5


def test_a_path_within_a_path_is_an_island() -> None:
    path = shapely.MultiLineString([centre_line(rounded(0, 0, 10, 10, 1)), centre_line(rounded(3, 3, 4, 4, 1))])
    assert as_cut_pocket(path, 0.5).area == pytest.approx(
        rounded(-0.5, -0.5, 11, 11, 1.5).area - 3 * 3 + (4 - np.pi) * 0.25, abs=1e-3
    )


def test_a_slot_as_wide_as_the_bit_is_swept_by_a_path_without_area() -> None:
    path = shapely.LineString([(0, 0), (5, 0), (0, 0)])
    assert as_cut_pocket(path, 0.5).area == pytest.approx(5 + np.pi / 4, abs=1e-4)
