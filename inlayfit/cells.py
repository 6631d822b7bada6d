"""Pieces that share one pocket: the seam's area divided among them so that each can be cut out by its own cutter.

Every concave corner of one cell is a convex corner of its neighbour: closing a cell takes from the neighbour just the
round that the neighbour must lose. Convex tips stay sharp, for a cutter that goes round a piece reaches them.
"""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from manifold3d import CrossSection, OpType

from inlayfit.offset import Section, closed, offset, opened, polygons_of
from inlayfit.regions import TOUCHING
from inlayfit.seam import DUST, MARGIN
from inlayfit.units import Mm

ROUNDS = 10
"""Turns of closing; from the second on a claim is widened to the cutter, so that it cannot be claimed back."""


def divide(seam: Section, areas: Sequence[Section], close_radius: Mm, joint: Mm) -> list[Section]:
    """Return one cell for each area, disjoint, together the whole seam, each closed for the radius.

    Args:
        seam: the area of the pocket group, closed for the radius itself.
        areas: what each part shows in the drawing.
        close_radius: half of the piece cutter's slit less half of the joint, mm.
        joint: the gap between two pieces, mm; what is thinner than twice this goes to a neighbour.
    """
    cells = _without_slivers(_first_cells(seam, areas), max(2 * joint, 10 * DUST))
    for turn in range(ROUNDS):
        if not _close_each(cells, seam, close_radius, widen=turn > 0):
            break
    return _without_slivers(cells, max(2 * joint, 10 * DUST))


def union(sections: Sequence[Section]) -> Section:
    """Return the union of sections; empty for none."""
    if len(sections) == 1:
        return sections[0]
    return CrossSection.batch_boolean(list(sections), OpType.Add) if sections else CrossSection()


def _first_cells(seam: Section, areas: Sequence[Section]) -> list[Section]:
    """Return the drawn areas within the seam, hair slits between them shut, the seam's fills given to a neighbour."""
    cells: list[Section] = []
    taken = CrossSection()
    for area in areas:
        cell = (offset(area, TOUCHING / 2 + DUST) ^ seam) - taken - union([a for a in areas if a is not area])
        cells.append(cell)
        taken = taken + cell
    return _given_away(cells, (seam - taken).decompose())


def _given_away(cells: Sequence[Section], rest: Sequence[Section]) -> list[Section]:
    """Return the cells with each leftover added to the cell that it borders on most."""
    given: list[list[Section]] = [[cell] for cell in cells]
    for scrap in rest:
        rim = offset(scrap, 2 * DUST)
        shared = [(rim ^ cell).area() for cell in cells]
        given[max(range(len(cells)), key=shared.__getitem__)].append(scrap)
    return [union(lot) for lot in given]


def _close_each(cells: list[Section], seam: Section, radius: Mm, *, widen: bool) -> bool:
    """Let each cell in turn take what its cutter cannot leave to the neighbours; return whether any did."""
    changed = False
    for index, cell in enumerate(cells):
        if cell.is_empty():
            continue
        claim = (closed(cell, radius + MARGIN) ^ seam) - cell
        if (claim - offset(cell, DUST)).is_empty():
            continue
        if widen:
            claim = claim + (offset(opened(claim, DUST / 2), radius + MARGIN) ^ seam)
        changed = True
        for other, neighbour in enumerate(cells):
            cells[other] = neighbour + claim if other == index else neighbour - claim
    return changed


def _without_slivers(cells: list[Section], thinnest: Mm) -> list[Section]:
    """Return the cells with parts that are thinner than `thinnest` throughout given to a neighbour."""
    kept: list[Section] = []
    slivers: list[Section] = []
    for cell in cells:
        parts = cell.decompose()
        thick = [part for part in parts if not offset(part, -thinnest / 2).is_empty()]
        slivers.extend(part for part in parts if offset(part, -thinnest / 2).is_empty())
        kept.append(union(thick))
    return _given_away(kept, slivers) if slivers else kept


def cell_polygons(cell: Section) -> list[shapely.Polygon]:
    """Return the connected parts of a cell, largest first."""
    return sorted(polygons_of(cell), key=lambda part: -part.area)
