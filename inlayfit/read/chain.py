"""Loose lines of one layer to closed loops, and loops to faces.

Words: a *line* is an open or closed run of points as drawn; an *end* is one of its two end points; a *chain* is a run
of lines that meet end to end; a *loop* is a chain that closes; a *tangle* is a group of chains that cross, touch,
overlap or branch; a *face* is a bounded area without a line through it.

The rules, in order:
1. Ends within `EXACT` of each other are one point.
2. An end that still meets nothing is moved to the middle between itself and the nearest other such end within `join`;
   failing that, onto the nearest line within `join` (a T). Ends that already meet are never moved, so a dense curve
   drawn as a thousand short lines keeps its shape. Each move over `REPORTED` becomes a joint.
3. Loops that cross nothing and share no edge with anything are taken as they are: no noding, no point is moved.
4. The rest is tangled: it is noded on a grid of `GRID`, so that lines drawn twice or over one another become one, and
   every face that its lines enclose is an area of its own. A square with a line across is two areas, two circles that
   cross are three. What encloses nothing is cut away and reported as open.
5. Of loops that run within `join` of each other all the way round, the first counts. Faces of a tangle that are nowhere
   wider than `join` go to the neighbour with the longest common edge.
6. Loops and tangles nest by even-odd: what lies in an area is a hole in it, what lies in the hole is an area again. A
   loop that touches another from inside at single points is a hole; one that shares an edge with it is tangled.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.read.chain_faces import Item, Tail, meetings, nest, untangle
from inlayfit.read.chain_graph import EXACT, Chain, Joint, close_ends, length, trace, union, without_repeats
from inlayfit.units import Mm

REPORTED: Mm = 0.001
"""A gap that was closed is told from here on: below 1 um it is lost in the budget of a path."""

MANY = 5_000
"""Lines of one layer: of as many it is asked first whether they cross too often."""

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """An area with its holes, and the numbers of the lines that its outer edge is made of."""

    polygon: shapely.Polygon
    sources: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Open:
    """A chain that encloses nothing: both ends, its length, and the hole that keeps it open.

    `start` and `end` are its ends; for a tail that hangs on something, `end` is the free one. `hole` is the distance
    from a free end to the nearest other free end, or None where there is no other.
    """

    start: tuple[Mm, Mm]
    end: tuple[Mm, Mm]
    length: Mm
    hole: Mm | None
    sources: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chained:
    """What became of the lines: `faces` in the order of their first line, and what the maker should know.

    `doubled` holds a place and a length for each tangle with lines drawn over one another, `crossed` a place for each
    tangle where the faces had to be taken apart, `dropped` a place for each tangle that lies inside a hole.
    """

    faces: tuple[Face, ...] = ()
    joints: tuple[Joint, ...] = ()
    opens: tuple[Open, ...] = ()
    doubled: tuple[tuple[tuple[Mm, Mm], Mm], ...] = ()
    crossed: tuple[tuple[Mm, Mm], ...] = ()
    lost: tuple[tuple[Mm, Mm], ...] = ()
    pointless: tuple[int, ...] = ()


def close_outlines(lines: Sequence[Points], closed: Sequence[bool], join: Mm) -> Chained:
    """Return the faces of the lines of one layer; see the rules above.

    Args:
        lines: each of shape (n, 2), mm; a line of a single place is returned under `pointless`.
        closed: whether a line is closed by its own flag (the last point may, but need not repeat the first).
        join: how far an end may be moved to meet another, mm.

    Raises:
        DrawingError: the lines meet in so many places that taking them apart would take minutes.
    """
    tidy = [_tidy(points, ring) for points, ring in zip(lines, closed, strict=True)]
    kept = [number for number, points in enumerate(tidy) if points is not None]
    if len(kept) > MANY:  # before their ends are brought together, which takes long where all cross all
        meetings(np.array([shapely.LineString(tidy[number]) for number in kept], dtype=object), spare=4 * len(kept))
    joined, joints, contacts = close_ends({number: tidy[number] for number in kept}, join)  # type: ignore[misc]
    chains = trace(joined)
    return _areas(chains, tuple(joint for joint in joints if joint.gap > REPORTED), contacts, join, tidy)


def _tidy(points: Points, closed: bool) -> Points | None:
    """Drop repeated points and close a ring; None where nothing with a length is left."""
    if closed and len(points) and np.hypot(*(points[0] - points[-1])) > 0:
        points = np.vstack([points, points[:1]])
    moved = np.concatenate([[True], np.any(np.diff(points, axis=0) != 0, axis=1)]) if len(points) else np.array([])
    points = points[moved.astype(bool)]
    if len(points) < 2 or np.ptp(points, axis=0).max() <= EXACT:
        return None
    return points


def _areas(
    chains: list[Chain],
    joints: tuple[Joint, ...],
    contacts: set[tuple[int, int]],
    join: Mm,
    tidy: list[Points | None],
) -> Chained:
    chains, repeated = without_repeats(chains, join)
    items: list[Item] = []
    tails: list[Tail] = []
    doubled = [(_spot(chain), length(chain.points)) for chain in repeated]
    crossed: list[tuple[Mm, Mm]] = []
    for group in _groups(chains, contacts):
        if len(group) == 1 and group[0].is_simple_loop:
            items.append(Item.of_loop(group[0]))
            continue
        if len(group) == 1 and group[0].is_simple:
            tails.append(Tail.of_chain(group[0]))
            continue
        tangle = untangle(group, join)
        items.extend(tangle.items)
        tails.extend(tangle.tails)
        if tangle.doubled > REPORTED:
            doubled.append((tangle.at, tangle.doubled))
        if tangle.is_divided:
            crossed.append(tangle.at)
    areas, lost = nest(items)
    faces = [Face(polygon=polygon, sources=sources) for polygon, sources in areas]
    return Chained(
        faces=tuple(sorted(faces, key=lambda face: min(face.sources))),
        joints=joints,
        opens=_opens(tails),
        doubled=tuple(doubled),
        crossed=tuple(crossed),
        lost=tuple(lost),
        pointless=tuple(number for number, points in enumerate(tidy) if points is None),
    )


def _spot(chain: Chain) -> tuple[Mm, Mm]:
    return float(chain.points[0, 0]), float(chain.points[0, 1])


def _groups(chains: list[Chain], contacts: set[tuple[int, int]]) -> list[list[Chain]]:
    """Return the chains in groups that have to be noded together; a loop that crosses nothing stands alone."""
    geometry = np.array([shapely.LineString(chain.points) for chain in chains], dtype=object)
    pairs = [(int(i), int(j)) for i, j in zip(*meetings(geometry), strict=True) if _tangled(chains[i], chains[j])]
    owner = {source: number for number, chain in enumerate(chains) for source in chain.sources}
    pairs += [(owner[i], owner[j]) for i, j in contacts if i in owner and j in owner]
    labels = union(len(chains), pairs)
    groups: dict[int, list[Chain]] = {}
    for label, chain in zip(labels, chains, strict=True):
        groups.setdefault(label, []).append(chain)
    return list(groups.values())


def _tangled(one: Chain, other: Chain) -> bool:
    """Whether two chains that meet must be noded: all but simple loops that touch in single points from one side."""
    if not (one.is_simple_loop and other.is_simple_loop):
        return True
    ring, rim = shapely.Polygon(one.points), shapely.Polygon(other.points)
    return not (
        shapely.relate_pattern(ring, rim, "FF*F0****")  # apart, boundaries meet in points
        or shapely.relate_pattern(ring, rim, "2FF10F212")  # ring inside rim
        or shapely.relate_pattern(ring, rim, "212F01FF2")  # rim inside ring
    )


def _opens(tails: list[Tail]) -> tuple[Open, ...]:
    """Return the open chains with the hole from their free ends to the nearest other free end."""
    free = [shapely.Point(end) for tail in tails for end in tail.free]
    (asked, _), apart = shapely.STRtree(free).query_nearest(free, exclusive=True, return_distance=True)
    nearest = dict(zip(asked.tolist(), apart.tolist(), strict=True))
    opens = []
    end = 0
    for tail in tails:
        holes = [nearest[free_end] for free_end in range(end, end + len(tail.free)) if free_end in nearest]
        end += len(tail.free)
        (x, y), (far_x, far_y) = tail.ends
        opens.append(
            Open(
                start=(float(x), float(y)),
                end=(float(far_x), float(far_y)),
                length=tail.length,
                hole=min(holes, default=None),
                sources=tail.sources,
            )
        )
    return tuple(opens)
