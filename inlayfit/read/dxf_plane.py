"""The plane in which an entity is drawn, and the map from it to the drawing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from inlayfit.read.chain_faces import meetings
from inlayfit.read.dxf_curves import Points, ellipse_points


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """The plane of an entity: the map from it to the drawing, and the tolerance that holds before the map."""

    linear: Points
    offset: Points
    tolerance: float
    is_tilted: bool

    def map(self, points: Points) -> Points:
        """Return points of the drawing, shape (n, 2), mm."""
        return np.asarray(points @ self.linear.T + self.offset)

    def curve(self, centre: Points, u: Points, v: Points, start: float, sweep: float) -> Points:
        """Return c + u cos t + v sin t in the drawing."""
        return self.map(ellipse_points(centre, u, v, start, sweep, tolerance=self.tolerance))

    def polygons(self, shapes: Sequence[shapely.Geometry]) -> tuple[shapely.Polygon, ...]:
        """Return the mapped shapes as valid polygons; what has no area is gone."""
        mapped = [shapely.transform(shape, self.map) for shape in shapes]
        valid = [shape if shape.is_valid else _mended(shape) for shape in mapped]
        parts = shapely.get_parts(shapely.get_parts(valid))
        return tuple(part for part in parts if isinstance(part, shapely.Polygon) and part.area > 0)


def _mended(shape: shapely.Geometry) -> shapely.Geometry:
    """Return a valid shape for one whose edges cross.

    Raises:
        DrawingError: they cross so often that it would take minutes.
    """
    rings = [shapely.get_coordinates(ring) for ring in shapely.get_parts(shapely.get_rings(shapely.get_parts(shape)))]
    steps = np.concatenate([np.stack([ring[:-1], ring[1:]], axis=1) for ring in rings])
    meetings(shapely.linestrings(steps), spare=2 * len(steps))
    return shapely.make_valid(shape)
