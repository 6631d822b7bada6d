"""What a cutting program does, as values: moves, other events, comments. Mm, mm/min, turns per minute."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Point = tuple[float, float, float]
Turning = Literal["off", "clockwise", "counterclockwise"]
UNKNOWN: Point = (math.nan, math.nan, math.nan)


@dataclass(frozen=True, slots=True, kw_only=True)
class Arc:
    """The round part of a move: `centre` at the height of its start; the sense as seen from the positive normal."""

    plane: str
    axes: tuple[int, int, int]
    centre: Point
    clockwise: bool
    sweep_rad: float
    radius: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One move; `feed` mm/min in force (0: none), `speed` per minute; `unsaid`: modes it uses that no line set."""

    kind: Literal["rapid", "straight", "arc"]
    line: int
    start: Point
    end: Point
    feed: float
    spindle: Turning
    speed: float
    system: str
    unsaid: tuple[str, ...] = ()
    arc: Arc | None = None

    @property
    def cuts(self) -> bool:
        """Whether it runs at a feed."""
        return self.kind != "rapid"

    @property
    def length(self) -> float:
        """Mm along the way: of a helix along it, section 2.1.2.6; nan from an unknown place."""
        if self.arc is None:
            return math.dist(self.start, self.end)
        normal = self.arc.axes[2]
        return math.hypot(self.arc.radius * self.arc.sweep_rad, self.end[normal] - self.start[normal])

    def at(self, shares: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the places, shape (n, 3), at these shares of the way; an arc's radius runs evenly to its end's."""
        start, end = np.array(self.start), np.array(self.end)
        places: NDArray[np.float64] = start + np.multiply.outer(shares, end - start)
        if self.arc is None:
            return places
        first, second, _ = self.arc.axes
        centre = np.array(self.arc.centre)
        from_start, from_end = start - centre, end - centre
        radii = [math.hypot(spot[first], spot[second]) for spot in (from_start, from_end)]
        radius = radii[0] + shares * (radii[1] - radii[0])
        sense = -1.0 if self.arc.clockwise else 1.0
        angle = math.atan2(from_start[second], from_start[first]) + sense * self.arc.sweep_rad * shares
        places[:, first] = centre[first] + radius * np.cos(angle)
        places[:, second] = centre[second] + radius * np.sin(angle)
        return places


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something other than a move: M0, M1, M6 (value: the tool), M7, M8, M9, or G4 (value: seconds)."""

    line: int
    code: str
    value: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Comment:
    """What stands in parentheses."""

    line: int
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Program:
    """All that a program does; `ended_by` M2, M30 or %; `spindle_at_end` before M2 or M30 stops it by itself."""

    moves: tuple[Move, ...]
    events: tuple[Event, ...]
    comments: tuple[Comment, ...]
    ended_by: str
    spindle_at_end: Turning
