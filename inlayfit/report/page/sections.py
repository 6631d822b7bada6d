"""The sections below the drawing of any fit: pieces, pockets, files, what was read, cautions."""

from __future__ import annotations

from typing import Any

from inlayfit.drawing import Drawing
from inlayfit.report.page.markup import Cell, Document, figure, number, numbers, quiet, section, table, text
from inlayfit.report.program_summary import START_SLOWLY
from inlayfit.report.reading import reading_lines
from inlayfit.report.terminal import CAUTION


def pieces(document: Document) -> list[str]:
    """Return the table of pieces with the gap that each will have."""
    columns = [
        ("", "piece"),
        ("", "stock"),
        ("", "pocket"),
        *numbers("gap asked, min, mean, max, even"),
        ("number", "mm2"),
    ]
    rows = [
        [
            *(("", piece[key]) for key in ("name", "stock", "pocket")),
            *(number(piece["gap"][key]) for key in ("nominal", "min", "mean", "max")),
            ("number", f"{piece['gap']['even_share']:.0%}"),
            ("number", f"{piece['area_mm2']:.2f}"),
        ]
        for piece in document["pieces"]
    ]
    says = "mm a side, square to the seam, between what the two written paths leave; even: within 0.002 mm of asked"
    return section("pieces", "Pieces", [quiet(says), *table("pieces", columns, rows)])


def pockets(document: Document) -> list[str]:
    """Return the table of pockets."""
    columns = [("", "pocket"), ("prose", "pieces in it"), *numbers("deep, wide, high, mm2, way of the cutter")]
    rows = []
    for pocket in document["pockets"]:
        left, bottom, right, top = pocket["bounds_mm"]
        row: list[Cell] = [("", pocket["name"]), ("prose", ", ".join(pocket["pieces"]))]
        row += [
            ("number", _depths(pocket)),
            number(right - left),
            number(top - bottom),
            ("number", f"{pocket['area_mm2']:.2f}"),
        ]
        rows.append([*row, number(pocket["path_length_mm"])])
    return section("pockets", "Pockets", [quiet("mm"), *table("pockets", columns, rows)])


def programs(document: Document) -> list[str]:
    """Return the table of the cutting programs, or nothing where there are none."""
    if "programs" not in document:
        return []
    columns = [("", "program"), ("", "of"), *numbers("bit, turns, feed, at once, lowest, minutes")]
    rows = []
    for one in document["programs"]:
        row: list[Cell] = [("", one["file"]), ("", one["of"]), number(one["bit_mm"])]
        row += [("number", f"{one[key]:.0f}") for key in ("rpm", "feed_mm_per_min")]
        row += [number(one["pass_mm"]), number(one["lowest_mm"]), ("number", f"{one['minutes']:.1f}")]
        rows.append(row)
    says = f"mm and turns a minute, feed in mm a minute; {START_SLOWLY}"
    return section("programs", "Cutting programs", [quiet(says), *table("programs", columns, rows)])


def _depths(pocket: dict[str, Any]) -> str:
    """Return how deep a pocket is, step by step, where that is known."""
    steps = [zone["depth_mm"] for zone in pocket.get("zones") or [{"depth_mm": pocket.get("depth_mm")}]]
    return " / ".join(figure(step) or "-" for step in steps)


def reading(drawing: Drawing) -> list[str]:
    """Return what was understood of the drawing."""
    lines = [
        f"<dt>{text(line.label)}</dt><dd>{text(line.text)}{f' <i>{text(line.remedy)}</i>' if line.remedy else ''}</dd>"
        for line in reading_lines(drawing)
    ]
    return section("reading", "What was read", ['<dl class="reading">', *lines, "</dl>"])


def files(document: Document) -> list[str]:
    """Return the files that lie beside the page."""
    columns = [("", "file"), ("", "kind")]
    rows = [[("", file["path"]), ("", file["kind"])] for file in document["files"]]
    return section("files", "Files beside this page", table("files", columns, rows))


def cautions() -> list[str]:
    """Return what keeps hands and lungs whole."""
    return section("cautions", "Cautions", [f"<p>{text(CAUTION)}</p>"])
