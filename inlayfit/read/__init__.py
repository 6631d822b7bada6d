"""Reads a drawing at its finished size: SVG, packed SVG or DXF to closed regions in mm, y up."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Literal

from inlayfit.drawing import Drawing
from inlayfit.errors import DrawingError, UnitError
from inlayfit.units import Mm, positive_length

Page = Literal["keep", "clip"]

_HEAD_BYTES = 4096
_KNOWN = "SVG, SVGZ and DXF can be read"


def read_drawing(
    path: str | Path,
    *,
    width: str | Mm | None = None,
    height: str | Mm | None = None,
    scale: str | float | None = None,
    units: str | None = None,
    join: str | Mm = 0.01,
    page: Page = "keep",
) -> Drawing:
    """Return the regions of a drawing in mm, y up, the lower left of their bounding box at (0, 0).

    Args:
        path: an SVG, SVGZ or DXF file.
        width: finished width of all regions together; a number is mm, text may carry a unit ("58mm", "2in").
        height: the same for the height.
        scale: a factor on the physical size of the file, or mm per unit of the file where it carries none.
        units: what one unit of the file is (mm, cm, in ...), where the file does not say.
        join: open ends of a DXF within this distance, mm, are joined.
        page: whether parts of an SVG outside its page are kept (and named) or cut off at the edge of the page.

    Raises:
        DrawingError: no such file, nothing in it that can be read or cut, or no size to be found.
        UnitError: a size that is no number, zero, negative, or more than one size.
    """
    source = Path(path)
    asked = [name for name, value in (("width", width), ("height", height), ("scale", scale)) if value is not None]
    if len(asked) > 1:
        raise UnitError(
            f"{' and '.join(asked)} were all given", where=source.name, remedy="give one; it fixes the size"
        )
    size = {
        "width": None if width is None else positive_length(width, where="width"),
        "height": None if height is None else positive_length(height, where="height"),
        "scale": None if scale is None else _factor(scale),
    }
    if _kind(source) == "svg":
        from inlayfit.read.svg import read_svg  # noqa: PLC0415  # a DXF need not pay for it

        return read_svg(source, **size, units=units, page=page)
    from inlayfit.read.dxf import read_dxf  # noqa: PLC0415  # an SVG need not pay for ezdxf

    return read_dxf(source, **size, units=units, join=positive_length(join, where="join"))


def _factor(scale: str | float) -> float:
    """Return the scale as a finite number over zero."""
    try:
        value = float(scale)
    except ValueError:
        raise UnitError(f"{scale!r} is not a number", where="scale", remedy="write a factor such as 0.5") from None
    if not math.isfinite(value) or value <= 0:
        raise UnitError(f"{scale} is not a usable scale", where="scale", remedy="write a factor over zero, such as 0.5")
    return value


def _kind(source: Path) -> Literal["svg", "dxf"]:
    """Tell by suffix, then by content, who can read the file."""
    if not source.exists():
        raise DrawingError("there is no such file", where=str(source), remedy="check the path")
    if source.is_dir():
        raise DrawingError("this is a directory", where=str(source), remedy="name one drawing in it")
    try:
        with source.open("rb") as file:
            head = file.read(_HEAD_BYTES)
    except OSError as error:
        raise DrawingError(f"the file cannot be opened: {error.strerror}", where=str(source)) from error
    if not head:
        raise DrawingError("the file is empty", where=str(source), remedy="export the drawing again")
    suffix = source.suffix.lower()
    if suffix in {".svg", ".svgz"}:
        return "svg"
    if suffix == ".dxf":
        return "dxf"
    if b"<svg" in head or head.startswith(b"\x1f\x8b"):
        return "svg"
    if b"SECTION" in head or head.startswith(b"AutoCAD Binary DXF"):
        return "dxf"
    raise DrawingError("this is neither an SVG nor a DXF", where=str(source), remedy=_KNOWN)
