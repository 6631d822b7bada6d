"""Where the pieces of a stock could lie on its blanks: a first packing, in pixels (layout_raster.py).

`pack` lays one piece after the other where it touches most.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.layout_raster import Field, Grid, Mask, Stamp, correlated, spectra, stamp_of
from inlayfit.units import Mm

FREE = 0.5
"""A place whose overlap, in pixels, is less than this has none: sums of spectra are no whole numbers."""

NEVER = 1e9
"""The overlap of a place that reaches out of the blank."""


class Spot(NamedTuple):
    """Where a piece lies: blank, number of its angle, and the pixel of the grid under the first of its stamp."""

    blank: int
    turn: int
    row: int
    column: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A piece for the search: its `zone` about the origin, the angles (radians) it may have, whether it is `small`."""

    zone: shapely.Polygon
    angles: tuple[float, ...]
    small: bool = False


@dataclass(frozen=True, slots=True)
class Stencils:
    """The stamps of items on the grids of blanks, with their spectra: made when first asked for, and kept."""

    items: Sequence[Item]
    grids: Sequence[Grid]
    _stamps: dict[int, list[Stamp]] = field(default_factory=dict)
    _spectra: dict[tuple[int, str, tuple[int, int]], NDArray[np.complex64]] = field(default_factory=dict)
    _within: dict[tuple[int, int], Mask] = field(default_factory=dict)

    def stamps(self, item: int) -> list[Stamp]:
        """Return the stamps of an item, one an angle."""
        if item not in self._stamps:
            step = self.grids[0].step
            self._stamps[item] = [stamp_of(self.items[item].zone, angle, step) for angle in self.items[item].angles]
        return self._stamps[item]

    def spectra(self, item: int, what: str, blank: int) -> NDArray[np.complex64]:
        """Return the spectra of the masks or the rims of an item on the grid of a blank."""
        key = (item, what, self.grids[blank].shape)
        if key not in self._spectra:
            self._spectra[key] = spectra([getattr(stamp, what) for stamp in self.stamps(item)], key[2])
        return self._spectra[key]

    def within(self, item: int, blank: int) -> Mask:
        """Return for each angle and place whether the stamp stays on the blank."""
        first = next(index for index, grid in enumerate(self.grids) if grid is self.grids[blank])
        if (item, first) not in self._within:
            outside = self.grids[first].outside.astype(np.float32)
            rows, columns = outside.shape
            inside = correlated(outside, self.spectra(item, "mask", first)) < FREE
            for turn, stamp in enumerate(self.stamps(item)):
                inside[turn, max(rows - stamp.mask.shape[0] + 1, 0) :] = False
                inside[turn, :, max(columns - stamp.mask.shape[1] + 1, 0) :] = False
            self._within[item, first] = inside
        return self._within[item, first]


def pack(
    stencils: Stencils, order: Sequence[int], blanks: int, gather: float = 0.0
) -> tuple[dict[int, Spot], list[int]]:
    """Return where the items lie, laid one after the other on the first blank that has room, and those left over.

    Of all free places an item takes the one where most of its edge touches others or the edge of the blank; a small
    one shuns the edge. With `gather` a place at the far end of the blank counts by this share of its edge less, so that
    what is left is left in one.
    """
    taken = [stencils.grids[blank].outside.astype(np.float32) for blank in range(blanks)]
    spots: dict[int, Spot] = {}
    for item in order:
        for blank in range(blanks):
            spot = _snuggest(stencils, item, blank, taken[blank], gather)
            if spot is not None:
                spots[item] = spot
                _add(taken[blank], stencils.stamps(item)[spot.turn].mask, spot, 1.0)
                break
    return spots, [item for item in order if item not in spots]


def _snuggest(stencils: Stencils, item: int, blank: int, taken: Field, gather: float) -> Spot | None:
    """Return the free place where most of the edge touches, if there is one; the first of several."""
    free = stencils.within(item, blank) & (correlated(taken, stencils.spectra(item, "mask", blank)) < FREE)
    if not free.any():
        return None
    neighbours = taken
    if stencils.items[item].small:
        neighbours = np.where(stencils.grids[blank].brim, np.float32(-1), taken)
    touching = correlated(neighbours, stencils.spectra(item, "rim", blank))
    rims = np.array([stamp.rim.sum() for stamp in stencils.stamps(item)], dtype=np.float32)
    share = np.where(free, np.round(touching / rims[:, None, None] - gather * _far(taken), 3), -NEVER)
    return Spot(blank, *(int(place) for place in np.unravel_index(int(np.argmax(share)), share.shape)))


def anywhere(stencils: Stencils, item: int, blank: int) -> Spot | None:
    """Return a place of an item alone on a blank, if there is one."""
    return _snuggest(stencils, item, blank, stencils.grids[blank].outside.astype(np.float32), 0.0)


def _far(taken: Field) -> Field:
    """Return for each pixel how far along the longer side of the grid it lies, from nought to one."""
    rows, columns = taken.shape
    along = np.arange(columns)[None] / columns if columns >= rows else np.arange(rows)[:, None] / rows
    return np.broadcast_to(along, taken.shape).astype(np.float32)


def _add(taken: Field, mask: Mask | Field, spot: Spot, weight: float) -> None:
    rows, columns = mask.shape
    taken[spot.row : spot.row + rows, spot.column : spot.column + columns] += mask * np.float32(weight)


def pose_of(stencils: Stencils, item: int, spot: Spot) -> tuple[Mm, Mm, float]:
    """Return where the middle of an item lies on its blank, mm, and its angle, radians."""
    grid, stamp = stencils.grids[spot.blank], stencils.stamps(item)[spot.turn]
    return grid.x0 + spot.column * grid.step + stamp.x, grid.y0 + spot.row * grid.step + stamp.y, stamp.angle
