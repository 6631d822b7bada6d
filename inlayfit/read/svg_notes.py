"""Collects what the reader must tell: the same remark about many elements becomes one note."""

from __future__ import annotations

from inlayfit.drawing import NoteKind, ReadNote
from inlayfit.units import Mm

_NAMED = 4  # a longer list of names helps nobody


class Notes:
    """Remarks in the order in which they first came up."""

    def __init__(self) -> None:
        self._subjects: dict[tuple[NoteKind, str, str], dict[str, None]] = {}
        self._places: dict[tuple[NoteKind, str, str], tuple[Mm, Mm]] = {}

    def add(
        self, kind: NoteKind, subject: str, message: str, remedy: str = "", at: tuple[Mm, Mm] | None = None
    ) -> None:
        """Remark once on `subject`; `at` is the place in the coordinates of the regions."""
        key = (kind, message, remedy)
        self._subjects.setdefault(key, {})[subject] = None
        if at is not None:
            self._places.setdefault(key, at)

    def take(self, other: Notes) -> None:
        """Add all remarks of another collection."""
        for key, subjects in other._subjects.items():  # of the same class
            for subject in subjects:
                self.add(key[0], subject, key[1], key[2], at=other._places.get(key))

    def collected(self) -> tuple[ReadNote, ...]:
        """Return one note a remark."""
        return tuple(
            ReadNote(kind=key[0], subject=_listed(list(names)), message=key[1], remedy=key[2], at=self._places.get(key))
            for key, names in self._subjects.items()
        )


def _listed(names: list[str]) -> str:
    if len(names) <= _NAMED:
        return ", ".join(names)
    return f"{', '.join(names[: _NAMED - 1])} and {len(names) - _NAMED + 1} more"
