"""A board's outline, slots and surface, against closed forms."""

from __future__ import annotations

import math

import pytest
import shapely

from inlayfit.board import SIDES, Channel, drop
from inlayfit.errors import JobError
from inlayfit.fretboard import Scale
from tests.boards import FANNED, INCH, a_board, a_scale

# -- drop across a circle: inches, derived from h = R - sqrt(R^2 - a^2), Machinery's Handbook 31st ed. p. 79 ----------

HALVES = (0.5, 0.625, 0.75, 0.84375, 0.875, 1.0, 1.125, 1.25)
DROPS = {
    7.25: (0.01726, 0.02699, 0.03890, 0.04926, 0.05300, 0.06930, 0.08782, 0.10857),
    9.5: (0.01317, 0.02058, 0.02965, 0.03754, 0.04038, 0.05278, 0.06685, 0.08260),
    10: (0.01251, 0.01955, 0.02816, 0.03566, 0.03835, 0.05013, 0.06348, 0.07843),
    12: (0.01042, 0.01629, 0.02346, 0.02970, 0.03194, 0.04174, 0.05285, 0.06528),
    14: (0.00893, 0.01396, 0.02010, 0.02545, 0.02737, 0.03576, 0.04527, 0.05592),
    16: (0.00781, 0.01221, 0.01759, 0.02226, 0.02394, 0.03128, 0.03960, 0.04890),
    20: (0.00625, 0.00977, 0.01407, 0.01781, 0.01915, 0.02502, 0.03167, 0.03910),
}


@pytest.mark.parametrize("radius", DROPS)
def test_the_drop_is_that_of_a_circle(radius: float) -> None:
    for half, meant in zip(HALVES, DROPS[radius], strict=True):
        assert drop(radius * INCH, half * INCH) / INCH == pytest.approx(meant, abs=5.001e-6)


def test_the_drop_is_not_that_of_a_parabola() -> None:
    """a^2 / 2R is low by 0.00081 in at R 7.25, a 1.25 (derived): a control that the table can tell them apart."""
    parabola = 1.25**2 / (2 * 7.25)
    assert drop(7.25, 1.25) - parabola == pytest.approx(0.00081, abs=5e-6)


@pytest.mark.parametrize(("chord", "rise", "radius"), [(16, 6, 25 / 3), (21, 6, 12.1875)])
def test_the_drop_turns_back_into_chord_and_rise(chord: float, rise: float, radius: float) -> None:
    """Machinery's Handbook 31st ed. p. 79; http://help.matheass.eu/en/CircularSections.html: chord, rise, radius."""
    assert drop(radius, chord / 2) == pytest.approx(rise, abs=1e-9)


# -- compound radius ------------------------------------------------------------------------------------------------


def test_a_compound_radius_grows_in_proportion_to_the_way() -> None:
    """Hartstein's formula as restated in print: 10 in at the nut, 15 in at 25.5 in, so 12.5 in half way."""
    scale = Scale(bass=51 * INCH, treble=51 * INCH, frets=12)  # its twelfth fret lies at 25.5 in
    board = a_board(scale=scale, overhang=0.0, radius=10 * INCH, end_radius=15 * INCH)
    assert board.length == pytest.approx(25.5 * INCH)
    assert board.radius_at(0.0) == 10 * INCH
    assert board.radius_at(12.75 * INCH) / INCH == pytest.approx(12.5)
    assert board.radius_at(25.5 * INCH) / INCH == pytest.approx(15.0)


def test_ten_to_sixteen_inches_run_out_to_eighteen_point_three_at_the_bridge() -> None:
    """10 + 6 / (1 - 2^(-22/12)) = 18.340 in (derived); "20 in at the bridge", met in print, is wrong."""
    board = a_board(scale=a_scale(25.5 * INCH, 22), overhang=0.0, radius=10 * INCH, end_radius=16 * INCH)
    assert board.radius_at(25.5 * INCH) / INCH == pytest.approx(18.340, abs=0.0005)
    assert abs(board.radius_at(25.5 * INCH) / INCH - 20) > 1


def test_the_edge_of_a_true_cone_drops_in_proportion_to_its_radius() -> None:
    """R 12, w 1.6875: 0.029700 in; R 16, w 2.25: 0.039600 in (derived)."""
    board = a_board(
        scale=a_scale(25.5 * INCH, 22),
        nut_width=1.6875 * INCH,
        end_width=2.25 * INCH,
        overhang=0.0,
        radius=12 * INCH,
        end_radius=16 * INCH,
    )
    for x, meant in ((0.0, 0.029700), (board.length, 0.039600)):
        assert board.drop_at(x, board.width_at(x) / 2) / INCH == pytest.approx(meant, abs=5e-7)


def test_one_radius_is_a_cylinder_and_none_is_flat() -> None:
    assert a_board(radius=300.0).radius_at(200.0) == 300.0
    assert a_board().radius_at(200.0) == math.inf
    assert a_board().drop_at(200.0, 20.0) == 0.0


# -- taper ----------------------------------------------------------------------------------------------------------


def test_the_taper_is_straight() -> None:
    """25.5 in, nut 1.6875, 2.25 at fret 22: width at fret 12 is 2.07846 in (derived)."""
    board = a_board(
        scale=a_scale(25.5 * INCH, 22), nut_width=1.6875 * INCH, end_width=2.25 * INCH, end_fret=22, overhang=10.0
    )
    assert board.width_at(12.75 * INCH) / INCH == pytest.approx(2.07846, abs=5e-6)
    assert board.width_at(board.fret_line(22).bass[0]) / INCH == pytest.approx(2.25, abs=1e-9)
    assert board.width_at(board.length) > 2.25 * INCH, "the overhang grows on"


