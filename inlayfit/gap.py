"""The gap as it will be cut, measured between what the two paths leave."""

from __future__ import annotations

from dataclasses import dataclass

from inlayfit.units import Mm


@dataclass(frozen=True, slots=True, kw_only=True)
class GapStats:
    """Clearance per side along one piece, mm, measured square to its wall.

    `nominal` is what was asked for; `even_share` the share of the seam's length within 2 um of it (0 to 1);
    `play` how much the piece could still grow all round before it touches; `drops_in` whether it touches nowhere.
    """

    nominal: Mm
    min: Mm
    mean: Mm
    max: Mm
    even_share: float
    play: Mm
    drops_in: bool
