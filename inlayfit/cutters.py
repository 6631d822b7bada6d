"""What cuts: a rotating bit, or a process that leaves a slit. Both come down to an effective radius."""

from __future__ import annotations

from dataclasses import dataclass

from inlayfit.errors import UnitError
from inlayfit.units import MM_PER_INCH, Mm, format_inch, format_mm, positive_length, zero_or_more


@dataclass(frozen=True, slots=True, kw_only=True)
class Bit:
    """A straight router bit; `diameter` as measured, `runout` as the full indicator reading (TIR), both mm."""

    diameter: Mm
    runout: Mm = 0.0

    @property
    def radius(self) -> Mm:
        """Half of the slot that it really cuts: each wall moves out by half of the indicator reading.

        Source: plain geometry; TIR is twice the eccentricity (common practice, no source).
        """
        return (self.diameter + self.runout) / 2

    @property
    def label(self) -> str:
        """The size as a maker says it."""
        text = f"{size_label(self.diameter)} bit"
        return f"{text} with {format_mm(self.runout)} runout" if self.runout else text


@dataclass(frozen=True, slots=True, kw_only=True)
class Kerf:
    """A saw or a beam; `width` is the whole slit, mm (half of it lies on each side of the line)."""

    width: Mm

    @property
    def diameter(self) -> Mm:
        """The full slit: what a bit of this diameter would leave."""
        return self.width

    @property
    def radius(self) -> Mm:
        """Half of the slit."""
        return self.width / 2

    @property
    def label(self) -> str:
        """The size as a maker says it."""
        return f"{format_mm(self.width)} kerf"


Cutter = Bit | Kerf

STANDARD_INCH = tuple(MM_PER_INCH * n / 64 for n in (1, 2, 3, 4, 5, 6, 8))
"""Fractional sizes, mm: 1/64, 1/32, 3/64, 1/16, 5/64, 3/32, 1/8 in. Steps of 1/64 in: ANSI B94.11M-1979."""

STANDARD_METRIC = (0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.5, 2.0, 3.0)
"""Usual metric micro end mills, mm: common practice, no source."""

STANDARD_SIZES = tuple(sorted(STANDARD_INCH + STANDARD_METRIC))


def size_label(diameter: Mm) -> str:
    """Return ``1/32 in (0.794 mm)`` for a fractional size, else millimetres alone."""
    inch = format_inch(diameter)
    return f"{inch} ({format_mm(diameter)})" if "/" in inch or "." not in inch else format_mm(diameter)


def make_bit(size: str | float, *, runout: str | float = 0.0, where: str = "bit") -> Bit:
    """Return a bit from sizes as typed.

    Raises:
        UnitError: a size that is no length, not over zero, or a runout below zero or as large as the bit.
    """
    diameter = positive_length(size, where=where)
    play = zero_or_more(runout, where=f"{where} runout")
    if play >= diameter:
        message = f"a runout of {format_mm(play)} is no less than the bit itself"
        raise UnitError(message, where=f"{where} runout", remedy="give the reading of the indicator, such as 0.02mm")
    return Bit(diameter=diameter, runout=play)


def make_kerf(width: str | float, *, where: str = "kerf") -> Kerf:
    """Return a kerf from a width as typed.

    Raises:
        UnitError: a width that is no length or not over zero.
    """
    return Kerf(width=positive_length(width, where=where))


def as_cutter(given: Cutter | str | float, *, where: str = "bit") -> Cutter:
    """Return a cutter as it is, or a bit without runout from a size."""
    return given if isinstance(given, Bit | Kerf) else make_bit(given, where=where)
