"""A polyline with a width is a band, an area of its own.

The rule at corners: two straight segments meet in a mitre, as long as it is at most `LONGEST_MITRE` widths; a sharper
corner, or one at an arc, is bevelled. The two ends of an open band are cut square.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import shapely

from inlayfit.read.chain_faces import GRID
from inlayfit.read.dxf_curves import Points, arc_steps

LONGEST_MITRE = 4.0
"""Common practice, no source: the same limit as the default of SVG strokes."""


def band(rows: Points, closed: bool, tolerance: float) -> tuple[list[shapely.Geometry], bool]:
    """Return the areas of a polyline of x, y, start width, end width, bulge, and whether a sharp corner is bevelled.

    Lengths are in the unit of the polyline; corners at an arc, which are bevelled all, do not count.

    A straight segment is a trapezium. The edges of an arc are q(t) at the angle t from its centre, q changing evenly
    from r + w/2 at one end to that at the other: their second derivative is sqrt(q^2 + 4 q'^2), so that a chord over
    the angle s is off by s^2/8 times its largest value, which `arc_steps` takes as the radius.
    """
    ends = np.vstack([rows[1:], rows[:1]]) if closed else rows[1:]
    starts = rows[: len(ends)]
    moving = np.hypot(*(ends[:, :2] - starts[:, :2]).T) > 0
    segments = [_spine(start, end[:2], tolerance) for start, end in zip(starts[moving], ends[moving], strict=True)]
    parts = [quad for spine in segments for quad in _quads(spine)]
    corners = list(pairwise(segments)) + ([(segments[-1], segments[0])] if closed else [])
    parts += [corner for one, other in corners for corner in _corner(one, other)[0]]
    is_cut = any(_corner(one, other)[1] for one, other in corners)
    solid = [part if part.is_valid else shapely.make_valid(part) for part in parts if part.area > 0]
    return [shapely.unary_union(solid, grid_size=min(GRID, tolerance / 100))] if solid else [], is_cut


def _spine(row: Points, end: Points, tolerance: float) -> Points:
    """Return x, y, half width, and the unit normal (left) at each step of one segment; shape (n, 5)."""
    start, first, last, bulge = row[:2], row[2] / 2, row[3] / 2, row[4]
    chord = end - start
    length = math.hypot(*chord)
    half_sweep = 2 * math.atan(bulge)
    radius = length / 2 / abs(math.sin(half_sweep)) if bulge else 0.0
    bend = math.hypot(radius + max(first, last), (last - first) / half_sweep) if bulge else 0.0
    steps = arc_steps(bend, 2 * half_sweep, tolerance) if bulge else 1
    share = np.linspace(0.0, 1.0, steps + 1)
    heading = math.atan2(chord[1], chord[0]) + half_sweep * (2 * share - 1)
    normal = np.column_stack([-np.sin(heading), np.cos(heading)])
    if bulge:
        signed = math.copysign(radius, bulge)
        centre = start + signed * normal[0]
        points = centre - signed * normal
    else:
        points = np.array([start, end])
    return np.column_stack([points, first + (last - first) * share, normal])


def _quads(spine: Points) -> list[shapely.Polygon]:
    """Return the band of one segment: one ring if it is valid, else its steps one by one."""
    left, right = _sides(spine)
    ring = shapely.Polygon(np.vstack([left, right[::-1]]))
    if ring.is_valid:
        return [ring]
    rings = np.stack([left[:-1], left[1:], right[1:], right[:-1]], axis=1)
    return [shapely.convex_hull(shapely.MultiPoint(quad)) for quad in rings]


def _sides(spine: Points) -> tuple[Points, Points]:
    across = spine[:, 2:3] * spine[:, 3:5]
    return spine[:, :2] + across, spine[:, :2] - across


def _corner(one: Points, other: Points) -> tuple[list[shapely.Polygon], bool]:
    """Return what fills the outer side of a corner between two segments, and whether its mitre is cut off."""
    (before, after), place = (one[-1, 3:5], other[0, 3:5]), other[0, :2]
    cross = before[0] * after[1] - before[1] * after[0]
    if abs(cross) < 1e-9 and before @ after > 0:
        return [], False
    side = -1.0 if cross > 0 else 1.0  # a left turn opens on the right
    here, there = place + side * one[-1, 2] * before, place + side * other[0, 2] * after
    points = [place, here, there]
    tip = _mitre(here, there, before, after)
    reach = LONGEST_MITRE * max(one[-1, 2], other[0, 2])
    is_sharp = False
    if tip is not None and len(one) == len(other) == 2:
        is_sharp = math.hypot(*(tip - place)) > reach
        points[2:2] = [] if is_sharp else [tip]
    return [shapely.convex_hull(shapely.MultiPoint(points))], is_sharp


def _mitre(here: Points, there: Points, before: Points, after: Points) -> Points | None:
    """Return where the edges through `here` and `there`, square to the normals, meet."""
    matrix = np.array([before, after])
    if abs(np.linalg.det(matrix)) < 1e-9:
        return None
    return np.asarray(np.linalg.solve(matrix, np.array([before @ here, after @ there])))
