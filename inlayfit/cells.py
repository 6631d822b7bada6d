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

CALM_ROUNDS = 4
"""Most drawings are at rest after three turns of closing; what still changes hands then is a conflict."""

HAIR: Mm = 0.0003
"""Twice this is the thinnest that a cell may be: hairs are left where one outline was cut along another."""

ROUNDS = 12
"""Each turn after the calm ones settles one conflict for good; more than this is left to the check of the gap."""


def divide(seam: Section, areas: Sequence[Section], close_radius: Mm, joint: Mm) -> list[Section]:
    """Return one cell for each area, disjoint, together the whole seam, each closed for the radius.

    Args:
        seam: the area of the pocket group, closed for the radius itself.
        areas: what each part shows in the drawing.
        close_radius: half of the piece cutter's slit less half of the joint, mm.
        joint: the gap between two pieces, mm; what is thinner than twice this goes to a neighbour.
    """
    thinnest = max(2 * joint, 10 * DUST)
    cells = _without_slivers(_first_cells(seam, areas), thinnest)
    for turn in range(ROUNDS):
        if turn >= CALM_ROUNDS and not _settle_one(cells, seam, close_radius):
            break
        if not _close_each(cells, seam, close_radius):
            break
    return _without_slivers(cells, thinnest)


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


def _claim(cell: Section, seam: Section, radius: Mm) -> Section:
    """Return what a cell's cutter cannot leave to the neighbours; empty where it is dust."""
    if cell.is_empty():
        return cell
    claim = (closed(cell, radius + MARGIN) ^ seam) - cell
    return CrossSection() if (claim - offset(cell, DUST)).is_empty() else claim


def _close_each(cells: list[Section], seam: Section, radius: Mm) -> bool:
    """Let each cell in turn take its claim from the neighbours; return whether any did."""
    changed = False
    for index, cell in enumerate(cells):
        claim = _claim(cell, seam, radius)
        if not claim.is_empty():
            changed = True
            _take(cells, index, claim)
    return changed


def _take(cells: list[Section], index: int, claim: Section) -> None:
    """Give a claim to one cell and take it from all others, leaving no hair of them behind."""
    for other, neighbour in enumerate(cells):
        if other == index:
            cells[other] = neighbour + claim
        elif not (left := neighbour ^ claim).is_empty():
            cells[other] = opened(neighbour - left, HAIR)


def _settle_one(cells: list[Section], seam: Section, radius: Mm) -> bool:
    """Give the least of the claims that keep changing hands to its cell, widened to the cutter; return if one was left.

    The widened claim is a union of discs, so that no neighbour can claim it back.
    """
    widened = [
        (offset(part, radius + MARGIN) ^ seam, index)
        for index, cell in enumerate(cells)
        for part in (_claim(cell, seam, radius) - offset(cell, DUST)).decompose()
    ]
    if not widened:
        return False
    claim, index = min(widened, key=lambda entry: entry[0].area())
    _take(cells, index, claim)
    return True


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
