"""The outline of one element as rows of numbers: lines, cubics and elliptical arcs alike, before any flattening.

A row holds p0, first, second, p3, x and y each. For a line or a cubic `first` and `second` are its controls (a
quadratic is raised to a cubic, which leaves its second difference bound as it was). For an arc there are also a centre,
a start angle and a sweep: its points are centre + first cos(t) + second sin(t), t from the start angle over the sweep,
in radians.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import chain
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Point = tuple[float, float]
Bend = tuple[int, float, float, float, float]


class Span(NamedTuple):
    """One subpath: rows first to last (exclusive), closed by a close command or open."""

    first: int
    last: int
    closed: bool


class Outline(NamedTuple):
    """The numbers of all rows, eight each; what arcs have beside them; and the subpaths that the rows make up.

    An arc is told by the number of its row, the x and y of its centre, its start angle and its sweep. Plain lists: most
    outlines are short, and those of a whole drawing become one array. A drawing has thousands, and to make a tuple
    takes less than half of what a frozen dataclass takes.
    """

    numbers: list[float]
    bends: list[Bend]
    spans: list[Span]

    @property
    def is_empty(self) -> bool:
        """Whether nothing was drawn."""
        return not self.numbers

    @property
    def is_one_line(self) -> bool:
        """Whether it is a single straight line, there or there and back: it encloses nothing."""
        if len(self.numbers) > 16 or self.bends:
            return False
        x0, y0 = self.numbers[:2]
        away = [(x - x0, y - y0) for x, y in zip(self.numbers[::2], self.numbers[1::2], strict=True)]
        far = max(away, key=lambda way: abs(way[0]) + abs(way[1]))
        return not any(x * far[1] - y * far[0] for x, y in away)

    @property
    def largest(self) -> float:
        """The largest number in it; infinite or NaN where one is no number."""
        bent = [number for bend in self.bends for number in bend[1:]]
        return max(map(abs, (*self.numbers, *bent)), default=0.0)

    @property
    def bound(self) -> float:
        """What `largest` is at most: the root of all squares, which takes an eighth of the time."""
        far = math.hypot(*self.numbers)
        return math.hypot(far, *chain.from_iterable(self.bends)) if self.bends else far

    def points(self, row: int) -> tuple[Point, Point]:
        """Return where a row starts and ends."""
        x0, y0, _, _, _, _, x3, y3 = self.numbers[8 * row : 8 * row + 8]
        return (x0, y0), (x3, y3)


LARGEST_COORDINATE = 1e9
"""In px: a float keeps 0.1 um at 1e9; beyond, a drawing has no place on this bench. NaN fails the comparison too."""


@dataclass(slots=True)
class Pen:
    """Draws rows one after another; the builder of outlines.

    `numbers` and `bends` are those of the outline; `count` is the number of rows.
    """

    numbers: list[float] = field(default_factory=list)
    bends: list[Bend] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)
    start: Point = (0.0, 0.0)
    at: Point = (0.0, 0.0)
    first: int = 0

    @property
    def count(self) -> int:
        """The number of rows."""
        return len(self.numbers) // 8

    def move(self, x: float, y: float) -> None:
        """Begin a subpath."""
        self.end(closed=False)
        self.start = self.at = (x, y)

    def line(self, x: float, y: float) -> None:
        """Draw a straight line."""
        x0, y0 = self.at
        dx, dy = (x - x0) / 3, (y - y0) / 3
        self.numbers += (x0, y0, x0 + dx, y0 + dy, x - dx, y - dy, x, y)
        self.at = (x, y)

    def quadratic(self, x1: float, y1: float, x: float, y: float) -> None:
        """Draw a quadratic curve, raised to the cubic that is the same curve."""
        x0, y0 = self.at
        self.cubic(x0 + (x1 - x0) * 2 / 3, y0 + (y1 - y0) * 2 / 3, x + (x1 - x) * 2 / 3, y + (y1 - y) * 2 / 3, x, y)

    def cubic(self, x1: float, y1: float, x2: float, y2: float, x: float, y: float) -> None:
        """Draw a cubic curve."""
        x0, y0 = self.at
        self.numbers += (x0, y0, x1, y1, x2, y2, x, y)
        self.at = (x, y)

    def arc(self, rx: float, ry: float, turn_deg: float, large: bool, sweep: bool, x: float, y: float) -> None:
        """Draw an elliptical arc by its end point (SVG 2, appendix B.2.4 and the corrections of B.2.5)."""
        x0, y0 = self.at
        if (x0, y0) == (x, y):
            return
        rx, ry = abs(rx), abs(ry)
        if rx == 0 or ry == 0:
            self.line(x, y)
            return
        cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
        hx, hy = (x0 - x) / 2, (y0 - y) / 2
        px, py = cos * hx + sin * hy, cos * hy - sin * hx
        over = (px / rx) ** 2 + (py / ry) ** 2
        if over > 1:
            rx, ry = rx * math.sqrt(over), ry * math.sqrt(over)
        root = math.sqrt(max(0.0, 1 / over - 1)) if over < 1 else 0.0
        if large == sweep:
            root = -root
        mx, my = root * rx * py / ry, -root * ry * px / rx
        begin = math.atan2((py - my) / ry, (px - mx) / rx)
        turned = math.atan2((-py - my) / ry, (-px - mx) / rx) - begin
        if sweep and turned <= 0:
            turned += 2 * math.pi
        elif not sweep and turned >= 0:
            turned -= 2 * math.pi
        cx, cy = cos * mx - sin * my + (x0 + x) / 2, sin * mx + cos * my + (y0 + y) / 2
        self.bends.append((self.count, cx, cy, begin, turned))
        self.numbers += (x0, y0, rx * cos, rx * sin, -ry * sin, ry * cos, x, y)
        self.at = (x, y)

    def ellipse(self, cx: float, cy: float, rx: float, ry: float) -> None:
        """Draw a whole ellipse as SVG 2 does: from three o'clock, clockwise on the screen."""
        self.move(cx + rx, cy)
        self.bends.append((self.count, cx, cy, 0.0, 2 * math.pi))
        self.numbers += (cx + rx, cy, rx, 0.0, 0.0, ry, cx + rx, cy)
        self.close()

    def close(self) -> None:
        """Draw the closing line where one is needed and end the subpath; the next one begins at its start."""
        if self.at != self.start or self.count == self.first:
            self.line(*self.start)
        self.end(closed=True)
        self.at = self.start

    def end(self, *, closed: bool) -> None:
        """End the subpath; a move to nowhere leaves none."""
        count = len(self.numbers) // 8
        if count > self.first:
            self.spans.append(Span(self.first, count, closed))
        self.first = count

    def outline(self) -> Outline:
        """Return what was drawn."""
        self.end(closed=False)
        return Outline(self.numbers, self.bends, self.spans)
