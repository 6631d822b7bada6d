"""The one root of every error that a maker can put right, with the place and the remedy."""

from __future__ import annotations

TYPE_CHECKING = False  # as type checkers know it; `typing` would cost the start of the program
if TYPE_CHECKING:
    from collections.abc import Iterable


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


def nearest_of(name: str, known: Iterable[str], *, prefix: str = "") -> str:
    """Return the remedy for a name that is not known: the nearest, if one is near, then all that are.

    >>> nearest_of("pice", ["piece", "pocket"])
    'did you mean piece? known: piece, pocket'
    """
    from difflib import get_close_matches  # noqa: PLC0415  # only an error needs it

    names = list(known)
    near = get_close_matches(name, names, n=1, cutoff=0.5)
    return f"{f'did you mean {prefix}{near[0]}? ' if near else ''}known: {', '.join(names)}"
