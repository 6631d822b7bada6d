"""The gap to expect, put into words: what to change first, and a finding where a gap may close or open too far."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from inlayfit.expected import Expected, ExpectedGap, Place, SeasonGap
from inlayfit.findings import Finding, Severity, finding_within
from inlayfit.glues import judge_gap, range_text
from inlayfit.recipe import Fit, Piece, Pocket
from inlayfit.units import Mm, format_mm
from inlayfit.woods import WOODS

SURE = 0.99
"""A likelihood below this is a finding: one piece of a hundred would have to be filed, or shows its glue."""


def percent(share: float) -> str:
    """Return a likelihood for the screen, never rounded up to all or down to none.

    >>> percent(0.97342), percent(0.99997), percent(0.00001), percent(0.5), percent(1.0)
    ('97.3%', 'over 99.9%', 'under 0.1%', '50%', 'over 99.9%')
    """
    if share > 0.999:
        return "over 99.9%"
    if share < 0.001:
        return "under 0.1%"
    return f"{math.floor(share * 1000) / 10:g}%"


def advice(expected: Expected) -> str:
    """Return what to change first, in words."""
    causes = expected.stack.causes
    if not causes:
        return "nothing is taken to be off: give what may be, in [tolerance]"
    cause, part = causes[0]
    heaviest = next(one for one in expected.stack.contributors if one.cause == cause)
    share = f"{cause} ({part:.0%} of the spread)"
    drops, under = expected.least_sure, expected.widest
    if drops.drops_in >= SURE and under.under_limit >= SURE:
        return f"nothing has to; most comes from {share}: {heaviest.remedy}"
    return f"{_other_gap(expected, drops, under)}first of all {share}: {heaviest.remedy}"


def _other_gap(expected: Expected, drops: ExpectedGap, under: ExpectedGap) -> str:
    """Return which gap would do, if one does both: lets the pieces drop in and stays under the limit."""
    limit, tight, wide = expected.premises.tolerances.limit, drops.tightest, under.widest
    least = _ceil(tight.stack.margin_for(SURE) + expected.premises.film + tight.asked - tight.tight)
    most = _floor(limit - wide.stack.margin_for(SURE) - (wide.wide - wide.asked))
    if tight.joint == wide.joint and least > most:
        return (
            f"no {_what(tight)} does both: from {format_mm(least)} on the pieces drop in, and "
            + (f"up to {format_mm(most)}" if most > 0 else "none at all")
            + f" stays under {format_mm(limit)}; "
        )
    wider = f"a wider {_what(tight)}, {format_mm(least)}; " if drops.drops_in < SURE else ""
    if under.under_limit >= SURE or (wider and tight.joint == wide.joint):
        return wider
    return f"{wider}a narrower {_what(wide)}{f', {format_mm(most)}' if most > 0 else ''}; "


def _what(place: Place) -> str:
    return "joint" if place.joint else "gap"


def _ceil(value: Mm) -> Mm:
    return math.ceil(value * 1000 - 1e-6) / 1000


def _floor(value: Mm) -> Mm:
    return math.floor(value * 1000 + 1e-6) / 1000


def expected_findings(expected: Expected, fit: Fit) -> list[Finding]:
    """Return where a gap may close or open too far, by what may be off or by the seasons, and where the glue asks more.

    One a piece for what may be off, one a pocket and way for the seasons: its pieces are pressed together.
    """
    return [
        *_of_tolerances(expected, fit),
        *_of_seasons(expected, fit),
        *_still_woods(expected, fit),
        *_of_glue(expected, fit),
    ]


def _of_tolerances(expected: Expected, fit: Fit) -> Iterable[Finding]:
    limit = format_mm(expected.premises.tolerances.limit)
    room = "room for its glue" if expected.premises.film else "no filing"
    remedy = advice(expected)
    for piece, gap in zip(fit.pieces, expected.pieces, strict=True):
        if gap.drops_in < SURE:
            message = f"the errors of cutting may eat up the gap: it drops in with {room} in {_cases(gap.drops_in)}"
            yield _at_piece("gap-may-close", piece, message, remedy, gap.tightest.tight)
        if gap.under_limit < SURE:
            message = f"with the errors of cutting the gap stays under {limit} in {_cases(gap.under_limit)}"
            yield _at_piece("gap-may-open", piece, message, remedy, gap.widest.wide)


def _cases(share: float) -> str:
    """Return a likelihood in tenths, so that pieces which are much alike are told in one line.

    >>> _cases(0.968), _cases(0.7), _cases(0.05)
    ('more than 9 of 10 cases', 'more than 7 of 10 cases', 'fewer than 1 of 10 cases')
    """
    tenths = math.floor(share * 10 + 1e-9)
    return f"more than {tenths} of 10 cases" if tenths else "fewer than 1 of 10 cases"


def _at_piece(
    kind: str, piece: Piece, message: str, remedy: str, size: Mm | None, severity: Severity = "warning"
) -> Finding:
    return finding_within(
        piece.outline,
        kind=kind,
        severity=severity,
        part="piece",
        name=piece.name,
        message=message,
        remedy=remedy,
        size_mm=size,
    )


@dataclass(frozen=True, slots=True)
class _Extreme:
    """The gap of a pocket at one extreme in one direction."""

    time: str
    way: str
    gap: Mm


def _of_seasons(expected: Expected, fit: Fit) -> Iterable[Finding]:
    """Yield the pockets that press on their pieces, then those that open too far: each where it is worst."""
    limit = expected.premises.tolerances.limit
    opened: list[Finding] = []
    for pocket in fit.pockets:
        pieces = [expected.pieces[index] for index in pocket.pieces]
        extremes = [one for piece in pieces for one in _extremes(piece)]
        if not extremes:
            continue
        tight, wide = min(piece.tightest.tight for piece in pieces), max(piece.widest.wide for piece in pieces)
        least, most = min(extremes, key=lambda one: one.gap), max(extremes, key=lambda one: one.gap)
        if least.gap <= 0 < tight:
            message = f"the gap closes {least.way} the grain: the wood presses by {format_mm(-least.gap, 2)} a side"
            yield _at_pocket("season-closes", pocket, f"{least.time} {message}", PRESSED, least.gap)
        if most.gap > limit >= wide:
            message = f"{most.time} the gap opens {most.way} the grain to {format_mm(most.gap, 2)} a side"
            opened.append(_at_pocket("season-opens", pocket, message, OPENED, most.gap))
    yield from opened


def _still_woods(expected: Expected, fit: Fit) -> Iterable[Finding]:
    """Yield a note for each stock that is wood, or has the name of one, and of which the season says nothing."""
    season = expected.premises.season
    if season is None:
        return
    moving = {stock for stock, _timber in season.pieces}
    woods = {stock.name for stock in fit.settings.stocks if stock.kind == "wood"}
    for stock in dict.fromkeys(piece.stock for piece in fit.pieces):
        if stock not in moving and (stock in woods or stock.strip().casefold() in WOODS):
            first = next(piece for piece in fit.pieces if piece.stock == stock)
            message = f"pieces of {stock} are reckoned as still through the seasons, as shell is, and wood is not"
            remedy = f'add [[season.pieces]] with stock = "{stock}", its wood and its grain'
            yield _at_piece("still-wood", first, message, remedy, None, severity="note")


PRESSED = (
    "brittle stock may crack or be pushed out: cut in air nearer to that, leave more room, divide wide pieces, or take "
    "wood that moves less, such as quartersawn"
)
OPENED = "cut in air nearer to that, divide wide pieces, or fill with dust and glue"


def _extremes(piece: ExpectedGap) -> list[_Extreme]:
    times: Sequence[tuple[str, SeasonGap | None]] = (("driest", piece.dry), ("dampest", piece.damp))
    found = [(f"in the {word} time", gap) for word, gap in times if gap is not None]
    return [
        _Extreme(time, way, end)
        for time, gap in found
        for way, ends in (("along", gap.along_range), ("across", gap.across_range))
        for end in ends
    ]


def _at_pocket(kind: str, pocket: Pocket, message: str, remedy: str, size: Mm) -> Finding:
    return finding_within(
        pocket.outline, kind=kind, part="pocket", name=pocket.name, message=message, remedy=remedy, size_mm=size
    )


def _of_glue(expected: Expected, fit: Fit) -> Iterable[Finding]:
    glue = expected.premises.glue
    if glue is None:
        return
    verdict = judge_gap(glue.adhesive, expected.gap)
    if verdict in {"too tight", "too wide"}:
        adhesive = glue.adhesive
        message = (
            f"a gap of {format_mm(expected.gap)} is {verdict} for {adhesive.name}: {range_text(adhesive)} suits it"
        )
        yield _at_piece("glue-gap", fit.pieces[0], message, f"{adhesive.advice} ({adhesive.source})", expected.gap)
