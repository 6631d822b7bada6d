"""What the maker must know. A finding is returned, never raised: it does not stop the work."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Literal

from inlayfit.units import Mm

if TYPE_CHECKING:
    import shapely

Severity = Literal["loss", "warning", "note"]
Part = Literal["piece", "pocket", "drawing", "board", "blank"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A place, a size, a remedy. Lengths mm, y up, in the job's own coordinates.

    `site` numbers the places: a long one (a limb that is lost from end to end) is marked every two millimetres,
    and all its marks carry the same number.
    """

    kind: str
    severity: Severity
    part: Part
    name: str
    x: Mm
    y: Mm
    message: str
    remedy: str
    size_mm: Mm | None = None
    reach_mm: Mm | None = None
    area_mm2: float | None = None
    site: int | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return the finding with the names of the JSON."""
        return asdict(self)


def finding_within(
    area: shapely.Geometry,
    *,
    kind: str,
    part: Part,
    name: str,
    message: str,
    remedy: str,
    severity: Severity = "warning",
    size_mm: Mm | None = None,
    area_mm2: float | None = None,
) -> Finding:
    """Return a finding that is marked by a spot within an area, or on a line."""
    spot = area.representative_point()
    return Finding(
        kind=kind,
        severity=severity,
        part=part,
        name=name,
        x=float(spot.x),
        y=float(spot.y),
        message=message,
        remedy=remedy,
        size_mm=size_mm,
        area_mm2=area_mm2,
    )


def next_site(findings: Iterable[Finding]) -> int:
    """Return the first number that is free for a site."""
    return 1 + max((finding.site or 0 for finding in findings), default=0)
