"""How chords are laid so that a polygon encloses just what its curve encloses.

Chords between points of a curve lie inside: a ring of radius 10 mm loses 3e-5 of its area within 0.2 um. So the inner
points of a curve are moved outwards along its normal, by two thirds of the *sagitta* (the height of the curve over a
chord): then as much lies outside as inside, and the polygon strays by less than before. The ends stay where they are.

For an arc the radius of the inner points has a closed form. For any other smooth curve in equal steps of its
parameter, the height of a point over the line between its neighbours is four sagittas, so it is moved by a sixth of
that; the ends, which do not move, hand what they lack on to the points next to them. What is left is of the fourth
order in the step.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Points = NDArray[np.complex128]
"""Points and directions as x + iy: what is done to many points at once takes numpy half of the time for it."""

FLAT = 0.2
"""A need of fewer chords than this is met by one: what leaves its chord by 1/25 of the tolerance is straight."""

ROOM = 1.2
"""Between moved points a sagitta may be 1.2^2 tolerances: a curve strays by 25/36 of it from a chord at an end."""

_BEND = math.tan(
    math.pi / 3
)  # of the angle between two steps: where a curve turns by more in one step it has a cusp, and its points stay
_NOUGHT = 1e-6  # a turn that is so much weaker than the next one is none: its sign may be that of a rounding error
_SMALL = 1e-2  # radians: below, the series of x / sin x - 1 has 12 digits, and the quotient loses them


def chords_for(need: Floats, room: Floats | float = 1.0) -> Ints:
    """Return how many chords (n,) a curve takes, or a part of an arc (see `quarters`).

    `need` is how many would keep it within the tolerance if all points lay on the curve. n chords move the inner points
    by 2/3 n / (n - 1) sagittas, and a sagitta is (need / n)^2 of the tolerance: the bound holds where
    n (n - 1) >= (need / room)^2. With `ROOM`, none of the points may stay where it is.
    """
    chords = np.ceil(0.5 + np.sqrt(0.25 + (need / room) ** 2)).astype(np.intp)
    chords[need <= FLAT] = 1
    return chords


def quarters(sweep: Floats) -> Ints:
    """Return into how many equal parts of a quarter turn at most arcs are parted: their ends stay on the curve.

    An arc that begins on an axis so keeps its box: the points that lie farthest out do not move.
    """
    return np.maximum(np.ceil(np.abs(sweep) / (math.pi / 2) - 1e-9), 1).astype(np.intp)


def swelling(sweep: Floats, chords: Ints) -> Floats:
    """Return by what part of the radius (n,) the inner points of arcs of so many chords are moved outwards.

    With s = sweep / n and both ends on the circle, two triangles have the area r rho sin(s) / 2 and n - 2 have
    rho^2 sin(s) / 2; together they shall have r^2 n s / 2. With rho = r (1 + e) and q = s / sin(s) - 1 that is
    (n - 2) e^2 + (2 n - 2) e - n q = 0.
    """
    several = np.maximum(chords, 2)  # of one alone there are no inner points
    step = np.abs(sweep) / several
    square, large = step * step, np.maximum(step, _SMALL)
    quotient = np.where(step < _SMALL, square / 6 * (1 + square * 7 / 60), large / np.sin(large) - 1)
    root = np.sqrt((several - 1) ** 2 + (several - 2) * several * quotient)
    return np.asarray((chords > 1) * (several * quotient / (several - 1 + root)))


def levelled(points: Points, first: Ints, last: Ints, ends: tuple[Floats, Floats], limit: float) -> Points:
    """Return the points (n,) of curves with the inner ones moved, so that the chords enclose what the curves do.

    `first` and `last` are where each curve begins and ends (k,), three points at least; `ends` the cross products (k,)
    of two steps there, as between the steps before and behind inner points. No point moves by more than `limit`, and
    none where the curve turns sharply or changes the way it bends.
    """
    steps = points[1:] - points[:-1]
    both = steps[:-1].conj() * steps[1:]
    turn = np.empty(len(points))
    turn[1:-1] = both.imag
    turn[first], turn[last] = ends
    square = turn * turn
    flips = turn[1:] * turn[:-1] < -_NOUGHT * (square[1:] + square[:-1])
    flips[last[:-1]] = False  # from one curve to the next
    stays = np.zeros(len(points), dtype=np.bool_)
    stays[1:-1] = (np.abs(both.imag) >= _BEND * both.real) | flips[:-1] | flips[1:]
    stays[first] = stays[last] = turn[first] = turn[last] = 0
    _hand_on(turn, stays, first, last, (ends[0] / 2, ends[1] / 2))
    across = steps[:-1] + steps[1:]
    length = np.maximum(np.abs(across), 1e-300)  # of points that lie upon each other none is moved
    result = points.copy()
    result[1:-1] -= 1j * across * ((turn[1:-1] / (6 * length)).clip(-limit, limit) / length)
    return result


def _hand_on(turn: Floats, stays: NDArray[np.bool_], first: Ints, last: Ints, lacking: tuple[Floats, Floats]) -> None:
    """Add to the turns at inner points, in place, what is lacking at the ends; points that stay turn by nothing.

    All points of a curve take on their share, or, where that would be over half of their own, or where some of them
    stay, the points next to the ends.
    """
    spoilt = np.logical_or.reduceat(stays, first)
    total = np.add.reduceat(turn, first)
    total[total == 0.0] = np.nan
    share = (lacking[0] + lacking[1]) / total
    is_shared = ~spoilt & (share >= 0) & (share <= 0.5)
    share[~is_shared] = 0.0
    turn[stays] = 0.0
    turn *= (1 + share).repeat(last - first + 1)
    for inner, more in ((first + 1, lacking[0]), (last - 1, lacking[1])):
        turn[inner] += more * ~(is_shared | stays[inner])
