"""What was written, read again by other programs' eyes and measured against what was meant.

ezdxf reads the DXF and gives the centre and radius of each bulge; svgpathtools reads the SVG and gives those of each
arc. Points, area and length follow from these here, not from the formulas that the files were written with.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import numpy as np
from numpy.typing import NDArray

from inlayfit.arcs import ArcRing, halved_arcs, points_along, ring_area, ring_length
from inlayfit.errors import WriteError
from inlayfit.sheet import LAYER_COLOURS, Line, Sheet, plain_text
from inlayfit.units import Mm

if TYPE_CHECKING:
    from ezdxf.entities.lwpolyline import LWPolyline

ALLOWED: Mm = 0.0001
"""How far a point may lie from where it was meant: a tenth of the budget of a path."""
SHARES = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
REMEDY = "nothing was kept; report this, with the drawing"
_SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadBack:
    """What was compared, and the farthest that any point was off, mm."""

    rings: int
    elements: int
    largest_deviation: Mm
    moves: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _ReadRing:
    """Elements as the other program sees them: complex ends and centres, signed sweeps (0 a line), y up."""

    starts: NDArray[np.complex128]
    ends: NDArray[np.complex128]
    centres: NDArray[np.complex128]
    radii: NDArray[np.float64]
    sweeps: NDArray[np.float64]


def read_back_dxf(path: Path, sheet: Sheet) -> ReadBack:
    """Return how well a DXF file holds the sheet.

    Raises:
        WriteError: it does not: unit, layer, ring, label, closure, area, length or any point is off.
    """
    from ezdxf.entities.lwpolyline import LWPolyline  # noqa: PLC0415 (heavy)
    from ezdxf.entities.text import Text  # noqa: PLC0415
    from ezdxf.filemanagement import readfile  # noqa: PLC0415
    from ezdxf.lldxf.const import DXFError  # noqa: PLC0415

    try:
        document = readfile(path)
    except (OSError, DXFError) as error:
        raise WriteError(f"the file does not read back: {error}", where=path.name, remedy=REMEDY) from error
    _agree(path, "errors found by the auditor", len(document.audit().errors), 0)
    _agree(path, "unit", document.header.get("$INSUNITS"), 4)
    _agree(path, "measurement", document.header.get("$MEASUREMENT"), 1)
    entities = list(document.modelspace())
    _agree(path, "kinds of entity", {entity.dxftype() for entity in entities} - {"LWPOLYLINE", "LINE", "TEXT"}, set())
    polylines = [entity for entity in entities if isinstance(entity, LWPolyline)]
    labels = [entity.plain_text() for entity in entities if isinstance(entity, Text)]
    _agree(path, "labels", labels, [plain_text(label[3]) for label in sheet.labels])
    _agree(path, "open outlines", sum(not polyline.closed for polyline in polylines), 0)
    found: dict[str, list[_ReadRing]] = {}
    for polyline in polylines:
        found.setdefault(polyline.dxf.layer, []).append(_ring_of_polyline(polyline))
    lines: dict[str, list[Line]] = {}
    for entity in entities:
        if entity.dxftype() == "LINE":
            ends = (entity.dxf.start.x, entity.dxf.start.y, entity.dxf.end.x, entity.dxf.end.y)
            lines.setdefault(entity.dxf.layer, []).append(Line(*ends))
    _compare_lines(path, lines, sheet.lines)
    _agree(path, "missing layers", {name for name in sheet.layer_names if not document.layers.has_entry(name)}, set())
    return _compare(path, found, sheet.layers)


def _ring_of_polyline(polyline: LWPolyline) -> _ReadRing:
    from ezdxf.math import bulge_center, bulge_radius  # noqa: PLC0415

    rows = polyline.get_points("xyb")
    starts = np.array([complex(x, y) for x, y, _ in rows])
    ends = np.roll(starts, -1)
    pairs = [(row[:2], after[:2], row[2]) for row, after in zip(rows, [*rows[1:], rows[0]], strict=True)]
    centres = np.array([complex(*bulge_center(*pair)) if pair[2] else 0j for pair in pairs])
    radii = np.array([bulge_radius(*pair) if pair[2] else 0.0 for pair in pairs])
    bulges = np.array([pair[2] for pair in pairs])
    return _ReadRing(
        starts=starts, ends=ends, centres=centres, radii=radii, sweeps=_sweeps(starts, ends, centres, np.sign(bulges))
    )


def _sweeps(
    starts: NDArray[np.complex128],
    ends: NDArray[np.complex128],
    centres: NDArray[np.complex128],
    senses: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the angle from start to end as seen from the centre, in the sense given: 1 counter-clockwise, 0 a line."""
    with np.errstate(divide="ignore", invalid="ignore"):
        turn = np.angle((ends - centres) / (starts - centres))
    return np.where(senses == 0, 0.0, senses * np.mod(senses * turn, 2 * math.pi))


