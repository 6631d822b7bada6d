"""Opens a DXF file, sound or damaged, text or binary; tells what had to be mended."""

from __future__ import annotations

import logging
import re
import struct
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import ezdxf
from ezdxf import recover
from ezdxf.lldxf.const import DXFError

from inlayfit.drawing import ReadNote
from inlayfit.errors import DrawingError

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

_BINARY = b"AutoCAD Binary DXF\r\n\x1a\x00"
_LAST_WORDS = 64  # bytes at the end in which a binary file must have its end mark
_END = re.compile(rb"(?:\A|\n)[ \t]*0[ \t]*\r?\n[ \t]*(?:EOF|ENDSEC\s*\Z)")
_TOLD = 5  # mended places that are told one by one
_AGAIN = "export the drawing again as DXF R2000 or later"

LARGEST_BYTES = 64 * 2**20
"""A drawing over 64 MB is refused, as an SVG is."""

MOST_ENTITIES = 200_000
"""Entities in the file, and after unfolding: a file of a few blocks can unfold to billions."""

MOST_LINES = 4_000_000
"""Lines of a file of text, two a value: as many take seconds to read, and no artwork has a tenth of them."""

_TOO_MANY = "save only the artwork that is to be cut, without nested arrays of blocks"

_DAMAGE = (DXFError, OSError, ValueError, LookupError, TypeError, AttributeError, ArithmeticError, RecursionError,
           AssertionError, struct.error, zlib.error)  # fmt: skip
"""What ezdxf raises on damaged files, found by cutting and spoiling files at random places."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """The document, what was mended, and whether the file states a unit (a file without a header reads as metres)."""

    document: Document
    notes: tuple[ReadNote, ...]
    states_unit: bool


def load(path: Path) -> Loaded:
    """Return the document of a DXF file.

    A sound file is read as it is. A damaged one is mended by ezdxf, and a note says what was mended. A file that ends
    neither with the end mark nor with the end of a section was cut off: nobody knows what stood in the rest.

    Raises:
        DrawingError: no such file, no DXF, cut off, or damaged beyond mending.
    """
    try:
        content = path.read_bytes() if path.stat().st_size <= LARGEST_BYTES else None
    except OSError as error:
        raise DrawingError(f"the file cannot be opened: {error.strerror}", where=str(path)) from error
    if content is None:
        raise DrawingError("the drawing is larger than 64 MB", where=path.name, remedy=_TOO_MANY)
    if not content.strip():
        raise DrawingError("the file is empty", where=path.name, remedy=_AGAIN)
    if not (content.startswith(_BINARY) or re.search(rb"\bSECTION\b", content)):
        raise DrawingError("the file is not a DXF", where=path.name, remedy="SVG, SVGZ and DXF can be read")
    _refuse_too_many(content, path.name)
    states_unit = b"$INSUNITS" in content
    if not (_END.search(content) or b"EOF" in content[-_LAST_WORDS:]):
        raise DrawingError("the file is cut off before its end", where=path.name, remedy=_AGAIN)
    with _listening() as heard:
        document, told = _opened(path)
    return Loaded(document=document, notes=_repairs(path.name, told + heard), states_unit=states_unit)


def _refuse_too_many(content: bytes, name: str) -> None:
    """Refuse what would take long to read; an entity begins with a zero on a line of its own, vertices do, too.

    Raises:
        DrawingError: there are too many entities or lines.
    """
    begun = sum(content.count(b"\n" + blank + b"0" + end) for blank in (b"", b" ", b"  ") for end in (b"\n", b"\r\n"))
    if begun - content.count(b"\nVERTEX") > MOST_ENTITIES:
        raise too_many()
    if content.count(b"\n") > MOST_LINES and not content.startswith(_BINARY):
        raise DrawingError(f"the file has more than {MOST_LINES:,} lines", where=name, remedy=_TOO_MANY)


def too_many() -> DrawingError:
    """Return the error for a drawing of more than `MOST_ENTITIES`."""
    return DrawingError(f"the drawing unfolds to more than {MOST_ENTITIES:,} entities", remedy=_TOO_MANY)


def _opened(path: Path) -> tuple[Document, list[str]]:
    """Return the document, and what had to be mended to get at it."""
    try:
        return ezdxf.readfile(path), []
    except _DAMAGE as error:
        damage = f"{error}"
    try:
        document, auditor = recover.readfile(path)
    except _DAMAGE as error:
        raise DrawingError(f"the file is damaged: {error}", where=path.name, remedy=_AGAIN) from error
    return document, [damage, *(entry.message for entry in (*auditor.errors, *auditor.fixes))]


class _Ear(logging.Handler):
    """Keeps the warnings of ezdxf, which would otherwise go to stderr."""

    def __init__(self, heard: list[str]) -> None:
        super().__init__(logging.WARNING)
        self.heard = heard

    def emit(self, record: logging.LogRecord) -> None:
        """Keep one message."""
        self.heard.append(record.getMessage())


@contextmanager
def _listening() -> Iterator[list[str]]:
    logger = logging.getLogger("ezdxf")
    ear = _Ear([])
    logger.addHandler(ear)
    try:
        yield ear.heard
    finally:
        logger.removeHandler(ear)


def _repairs(name: str, told: list[str]) -> tuple[ReadNote, ...]:
    if not told:
        return ()
    more = [f"and {len(told) - _TOLD} more"] if len(told) > _TOLD else []
    message = "; ".join(["the file was damaged and has been mended", *told[:_TOLD], *more])
    return (ReadNote(kind="repaired", subject=name, message=message, remedy="check that nothing is missing"),)
