"""Outlines as lines and arcs (the written form), fitted within a stated tolerance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.arc_fitting import fit_closed
from inlayfit.units import Mm

ARC_TOLERANCE: Mm = 0.0005
"""The share of arc fitting in the budget of 1 um a path."""
FLATTEN_TOLERANCE: Mm = 0.0002
"""Chord error where arcs are made into chords again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ArcRing:
    """A closed outline; element i runs from point i to point i + 1 (the last to the first).

    `points` (k, 2) mm; `bulges` (k,): tan(included angle / 4), positive counter-clockwise, 0 a straight line.
    Source: DXF reference, group code 42.
    """

    points: NDArray[np.float64]
    bulges: NDArray[np.float64]


def fit_ring(points: NDArray[np.float64], tolerance: Mm = ARC_TOLERANCE) -> ArcRing:
    """Return lines and arcs for a closed outline of chords (n, 2), mm; its first point may be repeated as the last.

    No point of either lies farther than `tolerance` from the other. Corners are kept as joints.

    Raises:
        GeometryError: fewer than three different points.
    """
    joints, bulges = fit_closed(points, tolerance)
    return ArcRing(points=joints, bulges=bulges)


def fit_polygon(polygon: shapely.Polygon, tolerance: Mm = ARC_TOLERANCE) -> tuple[ArcRing, ...]:
    """Return the rings of a polygon: its outside, counter-clockwise, then its holes, clockwise.

    Raises:
        GeometryError: the polygon is empty.
    """
    oriented = shapely.orient_polygons(polygon)
    rings = (oriented.exterior, *oriented.interiors)
    return tuple(fit_ring(shapely.get_coordinates(ring), tolerance) for ring in rings)


def sweeps_of(ring: ArcRing) -> NDArray[np.float64]:
    """Return the included angle of each element (k,), radians, positive counter-clockwise."""
    return 4 * np.arctan(ring.bulges)


def chords_of(ring: ArcRing) -> NDArray[np.float64]:
    """Return the vector from each joint to the next (k, 2), mm."""
    return np.roll(ring.points, -1, axis=0) - ring.points


def halved_arcs(ring: ArcRing, most_sweep: float) -> ArcRing:
    """Return the ring with every arc of more than `most_sweep` radians cut in its middle."""
    wide = np.abs(sweeps_of(ring)) > most_sweep
    middles = points_along(ring, np.array([0.5]))[:, 0]
    after = np.flatnonzero(wide) + 1
    bulges = np.where(wide, np.tan(sweeps_of(ring) / 8), ring.bulges)
    return ArcRing(
        points=np.insert(ring.points, after, middles[wide], axis=0), bulges=np.insert(bulges, after, bulges[wide])
    )


def points_along(ring: ArcRing, shares: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the points at the given shares (m,) of every element: (k, m, 2), mm."""
    return _at(ring.points[:, None, :], chords_of(ring)[:, None, :], sweeps_of(ring)[:, None], shares[None, :])


def _at(
    starts: NDArray[np.float64], chords: NDArray[np.float64], sweeps: NDArray[np.float64], shares: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the points at shares of elements: the chord shortened and turned, which holds for any radius."""
    half = sweeps / 2
    straight = np.abs(half) < 1e-12
    length = np.where(straight, shares, np.sin(shares * half) / np.where(straight, 1.0, np.sin(half)))
    turn = (shares - 1) * half
    across = np.stack([-chords[..., 1], chords[..., 0]], axis=-1)
    return starts + length[..., None] * (np.cos(turn)[..., None] * chords + np.sin(turn)[..., None] * across)


def flatten_ring(ring: ArcRing, tolerance: Mm = FLATTEN_TOLERANCE) -> NDArray[np.float64]:
    """Return chords (n, 2), mm, within `tolerance` of the ring: all joints, and points on the arcs between them."""
    sweeps, chords = sweeps_of(ring), chords_of(ring)
    with np.errstate(divide="ignore"):
        radius = np.hypot(*chords.T) / (2 * np.abs(np.sin(sweeps / 2)))
    step = 2 * np.arccos(np.clip(1 - tolerance / radius, 0.0, 1.0))
    counts = np.where(step > 0, np.ceil(np.abs(sweeps) / np.where(step > 0, step, 1.0)), 1).astype(np.intp)
    counts = np.maximum(counts, np.where(np.abs(sweeps) > math.pi / 2, 3, 1))  # never a sliver instead of a disc
    heads = np.cumsum(counts) - counts
    shares = (np.arange(counts.sum()) - np.repeat(heads, counts)) / np.repeat(counts, counts)
    of = np.repeat(np.arange(counts.size), counts)
    return _at(ring.points[of], chords[of], sweeps[of], shares)


def polygon_of(rings: Sequence[ArcRing], tolerance: Mm = FLATTEN_TOLERANCE) -> shapely.Polygon:
    """Return the polygon whose outside is the first ring and whose holes are the others, in chords."""
    outside, *holes = (flatten_ring(ring, tolerance) for ring in rings)
    return shapely.Polygon(outside, holes)


def ring_area(ring: ArcRing) -> float:
    """Return the exact area, mm2: positive counter-clockwise. Chords by the shoelace, and a segment on every arc."""
    here, chords, sweeps = ring.points - ring.points[0], chords_of(ring), sweeps_of(ring)
    shoelace = float(np.sum(here[:, 0] * chords[:, 1] - here[:, 1] * chords[:, 0])) / 2
    small = np.abs(sweeps) < 1e-3  # (t - sin t) / sin^2(t / 2) = 2 t / 3 there, to 1e-7 of itself
    safe = np.where(small, 1.0, sweeps)
    share = np.where(small, 2 * sweeps / 3, (safe - np.sin(safe)) / np.sin(safe / 2) ** 2)
    return shoelace + float(np.sum(np.sum(chords**2, axis=1) * share)) / 8


def ring_length(ring: ArcRing) -> Mm:
    """Return the exact length all round, mm."""
    half = np.abs(sweeps_of(ring)) / 2
    return float(np.sum(np.hypot(*chords_of(ring).T) / np.sinc(half / math.pi)))
