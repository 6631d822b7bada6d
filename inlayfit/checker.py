"""What a bit cannot cut, where, how bad it is, and which bit or which size would do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from inlayfit.cutters import Cutter
from inlayfit.findings import Finding
from inlayfit.units import Mm

Verdict = Literal["as drawn", "softened", "loses detail"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """One standard size on the ladder: what it would lose and fill; `label` names the size."""

    diameter: Mm
    label: str
    verdict: Verdict
    places_lost: int
    places_softened: int
    area_lost_mm2: float
    area_filled_mm2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """The answer to "can it be cut with this bit?".

    `largest_bit` leaves nothing over the tolerance, `largest_bit_no_loss` softens at most; None where none does.
    `smallest_width` is the width of the drawing at which this bit cuts everything within the tolerance, None where
    no size does (`scaling_note` says why: sharp corners never go away).
    """

    drawing: str
    size: tuple[Mm, Mm]
    cutter: Cutter
    tolerance: Mm
    verdict: Verdict
    largest_bit: Mm | None
    largest_bit_no_loss: Mm | None
    smallest_width: Mm | None
    scaling_note: str
    findings: tuple[Finding, ...]
    ladder: tuple[Rung, ...]
