"""The largest disc that touches an outline at a point, before another wall stops it.

Words: a disc that touches at a point has a *seat* there: the point, and the normal along which its centre lies. The
*stop* of a disc is the wall that it would cut if it were larger: the start of an edge, by the number of that, or the
line along the edge, by that number and the count of all edges together.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inlayfit.edge_grid import EdgeGrid, first_least
from inlayfit.outlines import Outlines
from inlayfit.units import Mm

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]
Complex = NDArray[np.complex128]

NO_STOP = -1

SQUARE: Mm = 1e-9
"""What lies less far ahead than this lies beside a touch."""

LEVELS = 4.0
"""Discs are looked for up to a radius, then up to so many times that: most are stopped early, by few walls."""

EDGES_FIRST = 4.0
"""First up to so many mean edges."""

CELL = 0.6
"""The size of the cells that walls are looked for in, as a share of that radius."""

MOST_PAIRS = 1_000_000
"""Of touches and walls that are looked at in one go."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seats:
    """Seats of discs: `points` and `normals`, x + iy, the latter of length one; the `edge` that each lies on.

    At a corner it is the edge that starts there. `right` says that the disc lies to the right of the edge, `dead` that
    there is none: the walls meet in that corner.
    """

    points: Complex
    normals: Complex
    edge: Indices
    at_corner: Flags
    dead: Flags
    right: Flags

    def of(self, chosen: Flags | Indices) -> Seats:
        """Return some of the seats."""
        return Seats(**{name: getattr(self, name)[chosen] for name in self.__slots__})

    def with_others(self, before: Indices, others: Seats) -> Seats:
        """Return these seats with others put in before some of them."""
        lots = {name: (getattr(self, name), getattr(others, name)) for name in self.__slots__}
        return Seats(**{name: np.insert(own, before, new) for name, (own, new) in lots.items()})


class Discs:
    """Discs up to a radius that touch outlines: asked for the largest at many seats."""

    def __init__(self, outlines: Outlines, most: Mm) -> None:
        """Sort the walls into cells: lengths in mm."""
        self._outlines = outlines
        self._levels = _levels(most, EDGES_FIRST * float(outlines.lengths.mean()))
        self._grids = [EdgeGrid(outlines.corners, outlines.ways, level, CELL * level) for level in self._levels]

    def largest(self, seats: Seats) -> tuple[Floats, Indices]:
        """Return the radius of the largest disc at each seat, mm, infinite where it is over the most, and its stop."""
        radii, stop = np.where(seats.dead, 0.0, np.inf), np.full(len(seats.edge), NO_STOP)
        known = 0.0
        for level, grid in zip(self._levels, self._grids, strict=True):
            rest = np.flatnonzero(radii > known)
            first, counts = grid.near(seats.points[rest] + level * seats.normals[rest])
            for lot in _lots(counts):
                found, by = _stopped(self._outlines, seats, rest[lot], counts[lot], grid.edges(first[lot], counts[lot]))
                radii[rest[lot]], at = first_least(found, counts[lot])
                stop[rest[lot]] = by[at]
            known = level
        stop[np.isinf(radii)] = NO_STOP
        return radii, stop


def stopped_by(outlines: Outlines, stop: Indices, points: Complex, normals: Complex) -> Floats:
    """Return the radius at which a disc that touches at points is stopped by certain walls, each by its own."""
    count = len(outlines.corners)
    edge = stop % count
    turned = normals.conj()
    ahead, along = (outlines.corners[edge] - points) * turned, outlines.along[edge] * turned
    with np.errstate(divide="ignore", invalid="ignore"):
        radii = np.where(stop >= count, _by_line(ahead, along), _by_corner(ahead))
    return np.where(stop == NO_STOP, np.inf, radii)


def _levels(most: Mm, least: Mm) -> list[Mm]:
    """Return radii up to which discs are looked for, one after the other."""
    levels = [most]
    while levels[0] / LEVELS > least:
        levels.insert(0, levels[0] / LEVELS)
    return levels


def _lots(counts: Indices) -> Iterator[Indices]:
    """Yield which seats that have walls near are looked at in one go."""
    some = np.flatnonzero(counts)
    lot = np.cumsum(counts[some]) // MOST_PAIRS
    yield from (one for one in np.split(some, np.flatnonzero(np.diff(lot)) + 1) if len(one))


def _stopped(
    outlines: Outlines, seats: Seats, touch: Indices, counts: Indices, wall: Indices
) -> tuple[Floats, Indices]:
    """Return the radius at which each wall stops a disc, so many walls for each of some seats, and the stop."""
    edge = seats.edge[touch]
    before = np.where(seats.at_corner[touch], outlines.before[edge], edge)
    own = (wall == np.repeat(edge, counts)) | (wall == np.repeat(before, counts))
    turned = np.repeat(seats.normals[touch].conj(), counts)
    ahead = (outlines.corners[wall] - np.repeat(seats.points[touch], counts)) * turned
    along = outlines.along[wall] * turned
    with np.errstate(divide="ignore", invalid="ignore"):
        corner, line = _by_corner(ahead), _by_line(ahead, along)
        foot = along.real * (line - ahead.real) - along.imag * ahead.imag
        line[~((foot > 0) & (foot < outlines.lengths[wall]) & (line > 0)) | own] = np.inf
    return np.minimum(corner, line), np.where(line < corner, wall + len(outlines.corners), wall)


def _by_corner(ahead: Complex) -> Floats:
    """Return the radius of the disc that touches at 0, with its centre along x, and at a point."""
    return np.where(ahead.real > SQUARE, (ahead.real**2 + ahead.imag**2) / (2 * ahead.real), np.inf)


def _by_line(ahead: Complex, along: Complex) -> Floats:
    """Return the radius of the disc that touches at 0, with its centre along x, and at a line."""
    aside = along.real * ahead.imag - along.imag * ahead.real
    return np.asarray(np.abs(aside) / (1 - np.sign(aside) * along.imag))
