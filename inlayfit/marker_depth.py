"""How deep a marker is let in, and what sanding the radius leaves of it.

Words: `drop` is how far the finished surface lies below the crown. The floor of a pocket is level, and so is the sheet:
at its edges the surface falls away, and sanding takes that much of the sheet. With the sheet t, the allowance `proud`,
and the least and the most of the drop over the marker,

- the floor lies t - proud + least below the crown: where the surface is highest, the sheet stands proud of it by the
  allowance;
- left at the thinnest is t - proud - (most - least);
- a pocket that is cut on the flat board is as deep as its floor lies below the crown; one that is cut after the radius
  is t - proud deep, measured from the surface where that is highest over the marker.

The drop of a circle, R - sqrt(R^2 - y^2), with a radius that grows in proportion along the board, is convex in x and y
together: over any shape it is largest at a corner. Source: plain geometry (the perspective of a convex function).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.board import Board
from inlayfit.markers import Marker
from inlayfit.units import Mm

Cut = Literal["before", "after"]
"""Whether pockets are cut before the board gets its radius, or after."""

FINE: Mm = 0.2
"""Along an edge the least drop is sought this fine: it is off by FINE^2 / 8 R at most, 0.03 um for a radius of 180."""

TOUCH_MM2 = 1e-6
"""A smaller overlap of two areas is numeric dust."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthSettings:
    """The sheet and how it is let in; `depth` None is reckoned from the sheet and `proud`.

    Less sheet than `least_left`, or less wood than `least_floor`, is worth a warning.
    """

    sheet: Mm | None = None
    cut: Cut = "before"
    proud: Mm = 0.1
    depth: Mm | None = None
    least_left: Mm = 0.3
    least_floor: Mm = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Depth:
    """What sanding leaves of one marker, mm; what cannot be known without the sheet or the board's thickness is None.

    `drop` is the fall of the surface over the marker. `pocket` is the depth to cut, `floor` how far its floor lies
    below the crown. `stands` is how far the sheet stands above the surface before it is sanded, at most; `low` how far
    it lies below it somewhere. `left` is the sheet at its thinnest afterwards. `wood` stands below the floor,
    `wood_at_slot` where a slot crosses the pocket, `wood_at_channel` over the channel in the back; None where neither
    does.
    """

    drop: Mm
    least_drop: Mm
    pocket: Mm | None = None
    floor: Mm | None = None
    stands: Mm | None = None
    low: Mm | None = None
    left: Mm | None = None
    wood: Mm | None = None
    wood_at_slot: Mm | None = None
    wood_at_channel: Mm | None = None


def drops(board: Board, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far the surface lies below the crown at points (n, 2): (n,), mm; see `inlayfit.board.drop`."""
    if board.radius is None:
        return np.zeros(len(points))
    radius = np.asarray(board.radius_at(points[:, 0]), dtype=np.float64)  # type: ignore[arg-type]  # plain arithmetic
    off = points[:, 1]
    return off**2 / (radius + np.sqrt(np.maximum(radius**2 - off**2, 0.0)))


def least_and_most_drop(board: Board, area: shapely.Geometry) -> tuple[Mm, Mm]:
    """Return the least and the most that the surface lies below the crown, over an area."""
    corners = drops(board, shapely.get_coordinates(area))
    crown = shapely.LineString([(-board.length, 0.0), (2 * board.length, 0.0)])
    if shapely.intersects(area, crown):
        return 0.0, float(corners.max())
    between = drops(board, shapely.get_coordinates(shapely.segmentize(area, FINE)))
    return float(between.min()), float(corners.max())


def depth_of(marker: Marker, pocket: shapely.Geometry, board: Board, settings: DepthSettings) -> Depth:
    """Return the depths of one marker; `pocket` is what is cut for it, in the coordinates of the board."""
    least, most = least_and_most_drop(board, marker.area)
    if settings.sheet is None:
        return Depth(drop=most - least, least_drop=least)
    sheet = settings.sheet
    reckoned = sheet - settings.proud + (least if settings.cut == "before" else 0.0)
    depth = reckoned if settings.depth is None else settings.depth
    floor = depth + (least if settings.cut == "after" else 0.0)
    before = settings.cut == "before"
    return Depth(
        drop=most - least,
        least_drop=least,
        pocket=depth,
        floor=floor,
        stands=sheet - floor + (0.0 if before else most),
        low=max(floor - least - sheet, 0.0),
        left=min(sheet, floor - most),
        wood=None if board.thickness is None else board.thickness - floor,
        wood_at_slot=_wood_at_slot(pocket, board, floor),
        wood_at_channel=_wood_at_channel(pocket, board, floor),
    )


def _wood_at_slot(pocket: shapely.Geometry, board: Board, floor: Mm) -> Mm | None:
    """Return the wood under the deeper of pocket and slot where a slot crosses the pocket."""
    if board.thickness is None:
        return None
    deepest = [
        max(floor, least_and_most_drop(board, shared)[1] + (board.slot_depth or 0.0))
        for _, shared in crossed_slots(pocket, board)
    ]
    return board.thickness - max(deepest) if deepest else None


def crossed_slots(area: shapely.Geometry, board: Board) -> list[tuple[int, shapely.Geometry]]:
    """Return the frets whose slots an area overlaps, each with what they share."""
    found = []
    left, _, right, _ = area.bounds
    for fret in board.slots:
        line = board.fret_line(fret)
        room = board.slot_width * (1 + abs(line.lean))
        if max(line.bass[0], line.treble[0]) + room < left or min(line.bass[0], line.treble[0]) - room > right:
            continue
        shared = shapely.intersection(area, shapely.Polygon(board.slot(fret)))
        if shared.area > TOUCH_MM2:
            found.append((fret, shared))
    return found


def channel_area(board: Board) -> shapely.Polygon | None:
    """Return the channel in the back as it lies under the face, if there is one."""
    channel = board.channel
    if channel is None:
        return None
    end = board.length if channel.end is None else channel.end
    return shapely.box(channel.start, -channel.width / 2, end, channel.width / 2)


def _wood_at_channel(pocket: shapely.Geometry, board: Board, floor: Mm) -> Mm | None:
    area = channel_area(board)
    if area is None or board.channel is None or board.thickness is None:
        return None
    if shapely.intersection(pocket, area).area <= TOUCH_MM2:
        return None
    return board.thickness - floor - board.channel.depth
