"""What may be off of a gap: published stacks, normal coverage, and a hundred thousand pieces drawn by lot."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from inlayfit.cutters import Bit, Kerf
from inlayfit.stack import (
    LABELLED,
    MEASURED,
    UNREAD,
    HalfTolerances,
    Stack,
    Tolerances,
    joint_stack,
    root_sum_square,
    share_below,
    wall_stack,
    worst_case,
)

DRAWS = 100_000
SEED = 20_230
BIT = Bit(diameter=0.788, runout=0.01)
OTHER = Bit(diameter=0.991, runout=0.006)
KERF = Kerf(width=0.3)
ALL = HalfTolerances(bit=0.012, runout=0.02, kerf=0.03, repeat=0.02)
LESS = HalfTolerances(bit=0.006, runout=0.01, kerf=0.02, repeat=0.03)


def test_the_stack_of_the_textbook_comes_out_to_the_printed_digit() -> None:
    """Budynas and Nisbett, Shigley's Mechanical Engineering Design, 9th ed., example 1-3, p. 20; inches."""
    mean = 1.750 - 0.750 - 0.120 - 0.875
    off = (0.003, 0.001, 0.005, 0.001)
    assert f"{mean:.3f}" == "0.005"
    assert f"{worst_case(off):.3f}" == "0.010"
    assert f"{mean - worst_case(off):.3f} {mean + worst_case(off):.3f}" == "-0.005 0.015"
    assert f"{0.875 - (0.003 - (mean - worst_case(off))):.3f}" == "0.867", "d, for a gap of 0.003 or more"
    assert root_sum_square(off) == pytest.approx(0.006, abs=1e-15), "by hand: 9 + 1 + 25 + 1 = 36"


def test_a_second_stack_comes_out_as_by_hand() -> None:
    """40.00 +-0.10, less 25.00 +-0.05, 2.00 +-0.03 and 10.00 +-0.05 mm: plain arithmetic."""
    off = (0.10, 0.05, 0.03, 0.05)
    assert worst_case(off) == pytest.approx(0.23)
    assert f"{root_sum_square(off):.4f}" == "0.1261"


@pytest.mark.parametrize(("sigmas", "share"), [(1, 68.27), (1.645, 90), (2, 95.45), (2.576, 99), (3, 99.73)])
def test_the_normal_spread_covers_what_is_published(sigmas: float, share: float) -> None:
    """NIST Technical Note 1297 (1994), note to 6.2: per cent within so many standard deviations."""
    covered = 100 * float(share_below(sigmas) - share_below(-sigmas))
    assert covered == pytest.approx(share, abs=0.005)


@pytest.mark.parametrize(
    ("sigmas", "share"), [(1.281552, 0.90), (1.959964, 0.975), (2.326348, 0.99), (3.090232, 0.999)]
)
def test_the_normal_spread_has_its_known_quantiles(sigmas: float, share: float) -> None:
    """Quantiles from memory, as in any table of the normal distribution."""
    assert float(share_below(sigmas)) == pytest.approx(share, abs=1e-7)


def drawn_gaps(piece, pocket, tolerances: Tolerances, *, joint: bool = False) -> np.ndarray:
    """Return how far the gap of each wall is off in many cuts by lot, shape (draws, walls), from walls alone.

    Every cutter, every chucking and every wall has an error of its own. Four walls: left, right, bottom, top. Nothing
    is taken from the stack: the places of the walls of both halves are drawn, and the piece is then set into the
    middle if it floats, or lies where it was set.
    """
    lot = np.random.default_rng(SEED)

    def normal(plus_minus: float, *shape: int) -> np.ndarray:
        return lot.normal(0.0, plus_minus / 3, (DRAWS, *shape))

    def cut_larger(cutter, half: HalfTolerances, size: np.ndarray) -> np.ndarray:
        """Return how far beyond its line a cutter takes each wall."""
        runout = normal(half.runout, 1) if isinstance(cutter, Bit) else 0.0
        return (size + runout) / 2

    def size_of(cutter, half: HalfTolerances) -> np.ndarray:
        return normal(half.bit if isinstance(cutter, Bit) else half.kerf, 1)

    size = size_of(piece, tolerances.piece)
    inside = cut_larger(piece, tolerances.piece, size)
    if joint:
        outside, wall = inside, normal(tolerances.piece.repeat, 4)
    else:
        one_bit = piece == pocket and isinstance(piece, Bit) and tolerances.piece.bit == tolerances.pocket.bit
        outside = cut_larger(pocket, tolerances.pocket, size if one_bit else size_of(pocket, tolerances.pocket))
        wall = normal(tolerances.pocket.repeat, 4)
    gaps = outside + inside + wall + normal(tolerances.piece.repeat, 4)
    across = gaps.reshape(DRAWS, 2, 2)  # two axes, two walls each
    if tolerances.floats:
        return across.mean(axis=2)
    return (across + normal(tolerances.placing, 2)[..., None] * np.array([1.0, -1.0])).reshape(DRAWS, 4)


