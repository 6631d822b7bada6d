"""What the maker must know of the markers on a board: too near, too wide, too thin, too deep."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import shapely

from inlayfit.board import Board
from inlayfit.findings import Finding, Severity
from inlayfit.marker_depth import TOUCH_MM2, Depth, DepthSettings, channel_area, crossed_slots
from inlayfit.markers import Marker
from inlayfit.units import Mm, format_mm

HAIR: Mm = 0.001
"""A distance that is short by less than this is kept."""

AT_NUT = "the nut"


def place_remarks(markers: Sequence[Marker], pockets: Sequence[shapely.Geometry], board: Board) -> list[Finding]:
    """Return where markers, and what is cut for each, meet slots, edges and one another."""
    findings: list[Finding] = []
    for marker, pocket in zip(markers, pockets, strict=True):
        findings += [*_slots(marker, pocket, board), *_edges(marker, pocket, board), *_space(marker, board)]
    return findings + _pairs(markers)


def _slots(marker: Marker, pocket: shapely.Geometry, board: Board) -> Iterator[Finding]:
    """Yield the slots, and the nut, that a pocket breaks into or comes too near."""
    crossed = dict(crossed_slots(pocket, board))
    for fret, shared in crossed.items():
        yield _finding(
            "breaks-slot",
            "loss",
            marker,
            shared,
            f"the pocket breaks into the slot of fret {fret}, over {shared.area:.2f} mm2",
            "make the marker smaller, or leave this fret out",
            area_mm2=float(shared.area),
        )
    for name, line in _lines_near(marker, board):
        short = marker.style.margin - float(shapely.distance(marker.area, line))
        if short > HAIR and name not in {f"the slot of fret {fret}" for fret in crossed}:
            yield _finding(
                "near-slot",
                "warning",
                marker,
                shapely.shortest_line(marker.area, line),
                f"{format_mm(marker.style.margin - short)} from {name}: {format_mm(marker.style.margin)} shall be kept",
                "make the marker smaller, or allow less with margin",
                size_mm=marker.style.margin - short,
            )


def _lines_near(marker: Marker, board: Board) -> Iterator[tuple[str, shapely.Geometry]]:
    """Yield the slots on either side of a marker, and the nut where that is one of them."""
    for fret in (marker.fret - 1, marker.fret):
        if fret in board.slots:
            yield f"the slot of fret {fret}", shapely.Polygon(board.slot(fret))
        elif fret == 0:
            yield AT_NUT, shapely.LineString(board.nut_line)


def _edges(marker: Marker, pocket: shapely.Geometry, board: Board) -> Iterator[Finding]:
    outline = shapely.Polygon(board.outline)
    outside = shapely.difference(pocket, outline)
    if outside.area > TOUCH_MM2:
        yield _finding(
            "over-edge",
            "loss",
            marker,
            outside,
            f"the pocket runs over the edge of the board, with {outside.area:.2f} mm2",
            "make the marker smaller, or move it in",
            area_mm2=float(outside.area),
        )
        return
    nut_bass, end_bass, end_treble, nut_treble = board.outline
    for name, ends in (("bass edge", (nut_bass, end_bass)), ("treble edge", (nut_treble, end_treble))):
        edge = shapely.LineString(ends)
        away = float(shapely.distance(marker.area, edge))
        if marker.style.margin - away > HAIR:
            yield _finding(
                "near-edge",
                "warning",
                marker,
                shapely.shortest_line(marker.area, edge),
                f"{format_mm(away)} from the {name}: {format_mm(marker.style.margin)} shall be kept",
                "make the marker narrower, or allow less with margin",
                size_mm=away,
            )


def _space(marker: Marker, board: Board) -> Iterator[Finding]:
    """Yield where a marker is wider than what it stands in: across both slots beside it, or from edge to edge."""
    length, width = marker.size
    room, across = marker.place.space - board.slot_width, marker.place.across
    both = all(shapely.intersects(marker.area, slot) for _, slot in _lines_near(marker, board))
    for wider, size, most, what in (
        (both, length, room, "space between the frets"),
        (width > across, width, across, "board"),
    ):
        if wider:
            yield _finding(
                "wider-than-space",
                "loss",
                marker,
                marker.area,
                f"{format_mm(size)} is wider than the {what}, {format_mm(most)}",
                f"{format_mm(max(most - 2 * marker.style.margin, 0.0))} would keep the margin",
                size_mm=size,
            )


def _pairs(markers: Sequence[Marker]) -> list[Finding]:
    """Return the markers that run into one another: they would become one piece."""
    return [
        _finding(
            "markers-meet",
            "loss",
            one,
            shapely.shortest_line(one.area, other.area),
            f"runs into {other.name}",
            "make them smaller, or spread the pair",
        )
        for index, one in enumerate(markers)
        for other in markers[index + 1 :]
        if shapely.distance(one.area, other.area) < HAIR
    ]


def depth_remarks(
    marker: Marker, depth: Depth, pocket: shapely.Geometry, board: Board, settings: DepthSettings, tolerance: Mm
) -> Iterator[Finding]:
    """Yield what is wrong with the depth of one marker."""
    if depth.left is not None:
        yield from _thin(marker, depth, depth.left, settings)
    if depth.stands is not None and depth.stands > settings.proud + tolerance:
        yield _finding(
            "stands-proud",
            "warning",
            marker,
            _farthest(marker),
            f"stands up to {format_mm(depth.stands)} above the surface before it is sanded",
            "sand it flush with care" if settings.depth is None else "cut the pocket deeper, or take thinner sheet",
            size_mm=depth.stands,
        )
    if depth.low is not None and depth.low > HAIR:
        yield _finding(
            "lies-low",
            "loss",
            marker,
            marker.area,
            f"lies {format_mm(depth.low)} below the finished surface",
            "cut the pocket less deep, or take thicker sheet",
            size_mm=depth.low,
        )
    yield from _floors(marker, depth, pocket, board, settings)


def _thin(marker: Marker, depth: Depth, left: Mm, settings: DepthSettings) -> Iterator[Finding]:
    """Yield where sanding the radius goes through the sheet, or nearly."""
    if left >= settings.least_left:
        return
    through = left <= 0
    sheet = format_mm(settings.sheet or 0.0)
    yield _finding(
        "sanded-through" if through else "sanded-thin",
        "loss" if through else "warning",
        marker,
        _farthest(marker),
        f"the surface falls {format_mm(depth.drop)} over it: "
        + (f"sanding goes through the sheet of {sheet}" if through else f"{format_mm(left)} of {sheet} are left"),
        "take thicker sheet, make the marker narrower, or cut it in strips",
        size_mm=left,
    )


def _farthest(marker: Marker) -> shapely.Geometry:
    """Return the corner of a marker that lies farthest from the centre line: there most is sanded off."""
    return max(shapely.points(shapely.get_coordinates(marker.area)), key=lambda point: abs(point.y))


def _floors(
    marker: Marker, depth: Depth, pocket: shapely.Geometry, board: Board, settings: DepthSettings
) -> Iterator[Finding]:
    """Yield where little wood, or none, is left under a pocket."""
    channel = channel_area(board)
    over = marker.area if channel is None else shapely.intersection(pocket, channel)
    crossed = [shared for _, shared in crossed_slots(pocket, board)]
    for wood, spot, through, what in (
        (depth.wood, marker.area, "breaks-through", "the back of the board"),
        (depth.wood_at_channel, over, "breaks-channel", "the channel in the back"),
        (depth.wood_at_slot, shapely.union_all(crossed) if crossed else None, "breaks-through", "the back, at a slot"),
    ):
        if wood is None or spot is None or wood >= settings.least_floor:
            continue
        yield _finding(
            through if wood <= 0 else "thin-floor",
            "loss" if wood <= 0 else "warning",
            marker,
            spot,
            f"the pocket breaks into {what}" if wood <= 0 else f"{format_mm(wood)} of wood are left over {what}",
            "take thinner sheet or a thicker board",
            size_mm=wood,
        )


def _finding(
    kind: str,
    severity: Severity,
    marker: Marker,
    spot: shapely.Geometry,
    message: str,
    remedy: str,
    *,
    size_mm: Mm | None = None,
    area_mm2: float | None = None,
) -> Finding:
    """Return a finding at a spot on the board."""
    at = shapely.point_on_surface(spot)
    return Finding(
        kind=kind,
        severity=severity,
        part="board",
        name=marker.name,
        x=float(at.x),
        y=float(at.y),
        message=message,
        remedy=remedy,
        size_mm=size_mm,
        area_mm2=area_mm2,
    )
