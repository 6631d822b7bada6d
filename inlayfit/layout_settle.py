"""From about right to exact: pieces that lie a little too near to one another push each other away, and turn.

Each pair that is too near, and each piece too near to an edge, is a constraint; all are put right in turn, each piece
giving way by its mass and its moment (position-based dynamics; source: M. Mueller et al., Position based dynamics,
J. Vis. Commun. Image R. 18, 2007: from memory). What comes out is measured on the true outlines (`room_between`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.layout_raster import turn
from inlayfit.units import Mm

Poses = NDArray[np.float64]  # (n, 3): x, y of the middle, mm; angle, radians

STAGES = ((0.01, 0.004, 0.0015), (0.001, 0.004, 0.0015), (0.0001, 0.0, 0.00005))
"""First roughly, then finely, and where a piece just fits as it is: by how much outlines are simplified while they are
pushed about, how much farther apart than they must be they are pushed, and what no round takes away; mm."""

ALLOWED: Mm = 0.0001
"""Room may be short by this, a tenth of the budget of a path: a piece just as large as its blank still fits."""

ROUNDS = 400
"""Most lots of pieces are at rest after 50 rounds; what is not after these will never be."""

EARLY, STUCK = 150, 0.06
"""What is still short by so many mm after so many rounds is given up."""

EASING = 1.6
"""Where several constraints pull at a piece, their mean counts this many times: under 2 it comes to rest (tried)."""

MOMENTUM = 0.95
"""Pieces go on moving with this share of what they moved in the round before: without it a crowd of pieces takes forty
times as many rounds (measured)."""


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
    first, second = _near(lying, room.between)
    apart = shapely.distance(lying[first], lying[second])
    return float(apart.min(initial=np.inf)), float(shapely.distance(lying, room.walls).min(initial=np.inf))


def _inside(outlines: Sequence[shapely.Polygon], poses: Poses, walls: shapely.Geometry) -> bool:
    return bool(shapely.contains(_area_of(walls), placed(outlines, poses)).all())


def _area_of(walls: shapely.Geometry) -> shapely.Polygon:
    return shapely.build_area(shapely.MultiLineString(shapely.get_parts(walls).tolist()))


def _at_rest(thin: NDArray[np.object_], poses: Poses, room: Room, remnant: Mm, *, turning: bool) -> tuple[Poses, Mm]:
    """Return the poses after the pieces have pushed one another about until all room is there, and what is short."""
    flat, of = shapely.get_coordinates(thin, return_index=True)
    mass = shapely.area(thin)
    moment = mass * np.bincount(of, (flat**2).sum(axis=1)) / np.bincount(of) / 2
    ease = np.column_stack([1 / mass, 1 / mass, (1 / moment) * turning])
    poses, step, short = poses.copy(), np.zeros_like(poses), np.inf
    shapely.prepare(room.walls)
    middle = shapely.get_coordinates(shapely.point_on_surface(_area_of(room.walls)))[0]
    for number in range(ROUNDS):
        cos, sin = np.cos(poses[of, 2]), np.sin(poses[of, 2])
        x, y = flat[:, 0] * cos - flat[:, 1] * sin, flat[:, 0] * sin + flat[:, 1] * cos
        lying = shapely.set_coordinates(thin.copy(), np.column_stack([x, y]) + poses[of, :2])
        push, pulls, short = _pushes(lying, poses, ease, room, middle)
        if short <= remnant or (number == EARLY and short > STUCK):
            break
        step = push * np.minimum(1, EASING / np.maximum(pulls, 1))[:, None] + MOMENTUM * step
        poses += step
    return poses, short


def _pushes(
    lying: NDArray[np.object_], poses: Poses, ease: NDArray[np.float64], room: Room, middle: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.int_], Mm]:
    """Return how far all constraints together push each piece (n, 3), how many pull at it, and the worst lack."""
    first, second = _near(lying, room.between)
    towards = _shortest(lying[first], lying[second], poses[first, :2], poses[second, :2])
    lack = room.between - towards.distance
    outward = _shortest(shapely.boundary(lying), room.walls, middle, poses[:, :2])
    lack_edge = room.edge - outward.distance
    pairs, edges = lack > 0, np.flatnonzero(lack_edge > 0)
    one, other = first[pairs], second[pairs]
    pull_one = _pull(towards.start[pairs] - poses[one, :2], towards.normal[pairs])
    pull_other = _pull(towards.end[pairs] - poses[other, :2], towards.normal[pairs])
    share = lack[pairs] / ((pull_one**2 * ease[one]).sum(axis=1) + (pull_other**2 * ease[other]).sum(axis=1))
    pull_edge = _pull(outward.start[edges] - poses[edges, :2], outward.normal[edges])
    share_edge = lack_edge[edges] / (pull_edge**2 * ease[edges]).sum(axis=1)
    push = np.zeros_like(poses)
    np.add.at(push, one, -share[:, None] * pull_one * ease[one])
    np.add.at(push, other, share[:, None] * pull_other * ease[other])
    np.add.at(push, edges, -share_edge[:, None] * pull_edge * ease[edges])
    pulls = np.bincount(np.concatenate([one, other, edges]), minlength=len(poses))
    return push, pulls, max(float(lack.max(initial=0.0)), float(lack_edge.max(initial=0.0)))


def _near(lying: NDArray[np.object_], distance: Mm) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the pairs whose boxes are nearer than a distance."""
    left, bottom, right, top = shapely.bounds(lying).T
    apart = (left[:, None] - right > distance) | (bottom[:, None] - top > distance)
    first, second = np.nonzero(np.triu(~(apart | apart.T), 1))
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
