"""Letters as outlines, from font files that the maker names. No font of the machine is ever taken by itself.

Letters stand one after another by their own widths: without kerning, ligatures or joined scripts.
"""

from __future__ import annotations

import logging
import struct
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from typing import Any

from fontTools.pens.basePen import BasePen
from fontTools.ttLib import TTCollection, TTFont, TTLibError

from inlayfit.errors import DrawingError
from inlayfit.read.outline import Pen
from inlayfit.read.svg_transform import Matrix

logging.getLogger("fontTools").addHandler(logging.NullHandler())  # it would tell of odd dates on stderr

LARGEST_BYTES = 64 * 2**20
"""A font over 64 MB is refused: the largest with all of Chinese are half of that."""

NORMAL, BOLD = 400, 700
"""Weights (OpenType, OS/2 usWeightClass)."""

_CAPITALS = 0.7
"""Height of capitals in font sizes, where the font has none to measure (common practice, no source)."""

_DAMAGE = (TTLibError, OSError, EOFError, ValueError, LookupError, TypeError, AttributeError, ArithmeticError,
           AssertionError, RecursionError, ImportError, struct.error)  # fmt: skip
"""What fontTools raises on damaged fonts; ImportError where a packed font wants a library that is not there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """The outline of a letter as steps of a pen, and its width; in font sizes, y up."""

    steps: tuple[tuple[str, tuple[float, ...]], ...]
    width: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Font:
    """One face: its names in small letters, weight and slant, and its measures in font sizes."""

    name: str
    names: frozenset[str]
    weight: int
    is_italic: bool
    capitals: float
    small_letters: float
    ascent: float
    descent: float
    face: Any = field(repr=False)

    def letter(self, sign: str) -> Letter | None:
        """Return a letter, or None where the font does not have it.

        Raises:
            DrawingError: the font is damaged there.
        """
        return _letter(self, sign)


def load_fonts(paths: Sequence[str | Path]) -> tuple[Font, ...]:
    """Return the faces in the files, in order; a collection holds several.

    Raises:
        DrawingError: a file that is not there, too large, or no font.
    """
    return tuple(font for path in paths for font in _faces(Path(path)))


def pick(fonts: Sequence[Font], families: Sequence[str], weight: int, *, italic: bool) -> tuple[Font, bool]:
    """Return the face for the first of the families that is there, nearest in slant and weight, and whether one was."""
    for family in families:
        own = [font for font in fonts if family.strip().lower() in font.names]
        if own:
            return _nearest(own, weight, italic=italic), True
    return _nearest(fonts, weight, italic=italic), False


def draw(letter: Letter, matrix: Matrix, pen: Pen) -> None:
    """Draw a letter; `matrix` leads from font sizes, y up, to where it stands."""
    a, b, c, d, e, f = matrix
    commands: dict[str, Callable[..., None]] = {
        "move": pen.move,
        "line": pen.line,
        "cubic": pen.cubic,
        "quadratic": pen.quadratic,
    }
    for command, numbers in letter.steps:
        if command == "close":
            pen.close()
            continue
        pairs = zip(numbers[::2], numbers[1::2], strict=True)
        commands[command](*(value for x, y in pairs for value in (a * x + c * y + e, b * x + d * y + f)))


def _nearest(fonts: Sequence[Font], weight: int, *, italic: bool) -> Font:
    return min(fonts, key=lambda font: (font.is_italic != italic, abs(font.weight - weight)))


def _faces(path: Path) -> list[Font]:
    remedy = "name a TTF, OTF, TTC, WOFF or WOFF2 file"
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise DrawingError("the font is larger than 64 MB", where=str(path), remedy=remedy)
        content = path.read_bytes()
        if content.startswith(b"wOF2"):
            return [_font(_unpacked(content), path)]
        opened = TTCollection if content.startswith(b"ttcf") else TTFont
        file = opened(BytesIO(content), lazy=True)
        return [_font(face, path) for face in (file.fonts if opened is TTCollection else [file])]
    except FileNotFoundError:
        raise DrawingError("there is no such font file", where=str(path), remedy="check the path") from None
    except _DAMAGE as error:
        raise DrawingError(f"this is no font that can be read: {error}", where=str(path), remedy=remedy) from error


def _unpacked(content: bytes) -> Any:  # noqa: ANN401
    """Return the face in a WOFF2; bytes 16 to 19 say how large it will be."""
    from brotli import error  # noqa: PLC0415  # those fonts alone need it

    if int.from_bytes(content[16:20], "big") > LARGEST_BYTES:
        raise ValueError("it unpacks to more than 64 MB")
    try:
        return TTFont(BytesIO(content), lazy=True)
    except error as damage:
        raise ValueError("what is packed in it is damaged") from damage


def _font(face: Any, path: Path) -> Font:  # noqa: ANN401  # fontTools makes its tables while it runs
    em = face["head"].unitsPerEm
    if not em > 0 or face.getBestCmap() is None:
        raise ValueError("it maps no letters")
    table = face.get("OS/2")
    family = face["name"].getBestFamilyName() or path.stem
    names = {str(face["name"].getDebugName(number) or "").lower() for number in (1, 4, 6, 16)} | {family.lower()}
    capitals, small = (getattr(table, key, 0) or 0 for key in ("sCapHeight", "sxHeight"))
    return Font(
        name=f"{family} ({path.name})",
        names=frozenset(names - {""}),
        weight=int(getattr(table, "usWeightClass", NORMAL)),
        is_italic=bool(face["head"].macStyle & 2),
        capitals=(capitals or _height(face, "H") or _CAPITALS * em) / em,
        small_letters=(small or _height(face, "x") or _CAPITALS * em * _CAPITALS) / em,
        ascent=face["hhea"].ascent / em,
        descent=face["hhea"].descent / em,
        face=face,
    )


def _height(face: Any, sign: str) -> float:  # noqa: ANN401
    """Return how high a letter stands in units of the font, nought where it is missing."""
    name = face.getBestCmap().get(ord(sign))
    if name is None:
        return 0.0
    from fontTools.pens.boundsPen import BoundsPen  # noqa: PLC0415  # old fonts alone need it

    glyphs = face.getGlyphSet()
    pen = BoundsPen(glyphs)
    glyphs[name].draw(pen)
    return float(pen.bounds[3]) if pen.bounds else 0.0


@lru_cache(maxsize=4096)
def _letter(font: Font, sign: str) -> Letter | None:
    name = font.face.getBestCmap().get(ord(sign))
    if name is None:
        return None
    try:
        em = float(font.face["head"].unitsPerEm)
        glyphs = font.face.getGlyphSet()
        pen = _StepPen(glyphs, em)
        glyphs[name].draw(pen)
        return Letter(steps=tuple(pen.steps), width=glyphs[name].width / em)
    except _DAMAGE as error:
        raise DrawingError(
            f"the font is damaged at the letter {sign!r}: {error}", where=font.name, remedy="give another file"
        ) from error


class _StepPen(BasePen):  # type: ignore[misc]  # fontTools carries no types here
    """Notes the steps of a letter in font sizes."""

    def __init__(self, glyphs: Any, em: float) -> None:  # noqa: ANN401
        super().__init__(glyphs)
        self.em = em
        self.steps: list[tuple[str, tuple[float, ...]]] = []

    def _add(self, command: str, *points: tuple[float, float]) -> None:
        self.steps.append((command, tuple(value / self.em for point in points for value in point)))

    def _moveTo(self, pt: tuple[float, float]) -> None:  # noqa: N802  # the names are those of fontTools
        self._add("move", pt)

    def _lineTo(self, pt: tuple[float, float]) -> None:  # noqa: N802
        self._add("line", pt)

    def _curveToOne(self, pt1: tuple[float, float], pt2: tuple[float, float], pt3: tuple[float, float]) -> None:  # noqa: N802
        self._add("cubic", pt1, pt2, pt3)

    def _qCurveToOne(self, pt1: tuple[float, float], pt2: tuple[float, float]) -> None:  # noqa: N802
        self._add("quadratic", pt1, pt2)

    def _closePath(self) -> None:  # noqa: N802
        self._add("close")

    def _endPath(self) -> None:  # noqa: N802
        self._add("close")
