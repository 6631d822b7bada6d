"""Findings as places: the marks along one long place count once, by the worst of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
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


def count(places: Sequence[Place], severity: Severity) -> int:
    """Return how many places are of one severity."""
    return sum(place.worst.severity == severity for place in places)


def _rank(finding: Finding) -> tuple[int, float]:
    """Severity first, then the depth."""
    return ORDER[finding.severity], -(finding.reach_mm or 0.0)