def read_back_svg(path: Path, sheet: Sheet) -> ReadBack:
    """Return how well an SVG file holds the sheet.

    Raises:
        WriteError: it does not: size, layer, ring, label, closure, area, length or any point is off.
    """
    root = _xml(path)
    _check_size(path, root)
    return _compare_svg(path, root, sheet, _SVG)


def _xml(path: Path) -> ElementTree.Element:
    try:
        return ElementTree.parse(path).getroot()
    except (OSError, ElementTree.ParseError) as error:
        raise WriteError(f"the file does not read back: {error}", where=path.name, remedy=REMEDY) from error


def _compare_svg(path: Path, root: ElementTree.Element, sheet: Sheet, space: str) -> ReadBack:
    """Hold the drawing at `root` against the sheet; `space` stands before the name of each element."""
    from inlayfit.write.svg import MOST_SWEEP  # noqa: PLC0415

    labels = ["".join(text.itertext()) for text in root.iter(f"{space}text")]
    _agree(path, "labels", labels, [plain_text(label[3]) for label in sheet.labels])
    groups = {str(group.get("id")): group for group in root.iter(f"{space}g")}
    _agree(path, "layers", sorted(groups), sorted(sheet.layer_names))
    found = {
        name: [_ring_of_path(path, node.get("d", "")) for node in group.iter(f"{space}path")]
        for name, group in groups.items()
    }
    _compare_lines(
        path, {name: [_line_of(n) for n in g.iter(f"{space}line")] for name, g in groups.items()}, sheet.lines
    )
    meant = {name: tuple(halved_arcs(ring, MOST_SWEEP) for ring in rings) for name, rings in sheet.layers.items()}
    return _compare(path, found, meant)


def read_back_page(path: Path, sheet: Sheet) -> ReadBack:
    """Return how well the first drawing within a page holds the sheet; the page is XML, its drawing of any size.

    What else it shows, such as pins and colours, is no part of the sheet.

    Raises:
        WriteError: it does not: layer, ring, label, closure, area, length or any point is off.
    """
    drawing = next(_xml(path).iter("svg"), ElementTree.Element("svg"))
    layers = ElementTree.Element("svg")
    layers.extend(group for group in drawing.iter("g") if group.get("id") in LAYER_COLOURS)
    return _compare_svg(path, layers, sheet, "")


def _check_size(path: Path, root: ElementTree.Element) -> None:
    """Hold width and height, in mm, against the view box: one unit must be one millimetre."""
    size = [root.get("width"), root.get("height")]
    _agree(path, "true size", size, [f"{number}mm" for number in root.get("viewBox", "").split()[2:]])


def _ring_of_path(path: Path, data: str) -> _ReadRing:
    import svgpathtools  # noqa: PLC0415 (costs most of a second: it pulls scipy)

    try:
        parsed = svgpathtools.parse_path(data)
    except (ValueError, IndexError) as error:
        raise WriteError(f"a path does not read back: {error}", where=path.name, remedy=REMEDY) from error
    arcs = [isinstance(element, svgpathtools.Arc) for element in parsed]
    kinds = {type(element).__name__ for element in parsed}
    _agree(path, "kinds of element", kinds - {"Line", "Arc"}, set())
    _agree(path, "open outlines", int(not (len(parsed) and parsed.isclosed() and data.endswith("Z"))), 0)
    starts = np.array([element.start for element in parsed]).conj()
    ends = np.array([element.end for element in parsed]).conj()
    pairs = list(zip(parsed, arcs, strict=True))
    centres = np.array([element.center if arc else 0j for element, arc in pairs]).conj()
    radii = np.array([element.radius.real if arc else 0.0 for element, arc in pairs])
    senses = np.array([-np.sign(element.delta) if arc else 0.0 for element, arc in pairs])
    return _ReadRing(
        starts=starts, ends=ends, centres=centres, radii=radii, sweeps=_sweeps(starts, ends, centres, senses)
    )


