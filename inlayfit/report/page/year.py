"""What a year does to the gap: a chart from the driest air to the dampest, and a table of pieces."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from inlayfit.report.page.chart import LEFT, RIGHT, WIDE, Axis, Ends, figure_head, in_words, mm, together
from inlayfit.report.page.markup import Document, figure, number, quiet, section, table, text
from inlayfit.report.reading import Line
from inlayfit.units import Mm

TOP, HIGH, FOOT = 12.0, 190.0, 34.0
"""Units above the field of the chart, of it, and below it."""

APART = 11.0
"""Units between two labels, so that none stands on another."""

CAPTION = "Gap of a side, all pieces together, mm; below 0 the piece is pressed. Wood follows the air within months."
AIRS = (("dry", "driest"), ("cut", "when cut"), ("damp", "dampest"))


def year_section(document: Document, lines: Sequence[Line]) -> list[str]:
    """Return what the seasons do to the gap, or nothing where the job has none; `lines` say it in words."""
    season = document["season"]
    pieces = [piece for piece in document["pieces"] if piece["season"]]
    if not season or not pieces:
        return []
    chart = _chart(season, _bands(pieces), document["settings"]["gap_mm"])
    return section("season", "Through the year", [*in_words(lines), *chart, *_table(pieces)])


def _bands(pieces: Sequence[dict[str, Any]]) -> dict[str, list[Ends]]:
    """Return across and along the grain the ends that hold all pieces: driest, when cut, dampest."""
    cut = together((piece["gap"]["min"], piece["gap"]["max"]) for piece in pieces)

    def at(time: str, way: str) -> Ends:
        return together(piece["season"][time][f"{way}_range_mm"] for piece in pieces)

    return {way: [at("dry", way), cut, at("damp", way)] for way in ("across", "along")}


def _chart(season: dict[str, Any], bands: dict[str, list[Ends]], asked: Mm) -> list[str]:
    low, high = together([(0.0, 0.0), *(ends for band in bands.values() for ends in band)])
    moistures = [season[time]["moisture_percent"] for time, _ in AIRS]
    x = Axis(low=moistures[0], high=moistures[-1], first=LEFT, last=WIDE - RIGHT)
    y = Axis(low=low, high=high, first=TOP + HIGH, last=TOP)
    told = [f"{way} the grain {figure(band[0][0])} to {figure(band[-1][1])} mm" for way, band in bands.items()]
    lines = figure_head(CAPTION, f"From the driest to the dampest air: {'; '.join(told)}", TOP + HIGH + FOOT)
    for way, band in bands.items():
        pairs = list(zip(moistures, band, strict=True))
        upper = [f"{x.at(moisture):g} {y.at(ends[1]):g}" for moisture, ends in pairs]
        lower = [f"{x.at(moisture):g} {y.at(ends[0]):g}" for moisture, ends in pairs]
        lines.append(f'<path class="band {way}" d="M{" ".join([*upper, *reversed(lower)])}Z"/>')
    lines += [*_levels(y, asked), *_airs(season, x)]
    keys = "".join(f'<li><span class="swatch band-{way}"></span>{way} the grain</li>' for way in bands)
    return [*lines, f'</svg><ul class="chart-key quiet">{keys}</ul></figure>']


def _levels(y: Axis, asked: Mm) -> list[str]:
    """Return lines across at nought, at what was asked and at both ends; a label that has no room is left out."""
    lines: list[str] = []
    taken: list[float] = []
    for value in dict.fromkeys((0.0, y.high, y.low, asked)):
        at = y.at(value)
        lines.append(f'<path class="rule{"" if value else " touches"}" d="M{LEFT:g} {at:g}H{WIDE - RIGHT:g}"/>')
        if all(abs(at - other) >= APART for other in taken):
            taken.append(at)
            lines.append(f'<text class="small" x="{LEFT - 6:g}" y="{at + 3.5:g}" text-anchor="end">{mm(value)}</text>')
    return lines


def _airs(season: dict[str, Any], x: Axis) -> list[str]:
    """Return lines upright at the three airs, with what they are."""
    lines = []
    for (time, says), anchor in zip(AIRS, ("start", "middle", "end"), strict=True):
        air, foot = season[time], TOP + HIGH
        at = x.at(air["moisture_percent"])
        shown = f'x="{at:g}" text-anchor="{anchor}"'
        lines += [
            f'<path class="rule" d="M{at:g} {TOP:g}V{foot + 4:g}"/>',
            f'<text class="small" y="{foot + 16:g}" {shown}>{text(says)}</text>',
            f'<text class="small" y="{foot + 28:g}" {shown}>{air["humidity_percent"]:g} % air</text>',
        ]
    return lines


def _table(pieces: Sequence[dict[str, Any]]) -> list[str]:
    headings = [f"{word}, {way}" for word in ("driest", "dampest") for way in ("across", "along")]
    columns = [("", "piece"), *(("number", heading) for heading in headings)]
    rows = [
        [
            ("", piece["name"]),
            *(number(piece["season"][time][f"{way}_mm"]) for time in ("dry", "damp") for way in ("across", "along")),
        ]
        for piece in pieces
    ]
    return [quiet("mm a side, the farthest from the gap as cut"), *table("season", columns, rows)]
