"""Places where what is cut differs from what was drawn: how far, how much, and what kind of place it is.

Words: at a *lost* site the pocket bit leaves drawn area uncut, at a *filled* one the bit round the piece leaves what
was not drawn. The *reach* of a spot is its distance from the outline as cut. A *rim* is a stretch of a site's edge
that faces the part that is cut: none makes an island (or a hole), one a corner or a dead end, two or more a neck.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.offset import Section, boxes, inner_width, opened, parts_near, polygons_of, raw_rings, rings_less, section
from inlayfit.place_spots import HAIR, MARK_SPACING, RIM_DUST, Spots
from inlayfit.seam import MARGIN
from inlayfit.units import Mm
from inlayfit.walls import Walls

CORNER_TURN_DEG = 15.0
"""A vertex that turns more is a corner: flattened within 0.3 um, a curve turns so much only below 0.035 mm radius."""

MARGINAL: Mm = 0.005
"""Widths nearer to the cutter's than this cannot be told from it at the bench."""

CURVE_EXCESS = 1.2
"""A place whose deepest spot lies on a curve wider than this many radii is a limb or a cleft, not a curve too tight."""

CORNER_WINDOW: Mm = 0.003
"""Vertices this close together are one corner."""

LIMB_EXCESS = 1.25
"""A dead end reaches further than this many times the reach of a corner of its angle."""

NEEDLE_DEG = 3.0
BEYOND_NEEDLE: Mm = 0.1

SPECK_MM2 = 1e-7

TOUCHING: Mm = 1e-6
"""A spot on an edge is this near to it at most."""

Radius = Mm | Callable[[shapely.Polygon], Mm]
"""Of the cutter, or what it is at a place."""

CRACKED: Mm = 0.005
"""A place over a millimetre round of less mean width may have a crack for a tail: edges that are a rounding apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A spot of a site and its reach, mm: at corners that of the cutter itself, without the margin of the seam."""

    x: Mm
    y: Mm
    reach: Mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """One place; `marks` cover it, the deepest first.

    `angle_deg` is that of a drawn corner, `width` that of a limb, cleft, island or hole, `radius` that of a curve: None
    where it is not of that kind.
    """

    lost: bool
    kind: str
    cutter_radius: Mm
    marks: tuple[Mark, ...]
    rims: int
    area: float
    angle_deg: float | None = None
    width: Mm | None = None
    radius: Mm | None = None

    @property
    def reach(self) -> Mm:
        """The deepest reach, mm; infinite where nothing is cut at all."""
        return self.marks[0].reach

    @property
    def changes_parts(self) -> bool:
        """Whether a part vanished, fell in two, or two became one."""
        return self.rims != 1

    @property
    def marginal(self) -> bool:
        """Whether a limb, cleft, island or hole is as wide as the cutter to within `MARGINAL`."""
        return self.width is not None and abs(self.width - 2 * self.cutter_radius) <= MARGINAL

    @property
    def deep(self) -> bool:
        """Whether more than a corner changed: then the order of opening and closing may matter."""
        return self.changes_parts or self.kind in {"narrow-limb", "narrow-cleft"}


KINDS = {
    True: {
        "corner": "sharp-corner",
        "curve": "tight-curve",
        "limb": "narrow-limb",
        "neck": "narrow-neck",
        "all": "lost-island",
    },
    False: {
        "corner": "inner-corner",
        "curve": "tight-inner-curve",
        "limb": "narrow-cleft",
        "neck": "narrow-slot",
        "all": "lost-hole",
    },
}


def find_sites(drawn: Section, cut: Section, tolerance: Mm, open_radius: Radius, close_radius: Radius) -> list[Site]:
    """Return the places where the cut outline leaves the drawn one by more than the tolerance, lost ones first."""
    outlines = drawn.to_polygons()
    lost = polygons_of(rings_less(outlines, raw_rings(cut, tolerance)))
    filled = polygons_of(rings_less(raw_rings(cut, -tolerance), outlines))
    if not lost and not filled:
        return []
    kinds = [(is_lost, place) for is_lost, found in ((True, lost), (False, filled)) for place in _without_cracks(found)]
    if not kinds:
        return []
    places = [place for _, place in kinds]
    radii = [_at(place, open_radius if is_lost else close_radius) for is_lost, place in kinds]
    spots, outline = Spots.of(places), _Outline(drawn)
    reaches = Walls.of_section(cut).distances(spots.points, tolerance + RIM_DUST)
    marks = _marks_of(spots, reaches, tolerance, len(places))
    rims = spots.rims(reaches, tolerance, len(places)).tolist()
    areas = _areas(kinds, radii, [own[0] for own in marks], drawn, cut)
    given = zip(kinds, radii, marks, rims, areas, strict=True)
    sites = [_site(*kind, radius, marked, rim, area, outline) for kind, radius, marked, rim, area in given]
    return [site for site in sites if site.reach > tolerance]


