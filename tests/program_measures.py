"""What a cutting program leaves and costs, measured from its moves: swept ground, depth of cut, length, time.

The cutter is flat: a disc of its radius at the height of its tip. Measures refuse a cut from an unknown place.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from tests.program_moves import Move

FLATTENED = 1e-4
"""Mm between a chord and its arc: ground that was swept is right within twice that, far under 1 um."""
LEVEL_SLACK = 1e-6
"""Mm: a cut this near to a level is at it, so that a last digit does not lift it off."""
ROUNDING = 1e-9
"""Mm: a hole in swept ground that is no wider is none."""
STRETCH = 3
"""Cells that a cutter goes before its depth is looked at: the crescent that it takes must be wider than the rim."""
STEEP = 10.0
"""A cut that goes down this many times as far as it goes along is as good as straight down."""
QUARTER = math.pi / 2
"""No swept sector is wider, so that it never closes on itself."""

Shape = shapely.Geometry
Places = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lengths:
    """Mm along the moves."""

    rapid: float
    cutting: float


def lengths_of(moves: Iterable[Move]) -> Lengths:
    """Return the lengths in all; rapids from a place that is not known count as nothing."""
    moves = list(moves)
    rapid = [0.0 if math.isnan(move.length) else move.length for move in moves if not move.cuts]
    return Lengths(rapid=sum(rapid), cutting=sum(move.length for move in _cuts(moves)))


def time_of(moves: Iterable[Move], rapid_mm_per_min: float) -> float:
    """Return minutes: cuts at their feed, along the helix where there is one, rapids at theirs; no time to speed up."""
    moves = list(moves)
    cutting = sum(move.length / move.feed for move in _cuts(moves))
    return cutting + lengths_of(moves).rapid / rapid_mm_per_min


def swept_ground(moves: Iterable[Move], radius: float, z_levels: Sequence[float]) -> tuple[Shape, ...]:
    """Return for each level the area that a flat cutter removes there: swept by all that is cut at or below it.

    Exact within 1 um: each move is one capsule or sector, no offset engine has a share in it, arcs and round ends are
    chords within `FLATTENED`. Rapids remove nothing: what they would is a matter of safety.
    """
    cuts = [part for move in _cuts(moves) for part in _in_ground_plan(move)]
    return tuple(_swept([part for move in cuts for part in _below(move, level)], radius) for level in z_levels)


def deepest_step(moves: Iterable[Move], radius: float, *, top: float = 0.0, cells_per_radius: int = 10) -> float:
    """Return the largest depth, mm, of material that stood above the tip at a spot when the cutter came there.

    The stock is a raster of heights that the way lowers in the order of the program: so a second pass counts from the
    first, a helix from its last turn, a ramp with its whole height, a plunge with nothing. Depths of level cuts are
    exact; a slope is looked at once in `STRETCH` cells, and a helix seems a few percent less deep than its turn. What
    stands in the outer one and a half cells of the disc is left aside: raster cells are cut or left whole there.
    """
    cell = radius / cells_per_radius
    stretches = list(_stretches(moves, cell))
    if not stretches:
        return 0.0
    plan = np.concatenate([way[:, :2] for way, _ in stretches])
    corner = plan.min(axis=0) - radius - 2 * cell
    heights = np.full(np.ceil((plan.max(axis=0) + radius + 2 * cell - corner) / cell).astype(int), top)
    deepest = 0.0
    for way, sideways in stretches:
        window, away = _window(heights, (way[:, :2] - corner) / cell, cells_per_radius)
        if sideways:
            deepest = max(deepest, float(window[away[-1] < cells_per_radius - 1.5].max()) - way[-1, 2])
        left = np.where(away <= cells_per_radius, way[:, 2, None, None], np.inf).min(axis=0)
        np.minimum(window, left, out=window)
    return deepest


def _window(heights: Places, at: Places, reach: int) -> tuple[Places, Places]:
    """Return the heights about these places, as a view, and for each place how far they are from it; all in cells."""
    first, last = np.floor(at.min(axis=0)).astype(int) - reach, np.floor(at.max(axis=0)).astype(int) + reach + 1
    x, y = (np.arange(*ends) + 0.5 for ends in zip(first, last, strict=True))
    away = np.hypot(x[None, :, None] - at[:, 0, None, None], y[None, None, :] - at[:, 1, None, None])
    return heights[first[0] : last[0], first[1] : last[1]], away


def _stretches(moves: Iterable[Move], cell: float) -> Iterator[tuple[Places, bool]]:
    """Yield the ways of the cuts, places a cell apart, in stretches, and whether each goes sideways.

    A long move makes several stretches, short ones one together; each begins behind a rapid and a plunge.
    """
    short: list[Places] = []
    travelled = 0.0
    for move in moves:
        alone = not move.cuts or goes_straight_down(move) or move.length >= STRETCH * cell
        if short and (alone or travelled >= STRETCH * cell):
            yield np.concatenate(short), True
            short, travelled = [], 0.0
        for known in _cuts([move]):
            places = known.at(np.linspace(0.0, 1.0, math.ceil(known.length / cell) + 1))
            if alone:
                parts = np.array_split(places, max(1, int(known.length / (STRETCH * cell))))
                yield from ((part, not goes_straight_down(known)) for part in parts)
            else:
                short, travelled = [*short, places], travelled + known.length
    if short:
        yield np.concatenate(short), True


def goes_straight_down(move: Move) -> bool:
    """Return whether a cut goes down, and hardly along."""
    down = move.start[2] - move.end[2]
    along = math.sqrt(max(move.length**2 - down**2, 0.0))
    return move.cuts and down > LEVEL_SLACK and down >= STEEP * along


def chord_count(radius: float, sweep_rad: float, within: float = FLATTENED) -> int:
    """Return how many equal chords keep this near to an arc."""
    return max(1, math.ceil(sweep_rad / (2 * math.acos(max(0.0, 1 - within / radius)))))


def _cuts(moves: Iterable[Move]) -> Iterator[Move]:
    for move in moves:
        if move.cuts:
            if math.isnan(move.length):
                raise ValueError(f"line {move.line}: a cut from an unknown place cannot be measured")
            yield move


def _in_ground_plan(move: Move) -> list[Move]:
    """Return straight moves for an arc that stands upright, and all others as they are."""
    if move.arc is None or move.arc.axes[2] == 2:
        return [move]
    places = move.at(np.linspace(0.0, 1.0, chord_count(move.arc.radius, move.arc.sweep_rad) + 1)).tolist()
    return [
        replace(move, kind="straight", arc=None, start=tuple(start), end=tuple(end)) for start, end in pairwise(places)
    ]


def _below(move: Move, level: float) -> list[tuple[Move, float, float]]:
    """Return the move with the shares of its way between which it is at or below the level: none or one pair."""
    start, end = move.start[2] - level - LEVEL_SLACK, move.end[2] - level - LEVEL_SLACK
    if start > 0 and end > 0:
        return []
    first = start / (start - end) if start > 0 else 0.0
    return [(move, first, start / (start - end) if end > 0 else 1.0)]


def _ground_plan(move: Move, first: float, last: float) -> tuple[object, ...]:
    turn = (move.arc.centre[:2], move.arc.clockwise) if move.arc else None
    return move.start[:2], move.end[:2], turn, first, last


def _swept(parts: list[tuple[Move, float, float]], radius: float) -> Shape:
    if not parts:
        return shapely.Polygon()
    parts = list({_ground_plan(*part): part for part in parts}.values())  # passes over one another sweep alike
    ends = np.concatenate([move.at(np.array([first, last]))[:, :2] for move, first, last in parts])
    places = np.unique(ends.round(9), axis=0)
    turn = np.linspace(0.0, math.tau, chord_count(radius, math.tau) + 1)[:-1]
    discs = shapely.polygons(places[:, None] + radius * np.column_stack([np.cos(turn), np.sin(turn)])[None])
    bodies = [body for part in parts for body in _bodies(*part, radius)]
    return _without_dust(shapely.union_all([*discs, *bodies]))


def _without_dust(shape: Shape) -> Shape:
    """Return a union without the holes that rounding leaves where edges of its parts cross."""
    parts = []
    for part in shapely.get_parts(shape):
        holes = [ring for ring in part.interiors if 2 * shapely.Polygon(ring).area > ROUNDING * ring.length]
        parts.append(shapely.Polygon(part.exterior, holes))
    return shapely.union_all(parts)


def _bodies(move: Move, first: float, last: float, radius: float) -> Iterator[Shape]:
    """Yield what lies beside the way, without its round ends."""
    if move.arc is None:
        start, end = move.at(np.array([first, last]))[:, :2]
        along = end - start
        if (length := math.hypot(*along)) > 0:
            aside = np.array([-along[1], along[0]]) * radius / length
            yield shapely.Polygon([start + aside, end + aside, end - aside, start - aside])
        return
    quarters = max(1, math.ceil(move.arc.sweep_rad * (last - first) / QUARTER))
    shares = np.linspace(first, last, quarters + 1)
    for one, other in pairwise(shares.tolist()):
        yield from _sector(move, one, other, radius)


def _sector(move: Move, first: float, last: float, radius: float) -> Iterator[Shape]:
    """Yield the ring sector beside a piece of an arc, down to its centre where the cutter reaches over that."""
    assert move.arc is not None
    if last <= first:  # a helix that only touches the level
        return
    chords = chord_count(move.arc.radius + radius, move.arc.sweep_rad * (last - first))
    way = move.at(np.linspace(first, last, chords + 1))[:, :2]
    centre = np.array(move.arc.centre[:2])
    away = np.hypot(*(way - centre).T)[:, None]
    outward = (way - centre) / away
    outer = centre + outward * (away + radius)
    inner = centre + outward * np.maximum(away - radius, 0.0)
    yield shapely.Polygon([*outer, *(inner[::-1] if away.min() > radius else [centre])])
