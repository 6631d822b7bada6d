"""TEXT and MTEXT as outlines of letters in the plane of the entity, where a font is given.

The height of a DXF text is that of its capitals. Attachment and alignment follow the DXF reference, TEXT and MTEXT.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from inlayfit.errors import DrawingError
from inlayfit.read.fonts import Font, draw
from inlayfit.read.outline import Outline, Pen
from inlayfit.read.svg_transform import Matrix, multiply, translation

Remark = tuple[str, str, str]

LINE_PITCH = 5 / 3
"""From one baseline to the next, in heights of capitals, at a line spacing of 1 (DXF reference, MTEXT, code 44)."""

MOST_LETTERS = 20_000
"""Letters of one text; an inlay has some dozens."""

_BACKWARD, _UPSIDE_DOWN = 2, 4  # TEXT, code 71
_ALIGNED, _MIDDLE, _FIT = 3, 4, 5  # TEXT, code 72
_FORMATS = re.compile(r"\\[fFHCcQTWASLOK]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettering:
    """The outline of a text in the plane of its entity, and remarks as (kind, message, remedy)."""

    outline: Outline
    remarks: tuple[Remark, ...]


def text_lettering(entity: Any, font: Font) -> Lettering:  # noqa: ANN401  # an entity of ezdxf
    """Return a TEXT in its object coordinates."""
    dxf = entity.dxf
    words = _bounded(entity.plain_text())
    size = float(dxf.height) / font.capitals
    stretch, slant = float(dxf.get("width", 1.0)), math.tan(math.radians(dxf.get("oblique", 0.0)))
    base, turn = dxf.insert, math.radians(dxf.get("rotation", 0.0))
    across, up = int(dxf.get("halign", 0)), int(dxf.get("valign", 0))
    length = _length(words, font) * size * stretch
    if (across or up) and dxf.hasattr("align_point"):
        if across in {_ALIGNED, _FIT}:
            way = dxf.align_point - dxf.insert
            wanted, turn = math.hypot(way.x, way.y), math.atan2(way.y, way.x)
            ratio = wanted / length if length > 0 else 1.0
            size, stretch = (size * ratio, stretch) if across == _ALIGNED else (size, stretch * ratio)
        else:
            base = dxf.align_point
    left = {1: 0.5, 2: 1.0, _MIDDLE: 0.5}.get(across, 0.0) * length
    low = size * ({1: font.descent, 2: font.capitals / 2, 3: font.capitals}.get(up, 0.0) if across != _MIDDLE
                  else font.capitals / 2)  # fmt: skip
    flags = int(dxf.get("text_generation_flag", 0))
    mirror = (-1.0 if flags & _BACKWARD else 1.0, -1.0 if flags & _UPSIDE_DOWN else 1.0)
    letters: Matrix = (size * stretch, 0.0, size * slant, size, -left, -low)
    frame = multiply(_turned(base.x, base.y, turn), (mirror[0], 0.0, 0.0, mirror[1], 0.0, 0.0))
    pen = Pen()
    missing = _set(words, font, multiply(frame, letters), pen)
    return Lettering(outline=pen.outline(), remarks=_remarks(font, missing))


def mtext_lettering(entity: Any, font: Font) -> Lettering:  # noqa: ANN401
    """Return an MTEXT in world coordinates, its lines broken at its width."""
    dxf = entity.dxf
    height = float(dxf.char_height)
    size = height / font.capitals
    width = float(dxf.get("width", 0.0)) / size
    lines = [part for line in entity.plain_text(split=True) for part in _wrapped(_bounded(line), font, width)]
    pitch = height * LINE_PITCH * float(dxf.get("line_spacing_factor", 1.0))
    row, column = divmod(int(dxf.get("attachment_point", 1)) - 1, 3)
    block = height + pitch * (len(lines) - 1)
    first = (-height, block / 2 - height, block - height)[row]
    axes = entity.ucs()
    frame: Matrix = (axes.ux.x, axes.ux.y, axes.uy.x, axes.uy.y, dxf.insert.x, dxf.insert.y)
    pen = Pen()
    missing: list[str] = []
    for number, line in enumerate(lines):
        left = _length(line, font) * size * column / 2
        letters: Matrix = (size, 0.0, 0.0, size, -left, first - number * pitch)
        missing += _set(line, font, multiply(frame, letters), pen)
    remarks = _remarks(font, missing)
    if _FORMATS.search(str(entity.text)):
        plain = ("assumed", "its text is drawn plain: fonts, heights and colours set inside it are not", "explode it")
        remarks = (*remarks, plain)
    return Lettering(outline=pen.outline(), remarks=remarks)


def _turned(x: float, y: float, turn: float) -> Matrix:
    return (math.cos(turn), math.sin(turn), -math.sin(turn), math.cos(turn), x, y)


def _bounded(words: str) -> str:
    if len(words) > MOST_LETTERS:
        raise DrawingError(f"it has over {MOST_LETTERS} letters", remedy="delete it")
    return words


def _length(words: str, font: Font) -> float:
    """Return the width of a line in font sizes."""
    return sum(letter.width for sign in words if (letter := font.letter(sign)) is not None)


def _set(words: str, font: Font, matrix: Matrix, pen: Pen) -> list[str]:
    """Draw a line from its left end; `matrix` leads from font sizes to the plane. Returns the letters not there."""
    missing = []
    x = 0.0
    for sign in words:
        letter = font.letter(sign)
        if letter is None:
            missing += [] if sign.isspace() else [sign]
            continue
        draw(letter, multiply(matrix, translation(x, 0.0)), pen)
        x += letter.width
    return missing


def _wrapped(line: str, font: Font, width: float) -> list[str]:
    """Return a line broken between words where it is wider than `width`, in font sizes; nought breaks nothing."""
    if not width > 0:
        return [line]
    lines: list[str] = []
    for word in line.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and _length(longer, font) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _remarks(font: Font, missing: Sequence[str]) -> tuple[Remark, ...]:
    told: Remark = (
        "assumed",
        f"set letter by letter from {font.name}, without kerning",
        "turn it into outlines where the spacing matters",
    )
    if not missing:
        return (told,)
    signs = "".join(dict.fromkeys(missing))
    return told, ("left-out", f"the letters {signs!r} are not in {font.name}", "give a font that has them with --font")
