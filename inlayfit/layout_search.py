"""Where the pieces of a stock could lie on its blanks: a first packing, and the moving about that makes room.

All in pixels (layout_raster.py). `pack` lays one piece after the other where it touches most. `separate` lets pieces
overlap and moves one after the other to where it overlaps least; pairs that keep overlapping weigh more and more, so
that the search leaves every dead end (guided local search; source: J. Egeblad, B. K. Nielsen, A. Odgaard, Fast
neighborhood search for two- and three-dimensional nesting problems, EJOR 183, 2007: from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
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

HEAVIER = (0.1, 0.7)
"""How much the weight of a pair grows while it overlaps: by this, and by this for the worst of them (tried)."""

LIGHTER = 0.95
"""What becomes of a weight while the pair does not overlap (tried)."""

STREWN = 3
"""Items that are strewn anew where nothing overlaps in pixels and yet the pieces do not come to rest."""

ANGLES_TRIED = 8
"""Angles that a move looks at, drawn from all; more cost more than they gain (tried)."""

BLANKS_TRIED = 3
"""Blanks that a move looks at: its own, and others drawn from all."""


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


def separate(
    stencils: Stencils,
    spots: Mapping[int, Spot],
    blanks: int,
    rng: np.random.Generator,
    passes: int,
) -> Iterator[tuple[float, dict[int, Spot]]]:
    """Yield the overlap in all, and the places, as the items move apart; items without a place come in first.

    Where nothing overlaps and the caller asks for more, some items are strewn anew.
    """
    count = len(stencils.items)
    weights = np.ones((count, count), dtype=np.float32)
    places = dict(spots)
    every = range(blanks)
    for item in sorted(set(range(count)) - set(places), key=lambda item: -stencils.items[item].zone.area):
        turns = np.arange(len(stencils.items[item].angles))
        places[item] = _least(stencils, item, places, weights, every, turns)[1]
    for _ in range(passes):
        overlaps = overlaps_of(stencils, places)
        yield float(overlaps.sum()) / 2, dict(places)
        if not overlaps.any():
            _strew(stencils, places, blanks, rng)
            overlaps = overlaps_of(stencils, places)
        meeting = np.flatnonzero(overlaps.any(axis=1))
        for item in rng.permutation(meeting).tolist():
            _move(stencils, item, places, weights, blanks, rng)
        weights = _weighed(weights, overlaps_of(stencils, places))


def _strew(stencils: Stencils, places: dict[int, Spot], blanks: int, rng: np.random.Generator) -> None:
    """Put some items anywhere."""
    for item in rng.permutation(sorted(places))[:STREWN].tolist():
        blank = int(rng.integers(blanks))
        anywhere = np.argwhere(stencils.within(item, blank))
        if len(anywhere):
            places[item] = Spot(blank, *anywhere[rng.integers(len(anywhere))].tolist())


def _weighed(weights: NDArray[np.float32], overlaps: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the weights after a pass: those of pairs that overlap grow, the others fall back."""
    worst = overlaps.max()
    if worst == 0:
        return weights
    base, more = HEAVIER
    grown = weights * (1 + base + more * overlaps / worst)
    return np.where(overlaps > 0, grown, np.maximum(1, weights * LIGHTER)).astype(np.float32)


def _move(
    stencils: Stencils,
    item: int,
    places: dict[int, Spot],
    weights: NDArray[np.float32],
    blanks: int,
    rng: np.random.Generator,
) -> None:
    """Move an item to where it overlaps less, if there is such a place."""
    here = places[item]
    mask = stencils.stamps(item)[here.turn].mask
    field_here = _field(stencils, item, here.blank, places, weights)
    window = field_here[here.row : here.row + mask.shape[0], here.column : here.column + mask.shape[1]]
    now = round(float((window * mask).sum()))
    if now == 0:
        return
    tried = [here.blank, *(other for other in rng.permutation(blanks).tolist() if other != here.blank)]
    turns = np.sort(rng.permutation(len(stencils.items[item].angles))[:ANGLES_TRIED])
    least, spot = _least(stencils, item, places, weights, tried[:BLANKS_TRIED], turns)
    if least < now:
        places[item] = spot


def _field(
    stencils: Stencils, item: int, blank: int, places: Mapping[int, Spot], weights: NDArray[np.float32]
) -> Field:
    """Return how deep each pixel of a blank lies in the other items there, by weight."""
    field_of = np.zeros(stencils.grids[blank].shape, dtype=np.float32)
    for other, spot in places.items():
        if spot.blank == blank and other != item:
            _add(field_of, stencils.stamps(other)[spot.turn].depth, spot, float(weights[item, other]))
    return field_of


def _least(
    stencils: Stencils,
    item: int,
    places: Mapping[int, Spot],
    weights: NDArray[np.float32],
    blanks: Sequence[int],
    turns: NDArray[np.intp],
) -> tuple[float, Spot]:
    """Return the place on these blanks, at these angles, where the item overlaps least, and by how much."""
    best = (2 * NEVER, Spot(blanks[0], 0, 0, 0))
    for blank in blanks:
        under = correlated(_field(stencils, item, blank, places, weights), stencils.spectra(item, "mask", blank)[turns])
        overlap = np.where(stencils.within(item, blank)[turns], np.round(under), NEVER)
        turn, row, column = (int(place) for place in np.unravel_index(int(np.argmin(overlap)), overlap.shape))
        if overlap[turn, row, column] < best[0]:
            best = (float(overlap[turn, row, column]), Spot(blank, int(turns[turn]), row, column))
    return best


def overlaps_of(stencils: Stencils, places: Mapping[int, Spot]) -> NDArray[np.float32]:
    """Return how much each two items (n, n) overlap: pixels, each as often as it lies deep in both."""
    count = len(stencils.items)
    overlaps = np.zeros((count, count), dtype=np.float32)
    items = sorted(places)
    for number, item in enumerate(items):
        for other in items[number + 1 :]:
            if places[item].blank == places[other].blank:
                overlaps[item, other] = overlaps[other, item] = _shared(stencils, item, other, places)
    return overlaps


def _shared(stencils: Stencils, item: int, other: int, places: Mapping[int, Spot]) -> float:
    here, there = places[item], places[other]
    mine, theirs = stencils.stamps(item)[here.turn].depth, stencils.stamps(other)[there.turn].depth
    top, left = max(here.row, there.row), max(here.column, there.column)
    bottom = min(here.row + mine.shape[0], there.row + theirs.shape[0])
    right = min(here.column + mine.shape[1], there.column + theirs.shape[1])
    if bottom <= top or right <= left:
        return 0.0
    over = mine[top - here.row : bottom - here.row, left - here.column : right - here.column]
    under = theirs[top - there.row : bottom - there.row, left - there.column : right - there.column]
    return float(np.minimum(over, under).sum())


def pose_of(stencils: Stencils, item: int, spot: Spot) -> tuple[Mm, Mm, float]:
    """Return where the middle of an item lies on its blank, mm, and its angle, radians."""
    grid, stamp = stencils.grids[spot.blank], stencils.stamps(item)[spot.turn]
    return grid.x0 + spot.column * grid.step + stamp.x, grid.y0 + spot.row * grid.step + stamp.y, stamp.angle