def _line_of(node: ElementTree.Element) -> Line:
    x1, y1, x2, y2 = (float(node.get(key, "nan")) for key in ("x1", "y1", "x2", "y2"))
    return Line(x1, -y1, x2, -y2)


def _compare_lines(path: Path, found: Mapping[str, list[Line]], meant: Mapping[str, tuple[Line, ...]]) -> None:
    counts = {name: len(lines) for name, lines in found.items() if lines}
    _agree(path, "lines on each layer", counts, {name: len(lines) for name, lines in meant.items() if lines})
    for name, lines in meant.items():
        for number, (read, line) in enumerate(zip(found.get(name, ()), lines, strict=True), start=1):
            off = max(abs(here - there) for here, there in zip(read, line, strict=True))
            _close(path, f"{name} line {number}: ends", off, 0.0, ALLOWED)


def _compare(path: Path, found: Mapping[str, list[_ReadRing]], meant: Mapping[str, tuple[ArcRing, ...]]) -> ReadBack:
    counts = {name: len(rings) for name, rings in found.items() if rings}
    _agree(path, "outlines on each layer", counts, {name: len(rings) for name, rings in meant.items() if rings})
    deviations, elements = [0.0], 0
    for name, rings in meant.items():
        for number, (read, ring) in enumerate(zip(found.get(name, ()), rings, strict=True), start=1):
            deviations.append(_compare_ring(path, f"{name} outline {number}", read, ring))
            elements += ring.bulges.size
    return ReadBack(rings=len(deviations) - 1, elements=elements, largest_deviation=max(deviations))


def _compare_ring(path: Path, name: str, read: _ReadRing, ring: ArcRing) -> Mm:
    """Return the farthest that a point of the ring is off, mm."""
    _agree(path, f"{name}: elements", read.starts.size, ring.bulges.size)
    off = float(np.abs(_points(read) - points_along(ring, SHARES) @ np.array([1.0, 1.0j])).max())
    length = _length(read)
    _close(path, f"{name}: points", off, 0.0, ALLOWED)
    _close(path, f"{name}: length", length, ring_length(ring), ALLOWED * ring.bulges.size)
    _close(path, f"{name}: area", _area(read), ring_area(ring), ALLOWED * length)
    return off


def _points(read: _ReadRing) -> NDArray[np.complex128]:
    """Return the points at `SHARES` of each element: on an arc turned about the centre that was read."""
    arc = (read.sweeps != 0)[:, None]
    starts, centres = read.starts[:, None], read.centres[:, None]
    with np.errstate(invalid="ignore"):  # a line from the origin, which has no centre
        turned = centres + (starts - centres) / np.abs(starts - centres) * read.radii[:, None] * np.exp(
            1j * read.sweeps[:, None] * SHARES
        )
    return np.asarray(np.where(arc, turned, starts + (read.ends - read.starts)[:, None] * SHARES))


def _length(read: _ReadRing) -> Mm:
    straight = np.abs(read.ends - read.starts)
    return float(np.sum(np.where(read.sweeps != 0, read.radii * np.abs(read.sweeps), straight)))


def _area(read: _ReadRing) -> float:
    """Return the area by Green's theorem: half the integral of x dy - y dx, element by element."""
    origin = read.starts[0]
    centres = np.where(read.sweeps != 0, read.centres, read.starts) - origin
    cross = (centres.conj() * (read.ends - read.starts)).imag
    return float(np.sum(cross + read.radii**2 * read.sweeps)) / 2


def _agree(path: Path, what: str, found: object, meant: object) -> None:
    if found != meant:
        raise WriteError(f"{what}: {found} was read back, {meant} was meant", where=path.name, remedy=REMEDY)


def _close(path: Path, what: str, found: float, meant: float, allowed: float) -> None:
    if not abs(found - meant) <= allowed:  # so that no number at all fails too
        message = f"{what}: {found:.6f} was read back, {meant:.6f} was meant (within {allowed:.6f})"
        raise WriteError(message, where=path.name, remedy=REMEDY)