def _at(place: shapely.Polygon, radius: Radius) -> Mm:
    return radius(place) if callable(radius) else radius


def _without_cracks(places: Sequence[shapely.Polygon]) -> list[shapely.Polygon]:
    """Return the parts of places that are no specks, without the hairs between two edges that should be one."""
    lengths, areas = shapely.length(places), shapely.area(places)
    cracked = (lengths >= MARK_SPACING) & (2 * areas <= CRACKED * lengths)
    if not cracked.any():
        return [place for place, area in zip(places, areas.tolist(), strict=True) if area > SPECK_MM2]
    lots = zip(places, cracked.tolist(), strict=True)
    parts = chain.from_iterable(polygons_of(opened(section(place), HAIR)) if torn else [place] for place, torn in lots)
    return [part for part in parts if part.area > SPECK_MM2]


def _areas(
    kinds: Sequence[tuple[bool, shapely.Polygon]],
    radii: Sequence[Mm],
    deepest: Sequence[Mark],
    drawn: Section,
    cut: Section,
) -> list[float]:
    """Return for each place, lost or filled, the area of that part of all that is left in which it lies."""
    areas: list[float] = []
    for is_lost, more, less in ((True, drawn, cut), (False, cut, drawn)):
        own = [number for number, (kind, _) in enumerate(kinds) if kind == is_lost]
        if own:
            near = boxes(shapely.bounds([kinds[number][1] for number in own]), 2 * max(radii[number] for number in own))
            spots = shapely.points([(deepest[number].x, deepest[number].y) for number in own])
            areas += _areas_at(spots, (more ^ near) - less)
    return areas


def _areas_at(spots: NDArray[np.object_], left: Section) -> list[float]:
    """Return for each spot the area of the parts, of all that is left to the last hair, that it belongs to."""
    parts = parts_near(left, spots)
    spot, part = shapely.STRtree(parts).query(spots, predicate="dwithin", distance=TOUCHING)
    return np.bincount(spot, weights=shapely.area(parts)[part], minlength=len(spots)).tolist()


def _site(
    lost: bool,
    place: shapely.Polygon,
    radius: Mm,
    marks: Sequence[Mark],
    rims: int,
    area: float,
    outline: _Outline,
) -> Site:
    shape, angle, width, curve = _shape(place, marks[0], rims, radius, outline)
    if shape in {"corner", "curve"}:
        own = radius / (radius + MARGIN)  # what the cutter itself leaves
        marks = [Mark(x=mark.x, y=mark.y, reach=mark.reach * own) for mark in marks]
        area *= own**2
    return Site(
        lost=lost,
        cutter_radius=radius,
        kind=KINDS[lost][shape],
        marks=tuple(marks),
        rims=rims,
        area=area,
        angle_deg=angle,
        width=width,
        radius=curve,
    )


def _shape(
    place: shapely.Polygon,
    deepest: Mark,
    rims: int,
    radius: Mm,
    outline: _Outline,
) -> tuple[str, float | None, Mm | None, Mm | None]:
    """Return the shape's word with the corner's angle, the width or the curve's radius."""
    reach, vertex = deepest.reach, outline.vertex_near(deepest.x, deepest.y)
    angle_deg = outline.angle_at(vertex)
    if rims == 1 and angle_deg <= 180 - CORNER_TURN_DEG and reach <= LIMB_EXCESS * corner_reach(angle_deg, radius):
        return "corner", angle_deg, None, None
    curve = outline.radius_at(vertex)
    if rims == 1 and reach <= radius and curve < CURVE_EXCESS * radius:
        return "curve", None, None, curve
    return {0: "all", 1: "limb"}.get(rims, "neck"), None, inner_width(place), None


