"""The gap to expect, as the JSON has it and in lines for the screen and the page; computed elsewhere, once."""

from __future__ import annotations

from typing import Any

from inlayfit.expected import Expected, ExpectedGap, SeasonGap
from inlayfit.expected_remarks import advice, percent
from inlayfit.glues import judge_gap, range_text
from inlayfit.report.reading import Line
from inlayfit.season import NOTE, SOURCE, Climate, Season, Timber, Time
from inlayfit.stack import Stack
from inlayfit.units import format_mm
from inlayfit.woods import ALONG_SOURCE


def expected_table(expected: Expected) -> dict[str, Any]:
    """Return what the JSON of a fit says on its top level: `expect`, and `season` where the job has one."""
    premises, stack = expected.premises, expected.stack
    season = premises.season
    return {
        "expect": {
            "limit_mm": premises.tolerances.limit,
            "floats": stack.floats,
            "worst_off_mm": stack.worst,
            "rss_off_mm": stack.likely,
            "drops_in_likelihood": expected.least_sure.drops_in,
            "under_limit_likelihood": expected.widest.under_limit,
            "contributors": _contributors(stack),
            "stocks": [{"stock": stock, "contributors": _contributors(wall)} for stock, wall in expected.walls],
            "advice": advice(expected),
            "glue": _glue(expected),
        },
        "season": None if season is None else _season(season),
    }


def _contributors(stack: Stack) -> list[dict[str, Any]]:
    return [
        {
            "name": one.name,
            "acts_on": one.acts_on,
            "counts": one.counts,
            "plus_minus_mm": one.plus_minus,
            "effect_mm": one.effect,
            "rss_effect_mm": one.spread,
            "share": stack.share(one),
            "source": one.source,
            "remedy": one.remedy,
        }
        for one in stack.contributors
    ]


def piece_table(piece: ExpectedGap) -> dict[str, Any]:
    """Return what the JSON says of one piece: `expect`, and `season` where the job has one."""
    return {
        "expect": {
            "nominal_mm": piece.nominal,
            "worst_mm": piece.worst,
            "rss_mm": piece.likely,
            "drops_in_likelihood": piece.drops_in,
            "under_limit_likelihood": piece.under_limit,
        },
        "season": None
        if piece.dry is None or piece.damp is None
        else {"dry": _season_gap(piece.dry), "damp": _season_gap(piece.damp)},
    }


def _season_gap(gap: SeasonGap) -> dict[str, Any]:
    return {
        "along_mm": gap.along,
        "across_mm": gap.across,
        "along_range_mm": gap.along_range,
        "across_range_mm": gap.across_range,
    }


def _glue(expected: Expected) -> dict[str, Any] | None:
    glue = expected.premises.glue
    if glue is None:
        return None
    adhesive = glue.adhesive
    return {
        "kind": adhesive.name,
        "thickness_mm": glue.thickness,
        "least_mm": adhesive.least,
        "most_mm": adhesive.most,
        "verdict": judge_gap(adhesive, expected.gap),
        "verdict_at_rss": [judge_gap(adhesive, end) for end in _likely_ends(expected)],
        "advice": adhesive.advice,
        "source": adhesive.source,
    }


def _season(season: Season) -> dict[str, Any]:
    return {
        **_timber(season.pocket),
        "cut": _climate(season.cut),
        "dry": _climate(season.driest) | _movement(season, "dry"),
        "damp": _climate(season.dampest) | _movement(season, "damp"),
        "pieces": [{"stock": stock} | _timber(timber) for stock, timber in season.pieces],
        "straight": season.straight,
        "note": NOTE,
        "source": SOURCE,
        "along_source": ALONG_SOURCE,
    }


def _timber(timber: Timber) -> dict[str, Any]:
    wood = timber.wood
    return {
        "wood": wood.name,
        "grain_deg": timber.grain_deg,
        "sawn": timber.sawn,
        "radial_per_percent": wood.radial,
        "tangential_per_percent": wood.tangential,
        "wood_source": wood.source,
    }


def _climate(climate: Climate) -> dict[str, Any]:
    return {
        "humidity_percent": climate.humidity,
        "temperature_c": climate.temperature_c,
        "moisture_percent": climate.moisture,
    }


