"""All pieces of a fit onto the blanks that the maker owns: numbers, places, yield, and what finds no place."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.blanks import Blank
from inlayfit.cutters import Cutter
from inlayfit.findings import Finding
from inlayfit.layout_bench import Ground, Lying, Need, lay_needs
from inlayfit.layout_raster import turn
from inlayfit.recipe import Piece
from inlayfit.stocks import Stock
from inlayfit.units import Mm, format_mm

SMALL: Mm = 6.0
"""A piece no longer than this has little that holds it, and is kept off the edge of its blank (no source)."""

BANDS = 8
"""Lines of reading over the height of the drawing: numbers run along each from left to right, the uppermost first."""

HALF_TURN_SHOWS = ("shell",)
"""Kinds that flash with the light: turned by half a turn they look different. Grain does not (common practice, no
source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """A piece on a blank: its middle, the centroid of its outline, lies at x, y.

    It was mirrored left to right about its middle, if it is, and then turned counter-clockwise by `angle_deg`.
    """

    piece: int
    x: Mm
    y: Mm
    angle_deg: float
    mirrored: bool

    def points(self, points: NDArray[np.float64], middle: tuple[Mm, Mm]) -> NDArray[np.float64]:
        """Return points (n, 2) of the drawing as they lie on the blank; `middle` is that of the piece."""
        local = (points - middle) * (-1.0 if self.mirrored else 1.0, 1.0)
        return turn(local, math.radians(self.angle_deg)) + np.array((self.x, self.y))


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidBlank:
    """A blank that is used, and what lies on it; `yield_percent` is the area of the pieces of that of the blank."""

    blank: Blank
    pieces: tuple[Laid, ...]
    yield_percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StockYield:
    """How many blanks of a stock are used of those there are, and how much of them becomes pieces."""

    stock: str
    used: int
    owned: int
    yield_percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The blanks in use, a number for each piece of the fit, and the numbers of those that have no place."""

    blanks: tuple[LaidBlank, ...]
    stocks: tuple[StockYield, ...]
    numbers: tuple[str, ...]
    findings: tuple[Finding, ...]


def lay_out(
    pieces: Sequence[Piece], blanks: Sequence[Blank], stocks: Sequence[Stock], cutters: Mapping[str, Cutter]
) -> Layout:
    """Return the pieces on as few blanks as were found; the same input gives the same layout.

    Args:
        pieces: those of a fit.
        blanks: those there are.
        stocks: of the pieces and the blanks, in the order of their letters.
        cutters: what goes round the pieces of each stock, by its name.
    """
    numbers = number_pieces(pieces, [stock.name for stock in stocks])
    laid: list[LaidBlank] = []
    yields: list[StockYield] = []
    findings: list[Finding] = []
    for stock in stocks:
        own = [index for index, piece in enumerate(pieces) if piece.stock == stock.name]
        if not own:
            continue
        owned = [blank for blank in blanks if blank.stock == stock.name]
        if not owned:
            findings.append(_no_blank(pieces, own, stock))
            continue
        used, left = _lay_stock(pieces, own, owned, stock, cutters[stock.name])
        laid += used
        yields.append(_yield_of(stock.name, used, len(owned), pieces))
        findings += _unplaced(pieces, left, owned, stock, cutters[stock.name], numbers)
        findings += _turned_freely(pieces, own, owned, stock)
    return Layout(blanks=tuple(laid), stocks=tuple(yields), numbers=tuple(numbers), findings=tuple(findings))


def number_pieces(pieces: Sequence[Piece], stocks: Sequence[str]) -> list[str]:
    """Return a letter for the stock of each piece and its number in the order of reading over the drawing."""
    middles = np.array([middle_of(piece) for piece in pieces]).reshape(-1, 2)
    top, bottom = middles[:, 1].max(initial=0.0), middles[:, 1].min(initial=0.0)
    band = max((top - bottom) / BANDS, 1e-9)
    lines = np.floor((top - middles[:, 1]) / band).astype(int)
    numbers = [""] * len(pieces)
    present = [stock for stock in stocks if any(piece.stock == stock for piece in pieces)]
    for letter, stock in enumerate(present):
        own = [index for index, piece in enumerate(pieces) if piece.stock == stock]
        own.sort(key=lambda index: (lines[index], middles[index, 0], index))
        for number, index in enumerate(own, start=1):
            numbers[index] = f"{_capital(letter)}{number}"
    return numbers


def _capital(number: int) -> str:
    """Return A, B, ... Z, AA for 0, 1, ... 25, 26."""
    text = ""
    number += 1
    while number:
        number, digit = divmod(number - 1, 26)
        text = chr(ord("A") + digit) + text
    return text


def middle_of(piece: Piece) -> tuple[Mm, Mm]:
    """Return the centroid of a piece in the drawing."""
    spot = shapely.centroid(piece.outline)
    return float(spot.x), float(spot.y)


def sides_of(outline: shapely.Polygon) -> tuple[Mm, Mm]:
    """Return the longer and the shorter side of the least rectangle round an outline."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(outline))
    first, second = np.hypot(*np.diff(corners[:3], axis=0).T).tolist()
    return max(first, second), min(first, second)


def _lay_stock(
    pieces: Sequence[Piece], own: Sequence[int], blanks: Sequence[Blank], stock: Stock, cutter: Cutter
) -> tuple[list[LaidBlank], list[int]]:
    """Return the used blanks of one stock and the pieces without a place."""
    needs = [_need(pieces[index], blanks, stock) for index in own]
    grounds = [_ground(blank, stock, cutter) for blank in blanks]
    between = max(blank.between(cutter) for blank in blanks)
    lying, left = lay_needs(needs, grounds, between)
    used = [
        _laid_blank(blank, [one for one in lying if one.ground == number], own, pieces, stock)
        for number, blank in enumerate(blanks)
        if any(one.ground == number for one in lying)
    ]
    return used, [own[need] for need in left]


def _figured(blanks: Sequence[Blank], stock: Stock) -> bool:
    """Return whether the figure tells how pieces lie."""
    return stock.figure_deg is not None and all(blank.figure_deg is not None for blank in blanks)


def _frame(blank: Blank, stock: Stock) -> float:
    """Return by how much a blank is turned so that its figure runs along x, radians; nought where it tells nothing."""
    return -math.radians(blank.figure_deg or 0.0) if stock.figure_deg is not None else 0.0


def _ground(blank: Blank, stock: Stock, cutter: Cutter) -> Ground:
    area = shapely.transform(blank.outline, lambda points: turn(points, _frame(blank, stock)))
    return Ground(area=area, edge=blank.edge(cutter))


def _need(piece: Piece, blanks: Sequence[Blank], stock: Stock) -> Need:
    """Return a piece about its middle, mirrored if it is cut from the back, with the angles that its figure leaves."""
    mirrored = stock.cut_from == "back"
    side = np.array([-1.0 if mirrored else 1.0, 1.0])
    outline = shapely.transform(piece.outline, lambda points: (points - middle_of(piece)) * side)
    turns = _turns(stock, mirrored=mirrored) if _figured(blanks, stock) else None
    return Need(outline=shapely.normalize(outline), turns=turns, small=sides_of(outline)[0] <= SMALL)


def _turns(stock: Stock, *, mirrored: bool) -> tuple[float, ...]:
    """Return the angles that lay the figure of a piece along x: one, or two where half a turn does not show."""
    drawn = math.radians(stock.figure_deg or 0.0)
    along = -(math.pi - drawn if mirrored else drawn)
    return (along,) if stock.kind in HALF_TURN_SHOWS else (along, along + math.pi)


def _laid_blank(
    blank: Blank, lying: Sequence[Lying], own: Sequence[int], pieces: Sequence[Piece], stock: Stock
) -> LaidBlank:
    back = -_frame(blank, stock)
    laid = []
    for one in lying:
        x, y = turn(np.array([[one.x, one.y]]), back)[0].tolist()
        angle = math.degrees(one.angle + back) % 360.0
        laid.append(Laid(piece=own[one.need], x=x, y=y, angle_deg=angle, mirrored=stock.cut_from == "back"))
    area = sum(pieces[one.piece].outline.area for one in laid)
    return LaidBlank(blank=blank, pieces=tuple(laid), yield_percent=100 * area / blank.outline.area)


def _yield_of(stock: str, used: Sequence[LaidBlank], owned: int, pieces: Sequence[Piece]) -> StockYield:
    area = sum(pieces[one.piece].outline.area for laid in used for one in laid.pieces)
    whole = sum(laid.blank.outline.area for laid in used)
    return StockYield(stock=stock, used=len(used), owned=owned, yield_percent=100 * area / whole if whole else 0.0)


def _unplaced(
    pieces: Sequence[Piece],
    left: Sequence[int],
    blanks: Sequence[Blank],
    stock: Stock,
    cutter: Cutter,
    numbers: Sequence[str],
) -> Iterator[Finding]:
    """Yield a finding for each piece without a place, with the blank that it would need."""
    for index in left:
        need = _need(pieces[index], blanks, stock)
        long, short = _box(need)
        margin = 2 * min(blank.edge(cutter) for blank in blanks)
        wanted = f"{format_mm(long + margin, 1)} by {format_mm(short + margin, 1)}"
        grounds = [_ground(blank, stock, cutter) for blank in blanks]
        between = max(blank.between(cutter) for blank in blanks)
        alone = any(not lay_needs([need], [ground], between)[1] for ground in grounds)
        x, y = middle_of(pieces[index])
        size = f"{numbers[index]}, {format_mm(long, 1)} by {format_mm(short, 1)},"
        yield Finding(
            kind="no-place" if alone else "larger-than-blank",
            severity="warning",
            part="blank",
            name=pieces[index].name,
            x=x,
            y=y,
            message=f"{size} finds no place on the blanks of {stock.name}: they are full"
            if alone
            else f"{size} is larger than any blank of {stock.name} leaves within its margin",
            remedy=f"one more blank, of {wanted} at least"
            if alone
            else f"a blank of {wanted} at least, or split it in the drawing",
            size_mm=long,
            area_mm2=float(pieces[index].outline.area),
        )


def _box(need: Need) -> tuple[Mm, Mm]:
    """Return the longer and the shorter side of what a piece takes up, turned as it may be."""
    if need.turns is None:
        return sides_of(need.outline)
    left, bottom, right, top = shapely.transform(need.outline, lambda points: turn(points, need.turns[0])).bounds
    return max(right - left, top - bottom), min(right - left, top - bottom)


def _no_blank(pieces: Sequence[Piece], own: Sequence[int], stock: Stock) -> Finding:
    x, y = middle_of(pieces[own[0]])
    return Finding(
        kind="no-blank",
        severity="warning",
        part="blank",
        name=stock.name,
        x=x,
        y=y,
        message=f"no blank of it is named: {len(own)} of its pieces {'is' if len(own) == 1 else 'are'} not laid out",
        remedy=f'add a table [[blank]] with stock = "{stock.name}"',
    )


def _turned_freely(
    pieces: Sequence[Piece], own: Sequence[int], blanks: Sequence[Blank], stock: Stock
) -> Iterator[Finding]:
    """Yield a note where a stock has a figure and its blanks do not say how it runs."""
    if stock.figure_deg is not None and not _figured(blanks, stock):
        x, y = middle_of(pieces[own[0]])
        yield Finding(
            kind="figure-turned",
            severity="note",
            part="blank",
            name=stock.name,
            x=x,
            y=y,
            message="its figure has a direction, but its blanks do not say how theirs runs: pieces are turned freely",
            remedy="give figure_deg on each of its blanks",
        )
