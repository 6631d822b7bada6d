"""What bits of several sizes leave of a drawing, from the discs that touch its outlines: for all sizes at once.

Words: where a run ends the bit goes on along the other wall that it touches there: its centre at the end of one run and
at the start of the next is one. Runs that follow one another so go round a *place*, which the bit leaves: with one run
it is a corner or a dead end, with more a neck; a track that the bit does not touch at all is an island or a hole. A
place is as *deep* as its deepest *spot* lies from what the bit cuts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.discs import NO_STOP
from inlayfit.edge_grid import first_least, ranks
from inlayfit.outlines import APART
from inlayfit.runs import Runs, Tracks, cross
from inlayfit.touches import Touches
from inlayfit.units import Mm

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]
Complex = NDArray[np.complex128]

MOST_TOUCHES = 2_000_000
"""That are looked at in one go, for all sizes."""

ALIKE = 0.05
"""Radians: two discs that pass the tip of one wall meet there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """Places that bits leave, in mm: how `deep`, infinite for islands and holes, how many `runs`, the `area`.

    The area is no number where the bit is at two places next to it, for what lies between hangs on the other wall.
    `counted` is as deep as what counts of a place, less than 0 where nothing does; `spot` is the deepest that counts,
    `centre` where the bit comes next to it, x + iy, no number where it never does; `bounds` (n, 4) go round the place.
    `row` numbers the bits, `outline` the outlines, on one side of which the place lies.
    """

    row: Indices
    outline: Indices
    outside: Flags
    deep: Floats
    counted: Floats
    runs: Indices
    area: Floats
    spot: Complex
    centre: Complex
    bounds: Floats

    def of(self, chosen: Flags | Indices | slice) -> Left:
        """Return some of the places."""
        return Left(**{name: getattr(self, name)[chosen] for name in self.__slots__})


