"""The moves of a cutter in depth: down a closed path in a spiral, and all over a pocket from within to its wall.

No move goes straight down into the material: the cutter comes down along its path. Heights are those of the tip over
the upper face of the stock.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.arcs import ArcRing, chords_of, fit_polygon, flatten_ring, halved_arcs, points_along, ring_area, sweeps_of
from inlayfit.feeds import Speeds
from inlayfit.offset import offset, polygons_of, section
from inlayfit.units import Mm

RAMP = math.tan(math.radians(3.0))
"""How steep a cutter comes down along its path, where that is long enough (common practice, no source)."""

MOST_TURNS = 60
"""Round a short path it comes down in so many turns at most, then steeper, and slower."""

APPROACH: Mm = 0.5
"""So far above the stock the rapid move ends."""

STEP_OVER = 0.8
"""From one pass over a pocket to the next, in radii of the bit: under one, nothing stays between them."""

LEAST_MOVE: Mm = 0.0004
"""Joints that lie closer are one: a program of four decimals, five in inches, could not tell them apart."""

LEAST_RISE: Mm = 0.0001
"""An arc that rises less over its chord is a line."""

MOST_RADIUS: Mm = 1000.0
"""Wider arcs are made into lines: centres so far away cost small controllers their digits."""

LEAST_CHORD: Mm = 0.005
"""Arcs whose ends are nearer are made into lines: a controller that rounds could take them for whole turns."""

WITHIN: Mm = 0.002
"""A link between two passes may leave the room of the cutter's centre by so much: chords stand for arcs there."""


class Move(NamedTuple):
    """To x, y, z, mm; `bulge` as in `ArcRing`, seen from above; `feed` mm/min along the path, None a rapid move."""

    x: Mm
    y: Mm
    z: Mm
    bulge: float
    feed: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """The moves for one thing, with its name: from the safe height back to it. The first is a rapid in x and y."""

    label: str
    moves: tuple[Move, ...]


class Heights(NamedTuple):
    """Of the tip, mm over the stock: where it travels, and between which heights a cut goes."""

    safe: Mm
    top: Mm
    bottom: Mm


def backwards(ring: ArcRing) -> ArcRing:
    """Return the ring run through the other way."""
    return ArcRing(points=np.roll(ring.points[::-1], 1, axis=0), bulges=-ring.bulges[::-1])


def for_machine(ring: ArcRing) -> ArcRing:
    """Return the ring in elements that any controller can follow: no arc over half a turn, none too flat or tiny."""
    return _without_flat(_without_tiny(halved_arcs(ring, math.pi)))


def _without_tiny(ring: ArcRing) -> ArcRing:
    """Return the ring without joints that lie on the one before; of the elements between two the longest counts."""
    lengths = np.hypot(*chords_of(ring).T)
    if (lengths >= LEAST_MOVE).all():
        return ring
    kept = [0]
    for joint in range(1, len(ring.points)):
        if math.dist(ring.points[joint], ring.points[kept[-1]]) >= LEAST_MOVE:
            kept.append(joint)
    while len(kept) > 2 and math.dist(ring.points[kept[-1]], ring.points[0]) < LEAST_MOVE:
        kept.pop()
    longest = [
        joint + int(np.argmax(lengths[joint:after]))
        for joint, after in zip(kept, [*kept[1:], len(lengths)], strict=True)
    ]
    return ArcRing(points=ring.points[kept], bulges=ring.bulges[longest])


