"""Shapes with closed answers, built straight from formulas: the drawings of the tests that know what must come out."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import shapely

from inlayfit.drawing import Drawing, Region

FINE = 0.00005
"""Chord error of the curves here, mm: a quarter of what the reader itself allows."""


def drawing_of(*polygons: shapely.Polygon, name: str = "shape") -> Drawing:
    """Return a drawing of these regions, the lowest first."""
    regions = tuple(Region(polygon=polygon, name=f"{name}-{n}") for n, polygon in enumerate(polygons, start=1))
    return Drawing(source=f"{name}.svg", regions=regions)


def square(side: float) -> shapely.Polygon:
    """Return a square with its lower left corner at the origin."""
    return shapely.box(0, 0, side, side)


def bar(length: float, width: float) -> shapely.Polygon:
    """Return a rectangle along x."""
    return shapely.box(0, 0, length, width)


def regular(corners: int, radius: float) -> shapely.Polygon:
    """Return a regular polygon of that circumradius, the first corner on top."""
    return _around(np.full(corners, radius))


def pentagram(radius: float) -> shapely.Polygon:
    """Return the five-pointed star of chords: tips of 36 degrees, notches of 252 degrees inside (108 outside)."""
    inner = radius * math.sin(math.radians(18)) / math.sin(math.radians(54))
    return _around(np.array([radius, inner] * 5))


def _around(radii: np.ndarray) -> shapely.Polygon:
    angles = math.pi / 2 + 2 * math.pi * np.arange(len(radii)) / len(radii)
    return shapely.Polygon(np.column_stack([radii * np.cos(angles), radii * np.sin(angles)]))


def wedge(angle_deg: float, leg: float) -> shapely.Polygon:
    """Return an isosceles triangle with its apex of that angle at the origin, opening to the right."""
    half = math.radians(angle_deg) / 2
    return shapely.Polygon(
        [(0, 0), (leg * math.cos(half), -leg * math.sin(half)), (leg * math.cos(half), leg * math.sin(half))]
    )


def ell(side: float, arm: float) -> shapely.Polygon:
    """Return an L: a square less the square that leaves arms of that width."""
    return shapely.Polygon([(0, 0), (side, 0), (side, arm), (arm, arm), (arm, side), (0, side)])


def ellipse(a: float, b: float, x: float = 0.0, y: float = 0.0) -> shapely.Polygon:
    """Return an ellipse with the half axes a and b, flattened within FINE."""
    count = max(64, math.ceil(math.pi / math.acos(1 - FINE / max(a, b) * min(1.0, b / a) ** 0.5)))
    angles = 2 * math.pi * np.arange(count) / count
    return shapely.Polygon(np.column_stack([x + a * np.cos(angles), y + b * np.sin(angles)]))


def disc(radius: float, x: float = 0.0, y: float = 0.0) -> shapely.Polygon:
    """Return a disc, flattened within FINE."""
    return ellipse(radius, radius, x, y)


def block_with_limb(width: float, depth: float, side: float = 20.0) -> shapely.Polygon:
    """Return a square with a limb of that width and depth on the middle of its right side (tip at x = side + depth)."""
    middle = side / 2
    return shapely.union(square(side), shapely.box(side, middle - width / 2, side + depth, middle + width / 2))


def block_with_cleft(width: float, depth: float, side: float = 20.0) -> shapely.Polygon:
    """Return a square with a cleft of that width and depth in the middle of its right side."""
    middle = side / 2
    return shapely.difference(square(side), shapely.box(side - depth, middle - width / 2, side, middle + width / 2))


def twin_discs(radius: float, half_distance: float) -> shapely.Polygon | shapely.MultiPolygon:
    """Return two discs whose centres lie twice `half_distance` apart on the x axis."""
    return shapely.union(disc(radius, -half_distance), disc(radius, half_distance))


def hourglass(radius: float, half_distance: float) -> shapely.Polygon:
    """Return two discs that overlap: its waist is 2 sqrt(R^2 - c^2) wide."""
    shape = twin_discs(radius, half_distance)
    if shape.geom_type != "Polygon":
        raise ValueError("the discs of an hourglass must overlap")
    return shape


def ring(outer: float, inner: float, shift: float = 0.0) -> shapely.Polygon:
    """Return a disc with a hole whose centre lies `shift` aside: the thinnest wall is outer - inner - shift."""
    return shapely.difference(disc(outer), disc(inner, shift))


def comb(teeth: int, width: float, height: float = 8.0) -> shapely.Polygon:
    """Return a bar with teeth of that width and clefts of the same width between them."""
    parts = [shapely.box(2 * n * width, 0, (2 * n + 1) * width, height) for n in range(teeth)]
    return shapely.union_all([shapely.box(0, -5, (2 * teeth - 1) * width, 0), *parts])


def interior_angles(polygon: shapely.Polygon) -> np.ndarray:
    """Return the interior angles of the outer ring, radians, in its order."""
    corners = shapely.get_coordinates(shapely.orient_polygons(polygon).exterior)[:-1]
    edges = np.diff(np.vstack([corners[-1:], corners, corners[:1]]), axis=0)
    turns = [math.atan2(u[0] * v[1] - u[1] * v[0], float(np.dot(u, v))) for u, v in pairwise(edges)]
    return math.pi - np.array(turns)


def blob(seed: int, size: float = 30.0, scale: float = 2.0) -> list[shapely.Polygon]:
    """Return a seeded heap of discs, holes and limbs: necks, clefts and islands of every width up to `scale`."""
    rng = np.random.default_rng(seed)
    discs = [shapely.Point(*rng.uniform(0, size, 2)).buffer(rng.uniform(0.3, 1.0) * scale, 24) for _ in range(60)]
    holes = [shapely.Point(*rng.uniform(0, size, 2)).buffer(rng.uniform(0.2, 0.8) * scale, 24) for _ in range(30)]
    limbs = [shapely.LineString(rng.uniform(0, size, (3, 2))).buffer(rng.uniform(0.05, 0.5) * scale) for _ in range(8)]
    shape = shapely.difference(shapely.union_all(discs + limbs), shapely.union_all(holes))
    return [part for part in shapely.get_parts(shape) if part.area > 0.01]


def mosaic(seed: int, tiles: int = 12, size: float = 30.0) -> list[shapely.Polygon]:
    """Return the cells of seeded points within a disc: pieces that share one pocket, with corners of every angle."""
    rng = np.random.default_rng(seed)
    spots = shapely.MultiPoint(rng.uniform(0, size, (tiles, 2)))
    board = disc(size / 2, size / 2, size / 2)
    cells = shapely.get_parts(shapely.voronoi_polygons(spots, extend_to=board))
    parts = [part for cell in cells for part in shapely.get_parts(shapely.intersection(cell, board))]
    return [part for part in parts if part.geom_type == "Polygon" and part.area > 0.01]
