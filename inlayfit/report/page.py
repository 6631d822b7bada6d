"""The whole board on one page to look at, to print and to keep: HTML that stands alone, without network or script.

It is well-formed XML as well, so that any reader can take it apart.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

import shapely

from inlayfit.board_recipe import BoardFit
from inlayfit.board_sheets import BoardDrawn
from inlayfit.findings import Finding, Severity
from inlayfit.marker_depth import TOUCH_MM2
from inlayfit.recipe import Piece
from inlayfit.report.board_terminal import board_line, depth_legend, figure, least_wood
from inlayfit.report.page_style import style_sheet
from inlayfit.report.places import Place, is_softened, places_of
from inlayfit.report.reading import number_of
from inlayfit.report.terminal import CAUTION, fit_verdict
from inlayfit.sheet import GUIDE, Sheet, plain_text
from inlayfit.units import Mm
from inlayfit.write.svg import group_lines, view_box

WORDS: dict[Severity, str] = {"loss": "Loss", "warning": "Warning", "note": "Note"}
SOFTENED = "Softened"

LAYERS = {
    "BOARD_OUTLINE": "edge of the board",
    "SLOT_OUTLINE": "walls of the slots",
    "SLOT_PATH": "middle of the slots",
    "POCKET_OUTLINE": "walls of the pockets",
    "POCKET_PATH": "way of the cutter's middle along the pockets",
    "PIN_HOLE": "holes for the pins",
    GUIDE: "markers as drawn, channel, centre line, side dots, numbers",
}
"""What stands on the layers of a board."""

Cell = tuple[str, str]
"""The classes of a cell, and its text as it is: it is escaped where it is set."""


def board_page(board: BoardDrawn, *, job: str) -> bytes:
    """Return the page in UTF-8; the same board gives the same bytes. `job` is the name of the job."""
    result, sheet = board.result, board.sheets[0]
    verdict = fit_verdict(result.fit, places_of(result.fit.findings)).plain
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en">',
            '<head><meta charset="utf-8"/><meta name="viewport" content="width=device-width, initial-scale=1"/>',
            f"<title>{_text(job)}: the board</title>",
            f"<style>\n{style_sheet()}</style></head>",
            f"<body><header><h1>{_text(job)}</h1>",
            f"<p><strong>{_text(verdict)}</strong></p><p>{_text(board_line(result))}</p></header><main>",
            *_section("drawing", "Drawing", _drawing(sheet, board_line(result))),
            *_section("markers", "Markers", _markers(result)),
            *_section("depths", "Depths", _depths(result)),
            *_section("side-dots", "Side dots", _side_dots(result)),
            *_section("setups", "Setups", _setups(board)),
            *_section("findings", "Findings", _findings(result)),
            *_section("cautions", "Cautions", [_quiet(CAUTION)]),
            "</main></body></html>",
            "",
        ]
    ).encode()


def _section(name: str, heading: str, body: Iterable[str]) -> list[str]:
    head = f'<section id="{name}"><h2 id="{name}-heading">{heading}</h2>'
    return [head, *body, "</section>"]


def _drawing(sheet: Sheet, says: str) -> list[str]:
    keys = [f'<li><span class="key-{name}"></span>{LAYERS[name]}</li>' for name in sheet.layer_names]
    return [
        '<figure style="margin: 0"><div class="scroll" tabindex="0" role="region" aria-label="Drawing of the board">',
        f'<svg class="drawing" role="img" aria-labelledby="drawing-title drawing-desc" viewBox="{view_box(sheet)}">',
        f'<title id="drawing-title">{_text(sheet.title)}</title>',
        f'<desc id="drawing-desc">{_text(says)}. The sections below hold all its figures.</desc>',
        *group_lines(sheet),
        f'</svg></div><figcaption><ul class="key">{"".join(keys)}</ul></figcaption></figure>',
    ]


def _markers(result: BoardFit) -> list[str]:
    columns = [("marker", ""), ("fret", "number"), ("shape", "")]
    columns += [(name, "number") for name in ("x", "y", "long", "wide")] + [("piece", "")]
    columns += [(name, "number") for name in ("gap asked", "min", "mean", "max")]
    rows = []
    for marker, pieces in zip(result.markers, _pieces_of(result), strict=True):
        figures = (marker.place.x, marker.place.y, *marker.size)
        of_marker = [("", marker.name), ("number", str(marker.fret)), ("", marker.style.shape), *map(_number, figures)]
        rows += [[*of_marker, *_gap(piece)] for piece in pieces or (None,)]
    says = "mm; x from the nut and y from the centre line to the middle of the marker; the gap is that of one side"
    return [_quiet(says), *_table("markers", columns, rows)]


def _pieces_of(result: BoardFit) -> list[list[Piece]]:
    """Return the pieces of each marker: those in its pockets that lie on it."""
    return [
        [
            piece
            for piece in result.fit.pieces
            if piece.pocket in pockets and shapely.intersection(piece.outline, marker.area).area > TOUCH_MM2
        ]
        for marker, pockets in zip(result.markers, result.pockets, strict=True)
    ]


def _gap(piece: Piece | None) -> list[Cell]:
    if piece is None:
        return [("", "none is left"), *[_number(None)] * 4]
    gap = piece.gap
    return [("", piece.name), *map(_number, (gap.nominal, gap.min, gap.mean, gap.max))]


def _depths(result: BoardFit) -> list[str]:
    columns = [("marker", "")]
    columns += [(name, "number") for name in ("drop", "sheet left", "pocket depth", "wood left")]
    rows = [
        [("", marker.name), *map(_number, (depth.drop, depth.left, depth.pocket, least_wood(depth)))]
        for marker, depth in zip(result.markers, result.depths, strict=True)
    ]
    return [_quiet(f"mm, at each marker: {depth_legend(result)}"), *_table("depths", columns, rows)]


def _side_dots(result: BoardFit) -> list[str]:
    if not result.dots:
        return [_quiet("There are none.")]
    columns = [(name, "number") for name in ("fret", "along the edge", "over the back", "diameter", "depth", "x", "y")]
    rows = [
        [("number", str(dot.fret)), *map(_number, (dot.along_edge, dot.up, dot.diameter, dot.depth, dot.x, dot.y))]
        for dot in result.dots
    ]
    return [_quiet("mm; along the bass edge from its end at the nut"), *_table("side-dots", columns, rows)]


def _setups(board: BoardDrawn) -> list[str]:
    if len(board.setups) < 2:
        return [_quiet("The board is cut in one go.")]
    columns = [(name, "number") for name in ("setup", "from", "to", "shift")] + [("pins at x, y", "")]
    rows = [
        [
            ("number", str(setup.number)),
            *map(_number, (setup.start, setup.end, setup.shift)),
            ("", "; ".join(f"{figure(x)}, {figure(y)}" for x, y in setup.pins)),
        ]
        for setup in board.setups
    ]
    says = "mm on the board; the x of the machine is that of the board less the shift; neighbours share two pins"
    return [_quiet(says), *_table("setups", columns, rows)]


def _findings(result: BoardFit) -> list[str]:
    """Return the places, the worst first; those of which the same is said stand in one row."""
    lots: dict[tuple[str, str, str], list[Place]] = {}
    for place in places_of(result.fit.findings):
        worst = place.worst
        lots.setdefault((_word(worst), worst.message, worst.remedy), []).append(place)
    if not lots:
        return [_quiet("There are none.")]
    columns = [("how bad", ""), ("where, x, y mm", ""), ("what", "prose"), ("what to do", "prose")]
    rows = [
        [(lot[0].worst.severity, word), ("prose", _spots(lot)), ("prose", message), ("prose", remedy)]
        for (word, message, remedy), lot in lots.items()
    ]
    count = number_of(sum(map(len, lots.values())), "place")
    return [_quiet(f"{count}, the worst first"), *_table("findings", columns, rows)]


def _word(finding: Finding) -> str:
    return SOFTENED if is_softened(finding) else WORDS[finding.severity]


def _spots(lot: Sequence[Place]) -> str:
    """Return the names with their places: fret 3 at 72.5, 21.1; 101.3, 21.1."""
    spots: dict[str, list[str]] = {}
    for place in lot:
        worst = place.worst
        spots.setdefault(worst.name, []).append(f"{worst.x:.1f}, {worst.y:.1f}")
    return "\n".join(f"{name} at {'; '.join(at)}" if name else "; ".join(at) for name, at in spots.items())


def _table(name: str, columns: Sequence[Cell], rows: Sequence[Sequence[Cell]]) -> list[str]:
    """Return a table that scrolls within itself; columns are (heading, class), the first heads its row."""
    heads = "".join(f'<th scope="col"{_classes(kind)}>{_text(heading)}</th>' for heading, kind in columns)
    return [
        f'<div class="scroll" tabindex="0" role="region" aria-labelledby="{name}-heading">',
        f"<table><thead><tr>{heads}</tr></thead><tbody>",
        *(f"<tr>{_cell('th', *row[0])}{''.join(_cell('td', *cell) for cell in row[1:])}</tr>" for row in rows),
        "</tbody></table></div>",
    ]


def _cell(tag: str, kind: str, text: str) -> str:
    scope = ' scope="row"' if tag == "th" else ""
    return f"<{tag}{scope}{_classes(kind)}>{'<br/>'.join(map(_text, text.splitlines()))}</{tag}>"


def _classes(kind: str) -> str:
    return f' class="{kind}"' if kind else ""


def _number(value: Mm | None) -> Cell:
    return "number", figure(value) or "-"


def _quiet(text: str) -> str:
    return f'<p class="quiet">{_text(text)}</p>'


def _text(text: str) -> str:
    """Return text as it may stand in the page: whatever it holds, it stays text."""
    return escape(plain_text(text))
