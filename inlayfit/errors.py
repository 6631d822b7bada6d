"""The one root of every error that a maker can put right, with the place and the remedy."""

from __future__ import annotations


class InlayfitError(Exception):
    """The input or the call cannot be used; nothing was written.

    Args:
        message: what is wrong, in the maker's words.
        where: the file, the dotted job key, the option or the element.
        remedy: what to do about it.
    """

    def __init__(self, message: str, *, where: str = "", remedy: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.where = where
        self.remedy = remedy

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        remedy = f" ({self.remedy})" if self.remedy else ""
        return f"{place}{self.message}{remedy}"


class UnitError(InlayfitError):
    """A size that cannot be read: no number, an unknown unit, or no finite length."""


class DrawingError(InlayfitError):
    """A drawing that cannot be read or that holds nothing to cut."""


class JobError(InlayfitError):
    """A job file or an option that asks for something impossible."""


class GeometryError(InlayfitError):
    """A size of cutter or gap that leaves nothing of the drawing."""


class WriteError(InlayfitError):
    """A file that could not be written, or that did not read back as it was meant."""
