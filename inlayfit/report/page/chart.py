"""What charts have in common: an axis from values to units of the drawing, and the lines that say them in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from inlayfit.report.page.markup import text
from inlayfit.report.reading import Line
from inlayfit.units import Mm

WIDE, LEFT, RIGHT = 360.0, 62.0, 14.0
"""Units across of a chart, about px on a phone, and what its labels take of them at either side."""

Ends = tuple[Mm, Mm]
"""The least and the most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """`low` lies at `first` units, `high` at `last`."""

    low: float
    high: float
    first: float
    last: float

    def at(self, value: float) -> float:
        """Return where a value lies, to a tenth of a unit."""
        return round(self.first + (value - self.low) / (self.high - self.low or 1) * (self.last - self.first), 1)


def together(ranges: Iterable[Sequence[Mm]]) -> Ends:
    """Return the range that holds all of them."""
    ends = list(ranges)
    return min(end[0] for end in ends), max(end[1] for end in ends)


def mm(value: Mm) -> str:
    """Return a length for a label, without needless noughts.

    >>> mm(0.05), mm(-0.1), mm(0.0), mm(0.4067)
    ('0.05', '-0.1', '0', '0.407')
    """
    return f"{round(value, 3) + 0.0:.3f}".rstrip("0").rstrip(".")


def in_words(lines: Sequence[Line]) -> list[str]:
    """Return lines as a list of their labels and texts; a line without a label goes on with the one before."""
    heads = (f"<dt>{text(line.label)}</dt>" if line.label else "" for line in lines)
    rows = [f"{head}<dd>{text(line.text)}</dd>" for head, line in zip(heads, lines, strict=True)]
    return ['<dl class="reading">', *rows, "</dl>"]


def figure_head(caption: str, says: str, high: float) -> list[str]:
    """Return the beginning of a chart: what it shows, and for those who do not see it what it says."""
    return [
        f'<figure><figcaption class="quiet">{text(caption)}</figcaption>',
        f'<svg class="chart" role="img" aria-label="{text(says)}" viewBox="0 0 {WIDE:g} {high:g}">',
    ]
