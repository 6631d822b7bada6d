"""Pieces and blanks as pixels, for the search alone: where may a piece lie, and how much does it overlap there?

A *grid* is a blank as pixels, a *stamp* a piece at one angle. The answer for all places of a stamp at once is a
correlation, which is a product of spectra. Pixels decide nothing about clearance: what the search finds is settled and
measured on the true outlines (layout_settle.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.units import Mm

Mask = NDArray[np.bool_]
Field = NDArray[np.float32]

BORDER = 2
"""Pixels of the outside that are kept all round, so that the edge of the blank can be told from its inside."""

SHUNNED: Mm = 3.0
"""Small pieces keep so far off the edge, beyond the margin, where there is room (no source)."""

GOOD_FACTORS = (2, 3, 5)
"""Sides of a grid have no other factors: spectra of such sizes are quick."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """What of a blank the pieces and their zones may cover; x0, y0 is the corner of pixel 0, 0, `outside` the rest.

    `brim` is the outside with the strip along it that small pieces shun.
    """

    x0: Mm
    y0: Mm
    step: Mm
    outside: Mask
    brim: Mask

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.outside.shape[0], self.outside.shape[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """A zone at an angle: `mask`, its depth below its own edge in pixels, and the pixels just outside of its edge.

    x, y is the middle of the piece from the corner of pixel 0, 0 of the mask, mm; the mask has `BORDER` empty pixels
    all round.
    """

    angle: float
    x: Mm
    y: Mm
    mask: Mask
    depth: Field
    rim: Mask


def grid_of(usable: shapely.Geometry, step: Mm) -> Grid:
    """Return the grid of an area; a pixel counts as inside when its middle is."""
    left, bottom, right, top = usable.bounds
    columns, rows = (round((right - left) / step), round((top - bottom) / step))
    shape = (max(rows, 1), max(columns, 1))
    inner = shapely.buffer(usable, -SHUNNED)
    outside, brim = (
        _framed(~rasterised(area, left, bottom, step, shape)) for area in (usable, usable if inner.is_empty else inner)
    )
    return Grid(x0=left - BORDER * step, y0=bottom - BORDER * step, step=step, outside=outside, brim=brim)


def _framed(mask: Mask) -> Mask:
    """Return a mask with its border, and with more to the right and above up to a good size."""
    rows, columns = mask.shape
    framed = np.ones((good_size(rows + 2 * BORDER), good_size(columns + 2 * BORDER)), dtype=np.bool_)
    framed[BORDER : BORDER + rows, BORDER : BORDER + columns] = mask
    return framed


def stamp_of(zone: shapely.Geometry, angle: float, step: Mm) -> Stamp:
    """Return the stamp of a zone whose middle is the origin, at an angle in radians."""
    turned = shapely.transform(zone, lambda points: turn(points, angle))
    left, bottom, right, top = turned.bounds
    shape = (max(round((top - bottom) / step), 1), max(round((right - left) / step), 1))
    inner = rasterised(turned, left, bottom, step, shape)
    if not inner.any():
        inner[shape[0] // 2, shape[1] // 2] = True
    mask = np.pad(inner, BORDER)
    grown = _grown(_grown(mask, corners=False), corners=True)
    return Stamp(
        angle=angle,
        x=BORDER * step - left,
        y=BORDER * step - bottom,
        mask=mask,
        depth=_depth(mask),
        rim=grown & ~mask,
    )


def turn(points: NDArray[np.float64], angle: float) -> NDArray[np.float64]:
    """Return points (n, 2) turned about the origin, counter-clockwise, radians."""
    cos, sin = np.cos(angle), np.sin(angle)
    return points @ np.array([[cos, sin], [-sin, cos]])


def rasterised(area: shapely.Geometry, left: Mm, bottom: Mm, step: Mm, shape: tuple[int, int]) -> Mask:
    """Return which pixels (rows up, columns to the right) have their middle in the area: crossings, row by row."""
    rows, columns = shape
    starts, ends = _edges(area)
    y = bottom + (np.arange(rows) + 0.5) * step
    edge, row = np.nonzero((starts[:, 1, None] <= y) != (ends[:, 1, None] <= y))
    run = ends[edge] - starts[edge]
    x = starts[edge, 0] + (y[row] - starts[edge, 1]) * run[:, 0] / run[:, 1]
    column = np.clip(np.ceil((x - left) / step - 0.5), 0, columns).astype(np.intp)
    crossings = np.zeros((rows, columns + 1), dtype=np.int32)
    np.add.at(crossings, (row, column), 1)
    return np.asarray(np.cumsum(crossings, axis=1)[:, :columns] % 2 == 1)


def _edges(area: shapely.Geometry) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rings = [shapely.get_coordinates(ring) for part in shapely.get_parts(area) for ring in shapely.get_rings(part)]
    return np.vstack([ring[:-1] for ring in rings]), np.vstack([ring[1:] for ring in rings])


def _depth(mask: Mask) -> Field:
    """Return how many rings of pixels can be taken off before each one goes; rings in turn square and slanting."""
    depth = np.zeros(mask.shape, dtype=np.float32)
    left, corners = mask, False
    while left.any():
        depth += left
        left = ~_grown(~left, corners=corners)
        corners = not corners
    return depth


def _grown(mask: Mask, *, corners: bool) -> Mask:
    """Return the mask with its neighbours, those over the corners too or not."""
    wide = mask.copy()
    wide[1:] |= mask[:-1]
    wide[:-1] |= mask[1:]
    base = wide.copy() if corners else mask
    wide[:, 1:] |= base[:, :-1]
    wide[:, :-1] |= base[:, 1:]
    return wide


def good_size(least: int) -> int:
    """Return the least side with good factors.

    >>> good_size(61), good_size(64)
    (64, 64)
    """
    size = max(least, 1)
    while True:
        rest = size
        for factor in GOOD_FACTORS:
            while rest % factor == 0:
                rest //= factor
        if rest == 1:
            return size
        size += 1


def spectra(masks: Sequence[NDArray[np.generic]], shape: tuple[int, int]) -> NDArray[np.complex64]:
    """Return the conjugate spectra (n, rows, half of the columns) of masks on a grid of that shape."""
    padded = np.zeros((len(masks), *shape), dtype=np.float32)
    for number, mask in enumerate(masks):
        if mask.shape[0] <= shape[0] and mask.shape[1] <= shape[1]:
            padded[number, : mask.shape[0], : mask.shape[1]] = mask
    return np.conj(np.fft.rfft2(padded))


def correlated(field: Field, stamps: NDArray[np.complex64]) -> Field:
    """Return for each stamp (n) and each place of its first pixel (rows, columns) the sum of the field under it."""
    return np.asarray(np.fft.irfft2(np.fft.rfft2(field)[None] * stamps, s=field.shape), dtype=np.float32)
