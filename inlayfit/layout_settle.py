"""From about right to exact: pieces that lie a little too near to one another push each other away, and turn.

Each pair that is too near, and each piece too near to an edge, is a constraint; all are put right in turn, each piece
giving way by its mass and its moment (position-based dynamics; source: M. Mueller et al., Position based dynamics,
J. Vis. Commun. Image R. 18, 2007: from memory). What comes out is measured on the true outlines (`room_between`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.layout_raster import turn
from inlayfit.units import Mm

Poses = NDArray[np.float64]  # (n, 3): x, y of the middle, mm; angle, radians

Pairs = tuple[NDArray[np.intp], NDArray[np.intp]]  # the numbers of the two of each

STAGES = ((0.01, 0.004, 0.0015), (0.001, 0.004, 0.0015), (0.0001, 0.0, 0.00005))
"""First roughly, then finely, and where a piece just fits as it is: by how much outlines are simplified while they are
pushed about, how much farther apart than they must be they are pushed, and what no round takes away; mm."""

ALLOWED: Mm = 0.0001
"""Room may be short by this, a tenth of the budget of a path: a piece just as large as its blank still fits."""

ROUNDS = 400
"""Most lots of pieces are at rest after 50 rounds; what is not after these will never be."""

EARLY, STUCK = 150, 0.06
"""What is still short by so many mm after so many rounds is given up."""

STALLED, STILL = 100, 0.98
"""What is short by more than this share of what it was so many rounds before is at rest, and will never have room."""

EASING = 1.6
"""Where several constraints pull at a piece, their mean counts this many times: under 2 it comes to rest (tried)."""

MOMENTUM, PUSHED_BACK = 0.95, 0.3
"""Pieces go on moving with this share of what they moved in the round before: without it a crowd of pieces takes forty
times as many rounds (measured). Those that are pushed back go on with the second share: without that a tight crowd
swings, and is after 150 rounds where it can be after 10 (measured)."""

AFRESH, AHEAD = 6, 0.4
"""Where pieces only guide the search, the pairs that may meet are found anew after so many rounds: those no farther
apart than they should be and these mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """What must stay free: `between` two pieces, and to the `edge` of a blank whose boundary is `walls`; mm."""

    between: Mm
    edge: Mm
    walls: shapely.Geometry


def settled(outlines: Sequence[shapely.Polygon], poses: Poses, room: Room, *, turning: bool) -> Poses | None:
    """Return the poses in which all room is kept, or None where the pieces do not come to rest.

    Args:
        outlines: each with its middle at the origin.
        poses: about right: no piece may lie deep in another.
        room: what must stay free.
        turning: whether pieces may turn while they are pushed.
    """
    rest = poses
    for thinned, beyond, remnant in STAGES:
        thin = shapely.simplify(np.array(outlines, dtype=object), thinned)
        wide = Room(between=room.between + beyond, edge=room.edge + beyond, walls=room.walls)
        rest, short = _at_rest(thin, rest, wide, remnant, turning=turning)
        if short > STUCK:
            return None
        if short <= remnant and _kept(outlines, rest, room):
            return rest
    return rest if _kept(outlines, rest, room) else None


def _kept(outlines: Sequence[shapely.Polygon], poses: Poses, room: Room) -> bool:
    """Return whether all room is there, measured on the true outlines."""
    between, edge = room_between(outlines, poses, room)
    enough = between >= room.between - ALLOWED and edge >= room.edge - ALLOWED
    return enough and _inside(outlines, poses, room.walls)


def placed(outlines: Sequence[shapely.Polygon], poses: Poses) -> list[shapely.Polygon]:
    """Return the outlines as they lie."""
    return [
        shapely.transform(outline, lambda points, pose=pose: turn(points, pose[2]) + pose[:2])
        for outline, pose in zip(outlines, poses, strict=True)
    ]


def room_between(outlines: Sequence[shapely.Polygon], poses: Poses, room: Room) -> tuple[Mm, Mm]:
    """Return the least distance between two pieces (infinite if all are far apart), and from a piece to the walls."""
    lying = np.array(placed(outlines, poses), dtype=object)
    first, second = _near(lying, room.between, np.triu(np.ones((len(lying), len(lying)), dtype=np.bool_), 1))
    apart = shapely.distance(lying[first], lying[second])
    return float(apart.min(initial=np.inf)), float(shapely.distance(lying, room.walls).min(initial=np.inf))


def _inside(outlines: Sequence[shapely.Polygon], poses: Poses, walls: shapely.Geometry) -> bool:
    return bool(shapely.contains(_area_of(walls), placed(outlines, poses)).all())


def _area_of(walls: shapely.Geometry) -> shapely.Polygon:
    return shapely.build_area(shapely.MultiLineString(shapely.get_parts(walls).tolist()))


