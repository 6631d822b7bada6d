"""The page of a fit: all of it to look at, to print and to keep, in one HTML file that asks for nothing from elsewhere.

It is well-formed XML as well, so that any reader can take it apart. All figures come from the document that goes to
report.json; what stands in the page without script is complete, and the script moves the view and points at things.
"""

from __future__ import annotations

from collections.abc import Sequence

from inlayfit.expected import Expected
from inlayfit.recipe import Fit
from inlayfit.report.expected import expected_lines
from inlayfit.report.json_text import json_within_page
from inlayfit.report.page.bench import KEYS, findings, legend, stage, step_rules, switch_rules, switches, walk
from inlayfit.report.page.blanks import blank_section
from inlayfit.report.page.board import board_sections
from inlayfit.report.page.drawing import drawing_lines, first_scale, layers_of
from inlayfit.report.page.expect import expect_section
from inlayfit.report.page.markup import Document, figure, text
from inlayfit.report.page.pattern import pattern_pages
from inlayfit.report.page.resources import policy, script, style_sheet
from inlayfit.report.page.sections import cautions, files, pieces, pockets, programs, reading
from inlayfit.report.page.year import year_section
from inlayfit.report.places import places_of
from inlayfit.report.reading import Line, size_text
from inlayfit.report.terminal import fit_verdict
from inlayfit.sheet import Sheet
from inlayfit.write.gap_scale import scale_for
from inlayfit.write.svg import view_box


def page_bytes(
    fit: Fit,
    document: Document,
    sheet: Sheet,
    expected: Expected,
    blanks: Sequence[Sheet] = (),
    *,
    board_line: str = "",
    depth_legend: str = "",
) -> bytes:
    """Return the page in UTF-8; the same fit gives the same bytes.

    Args:
        fit: the halves, for their geometry.
        document: the figures, as report.json holds them.
        sheet: all that is drawn, as one sheet.
        expected: the gap to expect, for its words.
        blanks: the drawings of the blanks, if any are named.
        board_line: the board in one line, if there is one.
        depth_legend: what the depths on it mean.
    """
    places = places_of(fit.findings)
    scale = scale_for([piece.along for piece in fit.pieces], fit.settings.gap)
    verdict = fit_verdict(fit, places).plain
    numbers = [piece.get("number", "") for piece in document["pieces"]]
    layers = layers_of(sheet, numbered=any(numbers))
    words, season_words = _parted(expected_lines(expected))
    box = view_box(sheet)
    svg = drawing_lines(fit, sheet, box, layers, places, scale, numbers, says=board_line or verdict)
    style = _framed(style_sheet(_rules(box), step_rules(), switch_rules(layers)), "/*", "*/")
    code = _framed(script(), "//", "")
    body = [
        *_head_of_page(document, verdict, board_line),
        "<main>",
        '<section id="bench" class="bench" aria-labelledby="bench-heading"><h2 id="bench-heading">Drawing</h2>',
        *stage(svg),
        f'<div class="below">{"".join([*legend(scale, document["settings"]["joint_mm"]), *walk(fit)])}</div>',
        '<div class="side">',
        *switches(layers),
        '<div id="findings" class="findings" tabindex="0" role="region" aria-labelledby="findings-heading">',
        f'<h3 id="findings-heading">Findings</h3>{"".join(findings(places))}</div></div>',
        f'<p id="keys" class="keys quiet live">{KEYS}</p></section>',
        *expect_section(document, words),
        *year_section(document, season_words),
        *blank_section(document, blanks),
        *programs(document),
        *pieces(document),
        *pockets(document),
        *board_sections(document, depth_legend),
        *reading(fit.drawing),
        *files(document),
        *cautions(),
        "</main>",
        *pattern_pages(sheet, blanks),
        f'<script type="application/json" id="report">{json_within_page(dict(document))}</script>',
        f"<script>{code}</script>",
    ]
    return "\n".join([*_opening(document["job"], style, code), *body, "</body></html>", ""]).encode()


def _parted(lines: Sequence[Line]) -> tuple[Sequence[Line], Sequence[Line]]:
    """Return the lines before those of the season, and the others."""
    first = next((index for index, line in enumerate(lines) if line.label == "Season"), len(lines))
    return lines[:first], lines[first:]


def _opening(job: str, style: str, code: str) -> list[str]:
    return [
        "<!DOCTYPE html>",
        '<html lang="en">',
        '<head><meta charset="utf-8"/>',
        f'<meta http-equiv="Content-Security-Policy" content="{policy(style, code)}"/>',
        '<meta name="viewport" content="width=device-width, initial-scale=1"/>',
        f"<title>{text(job)}: the fit</title>",
        f"<style>{style}</style></head><body>",
    ]


def _framed(content: str, before: str, after: str) -> str:
    """Return style or script so that readers of XML take it as it is, too."""
    return f"{before}<![CDATA[{after}\n{content}\n{before}]]>{after}"


def _rules(box: str) -> str:
    return f".figure {{ --u: {first_scale(box):.5f}; }}"


def _head_of_page(document: Document, verdict: str, board_line: str) -> list[str]:
    return [
        '<a class="skip" href="#findings">To the findings</a>',
        f'<header class="top"><div class="title"><h1>{text(document["job"])}</h1>',
        '<label class="light live">Light <select id="light"><option value="">as the system</option>',
        '<option value="day">day</option><option value="night">night</option></select></label></div>',
        f'<p class="verdict {document["verdict"].replace(" ", "-")}">{text(verdict)}</p>',
        f"<p>{text(board_line)}</p>" if board_line else "",
        f'<dl class="facts">{"".join(_fact(*fact) for fact in _facts(document))}</dl></header>',
    ]


def _fact(name: str, says: str) -> str:
    return f"<div><dt>{name}</dt><dd>{text(says)}</dd></div>"


def _facts(document: Document) -> Sequence[tuple[str, str]]:
    settings, pieces = document["settings"], document["pieces"]
    least, most = (choose(piece["gap"][key] for piece in pieces) for choose, key in ((min, "min"), (max, "max")))
    asked = f"{figure(settings['gap_mm'])} mm, from the {settings['gap_from']}"
    if settings["joint_mm"] != settings["gap_mm"]:
        asked += f"; between pieces {figure(settings['joint_mm'])} mm"
    return [
        ("Finished size", size_text(document["size_mm"])),
        ("Gap asked, a side", asked),
        ("Gap as it will be cut", f"{figure(least)} to {figure(most)} mm"),
        ("Pieces from", "; ".join(_stocks(document))),
        ("Pockets with", f"a {settings['pocket_cutter']['label']}"),
    ]


def _stocks(document: Document) -> list[str]:
    """Return the stocks with the cutter that goes round their pieces, those with the same one together."""
    usual = document["settings"]["piece_cutter"]
    own = {stock["name"]: stock["cutter"] or usual for stock in document["settings"]["stocks"]}
    cutters: dict[str, list[str]] = {}
    for name in dict.fromkeys(piece["stock"] for piece in document["pieces"]):
        cutters.setdefault(own.get(name, usual)["label"], []).append(name)
    return [f"{', '.join(names)} with a {cutter}" for cutter, names in cutters.items()]
