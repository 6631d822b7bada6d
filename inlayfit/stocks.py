"""What the pieces are cut from, and which regions of the drawing are cut from which stock."""

from __future__ import annotations

import re
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase

from inlayfit.cutters import Cutter
from inlayfit.drawing import Drawing, Region
from inlayfit.errors import JobError, nearest_of
from inlayfit.findings import Finding
from inlayfit.units import Mm

KINDS = ("shell", "bone", "metal", "wood", "stone", "plastic")
"""What a stock can be."""

CUT_FROM = ("front", "back")
"""The face that lies up while the piece is cut; from the back its path is mirrored."""

INLAID = ("wood", "piece")
"""What pieces are let into: the wood, through whatever lies round them, or the piece round them."""

LISTED = 30
"""An error names no more regions than this."""

_COLOUR = re.compile(r"#(?:[0-9a-f]{3}|[0-9a-f]{6})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """A material: `thickness` as measured, `cutter` what goes round its pieces, `least_web` the thinnest it bears.

    None stands for what the job says for all stocks. `figure_deg` is the direction of its figure or grain, counter-
    clockwise from x, None where that does not matter; `inlaid` is what its pieces are let into, and where that is the
    wood, those whose name fits one of `let_in` go into the piece round them all the same. Of regions it claims those on
    `layers`, of `colours` (``#rrggbb``), whose name fits one of `names` (``feather*``) or stands in `regions`, and none
    that fits `without`.
    """

    name: str
    kind: str = "shell"
    thickness: Mm | None = None
    cutter: Cutter | None = None
    least_web: Mm | None = None
    figure_deg: float | None = None
    cut_from: str = "front"
    inlaid: str = "wood"
    let_in: tuple[str, ...] = ()
    layers: tuple[str, ...] = ()
    colours: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    regions: tuple[str, ...] = ()
    without: tuple[str, ...] = ()

    @property
    def claims_nothing(self) -> bool:
        """Whether no region is named in any way."""
        return not (self.layers or self.colours or self.names or self.regions)

    def claims(self, region: Region) -> bool:
        """Return whether a region is to be cut from this stock."""
        if _fits(region, self.without):
            return False
        return (
            region.layer in self.layers
            or region.colour in self.colours
            or region.name in self.regions
            or _fits(region, self.names)
        )

    def lets_in(self, region: Region) -> bool:
        """Return whether the piece of a region goes into the piece round it."""
        return self.inlaid == "piece" or _fits(region, self.let_in)


def _fits(region: Region, patterns: Sequence[str]) -> bool:
    return any(fnmatchcase(region.name, pattern) for pattern in patterns)


def plain_colour(text: str, *, where: str) -> str:
    """Return a colour as regions have it.

    >>> plain_colour("#FA0", where="stock.gold.colours")
    '#ffaa00'

    Raises:
        JobError: it is no colour in that form.
    """
    colour = text.strip().lower()
    if not _COLOUR.fullmatch(colour):
        remedy = 'write it as "#c09a45"; inlayfit look lists the colours of a drawing'
        raise JobError(f"{text!r} is no colour", where=where, remedy=remedy)
    return colour if len(colour) == 7 else "#" + "".join(2 * digit for digit in colour[1:])


def find_stock(stocks: Sequence[Stock], name: str, *, where: str) -> Stock:
    """Return the stock of that name.

    Raises:
        JobError: there is none; the known ones are listed.
    """
    for stock in stocks:
        if stock.name == name:
            return stock
    raise JobError(
        f"no stock is called {name!r}", where=where, remedy=nearest_of(name, [stock.name for stock in stocks])
    )


def check_stocks(stocks: Sequence[Stock]) -> None:
    """Refuse stocks that cannot be told apart, and choices that are not known.

    Raises:
        JobError: two of one name, a kind or a face that is not known, or pieces let in one by one beside all of them.
    """
    names = [stock.name for stock in stocks]
    for stock in stocks:
        if names.count(stock.name) > 1:
            remedy = "give each a name of its own"
            raise JobError(f"two stocks are called {stock.name!r}", where=f"stock.{stock.name}", remedy=remedy)
        for value, known, key in (
            (stock.kind, KINDS, "kind"),
            (stock.cut_from, CUT_FROM, "cut_from"),
            (stock.inlaid, INLAID, "inlaid"),
        ):
            if value not in known:
                where = f"stock.{stock.name}.{key}"
                raise JobError(f"{value!r} is none of the choices", where=where, remedy=nearest_of(value, known))
        if stock.inlaid == "piece" and stock.let_in:
            where, remedy = f"stock.{stock.name}.let_in", "leave one of the two out"
            raise JobError('inlaid = "piece" lets in all pieces of the stock', where=where, remedy=remedy)


def assign(drawing: Drawing, stocks: Sequence[Stock]) -> tuple[Drawing, list[Finding]]:
    """Return the drawing with the stock of each region, and a note for each stock that no region uses.

    A stock that is alone and claims nothing takes all.

    Raises:
        JobError: regions that no stock claims or that two claim, or a name in a list that no region has.
    """
    if len(stocks) == 1 and stocks[0].claims_nothing and not stocks[0].without:
        return _with_stocks(drawing, [stocks[0]] * len(drawing.regions)), []
    _check_lists(drawing, stocks)
    claims = [[stock for stock in stocks if stock.claims(region)] for region in drawing.regions]
    _refuse_unclaimed([region for region, by in zip(drawing.regions, claims, strict=True) if not by], stocks)
    for region, by in zip(drawing.regions, claims, strict=True):
        if len(by) > 1:
            both = " and ".join(stock.name for stock in by)
            raise JobError(
                f"{_shown(region)} is claimed by {both}",
                where=f"stock.{by[1].name}",
                remedy=f'leave it out of one: without = ["{region.name}"]',
            )
    return _with_stocks(drawing, [by[0] for by in claims]), list(
        _unused(drawing, stocks, {by[0].name for by in claims})
    )


def _with_stocks(drawing: Drawing, stocks: Sequence[Stock]) -> Drawing:
    """Return the drawing with the stock of each region, and whether it is let in.

    Raises:
        JobError: what is to be let in is no region of the stock.
    """
    each = list(zip(drawing.regions, stocks, strict=True))
    for stock in dict.fromkeys(stocks):
        _check_let_in(stock, [region for region, own in each if own is stock])
    regions = (replace(region, stock=stock.name, let_in=stock.lets_in(region)) for region, stock in each)
    return replace(drawing, regions=tuple(regions))


def _check_let_in(stock: Stock, regions: Sequence[Region]) -> None:
    """Refuse a pattern of pieces to let in that fits no region of the stock."""
    for pattern in stock.let_in:
        if not any(_fits(region, [pattern]) for region in regions):
            known = list(dict.fromkeys(region.name for region in regions))[:LISTED]
            where = f"stock.{stock.name}.let_in"
            raise JobError(
                f"no region of this stock is called {pattern!r}", where=where, remedy=nearest_of(pattern, known)
            )


def _shown(region: Region) -> str:
    """Return a region as a maker finds it again."""
    layer, colour = region.layer or "none", region.colour or "none"
    return f"{region.name} (layer {layer}, colour {colour})"


def _check_lists(drawing: Drawing, stocks: Sequence[Stock]) -> None:
    """Refuse a name in a list by hand that no region has."""
    known = list(dict.fromkeys(region.name for region in drawing.regions))
    for stock in stocks:
        for name in stock.regions:
            if name not in known:
                where = f"stock.{stock.name}.regions"
                raise JobError(f"no region is called {name!r}", where=where, remedy=nearest_of(name, known[:LISTED]))


def _refuse_unclaimed(regions: Sequence[Region], stocks: Sequence[Stock]) -> None:
    if not regions:
        return
    listed = "; ".join(_shown(region) for region in regions[:LISTED])
    more = f"; and {len(regions) - LISTED} more" if len(regions) > LISTED else ""
    tables = ", ".join(f"[stock.{stock.name}]" for stock in stocks)
    raise JobError(
        f"no stock is named for {listed}{more}",
        where="stock",
        remedy=f"add their layers, colours, names or regions to one of {tables}",
    )


def _unused(drawing: Drawing, stocks: Sequence[Stock], used: Container[str]) -> Iterator[Finding]:
    """Yield a note for each stock that no region is cut from, in the middle of the drawing."""
    left, bottom, right, top = drawing.bounds
    for stock in stocks:
        if stock.name not in used:
            yield Finding(
                kind="unused-stock",
                severity="note",
                part="drawing",
                name=stock.name,
                x=(left + right) / 2,
                y=(bottom + top) / 2,
                message="no region is cut from this stock",
                remedy="look at its layers, colours, names and regions: inlayfit look lists those of the drawing",
            )