def relaxed(
    thin: NDArray[np.object_], poses: Poses, room: Room, lots: NDArray[np.intp], rounds: int, *, turning: bool
) -> tuple[Poses, NDArray[np.float64]]:
    """Return the poses in which the pieces of each lot press least, of all rounds, and the squares of what each lacks.

    Args:
        thin: the outlines, each with its middle at the origin.
        poses: where they are; a piece may lie deep in another.
        room: what should be free.
        lots: the number of the lot of each piece: lots do not know of one another.
        rounds: how often all push.
        turning: whether pieces may turn.
    """
    crowd = _Crowd.of(thin, room, lots, turning=turning)
    poses, step, rest = poses.copy(), np.zeros_like(poses), poses.copy()
    stress = np.full(len(poses), np.inf)
    least = np.full(lots.max(initial=0) + 1, np.inf)
    for number in range(rounds):
        if number % AFRESH == 0:
            pairs = crowd.close(poses)
        push, lacking, _ = crowd.pushes(poses, pairs)
        of_lots = np.bincount(lots, lacking)
        better = (of_lots < least)[lots]
        least = np.minimum(of_lots, least)
        rest[better], stress[better] = poses[better], lacking[better]
        step = push + crowd.momentum(step, push)
        poses += step
    return rest, stress


def _at_rest(thin: NDArray[np.object_], poses: Poses, room: Room, remnant: Mm, *, turning: bool) -> tuple[Poses, Mm]:
    """Return the poses after the pieces have pushed one another about until all room is there, and what is short."""
    crowd = _Crowd.of(thin, room, np.zeros(len(poses), dtype=np.intp), turning=turning)
    poses, step, short, before = poses.copy(), np.zeros_like(poses), np.inf, np.inf
    for number in range(ROUNDS):
        push, _, short = crowd.pushes(poses, crowd.near(poses))
        if number % STALLED == 0:
            if short > before * STILL:
                break
            before = short
        if short <= remnant or (number == EARLY and short > STUCK):
            break
        step = push + crowd.momentum(step, push)
        poses += step
    return poses, short


