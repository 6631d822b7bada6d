"""The blanks: each as it is cut, with the numbers of its pieces, and the list to cut by."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from inlayfit.report.page.markup import Cell, Document, number, numbers, quiet, section, table, text
from inlayfit.sheet import GUIDE, Sheet
from inlayfit.write.svg import layer_lines, view_box

PX_PER_MM = 5
"""Of a blank on the screen, where there is room."""

SHOWN = (GUIDE, "PIECE_OUTLINE")
"""Of the layers of a blank: its edge with the numbers, and the pieces."""


def blank_section(document: Document, sheets: Sequence[Sheet]) -> list[str]:
    """Return the blanks as they are laid out, or nothing where none are named; `sheets` are their drawings."""
    if not sheets:
        return []
    rows = zip(sheets, document["blanks"], strict=True)
    drawn = [
        _blank(index, sheet, f"{blank['yield']:.0f} % becomes pieces") for index, (sheet, blank) in enumerate(rows)
    ]
    return section("blanks", "Blanks", ['<div class="blanks">', *drawn, "</div>", *_cut_list(document)])


def blank_id(index: int) -> str:
    """Return the name of what is drawn of a blank, for the pattern to show it again."""
    return f"blank-{index + 1}"


def _blank(index: int, sheet: Sheet, says: str) -> str:
    box = view_box(sheet)
    width = float(box.split()[2]) * PX_PER_MM
    lines = [line for name in SHOWN if name in sheet.layer_names for line in _layer(sheet, name)]
    return (
        f'<figure><svg class="blank" role="img" aria-label="{text(sheet.title)}" width="{width:g}" viewBox="{box}">'
        f'<g id="{blank_id(index)}">{"".join(lines)}</g></svg>'
        f'<figcaption>{text(sheet.title)}<br/><span class="quiet">{text(says)}</span></figcaption></figure>'
    )


def _layer(sheet: Sheet, name: str) -> Iterator[str]:
    yield f'<g class="{name}">'
    yield from layer_lines(sheet, name)
    yield "</g>"


def _cut_list(document: Document) -> list[str]:
    columns: list[Cell] = [("", "number"), ("", "piece"), ("", "stock"), *numbers("long, wide, mm2"), ("", "blank")]
    columns += numbers("x, y, turned")
    rows = []
    for row in document["cut_list"]:
        cells: list[Cell] = [("", row["number"]), ("", row["piece"]), ("", row["stock"])]
        cells += [number(row["length_mm"]), number(row["width_mm"]), number(row["area_mm2"])]
        where = "no place" if row["blank"] is None else row["blank"] + (", mirrored" if row["mirrored"] else "")
        turned = "-" if row["angle_deg"] is None else f"{row['angle_deg']:.1f}"
        rows.append([*cells, ("", where), number(row["x_mm"]), number(row["y_mm"]), ("number", turned)])
    says = "mm and degrees; long and wide: the least rectangle round the piece; x, y: its middle on the blank"
    return [quiet(says), *table("blanks", columns, rows)]
