"""The gap along a seam as colours: one scale for the page and for pictures.

The colours are those of cividis, which readers with any kind of colour vision see nearly alike, and which rises in
lightness all along. Source: J. R. Nunez, C. R. Anderton, R. S. Renslow, "Optimizing colormaps with consideration for
color vision deficiency to enable accurate interpretation of scientific data", PLOS ONE 13(7), e0199239 (2018); the
values are every 25.5th of the 256 of its published table.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.gap import GapAlong
from inlayfit.units import Mm

CIVIDIS = (
    "#00224e", "#0c3470", "#35456c", "#4f576c", "#666970", "#7d7c78", "#948e77", "#ada272", "#c8b866", "#e5cf52",
    "#fee838",
)  # fmt: skip
"""From tight over even to wide; what was asked for has the grey in the middle."""

TOUCHES = "#c1121f"
"""Where the piece stands in the wall: no colour of the scale, and drawn thicker."""

RANGES: tuple[Mm, ...] = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
"""How far a scale reaches to either side. With the least, what is even to 0.002 mm has the grey of the middle."""

SEAM_TOLERANCE: Mm = 0.0005
"""How far the coloured line may run beside the seam: a px at the closest look."""

TOUCHING = -1
"""The step of a gap of nought and less."""

Run = tuple[int, NDArray[np.float64]]
"""A stretch of seam of one step of the scale, and its points (n, 2), mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GapScale:
    """Equal steps of what a gap is off, from `reach` too tight to `reach` too wide; what lies beyond has the end's.

    `asked` is the gap that was asked for at the walls; mm.
    """

    asked: Mm
    reach: Mm

    @property
    def ends(self) -> tuple[Mm, Mm]:
        """The gaps at the walls that have the first and the last colour."""
        return round(self.asked - self.reach, 6), round(self.asked + self.reach, 6)

    def steps_of(self, along: GapAlong) -> NDArray[np.intp]:
        """Return the step of each sample (n,), `TOUCHING` where there is no gap."""
        shares = (along.off + self.reach) / (2 * self.reach)
        steps = np.clip(np.floor(shares * len(CIVIDIS)), 0, len(CIVIDIS) - 1).astype(np.intp)
        return np.where(along.gaps <= 0, TOUCHING, steps)


def scale_for(alongs: Iterable[GapAlong], asked: Mm) -> GapScale:
    """Return the scale that shows all the gaps there are, as long as its low end is no less than nought."""
    farthest = max((float(np.abs(along.off).max()) for along in alongs), default=0.0)
    reach = next((reach for reach in RANGES if reach >= farthest), RANGES[-1])
    return GapScale(asked=asked, reach=min(reach, asked) if asked > 0 else reach)


def colour_of(step: int) -> str:
    """Return the colour of a step."""
    return TOUCHES if step == TOUCHING else CIVIDIS[step]


def seam_runs(along: GapAlong, scale: GapScale) -> list[Run]:
    """Return the seam of a piece in stretches of one step, each from the sample where it begins to the next stretch."""
    steps = scale.steps_of(along)
    runs: list[Run] = []
    for ring in range(int(along.rings.max()) + 1):
        on = np.flatnonzero(along.rings == ring)
        changes = np.flatnonzero(steps[on] != np.roll(steps[on], 1))
        if not changes.size:
            runs.append(_run(along, np.append(on, on[:1]), steps))
            continue
        turned = np.roll(on, -changes[0])
        ends = [*(changes - changes[0]).tolist(), on.size]
        closed = np.append(turned, turned[:1])
        runs += [_run(along, closed[first : last + 1], steps) for first, last in pairwise(ends)]
    return runs


def _run(along: GapAlong, at: NDArray[np.intp], steps: NDArray[np.intp]) -> Run:
    line = shapely.simplify(shapely.LineString(along.points[at]), SEAM_TOLERANCE)
    return int(steps[at[0]]), shapely.get_coordinates(line)
