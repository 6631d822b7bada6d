"""Where a spot begins to be missed, against the formulas of geometry.md: reach r (1 / sin(a / 2) - 1), and a lens."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from inlayfit.spots import Spot
from tests import shapes

TOLERANCE = 0.05


def walls_of(area: shapely.Polygon) -> list[np.ndarray]:
    return [shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(area)]


def beyond_the_tolerance(radius: float) -> float:
    return radius + TOLERANCE


@pytest.mark.parametrize("bit", [0.3, 1.0, 2.5])
@pytest.mark.parametrize("angle", [20.0, 60.0, 90.0, 140.0])
def test_a_corner_begins_to_be_missed_where_its_reach_comes_to_the_tolerance(angle: float, bit: float) -> None:
    """Plain geometry: r (1 / sin(a / 2) - 1) = tolerance."""
    half = math.radians(angle) / 2
    spot = Spot(x=0.0, y=0.0, centre=(bit / math.sin(half), 0.0))
    begins = spot.begins(walls_of(shapes.wedge(angle, 60)), bit, beyond_the_tolerance)
    assert begins == pytest.approx(TOLERANCE / (1 / math.sin(half) - 1), abs=1e-6)


def test_the_tip_of_a_lens_begins_to_be_missed_where_the_disc_that_touches_both_rims_is_that_far_off() -> None:
    """Two discs R, centres 2 c apart: reach h - sqrt((R - r)^2 - c^2) - r with h^2 = R^2 - c^2."""
    lens = shapely.intersection(shapes.disc(8, -4), shapes.disc(8, 4))
    tip = math.sqrt(8**2 - 4**2)
    spot = Spot(x=0.0, y=tip, centre=(0.0, math.sqrt((8 - 1) ** 2 - 4**2)))
    begins = spot.begins(walls_of(lens), 1.0, beyond_the_tolerance)
    assert begins is not None
    assert tip - math.sqrt((8 - begins) ** 2 - 4**2) - begins == pytest.approx(TOLERANCE, abs=2e-4)  # of chords


def test_with_walls_on_one_side_alone_a_spot_tells_nothing() -> None:
    above = [np.array([[0.0, 5.0], [9.0, 5.0], [4.0, 9.0]])]
    assert Spot(x=0.0, y=0.0, centre=(3.0, 0.0)).begins(above, 1.0, beyond_the_tolerance) is None


def test_the_spot_of_a_place_is_its_furthest_vertex_from_the_centres_and_without_centres_there_is_none() -> None:
    place, corners = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 3.0]]), np.array([[2.0, 0.0], [4.0, 0.0]])
    spot = Spot.of(place, corners)
    assert spot is not None
    assert (spot.x, spot.y, spot.centre) == (0.0, 3.0, (2.0, 0.0))
    assert Spot.of(place, np.empty((0, 2))) is None
