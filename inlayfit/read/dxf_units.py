"""The unit of a DXF file: what $INSUNITS says, and how a maker overrides it."""

from __future__ import annotations

from inlayfit.errors import DrawingError, UnitError
from inlayfit.units import MM_PER_INCH, UNITS, Mm, format_mm

_SURVEY_FOOT = 1_200_000 / 3937  # mm; the US survey foot is 1200/3937 m

INSUNITS: dict[int, tuple[str, Mm]] = {
    1: ("inches", MM_PER_INCH),
    2: ("feet", 12 * MM_PER_INCH),
    3: ("miles", 63_360 * MM_PER_INCH),
    4: ("millimetres", 1.0),
    5: ("centimetres", 10.0),
    6: ("metres", 1e3),
    7: ("kilometres", 1e6),
    8: ("microinches", MM_PER_INCH / 1e6),
    9: ("mils", MM_PER_INCH / 1e3),
    10: ("yards", 36 * MM_PER_INCH),
    11: ("angstroms", 1e-7),
    12: ("nanometres", 1e-6),
    13: ("micrometres", 1e-3),
    14: ("decimetres", 100.0),
    15: ("decametres", 1e4),
    16: ("hectometres", 1e5),
    17: ("gigametres", 1e12),
    18: ("astronomical units", 1.495978707e14),
    19: ("light years", 9.4607304725808e18),
    20: ("parsecs", 3.0856775814913673e19),
    21: ("US survey feet", _SURVEY_FOOT),
    22: ("US survey inches", _SURVEY_FOOT / 12),
    23: ("US survey yards", _SURVEY_FOOT * 3),
    24: ("US survey miles", _SURVEY_FOOT * 5280),
}
"""Name and millimetres of each value of $INSUNITS; 0: none is stated. Source: DXF reference, HEADER variables."""


def unit_by_name(name: str) -> Mm:
    """Return mm per unit for a name such as ``mm`` or ``in``.

    Raises:
        UnitError: not a unit that inlayfit knows.
    """
    factor = UNITS.get(name.strip().lower())
    if factor is None:
        raise UnitError(f"unit {name!r} is not known", where="units", remedy="one of " + ", ".join(UNITS))
    return factor


def no_unit(width: float, height: float) -> DrawingError:
    """Return the error for a drawing of `width` x `height` units that does not say what a unit is."""
    metric = f"{format_mm(width)} x {format_mm(height)}"
    inches = f"{format_mm(width * MM_PER_INCH)} x {format_mm(height * MM_PER_INCH)}"
    return DrawingError(
        f"the drawing does not say its unit: it is {metric} if drawn in millimetres, {inches} if drawn in inches",
        remedy="add --units mm or --units in, or set the finished size with --width",
    )
