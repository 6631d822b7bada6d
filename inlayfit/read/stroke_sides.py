"""Both sides of strokes (SVG 2, section 13.5): the tracks of a whole drawing laid point by point at once.

See stroke.py for the words. A point is a complex number, and so the left of a direction is 1j times that direction.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from inlayfit.read.chords import ROOM, Floats, Ints, Points, chords_for, swelling
from inlayfit.read.flatten import cross
from inlayfit.read.tracks import Track

_WINDOW = 64  # chords on either side of a corner in which the inner sides are looked for

Bools = NDArray[np.bool_]
Cap = Literal["butt", "round", "square"]
Join = Literal["miter", "round", "bevel"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Nib:
    """What draws a stroke: half its width, its ends, its joins, and by how much round parts may be off."""

    half: float
    cap: Cap
    join: Join
    miter_limit: float
    tolerance: float

    @property
    def need(self) -> float:
        """How many chords with their ends on the curve keep a radian of its round parts within the tolerance."""
        return math.sqrt(self.half / (8 * self.tolerance))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sides:
    """Tracks one behind another, point by point (n,): where the chords that end and begin at a point run on the left.

    `normal_in` and `normal_out` lead there from the point, square to the track; `mitre` leads to where they meet;
    `offsets` (2, n) to the points of the left and of the right side, moved outwards so that areas are kept.
    `sharp` points are corners. `folding` tells of the chord behind each point whether it runs backwards on the left, 1,
    on the right, -1, or on neither; `chord` leads to the next point. `begins` (k + 1,) is where each track begins.
    """

    nibs: Sequence[Nib]
    closed: Bools
    begins: Ints
    points: Points
    turn: Floats
    sharp: Bools
    normal_in: Points
    normal_out: Points
    mitre: Points
    offsets: Points
    chord: Points
    folding: Ints

    @property
    def counts(self) -> Ints:
        """The number of points of each track (k,)."""
        return self.begins[1:] - self.begins[:-1]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inner:
    """The inner sides at corners: their points (n,), which points they leave out, which tracks are whole (k,).

    What is left out is told for the left and for the right (2, n).
    """

    points: Points
    skipped: Bools
    whole: Bools


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edge:
    """One side of all tracks: `points` (m,); where those of each point of a track begin (n + 1,), and of tracks."""

    points: Points
    places: Ints
    begins: Ints

    def of(self, number: int) -> Points:
        """Return the side of one track."""
        return self.points[self.places[self.begins[number]] : self.places[self.begins[number + 1]]]

    def join(self, corner: int) -> Points:
        """Return the outer boundary of a join, from the side of the old chord to that of the new one."""
        return self.points[self.places[corner] : self.places[corner + 1]]


def sides_of(lines: Sequence[Track], nibs: Sequence[Nib]) -> Sides:
    """Return how the sides of tracks run, a nib each."""
    counts = np.array([len(track.points) for track in lines])
    begins = np.append(0, counts.cumsum())
    points = np.concatenate([track.points for track in lines])
    incoming = np.concatenate([track.incoming for track in lines])
    outgoing = np.concatenate([track.outgoing for track in lines])
    half, tolerance = np.array([(nib.half, nib.tolerance) for nib in nibs]).T.repeat(counts, axis=1)
    closed = np.array([track.closed for track in lines])
    first, last = begins[:-1], begins[1:] - 1
    bend = incoming.conj() * outgoing
    turn = np.angle(bend)
    sharp = half * turn * turn / 8 > tolerance / 4
    sharp[first[~closed]] = sharp[last[~closed]] = False
    normal_in, normal_out = 1j * half * incoming, 1j * half * outgoing
    mitre = (normal_in + normal_out) / np.maximum(1 + bend.real, 1e-12)
    arriving, leaving = np.where(sharp, normal_in, mitre), np.where(sharp, normal_out, mitre)
    following = np.arange(1, len(points) + 1)
    following[last] = first
    chord = points[following] - points
    before = np.arange(-1, len(points) - 1)
    before[first] = last
    bow = np.angle(outgoing[before].conj() * incoming[following]) / 2  # how far the track turns in one step
    lean = -1j * incoming * np.concatenate([track.swell for track in lines]) * bow / 8
    length = (np.abs(chord[before]) + np.abs(chord)) / 2
    offsets = np.stack([way * mitre + lean * np.abs(length - way * half * bow) for way in (1, -1)])
    along, spread = np.abs(chord) ** 2, (chord.conj() * (arriving[following] - leaving)).real
    folding = (along + spread <= 0).astype(np.intp) - (along - spread <= 0)
    folding[last[~closed]] = 0
    return Sides(
        nibs=nibs, closed=closed, begins=begins, points=points, turn=turn, sharp=sharp, normal_in=normal_in,
        normal_out=normal_out, mitre=mitre, offsets=offsets, chord=chord, folding=folding,
    )  # fmt: skip


def meetings(sides: Sides) -> Inner:
    """Return where the inner sides meet at each corner; a track that folds or where they do not meet is not whole."""
    whole = ~np.logical_or.reduceat(sides.folding != 0, sides.begins[:-1])
    inner, skipped = sides.points.copy(), np.zeros((2, len(sides.points)), dtype=np.bool_)
    of = np.arange(len(whole)).repeat(sides.counts)
    corners = (sides.sharp & whole[of]).nonzero()[0]
    if not len(corners):
        return Inner(points=inner, skipped=skipped, whole=whole)
    length = np.abs(sides.chord)
    room = np.minimum(*_apart(length.cumsum() - length, np.add.reduceat(length, sides.begins[:-1]), corners, sides))
    half = np.array([nib.half for nib in sides.nibs])[of[corners]]
    turn = np.abs(sides.turn[corners])
    need = half * np.maximum(np.tan(np.minimum(turn, 3.1) / 2), np.sin(turn)) * (1 + 1e-9)
    whole[of[corners[room < need]]] = False  # the ends of the ribbons do not lie within each other
    corners = corners[whole[of[corners]]]
    before, after = _apart(np.arange(len(of)), sides.counts, corners, sides)
    found = _adjacent(sides, corners, of[corners], inner)
    for corner, back, on in zip(corners[~found].tolist(), before[~found].tolist(), after[~found].tolist(), strict=True):
        number = of[corner]
        if whole[number]:
            whole[number] = _searched(sides, corner, number, (back, on), inner, skipped)
    return Inner(points=inner, skipped=skipped, whole=whole)


def _apart(along: NDArray[Any], total: NDArray[Any], corners: Ints, sides: Sides) -> tuple[NDArray[Any], NDArray[Any]]:
    """Return how far it is from each corner back to the one before or the start, and on to the next one or the end.

    `along` (n,) grows from point to point, by `total` (k,) in all of a closed track.
    """
    of = np.searchsorted(sides.begins, corners, side="right") - 1
    at, closed = along[corners], sides.closed[of]
    initial, final = np.ones((2, len(of)), dtype=np.bool_)
    initial[1:] = final[:-1] = of[1:] != of[:-1]
    onward = np.empty_like(at)
    onward[:-1] = at[1:] - at[:-1]
    begin, end = along[sides.begins[of[final]]], along[sides.begins[of[final] + 1] - 1]
    around = total[of[final]] + at[initial]
    onward[final] = np.where(closed[final], around, end) - at[final]
    back = np.empty_like(at)
    back[1:] = onward[:-1]
    back[initial] = np.where(closed[initial], onward[final], at[initial] - begin)
    return back, onward


def _adjacent(sides: Sides, corners: Ints, of: Ints, inner: Points) -> Bools:
    """Put the points where the sides of the two chords at a corner meet in their places; tell which do meet."""
    way = np.sign(sides.turn[corners])
    first, last = sides.begins[of], sides.begins[of + 1] - 1
    before = np.where(corners == first, last, corners - 1)
    after = np.where(corners == last, first, corners + 1)
    side = (way < 0).astype(np.intp)
    start = sides.points[before] + np.where(
        sides.sharp[before], way * sides.normal_out[before], sides.offsets[side, before]
    )
    end = sides.points[after] + np.where(sides.sharp[after], way * sides.normal_in[after], sides.offsets[side, after])
    here = sides.points[corners]
    into, out = here + way * sides.normal_in[corners] - start, end - here - way * sides.normal_out[corners]
    t, u = _crossing(end - out - start, into, out)
    found = (t >= 0) & (t < 1) & (u > 0) & (u <= 1)
    inner[corners[found]] = (start + t * into)[found]
    return np.asarray(found)


def _crossing(gap: Points, into: Points, out: Points) -> tuple[Floats, Floats]:
    """Return where lines cross, as parts of both of them; `gap` leads from the start of one to that of the other."""
    with np.errstate(invalid="ignore", divide="ignore"):
        turn = cross(into, out)
        return cross(gap, out) / turn, cross(gap, into) / turn


def _searched(sides: Sides, corner: int, number: int, room: tuple[int, int], inner: Points, skipped: Bools) -> bool:
    """Put the point where two inner sides cross farther off in its place, and skip those beyond; tell whether they do.

    `room` is how many chords there are to the corners beside. They must cross just once within a window.
    """
    begin, end = sides.begins[number : number + 2]
    count, way = end - begin, np.sign(sides.turn[corner])
    before = (corner - begin + np.arange(-min(room[0], _WINDOW), 1)) % count + begin
    after = (corner - begin + np.arange(min(room[1], _WINDOW) + 1)) % count + begin
    offsets = sides.offsets[int(way < 0)]
    lines = [
        sides.points[line] + np.where(sides.sharp[line], way * normal[line], offsets[line])
        for line, normal in ((before, sides.normal_out), (after, sides.normal_in))
    ]
    lines[0][-1] = sides.points[corner] + way * sides.normal_in[corner]
    lines[1][0] = sides.points[corner] + way * sides.normal_out[corner]
    into, out = (lines[0][1:] - lines[0][:-1])[:, None], lines[1][1:] - lines[1][:-1]
    t, u = _crossing(lines[1][:-1] - lines[0][:-1, None], into, out)
    found = ((t >= 0) & (t < 1) & (u > 0) & (u <= 1)).nonzero()
    if len(found[0]) != 1:
        return False
    i, j = (int(place[0]) for place in found)
    inner[corner] = lines[0][i] + t[i, j] * into[i, 0]
    skipped[int(way < 0), before[i + 1 : -1]] = skipped[int(way < 0), after[1 : j + 1]] = True
    return True


def laid_side(sides: Sides, inner: Inner, way: float) -> Edge:
    """Return the left side of all tracks, way 1, or the right one, -1, both in the direction of the tracks."""
    outer = (sides.sharp & (sides.turn * way < 0)).nonzero()[0]
    steps, pointed = _joins(sides, outer)
    counts = np.ones(len(sides.points), dtype=np.intp)
    counts[inner.skipped[int(way < 0)]] = 0
    counts[outer] = 2 + np.maximum(steps - 1, 0) + pointed
    places = np.append(0, counts.cumsum())
    points = np.empty(places[-1], dtype=np.complex128)
    single = counts == 1
    plain = np.where(sides.sharp, inner.points, sides.points + sides.offsets[int(way < 0)])
    points[places[:-1][single]] = plain[single]
    first, here, side = places[outer], sides.points[outer], way * sides.normal_in[outer]
    points[first], points[places[outer + 1] - 1] = here + side, here + way * sides.normal_out[outer]
    points[first[pointed] + 1] = (here + way * sides.mitre[outer])[pointed]
    on_arc = np.maximum(steps - 1, 0)
    row = np.arange(len(outer)).repeat(on_arc)
    step = np.arange(1, len(row) + 1) - (on_arc.cumsum() - on_arc)[row]
    turn = sides.turn[outer]
    angle, swollen = (turn / np.maximum(steps, 1))[row] * step, side * (1 + swelling(turn, np.maximum(steps, 1)))
    points[first[row] + step] = here[row] + swollen[row] * (np.cos(angle) + 1j * np.sin(angle))
    return Edge(points=points, places=places, begins=sides.begins)


def _joins(sides: Sides, corners: Ints) -> tuple[Ints, Bools]:
    """Return, of each corner, how many chords its round join has, and whether its join has a point."""
    of = np.searchsorted(sides.begins, corners, side="right") - 1
    turn = np.abs(sides.turn[corners])
    rounded = np.array([nib.join == "round" for nib in sides.nibs])[of]
    need = np.array([nib.need for nib in sides.nibs])[of] * turn
    limit = np.array([nib.miter_limit if nib.join == "miter" else 0.0 for nib in sides.nibs])[of]
    between = math.pi - turn  # the angle between the two lines
    pointed = (between > 1e-6) & (1 / np.sin(np.maximum(between, 1e-6) / 2) <= limit * (1 + 1e-12))
    return np.where(rounded, np.where(need <= 1, 1, chords_for(need, ROOM)), 0), pointed