CASES = [
    pytest.param(BIT, BIT, ALL, ALL, id="one bit"),
    pytest.param(BIT, BIT, ALL, LESS, id="two bits of one size"),
    pytest.param(BIT, OTHER, ALL, LESS, id="two bits"),
    pytest.param(KERF, BIT, ALL, LESS, id="a saw and a bit"),
    pytest.param(BIT, BIT, replace(ALL, repeat=0.0), replace(ALL, repeat=0.0), id="a machine without fault"),
    pytest.param(BIT, OTHER, replace(ALL, repeat=0.002), replace(LESS, repeat=0.001), id="hardly a fault"),
]


@pytest.mark.parametrize("joint", [False, True], ids=["wall", "joint"])
@pytest.mark.parametrize("floats", [True, False], ids=["floats", "held"])
@pytest.mark.parametrize(("piece", "pocket", "of_piece", "of_pocket"), CASES)
def test_the_stack_says_what_a_hundred_thousand_cuts_by_lot_say(
    piece, pocket, of_piece, of_pocket, floats, joint
) -> None:
    tolerances = Tolerances(piece=of_piece, pocket=of_pocket, placing=0.025, floats=floats)
    stack = joint_stack(piece, tolerances) if joint else wall_stack(piece, pocket, tolerances)
    off = drawn_gaps(piece, pocket, tolerances, joint=joint)
    sigma_error = 1 / math.sqrt(2 * DRAWS)  # of a standard deviation, relative
    assert 3 * off.std(axis=0).mean() == pytest.approx(stack.likely, rel=4 * sigma_error)
    for margin in np.linspace(-0.5, 2.0, 11) * stack.likely:
        for kept in (off + margin > 0, off - margin < 0):  # no side closes by the margin, none opens by it
            share = float(kept.all(axis=1).mean())
            error = 4 * math.sqrt(max(share * (1 - share), 1 / DRAWS) / DRAWS)
            assert stack.likelihood(margin) == pytest.approx(share, abs=error + 4e-4)


@pytest.mark.parametrize("row", [1, 2, 5])
@pytest.mark.parametrize("pocket", [BIT, OTHER], ids=["one bit", "two bits"])
def test_a_row_of_pieces_that_butt_adds_up_as_cuts_by_lot_do(row: int, pocket: Bit) -> None:
    """All slack of the row is at its two ends: the pocket's two walls, and two of every piece, on each axis."""
    stack = wall_stack(BIT, pocket, Tolerances(piece=ALL, pocket=ALL), row=row)
    lot = np.random.default_rng(SEED)
    size = lot.normal(0, ALL.bit / 3, (2, DRAWS, 1))  # one bit cuts all pieces; the pocket's is it, or another
    size_of_pocket = size[0] if pocket == BIT else size[1]
    runout = lot.normal(0, ALL.runout / 3, (2, DRAWS, 1))
    wider = (size_of_pocket + runout[1]) / 2 + row * (size[0] + runout[0]) / 2
    walls = lot.normal(0, ALL.repeat / 3, (DRAWS, 2, 2 * (row + 1))).sum(axis=2) / 2
    off = wider + walls
    assert 3 * off.std(axis=0).mean() == pytest.approx(stack.likely, rel=4 / math.sqrt(2 * DRAWS))
    share = float((off + stack.likely / 2 > 0).all(axis=1).mean())
    assert stack.likelihood(stack.likely / 2) == pytest.approx(share, abs=4 * math.sqrt(share / DRAWS) + 4e-4)


