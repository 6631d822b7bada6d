"""A shared pocket's area before anything is closed: each part has what it shows, and nothing is left or had twice.

Drawings of a thousand specks come here. So nothing is asked of all areas that only neighbours can answer.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from manifold3d import CrossSection, FillRule
from numpy.typing import NDArray

from inlayfit.offset import Section, offset, ring_bounds, union
from inlayfit.regions import TOUCHING
from inlayfit.seam import DUST
from inlayfit.units import Mm

OUTWARD = np.array([-1, -1, 1, 1])
"""The way that each side of a box goes as it grows."""


def first_cells(seam: Section, areas: Sequence[Section]) -> list[Section]:
    """Return the drawn areas within the seam, hair slits between them shut, the seam's fills given to a neighbour."""
    drawn, half_slit = union(areas), TOUCHING / 2 + DUST
    lost, fills = _Rings((drawn - seam).to_polygons()), _Rings((seam - drawn).to_polygons())
    cells = []
    for area in areas:
        rings = area.to_polygons()
        gone, filled = lost.near(rings), fills.near(rings, reach=half_slit)
        cell = area if filled.is_empty() else area + (offset(area, half_slit) ^ filled)
        cells.append(cell if gone.is_empty() else cell - gone)
    cells = _disjoint(cells)
    return given_away(cells, (seam - union(cells)).decompose())


def _disjoint(cells: Sequence[Section]) -> list[Section]:
    """Return the cells, each without what those before it have: the far half of a slit, or of an edge drawn twice."""
    rings = [cell.to_polygons() for cell in cells]
    ends = np.cumsum([len(around) for around in rings])
    before = _Rings([ring for around in rings for ring in around])
    return [cell - before.near(around, end - len(around)) for cell, around, end in zip(cells, rings, ends, strict=True)]


class _Rings:
    """Rings, asked for those that may touch an area, by boxes round the rings of both.

    A ring comes with those round it, so that holes are not taken for areas. Holes that are far may be left out.
    """

    def __init__(self, rings: Sequence[NDArray[np.float64]]) -> None:
        self._rings = rings
        self._tree = shapely.STRtree(_boxes(rings))

    def near(self, area: Sequence[NDArray[np.float64]], end: int | None = None, reach: Mm = 0.0) -> Section:
        """Return what the rings, those before `end`, go round that come so near to the rings of an area."""
        numbers = np.unique(self._tree.query(_boxes(area, reach))[1])
        rings = [self._rings[number] for number in numbers[: None if end is None else np.searchsorted(numbers, end)]]
        return CrossSection(rings, FillRule.Positive) if rings else CrossSection()


def _boxes(rings: Sequence[NDArray[np.float64]], reach: Mm = 0.0) -> NDArray[np.object_]:
    return np.asarray(shapely.box(*(ring_bounds(rings) + reach * OUTWARD).T)) if rings else np.empty(0, dtype=object)


def given_away(cells: Sequence[Section], rest: Sequence[Section]) -> list[Section]:
    """Return the cells with each leftover added to the cell that it borders on most, by the middles of its edges."""
    edges, scraps = [_edges(cell) for cell in cells], [_edges(scrap) for scrap in rest]
    if not any(map(len, edges)) or not any(map(len, scraps)):
        return list(cells)
    tree = shapely.STRtree(shapely.linestrings(np.concatenate(edges)))
    owner = np.repeat(np.arange(len(cells)), [len(lines) for lines in edges])
    of = np.repeat(np.arange(len(rest)), [len(lines) for lines in scraps])
    lines = np.concatenate(scraps)
    nearest = owner[tree.nearest(shapely.points(lines.mean(axis=1)))]
    pairs, place = np.unique(of * len(cells) + nearest, return_inverse=True)
    borders = np.bincount(place, weights=np.hypot(*(lines[:, 1] - lines[:, 0]).T))
    by_scrap = pairs[np.lexsort((-borders, pairs // len(cells)))]
    most = by_scrap[np.diff(by_scrap // len(cells), prepend=-1) > 0]
    given: list[list[Section]] = [[cell] for cell in cells]
    for scrap, cell in zip(*(half.tolist() for half in divmod(most, len(cells))), strict=True):
        given[cell].append(rest[scrap])
    return [union(lot) for lot in given]


def _edges(shape: Section) -> NDArray[np.float64]:
    """Return the edges of a section, (n, 2, 2)."""
    rings = [np.vstack([ring, ring[:1]]) for ring in shape.to_polygons()]
    return np.concatenate([np.empty((0, 2, 2)), *(np.stack([ring[:-1], ring[1:]], axis=1) for ring in rings)])
