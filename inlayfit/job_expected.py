"""The tables [tolerance], [season] and [glue] of a job: what the gap to expect rests on."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from typing import Annotated

import msgspec

from inlayfit.errors import JobError, nearest_of
from inlayfit.expected import Premises
from inlayfit.glues import ADHESIVES, Glue
from inlayfit.job_values import Length, dotted, one_of
from inlayfit.season import COLDEST, DAMPEST_AIR, DRIEST_AIR, HOTTEST, SAWN, Climate, Season, Timber
from inlayfit.stack import LARGEST, LIMIT, HalfTolerances, Tolerances
from inlayfit.units import LONGEST_SHOWN, Mm, positive_length, zero_or_more
from inlayfit.woods import WOODS, Wood, wood_of

Reading = int | float | str
"""As written: 45 or "45%", 20 or "68F"."""

Percent = Annotated[float, msgspec.Meta(gt=0, le=30)]
"""Total shrinkage: no wood shrinks by more."""

LARGEST_LIMIT: Mm = 5.0
"""A gap that may be wider than this many mm is a slip of the unit."""


class HalfToleranceTable(msgspec.Struct, frozen=True, kw_only=True):
    """What may be off of one half, each +-."""

    bit: Length | None = None
    runout: Length | None = None
    kerf: Length | None = None
    repeat: Length | None = None


class ToleranceTable(HalfToleranceTable, frozen=True, kw_only=True):
    """What may be off of both halves, and of one of them."""

    placing: Length | None = None
    limit: Length = LIMIT
    floats: bool = True
    piece: HalfToleranceTable = HalfToleranceTable()
    pocket: HalfToleranceTable = HalfToleranceTable()


class ClimateTable(msgspec.Struct, frozen=True, kw_only=True):
    """The air that wood has come to rest in."""

    humidity: Reading
    temperature: Reading = 20


class TimberTable(msgspec.Struct, frozen=True, kw_only=True):
    """A wood, and how it was sawn.

    `shrinkage` is for a wood that is in no list: radial and tangential, per cent from green to oven-dry.
    """

    wood: str
    sawn: str | None = None
    shrinkage: tuple[Percent, Percent] | None = None


class StockTimberTable(TimberTable, frozen=True, kw_only=True):
    """The wood of a stock that pieces are cut from; the grain runs as the figure of the stock unless it is given."""

    stock: str
    grain: Reading | None = None


class SeasonTable(TimberTable, frozen=True, kw_only=True):
    """The wood of the pockets, which way its grain runs on the drawing, and the air now and at its extremes later."""

    grain: Reading
    cut: ClimateTable
    driest: ClimateTable
    dampest: ClimateTable
    pieces: list[StockTimberTable] = []


class GlueTable(msgspec.Struct, frozen=True, kw_only=True):
    """What the pieces are glued in with."""

    kind: str
    thickness: Length = 0.0


def resolve_premises(
    tolerance: ToleranceTable,
    season: SeasonTable | None,
    glue: GlueTable | None,
    source: str,
    figures: Mapping[str, float | None],
) -> Premises:
    """Return what the three tables mean; `figures` are the directions of the stocks' figures, degrees from x.

    Raises:
        JobError: a wood, a glue or a climate that is not known, or a grain that is not; it names the key.
        UnitError: a size that is no length, or below zero.
    """
    return Premises(
        tolerances=_tolerances(tolerance, source),
        season=None if season is None else _season(season, source, figures),
        glue=None if glue is None else _glue(glue, source),
    )


def _tolerances(table: ToleranceTable, source: str) -> Tolerances:
    both = _half(table, source, "tolerance")
    return Tolerances(
        piece=_over(both, _half(table.piece, source, "tolerance.piece")),
        pocket=_over(both, _half(table.pocket, source, "tolerance.pocket")),
        placing=_error(table.placing, dotted(source, "tolerance.placing")),
        floats=table.floats,
        limit=positive_length(table.limit, where=dotted(source, "tolerance.limit"), most=LARGEST_LIMIT),
    )


def _half(table: HalfToleranceTable, source: str, path: str) -> HalfTolerances:
    return HalfTolerances(
        **{
            key: _error(getattr(table, key), dotted(source, f"{path}.{key}"))
            for key in HalfToleranceTable.__struct_fields__
        }
    )


def _error(value: Length | None, where: str) -> Mm | None:
    return None if value is None else zero_or_more(value, where=where, most=LARGEST)


def _over(both: HalfTolerances, own: HalfTolerances) -> HalfTolerances:
    """Return the errors of one half: its own where it has one, else those of both."""
    return HalfTolerances(
        **{
            key: getattr(both, key) if getattr(own, key) is None else getattr(own, key)
            for key in HalfToleranceTable.__struct_fields__
        }
    )


def _season(table: SeasonTable, source: str, figures: Mapping[str, float | None]) -> Season:
    driest = _climate(table.driest, source, "season.driest")
    dampest = _climate(table.dampest, source, "season.dampest")
    if driest.moisture > dampest.moisture:
        raise JobError(
            f"wood comes to {driest.moisture:.1f} % moisture here, and to {dampest.moisture:.1f} % in the dampest air",
            where=dotted(source, "season.driest"),
            remedy="exchange driest and dampest",
        )
    return Season(
        pocket=_timber(table, _grain(table.grain, dotted(source, "season.grain")), source, "season"),
        cut=_climate(table.cut, source, "season.cut"),
        driest=driest,
        dampest=dampest,
        pieces=tuple(
            (one.stock, _piece_timber(one, source, f"season.pieces[{index}]", figures.get(one.stock)))
            for index, one in enumerate(table.pieces)
        ),
    )


def _piece_timber(table: StockTimberTable, source: str, path: str, figure_deg: float | None) -> Timber:
    """Return the wood of a stock: both its grain and its figure are directions on the drawing, from x."""
    where = dotted(source, f"{path}.grain")
    if table.grain is not None:
        return _timber(table, _grain(table.grain, where), source, path)
    if figure_deg is None:
        remedy = f'give "x", "y", or degrees from x such as 30; or stock.{table.stock}.figure_deg'
        raise JobError(f"which way does the grain of {table.stock} run?", where=where, remedy=remedy)
    return _timber(table, figure_deg, source, path)


def _timber(table: TimberTable, grain_deg: float, source: str, path: str) -> Timber:
    return Timber(
        wood=_wood(table, source, path),
        grain_deg=grain_deg,
        sawn=None if table.sawn is None else one_of(table.sawn, SAWN, dotted(source, f"{path}.sawn")),
    )


def _wood(table: TimberTable, source: str, path: str) -> Wood:
    if table.shrinkage is not None:
        return wood_of(table.wood, *table.shrinkage)
    name = table.wood.strip().casefold()
    if name not in WOODS:
        raise JobError(
            f"no wood called {table.wood!r} is known",
            where=dotted(source, f"{path}.wood"),
            remedy=f"{nearest_of(name, WOODS)}; for another give shrinkage = [radial, tangential] in per cent",
        )
    return WOODS[name]


def _grain(given: Reading, where: str) -> float:
    """Return degrees from x, counter-clockwise."""
    named = {"x": 0.0, "y": 90.0}
    if isinstance(given, str) and given.strip().lower() in named:
        return named[given.strip().lower()]
    degrees, _ = _number(given, {"", "deg"}, where, 'give "x", "y", or degrees from x such as 30')
    if not -360 <= degrees <= 360:
        raise JobError(f"{given} is no direction", where=where, remedy="give -360 to 360 degrees from x")
    return degrees


def _climate(table: ClimateTable, source: str, path: str) -> Climate:
    where = dotted(source, f"{path}.humidity")
    humidity, _ = _number(table.humidity, {"", "%"}, where, "give per cent, such as 45")
    if not DRIEST_AIR <= humidity <= DAMPEST_AIR:
        raise JobError(
            f"a humidity of {table.humidity} is outside of {DRIEST_AIR:g} to {DAMPEST_AIR:g} %",
            where=where,
            remedy="give relative humidity in per cent, such as 45",
        )
    return Climate(
        humidity=humidity, temperature_c=_temperature(table.temperature, dotted(source, f"{path}.temperature"))
    )


def _temperature(given: Reading, where: str) -> float:
    remedy = 'give degrees Celsius, such as 20, or Fahrenheit as "68F"'
    degrees, unit = _number(given, {"", "c", "f"}, where, remedy)
    celsius = (degrees - 32) * 5 / 9 if unit == "f" else degrees
    if not COLDEST - 0.2 <= celsius <= HOTTEST:  # 30 F is -1.1 C
        message = f"{given} is no temperature for a guitar: {COLDEST:g} to {HOTTEST:g} C are known"
        raise JobError(message, where=where, remedy=remedy)
    return celsius


_NUMBER = re.compile(r"\s*([+-]?\d{1,6}(?:\.\d{0,9})?)\s*°?\s*([a-z%]*)\s*\Z", re.IGNORECASE)


def _number(given: Reading, units: Collection[str], where: str, remedy: str) -> tuple[float, str]:
    """Return a number and its unit, in small letters.

    Raises:
        JobError: no number, or another unit.
    """
    text = f"{given:.6f}" if isinstance(given, float) else str(given)
    found = _NUMBER.match(text)
    if found is None or found[2].lower() not in units:
        shown = text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}..."
        raise JobError(f"{shown!r} cannot be read", where=where, remedy=remedy)
    return float(found[1]), found[2].lower()


def _glue(table: GlueTable, source: str) -> Glue:
    kind = one_of(table.kind, tuple(ADHESIVES), dotted(source, "glue.kind"))
    where = dotted(source, "glue.thickness")
    return Glue(adhesive=ADHESIVES[kind], thickness=zero_or_more(table.thickness, where=where, most=LARGEST))
