"""The judge of cutting programs on trial: every complaint is provoked, and measures agree with closed forms."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from tests.program_judge import (
    Program,
    check_safety,
    deepest_step,
    lengths_of,
    read_program,
    swept_ground,
    time_of,
)
from tests.program_measures import chord_count

SET = "G21 G90 G17 G94 G54\nF100 S10000\n"
GOOD = ["G0 Z5", "X0 Y0", "M3", "G0 Z0.5", "G1 Z0", "X2 Z-0.4", "X0", "X2", "G0 Z5", "M5"]
"""A ramp to 0.4 mm, back along its floor, and up."""
WITHIN_UM = 1e-3


def program(*lines: str) -> Program:
    return read_program(SET + "\n".join((*lines, "M2")))


def cut(*lines: str) -> Program:
    """Return the program that makes these moves from (0, 0, 0)."""
    return read_program(SET + "\n".join(("M3", *lines, "M2")), start=(0.0, 0.0, 0.0))


def complaints(*lines: str, setting: str = SET, plunge: float = 0.1) -> list[str]:
    read = read_program(setting + "\n".join((*lines, "M2")))
    return [found.kind for found in check_safety(read, safe_z=3.0, floor=-0.5, radius=0.4, plunge=plunge)]


def changed(place: int, *lines: str) -> list[str]:
    """Return the good program with other lines in place of one."""
    return [*GOOD[:place], *lines, *GOOD[place + 1 :]]


def test_a_good_program_is_not_complained_of() -> None:
    assert complaints(*GOOD) == []


@pytest.mark.parametrize(
    ("lines", "kinds"),
    [
        (changed(1, "Z2.9 X0 Y0"), ["rapid sideways"]),
        (changed(8, "G0 X3 Z5"), ["rapid sideways"]),
        (changed(0, "G0 X1"), ["rapid sideways", "rapid sideways"]),
        (changed(3, "G0 Z-0.1"), ["rapid down"]),
        (["G0 Z-0.1", *GOOD], ["rapid down"]),
        (changed(8, "G0 X1", "Z5"), ["rapid sideways"]),
        (changed(2, "M5"), ["spindle"] * 3),
        (changed(2, "M3 S0"), ["spindle"] * 3),
        (changed(5, "X2 Z-0.6", "Z-0.4"), ["floor"] * 2),
        (changed(5, "G1 Z-0.2", "X2 Z-0.4"), ["plunge"]),
        (changed(8, "G0 Z2.9"), ["end height"]),
        (changed(8, "G0 Z3"), []),
        (changed(9, ""), ["end spindle"]),
        (changed(9, "M4"), ["end spindle"]),
        (["F100 G1 Z5", *GOOD], ["unknown start"]),
    ],
)
def test_what_is_not_safe_is_complained_of(lines: list[str], kinds: list[str]) -> None:
    assert complaints(*lines) == kinds


def test_rapids_at_the_safe_height_and_retracts_are_let_pass() -> None:
    assert complaints(*changed(8, "G0 Z3", "X9 Y9", "Z4", "X1 Z3", "Z0")) == ["end height"]


def test_a_complaint_names_its_line() -> None:
    read = program(*changed(3, "G0 Z-0.1"))
    (found,) = check_safety(read, safe_z=3.0, floor=-0.5, radius=0.4, plunge=0.1)
    assert (found.line, found.text) == (6, "G0 down to Z -0.1, below the top of the stock at 0")


def test_a_complaint_of_the_end_names_the_last_move() -> None:
    found = check_safety(program(*changed(8, "G0 Z2"), "M3"), safe_z=3.0, floor=-0.5, radius=0.4, plunge=0.1)
    assert [(one.line, one.kind) for one in found] == [(11, "end height"), (11, "end spindle")]
    (alone,) = check_safety(program("M3"), safe_z=3.0, floor=-0.5, radius=0.4, plunge=0.1)
    assert (alone.line, alone.text) == (1, "the spindle still turns clockwise when M2 ends the program")


def test_a_cut_without_a_feed_is_complained_of() -> None:
    """The reader refuses it already; moves that come from elsewhere are seen as well."""
    read = program(*GOOD)
    bare = replace(read, moves=tuple(replace(move, feed=0.0) for move in read.moves))
    found = check_safety(bare, safe_z=3.0, floor=-0.5, radius=0.4, plunge=0.1)
    assert [complaint.kind for complaint in found] == ["feed"] * 4


@pytest.mark.parametrize(
    ("setting", "kinds"),
    [
        ("G90 G17 G94\nG21\nF100 S9\n", 0),
        ("G90 G17 G94\nF100 S9\nG21\n", 4),
        ("G90 G17 G94\nF100 S9\n", 8),
        ("G21 G17 G94\nF100 S9\n", 8),
        ("G21 G90 G17\nF100 S9\n", 4),
    ],
)
def test_modes_that_no_line_sets_are_complained_of(setting: str, kinds: int) -> None:
    assert complaints(*GOOD, setting=setting) == ["modes"] * kinds


@pytest.mark.parametrize(("end", "kinds"), [("Y0.0019", ["closed arc"]), ("Y0.0021", []), ("Y0", [])])
def test_an_arc_that_nearly_closes_is_complained_of(end: str, kinds: list[str]) -> None:
    assert complaints(*changed(7, "X2", f"G3 {end} I1 J0", "G1 Y0")) == kinds


@pytest.mark.parametrize(("code", "kinds"), [("G2", ["floor"]), ("G3", [])])
def test_an_upright_arc_is_held_to_the_floor_by_its_lowest_place(code: str, kinds: list[str]) -> None:
    """Clockwise from the positive y it runs from x = 2 to 2.3 below its centre, by 0.15."""
    assert complaints(*changed(5, "X2 Z-0.4", f"G18 {code} X2.3 I0.15 K0", "G17 G1 X2.3")) == kinds


@pytest.mark.parametrize(
    ("lines", "good"),
    [
        (["X1 Y1", "G1 Z-0.1"], True),
        (["X1 Y1", "G1 Z-0.11"], False),
        (["X1 Y1", "G1 Z-0.05", "Z-0.1", "Z-0.15"], False),
        (["X1 Y1", "G1 X1.005 Z-0.2"], False),
        (["X1 Y1", "G0 Z0.1", "G1 X1.2 Z-0.2"], True),
        (["X1 Y1", "G0 Z0.01", "G1 Z-0.01", "G0 Z5", "X2", "G1 Z-0.5"], False),
        (["X1 Y1", "G1 Z0", "X3 Z-0.4", "G0 Z5", "X2", "G1 Z-0.2"], True),
        (["X1 Y1", "G1 Z0", "X3 Z-0.4", "G0 Z5", "X2", "G1 Z-0.4"], False),
        (["X1 Y1", "G1 Z0", "X3 Z-0.4", "X1", "G0 Z5", "X2", "G1 Z-0.5"], True),
        (["X1 Y1", "G1 Z0", "X3 Z-0.4", "X1", "G0 Z5", "X2 Y1.01", "G1 Z-0.5"], False),
        (["X1 Y1", "G1 Z0", "G2 X1 I0.4 Z-0.4", "X1 I0.4", "G0 Z5", "X1.4", "G1 Z-0.5"], True),
        (["X1 Y1", "G1 Z0", "G2 X1 I0.45 Z-0.4", "X1 I0.45", "G0 Z5", "X1.45", "G1 Z-0.5"], False),
    ],
)
def test_the_cutter_goes_straight_down_only_through_what_is_cut(lines: list[str], good: bool) -> None:
    """Two cuts of 0.4 mm radius about a centre meet over it; of 0.45 mm they leave a post."""
    assert complaints("G0 Z5", "M3", *lines, "G0 Z5", "M5") == ([] if good else ["plunge"])


def ground(read: Program, radius: float, level: float = 0.0) -> shapely.Geometry:
    (area,) = swept_ground(read.moves, radius, [level])
    assert area.is_valid
    return area


def is_within_a_micrometre(area: shapely.Geometry, wanted: float) -> bool:
    return abs(area.area - wanted) < WITHIN_UM * area.length


@pytest.mark.parametrize("radius", [0.1, 0.4, 3.175, 25.0])
def test_a_slot_is_swept(radius: float) -> None:
    area = ground(cut("G1 X3 Y4"), radius)
    assert is_within_a_micrometre(area, 2 * radius * 5 + math.pi * radius**2)
    assert area.bounds == pytest.approx((-radius, -radius, 3 + radius, 4 + radius), abs=WITHIN_UM)


@pytest.mark.parametrize("radius", [0.1, 0.4, 3.175])
@pytest.mark.parametrize("line", ["G2 X0 I5", "G3 X0 I5", "G3 X10 R5\nX0 R5"])
def test_a_circle_leaves_a_core(line: str, radius: float) -> None:
    area = ground(cut(line), radius)
    assert len(area.interiors) == 1
    assert is_within_a_micrometre(area, math.pi * ((5 + radius) ** 2 - (5 - radius) ** 2))


@pytest.mark.parametrize("radius", [5.0, 5.5, 20.0])
def test_a_circle_about_the_cutter_leaves_none(radius: float) -> None:
    area = ground(cut("G2 X0 I5"), radius)
    assert is_within_a_micrometre(area, math.pi * (5 + radius) ** 2)
    assert not [hole for hole in area.interiors if shapely.Polygon(hole).area > 1e-6]


@pytest.mark.parametrize("turn_deg", [1.0, 37.0, 90.0, 180.0, 200.0, 300.0])
@pytest.mark.parametrize("clockwise", [True, False])
def test_an_arc_is_swept(turn_deg: float, clockwise: bool) -> None:
    """A sector of a ring and two half discs, as long as those do not reach each other."""
    radius, turn = 0.4, math.radians(turn_deg)
    x, y = 5 - 5 * math.cos(turn), (1 if clockwise else -1) * 5 * math.sin(turn)
    area = ground(cut(f"G{2 if clockwise else 3} X{x:.9f} Y{y:.9f} I5"), radius)
    assert is_within_a_micrometre(area, turn * 2 * 5 * radius + math.pi * radius**2)


def test_swept_ground_lies_one_radius_from_the_way() -> None:
    """By distance alone: every place of the edge is as far from a way of fine steps as the cutter is wide."""
    read = cut(
        "G1 X2 Y1", "G2 X4 Y3 R2.5", "G3 X4 Y3 I0.3 J0.2", "G1 X3.9 Y3.1", "X0 Y2", "G3 X-1 Y2 I-0.5", "G2 X0 Y0 R-4"
    )
    way = shapely.LineString(np.concatenate([move.at(np.linspace(0, 1, 500))[:, :2] for move in read.moves]))
    for radius in (0.2, 0.5, 1.5):
        edge = shapely.get_coordinates(shapely.segmentize(ground(read, radius).boundary, 0.05))
        assert np.abs(shapely.distance(way, shapely.points(edge)) - radius).max() < WITHIN_UM


def test_ground_is_swept_at_and_below_a_level_only() -> None:
    read = cut("G1 X4 Z-1", "X4 Y4", "G0 Z5", "X9")
    levels = swept_ground(read.moves, 0.5, [0.5, 0.0, -0.5, -1.0, -1.001])
    wanted = [8, 8, 6, 4]
    for area, length in zip(levels, wanted, strict=False):
        corner = 0.25 - math.pi / 16 if length > 4 else 0.0
        assert is_within_a_micrometre(area, length + math.pi / 4 - corner)
    assert levels[4].is_empty


def test_a_helix_is_swept_from_where_it_comes_to_the_level() -> None:
    """A whole turn down by 1 mm has its second half below 0.5 mm."""
    area = ground(cut("G3 X0 I5 Z-1"), 0.4, -0.5)
    assert is_within_a_micrometre(area, math.pi * 2 * 5 * 0.4 + math.pi * 0.4**2)
    assert area.bounds == pytest.approx((-0.4, -0.4, 10.4, 5.4), abs=WITHIN_UM)


@pytest.mark.parametrize(("line", "level"), [("G1 Z-1", -1.0), ("G3 X0 I5 Z1", -1e-6), ("G1 X5 Z1", -1e-6)])
def test_a_cutter_that_stands_at_the_level_leaves_a_hole(line: str, level: float) -> None:
    assert is_within_a_micrometre(ground(cut(line), 0.4, level), math.pi * 0.4**2)


@pytest.mark.parametrize("radius", [1e-5, 1e-3, 0.4, 1000.0])
@pytest.mark.parametrize("within", [1e-6, 1e-4])
def test_chords_are_as_near_as_they_should_be_and_no_more_than_that(radius: float, within: float) -> None:
    """The sagitta of a chord over an angle is r (1 - cos(angle / 2))."""
    count = chord_count(radius, 2.0, within)
    assert radius * (1 - math.cos(1.0 / count)) <= within * (1 + 1e-6)
    assert count == 1 or radius * (1 - math.cos(1.0 / (count - 1))) > within * (1 - 1e-6)


def test_an_upright_arc_is_swept_where_it_is_below_the_level() -> None:
    """From (0, 0) to (10, 0) 5 mm deep: at 4 mm it is 6 mm wide, at 0 all of its 10 mm."""
    read = cut("G18 G2 X10 I5 K0")
    assert is_within_a_micrometre(ground(read, 0.4, 0.0), 2 * 0.4 * 10 + math.pi * 0.4**2)
    assert is_within_a_micrometre(ground(read, 0.4, -4.0), 2 * 0.4 * 6 + math.pi * 0.4**2)


def test_a_cut_from_an_unknown_place_is_not_measured() -> None:
    read = program("G1 X1 Y1")
    for measure in (lengths_of, lambda moves: swept_ground(moves, 1, [0]), lambda moves: deepest_step(moves, 1)):
        with pytest.raises(ValueError, match="unknown place"):
            measure(read.moves)


def test_the_way_and_the_time_of_a_helix_run_along_it() -> None:
    """Section 2.1.2.6 of NISTIR 6556: the feed is that of the tip along the helix, not of its ground plan."""
    read = cut("F50 G2 X0 I3 Z-2", "X0 I3 Z-3", "G18 X6 I3 K0 Y5", "G17 X0 Y5 I-3")
    flat = math.pi * 3
    wanted = math.hypot(2 * flat, 2) + math.hypot(2 * flat, 1) + math.hypot(flat, 5) + flat
    assert lengths_of(read.moves).cutting == pytest.approx(wanted)
    assert time_of(read.moves, 1000) == pytest.approx(wanted / 50)


def test_rapids_and_cuts_are_timed_apart() -> None:
    read = cut("G0 X30 Y40", "F100 G1 X40", "F200 G3 X40 Y60 J10", "G20", "F10 G91 G1 Z-1")
    lengths = lengths_of(read.moves)
    assert lengths.rapid == pytest.approx(50)
    assert lengths.cutting == pytest.approx(10 + 10 * math.pi + 25.4)
    assert time_of(read.moves, 2000) == pytest.approx(50 / 2000 + 10 / 100 + 10 * math.pi / 200 + 1 / 10)


def test_a_rapid_from_an_unknown_place_takes_no_time() -> None:
    assert time_of(program("G0 Z5", "X0 Y0", "X3 Y4").moves, 1000) == pytest.approx(5 / 1000)


@pytest.mark.parametrize(
    ("lines", "depth"),
    [
        (["G1 Z-1", "X5"], 1.0),
        (["G1 Z-1"], 0.0),
        (["G1 X5 Z-0.6"], 0.6),
        (["G1 Z-0.5", "X5", "Z-1.2", "X0"], 0.7),
        (["G1 Z-0.5", "X5", "G0 Z5", "X0 Y0", "G1 Z-1", "X5"], 0.5),
        (["G1 Z-0.5", "X5", "G0 Z5", "X0 Y0.3", "G1 Z-1", "X5"], 1.0),
        (["G1 Z-1", "X5", "X0"], 1.0),
        (["G1 Z1", "X5"], 0.0),
        (["G0 Z-1", "X5"], 0.0),
        (["G1 X1 Z-0.5", "X0.5 Y0.01", "X0 Y0", *[f"X{0.01 * step:.2f}" for step in range(100)]], 0.5),
    ],
)
def test_the_depth_of_cut_counts_from_what_was_cut_before(lines: list[str], depth: float) -> None:
    assert deepest_step(cut(*lines).moves, 0.4) == pytest.approx(depth, abs=1e-9)


@pytest.mark.parametrize("turns", [["Z-0.25", "Z-0.5", "Z-0.75"], ["Z-0.25", "Z-0.75", "Z-1"]])
def test_a_helix_is_as_deep_as_its_steepest_turn(turns: list[str]) -> None:
    """Less by its fall over the way on which the outer places that count are under the cutter: 0.23 of 6.28 mm, 4 %."""
    pitch = -np.diff([0, *(float(turn[1:]) for turn in turns)]).min()
    depth = deepest_step(cut(*(f"G3 X0 I1 {turn}" for turn in turns), "X0 I1").moves, 0.4)
    assert 0.94 * pitch < depth <= pitch


def test_the_depth_of_cut_counts_from_the_top_of_the_stock() -> None:
    assert deepest_step(cut("G0 Z2", "G1 X5").moves, 0.4, top=3.0) == pytest.approx(1.0)
