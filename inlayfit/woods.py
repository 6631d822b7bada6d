"""How much woods move with their moisture: coefficients with the source of each.

A coefficient is the change of size for one per cent of moisture content, as a share of the size at about 10 % moisture.
Where the Wood Handbook has no row it is reckoned from the total shrinkage S (green to oven-dry, as a share), as a
straight line from 30 % moisture: C = S / (30 - 20 S). That rule gives 16 of 16 coefficients of the table that were
tried to the fifth decimal. Such a wood stands with a range: pieces of one species differ.
"""

from __future__ import annotations

from dataclasses import dataclass

Range = tuple[float, float]
"""The least and the most; the same twice where a table has one figure."""

TABLE = "USDA FPL Wood Handbook, FPL-GTR-190 (2010), table 13-5"
REMEMBERED = f"{TABLE}, from memory"

RECKONED = "no row in table 13-5: reckoned from shrinkage, within 15 %"

VARIATION = 0.15
"""Share by which pieces of one species differ: coefficient of variation of shrinkage (Wood Handbook table 5-6: 14 and
15 %; from memory)."""

ALONG_SHRINKAGE: Range = (0.001, 0.002)
"""Along the grain most woods shrink by 0.1 to 0.2 % from green to oven-dry (Wood Handbook chapter 4; from memory)."""

ALONG_SOURCE = "along the grain 0.1 to 0.2 % from green to oven-dry: Wood Handbook chapter 4, from memory"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wood:
    """A wood: change of size for one per cent of moisture, across the rings (radial) and along them (tangential)."""

    name: str
    radial: Range
    tangential: Range
    source: str

    @property
    def tabled(self) -> bool:
        """Whether one figure stands in the table, rather than a range."""
        return self.radial[0] == self.radial[1] and self.tangential[0] == self.tangential[1]


def coefficient(shrinkage: float) -> float:
    """Return the coefficient for a total shrinkage, both as shares.

    >>> round(coefficient(0.099), 5), round(coefficient(0.048), 5)
    (0.00353, 0.00165)
    """
    return shrinkage / (30 - 20 * shrinkage)


ALONG: Range = (coefficient(ALONG_SHRINKAGE[0]), coefficient(ALONG_SHRINKAGE[1]))
"""Change of length along the grain for one per cent of moisture."""


def _row(name: str, radial: float, tangential: float, source: str = TABLE) -> Wood:
    return Wood(name=name, radial=(radial, radial), tangential=(tangential, tangential), source=source)


def _from_shrinkage(name: str, radial: Range, tangential: Range, source: str) -> Wood:
    """Return a wood from the least and the most of its shrinkage, in per cent."""
    ranges = [(coefficient(least / 100), coefficient(most / 100)) for least, most in (radial, tangential)]
    return Wood(name=name, radial=ranges[0], tangential=ranges[1], source=source)


def _varied(percent: float) -> Range:
    return percent * (1 - VARIATION), percent * (1 + VARIATION)


def wood_of(name: str, radial: float, tangential: float) -> Wood:
    """Return a wood that is in no list, from its total shrinkage in per cent as tables of woods give it."""
    source = f"the job: shrinkage of {radial:g} and {tangential:g} %, reckoned within 15 %"
    return _from_shrinkage(name, _varied(radial), _varied(tangential), source)


_ALL = (
    _row("sugar maple", 0.00165, 0.00353),
    _row("red maple", 0.00137, 0.00289),
    _row("bigleaf maple", 0.00126, 0.00248),
    _row("silver maple", 0.00102, 0.00252),
    _row("black walnut", 0.00190, 0.00274),
    _row("black cherry", 0.00126, 0.00248),
    _row("white ash", 0.00169, 0.00274),
    _row("red alder", 0.00151, 0.00256),
    _row("basswood", 0.00230, 0.00330),
    _row("beech", 0.00190, 0.00431),
    _row("yellow birch", 0.00256, 0.00338),
    _row("red oak", 0.00158, 0.00369),
    _row("sitka spruce", 0.00148, 0.00263, REMEMBERED),
    _row("engelmann spruce", 0.00130, 0.00248, REMEMBERED),
    _row("white fir", 0.00112, 0.00245, "Wood Handbook, example of chapter 13 (the tangential one from memory)"),
    Wood(
        name="mahogany",
        radial=(coefficient(0.030), 0.00172),
        tangential=(coefficient(0.041), 0.00238),
        source="two that differ: table 13-5, from memory, and 3.0 and 4.1 % of table 4-4, read in a poor copy",
    ),
    _from_shrinkage(
        "african mahogany",
        _varied(2.5),
        _varied(4.5),
        f"{RECKONED}; 2.5 and 4.5 %: Wood Handbook table 4-4, in a poor copy",
    ),
    _from_shrinkage("indian rosewood", _varied(2.7), _varied(5.8), f"{RECKONED}; 2.7 and 5.8 %: USDA FPL data sheet"),
    _from_shrinkage(
        "brazilian rosewood", _varied(2.9), _varied(4.6), f"{RECKONED}; 2.9 and 4.6 %: the trade, no table seen"
    ),
    _from_shrinkage(
        "ebony",
        (7.0, 9.0),
        (10.0, 12.0),
        "no row in table 13-5: reckoned from a shrinkage of about 8 and 11 %, from memory, doubtful, within 1 %",
    ),
)
WOODS = {wood.name: wood for wood in _ALL}
