"""What was understood of a drawing, in lines: the same ones head `look`, `check` and `fit`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from inlayfit.drawing import Drawing, ReadNote
from inlayfit.units import Mm, format_mm

MOST_NOTES = 6
"""Notes of one kind that are listed."""

MOST_NAMED = 12
"""Layers, colours or regions that one line names."""

_TROUBLE = {"left-out": "left out", "open": "open", "repaired": "repaired"}
"""The kinds of note whose absence is said as well."""


class Line(NamedTuple):
    """One line: its label, what it says, and what to do about it."""

    label: str
    text: str
    remedy: str = ""


def reading_lines(drawing: Drawing) -> list[Line]:
    """Return size, regions, layers, colours and holes, then the notes, and which kinds of trouble there are none of."""
    lines = [Line("Read", _read(drawing))]
    colours = Counter(region.colour for region in drawing.regions if region.colour)
    if colours:
        lines.append(Line("Colours", _counted(colours.items())))
    lines.append(Line("Holes", _holes(drawing)))
    for kind, notes in _by_kind(drawing.notes).items():
        heading = kind.replace("-", " ").capitalize()
        lines += [Line(heading, said(note), note.remedy) for note in notes[:MOST_NOTES]]
        if len(notes) > MOST_NOTES:
            lines.append(Line(heading, f"{len(notes) - MOST_NOTES} more: all of them with --json"))
    present = {note.kind for note in drawing.notes}
    absent = [word for kind, word in _TROUBLE.items() if kind not in present]
    if absent:
        lines.append(Line("Nothing", f"is {listed(absent)}"))
    return lines


def reading_table(drawing: Drawing) -> dict[str, Any]:
    """Return the same for the JSON, whole; lengths mm."""
    regions = drawing.regions
    return {
        "size_mm": drawing.size,
        "mm_per_unit": drawing.scale,
        "layers": [
            {"name": name, "regions": count} for name, count in Counter(region.layer for region in regions).items()
        ],
        "colours": [
            {"colour": name, "regions": count} for name, count in Counter(region.colour for region in regions).items()
        ],
        "holes": sum(len(region.polygon.interiors) for region in regions),
        "regions": [
            {
                "name": region.name,
                "layer": region.layer,
                "colour": region.colour,
                "element": region.element,
                "area_mm2": region.polygon.area,
                "bounds_mm": region.polygon.bounds,
                "holes": len(region.polygon.interiors),
            }
            for region in regions
        ],
        "notes": [
            {
                "kind": note.kind,
                "subject": note.subject,
                "message": note.message,
                "remedy": note.remedy,
                "x": note.at[0] if note.at else None,
                "y": note.at[1] if note.at else None,
            }
            for note in drawing.notes
        ],
    }


def said(note: ReadNote) -> str:
    """Return a note as a sentence with its place, without its remedy."""
    place = f" at {note.at[0]:.1f}, {note.at[1]:.1f}" if note.at else ""
    return f"{note.subject}{place}: {note.message}" if note.subject else f"{note.message}{place}"


def size_text(size: tuple[Mm, Mm]) -> str:
    """Return width and height.

    >>> size_text((58.0, 63.14))
    '58 x 63.1 mm'
    """
    return f"{format_mm(size[0], 1)[:-3]} x {format_mm(size[1], 1)}"


def number_of(count: int, noun: str) -> str:
    """Return the count with its noun.

    >>> number_of(1, "hole"), number_of(2, "hole")
    ('1 hole', '2 holes')
    """
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def listed(words: Sequence[str]) -> str:
    """Return the words as one would say them where none of them is the case.

    >>> listed(["open"]), listed(["left out", "open", "repaired"])
    ('open', 'left out, open or repaired')
    """
    *first, last = words
    return f"{', '.join(first)} or {last}" if first else last


def _read(drawing: Drawing) -> str:
    layers = Counter(region.layer for region in drawing.regions if region.layer)
    read = f"{size_text(drawing.size)}, {number_of(len(drawing.regions), 'region')}"
    return f"{read} on {_counted(layers.items())}" if layers else read


def _holes(drawing: Drawing) -> str:
    holed = [(region.name, count) for region in drawing.regions if (count := len(region.polygon.interiors))]
    return f"{sum(count for _, count in holed)}: in {_counted(holed)}" if holed else "none"


def _counted(entries: Iterable[tuple[str, int]]) -> str:
    told = [f"{name} ({count})" for name, count in entries]
    more = f" and {len(told) - MOST_NAMED} more" if len(told) > MOST_NAMED else ""
    return ", ".join(told[:MOST_NAMED]) + more


def _by_kind(notes: Sequence[ReadNote]) -> dict[str, list[ReadNote]]:
    kinds: dict[str, list[ReadNote]] = {}
    for note in notes:
        kinds.setdefault(note.kind, []).append(note)
    return kinds
