"""Seeded lots of pieces of every kind, as an emblem of shell falls into, and blanks of an inch or two for them."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import affinity

BLANKS = ((25.0, 35.0), (25.0, 50.0), (38.0, 38.0), (50.0, 50.0))
SIZES, SHARES = (4.0, 6.0, 9.0, 12.0, 16.0), (0.2, 0.25, 0.25, 0.2, 0.1)


def mixed(seed: int, least: int = 12, most: int = 40) -> tuple[list[shapely.Polygon], tuple[float, float]]:
    """Return pieces, each anywhere and turned anyhow, and the size of a blank."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(least, most + 1))
    blank = BLANKS[int(rng.integers(len(BLANKS)))]
    return [_piece(rng, rng.choice(SIZES, p=SHARES) * rng.uniform(0.8, 1.25)) for _ in range(count)], blank


def _piece(rng: np.random.Generator, size: float) -> shapely.Polygon:
    make = (_leaf, _disc, _bar, _ell, _crescent, _star, _hull)[int(rng.integers(7))]
    drawn = max(shapely.get_parts(make(rng, size)), key=lambda part: part.area)
    cut = shapely.buffer(shapely.buffer(shapely.buffer(drawn, -0.3), 0.6), -0.3)  # as a bit leaves it
    cut = max(shapely.get_parts(cut), key=lambda part: part.area, default=shapely.Polygon())
    piece = cut if cut.area > 1 else shapely.Point(0, 0).buffer(1.5)
    return affinity.translate(affinity.rotate(piece, rng.uniform(0, 360)), *rng.uniform(0, 60, 2))


def _leaf(rng: np.random.Generator, size: float) -> shapely.Polygon:
    x = np.linspace(0, size, 20)
    y = size * rng.uniform(0.15, 0.3) * np.sin(math.pi * x / size)
    return shapely.Polygon(np.vstack([np.column_stack([x, y]), np.column_stack([x, -y])[-2:0:-1]]))


def _disc(_rng: np.random.Generator, size: float) -> shapely.Polygon:
    return shapely.Point(0, 0).buffer(0.35 * size, 24)


def _bar(rng: np.random.Generator, size: float) -> shapely.Polygon:
    return shapely.box(0, 0, size, size * rng.uniform(0.25, 1))


def _ell(_rng: np.random.Generator, size: float) -> shapely.Polygon:
    return shapely.difference(
        shapely.box(0, 0, 0.8 * size, 0.8 * size), shapely.box(0.3 * size, 0.3 * size, size, size)
    )


def _crescent(_rng: np.random.Generator, size: float) -> shapely.Geometry:
    return shapely.Point(0, 0).buffer(size / 2, 24).difference(shapely.Point(0.25 * size, 0).buffer(0.42 * size, 24))


def _star(rng: np.random.Generator, size: float) -> shapely.Polygon:
    count = int(rng.integers(5, 10))
    angles = 2 * math.pi * (np.arange(count) + rng.uniform(0, 0.6, count)) / count
    radii = rng.uniform(0.35, 1, count) * size / 2
    return shapely.Polygon(np.column_stack([radii * np.cos(angles), radii * np.sin(angles)]))


def _hull(rng: np.random.Generator, size: float) -> shapely.Geometry:
    return shapely.MultiPoint(rng.uniform(0, size, (6, 2))).convex_hull
