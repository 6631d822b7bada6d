"""The parts that every section of the page is made of: text that stays text, tables that scroll within themselves."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import Any

from inlayfit.sheet import plain_text
from inlayfit.units import Mm

Cell = tuple[str, str]
"""The classes of a cell, and its text as it is: it is escaped where it is set."""

Document = Mapping[str, Any]
"""What report.json holds; all figures of the page come from there."""


def text(words: str) -> str:
    """Return text as it may stand in the page: whatever it holds, it stays text."""
    return escape(plain_text(words))


def quiet(words: str) -> str:
    """Return a line that explains what stands below it."""
    return f'<p class="quiet">{text(words)}</p>'


def section(name: str, heading: str, body: Iterable[str]) -> list[str]:
    """Return a section with its heading, or nothing where there is nothing to say."""
    lines = list(body)
    if not lines:
        return []
    head = f'<section id="{name}"><h2 id="{name}-heading">{heading}</h2>'
    return [head, *lines, "</section>"]


def table(name: str, columns: Sequence[Cell], rows: Iterable[Sequence[Cell]]) -> list[str]:
    """Return a table that scrolls within itself; columns are (classes, heading), the first cell heads its row.

    `name` is that of the section whose heading names the table.
    """
    heads = "".join(f'<th scope="col"{_classes(kind)}>{text(heading)}</th>' for kind, heading in columns)
    return [
        f'<div class="scroll" tabindex="0" role="region" aria-labelledby="{name}-heading">',
        f"<table><thead><tr>{heads}</tr></thead><tbody>",
        *(f"<tr>{_cell('th', *row[0])}{''.join(_cell('td', *cell) for cell in row[1:])}</tr>" for row in rows),
        "</tbody></table></div>",
    ]


def number(value: Mm | None) -> Cell:
    """Return a cell with a length to the micrometre, or a dash where it is not known."""
    return "number", figure(value) or "-"


def numbers(headings: str) -> list[Cell]:
    """Return columns of numbers; `headings` are parted by commas."""
    return [("number", heading) for heading in headings.split(", ")]


def figure(value: Mm | None) -> str:
    """Return a length with three decimals; nothing where it is not known.

    >>> figure(0.0497), figure(-0.0001), figure(None)
    ('0.050', '0.000', '')
    """
    return "" if value is None else f"{round(value, 3) + 0.0:.3f}"


def _cell(tag: str, kind: str, words: str) -> str:
    scope = ' scope="row"' if tag == "th" else ""
    return f"<{tag}{scope}{_classes(kind)}>{'<br/>'.join(map(text, words.splitlines()))}</{tag}>"


def _classes(kind: str) -> str:
    return f' class="{kind}"' if kind else ""