def test_no_draw_within_the_half_widths_is_worse_than_the_worst_case() -> None:
    """Even draws from corner to corner reach the worst case, and never pass it."""
    stack = wall_stack(BIT, OTHER, Tolerances(piece=ALL, pocket=LESS))
    corners = np.random.default_rng(SEED).choice([-1.0, 1.0], (DRAWS, 12))
    size = corners[:, 0] * 0.012 / 2 + corners[:, 1] * 0.006 / 2 + corners[:, 2] * 0.02 / 2 + corners[:, 3] * 0.01 / 2
    walls = (corners[:, 4] + corners[:, 5]) / 2 * 0.02 + (corners[:, 6] + corners[:, 7]) / 2 * 0.03
    assert np.abs(size + walls).max() == pytest.approx(stack.worst)


def effects(stack: Stack) -> dict[str, float]:
    return {one.name: one.effect for one in stack.contributors}


def test_one_bit_for_both_halves_opens_the_gap_twice_and_two_bits_may_cancel() -> None:
    one, two = (wall_stack(BIT, pocket, Tolerances(piece=ALL, pocket=ALL)) for pocket in (BIT, OTHER))
    assert effects(one)["bit, both halves"] == pytest.approx(0.012)
    assert effects(two)["bit, piece"] == effects(two)["bit, pocket"] == pytest.approx(0.006)
    assert one.worst == pytest.approx(two.worst)
    assert one.likely > two.likely


def test_a_shift_counts_only_where_the_piece_cannot_float() -> None:
    floating, held = (
        wall_stack(BIT, BIT, Tolerances(piece=ALL, pocket=ALL, placing=0.4, floats=floats)) for floats in (True, False)
    )
    placing = next(one for one in floating.contributors if one.name == "placing")
    assert (placing.acts_on, placing.counts, floating.share(placing)) == ("place", False, 0.0)
    assert held.worst - floating.worst == pytest.approx(0.4)
    assert held.contributors[0].name == "placing", "the weightiest comes first"
    assert floating.likelihood(0.1) > 0.999 > held.likelihood(0.1)


def test_the_shares_make_one_and_fall() -> None:
    stack = wall_stack(BIT, KERF, Tolerances())
    shares = [stack.share(one) for one in stack.contributors]
    assert sum(shares) == pytest.approx(1)
    assert shares == sorted(shares, reverse=True)


def test_a_wider_gap_drops_in_more_surely_and_the_margin_for_a_likelihood_keeps_it() -> None:
    stack = wall_stack(BIT, BIT, Tolerances())
    likelihoods = [stack.likelihood(margin) for margin in np.linspace(-0.1, 0.1, 101)]
    assert likelihoods == sorted(likelihoods)
    assert (likelihoods[0], likelihoods[-1]) == (pytest.approx(0, abs=1e-6), pytest.approx(1, abs=1e-6))
    assert stack.likelihood(stack.margin_for(0.99)) == pytest.approx(0.99, abs=1e-3)


def test_where_nothing_is_off_it_fits_or_it_does_not() -> None:
    none = HalfTolerances(bit=0.0, runout=0.0, repeat=0.0)
    stack = wall_stack(BIT, BIT, Tolerances(piece=none, pocket=none))
    assert (stack.worst, stack.likely) == (0, 0)
    assert (stack.likelihood(0.001), stack.likelihood(0.0), stack.likelihood(-0.001)) == (1, 0, 0)
    assert {stack.share(one) for one in stack.contributors} == {0.0}
    assert stack.margin_for(0.99) == 0


def plus_minus(bit: Bit) -> dict[str, float]:
    return {one.name: one.plus_minus for one in wall_stack(bit, OTHER, Tolerances()).contributors}


def test_a_size_from_a_label_is_trusted_less_than_a_measured_one_and_an_unread_runout_least() -> None:
    """Ground to 0.0005 in, a micrometer reads to 0.005 mm: common practice, no source."""
    labelled, measured = plus_minus(Bit(diameter=25.4 / 32)), plus_minus(BIT)
    assert (labelled["bit, piece"], measured["bit, piece"]) == (LABELLED, MEASURED)
    assert (labelled["runout, piece"], measured["runout, piece"]) == (UNREAD, 0.01)
    assert pytest.approx(0.0127) == LABELLED
