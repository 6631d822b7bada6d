"""The raw parallel curves of rings: each edge moved outward, joined at the vertices; they may cross themselves.

Words: a vertex is *outer* where moving opens a wedge between its two edges (it needs an arc), *inner* where they run
into one another. An edge between two inner vertices is *swallowed* where its neighbours meet before it: then they meet
in one point, and a rounded corner that shrinks away leaves no knot of tiny edges. What counts of a raw curve is where
its winding number is positive: the overlay finds that.

Arcs are tangent polygons: their edges lie at the distance itself, so that moving back leads to where they came from,
and an outer vertex of little turn stays one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inlayfit.units import Mm

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]

LARGEST_INNER_TURN = 3.1
"""The turn, radians, up to which an inner vertex may be met at the mitre of its moved edges."""

SHORTEST: Mm = 1e-6
"""A shorter edge is a repeated point: the engine rounds to a hundredth of that and leaves knots where arcs shrink away.

An edge that would be shorter once it has moved is swallowed."""

SLIVER: Mm = 0.0001
"""Rings that are less wide are dust of the overlay."""

PASSES = 50
"""A round is swallowed in one pass, a bend wider than the distance in some twenty; what is still too short stays."""


def parallel_rings(rings: Sequence[Floats], distance: Mm, arc_error: Mm) -> tuple[list[Floats], float]:
    """Return the raw curves at a distance to the right of rings (n, 2), that is outside of counter-clockwise ones.

    Below zero they go inward. All rings are worked at once: an overlay may hold thousands of small ones.

    Returns: shapes (m, 2), mm; rings of fewer than three edges, slivers, and such as are swallowed whole, are left out.
        And the sharpest turn, radians, at an inner vertex, or over all edges that go there; half a turn where one is
        not met.
    """
    lengths, points = _without_repeats(rings)
    if not len(points):
        return [], math.pi
    edges = _Edges.between(points, lengths)
    wide = edges.wide_rings(len(lengths))
    if not wide.all():
        points, lengths = points[wide[edges.ring]], lengths[wide]
        if not len(points):
            return [], math.pi
        edges = _Edges.between(points, lengths)
    joints = _joints(edges, distance, arc_error)
    counts = np.ones(len(joints.met), dtype=np.intp)
    moved = joints.meeting
    if not joints.met.all():
        bends, counts[~joints.met] = _bends(edges, joints, distance, arc_error)
        moved = np.repeat(moved, counts)
        moved[np.repeat(~joints.met, counts)] = bends
    per_ring = np.bincount(edges.ring[joints.vertex], weights=counts, minlength=len(lengths)).astype(np.intp)
    whole = np.ascontiguousarray(moved).view(np.float64).reshape(-1, 2)
    return [ring for ring in np.split(whole, np.cumsum(per_ring)[:-1]) if len(ring)], _sharpest(joints, distance)


def _sharpest(joints: _Joints, distance: Mm) -> float:
    """Return the sharpest turn at an inner vertex, radians; half a turn where one is not met."""
    inner = joints.turn * distance < 0
    return float(np.abs(joints.turn[inner]).max(initial=0.0)) if joints.met[inner].all() else math.pi


def _bends(edges: _Edges, joints: _Joints, distance: Mm, arc_error: Mm) -> tuple[Complex, Indices]:
    """Return the points at the joints that are not met, one after the other, and how many each has.

    At an outer one they are an arc, at an inner one the ends of the moved edges with the vertex between.
    """
    vertex, turn = joints.vertex[~joints.met], joints.turn[~joints.met]
    outer = turn * distance >= 0
    corners = np.maximum(1, np.ceil(np.abs(turn) / _longest_step(distance, arc_error)))
    counts = np.where(outer, corners, 3).astype(np.intp)
    place = np.repeat(np.arange(len(counts)), counts)
    rank = np.arange(len(place)) - np.repeat(np.cumsum(counts) - counts, counts)
    before, after = edges.right[edges.before[vertex]][place], edges.right[vertex][place]
    step = (turn / counts)[place]
    angles = step * (rank + 0.5)
    arcs = before * (np.cos(angles) + 1j * np.sin(angles)) / np.cos(step / 2)
    detours = np.where(rank == 0, before, np.where(rank == 2, after, 0.0))  # back through the vertex
    return edges.points[vertex][place] + distance * np.where(outer[place], arcs, detours), counts


def _longest_step(distance: Mm, arc_error: Mm) -> float:
    """Return the turn, radians, of a tangent polygon of which no vertex lies further off its arc."""
    return 2 * math.acos(abs(distance) / (abs(distance) + arc_error))


@dataclass(frozen=True, slots=True)
class _Edges:
    """Edges of rings one after the other; edge i goes from point i to the next, vertex i is where it starts.

    Points and ways are complex, x + iy. `along` and `right` are unit vectors, `turn` the angle from the edge before to
    this one, radians, left above zero; `before` and `after` number the neighbours, `ring` the ring.
    """

    points: Complex
    along: Complex
    right: Complex
    long: Floats
    turn: Floats
    before: Indices
    after: Indices
    ring: Indices

    @classmethod
    def between(cls, points: Complex, lengths: Indices) -> _Edges:
        before, after = _neighbours(lengths)
        steps = points[after] - points
        long = np.abs(steps)
        along = steps / long
        turn = np.angle(along * along[before].conj())
        return cls(points, along, -1j * along, long, turn, before, after, np.repeat(np.arange(len(lengths)), lengths))

    def wide_rings(self, rings: int) -> Flags:
        """Return which rings are no slivers of the overlay: one of nothing that grows becomes as wide as that."""
        areas = np.bincount(self.ring, weights=_cross(self.points, self.points[self.after]), minlength=rings)
        return np.abs(areas) > SLIVER * np.bincount(self.ring, weights=self.long, minlength=rings)


@dataclass(frozen=True, slots=True)
class _Joints:
    """The vertices that the raw curve has, with the turn at each.

    Those that are `met` are one point, the `meeting` of the moved edges: all but outer ones that need an arc, and inner
    ones whose edges are too short.
    """

    vertex: Indices
    turn: Floats
    met: Flags
    meeting: Complex


def _joints(edges: _Edges, distance: Mm, arc_error: Mm) -> _Joints:
    """Return where the moved edges join, without those that are swallowed.

    Between two edges that would have to be longer for their moved lines to meet, all stays as it was.
    """
    vertex = np.arange(len(edges.long))
    kept = _kept(edges, vertex, edges.turn, edges.before, edges.after, distance, arc_error)
    turn, met, start = kept.turn, kept.met, kept.start
    if kept.swallowed.any():
        kept, owner = _unswallowed(edges, kept, distance, arc_error)
        unmet = np.append(~kept.met, False)
        back = (unmet & (np.bincount(owner, minlength=len(unmet)) > 1))[owner]
        alive = back.copy()
        alive[kept.edge] = True
        vertex = np.flatnonzero(alive)
        owner, back = owner[vertex], back[vertex]
        turn, met, start = np.where(back, edges.turn[vertex], kept.turn[owner]), kept.met[owner], kept.start[owner]
        return _Joints(vertex, turn, met, edges.points[vertex] + _moved(edges.along[vertex], distance, start))
    return _Joints(vertex, turn, met, edges.points + _moved(edges.along, distance, start))


def _moved(along: Complex, distance: Mm, start: Floats) -> Complex:
    """Return by how much the starts of edges move: to the right of them, and along."""
    return along * (start - 1j * distance)


@dataclass(frozen=True, slots=True)
class _Kept:
    """Edges that are left, the turn before each, where it starts once moved, and whether it is swallowed.

    The vertex before an edge is `met` where the raw curve needs no more than the crossing of the moved lines.
    """

    edge: Indices
    turn: Floats
    start: Floats
    met: Flags
    swallowed: Flags


def _kept(
    edges: _Edges, edge: Indices, turn: Floats, before: Indices, after: Indices, distance: Mm, arc_error: Mm
) -> _Kept:
    """Return some of the edges as they meet one another; `before` and `after` number the neighbours among them."""
    inner = (turn * distance < 0) & (np.abs(turn) < LARGEST_INNER_TURN)
    end, start = _feet(edges, edge[before], edge, turn, distance)
    fits = np.where(inner, start, 0.0) + SHORTEST < np.where(inner, end, edges.long[edge[before]])[after]
    mitred = (turn * distance >= 0) & (np.abs(turn) <= _longest_step(distance, arc_error))
    met = mitred | (inner & fits & fits[before])
    return _Kept(edge, turn, np.where(met, start, 0.0), met, inner & inner[after] & ~fits)


def _unswallowed(edges: _Edges, kept: _Kept, distance: Mm, arc_error: Mm) -> tuple[_Kept, Indices]:
    """Return the edges that are left, and for each vertex which of them is the first from there on."""
    for _ in range(PASSES):
        edge = kept.edge[~kept.swallowed]
        alive = np.zeros(len(edges.long), dtype=bool)
        alive[edge] = True
        counts = np.bincount(edges.ring[edge], minlength=edges.ring[-1] + 1)
        ends = np.cumsum(counts)
        owner = np.cumsum(alive) - alive
        past = owner >= ends[edges.ring]  # behind the last of its ring, so that the first comes next
        owner[past] = np.where(counts > 0, ends - counts, len(edge))[edges.ring[past]]
        turn = np.asarray(np.bincount(owner, weights=edges.turn, minlength=len(edge) + 1), dtype=np.float64)
        kept = _kept(edges, edge, turn[:-1], *_neighbours(counts[counts > 0]), distance, arc_error)
        if not kept.swallowed.any():
            break
    return kept, owner


def _feet(edges: _Edges, one: Indices, other: Indices, turn: Floats, distance: Mm) -> tuple[Floats, Floats]:
    """Return how far along two edges, one after the other, their moved lines meet, from the start of each."""
    overlap = -distance * np.tan(turn / 2)
    at_one, at_other = edges.long[one] - overlap, overlap
    apart = np.flatnonzero(edges.before[other] != one)
    if not len(apart):
        return at_one, at_other
    one, other = one[apart], other[apart]
    gap = edges.points[other] - edges.points[one] + distance * (edges.right[other] - edges.right[one])
    sine = _cross(edges.along[one], edges.along[other])
    with np.errstate(divide="ignore", invalid="ignore"):
        at_one[apart] = _cross(gap, edges.along[other]) / sine
        at_other[apart] = _cross(gap, edges.along[one]) / sine
    return at_one, at_other


def _cross(one: Complex, other: Complex) -> Floats:
    return np.asarray(one.real * other.imag - one.imag * other.real)


def _without_repeats(rings: Sequence[Floats]) -> tuple[Indices, Complex]:
    """Return how many points each ring has, and these one after the other, without repeated ones."""
    rings = [ring for ring in rings if len(ring) >= 3]
    lengths = np.array([len(ring) for ring in rings], dtype=np.intp)
    if not len(lengths):
        return lengths, np.empty(0, dtype=np.complex128)
    points = np.ascontiguousarray(np.concatenate(rings), dtype=np.float64).view(np.complex128).ravel()
    while not (real := np.abs(points[_neighbours(lengths)[1]] - points) > SHORTEST).all():
        ring_of = np.repeat(np.arange(len(lengths)), lengths)
        left = np.bincount(ring_of[real], minlength=len(lengths))
        points, lengths = points[real & (left >= 3)[ring_of]], left[left >= 3]
    return lengths, points


def _neighbours(lengths: Indices) -> tuple[Indices, Indices]:
    """Return for each point of rings of these lengths the index of the one before it and of the one after it."""
    ends = np.cumsum(lengths)
    starts = ends - lengths
    here = np.arange(lengths.sum())
    before, after = here - 1, here + 1
    before[starts], after[ends - 1] = ends - 1, starts
    return before, after