def corner_reach(angle_deg: float, radius: Mm) -> Mm:
    """Return how far a corner's vertex lies from what a cutter reaches: r (1 / sin(a / 2) - 1).

    Source: plain geometry; the 90 degree case is the fillet of Machinery's Handbook, 31st ed., p. 80.

    >>> round(corner_reach(90, 1.0), 6)
    0.414214
    """
    half = math.radians(max(angle_deg, 1e-6)) / 2
    return radius * (1 / math.sin(half) - 1)


def _marks_of(spots: Spots, reaches: NDArray[np.float64], tolerance: Mm, places: int) -> list[list[Mark]]:
    """Return the marks of each place, deepest first: all spots over the tolerance are within `MARK_SPACING` of one."""
    order = np.lexsort((-reaches, spots.place))
    points, place = spots.points[order].view(np.complex128).ravel(), spots.place[order]
    reaches, first = reaches[order], np.append(True, np.diff(place) > 0)
    left = np.flatnonzero(first | (reaches > tolerance))
    marks: list[list[Mark]] = [[] for _ in range(places)]
    while len(left):
        own = place[left]
        deepest = np.append(True, np.diff(own) > 0)
        picked = left[deepest]
        at, deep = points[picked], reaches[picked].tolist()
        for number, x, y, reach in zip(own[deepest].tolist(), at.real.tolist(), at.imag.tolist(), deep, strict=True):
            marks[number].append(Mark(x=x, y=y, reach=reach))
        left = left[np.abs(points[left] - at[np.cumsum(deepest) - 1]) > MARK_SPACING]
    return marks


class _Outline:
    """The drawn outline, asked for its corners and curvature, vertex by vertex: so in plain numbers."""

    def __init__(self, drawn: Section) -> None:
        rings = [np.asarray(ring) for ring in drawn.to_polygons()]
        self._all = np.concatenate(rings).view(np.complex128).ravel()
        self._points: list[tuple[Mm, Mm]] = list(zip(self._all.real.tolist(), self._all.imag.tolist(), strict=True))
        self._ends = np.cumsum([len(ring) for ring in rings]).tolist()

    def vertex_near(self, x: Mm, y: Mm) -> int:
        """Return the number of the nearest vertex."""
        return int(np.abs(self._all - complex(x, y)).argmin())

    def _neighbour(self, index: int, step: int, beyond: Mm) -> tuple[Mm, Mm]:
        """Return the first vertex along the ring, back or on, that lies further than `beyond`, as seen from here."""
        ring = bisect_right(self._ends, index)
        start = self._ends[ring - 1] if ring else 0
        count, here = self._ends[ring] - start, self._points[index]
        at = index
        for _ in range(count):
            at = start + (at - start + step) % count
            if math.dist(self._points[at], here) > beyond:
                break
        return self._points[at][0] - here[0], self._points[at][1] - here[1]

    def angle_at(self, vertex: int) -> float:
        """Return the angle between the two sides at a vertex, degrees; 180 is straight.

        A needle is a hair slit that ends there: then the sides are looked for beyond it.
        """
        angle = self._angle(vertex, CORNER_WINDOW)
        return angle if angle > NEEDLE_DEG else self._angle(vertex, BEYOND_NEEDLE)

    def _angle(self, vertex: int, window: Mm) -> float:
        back, on = self._neighbour(vertex, -1, window), self._neighbour(vertex, 1, window)
        return math.degrees(abs(math.atan2(_cross(back, on), back[0] * on[0] + back[1] * on[1])))

    def radius_at(self, vertex: int) -> Mm:
        """Return the radius of the circle through a vertex and its neighbours a twentieth of a millimetre off."""
        back, on = self._neighbour(vertex, -1, 0.05), self._neighbour(vertex, 1, 0.05)
        cross = abs(_cross(back, on))
        sides = math.hypot(*back) * math.hypot(*on) * math.dist(back, on)
        return sides / (2 * cross) if cross > 0 else math.inf


def _cross(one: tuple[Mm, Mm], other: tuple[Mm, Mm]) -> float:
    return one[0] * other[1] - one[1] * other[0]
