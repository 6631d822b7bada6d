"""The gap to expect of each piece: as cut, with all that may be off, and in the driest and the dampest time to come.

It starts from the gap that was measured along the written paths, so that a piece which is tight somewhere has its own
likelihood. The tightest spot counts for all sides when it is to drop in, the widest when it is to stay under the limit:
the less favourable way.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely

from inlayfit.cutters import Cutter
from inlayfit.errors import JobError, nearest_of
from inlayfit.gap import GapStats
from inlayfit.glues import Glue
from inlayfit.recipe import Fit, Piece
from inlayfit.season import Season, Time
from inlayfit.stack import Stack, Tolerances, joint_stack, wall_stack
from inlayfit.units import Mm

Ends = tuple[Mm, Mm]
"""The least and the most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Premises:
    """What the expectation rests on: what may be off, the seasons and the glue, where they are known."""

    tolerances: Tolerances = field(default_factory=Tolerances)
    season: Season | None = None
    glue: Glue | None = None

    @property
    def film(self) -> Mm:
        """Room that the glue wants on each side, mm."""
        return 0.0 if self.glue is None else self.glue.thickness


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonGap:
    """The gap of a side at one extreme, along the grain of the pocket and across it, mm; below zero it is pressed.

    `along` and `across` are those that differ most from the gap as cut; the ranges come from those of the wood.
    """

    along: Mm
    across: Mm
    along_range: Ends
    across_range: Ends


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedGap:
    """The gap of a side of one piece, mm: at worst, at 3 sigma, how likely it drops in and stays under the limit.

    `nominal` was asked for, `tight` and `wide` are the least and the most as cut, `stack` is what may be off of it.
    """

    name: str
    nominal: Mm
    tight: Mm
    wide: Mm
    stack: Stack
    worst: Ends
    likely: Ends
    drops_in: float
    under_limit: float
    dry: SeasonGap | None
    damp: SeasonGap | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What is to be expected of a fit: `pieces` as in Fit.pieces, `walls` each stock with its stack at a wall."""

    premises: Premises
    gap: Mm
    walls: tuple[tuple[str, Stack], ...]
    pieces: tuple[ExpectedGap, ...]

    @property
    def stack(self) -> Stack:
        """What may be off of the gap at a wall, of the stock of which most is."""
        return max((stack for _stock, stack in self.walls), key=lambda stack: stack.likely)

    @property
    def least_sure(self) -> ExpectedGap:
        """The piece that is least likely to drop in."""
        return min(self.pieces, key=lambda piece: piece.drops_in)

    @property
    def widest(self) -> ExpectedGap:
        """The piece that is least likely to stay under the limit."""
        return min(self.pieces, key=lambda piece: piece.under_limit)


def expect(fit: Fit, premises: Premises) -> Expected:
    """Return the gap to expect of every piece.

    Raises:
        JobError: the season names the wood of a stock that no piece is cut from.
    """
    cutters = {piece.stock: fit.settings.cutter_of(piece.stock) for piece in fit.pieces}
    if premises.season is not None:
        _check_stocks(premises.season, list(cutters))
    stacks = {stock: _stacks(cutter, fit, premises.tolerances) for stock, cutter in cutters.items()}
    pieces = tuple(_expected(piece, stacks[piece.stock], fit, premises) for piece in fit.pieces)
    walls = tuple((stock, wall) for stock, (wall, _joint) in stacks.items())
    return Expected(premises=premises, gap=fit.settings.gap, walls=walls, pieces=pieces)


def _stacks(cutter: Cutter, fit: Fit, tolerances: Tolerances) -> tuple[Stack, Stack]:
    """Return what may be off of the pieces of one cutter: at the wall of a pocket, and between two of them."""
    return wall_stack(cutter, fit.settings.pocket_cutter, tolerances), joint_stack(cutter, tolerances)


def _check_stocks(season: Season, known: Sequence[str]) -> None:
    for index, (stock, _timber) in enumerate(season.pieces):
        if stock not in known:
            raise JobError(
                f"no piece is cut from {stock!r}",
                where=f"season.pieces[{index}].stock",
                remedy=nearest_of(stock, known),
            )


def _expected(piece: Piece, both: tuple[Stack, Stack], fit: Fit, premises: Premises) -> ExpectedGap:
    """Return what is to be expected of a piece; where it has neighbours the heavier of its stacks counts."""
    gap, season = piece.gap, premises.season
    stacks = both if len(fit.pockets[piece.pocket].pieces) > 1 else both[:1]
    stack = max(stacks, key=lambda one: one.likely)
    worst, likely = max(one.worst for one in stacks), stack.likely
    return ExpectedGap(
        name=piece.name,
        nominal=gap.nominal,
        tight=gap.min,
        wide=gap.max,
        stack=stack,
        worst=(gap.min - worst, gap.max + worst),
        likely=(gap.min - likely, gap.max + likely),
        drops_in=stack.likelihood(gap.min - premises.film),
        under_limit=stack.likelihood(premises.tolerances.limit - gap.max),
        dry=None if season is None else _season_gap(piece, fit, season, "dry"),
        damp=None if season is None else _season_gap(piece, fit, season, "damp"),
    )


def _season_gap(piece: Piece, fit: Fit, season: Season, time: Time) -> SeasonGap:
    """Return the gap at an extreme. Pieces that share a pocket are taken as one block in the middle of it."""
    grain = season.pocket.grain_deg
    pocket, own = fit.pockets[piece.pocket].outline, piece.outline
    sizes = zip(sizes_along(pocket, grain), sizes_along(own, grain), strict=True)
    along, across = (
        _after(piece.gap, season.gap_change(time, direction, whole, part, piece.stock))
        for direction, (whole, part) in zip((grain, grain + 90), sizes, strict=True)
    )
    return SeasonGap(
        along=_farther(along, piece.gap.mean),
        across=_farther(across, piece.gap.mean),
        along_range=along,
        across_range=across,
    )


def sizes_along(outline: shapely.Polygon, direction_deg: float) -> Ends:
    """Return the size of an outline in a direction and square to it, mm."""
    turn = math.radians(direction_deg)
    points = shapely.get_coordinates(outline.exterior)
    axes = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    turned = np.einsum("ij,jk->ik", points, axes)  # not the matrix product, whose threads keep spinning
    along, across = np.ptp(turned, axis=0)
    return float(along), float(across)


def _after(gap: GapStats, change: Ends) -> Ends:
    """Return the gap after a change: where it closes the tight spots count, where it opens the wide ones."""
    low, high = ((gap.min if end < 0 else gap.max) + end for end in change)
    return low, high


def _farther(ends: Ends, middle: Mm) -> Mm:
    return max(ends, key=lambda end: abs(end - middle))
