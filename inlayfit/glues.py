"""What a gap suits: adhesives with the gaps that are published for them, and those for which none was found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from inlayfit.units import Mm, format_mm

GUIDE = "Practical Guide to Adhesive Bonding of Small Engineering Plastic and Rubber Parts, gap-filling capability"
NO_SOURCE = "no published figure was found"

EVEN: Mm = 0.002
"""A gap this near to the end of a range lies within it: written paths are no better."""

Verdict = Literal["suits", "too tight", "too wide", "no figure"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Adhesive:
    """An adhesive with the gaps that suit it, mm; None where no figure was found."""

    name: str
    least: Mm | None
    most: Mm | None
    advice: str
    source: str


ADHESIVES = {
    adhesive.name: adhesive
    for adhesive in (
        Adhesive(
            name="cyanoacrylate",
            least=0.0,
            most=0.2,
            advice="best under 0.05 mm, weak over 0.25 mm; take a thick grade for wide gaps",
            source=GUIDE,
        ),
        Adhesive(
            name="epoxy",
            least=0.05,
            most=0.2,
            advice="it starves under 0.05 mm, where the piece should not be pressed hard",
            source=GUIDE,
        ),
        Adhesive(
            name="filled epoxy",
            least=0.05,
            most=0.25,
            advice="black or with dust of the wood it hides 0.13 to 0.25 mm in ebony; it shows in light wood",
            source=f"{GUIDE} (the least); the most is common practice, no source",
        ),
        Adhesive(
            name="wood glue",
            least=None,
            most=None,
            advice="it bonds wood to wood, and fills no gaps; try shell, metal and plastic on scrap",
            source=f"{NO_SOURCE}; common practice",
        ),
        Adhesive(
            name="hide glue",
            least=None,
            most=None,
            advice="it lets go with heat and moisture; try shell, metal and plastic on scrap",
            source=f"{NO_SOURCE}; common practice",
        ),
    )
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Glue:
    """What the maker glues with; `thickness` of the film that is asked for on each side, mm: less room will not do."""

    adhesive: Adhesive
    thickness: Mm = 0.0


def judge_gap(adhesive: Adhesive, gap: Mm) -> Verdict:
    """Return whether a gap a side suits an adhesive."""
    if adhesive.least is None or adhesive.most is None:
        return "no figure"
    if gap < adhesive.least - EVEN:
        return "too tight"
    return "too wide" if gap > adhesive.most + EVEN else "suits"


def range_text(adhesive: Adhesive) -> str:
    """Return the published range in words.

    >>> range_text(ADHESIVES["epoxy"]), range_text(ADHESIVES["cyanoacrylate"]), range_text(ADHESIVES["hide glue"])
    ('0.05 to 0.2 mm', 'up to 0.2 mm', 'no published figure was found')
    """
    if adhesive.least is None or adhesive.most is None:
        return NO_SOURCE
    if adhesive.least == 0:
        return f"up to {format_mm(adhesive.most)}"
    return f"{format_mm(adhesive.least)[:-3]} to {format_mm(adhesive.most)}"
