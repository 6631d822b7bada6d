"""The table [machine] of a job, and how fast each cutter goes: everything has a value to start from."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from inlayfit.errors import JobError
from inlayfit.feeds import DIRECTIONS, PROGRAM_UNITS, Cutting, Machine, SpeedsAsked, checked_rpm, checked_teeth
from inlayfit.job_stocks import CutterTable
from inlayfit.job_values import Length, dotted, one_of
from inlayfit.units import Mm, format_mm, positive_length, positive_speed, zero_or_more

HIGHEST: Mm = 200.0
"""No small router travels higher over its work."""

DEEPEST: Mm = 20.0
"""Neither a pass nor what lies below the sheet is deeper."""

SHALLOWEST: Mm = 0.02
"""A pass of less is a slip of the unit: it would take a thousand of them through a sheet."""

FASTEST_FEED = 50_000.0
"""mm/min."""


USUAL = Machine()
"""What holds where the job says nothing."""


class MachineTable(msgspec.Struct, frozen=True, kw_only=True):
    """The router."""

    safe_height: Length = USUAL.safe_height
    through: Length = USUAL.through
    least_rpm: float = USUAL.least_rpm
    most_rpm: float = USUAL.most_rpm
    most_feed: Length = USUAL.most_feed
    rapid: Length = USUAL.rapid
    direction: str = USUAL.direction
    units: str = USUAL.units


def resolve_cutting(
    machine: MachineTable, piece: CutterTable, stocks: Mapping[str, CutterTable], pocket: CutterTable, source: str
) -> Cutting:
    """Return how a job is to be cut; what a stock does not say of speeds holds as [piece] has it.

    Raises:
        JobError: a number of turns or teeth that is none, or a choice that is not known.
        UnitError: a length or a speed that is none, or absurd.
    """
    usual = _speeds(piece, None, dotted(source, "piece"))
    return Cutting(
        machine=_machine(machine, dotted(source, "machine")),
        own={name: _speeds(table, usual, dotted(source, f"stock.{name}")) for name, table in stocks.items()},
        usual=usual,
        pocket=_speeds(pocket, None, dotted(source, "pocket")),
    )


def _machine(table: MachineTable, where: str) -> Machine:
    least, most = (checked_rpm(getattr(table, key), where=f"{where}.{key}") for key in ("least_rpm", "most_rpm"))
    if least > most:
        remedy = "least_rpm is how slowly the spindle can turn, most_rpm how fast"
        raise JobError(f"{least:g} turns are more than {most:g}", where=f"{where}.least_rpm", remedy=remedy)
    return Machine(
        safe_height=positive_length(table.safe_height, where=f"{where}.safe_height", most=HIGHEST),
        through=zero_or_more(table.through, where=f"{where}.through", most=DEEPEST),
        least_rpm=least,
        most_rpm=most,
        most_feed=positive_speed(table.most_feed, where=f"{where}.most_feed", most=FASTEST_FEED),
        rapid=positive_speed(table.rapid, where=f"{where}.rapid", most=FASTEST_FEED),
        direction=one_of(table.direction, DIRECTIONS, f"{where}.direction"),
        units=one_of(table.units, PROGRAM_UNITS, f"{where}.units"),
    )


def _speeds(table: CutterTable, usual: SpeedsAsked | None, where: str) -> SpeedsAsked:
    teeth, depth, feed, rpm = table.teeth, table.pass_depth, table.feed, table.rpm
    said = SpeedsAsked() if usual is None else usual
    return SpeedsAsked(
        teeth=said.teeth if teeth is None else checked_teeth(teeth, where=f"{where}.teeth"),
        rpm=said.rpm if rpm is None else checked_rpm(rpm, where=f"{where}.rpm"),
        feed=said.feed if feed is None else positive_speed(feed, where=f"{where}.feed", most=FASTEST_FEED),
        pass_depth=said.pass_depth if depth is None else _pass_depth(depth, f"{where}.pass_depth"),
    )


def _pass_depth(value: Length, where: str) -> Mm:
    depth = positive_length(value, where=where, most=DEEPEST)
    if depth < SHALLOWEST:
        remedy = f"give {format_mm(SHALLOWEST)} or more; a bare number is mm"
        raise JobError(f"a pass {value} deep", where=where, remedy=remedy)
    return depth
