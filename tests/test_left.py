"""What bits of several sizes leave: closed forms of plane geometry (geometry.md 12), and Clipper 1 on mixed shapes."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

import inlayfit
from inlayfit.discs import Discs, Seats
from inlayfit.left import Left, left
from inlayfit.outlines import Outlines
from inlayfit.touches import Touches
from tests import shapes
from tests.swept import grown, shrunk

HAIR = 0.001


def what_is_left(
    area: shapely.Geometry, *radii: float, outside: bool = False, others: tuple[shapely.Geometry, ...] = ()
) -> list[Left]:
    """Return the places that bits leave on one side of an area, for each radius."""
    touches = Touches.along(Outlines.of([area, *others], []), max(radii), HAIR)
    counted = np.ones(len(touches.radii), dtype=np.bool_)
    found = left(touches, np.array(radii), hair=HAIR, even=0.0, counted=counted)
    return [places.of((places.outside == outside) & (places.outline == 0)) for places in found]


def disc_at(area: shapely.Geometry, x: float, y: float, normal: complex, most: float = 20.0) -> float:
    """Return the radius of the largest disc that touches an area at a point, with its centre along the normal there."""
    outlines = Outlines.of([area], [])
    at = complex(x, y)
    edge = int(np.argmin(np.abs(((at - outlines.corners) * outlines.along.conj()).imag)))
    nothing = np.zeros(1, dtype=np.bool_)
    seat = Seats(
        points=np.array([at]),
        normals=np.array([normal]),
        edge=np.array([edge]),
        at_corner=nothing,
        dead=nothing,
        right=nothing,
    )
    return float(Discs(outlines, most).largest(seat)[0][0])


@pytest.mark.parametrize("along", [0.5, 2.0, 4.9])
def test_a_disc_on_an_edge_of_a_square_is_as_large_as_it_lies_off_the_corner(along: float) -> None:
    """It touches both walls of a right angle alike."""
    assert disc_at(shapes.square(10), *_on_the_lowest_edge(shapes.square(10), along), 1j) == pytest.approx(along)


def _on_the_lowest_edge(area: shapely.Polygon, along: float) -> tuple[float, float]:
    left_end, bottom, _, _ = area.bounds
    return left_end + along, bottom


def test_a_disc_that_touches_a_wall_across_from_a_tip_is_stopped_by_the_tip() -> None:
    """Through (x, h) and tangent at 0: (x^2 + h^2) / 2 h."""
    block = shapely.Polygon([(-10, 0), (10, 0), (10, 20), (2, 20), (1, 4), (0, 20), (-10, 20)])
    assert disc_at(block, 0.0, 0.0, 1j) == pytest.approx((1 + 16) / 8)


@pytest.mark.parametrize("radius", [0.3, 0.8, 1.5])
def test_each_corner_of_a_square_is_a_place_of_the_reach_and_the_area_of_the_formula(radius: float) -> None:
    """Reach r (sqrt2 - 1), area (1 - pi / 4) r^2: geometry.md 12.2."""
    places = what_is_left(shapes.square(10), radius, 3.0)[0]
    assert places.runs.tolist() == [1, 1, 1, 1]
    assert places.deep == pytest.approx(np.full(4, radius * (math.sqrt(2) - 1)))
    assert places.area == pytest.approx(np.full(4, (1 - math.pi / 4) * radius**2))


@pytest.mark.parametrize("angle", [20.0, 45.0, 100.0, 150.0])
def test_a_wedge_is_left_as_deep_and_as_large_as_the_formula_says(angle: float) -> None:
    """Reach r (1 / sin(t/2) - 1), area r^2 (cot(t/2) - (pi - t) / 2): geometry.md 12.3."""
    half, radius = math.radians(angle) / 2, 0.5
    places = what_is_left(shapes.wedge(angle, 30), radius, 1.0)[0]
    tip = int(np.argmin(np.abs(places.spot)))
    assert places.deep[tip] == pytest.approx(radius * (1 / math.sin(half) - 1))
    assert places.area[tip] == pytest.approx(radius**2 * (1 / math.tan(half) - math.pi / 2 + half))


def test_a_slot_that_ends_is_as_deep_as_the_formula_says() -> None:
    """geometry.md 12.7: s = sqrt(r^2 - w^2/4), reach sqrt((L + s)^2 + w^2/4) - r, area w L - r^2 acos(s/r) + s w/2."""
    width, depth, radius = 0.8, 7.0, 0.5
    places = what_is_left(shapes.block_with_cleft(width, depth), radius, 1.0, outside=True)[0]
    deepest = int(places.deep.argmax())
    rest = math.sqrt(radius**2 - width**2 / 4)
    assert places.runs[deepest] == 1
    assert places.deep[deepest] == pytest.approx(math.hypot(depth + rest, width / 2) - radius, abs=0.01)
    area = width * depth - radius**2 * math.acos(rest / radius) + rest * width / 2
    assert places.area[deepest] == pytest.approx(area, rel=0.01)


def test_a_bar_between_two_blocks_is_one_place_with_two_runs() -> None:
    """A neck: what lies between hangs on both of its walls."""
    dumbbell = shapely.union_all([shapely.box(0, 0, 8, 8), shapely.box(8, 3.7, 14, 4.3), shapely.box(14, 0, 22, 8)])
    places = what_is_left(dumbbell, 0.6, 1.0)[0]
    assert places.runs[places.runs != 1].tolist() == [2]


def test_beside_a_short_waist_the_discs_overlap_and_each_side_is_a_place_of_its_own() -> None:
    """The bit that just does not pass leaves a sliver on either side, and what it cuts hangs together still."""
    waist = 2 * math.sqrt(5**2 - 4.8**2)
    places = what_is_left(shapes.hourglass(5, 4.8), 0.5 * waist * 1.01, 2.0)[0]
    assert set(places.runs.tolist()) <= {1}


def test_a_part_and_a_hole_too_small_for_the_bit_are_infinitely_deep() -> None:
    (island,) = what_is_left(shapes.disc(1.0), 1.2)
    assert (island.deep.tolist(), island.runs.tolist()) == ([math.inf], [0])
    assert island.area[0] == pytest.approx(math.pi, rel=0.01)
    hole = what_is_left(shapes.ring(6, 1.0), 1.2, outside=True)[0]
    assert (hole.deep.tolist(), hole.runs.tolist()) == ([math.inf], [0])


def test_a_wall_round_a_hole_that_is_missed_all_round_is_one_place() -> None:
    (places,) = what_is_left(shapes.ring(6, 5.0), 0.6)
    assert places.runs.tolist() == [0]
    assert places.area[0] == pytest.approx(math.pi * (36 - 25), rel=0.01)


def test_outlines_do_not_stop_the_discs_of_one_another() -> None:
    alone = what_is_left(shapes.square(10), 0.7, 3.0)
    beside = what_is_left(shapes.square(10), 0.7, 3.0, others=(shapely.box(10.01, 0, 30, 10), shapes.disc(2, 5, 5)))
    for one, other in zip(alone, beside, strict=True):
        assert other.deep == pytest.approx(one.deep)


@pytest.mark.parametrize("seed", [0, 2, 4, 5])
def test_rungs_tell_the_areas_that_clipper_1_finds_on_mixed_shapes(seed: int) -> None:
    """Heaps of discs and limbs, by an outside engine: to 2 %, 0.15 mm2 and 8 um, by which a slot is shut or not."""
    heap = max(shapely.get_parts(shapely.union_all(shapes.blob(seed, size=16.0))), key=shapely.area)
    for rung in inlayfit.check(shapes.drawing_of(heap), cutter="1/32in", tolerance=0.05).ladder[::3]:
        (lost, more_lost), (filled, more_filled) = zip(
            *(_lost_and_filled(heap, rung.diameter / 2 + off) for off in (-0.008, 0.008)), strict=True
        )
        assert 0.98 * lost - 0.15 <= rung.area_lost_mm2 <= 1.02 * more_lost + 0.15, rung.label
        assert 0.98 * filled - 0.15 <= rung.area_filled_mm2 <= 1.02 * more_filled + 0.15, rung.label


def _lost_and_filled(area: shapely.Geometry, radius: float) -> tuple[float, float]:
    """Return the area that opening takes and that closing adds."""
    opened, closed = grown(shrunk(area, radius), radius), shrunk(grown(area, radius), radius)
    return (area - opened).area, (closed - area).area
