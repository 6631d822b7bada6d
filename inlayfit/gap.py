"""The gap as it will be cut, measured between what the two paths leave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.units import Mm
from inlayfit.walls import Walls

EVEN: Mm = 0.002
"""A gap within this of what was asked counts as even: twice what two written paths may be off."""

STEP: Mm = 0.25
"""No stretch of the seam longer than this goes unmeasured."""

TOLD_STEP: Mm = 0.4
"""Of each such stretch one sample is told: finer than a finger points, and the report stays small."""

MOST_TOLD = 600
"""Samples of one piece that are told; the stretches of a longer seam are longer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GapStats:
    """Clearance per side along one piece, mm, measured square to its wall.

    `nominal` is what was asked for; `even_share` the share of the seam's length within 2 um of it (0 to 1);
    `play` how much the piece could still grow all round before it touches; `drops_in` whether it touches nowhere.
    """

    nominal: Mm
    min: Mm
    mean: Mm
    max: Mm
    even_share: float
    play: Mm
    drops_in: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class GapAlong:
    """The gap at every step along a piece: `points` (n, 2), `gaps` (n,), `weights` (n,) length spoken for; mm.

    `off` (n,) is how much wider each gap is than was asked for there, `joint` (n,) whether it faces another piece.
    `rings` (n,) numbers the ring that each point lies on, in order along it. A gap below zero means that the piece
    stands in the wall.
    """

    points: NDArray[np.float64]
    gaps: NDArray[np.float64]
    off: NDArray[np.float64]
    joint: NDArray[np.bool_]
    weights: NDArray[np.float64]
    rings: NDArray[np.intp]


def gap_along(
    piece: shapely.Polygon,
    pocket: shapely.Polygon,
    neighbours: Sequence[shapely.Polygon],
    nominal: Mm,
    joint: Mm,
) -> GapAlong:
    """Return the gap from each vertex of a piece, and every `STEP` between, to the wall or the next piece.

    Args:
        piece: as its path leaves it.
        pocket: as its path leaves it.
        neighbours: the other pieces of the same pocket, as cut.
        nominal: the gap to the wall that was asked for.
        joint: the gap to another piece that was asked for.
    """
    rings = shapely.get_rings(shapely.segmentize(piece, STEP))
    coordinates, index = shapely.get_coordinates(rings, return_index=True)
    last = np.append(index[1:] != index[:-1], True)  # the closing point repeats the first
    points, ring_of = coordinates[~last], index[~last]
    steps = np.hypot(*np.diff(coordinates, axis=0).T)[~last[:-1]]
    before = np.empty_like(steps)
    for ring in range(len(rings)):
        on = np.flatnonzero(ring_of == ring)
        before[on] = steps[np.roll(on, 1)]
    shapely.prepare(pocket)
    to_wall = Walls.of([pocket]).distances(points, nominal) * np.where(shapely.intersects_xy(pocket, points), 1, -1)
    to_piece = np.full(len(points), np.inf)
    if neighbours:
        within = np.zeros(len(points), dtype=bool)
        for neighbour in neighbours:
            shapely.prepare(neighbour)
            within |= shapely.contains_xy(neighbour, points)
        to_piece = Walls.of(neighbours).distances(points, joint) * np.where(within, -1, 1)
    faces_piece = to_piece - joint < to_wall - nominal
    return GapAlong(
        points=points,
        gaps=np.where(faces_piece, to_piece, to_wall),
        off=np.minimum(to_piece - joint, to_wall - nominal),
        joint=faces_piece,
        weights=(steps + before) / 2,
        rings=ring_of,
    )


def gap_stats(
    along: GapAlong, pocket: shapely.Polygon, piece: shapely.Polygon, nominal: Mm, joint: Mm
) -> tuple[GapStats, GapStats | None]:
    """Return the figures of one piece, and apart those towards other pieces if another gap was asked for there.

    A piece that faces no wall has the latter alone, in either place.
    """
    if joint == nominal or not along.joint.any():
        return _to_wall(along, np.ones(len(along.gaps), dtype=bool), pocket, piece, nominal), None
    between = _stats(along, along.joint, joint, np.inf)
    return between if along.joint.all() else _to_wall(along, ~along.joint, pocket, piece, nominal), between


def _to_wall(
    along: GapAlong, part: NDArray[np.bool_], pocket: shapely.Polygon, piece: shapely.Polygon, nominal: Mm
) -> GapStats:
    """Return the figures of the points that face the wall, and of the wall's own vertices."""
    return _stats(along, part, nominal, _least_back(pocket, piece, float(along.gaps[part].min())))


def _least_back(pocket: shapely.Polygon, piece: shapely.Polygon, least: Mm) -> Mm:
    """Return how near the wall's own vertices come to a piece; infinite where that is no nearer than the least gap."""
    vertices = shapely.get_coordinates(pocket)
    shapely.prepare(piece)
    inside = shapely.contains_xy(piece, vertices)
    walls = Walls.of([piece])
    back = walls.near(vertices, max(0.0, least))
    back[inside] = -walls.distances(vertices[inside], abs(least))
    return float(back.min())


def _stats(along: GapAlong, part: NDArray[np.bool_], nominal: Mm, back: Mm) -> GapStats:
    """Return the figures of some of the points; pieces that are to touch may overlap by dust."""
    gaps, weights = along.gaps[part], along.weights[part]
    smallest = float(min(gaps.min(), back))
    return GapStats(
        nominal=nominal,
        min=smallest,
        mean=float((gaps * weights).sum() / weights.sum()),
        max=float(gaps.max()),
        even_share=float(weights[np.abs(along.off[part]) <= EVEN].sum() / weights.sum()),
        play=max(0.0, smallest),
        drops_in=smallest > (0 if nominal else -EVEN),
    )


def told(along: GapAlong) -> list[NDArray[np.float64]]:
    """Return the samples that reports tell, one array (n, 3) of x, y, gap for each ring, in order; mm.

    Of each stretch of `TOLD_STEP` it is the sample that is farthest from what was asked for there; the least and the
    greatest gap are always among them.
    """
    step = max(TOLD_STEP, float(along.weights.sum()) / MOST_TOLD)
    samples = np.column_stack([along.points, along.gaps])
    extremes = {int(along.gaps.argmin()), int(along.gaps.argmax())}
    rings = []
    for ring in range(int(along.rings.max()) + 1):
        on = np.flatnonzero(along.rings == ring)
        stretches = (np.cumsum(along.weights[on]) / step).astype(np.intp)
        order = np.lexsort((-np.abs(along.off[on]), stretches))
        firsts = order[np.flatnonzero(np.diff(stretches[order], prepend=-1))]
        rings.append(samples[sorted({*on[firsts].tolist(), *(extremes & set(on.tolist()))})])
    return rings


def uneven_stretches(along: GapAlong) -> list[NDArray[np.intp]]:
    """Return the runs of points, in order, whose gap is off by more than `EVEN`, one array of indices a run."""
    runs: list[NDArray[np.intp]] = []
    for ring in range(int(along.rings.max()) + 1):
        on = np.flatnonzero(along.rings == ring)
        off = np.abs(along.off[on]) > EVEN
        if off.all():
            runs.append(on)
        elif off.any():
            start = int(np.flatnonzero(~off)[0])  # begin at an even point, so that no run is cut in two
            turned, marks = np.roll(on, -start), np.roll(off, -start)
            edges = np.flatnonzero(np.diff(np.concatenate([[False], marks, [False]]).astype(np.int8)))
            runs.extend(turned[first:end] for first, end in edges.reshape(-1, 2))
    return runs
