"""What the seasons do to a gap: wood moves with the moisture of the air, shell, bone, metal, stone and plastic do not.

The moisture that wood comes to in a climate is that of the Wood Handbook's equation; its size follows in a straight
line, D C (M2 - M1), which holds from about 6 to 14 % moisture. A pocket is a hole in the wood and grows and shrinks as
the wood itself would that was cut from it. With the piece in the middle, each side has half of the change.

It is the movement of a free board that had months to come to rest. Wood that is glued crosswise or lacquered moves less
and later, and two pieces of one species differ.

Source: USDA FPL Wood Handbook, FPL-GTR-282 (2021), chapter 4, equation 4-5, and chapter 13, equation 13-2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from inlayfit.units import Mm
from inlayfit.woods import ALONG, Range, Wood

DRIEST_AIR, DAMPEST_AIR = 5.0, 95.0
"""Relative humidity, per cent: as far as the Handbook's table reaches."""

COLDEST, HOTTEST = -1.0, 60.0
"""Degrees Celsius: where the Handbook's table begins (30 F), and a closed car in the sun."""

STRAIGHT: Range = (6.0, 14.0)
"""Per cent of moisture between which a straight line holds."""

SOURCE = "USDA FPL Wood Handbook, FPL-GTR-282 (2021), equations 4-5 and 13-2"

NOTE = "of a free board that had months to come to rest; wood that is glued crosswise or lacquered moves less and later"

SAWN = ("flat", "quarter")
"""How the wood was sawn: the face of a flat-sawn board moves along the rings, that of a quartersawn one across them."""

Time = Literal["dry", "damp"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Climate:
    """Air that wood has come to rest in: relative humidity in per cent, temperature in degrees Celsius."""

    humidity: float
    temperature_c: float

    @property
    def moisture(self) -> float:
        """Per cent of moisture that wood comes to: Wood Handbook equation 4-5 in its metric form."""
        degrees, air = self.temperature_c, self.humidity / 100
        whole = 349 + 1.29 * degrees + 0.0135 * degrees**2
        k = 0.805 + 0.000736 * degrees - 0.00000273 * degrees**2
        k1 = 6.27 - 0.00938 * degrees - 0.000303 * degrees**2
        k2 = 1.91 + 0.0407 * degrees - 0.000293 * degrees**2
        first, second = k1 * k * air, k1 * k2 * (k * air) ** 2
        return 1800 / whole * (k * air / (1 - k * air) + (first + 2 * second) / (1 + first + second))


@dataclass(frozen=True, slots=True, kw_only=True)
class Timber:
    """A wood as it lies in the job: its grain in degrees from x, and how it was sawn (None: not known, both count)."""

    wood: Wood
    grain_deg: float
    sawn: str | None = None

    @property
    def across(self) -> Range:
        """Change of width for one per cent of moisture, as a share."""
        if self.sawn is None:
            ends = (*self.wood.radial, *self.wood.tangential)
            return min(ends), max(ends)
        return self.wood.tangential if self.sawn == "flat" else self.wood.radial

    def movement(self, change: float, direction_deg: float) -> Range:
        """Return the change of size in a direction, as a share, for a change of moisture in per cent; in order."""
        turn = math.radians(direction_deg - self.grain_deg)
        along, across = math.cos(turn) ** 2, math.sin(turn) ** 2
        ends = [change * (along * own + across * other) for own, other in zip(ALONG, self.across, strict=True)]
        return min(ends), max(ends)


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """What the guitar will live through: the wood of the pockets, the air when they are cut, and its extremes later.

    `pieces` holds the wood of those stocks that are wood themselves; all others are still.
    """

    pocket: Timber
    cut: Climate
    driest: Climate
    dampest: Climate
    pieces: tuple[tuple[str, Timber], ...] = ()

    def moisture_change(self, time: Time) -> float:
        """Return per cent of moisture from the cutting to one of the extremes."""
        later = self.driest if time == "dry" else self.dampest
        return later.moisture - self.cut.moisture

    def gap_change(self, time: Time, direction_deg: float, pocket: Mm, piece: Mm, stock: str) -> Range:
        """Return how much the gap of a side changes by a time, in order; `pocket` and `piece` are sizes that way."""
        change = self.moisture_change(time)
        low, high = (pocket * share / 2 for share in self.pocket.movement(change, direction_deg))
        timber = dict(self.pieces).get(stock)
        if timber is None:
            return low, high
        least, most = (piece * share / 2 for share in timber.movement(change, direction_deg))
        return low - most, high - least

    @property
    def straight(self) -> bool:
        """Whether all moistures lie where a straight line holds."""
        moistures = [climate.moisture for climate in (self.cut, self.driest, self.dampest)]
        return STRAIGHT[0] <= min(moistures) and max(moistures) <= STRAIGHT[1]
