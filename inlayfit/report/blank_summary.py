"""The JSON of a layout, and the list to cut by as CSV: lengths in millimetres, angles in degrees, yield in percent."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Any

from inlayfit.layout import Layout, sides_of
from inlayfit.recipe import Piece
from inlayfit.report.summary import plain_table

COLUMNS = (
    "number",
    "piece",
    "stock",
    "length_mm",
    "width_mm",
    "area_mm2",
    "blank",
    "x_mm",
    "y_mm",
    "angle_deg",
    "mirrored",
)
"""Of the list to cut by; length and width are the sides of the least rectangle round the piece."""


def blank_summary(layout: Layout, pieces: Sequence[Piece]) -> dict[str, Any]:
    """Return what a layout adds to the document of a fit."""
    return plain_table(
        {
            "blanks": [
                {
                    "name": laid.blank.name,
                    "stock": laid.blank.stock,
                    "width_mm": laid.blank.size[0],
                    "height_mm": laid.blank.size[1],
                    "thickness_mm": laid.blank.thickness,
                    "yield": laid.yield_percent,
                    "pieces": [
                        {
                            "name": pieces[one.piece].name,
                            "number": layout.numbers[one.piece],
                            "x": one.x,
                            "y": one.y,
                            "angle_deg": one.angle_deg,
                            "mirrored": one.mirrored,
                        }
                        for one in laid.pieces
                    ],
                }
                for laid in layout.blanks
            ],
            "blank_stocks": [
                {"stock": one.stock, "used": one.used, "owned": one.owned, "yield": one.yield_percent}
                for one in layout.stocks
            ],
            "cut_list": cut_list(layout, pieces),
        }
    )


def cut_list(layout: Layout, pieces: Sequence[Piece]) -> list[dict[str, Any]]:
    """Return a row for each piece in the order of the numbers; without a place its blank is empty."""
    places = {one.piece: (laid.blank.name, one) for laid in layout.blanks for one in laid.pieces}
    rows = []
    for index in sorted(range(len(pieces)), key=lambda index: _order(layout.numbers[index])):
        piece = pieces[index]
        blank, laid = places.get(index, (None, None))
        length, width = sides_of(piece.outline)
        rows.append(
            {
                "number": layout.numbers[index],
                "piece": piece.name,
                "stock": piece.stock,
                "length_mm": length,
                "width_mm": width,
                "area_mm2": float(piece.outline.area),
                "blank": blank,
                "x_mm": None if laid is None else laid.x,
                "y_mm": None if laid is None else laid.y,
                "angle_deg": None if laid is None else laid.angle_deg,
                "mirrored": None if laid is None else laid.mirrored,
            }
        )
    return rows


def _order(number: str) -> tuple[int, str, int]:
    letters = number.rstrip("0123456789")
    return len(letters), letters, int(number[len(letters) :])


def cut_list_csv(layout: Layout, pieces: Sequence[Piece]) -> str:
    """Return the list as CSV with a line of headings (RFC 4180)."""
    text = io.StringIO()
    table = csv.DictWriter(text, COLUMNS)
    table.writeheader()
    for row in cut_list(layout, pieces):
        table.writerow({key: _cell(value) for key, value in row.items()})
    return text.getvalue()


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.3f}"
    return "" if value is None else str(value)
