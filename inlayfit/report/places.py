"""Findings as places: the marks along one long place count once, by the worst of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from inlayfit.findings import Finding, Severity

ORDER: dict[Severity, int] = {"loss": 0, "warning": 1, "note": 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One place; `worst` is its deepest mark, `marks` how many there are."""

    worst: Finding
    marks: int


def places_of(findings: Iterable[Finding]) -> list[Place]:
    """Return one place a site, the worst first; a finding without a site is a place by itself."""
    groups: dict[object, list[Finding]] = {}
    for index, finding in enumerate(findings):
        alone = finding.site is None
        key = index if alone else (finding.part, finding.name, finding.site)
        groups.setdefault(key, []).append(finding)
    places = [Place(worst=min(group, key=_rank), marks=len(group)) for group in groups.values()]
    return sorted(places, key=lambda place: _rank(place.worst))


def is_softened(finding: Finding) -> bool:
    """Return whether a detail is softened: a warning that has a reach, and is no mere caution."""
    return finding.severity == "warning" and finding.reach_mm is not None


def _rank(finding: Finding) -> tuple[int, float]:
    """Severity first, then the depth."""
    return ORDER[finding.severity], -(finding.reach_mm or 0.0)