def test_a_width_at_the_end_is_that_of_the_end() -> None:
    board = a_board(overhang=12.0)
    assert board.length == pytest.approx(487.5 + 12.0)
    (_, low), (_, high) = board.outline[1:3]
    assert high - low == pytest.approx(57.0)


def test_a_nut_that_is_wider_than_the_end_is_allowed() -> None:
    board = a_board(nut_width=60.0, end_width=45.0)
    assert board.width_at(board.length) == pytest.approx(45.0)
    assert shapely.Polygon(board.outline).is_valid


def test_the_bass_side_lies_below_and_on_a_left_handed_board_above() -> None:
    right, left = a_board(scale=FANNED), a_board(scale=FANNED, left_handed=True)
    assert right.fret_line(5).bass[1] < 0 < left.fret_line(5).bass[1]
    for fret in right.slots:
        for spot, mirrored in zip(right.fret_line(fret), left.fret_line(fret), strict=True):
            assert spot == pytest.approx((mirrored[0], -mirrored[1]))


# -- fanned ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("end_width", [45.0, 62.0])
def test_a_fanned_nut_crosses_the_centre_line_at_the_origin(end_width: float) -> None:
    board = a_board(scale=FANNED, nut_width=45.0, end_width=end_width)
    assert board.nut_line.x_at(0.0) == pytest.approx(0.0, abs=1e-9)


def test_each_end_of_a_fanned_fret_lies_on_its_edge_at_its_distance() -> None:
    board = a_board(scale=FANNED)
    nut = board.nut_line
    for fret in board.slots:
        line = board.fret_line(fret)
        for side in SIDES:
            x, y = getattr(line, side)
            assert y == pytest.approx(board.edge_at(x, side))
            assert x - getattr(nut, side)[0] == pytest.approx(FANNED.from_nut(fret, side), abs=1e-9)


def test_the_square_fret_stands_square_on_any_taper() -> None:
    line = a_board(scale=FANNED).fret_line(7)
    assert line.bass[0] == pytest.approx(line.treble[0], abs=1e-9)


def test_a_slot_is_as_wide_across_itself_as_it_was_asked_for() -> None:
    for board in (a_board(scale=FANNED, slot_width=0.6), a_board(slot_width=0.6)):
        for fret in (1, 12, 24):
            slot = shapely.Polygon(board.slot(fret))
            line = shapely.LineString(board.fret_line(fret))
            assert slot.is_valid
            assert shapely.covers(slot.buffer(1e-9), line)
            first, second, third, fourth = (shapely.Point(corner) for corner in board.slot(fret))
            sides = (shapely.LineString([first, fourth]), shapely.LineString([second, third]))
            for side in sides:
                assert shapely.distance(side, line.centroid) == pytest.approx(0.3, abs=1e-9)


def test_the_end_runs_along_the_last_fret() -> None:
    board = a_board(scale=FANNED, overhang=10.0)
    last, end = board.fret_line(24), board.end_line
    assert end.lean == pytest.approx(last.lean)
    assert end.x_at(0.0) - last.x_at(0.0) == pytest.approx(10.0)


# -- zero fret, nut -------------------------------------------------------------------------------------------------


def test_a_zero_fret_has_a_slot_in_front_of_the_nut() -> None:
    board = a_board(scale=a_scale(zero_fret=True, nut_offset=-4.0))
    assert board.slots[0] == 0
    assert board.fret_line(0).bass[0] == pytest.approx(4.0)
    assert board.nut_line.bass[0] == 0.0


# -- what is no board -----------------------------------------------------------------------------------------------

BAD = [
    ("a radius under half the width", {"radius": 20.0}, "radius", "smaller than half"),
    ("an end radius under half the width", {"radius": 300.0, "end_radius": 25.0}, "end_radius", "smaller than half"),
    ("a radius at the end alone", {"end_radius": 300.0}, "end_radius", "none at the nut"),
    ("edges that cross", {"end_width": 12.0, "end_fret": 5}, "end_width", "edges would cross"),
    ("an end that is none", {"end_width": 1.0}, "end_width", "too narrow"),
    ("a nut that is none", {"nut_width": 0.5}, "nut_width", "too narrow"),
    ("slots wider than a space", {"slot_width": 12.0}, "frets", "slot"),
    ("a zero fret under the nut", {"scale": a_scale(zero_fret=True)}, "nut_offset", "behind it"),
    ("a board that the radius eats", {"radius": 100.0, "thickness": 2.0}, "thickness", "nothing"),
    ("a channel through the board", {"thickness": 6.0, "channel": Channel(width=6, depth=6)}, "channel.depth", ""),
    ("slots through the board", {"thickness": 6.0, "slot_depth": 6.5}, "slot_depth", "go through"),
]


@pytest.mark.parametrize(("changes", "where", "says"), [row[1:] for row in BAD], ids=[row[0] for row in BAD])
def test_what_makes_no_board_is_refused(changes: dict[str, object], where: str, says: str) -> None:
    with pytest.raises(JobError) as error:
        a_board(**changes)
    assert error.value.where == where
    assert says in error.value.message
    assert error.value.remedy
