"""How fast a bit turns and moves in a material, and how deep it goes at once: figures to start from, never more.

Nobody has published figures for shell, nor for bits as small as these in anything: what stands here is scaled down from
what is known of larger ones. A feed is revolutions times teeth times chip load.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from inlayfit.cutters import Bit
from inlayfit.errors import JobError
from inlayfit.units import Mm

DIRECTIONS = ("climb", "conventional")
"""Where the teeth meet what is kept: they leave the cut there (climb), or begin it there (conventional)."""

PROGRAM_UNITS = ("mm", "in")
"""What a program is written in: G21 or G20."""

TEETH = 2
"""Of small bits that do not say (common practice, no source)."""

MOST_TEETH = 12

FASTEST_RPM = 200_000.0
"""Faster spindles are for dentists."""

DOWN_SHARE = 0.25
"""Straight down a bit feeds at this share of its feed at most (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """Where to start in a material: chip load and depth of a pass in diameters of the bit, and the fastest surface.

    `fastest` is the speed of the teeth, m/min, None where small bits never reach a limit.
    """

    chip: float
    depth: float
    fastest: float | None
    source: str


STARTS: Mapping[str, Start] = {
    "shell": Start(chip=0.005, depth=0.2, fastest=None, source="common practice, no source"),
    "bone": Start(
        chip=0.005,
        depth=0.2,
        fastest=None,
        source="common practice; it cracks at chips over 0.1 mm: Luo et al. 2022, doi 10.1186/s10033-022-00769-2",
    ),
    "metal": Start(
        chip=0.005,
        depth=0.1,
        fastest=60.0,
        source="brass 60 to 150 m/min, design tables for high-speed steel; chip load scaled down, common practice",
    ),
    "wood": Start(
        chip=0.02,
        depth=0.5,
        fastest=None,
        source="hardwood 0.002 to 0.005 in for a 1/8 in bit, sellers' charts; scaled",
    ),
    "stone": Start(chip=0.003, depth=0.1, fastest=None, source="common practice, no source"),
    "plastic": Start(
        chip=0.016,
        depth=0.5,
        fastest=160.0,
        source="hard plastic 0.002 to 0.004 in for a 1/8 in bit, sellers' charts; 20 to 160 m/min, design tables",
    ),
}
"""By the kinds of stock. The charts differ by twice for one bit: they are places to start from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """The router: heights and depths mm, speeds mm/min, turns a minute.

    It travels `safe_height` over the stock and cuts `through` sheets by so much, into what lies below; `rapid` counts
    for the estimate of time alone.
    """

    safe_height: Mm = 5.0
    through: Mm = 0.2
    least_rpm: float = 8000.0
    most_rpm: float = 18000.0
    most_feed: float = 1000.0
    rapid: float = 2000.0
    direction: str = "climb"
    units: str = "mm"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedsAsked:
    """What the maker knows better than the table; None is what the table says. `pass_depth` mm, `feed` mm/min."""

    teeth: int = TEETH
    rpm: float | None = None
    feed: float | None = None
    pass_depth: Mm | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    """How the job is to be cut: the machine, and the speeds of each stock, of the others, and of the pockets."""

    machine: Machine = field(default_factory=Machine)
    own: Mapping[str, SpeedsAsked] = field(default_factory=dict)
    usual: SpeedsAsked = field(default_factory=SpeedsAsked)
    pocket: SpeedsAsked = field(default_factory=SpeedsAsked)

    def of(self, stock: str) -> SpeedsAsked:
        """Return what is asked for the pieces of a stock."""
        return self.own.get(stock, self.usual)


@dataclass(frozen=True, slots=True, kw_only=True)
class Speeds:
    """Turns a minute, feed along the path and straight down (mm/min), and how deep the bit goes at once (mm)."""

    rpm: float
    feed: float
    down: float
    pass_depth: Mm


def turns_of(surface: float, diameter: Mm) -> float:
    """Return turns a minute for teeth that move at `surface` m/min.

    Source: rpm = 1000 v / (pi D): https://chapters.sme.org/s118/SpeedFeed.html
    """
    return 1000 * surface / (math.pi * diameter)


def feed_of(rpm: float, teeth: int, chip: Mm) -> float:
    """Return the feed, mm/min, at which each tooth takes a chip so thick.

    Source: feed = rpm x teeth x chip load: https://chapters.sme.org/s118/SpeedFeed.html
    """
    return rpm * teeth * chip


def speeds_for(bit: Bit, kind: str, asked: SpeedsAsked, machine: Machine) -> Speeds:
    """Return the speeds of a bit in a material; `kind` is one of `STARTS`."""
    start = STARTS[kind]
    fastest = math.inf if start.fastest is None else turns_of(start.fastest, bit.diameter)
    rpm = asked.rpm or round(max(machine.least_rpm, min(machine.most_rpm, fastest)), -2)
    feed = asked.feed or min(feed_of(rpm, asked.teeth, start.chip * bit.diameter), machine.most_feed)
    return Speeds(rpm=rpm, feed=feed, down=DOWN_SHARE * feed, pass_depth=asked.pass_depth or start.depth * bit.diameter)


def checked_rpm(value: float, *, where: str) -> float:
    """Return turns a minute.

    Raises:
        JobError: none, or more than any spindle has.
    """
    if not 0 < value <= FASTEST_RPM:  # not a number fails this too
        raise JobError(f"{value:g} turns a minute", where=where, remedy="give turns a minute, such as 18000")
    return value


def checked_teeth(count: int, *, where: str) -> int:
    """Return the number of cutting edges of a bit.

    Raises:
        JobError: none, or more than any bit has.
    """
    if not 1 <= count <= MOST_TEETH:
        raise JobError(f"a bit of {count} teeth", where=where, remedy="count its cutting edges: often 2")
    return count
