"""The tables [board] and [markers] of a job."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import msgspec

from inlayfit.board import Board, Channel
from inlayfit.errors import JobError
from inlayfit.fretboard import TWELVE, Scale
from inlayfit.job_values import Length, dotted, one_of
from inlayfit.marker_depth import DepthSettings
from inlayfit.marker_shapes import SHAPES, Style
from inlayfit.markers import SETS, MarkerSettings, SideDots
from inlayfit.setups import Bed
from inlayfit.units import Mm, parse_length, positive_length, zero_or_more

Share = Annotated[float, msgspec.Meta(gt=0, le=10)]
ALONG = ("centre", "bass", "treble")
CUTS = ("before", "after")


class ChannelTable(msgspec.Struct, frozen=True, kw_only=True):
    """A channel in the back, along the centre line."""

    width: Length
    depth: Length
    start: Length = 0.0
    end: Length | None = None


class BoardTable(msgspec.Struct, frozen=True, kw_only=True):
    """The fretboard."""

    scale: Length
    frets: int
    nut_width: Length
    end_width: Length
    treble_scale: Length | None = None
    perpendicular: float | None = None
    divisions: int = TWELVE
    nut_offset: Length = 0.0
    zero_fret: bool = False
    end_fret: int | None = None
    overhang: Length = 0.0
    radius: Length | None = None
    end_radius: Length | None = None
    thickness: Length | None = None
    slot_width: Length = 0.6
    slot_depth: Length | None = None
    left_handed: bool = False
    channel: ChannelTable | None = None
    bed_length: Length | None = None
    pin_diameter: Length = 3.0
    pin_distance: Length = 6.0


class StyleTable(msgspec.Struct, frozen=True, kw_only=True):
    """How a marker looks; what is not given is left to the shape, or, for a single fret, to [markers]."""

    shape: str | None = None
    drawing: str | None = None
    diameter: Length | None = None
    length: Length | None = None
    width: Length | None = None
    length_share: Share | None = None
    width_share: Share | None = None
    margin: Length | None = None
    split: Length | None = None
    along: str | None = None
    edge_distance: Length | None = None
    spread: Share | None = None
    turn_deg: Annotated[float, msgspec.Meta(ge=-360, le=360)] | None = None


class MarkTable(StyleTable, frozen=True, kw_only=True):
    """What one fret has of its own."""

    fret: int


class SideTable(msgspec.Struct, frozen=True, kw_only=True):
    """Dots in the bass edge."""

    frets: list[int] | None = None
    doubles: list[int] | None = None
    diameter: Length = 2.0
    depth: Length = 3.0
    apart: Length = 6.0


class MarkersTable(StyleTable, frozen=True, kw_only=True):
    """Which frets are marked, and how."""

    set: str = "guitar"
    frets: list[int] | None = None
    doubles: list[int] | None = None
    cut: str = "before"
    proud: Length = 0.1
    pocket_depth: Length | None = None
    least_left: Length = 0.3
    least_floor: Length = 1.0
    side: SideTable | None = None
    at: list[MarkTable] = []


@dataclass(frozen=True, slots=True, kw_only=True)
class Artwork:
    """A drawing of the maker's own, and the key that names it."""

    path: Path
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardJob:
    """A board and its markers, in mm; `drawings` are the maker's own by fret, None for all other frets."""

    board: Board
    markers: MarkerSettings
    depth: DepthSettings
    drawings: Mapping[int | None, Artwork]
    bed: Bed | None = None


def resolve_board(table: BoardTable, markers: MarkersTable, sheet: Mm | None, source: str, folder: Path) -> BoardJob:
    """Return what the two tables mean.

    Raises:
        JobError: sizes that make no board, a marker that contradicts itself; it names the key.
        UnitError: a size that is no length.
    """
    overrides, drawings = _overrides(markers, source, folder)
    settings = MarkerSettings(
        set=one_of(markers.set, tuple(SETS), dotted(source, "markers.set")),
        frets=None if markers.frets is None else tuple(markers.frets),
        doubles=None if markers.doubles is None else tuple(markers.doubles),
        style=_style(markers, source, "markers"),
        overrides=overrides,
        side=None if markers.side is None else _side(markers.side, source),
    )
    if markers.drawing is not None:
        drawings[None] = Artwork(path=folder / markers.drawing, key="markers.drawing")
    return BoardJob(
        board=_board(table, source),
        markers=settings,
        depth=_depth(markers, sheet, source),
        drawings=drawings,
        bed=_bed(table, source),
    )


