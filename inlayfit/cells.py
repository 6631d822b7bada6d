"""Pieces that share one pocket: the seam's area divided among them so that each can be cut out by its own cutter.

Every concave corner of one cell is a convex corner of its neighbour: closing a cell takes from the neighbour just the
round that the neighbour must lose. Convex tips stay sharp, for a cutter that goes round a piece reaches them. Few turns
of that bring nearly all drawings to rest. Where two cells claim the same spot for ever, the larger gives way: discs of
the cutter are taken from it that cover the spot, so that what is left of it is closed. Such discs belong to nobody.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from manifold3d import CrossSection
from numpy.typing import NDArray

from inlayfit.first_cells import first_cells, given_away
from inlayfit.offset import Section, closed, geometry_of, offset, opened, polygons_of, section, union
from inlayfit.seam import DUST, MARGIN
from inlayfit.units import Mm

CALM_TURNS = 3
"""Most drawings are at rest after as many turns of closing; what still changes hands then is a conflict."""

LIMB_LENGTH = 4.0
"""What is longer than this many times the thinnest piece is a limb, not the tip of a corner."""

HAIR: Mm = 0.0003
"""Twice this is the thinnest that a cell may be: hairs are left where one outline was cut along another."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """What one piece may fill of the seam's area; `part` numbers the part of the drawing that it belongs to."""

    part: int
    area: Section


def divide(seam: Section, areas: Sequence[Section], close_radii: Sequence[Mm], joint: Mm) -> list[Cell]:
    """Return connected cells, disjoint, within the seam, each closed for its radius; a part may have several.

    Args:
        seam: the area of the pocket group, closed along each part for the radius of that.
        areas: what each part shows in the drawing.
        close_radii: for each part half of its cutter's slit less half of the joint, mm.
        joint: the gap between two pieces, mm; what is thinner than twice this goes to a neighbour.
    """
    thinnest = max(2 * joint, 10 * DUST)
    lots = [_thick(area, thinnest) for area in _without_limbs(first_cells(seam, areas), thinnest)]
    owners = [part for part, (thick, _) in enumerate(lots) for _ in thick]
    cells = [cell for thick, _ in lots for cell in thick]
    cells = given_away(cells, [sliver for _, thin in lots for sliver in thin])
    restless = set(range(len(cells)))
    radii = [close_radii[part] for part in owners]
    for _ in range(CALM_TURNS):
        restless = _close_each(cells, restless, seam, radii)
    if restless or any(cell.num_contour() > 1 and len(cell.decompose()) > 1 for cell in cells):
        return _yielding(cells, owners, seam, close_radii, thinnest)
    return [Cell(part=part, area=cell) for part, cell in zip(owners, cells, strict=True) if not cell.is_empty()]


def _without_limbs(cells: Sequence[Section], thinnest: Mm) -> list[Section]:
    """Return the cells with limbs that no piece can have given to a neighbour; the tips of corners stay."""
    kept: list[Section] = []
    limbs: list[Section] = []
    for cell in cells:
        thin = (cell - offset(opened(cell, thinnest / 2), DUST)).decompose()
        long = [part for part in thin if _length(part) > LIMB_LENGTH * thinnest]
        limbs.extend(long)
        kept.append(cell - union(long) if long else cell)
    return given_away(kept, limbs)


def _length(part: Section) -> Mm:
    left, bottom, right, top = part.bounds()
    return math.hypot(right - left, top - bottom)


def _thick(cell: Section, thinnest: Mm) -> tuple[list[Section], list[Section]]:
    """Return the parts of a cell, and those of them that are thinner than `thinnest` throughout."""
    parts = cell.decompose()
    outlines = [polygons_of(part) for part in parts]
    owner = np.repeat(np.arange(len(parts)), [len(each) for each in outlines])
    tree = shapely.STRtree([outline for each in outlines for outline in each])
    left = [ring[0] for ring in offset(cell, -thinnest / 2).to_polygons()]
    thick = set(owner[tree.query(shapely.points(left), predicate="intersects")[1]].tolist()) if left else set()
    return (
        [part for number, part in enumerate(parts) if number in thick],
        [part for number, part in enumerate(parts) if number not in thick],
    )


_Box = tuple[float, float, float, float]


def _meet(one: _Box, other: _Box) -> bool:
    return one[0] <= other[2] and other[0] <= one[2] and one[1] <= other[3] and other[1] <= one[3]


