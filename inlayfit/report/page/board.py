"""The sections of a board: markers, depths, side dots, setups."""

from __future__ import annotations

from typing import Any

from inlayfit.report.page.markup import Cell, Document, figure, number, numbers, quiet, section, table

WOODS = ("wood_mm", "wood_at_slot_mm", "wood_at_channel_mm")


def board_sections(document: Document, depth_legend: str) -> list[str]:
    """Return the sections of the board, or nothing where there is none; `depth_legend` says what the depths mean."""
    if "board" not in document:
        return []
    return [*_markers(document), *_depths(document, depth_legend), *_side_dots(document), *_setups(document)]


def _markers(document: Document) -> list[str]:
    columns = [("", "marker"), ("number", "fret"), ("", "shape"), *numbers("x, y, long, wide"), ("", "piece")]
    columns += numbers("gap asked, min, mean, max")
    pieces = {piece["name"]: piece for piece in document["pieces"]}
    rows = []
    for marker in document["markers"]:
        figures = (marker[key] for key in ("x", "y", "length_mm", "width_mm"))
        head: list[Cell] = [("", marker["name"]), ("number", str(marker["fret"])), ("", marker["shape"])]
        head += map(number, figures)
        rows += [[*head, *_gap(pieces.get(name))] for name in marker["pieces"] or (None,)]
    says = "mm; x from the nut and y from the centre line to the middle of the marker; the gap is that of one side"
    return section("markers", "Markers", [quiet(says), *table("markers", columns, rows)])


def _gap(piece: dict[str, Any] | None) -> list[Cell]:
    if piece is None:
        return [("", "none is left"), *[number(None)] * 4]
    return [("", piece["name"]), *(number(piece["gap"][key]) for key in ("nominal", "min", "mean", "max"))]


def _depths(document: Document, legend: str) -> list[str]:
    columns = [("", "marker"), *numbers("drop, sheet left, pocket depth, wood left")]
    rows = []
    for marker in document["markers"]:
        woods = [marker[key] for key in WOODS if marker[key] is not None]
        figures = (marker["drop_mm"], marker["left_mm"], marker["pocket_depth_mm"], min(woods, default=None))
        rows.append([("", marker["name"]), *map(number, figures)])
    return section("depths", "Depths", [quiet(f"mm, at each marker: {legend}"), *table("depths", columns, rows)])


def _side_dots(document: Document) -> list[str]:
    if not document["side_dots"]:
        return section("side-dots", "Side dots", [quiet("There are none.")])
    columns = numbers("fret, along the edge, over the back, diameter, depth, x, y")
    keys = ("along_edge_mm", "over_back_mm", "diameter_mm", "depth_mm", "x", "y")
    rows = [[("number", str(dot["fret"])), *(number(dot[key]) for key in keys)] for dot in document["side_dots"]]
    says = "mm; along the bass edge from its end at the nut"
    return section("side-dots", "Side dots", [quiet(says), *table("side-dots", columns, rows)])


def _setups(document: Document) -> list[str]:
    if len(document["setups"]) < 2:
        return section("setups", "Setups", [quiet("The board is cut in one go.")])
    columns = [*numbers("setup, from, to, shift"), ("", "pins at x, y")]
    rows = [
        [
            ("number", str(setup["number"])),
            *(number(setup[key]) for key in ("start_mm", "end_mm", "shift_mm")),
            ("", "; ".join(f"{figure(x)}, {figure(y)}" for x, y in setup["pins_mm"])),
        ]
        for setup in document["setups"]
    ]
    says = "mm on the board; the x of the machine is that of the board less the shift; neighbours share two pins"
    return section("setups", "Setups", [quiet(says), *table("setups", columns, rows)])
