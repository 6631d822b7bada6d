"""The two halves of a pair, made from a seam: outline, path, and the path as it will be written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from inlayfit.arcs import ArcRing, fit_polygon, polygon_of
from inlayfit.offset import Section, closed, offset, opened, polygons_of, section
from inlayfit.plan import Plan
from inlayfit.seam import DUST
from inlayfit.units import Mm

SWEEP_TOLERANCE: Mm = 0.0001
"""Chord error of the written arcs when the bit is swept along them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Half:
    """A piece or a pocket. `outline` is what the written path leaves, not what was meant: the cutter swept along it.

    `path` holds the closed lines of the cutter's centre, `path_arcs` the same as lines and arcs, as they are written.
    """

    outline: shapely.Polygon
    path: shapely.LineString | shapely.MultiLineString
    path_arcs: tuple[ArcRing, ...]


def make_pockets(seam: Section, pocket_radius: Mm, pocket_gap: Mm) -> list[Half]:
    """Return a pocket for each connected part of the seam: centres run at the radius less the gap inside of it."""
    return [
        half
        for part in seam.decompose()
        if (half := _swept(offset(part, pocket_gap - pocket_radius), pocket_radius)) is not None
    ]


def make_piece(body: Section, piece_radius: Mm) -> Half | None:
    """Return a piece from the material that shall be left: centres run at the radius outside of it."""
    return _swept(offset(body, piece_radius), -piece_radius)


def _swept(centres: Section, radius: Mm) -> Half | None:
    """Return what is cut when a disc runs along the edge of a section, from the path as it will be written."""
    parts = polygons_of(centres)
    if not parts:
        return None
    rings = [fit_polygon(part) for part in parts]
    written = shapely.union_all([polygon_of(ring, SWEEP_TOLERANCE) for ring in rings])
    outlines = polygons_of(offset(section(written), radius))
    if not outlines:
        return None
    outline = max(outlines, key=lambda polygon: polygon.area)
    return Half(
        outline=outline,
        path=written.boundary,
        path_arcs=tuple(arc for ring in rings for arc in ring),
    )


def piece_bodies(plan: Plan, piece_radius: Mm, piece_gap: Mm, joint: Mm) -> list[tuple[int, Section]]:
    """Return the material of each piece of a plan with the number of its part; one part may give several pieces.

    Args:
        plan: a pocket group.
        piece_radius: half of what the piece's cutter cuts.
        piece_gap: the piece's share of the gap to the wall.
        joint: the gap between two pieces.
    """
    inside = offset(plan.body, -piece_gap)
    if plan.alone:
        return [(0, body) for body in inside.decompose()]
    bodies: list[tuple[int, Section]] = []
    for cell in plan.cells:
        others = offset(opened(plan.body - cell.area, DUST), joint / 2)  # but not the hairs along the wall
        body = closed(inside - others, piece_radius) - others
        bodies.extend((cell.part, part) for part in body.decompose() if not offset(part, -joint / 2).is_empty())
    return bodies


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
