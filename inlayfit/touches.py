"""The discs that touch outlines all along, as a bit would that follows them: once for bits of all sizes.

Words: *tracks* are the rings of outlines as a bit follows them, with the side that it is on to the left. At a corner
that the bit goes round, it touches with its centre in one direction after the other; into the other corners it does not
come. A *peak* is where two walls stop the disc alike, and to either side it is smaller: no larger bit touches nearby.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inlayfit.discs import NO_STOP, Discs, Seats, stopped_by
from inlayfit.edge_grid import ranks
from inlayfit.outlines import Outlines
from inlayfit.units import Mm

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]

SPACING = 0.3
"""Touches along an edge lie no further apart than this share of the largest radius."""

ROUNDS = 3
"""Between a peak and its neighbours there may be others, where a third wall is the one that stops the disc."""

SHARP = 0.02
"""Radians; a corner that turns less leaves nothing: 0.05 um of a bit of 1 mm."""

FAN = math.radians(15)
"""Round a corner the bit's centre is looked at every so much of a turn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Touches:
    """Touches along tracks, one after the other, each with the radius of the largest disc; infinite over the most.

    `from_last` and `to_next` are the stops, as they count towards the touch before and the one `after`. `track` numbers
    the tracks, `ring` (tracks,) the rings that they follow, `outside` (tracks,) says on which side.
    """

    outlines: Outlines
    discs: Discs
    seats: Seats
    radii: Floats
    from_last: Indices
    to_next: Indices
    after: Indices
    track: Indices
    ring: Indices
    outside: Flags

    @classmethod
    def along(cls, outlines: Outlines, most: Mm, step: Mm) -> Touches:
        """Return the touches of discs up to a radius; curves are drawn by chords that lie a step off, mm."""
        inside = _seats(outlines, outlines.both, 1, SPACING * most)
        outside = _seats(outlines, len(outlines.corners), -1, SPACING * most)
        seats = inside.with_others(np.full(len(outside.edge), len(inside.edge)), outside)
        discs = Discs(outlines, most)
        touches = cls._of(outlines, discs, seats, *discs.largest(seats))
        fresh = np.ones(len(seats.edge), dtype=np.bool_)
        for _ in range(ROUNDS):
            before, peaks = touches._peaks(fresh, step)  # noqa: SLF001
            if not len(before):
                break
            touches = touches._with_others(before, peaks)  # noqa: SLF001
            fresh = np.insert(np.zeros(len(fresh), dtype=np.bool_), before, True)
        return touches

    @classmethod
    def _of(cls, outlines: Outlines, discs: Discs, seats: Seats, radii: Floats, stop: Indices) -> Touches:
        """Return touches; a corner that no disc comes into is stopped by the other wall, from either side."""
        lines = len(outlines.corners) + np.stack([seats.edge, outlines.before[seats.edge]])
        from_last, to_next = np.where(seats.right, lines[::-1], lines)
        ring = outlines.ring[seats.edge] * 2 + seats.right
        begins = np.append(True, ring[1:] != ring[:-1])
        after = np.arange(1, len(begins) + 1)
        after[np.append(begins[1:], True)] = np.flatnonzero(begins)
        return cls(
            outlines=outlines,
            discs=discs,
            seats=seats,
            radii=radii,
            from_last=np.where(seats.dead, from_last, stop),
            to_next=np.where(seats.dead, to_next, stop),
            after=after,
            track=np.cumsum(begins) - 1,
            ring=ring[begins] // 2,
            outside=ring[begins] % 2 == 1,
        )

    def _with_others(self, before: Indices, others: Seats) -> Touches:
        """Return these touches with others put in before some of them."""
        radii, stop = self.discs.largest(others)
        return self._of(
            self.outlines,
            self.discs,
            self.seats.with_others(before, others),
            np.insert(self.radii, before, radii),
            np.insert(self.to_next, before, stop),
        )

    def _peaks(self, fresh: Flags, step: Mm) -> tuple[Indices, Seats]:
        """Return peaks beside fresh touches that stick out by more than a step, and before which touch each comes."""
        coming = self.from_last[self.after]
        stopped = (self.to_next != NO_STOP) & (coming != NO_STOP) & (self.to_next != coming)
        here = np.flatnonzero(stopped & (fresh | fresh[self.after]))
        there = self.after[here]
        seats = self.seats
        edge = np.where(seats.right[here], seats.edge[there], seats.edge[here])
        square = np.where(seats.right[here], -1j, 1j) * self.outlines.along[edge]
        points = [seats.points[end] for end in (here, there)]
        normals = [np.where(seats.dead[end], square, seats.normals[end]) for end in (here, there)]
        ends = list(zip(points, normals, strict=True))
        rising = [stopped_by(self.outlines, self.to_next[here], *end) for end in ends]
        falling = [stopped_by(self.outlines, coming[here], *end) for end in ends]
        turning = points[0] == points[1]
        share, height = _crossing(rising, falling, turning)
        higher = height > np.maximum(self.radii[here], self.radii[there]) + step
        peak = (rising[0] < rising[1]) & (falling[0] > falling[1]) & (share > 0) & (share < 1) & higher
        share, here = share[peak], here[peak]
        normal = normals[0][peak] + share * (normals[1] - normals[0])[peak]
        found = Seats(
            points=points[0][peak] + share * (points[1] - points[0])[peak],
            normals=normal / np.abs(normal),
            edge=np.where(turning[peak], seats.edge[here], edge[peak]),
            at_corner=turning[peak],
            dead=np.zeros(len(here), dtype=np.bool_),
            right=seats.right[here],
        )
        return here + 1, found


