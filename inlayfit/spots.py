"""Where a bit begins to miss a spot, from the walls that it touches on either side: no offset is made for that.

Words: a *spot* is the point of a missed place that lies furthest from where the bit's centre may be. The *limit* is how
far it may lie.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inlayfit.units import Mm

Limit = Callable[[Mm], Mm]
"""How far from its centre a bit of a radius may leave something."""

Ring = NDArray[np.float64]
"""The vertices (n, 2) of an outline, mm, none twice."""

STEPS = 20
"""Mostly six lead to where a spot begins to be missed; where the walls change with every step none do."""

ARRIVED: Mm = 1e-7
"""A step that is no longer leads nowhere new."""

SLIGHT = 1e-6
"""The share of a radius over which the slope of a limit is taken."""


MOST = 100
"""Of a place with more vertices so many are looked at; the spot is found in the end, as places shrink."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A spot and the nearest of the bit's centres, mm."""

    x: Mm
    y: Mm
    centre: tuple[Mm, Mm]

    @classmethod
    def of(cls, place: Ring, corners: Ring) -> Spot | None:
        """Return the spot of a place, of the corners of all the bit's centres (n, 2); None where there are none.

        Next to a spot the centres come to a corner, for the bit is stopped on either side.
        """
        if not len(corners):
            return None
        place = place[:: math.ceil(len(place) / MOST)]
        squares = ((place[:, None] - corners[None]) ** 2).sum(axis=2)
        deepest = int(squares.min(axis=1).argmax())
        x, y = corners[squares[deepest].argmin()].tolist()
        return cls(x=float(place[deepest, 0]), y=float(place[deepest, 1]), centre=(x, y))

    def beyond(self, centres: Sequence[Ring], limit: Mm) -> bool:
        """Return whether the spot lies further than a limit from where the centres end."""
        feet = _Edges.of(centres).feet(self.x, self.y) if centres else np.full((1, 2), np.inf)
        return bool((feet**2).sum(axis=1).min() > limit**2)

    def begins(self, walls: Sequence[Ring], radius: Mm, limit: Limit) -> Mm | None:
        """Return the radius where the spot begins to be missed; None where that is not found.

        There the bit touches walls to the left and to the right of the line from its centre to the spot, and the spot
        lies at the limit: three distances for a centre and a radius, by Newton's method from a radius that misses it.
        """
        edges, (x, y) = _Edges.of(walls), self.centre
        for _ in range(STEPS):
            feet = edges.feet(x, y)
            squares = (feet**2).sum(axis=1)
            to_left = (self.x - x) * feet[:, 1] > (self.y - y) * feet[:, 0]
            if to_left.all() or not to_left.any():
                return None
            left = feet[np.where(to_left, squares, np.inf).argmin()].tolist()
            right = feet[np.where(to_left, np.inf, squares).argmin()].tolist()
            slope = (limit(radius * (1 + SLIGHT)) - limit(radius)) / (radius * SLIGHT)
            step = _step(left, right, (self.x - x, self.y - y), radius, limit(radius), slope)
            longest = max(map(abs, step))
            if not longest < math.inf:
                return None
            most = min(
                math.hypot(self.x - x, self.y - y) / 2 / max(longest, ARRIVED), radius / 2 / max(-step[2], ARRIVED)
            )
            share = min(1.0, most)
            x, y, radius = (value + share * change for value, change in zip((x, y, radius), step, strict=True))
            if longest < ARRIVED:
                return radius
        return None


def _step(
    left: Sequence[Mm], right: Sequence[Mm], spot: Sequence[Mm], radius: Mm, limit: Mm, slope: float
) -> tuple[Mm, Mm, Mm]:
    """Return by how much the centre and the radius must change, as far as all is straight; infinite if that is nowhere.

    Args:
        left: the way from the centre to the nearest wall on that side, mm.
        right: the same on the other.
        spot: the way to the spot.
        radius: what the walls should be off.
        limit: what the spot should be off.
        slope: by how much the limit grows with the radius.
    """
    (from_left, left_x, left_y), (from_right, right_x, right_y), (away, to_x, to_y) = map(_unit, (left, right, spot))
    aside_x, aside_y = left_x - right_x, left_y - right_y
    ahead_x, ahead_y = to_x - slope * left_x, to_y - slope * left_y
    aside, ahead = from_left - from_right, away - limit - slope * (from_left - radius)
    det = aside_x * ahead_y - aside_y * ahead_x
    if det == 0:
        return math.inf, math.inf, math.inf
    x, y = (aside * ahead_y - ahead * aside_y) / det, (ahead * aside_x - aside * ahead_x) / det
    return x, y, from_left - radius - left_x * x - left_y * y


def _unit(way: Sequence[Mm]) -> tuple[Mm, float, float]:
    length = math.hypot(*way)
    return (length, way[0] / length, way[1] / length) if length else (0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class _Edges:
    """The edges of rings: where each starts, the way along it, and the square of its length."""

    starts: Ring
    ways: Ring
    squares: NDArray[np.float64]

    @classmethod
    def of(cls, rings: Sequence[Ring]) -> _Edges:
        starts = np.concatenate(rings)
        ways = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings]) - starts
        return cls(starts, ways, np.maximum((ways**2).sum(axis=1), np.finfo(np.float64).tiny))

    def feet(self, x: Mm, y: Mm) -> NDArray[np.float64]:
        """Return the way from a point to the nearest point of each edge, (n, 2)."""
        back = self.starts - (x, y)
        shares = np.clip(-(back * self.ways).sum(axis=1) / self.squares, 0.0, 1.0)
        return np.asarray(back + shares[:, None] * self.ways)
