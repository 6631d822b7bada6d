"""Where bits of several sizes lose touch with an outline, and where they come back to it.

Words: along a track, a *run* is what a bit does not touch. At either end of a run the bit touches another wall as well.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Self

import numpy as np
from numpy.typing import NDArray

from inlayfit.discs import Seats, stopped_by
from inlayfit.edge_grid import ranks
from inlayfit.touches import Touches
from inlayfit.units import Mm

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]
Complex = NDArray[np.complex128]


FAR = 0.7
"""Touches that lie further apart than so many radii may have a wall between them that stops the bit first."""

LOOKS = 2
"""So often that is looked for."""

NEAR = 0.01
"""A disc that is smaller by no more than this share of the radius is the bit."""


@dataclass(frozen=True)
class Tracks:
    """The touches of each track: the `first` and the `last` (tracks,).

    `swept` (n + 1,) is twice the area that the steps before a touch sweep, as seen from 0.
    """

    first: Indices
    last: Indices
    swept: Floats

    @classmethod
    def of(cls, touches: Touches) -> Self:
        """Return the tracks of touches."""
        first = np.flatnonzero(np.append(True, touches.track[1:] != touches.track[:-1]))
        last = np.append(first[1:], len(touches.track)) - 1
        points = touches.seats.points
        return cls(first, last, np.append(0.0, np.cumsum(cross(points, points[touches.after]))))

    @cached_property
    def count(self) -> Indices:
        """How many touches each has."""
        return np.asarray(self.last - self.first + 1)

    @cached_property
    def area(self) -> Floats:
        """What each goes round, to its left."""
        return np.asarray(self.swept[self.last + 1] - self.swept[self.first]) / 2


@dataclass(frozen=True)
class Runs:
    """Runs, each for a bit of a `radius`, of which `row` is the number; `touch` is the first of `count` missed ones.

    A run goes from `start` to `end` on the wall, x + iy, and the bit's centre is at `comes` and at `goes` there.
    """

    row: Indices
    radius: Floats
    track: Indices
    touch: Indices
    count: Indices
    start: Complex
    comes: Complex
    end: Complex
    goes: Complex

    @classmethod
    def left(cls, touches: Touches, tracks: Tracks, radii: Floats, even: Mm) -> Self:
        """Return the runs that bits of some radii leave."""
        missed = touches.radii < radii[:, None] + even
        ahead = missed[:, touches.after]
        row, enters = np.nonzero(~missed & ahead)
        leave_row, leaves = np.nonzero(missed & ~ahead)
        track = touches.track[enters]
        place, leave_place = row * len(touches.radii), leave_row * len(touches.radii) + leaves
        following = np.searchsorted(leave_place, place + enters)
        on = following < len(leaves)
        on[on] = leave_place[following[on]] <= (place + tracks.last[track])[on]
        following = np.where(on, following, np.searchsorted(leave_place, place + tracks.first[track]))
        leaves = leaves[following]
        first = touches.after[enters]
        radius = radii[row]
        count = (leaves - first) % tracks.count[track] + 1
        several = (count > 1) | ~touches.seats.dead[first]  # in a corner by itself there are but its own two walls
        start, comes = _ends(touches, enters, first, touches.to_next, touches.from_last, radius, several)
        end, goes = _ends(touches, touches.after[leaves], leaves, touches.from_last, touches.to_next, radius, several)
        return cls(row, radius, track, first, count, start, comes, end, goes)

    def of(self, chosen: Indices) -> Runs:
        """Return some of the runs."""
        return Runs(**{field.name: getattr(self, field.name)[chosen] for field in fields(self)})

    def touches(self, tracks: Tracks) -> tuple[Indices, Indices]:
        """Return the missed touches of all runs, one after the other, with the number of the run of each."""
        run = np.repeat(np.arange(len(self.count)), self.count)
        first = tracks.first[self.track]
        touch = (self.touch - first)[run] + ranks(self.count)
        return run, touch % tracks.count[self.track][run] + first[run]

    def swept(self, tracks: Tracks, points: Complex) -> Floats:
        """Return twice the area that the way along the wall sweeps, as seen from 0."""
        last = self.touch + self.count - 1
        over = last > tracks.last[self.track]
        last = np.where(over, last - tracks.count[self.track], last)
        between = tracks.swept[last] - tracks.swept[self.touch] + np.where(over, 2 * tracks.area[self.track], 0.0)
        return cross(self.start, points[self.touch]) + between + cross(points[last], self.end)


def cross(one: Complex, other: Complex) -> Floats:
    """Return the cross products of ways."""
    return np.asarray(one.real * other.imag - one.imag * other.real)


def _ends(
    touches: Touches,
    met: Indices,
    missed: Indices,
    met_stops: Indices,
    missed_stops: Indices,
    radius: Floats,
    several: Flags,
) -> tuple[Complex, Complex]:
    """Return where between a touch that is met and one that is missed the bit loses touch, and its centre there.

    One of the stops of the two is what stops it, or where they lie far apart a third wall, which is asked for there if
    there are several.
    """
    share = np.minimum(*(_share(touches, stop, met, missed, radius) for stop in (met_stops[met], missed_stops[missed])))
    steps = touches.seats.points[met] - touches.seats.points[missed]
    far = np.flatnonzero(several & (np.abs(steps) > FAR * radius))
    for _ in range(LOOKS):
        if len(far):
            found, stop = touches.discs.largest(_between(touches, met[far], missed[far], share[far]))
            held = found < (1 - NEAR) * radius[far]
            far, stop = far[held], stop[held]
            share[far] = np.minimum(share[far], _share(touches, stop, met[far], missed[far], radius[far]))
    ends = _between(touches, met, missed, share)
    return ends.points, ends.points + radius * ends.normals


def _between(touches: Touches, met: Indices, missed: Indices, share: Floats) -> Seats:
    """Return the seats between touches that are met and such as are missed."""
    one, other = touches.seats.of(met), touches.seats.of(missed)
    points = one.points + share * (other.points - one.points)
    turned = np.where(other.dead, 0.0, share)  # a corner that no bit comes into has no normal of its own
    normals = one.normals + turned * (other.normals - one.normals)
    return replace(other, points=points, normals=normals / np.abs(normals), dead=np.zeros_like(other.dead))


def _share(touches: Touches, stop: Indices, met: Indices, missed: Indices, radius: Floats) -> Floats:
    """Return how far on the way from a touch that is met to one that is missed a stop begins to matter, 0 to 1.

    Along an edge the radius of the disc changes evenly where a wall stops it, round a corner its inverse does.
    """
    points, normals = touches.seats.points, touches.seats.normals
    along = np.where(touches.seats.dead[missed], normals[met], normals[missed])
    free = stopped_by(touches.outlines, stop, points[met], normals[met])
    held = stopped_by(touches.outlines, stop, points[missed], along)
    turning = (points[met] == points[missed]) | np.isinf(free)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(turning, (1 / radius - 1 / free) / (1 / held - 1 / free), (free - radius) / (free - held))
    share = np.where(free <= radius, 0.0, np.where(held >= radius, 1.0, share))
    return np.asarray(np.where(np.isnan(share), 0.5, share))
