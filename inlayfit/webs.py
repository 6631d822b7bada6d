"""Material too thin to hold: webs within a piece, walls of wood between pockets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.offset import Section, offset, opened, polygons_of
from inlayfit.place_spots import RIM_DUST
from inlayfit.units import Mm
from inlayfit.walls import Walls

HAIR: Mm = 0.005
"""How far a place must reach beyond the opened shape to be looked at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thin:
    """A thin place: its middle and the least width there, mm; `between` numbers the two pockets of a wall."""

    x: Mm
    y: Mm
    width: Mm
    between: tuple[int, int] | None = None


def thin_webs(piece: Section, limit: Mm) -> list[Thin]:
    """Return the webs under the limit: places that join two parts; the taper of a tip or a limb is none.

    A web is where opening by half of the limit cuts through; its width is the least distance between its two sides.
    """
    wide = opened(piece, limit / 2)
    if wide.is_empty():
        return []
    places = [place for place in polygons_of(piece - offset(wide, HAIR)) if place.area > HAIR**2]
    if not places:
        return []
    walls = Walls.of_section(wide)
    thin = []
    for place in places:
        sides = _sides(place, walls)
        if len(sides) >= 2:
            thin.append(_narrowest(sides))
    return [web for web in thin if web.width < limit]


def _sides(place: shapely.Polygon, walls: Walls) -> list[shapely.LineString]:
    """Return the stretches of a place's edge that lie on the piece's own outline, where two rims or more part them."""
    sides, rims = [], 0
    for ring in shapely.get_rings(place):
        points = shapely.get_coordinates(ring)[:-1]
        on_rim = np.abs(walls.distances(points, HAIR + RIM_DUST) - HAIR) <= RIM_DUST
        if not on_rim.any():
            sides.append(ring)
            continue
        rims += max(1, int(np.count_nonzero(on_rim & ~np.roll(on_rim, 1))))
        sides.extend(_runs(points, ~on_rim))
    return sides if rims >= 2 else []


def _runs(points: NDArray[np.float64], wanted: NDArray[np.bool_]) -> list[shapely.LineString]:
    """Return the circular runs of wanted points as lines, the rim vertex at either end included."""
    start = int(np.argmin(wanted))
    points, wanted = np.roll(points, -start, axis=0), np.roll(wanted, -start)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], wanted, [False]]).astype(np.int8))).reshape(-1, 2)
    closed = np.concatenate([points, points[:1]])
    return [shapely.LineString(closed[first - 1 : end + 1]) for first, end in edges]


def _narrowest(sides: Sequence[shapely.LineString]) -> Thin:
    """Return the shortest way across between any two sides."""
    lines = [shapely.shortest_line(one, other) for index, one in enumerate(sides) for other in sides[index + 1 :]]
    line = min(lines, key=lambda way: way.length)
    (x1, y1), (x2, y2) = shapely.get_coordinates(line)
    return Thin(x=float(x1 + x2) / 2, y=float(y1 + y2) / 2, width=float(line.length))


def thin_walls(pockets: Sequence[shapely.Polygon], limit: Mm) -> list[Thin]:
    """Return the walls between two pockets that are under the limit; width 0 where they run into one another."""
    if len(pockets) < 2:
        return []
    first, second = shapely.STRtree(pockets).query(pockets, predicate="dwithin", distance=limit)
    walls = []
    for one, other in zip(first.tolist(), second.tolist(), strict=True):
        if one >= other:
            continue
        (x1, y1), (x2, y2) = shapely.get_coordinates(shapely.shortest_line(pockets[one], pockets[other]))
        walls.append(
            Thin(
                x=float(x1 + x2) / 2,
                y=float(y1 + y2) / 2,
                width=float(np.hypot(x2 - x1, y2 - y1)),
                between=(one, other),
            )
        )
    return walls
