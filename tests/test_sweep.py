"""What the sweep of rings takes on trust, compared with GEOS."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from inlayfit.read.sweep import is_clear


def scattered(seed: int) -> list[shapely.Polygon]:
    """Return stars, some with a hole, that are valid by themselves and lie apart, near each other, or touch."""
    chance = np.random.default_rng(seed)
    found = []
    for column in range(4):
        angles = np.linspace(0, 2 * np.pi, 40, endpoint=False)
        radii = chance.uniform(0.4, 0.5, 40)
        star = np.column_stack((radii * np.cos(angles) + column, radii * np.sin(angles)))
        inner = [star * 0.5 + (column * 0.5, 0.0)] if seed % 2 else []
        found.append(shapely.Polygon(star, inner))
    return found


@pytest.mark.parametrize("seed", range(8))
def test_polygons_are_clear_exactly_where_their_minimum_clearance_is_larger(seed: int) -> None:
    polygons = scattered(seed)
    clearance = shapely.minimum_clearance(shapely.MultiPolygon(polygons))
    assert clearance > 0
    for factor in (0.1, 0.999, 1.001, 10.0):
        assert is_clear(polygons, clearance * factor) == (factor < 1)


@pytest.mark.parametrize("across", [1e-6, 3e-6])
def test_a_corner_beside_a_long_edge_is_seen(across: float) -> None:
    polygons = [shapely.box(0, 0, 10, 1), shapely.Polygon([(5, 1 + across), (6, 2), (4, 2)])]
    assert is_clear(polygons, 2e-6) == (across > 2e-6)


def test_many_long_edges_side_by_side_are_judged_as_well() -> None:
    bars = [shapely.box(0, row, 100, row + 0.5) for row in range(200)]
    assert is_clear(bars, 0.4)
    assert not is_clear(bars, 0.6)
