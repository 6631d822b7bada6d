"""Distances to walls, by the grid and by the tree, against those of GEOS to the whole outline."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from inlayfit.offset import section
from inlayfit.walls import Walls
from tests import shapes

SAME = 1e-9
"""mm: the two ways round differently, and the engine keeps its vertices on a grid finer than this."""

AREAS: dict[str, list[shapely.Polygon]] = {
    "square, of four long edges": [shapes.square(20)],
    "ring of chords": [shapes.ring(8, 3, 1.5)],
    "heap": shapes.blob(2),
    "dense disc": [shapes.disc(9, 2, 1)],
    "leaning bar": [shapely.affinity.rotate(shapes.bar(40, 0.3), 33)],
}


def exact(areas: list[shapely.Polygon], points: np.ndarray) -> np.ndarray:
    return shapely.distance(shapely.boundary(shapely.MultiPolygon(areas)), shapely.points(points))


@pytest.mark.parametrize("likely", [0.0, 0.05, 0.5, 5.0])
@pytest.mark.parametrize("name", AREAS)
def test_distances_are_exact_wherever_the_points_lie_and_however_far_they_are_thought_off(
    name: str, likely: float
) -> None:
    areas, rng = AREAS[name], np.random.default_rng(1)
    beside = shapely.get_coordinates(areas) + rng.uniform(-0.06, 0.06, (shapely.get_num_coordinates(areas).sum(), 2))
    points = np.concatenate([rng.uniform(-60, 60, (300, 2)), beside[:400]])
    assert Walls.of(areas).distances(points, likely) == pytest.approx(exact(areas, points), abs=SAME)
    assert Walls.of_section(section(areas)).distances(points, likely) == pytest.approx(exact(areas, points), abs=2e-4)


@pytest.mark.parametrize("name", AREAS)
def test_near_tells_the_exact_distance_or_that_it_is_over_the_most(name: str) -> None:
    areas, rng = AREAS[name], np.random.default_rng(2)
    points = rng.uniform(-30, 30, (500, 2))
    true, told = exact(areas, points), Walls.of(areas).near(points, 0.8)
    assert np.isinf(told[true > 0.8 + SAME]).all()
    assert told[true < 0.8 - SAME] == pytest.approx(true[true < 0.8 - SAME], abs=SAME)
    assert (true < 0.8).any()


def test_without_walls_and_without_points_there_is_no_distance() -> None:
    nothing = Walls.of_section(section(shapely.Polygon()))
    assert np.isinf(nothing.distances(np.zeros((3, 2)), 0.05)).all()
    assert len(Walls.of([shapes.square(1)]).distances(np.empty((0, 2)), 0.05)) == 0