def _claim(cell: Section, seam: Section, radius: Mm) -> Section:
    """Return what a cell's cutter cannot leave to the neighbours; empty where it is dust."""
    if cell.is_empty():
        return cell
    claim = (closed(cell, radius + MARGIN) ^ seam) - cell
    return CrossSection() if (claim - offset(cell, DUST)).is_empty() else claim


def _close_each(cells: list[Section], restless: set[int], seam: Section, radii: Sequence[Mm]) -> set[int]:
    """Let each restless cell in turn take its claim from the neighbours; return the cells that lost something."""
    losers: set[int] = set()
    for index in sorted(restless):
        claim = _claim(cells[index], seam, radii[index])
        if claim.is_empty():
            losers.discard(index)
            continue
        for other, neighbour in enumerate(cells):
            if other == index:
                cells[other] = neighbour + claim
            elif not neighbour.is_empty() and _meet(neighbour.bounds(), claim.bounds()):
                left = neighbour ^ claim
                if not left.is_empty():
                    cells[other] = opened(neighbour - left, HAIR)
                    losers.add(other)
        losers.discard(index)
    return losers


def _yielding(
    cells: Sequence[Section], owners: Sequence[int], seam: Section, radii: Sequence[Mm], thinnest: Mm
) -> list[Cell]:
    """Return the cells, the smallest first as it wants to be, each larger one giving way to those before it.

    What is cut off a cell on the way is a cell of its own, or nobody's if it is a scrap.
    """
    waiting = sorted(zip(cells, owners, strict=True), key=lambda entry: -entry[0].area())
    done: list[Cell] = []
    taken = CrossSection()
    while waiting:
        cell, part = waiting.pop()
        radius = radii[part]
        left = _parts(opened(cell - taken, HAIR), thinnest, radius)
        if not left:
            continue
        wanted = opened((closed(left[0], radius + MARGIN) ^ seam) - taken, HAIR)
        kept = _parts(yielded(wanted, radius + MARGIN, DUST), thinnest, radius)
        if kept:
            done.append(Cell(part=part, area=kept[0]))
            taken = taken + kept[0]
        waiting.extend((scrap, part) for scrap in [*left[1:], *kept[1:]])
    return sorted(done, key=lambda cell: cell.part)


def _parts(area: Section, thinnest: Mm, radius: Mm) -> list[Section]:
    """Return the parts of an area that are worth a piece, the largest first."""
    parts = [part for part in _thick(area, thinnest)[0] if part.area() > radius**2 / 2]
    return sorted(parts, key=lambda part: -part.area())


def yielded(room: Section, radius: Mm, dust: Mm) -> Section:
    """Return what a cutter of that radius can leave standing within an area, itself closed for the radius.

    Discs of the cutter take what it cannot leave alone by more than `dust` of reach, and little else.
    """
    spots = closed(room, radius) - offset(room, dust)
    return room if spots.is_empty() else opened(room - _discs_over(spots, room, radius), HAIR)


def _discs_over(spots: Section, cell: Section, radius: Mm) -> Section:
    """Return discs that cover all spots, each placed so that it takes little of the cell."""
    spots = opened(spots, DUST / 4)
    if spots.is_empty():
        return spots
    body = geometry_of(cell)
    shapely.prepare(body)
    left = shapely.get_coordinates([shapely.segmentize(part, radius / 4) for part in polygons_of(spots)])
    angles = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    ways = np.concatenate([np.stack([np.cos(angles), np.sin(angles)], axis=1) * share for share in (0.5, 0.75, 0.98)])
    discs = []
    while len(left):
        centres = left[0] + ways * radius
        centre = _best_centre(centres, body, left, radius)
        discs.append(shapely.Point(centre).buffer(radius, quad_segs=64))
        left = left[np.hypot(*(left - centre).T) > radius * 0.99]
    return section(shapely.union_all(discs))


def _best_centre(
    centres: NDArray[np.float64], body: shapely.Geometry, spots: NDArray[np.float64], radius: Mm
) -> NDArray[np.float64]:
    """Return the centre that lies furthest from the body; of those that lie alike the one that covers most spots."""
    depth = shapely.distance(body, shapely.points(centres))
    covered = [np.count_nonzero(np.hypot(*(spots - centre).T) <= radius * 0.99) for centre in centres]
    return np.asarray(centres[int(np.lexsort((covered, np.round(depth, 3)))[-1])])
