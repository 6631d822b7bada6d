"""Ends that meet: exact ones, those a hair's width apart, those that stop short of a line; then chains."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.ops import substring

from inlayfit.units import Mm

EXACT: Mm = 1e-6
"""Ends closer than this are the same point: a nanometre, the noise of numbers written with six decimals."""

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """A gap that was closed: the place where the ends meet now, how far they were apart, whose ends they were."""

    at: tuple[Mm, Mm]
    gap: Mm
    sources: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """A run of lines that meet end to end; `points` (n, 2), the first repeated at the end of a loop.

    `is_simple` says that it neither crosses nor touches itself.
    """

    points: Points
    sources: tuple[int, ...]
    is_simple: bool

    @property
    def is_simple_loop(self) -> bool:
        """Whether it is the edge of one area."""
        return self.is_simple and len(self.points) > 3 and bool((self.points[0] == self.points[-1]).all())


def union(count: int, pairs: Sequence[tuple[int, int]]) -> list[int]:
    """Return a label for each of `count` things, equal for those that the pairs connect."""
    parent = list(range(count))

    def root(number: int) -> int:
        while parent[number] != number:
            parent[number] = parent[parent[number]]
            number = parent[number]
        return number

    for one, other in pairs:
        parent[root(int(one))] = root(int(other))
    return [root(number) for number in range(count)]


_WEIGHTS = np.sqrt((1.0, 2.0, 3.0, 5.0))
"""Sums of the sides of boxes in these weights are only alike where the sides are: no drawing has such proportions."""


def _close_pairs(points: Points, radius: Mm) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the index pairs i < j of points within `radius` of each other."""
    geometry = shapely.points(points)
    first, second = shapely.STRtree(geometry).query(geometry, predicate="dwithin", distance=radius)
    once = first < second
    return first[once], second[once]


def close_ends(lines: dict[int, Points], join: Mm) -> tuple[dict[int, Points], list[Joint], set[tuple[int, int]]]:
    """Return the lines with their ends brought together, the joints, and which lines a T-joint connects."""
    lines = {number: points.copy() for number, points in lines.items()}
    for points in lines.values():
        if np.hypot(*(points[0] - points[-1])) <= EXACT:
            points[-1] = points[0]
    ends = [(number, side) for number, points in lines.items() if (points[0] != points[-1]).any() for side in (0, -1)]
    if not ends:
        return lines, [], set()
    loose = _meet_exactly(lines, ends)
    joints, loose = _meet_halfway(lines, loose, join)
    more, contacts = _meet_a_line(lines, loose, join)
    return lines, joints + more, contacts


