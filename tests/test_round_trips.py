"""What goes out comes in again the same: our own artwork through our own writers, and through the versions of DXF."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import ezdxf
import pytest
import shapely

import inlayfit
from inlayfit.arcs import ARC_TOLERANCE, ArcRing, fit_polygon, polygon_of
from inlayfit.drawing import CURVE_TOLERANCE, Drawing
from inlayfit.sheet import Sheet
from inlayfit.write.dxf import dxf_bytes
from inlayfit.write.svg import svg_bytes

ARTWORK = sorted((Path(__file__).resolve().parent.parent / "artwork").iterdir())
DXF = [path for path in ARTWORK if path.suffix == ".dxf"]
NEAR = ARC_TOLERANCE + 3 * CURVE_TOLERANCE
"""Mm: arcs are fitted to chords of the curve, flattened again, and begin at the corner of the box of these chords.

Chords stray to both sides of their curve, and so does the side of such a box.
"""

LAST_DIGIT = 1e-5
"""Mm: what is left of a number in a file of text, and of the corner at which two drawings begin."""

each = pytest.mark.parametrize("path", ARTWORK, ids=lambda path: path.name)


def _filled(sheet: Sheet) -> bytes:
    """Return a sheet as SVG with its outlines one filled path, as a drawing program makes it; they leave as lines."""
    plain = svg_bytes(sheet)
    lines = b'fill="none" stroke="#1b6f5c" stroke-width="0.05"'
    assert lines in plain
    return plain.replace(lines, b'fill="#1b6f5c" fill-rule="evenodd"').replace(b'"/>\n<path d="', b"")


def _same(one: shapely.Polygon, other: shapely.Polygon, near: float) -> None:
    assert len(one.interiors) == len(other.interiors)
    assert one.area == pytest.approx(other.area, abs=near * one.length)
    apart = max(shapely.hausdorff_distance(one.boundary, other.boundary), 0.0)
    assert apart <= near


def _as_read(polygon: shapely.Polygon, written: tuple[ArcRing, ...]) -> shapely.Polygon:
    """Return a polygon where a reader puts it: the lower left of what was written is the origin."""
    left, bottom, _, _ = polygon_of(written).bounds
    return shapely.transform(polygon, lambda points: points - (left, bottom))


@pytest.mark.parametrize(("write", "suffix"), [(dxf_bytes, "dxf"), (_filled, "svg")], ids=["dxf", "svg"])
@each
def test_every_region_comes_back_from_our_own_files(
    path: Path, write: Callable[[Sheet], bytes], suffix: str, tmp_path: Path
) -> None:
    for number, region in enumerate(inlayfit.read_drawing(path).regions):
        file = tmp_path / f"{number}.{suffix}"
        written = fit_polygon(region.polygon)
        file.write_bytes(write(Sheet(name="a", title="", layers={"PIECE_OUTLINE": written})))
        (again,) = inlayfit.read_drawing(file).regions
        _same(again.polygon, _as_read(region.polygon, written), NEAR)


def _alike(one: Drawing, other: Drawing) -> None:
    assert len(one.regions) == len(other.regions)
    for here, there in zip(one.regions, other.regions, strict=True):
        assert (here.layer, here.colour, here.name) == (there.layer, there.colour, there.name)
        _same(here.polygon, there.polygon, LAST_DIGIT)


@pytest.mark.parametrize("kind", ["asc", "bin"])
@pytest.mark.parametrize("version", ["R12", "R2000", "R2007", "R2010", "R2018"])
@pytest.mark.parametrize("path", DXF, ids=lambda path: path.name)
def test_a_dxf_reads_the_same_in_every_version(path: Path, version: str, kind: str, tmp_path: Path) -> None:
    document = ezdxf.readfile(path)
    document.dxfversion = version
    file = tmp_path / "again.dxf"
    document.saveas(file, fmt=kind)
    _alike(inlayfit.read_drawing(file, units="mm"), inlayfit.read_drawing(path))


@pytest.mark.parametrize("ending", ["\r\n", "\n"], ids=["two signs", "one sign"])
@pytest.mark.parametrize("path", DXF, ids=lambda path: path.name)
def test_the_ends_of_lines_do_not_matter(path: Path, ending: str, tmp_path: Path) -> None:
    file = tmp_path / "again.dxf"
    file.write_bytes(ending.join(path.read_text("utf-8").splitlines()).encode() + ending.encode())
    _alike(inlayfit.read_drawing(file), inlayfit.read_drawing(path))


@each
@pytest.mark.parametrize("width", [30.0, 90.0])
def test_a_drawing_at_another_size_is_the_same_drawing(path: Path, width: float) -> None:
    here, there = inlayfit.read_drawing(path), inlayfit.read_drawing(path, width=width)
    factor = width / here.size[0]
    for one, other in zip(here.regions, there.regions, strict=True):
        grown = shapely.transform(one.polygon, lambda points: points * factor)
        # the outlines are off by the tolerance at their own size, and so are the boxes that the sizes are taken from
        _same(grown, other.polygon, 2 * CURVE_TOLERANCE * (1 + factor))
