"""What the maker asked of a fit, checked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from inlayfit.choices import CORNERS, GAP_FROM
from inlayfit.cutters import Cutter, as_cutter
from inlayfit.depth import DepthAsked
from inlayfit.errors import JobError
from inlayfit.plan import PieceRadii, PlanRadii
from inlayfit.seam import seam_radii
from inlayfit.stocks import Stock, check_stocks
from inlayfit.units import Mm, parse_length, positive_length


@dataclass(frozen=True, slots=True, kw_only=True)
class FitSettings:
    """What the maker asked for.

    `piece_cutter`, `least_web` and `thickness` hold for stocks that do not say; `stock` is the name of the only one
    where there are no `stocks`. `joint` is the gap between two pieces, None where it is that to the wall.
    """

    piece_cutter: Cutter
    pocket_cutter: Cutter
    gap: Mm
    gap_from: str = "piece"
    corners: str = "match"
    tolerance: Mm = 0.05
    least_web: Mm = 0.6
    stock: str = "shell"
    thickness: Mm | None = None
    stocks: tuple[Stock, ...] = ()
    joint: Mm | None = None
    depth: DepthAsked = field(default_factory=DepthAsked)

    @property
    def joint_gap(self) -> Mm:
        """The gap between two pieces of one pocket."""
        return self.gap if self.joint is None else self.joint

    @property
    def widest_gap(self) -> Mm:
        """The wider of the gap to the wall and that between two pieces."""
        return max(self.gap, self.joint_gap)

    @property
    def all_stocks(self) -> tuple[Stock, ...]:
        """Every stock with its cutter, its thickness and its least web."""
        return tuple(
            replace(
                stock,
                cutter=stock.cutter or self.piece_cutter,
                thickness=stock.thickness or self.thickness,
                least_web=self.least_web if stock.least_web is None else stock.least_web,
            )
            for stock in self.stocks or (Stock(name=self.stock),)
        )

    @property
    def cutters(self) -> str:
        """What goes round the pieces, each cutter once."""
        return " or a ".join(dict.fromkeys(self.cutter_of(stock.name).label for stock in self.all_stocks))

    def cutter_of(self, stock: str) -> Cutter:
        """Return what goes round the pieces of a stock."""
        return next((one.cutter for one in self.stocks if one.name == stock and one.cutter), self.piece_cutter)

    def depth_of(self, stock: str, *, flush: bool) -> Mm | None:
        """Return how deep the pockets of a stock are, None where its thickness is not known; `flush` in a piece."""
        one = next((one for one in self.all_stocks if one.name == stock), None)
        if one is None or one.thickness is None:
            return None
        asked = replace(self.depth, proud=0.0) if flush else self.depth
        return asked.of(one.thickness, stock=stock)

    def thickness_of(self, stock: str) -> Mm | None:
        """Return how thick a stock is, None where that is not known."""
        return next((one.thickness for one in self.all_stocks if one.name == stock), None)

    def least_web_of(self, stock: str) -> Mm:
        """Return the thinnest web that a stock bears."""
        webs = (one.least_web for one in self.stocks if one.name == stock and one.least_web is not None)
        return next(webs, self.least_web)

    @property
    def shares(self) -> tuple[Mm, Mm]:
        """What the pocket and what the piece gives of the gap."""
        _, _, pocket_gap, piece_gap = seam_radii(self.pocket_cutter.radius, 0.0, self.gap, self.gap_from)
        return pocket_gap, piece_gap


def make_settings(
    *,
    piece_cutter: Cutter | str | float | None,
    pocket_cutter: Cutter | str | float,
    gap: str | float,
    gap_from: str,
    corners: str,
    tolerance: str | float,
    least_web: str | float,
    stock: str,
    thickness: str | float | None,
    stocks: Sequence[Stock],
    joint: str | float | None,
    depth: DepthAsked,
) -> FitSettings:
    """Return what was asked for, checked; see `inlayfit.fit`.

    Raises:
        JobError: a choice that is not known, or a stock without a cutter.
        UnitError: a size that is no length.
    """
    for given, known, where in ((gap_from, GAP_FROM, "gap_from"), (corners, CORNERS, "corners")):
        if given not in known:
            raise JobError(f"{given!r} is not known", where=where, remedy=f"known are {', '.join(known)}")
    check_stocks(stocks)
    return FitSettings(
        piece_cutter=_usual_cutter(piece_cutter, stocks),
        pocket_cutter=as_cutter(pocket_cutter, where="pocket_cutter"),
        gap=_zero_or_more(gap, "gap", "the gap", "0.05mm is usual for shell"),
        gap_from=gap_from,
        corners=corners,
        tolerance=positive_length(tolerance, where="tolerance"),
        least_web=_zero_or_more(least_web, "least_web", "the least web", "0.6mm is usual for shell"),
        stock=stock,
        thickness=None if thickness is None else positive_length(thickness, where="thickness"),
        stocks=tuple(stocks),
        joint=None if joint is None else _zero_or_more(joint, "joint", "the joint", "0 is a butt joint"),
        depth=depth,
    )


def _zero_or_more(given: str | float, where: str, what: str, remedy: str) -> Mm:
    value = parse_length(given, where=where)
    if value < 0:
        raise JobError(f"{what} must not be less than zero", where=where, remedy=remedy)
    return value


def _usual_cutter(given: Cutter | str | float | None, stocks: Sequence[Stock]) -> Cutter:
    """Return what goes round pieces whose stock does not say; where all say, that of the first."""
    if given is not None:
        return as_cutter(given, where="piece_cutter")
    cutters = [stock.cutter for stock in stocks]
    for stock, cutter in zip(stocks, cutters, strict=True):
        if cutter is None:
            remedy = f"give stock.{stock.name}.bit, or piece.bit for all stocks that do not say"
            raise JobError(f"what is {stock.name} to be cut with?", where=f"stock.{stock.name}.bit", remedy=remedy)
    first = next((cutter for cutter in cutters if cutter is not None), None)
    if first is None:
        raise JobError("what are the pieces to be cut with?", where="piece_cutter", remedy="give a bit such as 1/32in")
    return first


def radii_of(settings: FitSettings) -> PlanRadii:
    """Return what the seams must allow; between two pieces each gives half of the joint.

    A disc of the cutter may touch the wall and a neighbour at once, so that the lesser of the two shares counts.
    """
    half = settings.joint_gap / 2
    pieces = {}
    for stock in settings.all_stocks:
        radius = settings.cutter_of(stock.name).radius
        opened, closed, _, piece_gap = seam_radii(
            settings.pocket_cutter.radius, radius, settings.gap, settings.gap_from
        )
        cell = max(radius - min(piece_gap, half), half)
        pieces[stock.name] = PieceRadii(closed=closed, cell=cell, cutter=radius)
    return PlanRadii(
        opened=opened,
        pieces=pieces,
        joint=settings.joint_gap,
        tolerance=settings.tolerance,
        sharp=settings.corners == "sharp",
    )
