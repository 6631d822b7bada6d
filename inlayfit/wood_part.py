"""The part that is inlaid: outline, holes and keep-outs round the drawing, and pockets that come too near to them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from inlayfit.drawing import Drawing
from inlayfit.errors import JobError
from inlayfit.findings import Finding, finding_within
from inlayfit.units import Mm, format_mm

ORIGINS = ("nut", "corner", "middle")
"""Where offsets on a part begin: its own zero (nut line and centre line), the lower left of its box, or the middle."""

ROUND_SEGMENTS = 64
"""Chords in a quarter of a hole, which is only looked at: a hole of 12 mm is off by 0.5 um."""

TOUCH_MM2 = 1e-4
"""Less area than this beyond an edge is rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A round hole, such as that of a tuner; mm."""

    x: Mm
    y: Mm
    diameter: Mm
    name: str = ""

    @property
    def area(self) -> shapely.Polygon:
        """The hole as a polygon."""
        return shapely.Point(self.x, self.y).buffer(self.diameter / 2, quad_segs=ROUND_SEGMENTS)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut:
    """A place that pockets must keep clear of, such as under the cover of a truss rod."""

    name: str
    area: shapely.Polygon


@dataclass(frozen=True, slots=True, kw_only=True)
class WoodPart:
    """A headstock or another part, in the coordinates of the drawing; mm.

    Pockets keep `clearance` from holes, keep-outs and the edge, and leave `least_floor` of the thickness under them.
    """

    outline: shapely.Polygon | None = None
    holes: tuple[Hole, ...] = ()
    keep_outs: tuple[KeepOut, ...] = ()
    thickness: Mm | None = None
    clearance: Mm = 0.0
    least_floor: Mm = 0.0

    @property
    def areas(self) -> list[shapely.Polygon]:
        """All there is to draw of it."""
        edge = [] if self.outline is None else [self.outline]
        return [*edge, *(hole.area for hole in self.holes), *(keep.area for keep in self.keep_outs)]

    @property
    def obstacles(self) -> list[tuple[str, shapely.Polygon]]:
        """Holes and keep-outs with what to call them."""
        holes = [(hole.name or f"hole {number}", hole.area) for number, hole in enumerate(self.holes, start=1)]
        return [*holes, *((keep.name, keep.area) for keep in self.keep_outs)]


def placed(
    part: WoodPart, drawing: Drawing, *, origin: str, offset: tuple[Mm, Mm], rotation_deg: float, where: str
) -> WoodPart:
    """Return a part that was given in its own coordinates, in those of the drawing.

    Args:
        part: outline, holes and keep-outs from the part's own zero.
        drawing: what lies on it.
        origin: where the offset begins.
        offset: from there to the middle of the drawing, mm along x and y of the part.
        rotation_deg: how far the drawing is turned on the part, counter-clockwise.
        where: the key, for errors.

    Raises:
        JobError: a corner or a middle of a part without an outline.
    """
    zero = np.zeros(2)
    if origin != "nut":
        if part.outline is None:
            remedy = "give its outline, or measure from the nut"
            raise JobError(f"where is the {origin} of a part without an outline?", where=where, remedy=remedy)
        left, bottom, right, top = part.outline.bounds
        zero = np.array((left, bottom) if origin == "corner" else ((left + right) / 2, (bottom + top) / 2))
    turn = math.radians(-rotation_deg)
    matrix = np.array(((math.cos(turn), -math.sin(turn)), (math.sin(turn), math.cos(turn))))
    left, bottom, right, top = drawing.bounds
    middle = np.array(((left + right) / 2, (bottom + top) / 2))

    def move(points: np.ndarray) -> np.ndarray:
        return np.asarray((points - zero - np.array(offset)) @ matrix.T + middle)

    def hole(one: Hole) -> Hole:
        x, y = move(np.array([[one.x, one.y]]))[0]
        return replace(one, x=float(x), y=float(y))

    return replace(
        part,
        outline=None if part.outline is None else shapely.transform(part.outline, move),
        holes=tuple(hole(one) for one in part.holes),
        keep_outs=tuple(replace(one, area=shapely.transform(one.area, move)) for one in part.keep_outs),
    )


def with_layers(
    part: WoodPart,
    drawing: Drawing,
    *,
    outline: str | None = None,
    holes: str | None = None,
    keep_outs: str | None = None,
    where: str = "part",
) -> WoodPart:
    """Return a part with what the drawing has of it on layers of lines.

    Raises:
        JobError: a layer that is named and holds nothing closed.
    """
    edge = [] if outline is None else _areas_on(drawing, outline, f"{where}.outline_layer")
    round_ones = [] if holes is None else _areas_on(drawing, holes, f"{where}.hole_layer")
    others = [] if keep_outs is None else _areas_on(drawing, keep_outs, f"{where}.keep_out_layer")
    return replace(
        part,
        outline=max(edge, key=lambda area: area.area) if edge else part.outline,
        holes=(*part.holes, *(_as_hole(area) for area in round_ones)),
        keep_outs=(*part.keep_outs, *(KeepOut(name=keep_outs or "", area=area) for area in others)),
    )


def _areas_on(drawing: Drawing, layer: str, where: str) -> list[shapely.Polygon]:
    lines = [one.line for one in drawing.lines if one.layer == layer]
    rings = [shapely.Polygon(line) for line in lines if line.is_closed and len(line.coords) > 3]
    loose = [line for line in lines if not line.is_closed]
    joined = shapely.get_parts(shapely.polygonize([shapely.node(shapely.union_all(loose))])) if loose else []
    areas = [area for area in (*rings, *joined) if area.is_valid and area.area > 0]
    if not areas:
        raise JobError(f"nothing closed lies on layer {layer!r}", where=where, remedy="draw closed lines on it")
    return areas


def _as_hole(area: shapely.Polygon) -> Hole:
    return Hole(x=area.centroid.x, y=area.centroid.y, diameter=2 * math.sqrt(area.area / math.pi))


def part_remarks(part: WoodPart, pockets: Sequence[tuple[str, shapely.Polygon]], first: int) -> list[Finding]:
    """Return where pockets come nearer to holes, keep-outs and the edge of the part than they may."""
    found: list[Finding] = []
    for name, outline in pockets:
        for number, finding in enumerate(_of_pocket(part, name, outline), start=first + len(found)):
            found.append(replace(finding, site=number))
    return found


def _of_pocket(part: WoodPart, name: str, outline: shapely.Polygon) -> Iterator[Finding]:
    for other, area in part.obstacles:
        shared = shapely.intersection(outline, area)
        if shared.area > TOUCH_MM2:
            yield _finding("in-keep-out", name, shared, f"the pocket runs into {other}", shared.area, 0.0)
        elif (far := float(shapely.distance(outline, area))) < part.clearance:
            yield _finding("near-keep-out", name, _between(outline, area), _near(other, far, part), None, far)
    if part.outline is None:
        return
    over = shapely.difference(outline, part.outline)
    if over.area > TOUCH_MM2:
        for place in shapely.get_parts(over):
            yield _finding("off-part", name, place, "the pocket runs off the part", place.area, 0.0)
    elif (far := float(shapely.distance(outline, part.outline.boundary))) < part.clearance:
        place = _between(outline, part.outline.boundary)
        yield _finding("near-edge", name, place, _near("the edge of the part", far, part), None, far)


def _near(other: str, far: Mm, part: WoodPart) -> str:
    return f"{format_mm(far, 2)} from {other}; {format_mm(part.clearance, 2)} were asked for"


def _between(one: shapely.Geometry, other: shapely.Geometry) -> shapely.Point:
    return shapely.shortest_line(one, other).centroid


def _finding(
    kind: str, name: str, place: shapely.Geometry, message: str, area: float | None, far: Mm | None
) -> Finding:
    remedy = "move, turn or shrink the drawing on the part"
    return finding_within(
        place, kind=kind, part="pocket", name=name, message=message, remedy=remedy, size_mm=far, area_mm2=area
    )