@dataclass(frozen=True, slots=True, kw_only=True)
class _Crowd:
    """Pieces that push each other: `flat` their points about their middles, `whose` the piece of each point.

    `ease` (n, 3) is how easily each moves and turns, `meet` (n, n) which of them know of each other, `area` the blank,
    `inner` what of it is away from the edge, and `middle` a point within it.
    """

    thin: NDArray[np.object_]
    flat: NDArray[np.float64]
    whose: NDArray[np.intp]
    ease: NDArray[np.float64]
    meet: NDArray[np.bool_]
    room: Room
    area: shapely.Geometry
    inner: shapely.Geometry
    middle: NDArray[np.float64]

    @classmethod
    def of(cls, thin: NDArray[np.object_], room: Room, lots: NDArray[np.intp], *, turning: bool) -> _Crowd:
        """Return pieces that know of each other within each lot."""
        flat, whose = shapely.get_coordinates(thin, return_index=True)
        mass = shapely.area(thin)
        moment = mass * np.bincount(whose, (flat**2).sum(axis=1)) / np.bincount(whose) / 2
        area = _area_of(room.walls)
        inner = shapely.buffer(area, -room.edge)
        shapely.prepare([area, inner])
        return cls(
            thin=thin,
            flat=flat,
            whose=whose,
            ease=np.column_stack([1 / mass, 1 / mass, (1 / moment) * turning]),
            meet=np.triu(lots[:, None] == lots, 1),
            room=room,
            area=area,
            inner=inner,
            middle=shapely.get_coordinates(shapely.point_on_surface(area))[0],
        )

    def lying(self, poses: Poses) -> NDArray[np.object_]:
        """Return the outlines as they lie."""
        cos, sin = np.cos(poses[self.whose, 2]), np.sin(poses[self.whose, 2])
        x, y = self.flat.T
        turned = np.column_stack([x * cos - y * sin, x * sin + y * cos])
        return np.asarray(shapely.set_coordinates(self.thin.copy(), turned + poses[self.whose, :2]))

    def momentum(self, step: NDArray[np.float64], push: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return how pieces go on moving after a step; those that are pushed back lose most of it."""
        work = np.where(self.ease > 0, step * push / np.where(self.ease > 0, self.ease, 1), 0).sum(axis=1)
        return step * np.where(work < 0, PUSHED_BACK, MOMENTUM)[:, None]

    def near(self, poses: Poses) -> Pairs:
        """Return the pairs that may be too near."""
        return _near(self.lying(poses), self.room.between, self.meet)

    def close(self, poses: Poses) -> Pairs:
        """Return the pairs that may be too near within some rounds."""
        lying, reach = self.lying(poses), self.room.between + AHEAD
        first, second = _near(lying, reach, self.meet)
        close = shapely.dwithin(lying[first], lying[second], reach)
        return first[close], second[close]

    def pushes(self, poses: Poses, among: Pairs) -> tuple[NDArray[np.float64], NDArray[np.float64], Mm]:
        """Return how far all constraints together push each piece (n, 3), the squares of what it lacks, and the worst.

        What two share of a lack counts half for each. Only the pairs of `among` are looked at.
        """
        lying, ease = self.lying(poses), self.ease
        first, second = among
        towards = _shortest(lying[first], lying[second], poses[first, :2], poses[second, :2])
        lack = self.room.between - towards.distance
        hit = np.flatnonzero(lack == self.room.between)
        lack[hit] += self._into(first[hit], second[hit], poses)
        outward, lack_edge, edges = self._walls(lying, poses)
        pairs = lack > 0
        one, other = first[pairs], second[pairs]
        pull_one = _pull(towards.start[pairs] - poses[one, :2], towards.normal[pairs])
        pull_other = _pull(towards.end[pairs] - poses[other, :2], towards.normal[pairs])
        share = lack[pairs] / ((pull_one**2 * ease[one]).sum(axis=1) + (pull_other**2 * ease[other]).sum(axis=1))
        pull_edge = _pull(outward.start - poses[edges, :2], outward.normal)
        share_edge = lack_edge / (pull_edge**2 * ease[edges]).sum(axis=1)
        push = np.zeros_like(poses)
        np.add.at(push, one, -share[:, None] * pull_one * ease[one])
        np.add.at(push, other, share[:, None] * pull_other * ease[other])
        np.add.at(push, edges, -share_edge[:, None] * pull_edge * ease[edges])
        pulled = np.concatenate([one, other, edges])
        pulls = np.bincount(pulled, minlength=len(poses))
        push *= np.minimum(1, EASING / np.maximum(pulls, 1))[:, None]
        half = lack[pairs] ** 2 / 2
        lacking = np.zeros(len(poses))
        np.add.at(lacking, pulled, np.concatenate([half, half, lack_edge**2]))
        return push, lacking, max(float(lack.max(initial=0.0)), float(lack_edge.max(initial=0.0)))

    def _into(self, one: NDArray[np.intp], other: NDArray[np.intp], poses: Poses) -> NDArray[np.float64]:
        """Return about how deep two that touch lie in one another: as if they were discs of their areas."""
        reach = np.sqrt(1 / (math.pi * self.ease[:, 0]))
        apart = np.hypot(*(poses[one, :2] - poses[other, :2]).T)
        return np.maximum(reach[one] + reach[other] - apart, 0) / 2

    def _walls(
        self, lying: NDArray[np.object_], poses: Poses
    ) -> tuple[_Shortest, NDArray[np.float64], NDArray[np.intp]]:
        """Return the shortest lines to the walls, what is short of the edge, and of whom.

        Who is out is pulled to the middle.
        """
        edges = np.flatnonzero(~shapely.contains_properly(self.inner, lying))
        outward = _shortest(shapely.boundary(lying[edges]), self.room.walls, self.middle, poses[edges, :2])
        lack = self.room.edge - outward.distance
        gone = np.flatnonzero(~shapely.contains_properly(self.area, lying[edges]))
        if len(gone):
            lack[gone] = self.room.edge + np.sqrt(shapely.area(shapely.difference(lying[edges[gone]], self.area)))
            away = poses[edges[gone], :2] - self.middle
            outward.normal[gone] = away / np.maximum(np.hypot(*away.T), np.finfo(float).tiny)[:, None]
        return outward, np.maximum(lack, 0), edges


def _near(lying: NDArray[np.object_], distance: Mm, meet: NDArray[np.bool_]) -> Pairs:
    """Return the pairs, of those that meet (n, n), whose boxes are nearer than a distance."""
    left, bottom, right, top = shapely.bounds(lying).T
    apart = (left[:, None] - right > distance) | (bottom[:, None] - top > distance)
    first, second = np.nonzero(meet & ~(apart | apart.T))
    return first, second


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shortest:
    """The shortest lines (m): their ends (m, 2), lengths (m) and directions (m, 2)."""

    start: NDArray[np.float64]
    end: NDArray[np.float64]
    distance: NDArray[np.float64]
    normal: NDArray[np.float64]


def _shortest(
    these: NDArray[np.object_],
    those: NDArray[np.object_] | shapely.Geometry,
    middles: NDArray[np.float64],
    others: NDArray[np.float64],
) -> _Shortest:
    """Return the shortest lines; where two touch, the direction is that between their middles."""
    lines = shapely.get_coordinates(shapely.shortest_line(these, those)).reshape(-1, 2, 2)
    run = lines[:, 1] - lines[:, 0]
    distance = np.hypot(run[:, 0], run[:, 1])
    run = np.where(distance[:, None] > 0, run, others - middles)
    length = np.maximum(np.hypot(run[:, 0], run[:, 1]), np.finfo(float).tiny)
    return _Shortest(start=lines[:, 0], end=lines[:, 1], distance=distance, normal=run / length[:, None])


def _pull(arm: NDArray[np.float64], normal: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how a force along the normal (m, 2) at the end of an arm (m, 2) moves and turns: (m, 3)."""
    return np.column_stack([normal, arm[:, 0] * normal[:, 1] - arm[:, 1] * normal[:, 0]])