def _meet_exactly(lines: dict[int, Points], ends: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Make ends within `EXACT` equal, in place; return those that meet no other."""
    places = np.array([lines[number][side] for number, side in ends])
    labels = np.array(union(len(ends), list(zip(*_close_pairs(places, EXACT), strict=True))))
    for (number, side), label in zip(ends, labels, strict=True):
        lines[number][side] = places[label]
    count = np.bincount(labels, minlength=len(ends))
    return [end for end, label in zip(ends, labels, strict=True) if count[label] == 1]


def _meet_halfway(
    lines: dict[int, Points], loose: list[tuple[int, int]], join: Mm
) -> tuple[list[Joint], list[tuple[int, int]]]:
    """Move loose ends within `join` to their middle, the nearest pairs first; return the joints and what stays loose.

    A third end within `join` of such a middle is moved there too.
    """
    if len(loose) < 2:
        return [], loose
    places = np.array([lines[number][side] for number, side in loose])
    first, second = _close_pairs(places, join)
    gaps = np.hypot(*(places[first] - places[second]).T)
    meeting: dict[int, tuple[float, float]] = {}
    joints = []
    for index in np.argsort(gaps, kind="stable"):
        one, other = int(first[index]), int(second[index])
        same = loose[one][0] == loose[other][0]
        if (same and length(lines[loose[one][0]]) <= 2 * join) or (one in meeting and other in meeting):
            continue
        middle = meeting.get(one) or meeting.get(other) or tuple(map(float, (places[one] + places[other]) / 2))
        if max(np.hypot(*(places[end] - middle)) for end in (one, other)) > join:
            continue
        for end in (one, other):
            number, side = loose[end]
            lines[number][side] = middle
            meeting[end] = (middle[0], middle[1])
        sources = tuple(sorted({loose[one][0], loose[other][0]}))
        joints.append(Joint(at=(middle[0], middle[1]), gap=float(gaps[index]), sources=sources))
    return joints, [end for index, end in enumerate(loose) if index not in meeting]


def _meet_a_line(
    lines: dict[int, Points], loose: list[tuple[int, int]], join: Mm
) -> tuple[list[Joint], set[tuple[int, int]]]:
    """Move loose ends onto the nearest line within `join` and give that line a vertex there."""
    numbers = list(lines)
    tree = shapely.STRtree([shapely.LineString(lines[number]) for number in numbers])
    joints: list[Joint] = []
    contacts: set[tuple[int, int]] = set()
    for number, side in loose:
        end = lines[number][side].copy()
        near = [numbers[index] for index in tree.query(shapely.Point(end), predicate="dwithin", distance=join)]
        found = [hit for host in near if (hit := _foot(lines, host, (number, side), end, join)) is not None]
        if not found:
            continue
        gap, host, foot = min(found, key=lambda hit: hit[0])
        lines[host], foot = _with_vertex(lines[host], foot)
        lines[number][side] = foot
        contacts.add((number, host))
        joints.append(Joint(at=(float(foot[0]), float(foot[1])), gap=gap, sources=tuple(sorted({number, host}))))
    return joints, contacts


def _foot(
    lines: dict[int, Points], host: int, end: tuple[int, int], place: Points, join: Mm
) -> tuple[float, int, Points] | None:
    """Return distance, host and nearest point of the host; of its own line an end sees only what is further on."""
    line = shapely.LineString(lines[host])
    if host == end[0]:
        if line.length <= 2 * join:
            return None
        line = substring(line, 2 * join, line.length) if end[1] == 0 else substring(line, 0, line.length - 2 * join)
    gap = shapely.distance(line, shapely.Point(place))
    if gap > join:
        return None
    foot = line.interpolate(line.project(shapely.Point(place)))
    return float(gap), host, np.array([foot.x, foot.y])


def _with_vertex(points: Points, place: Points) -> tuple[Points, Points]:
    """Return the line with a vertex at `place`, and the vertex: an old one where it is within `EXACT`."""
    apart = np.hypot(*(points - place).T)
    nearest = int(np.argmin(apart))
    if apart[nearest] <= EXACT:
        return points, points[nearest].copy()
    start, step = points[:-1], np.diff(points, axis=0)
    share = np.clip(((place - start) * step).sum(axis=1) / (step * step).sum(axis=1), 0, 1)
    segment = int(np.argmin(np.hypot(*(start + share[:, None] * step - place).T)))
    return np.insert(points, segment + 1, place, axis=0), place


def length(points: Points) -> Mm:
    """Return the length of a run of points."""
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def without_repeats(chains: Sequence[Chain], within: Mm) -> tuple[list[Chain], list[Chain]]:
    """Return the chains without loops drawn again, the first of each kept, and those repeats.

    Loops smaller than a few times `within` are left alone: there "the same" would mean nothing.
    """
    rings = {number: shapely.LinearRing(chain.points) for number, chain in enumerate(chains) if chain.is_simple_loop}
    repeats: set[int] = set()
    numbers = list(rings)
    for pair in same_boxes(shapely.bounds(np.array([*rings.values()], dtype=object)), within):
        one, other = (numbers[index] for index in pair)
        left, bottom, right, top = rings[one].bounds
        if {one, other} & repeats or max(right - left, top - bottom) < 10 * within:
            continue
        if same_ring(rings[one], rings[other], within):
            repeats.add(other)
    kept = [chain for number, chain in enumerate(chains) if number not in repeats]
    return kept, [chains[number] for number in sorted(repeats)]


def same_boxes(boxes: Points, within: Mm) -> list[tuple[int, int]]:
    """Return the index pairs, in order, of boxes (n, 4) whose four sides are each within that distance."""
    if len(boxes) < 2:
        return []
    sums = boxes @ _WEIGHTS
    order = sums.argsort(kind="stable")
    stops = np.searchsorted(sums, sums[order] + within * _WEIGHTS.sum(), side="right", sorter=order)
    counts = stops - np.arange(1, len(order) + 1)
    one = np.arange(len(order)).repeat(counts)
    other = one + 1 + np.arange(len(one)) - (counts.cumsum() - counts)[one]
    pairs = np.sort(np.stack((order[one], order[other]), axis=1))
    alike = (np.abs(boxes[pairs[:, 0]] - boxes[pairs[:, 1]]) <= within).all(axis=1)
    return sorted((one, other) for one, other in pairs[alike].tolist())


def same_ring(one: shapely.LinearRing, other: shapely.LinearRing, within: Mm) -> bool:
    """Whether each ring lies within that distance of the other, judged at its corners."""
    corners = [shapely.get_coordinates(ring) for ring in (one, other)]
    if len(corners[0]) == len(corners[1]) and np.hypot(*(corners[0] - corners[1]).T).max() <= within:
        return True  # corner for corner, as copies are
    for ring, rim in zip(corners, (other, one), strict=True):
        shapely.prepare(rim)
        if not shapely.dwithin(rim, shapely.points(ring), within).all():
            return False
    return True


def trace(lines: dict[int, Points]) -> list[Chain]:
    """Return the chains of lines that meet in pairs; where three or more meet, chains end."""
    nodes: dict[tuple[float, float], list[tuple[int, int]]] = {}
    for number, points in lines.items():
        if (points[0] != points[-1]).any():
            for side in (0, -1):
                nodes.setdefault(_key(points[side]), []).append((number, side))
    runs = [([points], [number]) for number, points in lines.items() if (points[0] == points[-1]).all()]
    used = {numbers[0] for _, numbers in runs}
    starts = [end for meeting in nodes.values() if len(meeting) != 2 for end in meeting]
    for number, side in starts + [(number, 0) for number in lines]:
        if number not in used:
            runs.append(_follow(lines, nodes, number, side, used))
    joined = [np.vstack([parts[0], *(part[1:] for part in parts[1:])]) for parts, _ in runs]
    simple = [_passes_once(points) and shapely.LineString(points).is_simple for points in joined]
    return [
        Chain(points=points, sources=tuple(numbers), is_simple=bool(plain))
        for points, (_, numbers), plain in zip(joined, runs, simple, strict=True)
    ]


def _passes_once(points: Points) -> bool:
    """Whether no vertex is passed twice; GEOS takes minutes over a long line that runs back upon itself."""
    inner = points[1:]
    return len(np.unique(inner, axis=0)) == len(inner)


def _key(point: Points) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _follow(
    lines: dict[int, Points],
    nodes: dict[tuple[float, float], list[tuple[int, int]]],
    number: int,
    side: int,
    used: set[int],
) -> tuple[list[Points], list[int]]:
    """Walk from one end of a line through all points where exactly two lines meet."""
    parts: list[Points] = []
    numbers: list[int] = []
    while number not in used:
        used.add(number)
        numbers.append(number)
        parts.append(lines[number] if side == 0 else lines[number][::-1])
        meeting = nodes[_key(parts[-1][-1])]
        if len(meeting) != 2:
            break
        far = -1 if side == 0 else 0
        number, side = meeting[1] if meeting[0] == (number, far) else meeting[0]
    return parts, numbers
