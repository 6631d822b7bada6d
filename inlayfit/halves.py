"""The two halves of a pair, made from a seam: outline, path, and the path as it will be written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from inlayfit.arcs import ArcRing, fit_polygon, polygon_of
from inlayfit.cells import yielded
from inlayfit.offset import Section, offset, opened, polygons_of, section, union
from inlayfit.plan import Plan
from inlayfit.seam import DUST
from inlayfit.units import Mm

SWEEP_TOLERANCE: Mm = 0.0001
"""Chord error of the written arcs when the bit is swept along them."""

BUTT: Mm = 0.001
"""Pieces that are to touch keep this between them: two written paths, each within 0.5 um, must not overlap."""

YIELD: Mm = 0.0005
"""What a cutter leaves of a piece's neighbour by less reach is no reason to give way."""

NEEDLE: Mm = 0.0015
"""Tips are round to this: where a needle ends half a micrometre of its path would decide by fifty."""

SCRAP_MM2 = 0.01
"""A part of a piece with less area is left over, not cut."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Half:
    """A piece or a pocket. `outline` is what the written path leaves, not what was meant: the cutter swept along it.

    `path` holds the closed lines of the cutter's centre, `path_arcs` the same as lines and arcs, as they are written.
    """

    outline: shapely.Polygon
    path: shapely.LineString | shapely.MultiLineString
    path_arcs: tuple[ArcRing, ...]


def make_pockets(seam: Section, pocket_radius: Mm, pocket_gap: Mm, centres: Section | None = None) -> list[Half]:
    """Return a pocket for each connected part of the seam: centres run at the radius less the gap inside of it.

    All the centres within the seam may be known.
    """
    pockets: list[Half] = []
    parts = seam.decompose()
    for part in parts:
        known = centres if len(parts) == 1 else None
        enclosed, arcs = written(offset(part, pocket_gap - pocket_radius) if known is None else known)
        outlines = polygons_of(offset(section(enclosed), pocket_radius))
        if outlines:
            largest = max(outlines, key=lambda polygon: polygon.area)
            pockets.append(Half(outline=largest, path=enclosed.boundary, path_arcs=arcs))
    return pockets


def make_pieces(body: Section, piece_radius: Mm) -> list[Half]:
    """Return the pieces that a cutter leaves of the material that is meant: centres run at the radius outside of it.

    It is one, but where the material hangs together by a hair that the cutter takes: then each part is made by itself.
    """
    whole, outlines = _left_of(body, piece_radius)
    if len(outlines) == 1:
        return [whole]
    return [_in_one(outline, piece_radius) for outline in outlines if outline.area > SCRAP_MM2]


def _in_one(outline: shapely.Polygon, piece_radius: Mm) -> Half:
    """Return the piece that a cutter leaves of an outline, without scraps beside it that hang on by a hair."""
    half, left = _left_of(section(outline), piece_radius)
    if len(left) > 1:
        half, _ = _left_of(section(polygons_of(opened(section(left[0]), DUST))[:1]), piece_radius)
    return half


def _left_of(body: Section, piece_radius: Mm) -> tuple[Half, list[shapely.Polygon]]:
    """Return what a cutter leaves when it goes round a body, and all the parts that this falls into, largest first."""
    enclosed, arcs = written(offset(body, piece_radius))
    outlines = sorted(polygons_of(offset(section(enclosed), -piece_radius)), key=lambda polygon: -polygon.area)
    largest = outlines[0] if outlines else shapely.Polygon()
    return Half(outline=largest, path=enclosed.boundary, path_arcs=arcs), outlines


def written(centres: Section) -> tuple[shapely.Geometry, tuple[ArcRing, ...]]:
    """Return the path as it will be written: the area that it goes round, in chords, and its lines and arcs."""
    rings = [fit_polygon(part) for part in polygons_of(centres)]
    areas = [polygon_of(ring, SWEEP_TOLERANCE) for ring in rings]
    return areas[0] if len(areas) == 1 else shapely.union_all(areas), tuple(arc for ring in rings for arc in ring)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bodies:
    """The material of each piece of a plan with the number of its part; one part may give several pieces.

    `eased` is where pieces gave way, because no cutter can follow all edges that meet there, `blunted` where the gap
    on both sides of a tip takes more of it than may be left unsaid, `gone` the cells of which the gap leaves nothing.
    """

    pieces: tuple[tuple[int, Section], ...]
    eased: tuple[Section, ...] = ()
    blunted: tuple[Section, ...] = ()
    gone: tuple[Section, ...] = ()


def piece_bodies(plan: Plan, radii: Sequence[Mm], piece_gap: Mm, joint: Mm, unsaid: Mm) -> Bodies:
    """Return the material of the pieces of a plan.

    Where a cutter cannot follow both the wall and a neighbour, the piece gives way: it is never tight.

    Args:
        plan: a pocket group.
        radii: for each part half of what its cutter cuts.
        piece_gap: the piece's share of the gap to the wall.
        joint: the gap between two pieces.
        unsaid: how far from its piece a spot of a cell may lie.
    """
    inside = offset(plan.body, -piece_gap)
    if plan.alone:
        return Bodies(pieces=tuple((0, body) for body in inside.decompose()))
    share = max(joint, BUTT) / 2
    bodies: list[tuple[int, Section]] = []
    blunted: list[Section] = []
    gone: list[Section] = []
    eased = [plan.body - union([cell.area for cell in plan.cells])]
    for cell in plan.cells:
        others = offset(opened(plan.body - cell.area, DUST), share)  # but not the hairs along the wall
        room = inside - others
        body = opened(yielded(room, radii[cell.part], YIELD), NEEDLE)
        kept = [part for part in body.decompose() if not offset(part, -share).is_empty()]
        if not kept:
            gone.append(cell.area)
            continue
        bodies.extend((cell.part, part) for part in kept)
        eased.append(opened(room, NEEDLE) - body)
        blunted.append(cell.area - offset(union(kept), unsaid))
    return Bodies(
        pieces=tuple(bodies), eased=_thick_parts(eased), blunted=_thick_parts(blunted), gone=_thick_parts(gone)
    )


def _thick_parts(areas: Sequence[Section]) -> tuple[Section, ...]:
    """Return the parts of areas that are more than dust along an edge."""
    return tuple(part for area in areas for part in opened(area, YIELD).decompose())


def names_for(parts: Sequence[str]) -> list[str]:
    """Return names with a letter added where one name stands for several pieces.

    >>> names_for(["moon", "reed", "reed"])
    ['moon', 'reed a', 'reed b']
    """
    seen: dict[str, int] = {}
    named = []
    for name in parts:
        count = seen[name] = seen.get(name, 0) + 1
        named.append(f"{name} {_letters(count)}" if parts.count(name) > 1 else name)
    return named


def _letters(number: int) -> str:
    """Return a, b, ... z, aa, ab for 1, 2, ... 26, 27, 28."""
    text = ""
    while number:
        number, digit = divmod(number - 1, 26)
        text = chr(ord("a") + digit) + text
    return text
