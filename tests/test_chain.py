"""Loose lines to faces: the small cases that importers get wrong, each with the area that it must have."""

from __future__ import annotations

import itertools
import math
import time

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from inlayfit.errors import DrawingError
from inlayfit.read.chain import REPORTED, Chained, close_outlines

JOIN = 0.01


def line(*points: tuple[float, float]) -> np.ndarray:
    return np.array(points, dtype=float)


def square(x: float, y: float, size: float) -> list[np.ndarray]:
    corners = [(x, y), (x + size, y), (x + size, y + size), (x, y + size), (x, y)]
    return [line(*side) for side in itertools.pairwise(corners)]


def arc(cx: float, cy: float, radius: float, start: float, end: float, *, steps: int = 2000) -> np.ndarray:
    angles = np.radians(np.linspace(start, end, steps + 1))
    return np.column_stack([cx + radius * np.cos(angles), cy + radius * np.sin(angles)])


def closed(lines: list[np.ndarray], join: float = JOIN) -> Chained:
    return close_outlines(lines, [False] * len(lines), join)


def areas(chained: Chained) -> list[float]:
    return sorted(float(face.polygon.area) for face in chained.faces)


def disc(radius: float, steps: int = 2000) -> float:
    """Area of the polygon of `steps` corners on a circle."""
    return steps / 2 * radius**2 * math.sin(math.tau / steps)


S = square(0, 0, 10)
LENS = 2 * 25 * math.acos(3 / 5) - 6 * 4  # two circles of radius 5, centres 6 apart

