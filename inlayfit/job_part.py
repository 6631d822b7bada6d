"""The tables [part] and [depth] of a job: what the drawing lies on, and how deep the pieces are let in."""

from __future__ import annotations

from dataclasses import dataclass

import msgspec
import shapely

from inlayfit.depth import DepthAsked
from inlayfit.drawing import Drawing
from inlayfit.errors import JobError
from inlayfit.job_values import Length, dotted, one_of
from inlayfit.units import Mm, parse_length, positive_length, zero_or_more
from inlayfit.wood_part import ORIGINS, Hole, KeepOut, WoodPart, placed, with_layers

FULL_TURN_DEG = 360.0

Points = tuple[tuple[Length, Length], ...]


class HoleTable(msgspec.Struct, frozen=True, kw_only=True):
    """A round hole of the part."""

    x: Length
    y: Length
    diameter: Length
    name: str = ""


class KeepOutTable(msgspec.Struct, frozen=True, kw_only=True):
    """A place that pockets must keep clear of."""

    outline: Points
    name: str = "keep-out"


class PartTable(msgspec.Struct, frozen=True, kw_only=True):
    """The part, in coordinates of its own or on layers of the drawing."""

    outline: Points | None = None
    outline_layer: str | None = None
    hole_layer: str | None = None
    keep_out_layer: str | None = None
    holes: tuple[HoleTable, ...] = ()
    keep_outs: tuple[KeepOutTable, ...] = ()
    thickness: Length | None = None
    clearance: Length = 0.0
    least_floor: Length = 0.0
    origin: str = "nut"
    offset: tuple[Length, Length] | None = None
    rotation_deg: float = 0.0


class DepthTable(msgspec.Struct, frozen=True, kw_only=True):
    """How a piece is to sit in its pocket."""

    proud: Length = 0.0
    bed: Length = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PartJob:
    """A part as the job has it; `on` brings it into the coordinates of the drawing. `key` is its table, for errors."""

    part: WoodPart
    key: str = "part"
    outline_layer: str | None = None
    hole_layer: str | None = None
    keep_out_layer: str | None = None
    origin: str = "nut"
    offset: tuple[Mm, Mm] | None = None
    rotation_deg: float = 0.0

    @property
    def layers(self) -> tuple[str, ...]:
        """The layers of the drawing that hold lines of the part."""
        return tuple(layer for layer in (self.outline_layer, self.hole_layer, self.keep_out_layer) if layer is not None)

    def on(self, drawing: Drawing) -> WoodPart:
        """Return the part in the coordinates of a drawing.

        Raises:
            JobError: a layer without closed lines, or an origin that the part does not have.
        """
        part = self.part
        if self.offset is not None:
            part = placed(
                part,
                drawing,
                origin=self.origin,
                offset=self.offset,
                rotation_deg=self.rotation_deg,
                where=f"{self.key}.origin",
            )
        return with_layers(
            part,
            drawing,
            outline=self.outline_layer,
            holes=self.hole_layer,
            keep_outs=self.keep_out_layer,
            where=self.key,
        )


def resolve_depth(table: DepthTable, source: str) -> DepthAsked:
    """Return how pieces are to sit.

    Raises:
        UnitError: a size that is no length, or a bed below zero.
    """
    return DepthAsked(
        proud=parse_length(table.proud, where=dotted(source, "depth.proud")),
        bed=zero_or_more(table.bed, where=dotted(source, "depth.bed")),
    )


def resolve_part(table: PartTable, source: str) -> PartJob:
    """Return the part of a job.

    Raises:
        JobError: an outline twice, a shape that encloses nothing, or a choice that is not known.
        UnitError: a size that is no length.
    """
    key = dotted(source, "part")
    if table.outline is not None and table.outline_layer is not None:
        remedy = "keep the one that is right"
        raise JobError("an outline and a layer with one at once", where=f"{key}.outline", remedy=remedy)
    own = table.outline is not None or bool(table.holes) or bool(table.keep_outs)
    if own and table.offset is None:
        remedy = 'say where the middle of the drawing lies on the part: offset = ["0mm", "60mm"]'
        raise JobError("where on the part does the drawing lie?", where=f"{key}.offset", remedy=remedy)
    if table.offset is not None and not own:
        remedy = "what lies on layers of the drawing is in place; leave the offset out"
        raise JobError("an offset of nothing", where=f"{key}.offset", remedy=remedy)
    if not abs(table.rotation_deg) <= FULL_TURN_DEG:  # not a number fails this too
        raise JobError(f"{table.rotation_deg:g} is no angle", where=f"{key}.rotation_deg", remedy="give degrees")
    thickness = table.thickness
    return PartJob(
        key=key,
        part=WoodPart(
            outline=None if table.outline is None else _area(table.outline, f"{key}.outline"),
            holes=tuple(_hole(hole, f"{key}.holes[{number}]") for number, hole in enumerate(table.holes)),
            keep_outs=tuple(
                KeepOut(name=keep.name, area=_area(keep.outline, f"{key}.keep_outs[{number}].outline"))
                for number, keep in enumerate(table.keep_outs)
            ),
            thickness=None if thickness is None else positive_length(thickness, where=f"{key}.thickness"),
            clearance=zero_or_more(table.clearance, where=f"{key}.clearance"),
            least_floor=zero_or_more(table.least_floor, where=f"{key}.least_floor"),
        ),
        outline_layer=table.outline_layer,
        hole_layer=table.hole_layer,
        keep_out_layer=table.keep_out_layer,
        origin=one_of(table.origin, ORIGINS, f"{key}.origin"),
        offset=None if table.offset is None else _point(table.offset, f"{key}.offset"),
        rotation_deg=table.rotation_deg,
    )


def _point(point: tuple[Length, Length], where: str) -> tuple[Mm, Mm]:
    return parse_length(point[0], where=where), parse_length(point[1], where=where)


def _area(points: Points, where: str) -> shapely.Polygon:
    corners = [_point(point, where) for point in points]
    area = shapely.Polygon(corners) if len(corners) > 2 else shapely.Polygon()
    if not area.is_valid or area.area <= 0:
        remedy = 'give its corners in order: [["0mm", "0mm"], ["80mm", "0mm"], ["80mm", "190mm"]]'
        raise JobError("these corners enclose nothing, or their sides cross", where=where, remedy=remedy)
    return area


def _hole(table: HoleTable, where: str) -> Hole:
    return Hole(
        x=parse_length(table.x, where=f"{where}.x"),
        y=parse_length(table.y, where=f"{where}.y"),
        diameter=positive_length(table.diameter, where=f"{where}.diameter"),
        name=table.name,
    )
