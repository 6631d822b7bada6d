"""Block references that are clipped, and the order of drawing: areas by elementary geometry."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from ezdxf.document import Drawing as Document
from ezdxf.xclip import XClip

from inlayfit.drawing import CURVE_TOLERANCE, Drawing
from inlayfit.errors import DrawingError
from inlayfit.read import read_drawing


def _clipped(document: Document, corners: list[tuple[float, float]], **placed: Any) -> XClip:
    """Place a block of a disc of radius 5 about (20, 10) and a far square, clipped in its own coordinates."""
    block = document.blocks.new("MOTIF", base_point=(20, 10))
    block.add_circle((20, 10), 5)
    block.add_lwpolyline([(60, 10), (70, 10), (70, 20), (60, 20)], close=True)
    clip = XClip(document.modelspace().add_blockref("MOTIF", (100, 50), placed))
    clip.set_block_clipping_path(corners)
    return clip


def _read(document: Document, folder: Path) -> Drawing:
    path = folder / "drawing.dxf"
    document.saveas(path)
    return read_drawing(path)


@pytest.fixture
def document() -> Document:
    return ezdxf.new("R2010", units=4)


@pytest.mark.parametrize("placed", [{}, {"rotation": 30}, {"xscale": -1}, {"xscale": 2, "yscale": 2, "rotation": 250}])
def test_a_clip_cuts_closed_outlines_wherever_the_block_is_placed(
    placed: dict[str, float], document: Document, tmp_path: Path
) -> None:
    _clipped(document, [(20, 0), (40, 30)], **placed)
    drawing = _read(document, tmp_path)
    scale = abs(placed.get("xscale", 1))
    (region,) = drawing.regions
    assert region.polygon.area == pytest.approx(math.pi * 25 / 2 * scale**2, abs=CURVE_TOLERANCE * 60)
    told = {(note.kind, note.message) for note in drawing.notes}
    assert ("assumed", "is cut off at the clip of its block") in told
    assert ("left-out", "lies outside of the clip of its block") in told


def test_a_clip_of_many_corners_cuts_out_a_hole(document: Document, tmp_path: Path) -> None:
    _clipped(document, [(10, 0), (30, 0), (30, 20), (20, 10), (10, 20)])  # its notch ends in the centre of the disc
    (region,) = _read(document, tmp_path).regions
    assert region.polygon.area == pytest.approx(math.pi * 25 * 3 / 4, abs=CURVE_TOLERANCE * 40)


def test_what_lies_within_the_clip_is_read_without_a_word(document: Document, tmp_path: Path) -> None:
    _clipped(document, [(0, 0), (90, 30)])
    drawing = _read(document, tmp_path)
    assert [region.polygon.area for region in drawing.regions] == pytest.approx([math.pi * 25, 100], abs=0.01)
    assert not drawing.notes


def test_a_clip_that_is_switched_off_cuts_nothing(document: Document, tmp_path: Path) -> None:
    _clipped(document, [(20, 0), (40, 30)]).disable_clipping()
    assert len(_read(document, tmp_path).regions) == 2


def test_an_inverted_clip_hides_what_lies_in_it(document: Document, tmp_path: Path) -> None:
    clip = _clipped(document, [(20, 0), (40, 30)])
    clip.invert_clipping_path([(0, 0), (90, 90)], ignore_acad_compatibility=True)
    areas = [region.polygon.area for region in _read(document, tmp_path).regions]
    assert areas == pytest.approx([math.pi * 25 / 2, 100], abs=0.01)


def test_a_clip_cuts_filled_areas_and_open_lines_too(document: Document, tmp_path: Path) -> None:
    block = document.blocks.new("MOTIF")
    block.add_solid([(0, 0), (10, 0), (0, 10), (10, 10)])
    block.add_line((0, 20), (30, 20))
    clip = XClip(document.modelspace().add_blockref("MOTIF", (0, 0)))
    clip.set_block_clipping_path([(5, -50), (50, 50)])
    drawing = _read(document, tmp_path)
    assert [region.polygon.area for region in drawing.regions] == pytest.approx([50])
    assert any("25 mm long" in note.message for note in drawing.notes if note.kind == "open")


def test_a_clip_within_a_clipped_block_leaves_what_both_leave(document: Document, tmp_path: Path) -> None:
    inner = document.blocks.new("INNER")
    inner.add_lwpolyline([(0, 0), (10, 0), (10, 10), (0, 10)], close=True)
    outer = document.blocks.new("OUTER")
    XClip(outer.add_blockref("INNER", (0, 0))).set_block_clipping_path([(0, 0), (6, 10)])
    XClip(document.modelspace().add_blockref("OUTER", (0, 0))).set_block_clipping_path([(2, 3), (20, 20)])
    (region,) = _read(document, tmp_path).regions
    assert region.polygon.area == pytest.approx(4 * 7)


def test_a_clip_that_leaves_nothing_is_named(document: Document, tmp_path: Path) -> None:
    _clipped(document, [(200, 200), (240, 230)])
    with pytest.raises(DrawingError, match="outside of the clip of its block"):
        _read(document, tmp_path)


def test_the_order_of_drawing_is_that_of_the_sort_table(document: Document, tmp_path: Path) -> None:
    space = document.modelspace()
    discs = [space.add_circle((0, 0), radius, dxfattribs={"layer": f"L{radius}"}) for radius in (3, 5, 9)]
    assert [region.layer for region in _read(document, tmp_path).regions] == ["L3", "L5", "L9"]
    handles = [disc.dxf.handle for disc in discs]
    space.set_redraw_order(zip(handles, reversed(handles), strict=True))
    assert [region.layer for region in _read(document, tmp_path).regions] == ["L9", "L5", "L3"]


def test_a_block_has_a_sort_table_of_its_own(document: Document, tmp_path: Path) -> None:
    block = document.blocks.new("MOTIF")
    discs = [block.add_circle((0, 0), radius, dxfattribs={"layer": f"L{radius}"}) for radius in (3, 9)]
    handles = [disc.dxf.handle for disc in discs]
    block.set_redraw_order(zip(handles, reversed(handles), strict=True))
    document.modelspace().add_blockref("MOTIF", (0, 0))
    assert [region.layer for region in _read(document, tmp_path).regions] == ["L9", "L3"]