def _without_flat(ring: ArcRing) -> ArcRing:
    """Return the ring with lines for arcs that are nearly straight, chords for tiny ones and those of a far centre."""
    chords = np.hypot(*chords_of(ring).T)
    bulges = np.where(np.abs(ring.bulges) * chords / 2 < LEAST_RISE, 0.0, ring.bulges)
    with np.errstate(divide="ignore"):
        radii = chords / (2 * np.abs(np.sin(2 * np.arctan(bulges))))
    lines = (bulges != 0) & ((radii > MOST_RADIUS) | (chords < LEAST_CHORD))
    counts = np.minimum(np.ceil(np.sqrt(np.abs(bulges) * chords / 2 / LEAST_RISE)), chords // LEAST_MOVE)
    counts = np.where(lines, np.maximum(counts, 1), 1).astype(int)
    points, found = ring.points, np.where(lines, 0.0, bulges)
    for index in np.flatnonzero(counts > 1)[::-1]:  # the last first, so that the places of the others hold
        between = points_along(ring, np.arange(1, counts[index]) / counts[index])[index]
        points = np.insert(points, index + 1, between, axis=0)
        found = np.insert(found, index + 1, np.zeros(len(between)))
    return ArcRing(points=points, bulges=found)


def starting_near(ring: ArcRing, x: Mm, y: Mm) -> ArcRing:
    """Return the ring begun at the joint nearest to a point."""
    first = int(np.argmin(np.hypot(*(ring.points - (x, y)).T)))
    return ArcRing(points=np.roll(ring.points, -first, axis=0), bulges=np.roll(ring.bulges, -first))


def lengths_of(ring: ArcRing) -> NDArray[np.float64]:
    """Return the length of each element (k,), mm."""
    return np.asarray(np.hypot(*chords_of(ring).T) / np.sinc(np.abs(sweeps_of(ring)) / 2 / math.pi))


def spiral(ring: ArcRing, top: Mm, bottom: Mm, speeds: Speeds) -> list[Move]:
    """Return the moves down a closed path from its first joint, at the height `top`: turns that fall, and a level one.

    No turn falls by more than a pass may be deep.
    """
    lengths = lengths_of(ring)
    around, depth = float(lengths.sum()), top - bottom
    wanted = max(math.ceil(depth / speeds.pass_depth - 1e-9), math.ceil(depth / (around * RAMP)))
    least = math.ceil(depth / speeds.pass_depth - 1e-9)
    turns = max(least, min(wanted, MOST_TURNS))
    slope = depth / (turns * around)
    steep = min(speeds.feed, speeds.down * math.sqrt(1 + slope**2) / slope) if slope > 0 else speeds.feed
    ends = np.roll(ring.points, -1, axis=0)
    fallen = np.cumsum(np.tile(lengths, turns)) * slope
    heights = np.maximum(top - fallen, bottom)
    heights[-1:] = bottom
    moves = [
        Move(float(x), float(y), float(z), float(bulge), steep)
        for (x, y), bulge, z in zip(np.tile(ends, (turns, 1)), np.tile(ring.bulges, turns), heights, strict=True)
    ]
    return moves + level_turn(ring, bottom, speeds.feed)


def level_turn(ring: ArcRing, z: Mm, feed: float) -> list[Move]:
    """Return the moves once round a closed path from its first joint."""
    ends = np.roll(ring.points, -1, axis=0)
    return [Move(float(x), float(y), z, float(bulge), feed) for (x, y), bulge in zip(ends, ring.bulges, strict=True)]


def entering(x: Mm, y: Mm, heights: Heights, speeds: Speeds) -> list[Move]:
    """Return the moves from the safe height to a point at the top of a cut, where nothing is left to be cut."""
    down = [Move(x, y, heights.top, 0.0, speeds.down)]
    return [Move(x, y, heights.safe, 0.0, None), Move(x, y, APPROACH, 0.0, None), *down]


def leaving(last: Move, safe: Mm) -> Move:
    """Return the rapid move up from where the cutter is."""
    return Move(last.x, last.y, safe, 0.0, None)


def profile(ring: ArcRing, heights: Heights, speeds: Speeds) -> list[Move]:
    """Return the moves that cut a closed path, from the safe height and back to it."""
    ring = for_machine(ring)
    x, y = ring.points[0].tolist()
    moves = entering(x, y, heights, speeds) + spiral(ring, heights.top, heights.bottom, speeds)
    return [*moves, leaving(moves[-1], heights.safe)]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Room:
    """Where the cutter's centre may be on one pass of a pocket, with what lies a step further in."""

    rings: tuple[ArcRing, ...]
    inner: tuple[_Room, ...]

    @property
    def passes(self) -> int:
        """How many closed paths it takes."""
        return len(self.rings) + sum(room.passes for room in self.inner)


def clearing(
    walls: Sequence[ArcRing], radius: Mm, heights: Heights, speeds: Speeds, *, reverse: bool
) -> Iterator[list[Move]]:
    """Yield the moves that cut all of a pocket, each lot from the safe height and back to it; walls are cut last.

    Args:
        walls: the wall passes, as closed paths of the cutter's centre: outsides counter-clockwise, islands clockwise.
        radius: half of what the bit cuts.
        heights: between which it cuts.
        speeds: of the bit.
        reverse: whether every path is run the other way.
    """
    for room, area in _rooms(walls, radius, reverse=reverse):
        if room.passes == 1:
            yield profile(room.rings[0], heights, speeds)
            continue
        count = max(math.ceil((heights.top - heights.bottom) / speeds.pass_depth - 1e-9), 1)
        levels = np.linspace(heights.top, heights.bottom, count + 1).tolist()
        shapely.prepare(area)
        for above, level in pairwise(levels):
            yield _one_level(room, area, radius, Heights(heights.safe, above, level), speeds)


def _one_level(room: _Room, area: shapely.Polygon, radius: Mm, heights: Heights, speeds: Speeds) -> list[Move]:
    """Return the moves over one level of a pocket, from the innermost pass to the wall."""
    moves: list[Move] = []
    for ring in _outward(room):
        here = starting_near(ring, moves[-1].x, moves[-1].y) if moves else ring
        x, y = here.points[0].tolist()
        if moves and _linked(area, moves[-1], (x, y), 2 * radius):
            if math.dist((x, y), moves[-1][:2]) >= LEAST_MOVE:
                moves.append(Move(x, y, heights.bottom, 0.0, speeds.feed))
            moves += level_turn(here, heights.bottom, speeds.feed)
            continue
        up = [leaving(moves[-1], heights.safe)] if moves else []
        moves += up + entering(x, y, heights, speeds) + spiral(here, heights.top, heights.bottom, speeds)
    return [*moves, leaving(moves[-1], heights.safe)]


def _outward(room: _Room) -> Iterator[ArcRing]:
    """Yield the paths of a room, what lies within before what lies round it."""
    for inner in room.inner:
        yield from _outward(inner)
    yield from room.rings


def _linked(area: shapely.Polygon, here: Move, there: tuple[Mm, Mm], most: Mm) -> bool:
    """Return whether the cutter may go straight from one pass to the next without cutting what is to stay."""
    if math.dist((here.x, here.y), there) > most:
        return False
    return bool(shapely.covers(area, shapely.LineString([(here.x, here.y), there])))


def _rooms(walls: Sequence[ArcRing], radius: Mm, *, reverse: bool) -> Iterator[tuple[_Room, shapely.Polygon]]:
    """Yield each part of the room of the cutter's centre, with its outline, a hair wider."""
    flat = [flatten_ring(ring) for ring in walls]
    areas = {index: shapely.Polygon(flat[index]) for index, ring in enumerate(walls) if ring_area(ring) > 0}
    islands: dict[int, list[int]] = {index: [] for index in areas}
    for index in set(range(len(walls))) - set(areas):
        round_it = [one for one, area in areas.items() if shapely.contains_xy(area, *flat[index][0])]
        islands[min(round_it, key=lambda one: float(areas[one].area))].append(index)
    for index, own in islands.items():
        whole = shapely.Polygon(flat[index], [flat[island] for island in own])
        rings = tuple(_run(walls[one], reverse=reverse) for one in (*own, index))
        inner = tuple(_within(whole, STEP_OVER * radius, reverse=reverse))
        yield _Room(rings=rings, inner=inner), shapely.buffer(whole, WITHIN)


def _within(outline: shapely.Polygon, step: Mm, *, reverse: bool) -> Iterator[_Room]:
    """Yield the rooms that lie a step within an outline, and all that lies further in."""
    for part in polygons_of(offset(section(outline), -step)):
        rings = tuple(_run(ring, reverse=reverse) for ring in fit_polygon(part)[::-1])
        yield _Room(rings=rings, inner=tuple(_within(part, step, reverse=reverse)))


def _run(ring: ArcRing, *, reverse: bool) -> ArcRing:
    return for_machine(backwards(ring) if reverse else ring)


def minutes_of(moves: Sequence[Move], rapid: float) -> float:
    """Return how long the moves take at their speeds, without what is lost in speeding up and slowing down."""
    spent = 0.0
    for here, there in pairwise(moves):
        chord = math.hypot(there.x - here.x, there.y - here.y)
        half = 2 * math.atan(abs(there.bulge))
        flat = chord / float(np.sinc(half / math.pi))
        spent += math.hypot(flat, there.z - here.z) / (rapid if there.feed is None else there.feed)
    return spent
