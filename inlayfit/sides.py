"""The sides of a drawing that a bit works on, on outlines thinned until they cost little: right to a few micrometres.

Words: a *side* is an area with the bit within it (for the pocket) or round it (for the piece). *Places* are connected
parts of what the bit misses there.
"""

from __future__ import annotations

import shapely

from inlayfit.miss import Miss
from inlayfit.offset import Section, geometry_of
from inlayfit.units import Mm

SLACK = 0.01
"""A plain buffer may be off by this share of its radius."""

CHORDS = 16
"""For a quarter of a turn: their sagitta is an eighth of what `SLACK` allows."""


class Side:
    """An area with the bit within it, or round it, and what was asked of it so far.

    `drawn` is exact, `thin` no more than a `step` off it; `within` is what the area is a part of, None for the whole.
    """

    def __init__(
        self, drawn: Section, thin: shapely.Geometry, step: Mm, *, inside: bool, within: Section | None = None
    ) -> None:
        self.inside, self.within = inside, within
        self._drawn, self._thin, self._step = drawn, thin, step
        self._bounds = None if within is None else geometry_of(within)
        self._centres: dict[Mm, shapely.Geometry] = {}
        self._missed: dict[tuple[Mm, Mm], list[shapely.Polygon]] = {}
        self._parts = _topology(self._thin)

    @property
    def size_mm2(self) -> float:
        """The area."""
        return float(self._thin.area)

    def cut(self, radius: Mm) -> shapely.Geometry:
        """Return what a bit leaves: the area opened, or closed."""
        return shapely.buffer(self._moved(radius), radius if self.inside else -radius, quad_segs=CHORDS)

    def enter(self, radius: Mm, spots: shapely.Geometry) -> None:
        """Let the bit of a radius go to spots as well: a plain buffer loses a core that is next to nothing."""
        self._centres[radius] = shapely.union(self._moved(radius), spots)

    def same_parts(self, radius: Mm) -> bool:
        """Return whether a bit leaves as many parts and holes as were drawn."""
        return _topology(self.cut(radius)) == self._parts

    def missed(self, radius: Mm, limit: Mm) -> list[shapely.Polygon]:
        """Return the places that lie further than a limit from the bit's centres."""
        if (radius, limit) not in self._missed:
            self._missed[radius, limit] = self._places(radius, limit)
        return self._missed[radius, limit]

    def miss(self, radius: Mm, limit: Mm, arc: Mm) -> Miss | None:
        """Return what of the drawing itself a bit may miss, were the thinning all in its favour; None for nothing.

        Chords have the sagitta `arc`, mm.
        """
        slack = 2 * self._step + SLACK * radius
        places = self.missed(radius, limit - slack)
        if not places:
            return None
        bounds = shapely.bounds(places)
        return Miss.near(self._drawn, self.within, bounds, radius + limit, 2 * slack, arc, inside=self.inside)

    def _moved(self, radius: Mm) -> shapely.Geometry:
        """Return where the bit's centre may be within the area, or where it may not be round it."""
        if radius not in self._centres:
            self._centres[radius] = shapely.buffer(self._thin, -radius if self.inside else radius, quad_segs=CHORDS)
        return self._centres[radius]

    def _places(self, radius: Mm, limit: Mm) -> list[shapely.Polygon]:
        swept = shapely.buffer(self._moved(radius), limit if self.inside else -limit, quad_segs=CHORDS)
        differs = shapely.difference(self._thin, swept) if self.inside else shapely.difference(swept, self._thin)
        if self._bounds is not None:
            differs = shapely.intersection(differs, self._bounds)
        return [
            part for part in shapely.get_parts(differs) if part.geom_type == "Polygon" and part.area > self._step**2
        ]


def thinned(area: shapely.Geometry, step: Mm) -> shapely.Geometry:
    """Return an outline with as few vertices as stay within a step of it, mm."""
    thin = shapely.simplify(area, step, preserve_topology=False)
    return thin if thin.is_valid and not thin.is_empty else shapely.simplify(area, step)


def _topology(area: shapely.Geometry) -> tuple[int, int]:
    """Return the number of parts and of holes."""
    parts = shapely.get_parts(area)
    return len(parts), int(shapely.get_num_interior_rings(parts).sum())
