"""A board longer than the bed: every cut in one setup, and the pins where both neighbours reach them."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest
import shapely

from inlayfit.board import SIDES
from inlayfit.errors import JobError
from inlayfit.setups import CLEARANCE, Bed, plan_setups
from tests.boards import FANNED, a_board, a_random_board


def slots_of(board) -> list[tuple[float, float]]:
    bounds = (shapely.Polygon(board.slot(fret)).bounds for fret in board.slots)
    return [(left, right) for left, _, right, _ in bounds]


def test_a_bed_that_is_long_enough_needs_one_setup_and_no_pins() -> None:
    board = a_board()
    (only,) = plan_setups(slots_of(board), board, Bed(length=600.0))
    assert only.pins == ()
    assert only.shift == 0.0
    assert len(only.items) == 24


@pytest.mark.parametrize("scale", [None, FANNED], ids=["straight", "fanned"])
@pytest.mark.parametrize("length", [120.0, 200.0, 300.0])
def test_every_setup_lies_within_the_bed_and_every_item_within_one_setup(length: float, scale) -> None:
    board = a_board(**{} if scale is None else {"scale": scale})
    extents = slots_of(board)
    setups = plan_setups(extents, board, Bed(length=length))
    assert sorted(item for setup in setups for item in setup.items) == list(range(24))
    for setup in setups:
        assert setup.end - setup.start <= length + 1e-9
        assert setup.shift == pytest.approx(setup.start - setups[0].start)
        for item in setup.items:
            assert setup.start + CLEARANCE - 1e-9 <= extents[item][0]
            assert extents[item][1] <= setup.end - CLEARANCE + 1e-9


@pytest.mark.parametrize("left_handed", [False, True])
def test_neighbours_share_two_pins_outside_of_the_board_which_both_reach(left_handed: bool) -> None:
    bed = Bed(length=220.0, pin_diameter=3.0, pin_distance=7.0)
    board = a_board(left_handed=left_handed)
    setups = plan_setups(slots_of(board), board, bed)
    assert len(setups) >= 3
    outline = shapely.Polygon(board.outline)
    for one, after in pairwise(setups):
        shared = set(one.pins) & set(after.pins)
        assert len(shared) == 2
        assert after.pins[:2] == one.pins[-2:]
        for setup in (one, after):
            for x, y in shared:
                assert setup.start + 1.5 <= x <= setup.end - 1.5
                assert shapely.distance(outline, shapely.Point(x, y).buffer(1.5)) > 5
        for (x, y), side in zip(one.pins[-2:], SIDES, strict=True):
            assert y == pytest.approx(board.edge_at(x, side) + board.sign(side) * 7.0)


def test_on_the_machine_the_shared_pins_move_by_the_difference_of_the_shifts() -> None:
    board = a_board()
    one, after, *_ = plan_setups(slots_of(board), board, Bed(length=200.0))
    for before, later in zip(one.pins[-2:], after.pins[:2], strict=True):
        assert (before[0] - one.shift) - (later[0] - after.shift) == pytest.approx(after.shift - one.shift)


def test_random_boards_are_covered_from_end_to_end() -> None:
    chance = random.Random(3)
    for _ in range(60):
        board = a_random_board(chance)
        setups = plan_setups(slots_of(board), board, Bed(length=chance.uniform(150, 400)))
        xs = [x for x, _ in board.outline]
        assert setups[0].start < min(xs)
        assert setups[-1].end > max(xs)
        for one, after in pairwise(setups):
            assert one.start < after.start < one.end


@pytest.mark.parametrize(("length", "items"), [(80.0, []), (120.0, [(100.0, 220.0)])], ids=["pins", "item"])
def test_a_bed_that_is_too_short_is_refused_by_its_key(length: float, items: list[tuple[float, float]]) -> None:
    board = a_board()
    with pytest.raises(JobError) as error:
        plan_setups([*slots_of(board), *items], board, Bed(length=length))
    assert error.value.where == "board.bed_length"
    least = float(error.value.remedy.removeprefix("it must reach ").removesuffix(" mm at least"))
    assert plan_setups([*slots_of(board), *items], board, Bed(length=least + 0.1))
