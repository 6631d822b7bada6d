"""What a cutter leaves when its centre runs along a path: a second way to it, apart from the package's own engine.

Clipper 1 (pyclipper) on a grid of one nanometre, arcs within 0.01 um; the package cuts with Clipper 2 or GEOS.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
import pyclipper
import shapely

GRID = 1e-6
"""One step of the integer grid, mm."""
ARC_ERROR = 1e-5
"""Chord error of a round join, mm. Clipper 1 may exceed it 2.25 times: still far under 0.3 um."""

Rings = list[list[list[int]]]


def as_cut_pocket(path: shapely.Geometry, radius: float) -> shapely.Geometry:
    """Return the wood that is gone: what the disc sweeps along the closed `path`, and all that the path encloses."""
    rings = _rings(path)
    return _combine(pyclipper.CT_UNION, _enclosed(rings), _swept(rings, radius))


def as_cut_piece(path: shapely.Geometry, radius: float) -> shapely.Geometry:
    """Return what stands when the disc has gone round along the closed `path`: its inside less the swept band."""
    rings = _rings(path)
    return _combine(pyclipper.CT_DIFFERENCE, _enclosed(rings), _swept(rings, radius))


def grown(area: shapely.Geometry, radius: float) -> shapely.Geometry:
    """Return `area` with every point within `radius` of it."""
    return shapely.union(area, as_cut_pocket(_lines(area), radius)) if not area.is_empty else area


def shrunk(area: shapely.Geometry, radius: float) -> shapely.Geometry:
    """Return the points of `area` that lie at least `radius` inside it."""
    return as_cut_piece(_lines(area), radius) if not area.is_empty else area


def _lines(area: shapely.Geometry) -> shapely.Geometry:
    rings = [ring for part in shapely.get_parts(area) for ring in (part.exterior, *part.interiors)]
    return shapely.multilinestrings([shapely.LineString(ring.coords) for ring in rings])


def _rings(path: shapely.Geometry) -> Rings:
    coords = [np.asarray(line.coords) for line in shapely.get_parts(path)]
    return [np.rint(ring[:-1, :2] / GRID).astype(np.int64).tolist() for ring in coords if len(ring) > 2]


def _enclosed(rings: Rings) -> Rings:
    """Even-odd, so that a ring within a ring is an island whichever way either of them runs."""
    clipper = pyclipper.Pyclipper()
    if not _add(clipper, rings, pyclipper.PT_SUBJECT):
        return []
    return clipper.Execute(pyclipper.CT_UNION, pyclipper.PFT_EVENODD, pyclipper.PFT_EVENODD)  # type: ignore[no-any-return]


def _swept(rings: Rings, radius: float) -> Rings:
    offset = pyclipper.PyclipperOffset(2.0, ARC_ERROR / GRID)
    for ring in rings:
        offset.AddPath(ring, pyclipper.JT_ROUND, pyclipper.ET_CLOSEDLINE)
    return offset.Execute(radius / GRID)  # type: ignore[no-any-return]


def _add(clipper: Any, rings: Rings, kind: int) -> int:
    """Add the rings that enclose something; return how many did."""
    added = 0
    for ring in rings:
        try:
            clipper.AddPath(ring, kind, closed=True)
        except pyclipper.ClipperException:  # a ring without area
            continue
        added += 1
    return added


def _combine(operation: int, subject: Rings, clip: Rings) -> shapely.Geometry:
    clipper = pyclipper.Pyclipper()
    added = [_add(clipper, subject, pyclipper.PT_SUBJECT), _add(clipper, clip, pyclipper.PT_CLIP)]
    if not any(added):
        return shapely.Polygon()
    tree = clipper.Execute2(operation, pyclipper.PFT_NONZERO, pyclipper.PFT_NONZERO)
    parts = [shapely.Polygon(_mm(node.Contour), [_mm(hole.Contour) for hole in node.Childs]) for node in _outers(tree)]
    return shapely.union_all(shapely.make_valid(np.array(parts, dtype=object)))


def _outers(node: Any) -> Iterator[Any]:
    for child in node.Childs:
        if not child.IsHole:
            yield child
        yield from _outers(child)


def _mm(contour: Iterable[Iterable[int]]) -> np.ndarray:
    return np.asarray(contour, dtype=float) * GRID