CASES: dict[str, tuple[list[np.ndarray], list[float], float]] = {
    # name: lines, areas, tolerance of the areas in mm2
    "exact": (S, [100], 1e-9),
    "in any order and direction": ([S[2][::-1], S[0], S[3], S[1][::-1]], [100], 1e-9),
    "one line back to its start": ([line((0, 0), (10, 0), (10, 10), (0, 10), (0, 0))], [100], 1e-9),
    "a gap of a nanometre": ([*S[:3], line((0, 10), (0, 1e-6))], [100], 1e-4),
    "a hair gap at one corner": ([*S[:3], line((0, 10), (0, 0.005))], [100], 0.026),
    "hair gaps at all corners": ([side + np.array([0.003, -0.002]) * (n % 2) for n, side in enumerate(S)], [100], 0.1),
    "ends that run past each other": (
        [line((-0.004, 0), (10.004, 0)), line((10, -0.004), (10, 10.004)), *S[2:]], [100], 0.05),
    "a full circle of two arcs": ([arc(0, 0, 5, 0, 180), arc(0, 0, 5, 180, 360)], [disc(5, 4000)], 1e-6),
    "two arcs and two lines": (
        [line((0, 0), (10, 0)), arc(10, 2, 2, -90, 90), line((10, 4), (0, 4)), arc(0, 2, 2, 90, 270)],
        [40 + disc(2, 4000)], 1e-6),
    "nested three deep": (S + square(2, 2, 6) + square(4, 4, 2), [4, 64], 1e-9),
    "side by side": (S + square(20, 0, 3), [9, 100], 1e-9),
    "two holes in one": (S + square(1, 1, 2) + square(5, 5, 3), [87], 1e-9),
    "touching at a corner": (S + square(10, 10, 5), [25, 100], 1e-9),
    "a hole that touches the edge at a point": ([*S, line((5, 0), (7, 2), (5, 4), (3, 2), (5, 0))], [92], 1e-9),
    "a common edge drawn twice": (S + square(10, 0, 10), [100, 100], 1e-9),
    "a common edge drawn once": (
        [*S, line((10, 0), (20, 0)), line((20, 0), (20, 10)), line((20, 10), (10, 10))], [100, 100], 1e-9),
    "a common edge in part": (S + square(10, 2, 4), [16, 100], 1e-9),
    "T-junctions": ([*S, line((5, 0), (5, 10))], [50, 50], 1e-9),
    "T-junctions that stop short": ([*S, line((5, 0.006), (5, 9.996))], [50, 50], 1e-3),
    "crossing lines": (
        [line((-1, 0), (11, 0)), line((10, -1), (10, 11)), line((11, 10), (-1, 10)), line((0, 11), (0, -1))],
        [100], 1e-9),
    "a cross in a square": ([*S, line((5, 0), (5, 10)), line((0, 5), (10, 5))], [25, 25, 25, 25], 1e-9),
    "two circles that cross": (
        [arc(0, 0, 5, 0, 360), arc(6, 0, 5, 0, 360)], sorted([LENS, *[disc(5) - LENS] * 2]), 1e-3),
    "drawn twice": (S + S, [100], 1e-9),
    "drawn twice, one micron apart": (
        [arc(0, 0, 5, 0, 360), arc(0, 0, 5.001, 0, 360, steps=1711)], [disc(5)], 1e-6),
    "overlapping on one line": ([line((0, 0), (7, 0)), line((4, 0), (10, 0)), *S[1:]], [100], 1e-9),
    "a dangling tail": ([*S, line((10, 10), (14, 13))], [100], 1e-9),
    "a tail inside": ([*S, line((5, 0), (5, 4))], [100], 1e-9),
    "an inner square held by a line": (S + square(4, 4, 2) + [line((5, 0), (5, 4))], [96], 1e-9),
    "a figure of eight": ([line((0, 0), (4, 4), (4, 0), (0, 4), (0, 0))], [4, 4], 1e-9),
    "a dense curve of short lines": (
        list(np.stack([arc(0, 0, 1, 0, 360)[:-1], arc(0, 0, 1, 0, 360)[1:]], axis=1)), [disc(1)], 1e-6),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_lines_close_to_the_faces_that_they_enclose(name: str) -> None:
    lines, expected, tolerance = CASES[name]
    chained = closed(lines)
    assert areas(chained) == pytest.approx(expected, abs=tolerance)
    assert all(face.polygon.is_valid for face in chained.faces)


@pytest.mark.parametrize("name", CASES)
def test_the_order_and_direction_of_lines_do_not_matter(name: str) -> None:
    lines, expected, tolerance = CASES[name]
    order = np.random.default_rng(7).permutation(len(lines))
    turned = [lines[number][:: -1 if number % 2 else 1] for number in order]
    assert areas(closed(turned)) == pytest.approx(expected, abs=tolerance)


def test_each_gap_over_a_micron_is_told_with_its_place_and_size() -> None:
    chained = closed([*S[:3], line((0, 10), (0, 0.005))])
    (joint,) = chained.joints
    assert joint.gap == pytest.approx(0.005)
    assert joint.at == pytest.approx((0, 0.0025))
    assert joint.sources == (0, 3)


def test_a_gap_under_a_micron_is_closed_without_a_word() -> None:
    chained = closed([*S[:3], line((0, 10), (0, REPORTED / 2))])
    assert areas(chained) == pytest.approx([100], abs=0.01)
    assert not chained.joints


def test_ends_that_cross_and_run_on_within_the_tolerance_are_drawn_back_and_told() -> None:
    chained = closed([line((-0.009, 0), (10.009, 0)), line((10, -0.009), (10, 10)), S[2], line((0, 10), (0, -0.009))])
    assert areas(chained) == pytest.approx([100], abs=1e-6)
    assert not chained.opens
    assert [joint.gap for joint in chained.joints] == pytest.approx([0.009] * 4)


def test_an_end_that_runs_on_further_is_a_tail() -> None:
    chained = closed([line((0, 0), (10.02, 0)), *S[1:]])
    assert areas(chained) == pytest.approx([100], abs=1e-6)
    assert [tail.length for tail in chained.opens] == pytest.approx([0.02])


def test_a_gap_over_the_tolerance_stays_open_and_is_named_with_both_ends_and_the_hole() -> None:
    chained = closed([*S[:3], line((0, 10), (0, 0.011))])
    assert not chained.faces
    (chain,) = chained.opens
    assert sorted([chain.start, chain.end]) == [(0.0, 0.0), (0.0, 0.011)]
    assert chain.hole == pytest.approx(0.011)
    assert chain.length == pytest.approx(39.989)
    assert chain.sources == (0, 1, 2, 3)


def test_a_wider_tolerance_closes_it() -> None:
    assert areas(closed([*S[:3], line((0, 10), (0, 0.011))], join=0.02)) == pytest.approx([100], abs=0.1)


def test_a_dangling_tail_is_named_from_the_corner_to_its_free_end() -> None:
    (tail,) = closed([*S, line((10, 10), (14, 13))]).opens
    assert (tail.start, tail.end) == ((10, 10), (14, 13))
    assert tail.length == pytest.approx(5)


def test_lines_drawn_twice_are_told_with_their_length() -> None:
    (doubled,) = closed(S + S).doubled
    assert doubled[1] == pytest.approx(40)


def test_a_loop_drawn_again_a_hair_away_is_told_and_makes_no_ring() -> None:
    chained = closed([arc(0, 0, 5, 0, 360), arc(0, 0, 5.002, 0, 360)])
    assert len(chained.doubled) == 1
    assert not chained.faces[0].polygon.interiors


def test_divided_faces_are_told_and_plain_loops_are_not() -> None:
    assert closed([*S, line((5, 0), (5, 10))]).crossed
    assert not closed(S + square(2, 2, 6)).crossed


def test_lines_that_divide_a_hole_are_told() -> None:
    chained = closed([*S, *square(2, 2, 6), line((5, 2), (5, 8))])
    assert areas(chained) == pytest.approx([64])
    assert chained.lost


def test_a_line_of_a_single_place_is_returned_as_pointless() -> None:
    assert closed([*S, line((3, 3), (3, 3))]).pointless == (4,)


def test_nothing_in_gives_nothing_out() -> None:
    assert close_outlines([], [], JOIN) == Chained()


def test_a_closed_line_needs_no_repeated_point() -> None:
    chained = close_outlines([line((0, 0), (10, 0), (10, 10), (0, 10))], [True], JOIN)
    assert areas(chained) == [100]


def test_clean_loops_keep_every_point_exactly() -> None:
    ring = arc(1 / 3, 1 / 7, 5, 0, 360)
    ring[-1] = ring[0]
    (face,) = closed([ring]).faces
    assert np.array_equal(shapely.get_coordinates(face.polygon.exterior), ring)


def test_a_dense_curve_is_not_moved_by_the_joining() -> None:
    """Lines far shorter than the tolerance must not collapse onto each other."""
    ring = arc(0, 0, 1, 0, 360, steps=6000)  # steps of 1 um, a tenth of the tolerance
    pieces = list(np.stack([ring[:-1], ring[1:]], axis=1))
    (face,) = closed(pieces).faces
    corners = shapely.get_coordinates(face.polygon.exterior)
    assert np.abs(np.hypot(*corners.T) - 1).max() < 1e-6
    assert len(corners) == 6001


@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), min_size=2, max_size=14))
@settings(max_examples=150, deadline=None)
def test_faces_are_valid_and_disjoint_whatever_the_lines(points: list[tuple[int, int]]) -> None:
    lines = [line(*pair) for pair in itertools.pairwise(points)]
    faces = [face.polygon for face in closed(lines).faces]
    assert all(face.is_valid and face.area > 0 for face in faces)
    assert sum(face.area for face in faces) == pytest.approx(shapely.unary_union(faces).area, abs=1e-6)


