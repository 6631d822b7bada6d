"""The outline of one element as rows of numbers: lines, cubics and elliptical arcs alike, before any flattening.

A row holds p0, first, second, p3, centre (x and y each), start angle, sweep; 12 numbers. For a line or a cubic `first`
and `second` are its controls (a quadratic is raised to a cubic, which leaves its second difference bound as it was).
For an arc the points are centre + first cos(t) + second sin(t), t from the start angle over the sweep, in radians.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """One subpath: rows first to last (exclusive), closed by a close command or open."""

    first: int
    last: int
    closed: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outline:
    """Rows (n, 12) and which of them are arcs (n,), with the subpaths that they make up."""

    rows: Floats
    arcs: NDArray[np.bool_]
    spans: tuple[Span, ...]

    @property
    def is_one_line(self) -> bool:
        """Whether it is a single straight line, there or there and back: it encloses nothing."""
        if len(self.rows) > 2 or self.arcs.any():
            return False
        away = self.rows[:, :8].reshape(-1, 2) - self.rows[0, :2]
        far = away[np.abs(away).sum(axis=1).argmax()]
        return not bool((away[:, 0] * far[1] - away[:, 1] * far[0]).any())

    @property
    def largest(self) -> float:
        """The largest number in it; NaN where one is no number."""
        return float(np.abs(self.rows).max(initial=0.0))


LARGEST_COORDINATE = 1e9
"""In px: a float keeps 0.1 um at 1e9; beyond, a drawing has no place on this bench. NaN fails the comparison too."""


@dataclass(slots=True)
class Pen:
    """Draws rows one after another; the builder of outlines."""

    rows: list[tuple[float, ...]] = field(default_factory=list)
    arcs: list[bool] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)
    start: Point = (0.0, 0.0)
    at: Point = (0.0, 0.0)
    first: int = 0

    def move(self, x: float, y: float) -> None:
        """Begin a subpath."""
        self.end(closed=False)
        self.start = self.at = (x, y)

    def line(self, x: float, y: float) -> None:
        """Draw a straight line."""
        x0, y0 = self.at
        dx, dy = (x - x0) / 3, (y - y0) / 3
        self._add((x0, y0, x0 + dx, y0 + dy, x - dx, y - dy, x, y, 0.0, 0.0, 0.0, 0.0), arc=False)

    def quadratic(self, x1: float, y1: float, x: float, y: float) -> None:
        """Draw a quadratic curve, raised to the cubic that is the same curve."""
        x0, y0 = self.at
        self.cubic(x0 + (x1 - x0) * 2 / 3, y0 + (y1 - y0) * 2 / 3, x + (x1 - x) * 2 / 3, y + (y1 - y) * 2 / 3, x, y)

    def cubic(self, x1: float, y1: float, x2: float, y2: float, x: float, y: float) -> None:
        """Draw a cubic curve."""
        self._add((*self.at, x1, y1, x2, y2, x, y, 0.0, 0.0, 0.0, 0.0), arc=False)

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
        centre = (cos * mx - sin * my + (x0 + x) / 2, sin * mx + cos * my + (y0 + y) / 2)
        axes = (rx * cos, rx * sin, -ry * sin, ry * cos)
        self._add((x0, y0, *axes, x, y, *centre, begin, turned), arc=True)

    def ellipse(self, cx: float, cy: float, rx: float, ry: float) -> None:
        """Draw a whole ellipse as SVG 2 does: from three o'clock, clockwise on the screen."""
        self.move(cx + rx, cy)
        self._add((cx + rx, cy, rx, 0.0, 0.0, ry, cx + rx, cy, cx, cy, 0.0, 2 * math.pi), arc=True)
        self.close()

    def close(self) -> None:
        """Draw the closing line where one is needed and end the subpath; the next one begins at its start."""
        if self.at != self.start or len(self.rows) == self.first:
            self.line(*self.start)
        self.end(closed=True)
        self.at = self.start

    def end(self, *, closed: bool) -> None:
        """End the subpath; a move to nowhere leaves none."""
        if len(self.rows) > self.first:
            self.spans.append(Span(first=self.first, last=len(self.rows), closed=closed))
        self.first = len(self.rows)

    def outline(self) -> Outline:
        """Return what was drawn."""
        self.end(closed=False)
        rows = np.array(self.rows, dtype=np.float64).reshape(-1, 12)
        return Outline(rows=rows, arcs=np.array(self.arcs, dtype=np.bool_), spans=tuple(self.spans))

    def _add(self, row: tuple[float, ...], *, arc: bool) -> None:
        self.rows.append(row)
        self.arcs.append(arc)
        self.at = (row[6], row[7])
