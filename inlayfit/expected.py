"""The gap to expect of each piece: as cut, with all that may be off, and in the driest and the dampest time to come.

It starts from the gap that was measured along the written paths, so that a piece which is tight somewhere has its own
likelihood. The tightest spot counts for all sides when it is to drop in, the widest when it is to stay under the limit:
the less favourable way.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely

from inlayfit.errors import JobError, nearest_of
from inlayfit.gap import EVEN
from inlayfit.glues import Glue
from inlayfit.recipe import Fit, Piece, Pocket
from inlayfit.season import Season, Time
from inlayfit.stack import Stack, Tolerances, joint_stack, wall_stack
from inlayfit.units import Mm

LINES = 40
"""Lines across a pocket each way, on which the pieces of a row are counted."""

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
class Place:
    """Where a piece has a gap: to the wall, or to another piece (`joint`).

    `asked` was asked for there, `tight` and `wide` are the least and the most as cut, mm; `stack` is what may be off.
    """

    stack: Stack
    asked: Mm
    tight: Mm
    wide: Mm
    joint: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedGap:
    """The gap of a side of one piece, mm: at worst, at 3 sigma, how likely it drops in and stays under the limit.

    `nominal` was asked for at the wall; `tightest` and `widest` are the places that these likelihoods are from.
    """

    name: str
    nominal: Mm
    worst: Ends
    likely: Ends
    drops_in: float
    under_limit: float
    tightest: Place
    widest: Place
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
    rows = [_longest_row(pocket, fit) if fit.settings.joint_gap <= EVEN else 1 for pocket in fit.pockets]
    pieces = tuple(_expected(piece, rows[piece.pocket], fit, premises) for piece in fit.pieces)
    walls = tuple(
        (stock, wall_stack(cutter, fit.settings.pocket_cutter, premises.tolerances))
        for stock, cutter in cutters.items()
    )
    return Expected(premises=premises, gap=fit.settings.gap, walls=walls, pieces=pieces)


def _longest_row(pocket: Pocket, fit: Fit) -> int:
    """Return how many pieces of a pocket a line along one of the axes meets at most."""
    outlines = [fit.pieces[index].outline for index in pocket.pieces]
    left, bottom, right, top = pocket.outline.bounds
    steps = (np.arange(LINES) + 0.5) / LINES
    level = [shapely.LineString([(left, y), (right, y)]) for y in bottom + steps * (top - bottom)]
    upright = [shapely.LineString([(x, bottom), (x, top)]) for x in left + steps * (right - left)]
    met = shapely.intersects(np.array([*level, *upright])[:, None], np.array(outlines)[None, :])
    return max(1, int(met.sum(axis=1).max(initial=0)))


def _check_stocks(season: Season, known: Sequence[str]) -> None:
    for index, (stock, _timber) in enumerate(season.pieces):
        if stock not in known:
            raise JobError(
                f"no piece is cut from {stock!r}",
                where=f"season.pieces[{index}].stock",
                remedy=nearest_of(stock, known),
            )


def _expected(piece: Piece, row: int, fit: Fit, premises: Premises) -> ExpectedGap:
    """Return what is to be expected of a piece: at the wall, and between it and its neighbours.

    Where the pieces butt, a `row` of them counts as one, with the gap that it has at the wall.
    """
    season, wall = premises.season, _at_wall(piece, row, fit, premises.tolerances)
    places = [wall, *_at_neighbours(piece, fit, premises.tolerances)]
    drops_in = [place.stack.likelihood(place.tight - premises.film) for place in places]
    under_limit = [place.stack.likelihood(premises.tolerances.limit - place.wide) for place in places]
    return ExpectedGap(
        name=piece.name,
        nominal=fit.settings.gap,
        worst=_outermost((place.tight - place.stack.worst, place.wide + place.stack.worst) for place in places),
        likely=_outermost((place.tight - place.stack.likely, place.wide + place.stack.likely) for place in places),
        drops_in=min(drops_in),
        under_limit=min(under_limit),
        tightest=places[int(np.argmin(drops_in))],
        widest=places[int(np.argmin(under_limit))],
        dry=None if season is None else _season_gap(piece, wall, fit, season, "dry"),
        damp=None if season is None else _season_gap(piece, wall, fit, season, "damp"),
    )


def _outermost(ranges: Iterable[Ends]) -> Ends:
    lows, highs = zip(*ranges, strict=True)
    return min(lows), max(highs)


def _at_wall(piece: Piece, row: int, fit: Fit, tolerances: Tolerances) -> Place:
    """Return the gap to the wall of the pocket; of a piece that faces none it is that of its row, as asked for."""
    settings = fit.settings
    stack = wall_stack(settings.cutter_of(piece.stock), settings.pocket_cutter, tolerances, row=row)
    if piece.joint is not None and piece.gap == piece.joint:
        return Place(stack=stack, asked=settings.gap, tight=settings.gap, wide=settings.gap)
    return Place(stack=stack, asked=settings.gap, tight=piece.gap.min, wide=piece.gap.max)


def _at_neighbours(piece: Piece, fit: Fit, tolerances: Tolerances) -> list[Place]:
    """Return the gap to other pieces of the pocket, if there are any and they are not to butt."""
    settings, gap = fit.settings, piece.joint or piece.gap
    if len(fit.pockets[piece.pocket].pieces) < 2 or settings.joint_gap <= EVEN:
        return []
    stack = joint_stack(settings.cutter_of(piece.stock), tolerances)
    return [Place(stack=stack, asked=settings.joint_gap, tight=gap.min, wide=gap.max, joint=piece.joint is not None)]


def _season_gap(piece: Piece, wall: Place, fit: Fit, season: Season, time: Time) -> SeasonGap:
    """Return the gap at an extreme. Pieces that share a pocket are taken as one block in the middle of it."""
    grain = season.pocket.grain_deg
    pocket, own = fit.pockets[piece.pocket].outline, piece.outline
    sizes = zip(sizes_along(pocket, grain), sizes_along(own, grain), strict=True)
    along, across = (
        _after(wall, season.gap_change(time, direction, whole, part, piece.stock))
        for direction, (whole, part) in zip((grain, grain + 90), sizes, strict=True)
    )
    middle = (wall.tight + wall.wide) / 2
    return SeasonGap(
        along=_farther(along, middle),
        across=_farther(across, middle),
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


def _after(wall: Place, change: Ends) -> Ends:
    """Return the gap after a change: where it closes the tight spots count, where it opens the wide ones."""
    low, high = ((wall.tight if end < 0 else wall.wide) + end for end in change)
    return low, high


def _farther(ends: Ends, middle: Mm) -> Mm:
    return max(ends, key=lambda end: abs(end - middle))