class _Sizes:
    """Reads the lengths of one table; errors name the key of each."""

    def __init__(self, table: msgspec.Struct, source: str, path: str) -> None:
        self._table, self._source, self._path = table, source, path

    def where(self, key: str) -> str:
        return dotted(self._source, f"{self._path}.{key}")

    def over_zero(self, key: str) -> Mm:
        return positive_length(getattr(self._table, key), where=self.where(key))

    def zero_up(self, key: str) -> Mm:
        return zero_or_more(getattr(self._table, key), where=self.where(key))

    def over_zero_or_none(self, key: str) -> Mm | None:
        return None if getattr(self._table, key) is None else self.over_zero(key)

    def zero_up_or_none(self, key: str) -> Mm | None:
        return None if getattr(self._table, key) is None else self.zero_up(key)

    def any(self, key: str) -> Mm:
        return parse_length(getattr(self._table, key), where=self.where(key))


def _board(table: BoardTable, source: str) -> Board:
    sizes = _Sizes(table, source, "board")
    if table.perpendicular is not None and table.treble_scale is None:
        raise JobError(
            "all frets stand square on one scale",
            where=sizes.where("perpendicular"),
            remedy="give board.treble_scale as well",
        )
    bass = sizes.over_zero("scale")
    end_fret = _end_fret(table, sizes)
    channel = None if table.channel is None else _channel(table.channel, source)
    try:
        return Board(
            scale=Scale(
                bass=bass,
                treble=sizes.over_zero_or_none("treble_scale") or bass,
                frets=table.frets,
                divisions=table.divisions,
                perpendicular=table.perpendicular or 0.0,
                nut_offset=sizes.any("nut_offset"),
                zero_fret=table.zero_fret,
            ),
            nut_width=sizes.over_zero("nut_width"),
            end_width=sizes.over_zero("end_width"),
            end_fret=end_fret,
            overhang=sizes.zero_up("overhang"),
            radius=sizes.over_zero_or_none("radius"),
            end_radius=sizes.over_zero_or_none("end_radius"),
            thickness=sizes.over_zero_or_none("thickness"),
            slot_width=sizes.over_zero("slot_width"),
            slot_depth=sizes.over_zero_or_none("slot_depth"),
            left_handed=table.left_handed,
            channel=channel,
        )
    except JobError as error:
        raise JobError(error.message, where=sizes.where(error.where), remedy=error.remedy) from error


def _end_fret(table: BoardTable, sizes: _Sizes) -> int | None:
    if table.end_fret is not None and not 1 <= table.end_fret <= table.frets:
        raise JobError(
            f"there is no fret {table.end_fret}: the board has 1 to {table.frets}",
            where=sizes.where("end_fret"),
            remedy="end_fret is where end_width is measured; leave it out for the end of the board",
        )
    return table.end_fret


def _channel(table: ChannelTable, source: str) -> Channel:
    sizes = _Sizes(table, source, "board.channel")
    start, end = sizes.any("start"), None if table.end is None else sizes.any("end")
    if end is not None and end <= start:
        raise JobError("the channel ends before it starts", where=sizes.where("end"), remedy="both count from the nut")
    return Channel(width=sizes.over_zero("width"), depth=sizes.over_zero("depth"), start=start, end=end)


def _bed(table: BoardTable, source: str) -> Bed | None:
    sizes = _Sizes(table, source, "board")
    if table.bed_length is None:
        return None
    return Bed(
        length=sizes.over_zero("bed_length"),
        pin_diameter=sizes.over_zero("pin_diameter"),
        pin_distance=sizes.over_zero("pin_distance"),
    )


def _depth(table: MarkersTable, sheet: Mm | None, source: str) -> DepthSettings:
    sizes = _Sizes(table, source, "markers")
    return DepthSettings(
        sheet=sheet,
        cut="after" if one_of(table.cut, CUTS, sizes.where("cut")) == "after" else "before",
        proud=sizes.zero_up("proud"),
        depth=sizes.over_zero_or_none("pocket_depth"),
        least_left=sizes.zero_up("least_left"),
        least_floor=sizes.zero_up("least_floor"),
    )


