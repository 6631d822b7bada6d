"""Where a blank is nearly full: pieces pressed together, and those that are pressed most put elsewhere.

The pieces push each other to where all of them lack as little room as may be (layout_settle.py); what then is lacking,
squared and summed, is the *press* of the lot. A move takes out one piece to four, the pressed ones first, puts each
where it overlaps least in pixels, and lets all push again; it stays if the press is less (iterated local search;
source: H. R. Lourenco, O. C. Martin, T. Stuetzle, Iterated local search, Handbook of Metaheuristics, 2003: from
memory). Several first packings go on side by side and the worse ones are dropped in turn.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from inlayfit.layout_raster import Field, Stamp, correlated, stamp_of
from inlayfit.layout_search import NEVER, Spot, Stencils, pose_of
from inlayfit.layout_settle import Poses, Room, relaxed

PLAN = ((8, 8, 1.0), (4, 8, 0.5), (2, 12, 0.25), (1, 16, 0.0))
"""How many lots go on, for how many turns, and how pressed the best may be then, mm2, lest all be given up."""

MANY = 30
"""Pieces over which lots turn less often, so that the time of all does not grow with the square of them."""

MOVES = 16
"""Moves that are tried at once in a turn, shared among the lots that go on."""

AT_ONCE = (0.35, 0.4, 0.15, 0.1)
"""How often one piece is put elsewhere, how often two, three, and four."""

EXCHANGED, ALIKE = 0.3, (0.4, 1.2)
"""How often, where there are several blanks, a piece changes places with one on another blank, and what part of its
size that one has."""

NEAR = 6
"""Neighbours of a pressed piece from which the others are drawn, every other time."""

WEIGHTS = (0.5, 1.5)
"""By how much, at least and at most, the overlap with each piece counts in a move, so that no two are the same."""

AGAIN = 3
"""Pixels round the place that a piece comes from, where it is not put again at about the same angle."""

SIFTING = ((6, 6, False), (12, 2, False), (25, 2, True))
"""Rounds of pushing for the moves of a turn, how many of them, the best, then go on, and whether with fine outlines."""

NOUGHT = 1e-12
"""Press that is none, so that shares can be told."""

WORSE = 1.05, 0.01
"""A move stays if the press is not over this share of the least so far, and these mm2: so the way leads out again."""

FIRST_ROUNDS = 40
"""Rounds of pushing for a first packing."""

ANGLES_TRIED = 8
"""Angles of a piece that a move looks at, drawn from all."""

ANGLES = 64
"""Angles at which pieces as they lie are drawn in pixels."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """Every piece somewhere: `ground` (n), `poses` (n, 3), and `stress`, the squares of what each lacks (n), mm2.

    `record` is the least press on the way there.
    """

    ground: NDArray[np.intp]
    poses: Poses
    stress: NDArray[np.float64]
    record: float = math.inf

    @property
    def press(self) -> float:
        """What is lacking in all; nought where everything has its room."""
        return float(self.stress.sum())


@dataclass(frozen=True, slots=True, kw_only=True)
class Bed:
    """What the moves work with: `rough` outlines and fine ones, stencils of coarse pixels, the room on each ground."""

    rough: NDArray[np.object_]
    fine: NDArray[np.object_]
    stencils: Stencils
    rooms: Sequence[Room]
    turning: bool
    _stamps: dict[tuple[int, int], Stamp] = field(default_factory=dict)

    def stamp(self, item: int, angle: float) -> Stamp:
        """Return the stamp of an item as it lies, nearly."""
        number = round(angle / (2 * math.pi) * ANGLES) % ANGLES
        if (item, number) not in self._stamps:
            step = self.stencils.grids[0].step
            self._stamps[item, number] = stamp_of(self.stencils.items[item].zone, 2 * math.pi * number / ANGLES, step)
        return self._stamps[item, number]


def tightened(bed: Bed, firsts: Sequence[dict[int, Spot]], rng: np.random.Generator) -> Iterator[Lot]:
    """Yield each lot that is less pressed than all before it, from several first packings on."""
    lots = [_first(bed, spots) for spots in firsts]
    least = np.inf
    for kept, turns, bearable in PLAN:
        lots = sorted(lots, key=lambda lot: lot.press)[:kept]
        for _ in range(math.ceil(turns * min(1, MANY / len(bed.fine)))):
            lots = _turned_over(bed, lots, rng)
            if (best := min(lots, key=lambda lot: lot.press)).press < least:
                least = best.press
                yield best
        if least > bearable:
            return


def _first(bed: Bed, spots: dict[int, Spot]) -> Lot:
    """Return a first packing, pressed together; what had no place comes in where it overlaps least."""
    count = len(bed.fine)
    ground, poses = np.full(count, -1), np.zeros((count, 3))
    for item, spot in spots.items():
        ground[item], poses[item] = spot.blank, pose_of(bed.stencils, item, spot)
    left = sorted(set(range(count)) - set(spots), key=lambda item: -bed.stencils.items[item].zone.area)
    for item in left:
        every = np.arange(len(bed.stencils.items[item].angles))
        going = _Going(item=item, old=None, aims=range(len(bed.rooms)), turns=every)
        ground[item], poses[item] = _put(bed, going, ground, poses, np.ones(count))
    lot = Lot(ground=ground, poses=poses, stress=np.zeros(count))
    return _pressed(bed, bed.fine, [lot], [set(range(len(bed.rooms)))], FIRST_ROUNDS)[0]


def _turned_over(bed: Bed, lots: Sequence[Lot], rng: np.random.Generator) -> list[Lot]:
    """Return the lots after the best of several moves of each, where it is one for the better."""
    moves = [(number % len(lots), *_moved(bed, lots[number % len(lots)], rng)) for number in range(MOVES)]
    for rounds, kept, fine in SIFTING:
        outlines = bed.fine if fine else bed.rough
        tried = _pressed(bed, outlines, [lot for _, lot, _ in moves], [touched for _, _, touched in moves], rounds)
        moves = [(owner, lot, touched) for (owner, _, touched), lot in zip(moves, tried, strict=True)]
        moves = sorted(moves, key=lambda move: move[1].press / max(lots[move[0]].press, NOUGHT))[:kept]
    after = list(lots)
    for owner, lot, _ in reversed(moves):
        record = min(lots[owner].record, lots[owner].press)
        if lot.press <= record * WORSE[0] + WORSE[1]:
            after[owner] = replace(lot, record=record)
    return after


def _moved(bed: Bed, lot: Lot, rng: np.random.Generator) -> tuple[Lot, set[int]]:
    """Return a lot with some pieces elsewhere, not yet pressed, and the grounds that this touches."""
    out = _taken_out(lot, rng)
    ground, poses = lot.ground.copy(), lot.poses.copy()
    every = range(len(bed.rooms))
    aims: dict[int, Sequence[int]] = {}
    if len(bed.rooms) > 1 and rng.random() < EXCHANGED and (other := _other(bed, lot, out[0], rng)) is not None:
        out = [out[0], other]
        aims = {out[0]: [int(ground[other])], other: [int(ground[out[0]])]}
    weights = rng.uniform(*WEIGHTS, len(ground))
    ground[out] = -1
    for item in rng.permutation(out).tolist():
        turns = np.sort(rng.permutation(len(bed.stencils.items[item].angles))[:ANGLES_TRIED])
        old = (int(lot.ground[item]), lot.poses[item])
        going = _Going(item=item, old=old, aims=aims.get(item, every), turns=turns)
        ground[item], poses[item] = _put(bed, going, ground, poses, weights)
    touched = {*lot.ground[out].tolist(), *ground[out].tolist()}
    return replace(lot, ground=ground, poses=poses), touched


def _other(bed: Bed, lot: Lot, first: int, rng: np.random.Generator) -> int | None:
    """Return a piece of about the same size, rather a smaller one, on another ground."""
    sizes = np.array([item.zone.area for item in bed.stencils.items])
    ratio = sizes / sizes[first]
    others = np.flatnonzero((lot.ground != lot.ground[first]) & (ratio > ALIKE[0]) & (ratio < ALIKE[1]))
    return int(rng.choice(others)) if len(others) else None


def _taken_out(lot: Lot, rng: np.random.Generator) -> list[int]:
    """Return a piece, a pressed one rather than another, and some more: its neighbours, or any."""
    count = len(lot.ground)
    likely = lot.stress + lot.press / count / 10 + NOUGHT
    first = int(rng.choice(count, p=likely / likely.sum()))
    more = int(rng.choice(len(AT_ONCE), p=AT_ONCE))
    others = np.flatnonzero(np.arange(count) != first)
    if rng.random() < 0.5:
        others = others[lot.ground[others] == lot.ground[first]]
        far = np.hypot(*(lot.poses[others, :2] - lot.poses[first, :2]).T)
        others = others[np.argsort(far, kind="stable")[:NEAR]]
    return [first, *rng.permutation(others)[:more].tolist()]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Going:
    """A piece to be put somewhere: not where it was, but on one of the grounds `aims`, at one of the angles `turns`."""

    item: int
    old: tuple[int, NDArray[np.float64]] | None
    aims: Sequence[int]
    turns: NDArray[np.intp]


def _put(
    bed: Bed, going: _Going, ground: NDArray[np.intp], poses: Poses, weights: NDArray[np.float64]
) -> tuple[int, NDArray[np.float64]]:
    """Return the ground and the pose where a piece overlaps least with those that lie there."""
    item, stencils = going.item, bed.stencils
    best, spot = 2 * NEVER, Spot(going.aims[0], 0, 0, 0)
    for number in going.aims:
        lying = _drawn(bed, np.flatnonzero(ground == number), number, poses, weights)
        under = correlated(lying, stencils.spectra(item, "mask", number)[going.turns])
        overlap = np.where(stencils.within(item, number)[going.turns], np.round(under), np.float32(NEVER))
        _forbid(bed, going, number, overlap)
        turn, row, column = (int(place) for place in np.unravel_index(int(np.argmin(overlap)), overlap.shape))
        if overlap[turn, row, column] < best:
            best, spot = float(overlap[turn, row, column]), Spot(number, int(going.turns[turn]), row, column)
    return spot.blank, np.array(pose_of(stencils, item, spot))


def _drawn(bed: Bed, items: NDArray[np.intp], number: int, poses: Poses, weights: NDArray[np.float64]) -> Field:
    """Return how deep each pixel of a ground lies in the items there, by weight."""
    grid = bed.stencils.grids[number]
    lying = np.zeros(grid.shape, dtype=np.float32)
    for item in items.tolist():
        stamp = bed.stamp(item, poses[item, 2])
        row, column = _pixel(bed, number, stamp, poses[item])
        rows, columns = stamp.depth.shape
        top, left = max(row, 0), max(column, 0)
        under = lying[top : max(row + rows, 0), left : max(column + columns, 0)]
        under += stamp.depth[top - row :, left - column :][: under.shape[0], : under.shape[1]] * weights[item]
    return lying


def _pixel(bed: Bed, number: int, stamp: Stamp, pose: NDArray[np.float64]) -> tuple[int, int]:
    """Return row and column of the first pixel of a stamp whose middle lies at a pose."""
    grid = bed.stencils.grids[number]
    return round((pose[1] - stamp.y - grid.y0) / grid.step), round((pose[0] - stamp.x - grid.x0) / grid.step)


def _forbid(bed: Bed, going: _Going, number: int, overlap: Field) -> None:
    """Rule out the places round the old one at about its angle."""
    if going.old is None or going.old[0] != number:
        return
    pose, stamps = going.old[1], bed.stencils.stamps(going.item)
    for place, stamp in enumerate(stamps[turn] for turn in going.turns):
        if math.cos(stamp.angle - pose[2]) > math.cos(math.pi / len(stamps)):
            row, column = _pixel(bed, number, stamp, pose)
            rows, columns = (slice(max(at - AGAIN, 0), max(at + AGAIN + 1, 0)) for at in (row, column))
            overlap[place, rows, columns] = NEVER


def _pressed(
    bed: Bed, outlines: NDArray[np.object_], lots: Sequence[Lot], touched: Sequence[set[int]], rounds: int
) -> list[Lot]:
    """Return the lots after all pieces on the touched grounds have pushed each other; equal grounds go at once."""
    after = [replace(lot, poses=lot.poses.copy(), stress=lot.stress.copy()) for lot in lots]
    for room in {id(room): room for room in bed.rooms}.values():
        parts = [
            (lot, np.flatnonzero(lot.ground == number))
            for lot, numbers in zip(after, touched, strict=True)
            for number in sorted(numbers)
            if bed.rooms[number] is room
        ]
        parts = [(lot, items) for lot, items in parts if len(items)]
        if not parts:
            continue
        items = np.concatenate([items for _, items in parts])
        poses = np.concatenate([lot.poses[items] for lot, items in parts])
        which = np.repeat(np.arange(len(parts)), [len(items) for _, items in parts])
        rest, stress = relaxed(outlines[items], poses, room, which, rounds, turning=bed.turning)
        for part, (lot, own) in enumerate(parts):
            lot.poses[own], lot.stress[own] = rest[which == part], stress[which == part]
    return after