def left(touches: Touches, radii: Floats, *, hair: Mm, even: Mm, counted: Flags) -> list[Left]:
    """Return what bits of some radii leave, for each of them, but for what is less than a hair deep.

    Args:
        touches: along the outlines, of discs up to the largest radius at least.
        radii: (n,), mm.
        hair: mm.
        even: a disc that is larger than the bit by no more does not touch, lest it does so here and there between even
            walls; mm.
        counted: the touches that count for how deep a place is.
    """
    tracks = Tracks.of(touches)
    each = max(1, MOST_TOUCHES // len(touches.radii))
    found = []
    for first in range(0, len(radii), each):
        lot = radii[first : first + each]
        places = _left(touches, tracks, lot, hair, even, counted)
        ends = np.searchsorted(places.row, np.arange(len(lot) + 1)).tolist()
        found += [places.of(slice(*between)) for between in pairwise(ends)]
    return found


def _left(touches: Touches, tracks: Tracks, radii: Floats, hair: Mm, even: Mm, counted: Flags) -> Left:
    runs = Runs.left(touches, tracks, radii, even)
    along = _along(touches, tracks, runs, hair, counted)
    deep = np.flatnonzero(along.deep > hair)
    runs, along = runs.of(deep), along.of(deep)
    follows = _following(touches, runs, hair)
    along = replace(along, area=_areas(touches, tracks, runs, follows, hair))
    row, track = np.nonzero(np.maximum.reduceat(touches.radii, tracks.first) < radii[:, None] + even)
    links = [(one, other) for one, other in enumerate(follows.tolist()) if one != other]
    links += _across(touches, tracks, runs, row, track)
    islands = _islands(touches, tracks, row, track, counted)
    return _in_place(touches, _places(_together(along, islands), links))


def _along(touches: Touches, tracks: Tracks, runs: Runs, hair: Mm, counted: Flags) -> Left:
    """Return each run as a place, without its area."""
    run, touch = runs.touches(tracks)
    points = touches.seats.points[touch]
    to_start, to_end = np.abs(points - runs.comes[run]), np.abs(points - runs.goes[run])
    off = np.where(_close(runs, hair)[run], np.maximum(to_start, to_end), np.minimum(to_start, to_end))
    counts = np.where(counted[touch], off, -np.inf)
    _, deepest = first_least(-counts, runs.count)
    return Left(
        row=runs.row,
        **_beside(touches, runs.track),
        deep=-first_least(-off, runs.count)[0] - runs.radius,
        counted=counts[deepest] - runs.radius,
        runs=np.ones(len(runs.row), dtype=np.intp),
        area=np.zeros(len(runs.row)),
        spot=points[deepest],
        centre=np.where(to_start[deepest] < to_end[deepest], runs.comes, runs.goes),
        bounds=_bounds(points, runs.count),
    )


def _bounds(points: Complex, counts: Indices) -> Floats:
    """Return the boxes round lots of points, left, bottom, right, top, (n, 4)."""
    if not len(counts):
        return np.empty((0, 4))
    heads = np.cumsum(counts) - counts
    ways = np.column_stack([points.real, points.imag])
    return np.hstack([np.minimum.reduceat(ways, heads), np.maximum.reduceat(ways, heads)])


def _following(touches: Touches, runs: Runs, hair: Mm) -> Indices:
    """Return the number of the run that follows each: mostly itself again, for the bit is in one place at both ends.

    Else it is the one that starts where the bit is at the end, unless the disc at the start of this one is met before.
    """
    follows = np.arange(len(runs.row))
    odd = np.flatnonzero(~_close(runs, hair))
    if not len(odd):
        return follows
    off = 1j * APART * np.ptp(touches.outlines.corners.imag) * (2 * runs.row + touches.outside[runs.track])[odd]
    comes, goes = (_points(centres[odd] + off) for centres in (runs.comes, runs.goes))
    ends, nearest = shapely.STRtree(comes).query_nearest(goes, all_matches=False)
    one, other = odd[ends], odd[nearest]
    centre, end = runs.goes[one], runs.end[one]
    near = _one(centre, runs.comes[other], runs.radius[one], hair)
    to_other, to_meeting = (_clockwise(centre, end, point) for point in (runs.start[other], _meeting(runs)[one]))
    itself = ~near | ((to_other >= to_meeting + ALIKE) & ~_apart(runs)[one])
    on = dict(zip(one[near].tolist(), other[near].tolist(), strict=True))
    alone = set(one[itself].tolist())
    for run in one[~itself].tolist():
        following = on[run]
        passed = {run}
        while following in alone and following in on and following not in passed:  # a place of its own: on past it
            passed.add(following)
            following = on[following]
        follows[run] = following
    return follows


def _close(runs: Runs, hair: Mm) -> Flags:
    """Return whether the bit is in one place at both ends of a run."""
    return _one(runs.comes, runs.goes, runs.radius, hair)


def _one(centre: Complex, other: Complex, radius: Floats, hair: Mm) -> Flags:
    """Return whether two centres of a bit are one, but for what chords make of that."""
    return np.asarray(np.abs(centre - other) < np.sqrt(8 * radius * hair))


def _apart(runs: Runs) -> Flags:
    """Return whether the discs at either end of a run lie apart."""
    return np.asarray(np.abs(runs.comes - runs.goes) > 2 * runs.radius)


def _points(places: Complex) -> NDArray[np.object_]:
    return np.asarray(shapely.points(places.real, places.imag))


def _meeting(runs: Runs) -> Complex:
    """Return where the discs at either end of a run meet, on the side of the wall."""
    across = runs.comes - runs.goes
    with np.errstate(divide="ignore", invalid="ignore"):
        square = np.maximum((runs.radius / np.abs(across)) ** 2 - 0.25, 0.0)
        return np.asarray((runs.goes + runs.comes) / 2 + 1j * across * np.sqrt(square))


def _areas(touches: Touches, tracks: Tracks, runs: Runs, follows: Indices, hair: Mm) -> Floats:
    """Return the area of the place that each run goes round by itself, no number for the others."""
    once = (follows == np.arange(len(follows))) & _close(runs, hair)
    centre = (runs.comes + runs.goes) / 2
    turn = np.angle((runs.start - centre) * (runs.end - centre).conj())
    arcs = runs.radius**2 * turn + cross(centre, runs.start - runs.end)
    return np.where(once, (runs.swept(tracks, touches.seats.points) + arcs) / 2, np.nan)


def _clockwise(centre: Complex, one: Complex, other: Complex) -> Floats:
    """Return how far it is clockwise from one point to another round a centre, radians, from 0 to a whole turn."""
    return np.mod(np.angle((one - centre) * (other - centre).conj()), 2 * math.pi)


def _islands(touches: Touches, tracks: Tracks, row: Indices, track: Indices, counted: Flags) -> Left:
    """Return tracks that are missed whole as places."""
    counts = np.logical_or.reduceat(counted, tracks.first)[track]
    return Left(
        row=row,
        **_beside(touches, track),
        deep=np.full(len(row), np.inf),
        counted=np.where(counts, np.inf, -np.inf),
        runs=np.zeros(len(row), dtype=np.intp),
        area=tracks.area[track],
        spot=touches.seats.points[tracks.first[track]],
        centre=np.full(len(row), complex(np.nan, np.nan)),
        bounds=_bounds(touches.seats.points, tracks.count)[track],
    )


def _beside(touches: Touches, track: Indices) -> dict[str, NDArray[Any]]:
    """Return which outline tracks follow, and on which side."""
    return {"outline": touches.outlines.outline[touches.ring[track]], "outside": touches.outside[track]}


def _in_place(touches: Touches, places: Left) -> Left:
    """Return places where the outlines were drawn, not where they are laid apart."""
    shift = touches.outlines.shift[places.outline]
    bounds = places.bounds - shift.real[:, None] * np.array([1, 0, 1, 0])
    return replace(places, spot=places.spot - shift, centre=places.centre - shift, bounds=bounds)


def _across(touches: Touches, tracks: Tracks, runs: Runs, row: Indices, track: Indices) -> list[tuple[int, int]]:
    """Return which tracks missed whole and which runs lie across from one another, tracks numbered after the runs.

    So a hole that is missed whole belongs to what is missed round it.
    """
    counts = tracks.count[track]
    if not len(counts):
        return []
    island = np.repeat(np.arange(len(counts)), counts)
    touch = tracks.first[track][island] + ranks(counts)
    run, run_touch = runs.touches(tracks)
    lines = len(touches.outlines.corners)
    stop = touches.to_next[touch]
    wall = stop % lines
    other = (stop != NO_STOP) & (touches.outlines.ring[wall] != touches.ring[touches.track[touch]])
    if not other.any():
        return []
    side = (2 * row + touches.outside[track])[island]
    keys = np.concatenate(
        [
            (2 * runs.row + touches.outside[runs.track])[run] * lines + touches.seats.edge[run_touch],
            side * lines + touches.seats.edge[touch],
        ]
    )
    owner = np.concatenate([run, island + len(runs.row)])
    order = np.argsort(keys, kind="stable")
    wanted = (side * lines + wall)[other]
    at = np.minimum(np.searchsorted(keys[order], wanted), len(keys) - 1)
    there = keys[order][at] == wanted
    pairs = np.column_stack([island[other][there] + len(runs.row), owner[order][at[there]]])
    return [(one, two) for one, two in np.unique(pairs, axis=0).tolist()]


def _together(one: Left, other: Left) -> Left:
    return Left(**{name: np.concatenate([getattr(one, name), getattr(other, name)]) for name in Left.__slots__})


def _places(stretches: Left, links: Sequence[tuple[int, int]]) -> Left:
    """Return places of stretches that are linked, by the numbers of the bits."""
    label = _joined(len(stretches.row), links)
    order = np.lexsort((-stretches.counted, label, stretches.row))
    heads = np.flatnonzero(np.append(True, np.diff(label[order]) != 0)[: len(order)])
    if len(heads) == len(order):
        return stretches.of(order)
    every, bounds = stretches.of(order), stretches.bounds[order]
    return replace(
        every.of(heads),
        deep=np.maximum.reduceat(every.deep, heads),
        runs=np.add.reduceat(every.runs, heads),
        area=np.add.reduceat(every.area, heads),
        bounds=np.hstack([np.minimum.reduceat(bounds[:, :2], heads), np.maximum.reduceat(bounds[:, 2:], heads)]),
    )


def _joined(count: int, links: Sequence[tuple[int, int]]) -> Indices:
    """Return a number for each of so many things, the same for those that are linked."""
    label = list(range(count))
    for pair in links:
        one, other = (_root(label, thing) for thing in pair)
        label[max(one, other)] = min(one, other)
    return np.array([_root(label, thing) for thing in range(count)] if links else label, dtype=np.intp)


def _root(label: Sequence[int], thing: int) -> int:
    while label[thing] != thing:
        thing = label[thing]
    return thing
