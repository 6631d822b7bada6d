"""Reads a drawing at its finished size: SVG, packed SVG or DXF to closed regions in mm, y up."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from inlayfit.drawing import Drawing, ReadNote
from inlayfit.errors import DrawingError, UnitError
from inlayfit.units import Mm, positive_length

if TYPE_CHECKING:
    from inlayfit.read.fonts import Font

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
    ignore_page: bool = False,
    fonts: Sequence[str | Path] = (),
    line_layers: Sequence[str] = (),
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
        ignore_page: whether a rectangle behind everything else is left out; a width is then that of the rest.
        line_layers: layers whose lines are kept as lines, in `Drawing.lines`: cuts through regions, outlines of a part.
        fonts: font files (TTF, OTF, TTC, WOFF, WOFF2) to draw texts with; without one, texts are named and left out.

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
    size = _Size(
        width=None if width is None else positive_length(width, where="width"),
        height=None if height is None else positive_length(height, where="height"),
        scale=None if scale is None else _factor(scale),
    )
    apart = frozenset(line_layers)
    read = _reader(source, units=units, join=positive_length(join, where="join"), page=page, fonts=fonts, apart=apart)
    from inlayfit.read.backdrop import named  # noqa: PLC0415  # shapely costs time, and a wrong name is told at once
    from inlayfit.read.pitfalls import told  # noqa: PLC0415

    drawing = _without_page(read, size) if ignore_page else named(read(size))
    return _told_of_lines(told(drawing, sized=size.length is not None), line_layers)


def _told_of_lines(drawing: Drawing, layers: Sequence[str]) -> Drawing:
    """Return the drawing with a note for each layer of lines that holds none."""
    found = {line.layer for line in drawing.lines}
    notes = tuple(
        ReadNote(kind="left-out", subject=layer, message="no line lies on this layer", remedy="look at its name")
        for layer in layers
        if layer not in found
    )
    return replace(drawing, notes=(*drawing.notes, *notes)) if notes else drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class _Size:
    """How large the drawing is to be: one of the three, or as the file says; lengths mm."""

    width: Mm | None
    height: Mm | None
    scale: float | None

    @property
    def asked(self) -> dict[str, Any]:
        return {"width": self.width, "height": self.height, "scale": self.scale}

    @property
    def length(self) -> Mm | None:
        return self.height if self.width is None else self.width

    def times(self, factor: float) -> _Size:
        return replace(
            self,
            width=None if self.width is None else self.width * factor,
            height=None if self.height is None else self.height * factor,
        )


def _reader(
    source: Path, *, units: str | None, join: Mm, page: Page, fonts: Sequence[str | Path], apart: frozenset[str]
) -> Callable[[_Size], Drawing]:
    """Return what reads the file at a size."""
    kind = _kind(source)
    faces: tuple[Font, ...] = ()
    if fonts:
        from inlayfit.read.fonts import load_fonts  # noqa: PLC0415  # fonttools: only who names a font pays for it

        faces = load_fonts(fonts)
    if kind == "svg":
        from inlayfit.read.svg import read_svg  # noqa: PLC0415  # a DXF need not pay for it

        return lambda size: read_svg(source, **size.asked, units=units, page=page, fonts=faces, apart=apart)
    from inlayfit.read.dxf import read_dxf  # noqa: PLC0415  # an SVG need not pay for ezdxf

    return lambda size: read_dxf(source, **size.asked, units=units, join=join, fonts=faces, apart=apart)


def _without_page(read: Callable[[_Size], Drawing], size: _Size) -> Drawing:
    """Return the drawing without the rectangle behind it, the rest at the size that was asked for.

    Where a size was asked for it is read again, larger: curves are flattened for the size that they end up with.
    """
    from inlayfit.read.backdrop import at_origin, without_backdrop  # noqa: PLC0415

    drawing = without_backdrop(read(size))
    if size.length is None:
        return drawing
    axis = 0 if size.width is not None else 1
    drawing = without_backdrop(read(size.times(size.length / drawing.size[axis])))
    return at_origin(drawing, size.length / drawing.size[axis])


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
    if not source.is_file():
        if source.is_dir():
            raise DrawingError("this is a directory", where=str(source), remedy="name one drawing in it")
        if not source.exists():
            raise DrawingError("there is no such file", where=str(source), remedy="check the path")
    suffix = source.suffix.lower()
    if suffix in {".svg", ".svgz"}:
        return "svg"  # whose reader says what is wrong with its bytes
    try:
        with source.open("rb") as file:
            head = file.read(_HEAD_BYTES)
    except OSError as error:
        raise DrawingError(f"the file cannot be opened: {error.strerror}", where=str(source)) from error
    if not head:
        raise DrawingError("the file is empty", where=str(source), remedy="export the drawing again")
    if suffix == ".dxf":
        return "dxf"
    if b"<svg" in head or head.startswith(b"\x1f\x8b"):
        return "svg"
    if b"SECTION" in head or head.startswith(b"AutoCAD Binary DXF"):
        return "dxf"
    raise DrawingError("this is neither an SVG nor a DXF", where=str(source), remedy=_KNOWN)