@given(st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_shaken_ends_close_to_the_same_areas(seed: int) -> None:
    """Every end of a nest of loops moved by up to a third of the tolerance, lines shuffled and turned."""
    random = np.random.default_rng(seed)
    lines = S + square(2, 2, 6) + square(4, 4, 2) + square(12, 0, 3)
    shaken = [points + random.uniform(-JOIN / 6, JOIN / 6, points.shape) for points in lines]
    mixed = [shaken[number][:: random.choice([-1, 1])] for number in random.permutation(len(lines))]
    assert areas(closed(mixed)) == pytest.approx([4, 9, 64], abs=0.1)


@pytest.mark.parametrize("count", [20_000])
def test_many_lines_take_seconds(count: int) -> None:
    lines = [side for x in range(count // 400) for y in range(100) for side in square(3 * x, 3 * y, 2)]
    begun = time.perf_counter()
    chained = closed(lines)
    assert len(chained.faces) == count // 4
    assert time.perf_counter() - begun < 30


def test_a_long_line_that_runs_back_upon_itself_is_refused_in_seconds() -> None:
    there = np.column_stack([np.linspace(0, 100, 400_001), np.zeros(400_001)])
    begun = time.perf_counter()
    with pytest.raises(DrawingError, match="cross or touch"):
        closed([np.vstack([there, there[::-1]])])
    assert time.perf_counter() - begun < 60


def test_lines_that_cross_everywhere_are_refused_in_seconds() -> None:
    steps = np.arange(300.0)
    rows = [line((0, step), (300, step)) for step in steps]
    columns = [line((step, 0), (step, 300)) for step in steps]
    begun = time.perf_counter()
    with pytest.raises(DrawingError, match="meet each other"):
        closed(rows + columns)
    assert time.perf_counter() - begun < 60
