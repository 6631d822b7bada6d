"""Opens a DXF file, sound or damaged, text or binary; tells what had to be mended."""

from __future__ import annotations

import re
import struct
import zlib
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
_LAST_WORDS = 64  # bytes at the end in which the end mark must stand
_TOLD = 5
_AGAIN = "export the drawing again as DXF R2000 or later"

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

    A sound file is read as it is. A damaged one is mended by ezdxf, and the notes say what was mended; a file that was
    cut off is not mended, for nobody knows what stood in the rest.

    Raises:
        DrawingError: no such file, no DXF, cut off, or damaged beyond mending.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise DrawingError(f"the file cannot be opened: {error.strerror}", where=str(path)) from error
    if not content.strip():
        raise DrawingError("the file is empty", where=path.name, remedy=_AGAIN)
    if not (content.startswith(_BINARY) or re.search(rb"\bSECTION\b", content)):
        raise DrawingError("the file is not a DXF", where=path.name, remedy="SVG, SVGZ and DXF can be read")
    states_unit = b"$INSUNITS" in content
    try:
        document = ezdxf.readfile(path)
    except _DAMAGE as error:
        return _mended(path, content, states_unit, error)
    return Loaded(document=document, notes=_no_end(path, content), states_unit=states_unit)


def _has_end(content: bytes) -> bool:
    return b"EOF" in content[-_LAST_WORDS:]


def _no_end(path: Path, content: bytes) -> tuple[ReadNote, ...]:
    if _has_end(content):
        return ()
    message = "the file has no end mark; everything before it is complete"
    return (ReadNote(kind="repaired", subject=path.name, message=message, remedy="check that nothing is missing"),)


def _mended(path: Path, content: bytes, states_unit: bool, error: Exception) -> Loaded:
    if not _has_end(content):
        raise DrawingError("the file is cut off before its end", where=path.name, remedy=_AGAIN) from error
    try:
        document, auditor = recover.readfile(path)
    except _DAMAGE as worse:
        raise DrawingError(f"the file is damaged: {worse}", where=path.name, remedy=_AGAIN) from worse
    told = [entry.message for entry in (*auditor.errors, *auditor.fixes)]
    more = [f"and {len(told) - _TOLD} more"] if len(told) > _TOLD else []
    message = "; ".join([f"the file was damaged ({error}) and has been mended", *told[:_TOLD], *more])
    note = ReadNote(kind="repaired", subject=path.name, message=message, remedy="check that nothing is missing")
    return Loaded(document=document, notes=(note,), states_unit=states_unit)