def _crossing(rising: list[Floats], falling: list[Floats], turning: Flags) -> tuple[Floats, Floats]:
    """Return how far between two touches two stops hold the disc alike, 0 to 1, and its radius there.

    Along an edge the radius changes evenly where a wall stops the disc, round a corner its inverse does.
    """
    inverse = turning | np.isinf([*rising, *falling]).any(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        up, down = ([np.where(inverse, -1 / end, end) for end in ends] for ends in (rising, falling))
        share = (down[0] - up[0]) / (up[1] - up[0] + down[0] - down[1])
        height = up[0] + share * (up[1] - up[0])
        return share, np.where(inverse, -1 / height, height)


def _seats(outlines: Outlines, count: int, sense: int, spacing: Mm) -> Seats:
    """Return seats along the first edges, in the order in which a bit follows them.

    Args:
        outlines: with all edges.
        count: of the edges.
        sense: 1 for a bit to the left of them, -1 to the right.
        spacing: mm.
    """
    turn, before = sense * outlines.turns[:count], outlines.before[:count]
    square = sense * 1j * outlines.along[:count]
    fan = np.where(turn < -SHARP, np.ceil(-turn / FAN) + 1, 1).astype(np.intp)
    between = np.maximum(np.ceil(outlines.lengths[:count] / spacing) - 1, 0).astype(np.intp)
    each = fan + between
    edge = np.repeat(np.arange(count), each)
    rank = ranks(each)
    fans = fan[edge]
    at_corner = rank < fans
    share = np.where(at_corner, 0.0, (rank - fans + 1) / (between[edge] + 1))
    turned = np.where(fans > 1, rank / np.maximum(fans - 1, 1), 0.5) * turn[edge] * sense
    seats = Seats(
        points=outlines.corners[edge] + share * outlines.ways[edge],
        normals=np.where(at_corner, square[before[edge]] * np.exp(1j * turned), square[edge]),
        edge=edge,
        at_corner=at_corner,
        dead=at_corner & (turn > SHARP)[edge],
        right=np.full(len(edge), sense < 0),
    )
    return seats if sense > 0 else seats.of(np.arange(len(edge))[::-1])
