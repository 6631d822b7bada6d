"""What a maker reads of a board on the screen: each marker with its place and its depth."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from inlayfit.board_recipe import BoardFit
from inlayfit.marker_depth import Depth
from inlayfit.setups import Setup
from inlayfit.units import Mm, format_mm

COLUMNS = ("x", "y", "long", "wide", "drop", "depth", "left", "wood")


def board_report(result: BoardFit, setups: Sequence[Setup] = ()) -> list[RenderableType]:
    """Return the markers of a board, and how it is split, from top to bottom."""
    return [
        Text(f"\n{board_line(result)}"),
        Text(),
        _markers(result),
        Text(f"\n{_legend(result)}"),
        *_setups(setups),
    ]


def board_line(result: BoardFit) -> str:
    """Return the board in one line: scale, frets, length, widths, radius, side dots."""
    board = result.board
    scale = format_mm(board.scale.bass)
    if board.scale.fanned:
        scale += f" to {format_mm(board.scale.treble)}"
    words = [f"scale {scale}", f"{board.scale.frets} frets", f"{format_mm(board.length, 1)} long"]
    ends = [board.nut_width, abs(board.outline[1][1]) + abs(board.outline[2][1])]
    words.append(f"{format_mm(ends[0], 1)[:-3]} to {format_mm(ends[1], 1)} wide")
    if board.radius is not None:
        end = board.radius_at(board.length)
        words.append(f"radius {format_mm(board.radius, 1)}" + (f" to {format_mm(end, 1)}" if board.end_radius else ""))
    if result.dots:
        words.append(f"{len(result.dots)} side dots")
    return "Board: " + ", ".join(words)


def _markers(result: BoardFit) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), show_edge=False, header_style="bold")
    table.add_column("marker", overflow="fold")
    for heading in COLUMNS:
        table.add_column(heading, justify="right", no_wrap=True)
    for marker, depth in zip(result.markers, result.depths, strict=True):
        figures = (marker.place.x, marker.place.y, *marker.size, depth.drop, depth.pocket, depth.left)
        table.add_row(marker.name, *(figure(value) for value in (*figures, least_wood(depth))))
    return table


def least_wood(depth: Depth) -> Mm | None:
    """Return the least wood under a pocket, also where it meets a slot or the channel; None where it is not known."""
    woods = (depth.wood, depth.wood_at_slot, depth.wood_at_channel)
    return min((wood for wood in woods if wood is not None), default=None)


def figure(value: Mm | None) -> str:
    """Return a length with three decimals; nothing where it is not known."""
    return "" if value is None else f"{round(value, 3) + 0.0:.3f}"


def _legend(result: BoardFit) -> str:
    return f"mm; x from the nut and y from the centre line to the middle of the marker; {depth_legend(result)}"


def depth_legend(result: BoardFit) -> str:
    """Return what the depths of the markers mean, or what they want to be reckoned."""
    settings = result.depth_settings
    if settings.sheet is None:
        return "drop of the surface over it. For depths give piece.thickness"
    cut = "before the radius: from the flat face" if settings.cut == "before" else "after the radius: from the surface"
    return (
        f"drop of the surface over it; depth of its pocket, cut {cut}; "
        f"what is left of {format_mm(settings.sheet)} at the thinnest; the least wood under it"
    )


def _setups(setups: Sequence[Setup]) -> list[RenderableType]:
    if len(setups) < 2:
        return []
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(style="bold", no_wrap=True)
    table.add_column(overflow="fold")
    for setup in setups:
        pins = "; ".join(f"{x:.3f}, {y:.3f}" for x, y in setup.pins)
        table.add_row(
            f"Setup {setup.number}",
            f"{setup.start:.1f} to {setup.end:.1f} mm from the nut, shifted by {setup.shift:.3f}; pins at {pins}",
        )
    return [Text(), table]
