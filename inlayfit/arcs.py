"""Outlines as lines and arcs (the written form), fitted within a stated tolerance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inlayfit.units import Mm

ARC_TOLERANCE: Mm = 0.0005
"""The share of arc fitting in the budget of 1 um a path."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ArcRing:
    """A closed outline; element i runs from point i to point i + 1 (the last to the first).

    `points` (k, 2) mm; `bulges` (k,): tan(included angle / 4), positive counter-clockwise, 0 a straight line.
    Source: DXF reference, group code 42.
    """

    points: NDArray[np.float64]
    bulges: NDArray[np.float64]