def _movement(season: Season, time: Time) -> dict[str, Any]:
    """Return the change of the wood of the pockets, in mm for one mm, least and most, in order."""
    change, grain = season.moisture_change(time), season.pocket.grain_deg
    return {
        "along_per_mm": season.pocket.movement(change, grain),
        "across_per_mm": season.pocket.movement(change, grain + 90),
    }


def expected_lines(expected: Expected) -> list[Line]:
    """Return the same in a few lines: gap and likelihoods, what matters most, what to change, glue and season."""
    low, high = _likely_ends(expected)
    worst = min(piece.worst[0] for piece in expected.pieces), max(piece.worst[1] for piece in expected.pieces)
    causes = ", ".join(f"{cause} {share:.0%}" for cause, share in expected.stack.causes)
    lines = [
        Line("Expect", f"{_ends(low, high)} a side at 3 sigma (root of squares), {_ends(*worst)} at worst"),
        Line("Likely", _likely(expected)),
    ]
    if causes:
        lines.append(Line("Spread by", causes))
    lines.append(Line("Change", advice(expected)))
    return lines + _glue_lines(expected) + _season_lines(expected)


def _likely(expected: Expected) -> str:
    """Return how likely the least sure pieces drop in and stay under the limit."""
    least, widest = expected.least_sure, expected.widest
    room = "with room for the glue" if expected.premises.film else "with no filing"
    limit = format_mm(expected.premises.tolerances.limit)
    drops, under = percent(least.drops_in), percent(widest.under_limit)
    if drops == under == percent(1):
        return f"every piece drops in {room} and stays under {limit}: {drops} each"
    return f"drops in {room}: {drops} (least sure: {least.name}); stays under {limit}: {under} (widest: {widest.name})"


def _likely_ends(expected: Expected) -> tuple[float, float]:
    """Return the least and the widest gap of all pieces at 3 sigma."""
    return min(piece.likely[0] for piece in expected.pieces), max(piece.likely[1] for piece in expected.pieces)


def _ends(low: float, high: float) -> str:
    return f"{low:.3f} to {high:.3f} mm"


def _glue_lines(expected: Expected) -> list[Line]:
    glue = expected.premises.glue
    if glue is None:
        return []
    adhesive = glue.adhesive
    at_ends = [judge_gap(adhesive, end) for end in _likely_ends(expected)]
    verdict = judge_gap(adhesive, expected.gap)
    said = ""
    if verdict == "suits":
        ends = " or ".join(end for end in at_ends if end != verdict)
        said = f"a gap of {format_mm(expected.gap)} suits it" + (f", at 3 sigma it may be {ends}; " if ends else "; ")
    elif verdict != "no figure":
        said = f"a gap of {format_mm(expected.gap)} is {verdict} for it; "
    return [Line("Glue", f"{adhesive.name}, {range_text(adhesive)}: {said}{adhesive.advice}", adhesive.source)]


def _season_lines(expected: Expected) -> list[Line]:
    season = expected.premises.season
    if season is None:
        return []
    sawn = "sawing not known" if season.pocket.sawn is None else f"{season.pocket.sawn}-sawn"
    lines = [Line("Season", f"{season.pocket.wood.name}, {sawn}; cut at {_air(season.cut)}")]
    for word, time, climate in (("driest", "dry", season.driest), ("dampest", "damp", season.dampest)):
        across = [gap.across for piece in expected.pieces if (gap := getattr(piece, time)) is not None]
        pressed = " (below 0: pressed)" if min(across) < 0 else ""
        lines.append(Line("", f"{word} {_air(climate)}: {_ends(min(across), max(across))} across the grain{pressed}"))
    if not season.pocket.wood.tabled:
        lines.append(Line("", f"a range, the far end counts: {season.pocket.wood.source}"))
    if not season.straight:
        lines.append(Line("", "moistures under 6 or over 14% lie beyond the range in which the figures hold"))
    return lines


def _air(climate: Climate) -> str:
    return f"{climate.humidity:g}%, {climate.moisture:.1f}% in the wood"
