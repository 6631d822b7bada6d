"""What the maker must know. A finding is returned, never raised: it does not stop the work."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any, Literal

from inlayfit.units import Mm

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


def next_site(findings: Iterable[Finding]) -> int:
    """Return the first number that is free for a site."""
    return 1 + max((finding.site or 0 for finding in findings), default=0)
