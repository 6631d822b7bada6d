"""The gap to expect: how far it may stray, as ranges, and what the spread comes of."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from inlayfit.report.page.chart import LEFT, RIGHT, WIDE, Axis, Ends, figure_head, in_words, mm, together
from inlayfit.report.page.markup import Document, figure, section, text
from inlayfit.report.reading import Line

ROW, TOP = 26.0, 32.0
"""Units high of a range, and of the names of the marks above them."""


def expect_section(document: Document, lines: Sequence[Line]) -> list[str]:
    """Return what gap to expect and why; `lines` say it in words."""
    expect = document["expect"]
    charts = ['<div class="side-by-side">', *_ranges(document, expect), *_shares(expect), "</div>"]
    return section("expect", "Gap to expect", [*in_words(lines), *charts])


def _ranges(document: Document, expect: dict[str, Any]) -> list[str]:
    """Return a chart of three ranges of all pieces together, against what was asked, the limit, and nought."""
    pieces = document["pieces"]
    ranges = {
        "as cut": together((piece["gap"]["min"], piece["gap"]["max"]) for piece in pieces),
        "at 3 sigma": together(piece["expect"]["rss_mm"] for piece in pieces),
        "at worst": together(piece["expect"]["worst_mm"] for piece in pieces),
    }
    marks = {"touches": 0.0, "asked": document["settings"]["gap_mm"], "limit": expect["limit_mm"]}
    low, high = together([*ranges.values(), *((value, value) for value in marks.values())])
    axis = Axis(low=low, high=high, first=LEFT, last=WIDE - RIGHT)
    foot = TOP + ROW * len(ranges)
    says = "; ".join(f"{name} {figure(least)} to {figure(most)} mm" for name, (least, most) in ranges.items())
    lines = figure_head("Gap of a side, all pieces together, mm", says, foot + 2)
    for level, (name, value) in enumerate(marks.items()):
        x, y = axis.at(value), (9, 21)[level % 2]
        lines.append(f'<path class="rule {name}" d="M{x:g} {y + 3}V{foot:g}"/>')
        lines.append(f'<text class="small" x="{x:g}" y="{y}" text-anchor="middle">{name} {mm(value)}</text>')
    for row, (name, ends) in enumerate(ranges.items()):
        lines += _range(name, ends, axis, TOP + row * ROW, row)
    return [*lines, f'</svg><p class="quiet">{text(says)}</p></figure>']


def _range(name: str, ends: Ends, axis: Axis, y: float, row: int) -> list[str]:
    x, width = axis.at(ends[0]), max(axis.at(ends[1]) - axis.at(ends[0]), 2.0)
    return [
        f'<text x="0" y="{y + 15:g}">{name}</text>',
        f'<rect class="range range-{row}" x="{x:g}" y="{y + 4:g}" width="{width:.1f}" height="14" rx="2"/>',
    ]


def _shares(expect: dict[str, Any]) -> list[str]:
    """Return the contributors, the largest share of the spread first, each as a bar with what it rests on."""
    rows = sorted(expect["contributors"], key=lambda one: -one["share"])
    return ['<div><p class="quiet">What the spread comes of</p><ol class="shares">', *map(_share, rows), "</ol></div>"]


def _share(one: dict[str, Any]) -> str:
    share, why = f"{one['share']:.0%}", f"&#177; {one['plus_minus_mm']:.4f} mm, acts on {one['acts_on']}: "
    why += text(one["source"])
    if not one["counts"]:
        share, why = "-", f"{why}; does not count, for the pieces float"
    return (
        f'<li><span>{text(one["name"])}</span><span class="number">{share}</span>'
        '<svg viewBox="0 0 100 6" preserveAspectRatio="none" aria-hidden="true">'
        f'<rect class="ground" width="100" height="6"/><rect width="{100 * one["share"]:.1f}" height="6"/></svg>'
        f'<span class="quiet">{why}</span></li>'
    )