def _side(table: SideTable, source: str) -> SideDots:
    sizes = _Sizes(table, source, "markers.side")
    return SideDots(
        frets=None if table.frets is None else tuple(table.frets),
        doubles=None if table.doubles is None else tuple(table.doubles),
        diameter=sizes.over_zero("diameter"),
        depth=sizes.over_zero("depth"),
        apart=sizes.over_zero("apart"),
    )


SIZES = ("diameter", "length", "width", "length_share", "width_share")


def _overrides(table: MarkersTable, source: str, folder: Path) -> tuple[dict[int, Style], dict[int | None, Artwork]]:
    """Return the style of each fret that has one of its own, and the drawings of these."""
    styles: dict[int, Style] = {}
    drawings: dict[int | None, Artwork] = {}
    for index, mark in enumerate(table.at):
        path = f"markers.at[{index}]"
        if mark.fret in styles:
            message = f"fret {mark.fret} stands here twice"
            raise JobError(message, where=dotted(source, f"{path}.fret"), remedy="put its keys into one table")
        merged = _merged(table, mark)
        styles[mark.fret] = _style(merged, source, path)
        if merged.drawing is not None:
            key = "markers.drawing" if mark.drawing is None else f"{path}.drawing"
            drawings[mark.fret] = Artwork(path=folder / merged.drawing, key=key)
    return styles, drawings


def _merged(base: StyleTable, own: StyleTable) -> StyleTable:
    """Return a fret's own keys over those of all; what belongs to another shape or size is not taken over."""
    keys = {key: getattr(base, key) for key in StyleTable.__struct_fields__}
    mine = {key: value for key in StyleTable.__struct_fields__ if (value := getattr(own, key)) is not None}
    if mine.keys() & {"shape", "drawing"}:
        keys |= dict.fromkeys(("shape", "drawing", "split", "turn_deg", *SIZES))
    elif mine.keys() & set(SIZES):
        keys |= dict.fromkeys(SIZES)
    if "along" in mine:
        keys["edge_distance"] = None
    return StyleTable(**keys | mine)


def _style(table: StyleTable, source: str, path: str) -> Style:
    sizes = _Sizes(table, source, path)
    shape = "dot" if table.drawing is None else "drawing"
    shape = one_of(table.shape or shape, (*SHAPES, "drawing"), sizes.where("shape"))
    _check_shape(table, shape, sizes)
    usual = Style()
    return Style(
        shape=shape,
        diameter=sizes.over_zero_or_none("diameter"),
        length=sizes.over_zero_or_none("length"),
        width=sizes.over_zero_or_none("width"),
        length_share=table.length_share,
        width_share=table.width_share,
        margin=usual.margin if table.margin is None else sizes.zero_up("margin"),
        split=usual.split if table.split is None else sizes.over_zero("split"),
        along=one_of(table.along or "centre", ALONG, sizes.where("along")),
        edge_distance=sizes.over_zero_or_none("edge_distance"),
        spread=table.spread or usual.spread,
        turn_deg=table.turn_deg or 0.0,
    )


def _check_shape(table: StyleTable, shape: str, sizes: _Sizes) -> None:
    """Refuse keys that the shape has no use for, and those that contradict each other."""
    wants = {
        "drawing": ({"drawing"}, "a drawing"),
        "diameter": ({"dot"}, "a dot"),
        "split": ({"split-block"}, "a split block"),
        "turn_deg": ({"drawing"}, "a drawing"),
        **{key: ({*SHAPES, "drawing"} - {"dot"}, "a shape other than a dot") for key in SIZES[1:]},
    }
    for key, (shapes, whose) in wants.items():
        if getattr(table, key) is not None and shape not in shapes:
            raise JobError(
                f"{key} is for {whose}, and this is a {shape}", where=sizes.where(key), remedy="leave it out"
            )
    if shape == "drawing" and table.drawing is None:
        raise JobError("which drawing?", where=sizes.where("drawing"), remedy='name a file: drawing = "leaf.svg"')
    for key in ("length", "width"):
        if getattr(table, key) is not None and getattr(table, f"{key}_share") is not None:
            raise JobError(
                "a size and a share at once", where=sizes.where(key), remedy=f"keep one of {key}, {key}_share"
            )
    edge = (table.along or "centre") != "centre"
    if edge != (table.edge_distance is not None):
        raise JobError(
            "how far from the edge?" if edge else "which edge?",
            where=sizes.where("edge_distance" if edge else "along"),
            remedy='give both: along = "bass", edge_distance = "8mm", to the middle of the marker',
        )
