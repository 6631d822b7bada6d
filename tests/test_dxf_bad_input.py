"""DXF files that are broken, hostile or absurd: a clear error or a note, in under two seconds of work."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import ezdxf
import pytest
from ezdxf.document import Drawing as Document

from inlayfit.errors import DrawingError
from tests.timed import timed_reading

LINE = "0\nLINE\n8\n0\n10\n{}\n20\n{}\n11\n{}\n21\n{}\n"
DISC = "0\nCIRCLE\n8\n0\n10\n{}\n20\n{}\n40\n{}\n"
HEAD = "0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n"
BINARY = b"AutoCAD Binary DXF\r\n\x1a\x00"


def _file(entities: str) -> bytes:
    return f"{HEAD}0\nSECTION\n2\nENTITIES\n{entities}0\nENDSEC\n0\nEOF\n".encode()


def _many(count: int, entity: Callable[[int], str]) -> bytes:
    return _file("".join(map(entity, range(count))))


def _polyline(points: int) -> str:
    rows = "".join(f"10\n{n % 1000}\n20\n{n // 1000}\n" for n in range(points))
    return f"0\nLWPOLYLINE\n100\nAcDbEntity\n8\n0\n100\nAcDbPolyline\n90\n{points}\n70\n1\n{rows}"


REFUSED = {
    "nothing in it": (lambda: b"", "empty"),
    "only blanks": (lambda: b" \n ", "empty"),
    "a picture": (lambda: b"\x89PNG\r\n\x1a\n" + bytes(999), "not a DXF"),
    "a drawing of the program itself": (lambda: b"AC1027" + bytes(999), "not a DXF"),
    "a page of the web": (lambda: b"<html><body>SECTION</body></html>\n  0\nEOF\n", "damaged"),
    "all bytes": (lambda: bytes(range(256)) * 999, "not a DXF"),
    "all bytes behind a binary head": (lambda: BINARY + bytes(range(256)) * 99, "cut off"),
    "cut off": (lambda: _file(DISC.format(0, 0, 5))[:-30], "cut off"),
    "an empty model space": (lambda: _file(""), "model space is empty"),
    "over 64 MB": (lambda: _many(6_000_000, lambda _: "999\nxxxxxxxx\n"), "64 MB"),
    "a million lines": (lambda: _many(1_000_000, lambda n: LINE.format(n, 0, n + 1, 0)), "200,000 entities"),
    "a polyline of 1.2 million points": (lambda: _file(_polyline(1_200_000)), "4,000,000 lines"),
    "10,000 lines across each other": (
        lambda: _many(10_000, lambda n: LINE.format(n * 7919 % 1000, n * 104729 % 1000, n * 31 % 1000, n * 17 % 997)),
        "more than 50,000 places"),
    "numbers that are none": (lambda: _file(DISC.format("nan", 0, 5) + DISC.format(0, "inf", 5)), "no finite number"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_it_is_refused_in_clear_words(name: str, tmp_path: Path) -> None:
    make, told = REFUSED[name]
    path = tmp_path / "bad.dxf"
    path.write_bytes(make())
    with pytest.raises(DrawingError) as caught:
        timed_reading(path)
    assert told in str(caught.value)


def _chain(document: Document, levels: int, each: int) -> None:
    for level in range(levels):
        block = document.blocks.new(f"B{level}")
        if not level:
            block.add_circle((0, 0), 1)
        for copy in range(each if level else 0):
            block.add_blockref(f"B{level - 1}", (copy, 0))
    document.modelspace().add_blockref(f"B{levels - 1}", (0, 0))


def _array(document: Document) -> None:
    document.blocks.new("B").add_circle((0, 0), 1)
    spread = {"row_count": 30_000, "column_count": 30_000, "row_spacing": 1, "column_spacing": 1}
    document.modelspace().add_blockref("B", (0, 0), spread)


def _star(document: Document) -> None:
    spokes = [(10 * math.cos(2.4 * n), 10 * math.sin(2.4 * n)) for n in range(3000)]
    document.modelspace().add_hatch().paths.add_polyline_path(spokes)


@pytest.mark.parametrize(("draw", "told"), [
    (lambda document: _chain(document, 12, 10), "200,000 entities"),
    (_array, "200,000 entities"),
    (_star, "more than 50,000 places"),
], ids=["billions of copies", "an array without end", "a hatch of 3,000 spokes"])  # fmt: skip
def test_a_small_file_that_stands_for_a_huge_drawing_is_refused(
    draw: Callable[[Document], None], told: str, tmp_path: Path
) -> None:
    document = ezdxf.new("R2000", units=4)
    draw(document)
    document.saveas(tmp_path / "bad.dxf")
    with pytest.raises(DrawingError, match=told):
        timed_reading(tmp_path / "bad.dxf")


def test_blocks_that_hold_each_other_are_left_out_where_they_close_the_circle(tmp_path: Path) -> None:
    document = ezdxf.new("R2000", units=4)
    one, two = document.blocks.new("ONE"), document.blocks.new("TWO")
    one.add_circle((0, 0), 5)
    one.add_blockref("TWO", (20, 0))
    two.add_circle((0, 0), 3)
    two.add_blockref("ONE", (0, 20))
    document.modelspace().add_blockref("ONE", (0, 0))
    document.saveas(tmp_path / "odd.dxf")
    drawing = timed_reading(tmp_path / "odd.dxf")
    assert len(drawing.regions) == 2
    assert any("block 'ONE' contains itself" in note.message for note in drawing.notes)


@pytest.mark.parametrize("entity", [
    DISC.format("nan", 0, 5), DISC.format(0, 0, "1e400"), DISC.format("1e300", 0, 1), DISC.format(0, 0, -3),
    LINE.format(0, 0, "inf", 1),
    "0\nTEXT\n8\n0\n1\n" + "x" * 5_000_000 + "\n10\n0\n20\n0\n40\n1\n", "0\nFLOWER\n8\n0\n",
])  # fmt: skip
def test_a_bad_entity_is_left_out_with_a_note(entity: str, tmp_path: Path) -> None:
    path = tmp_path / "odd.dxf"
    path.write_bytes(_file(entity + DISC.format(0, 0, 5)))
    drawing = timed_reading(path)
    assert drawing.size == pytest.approx((10, 10), abs=1e-6)
    assert any(note.kind == "left-out" for note in drawing.notes)


@pytest.mark.parametrize("far", [1e5, 1e7, 1e8])
def test_a_drawing_far_from_the_origin_keeps_its_shape(far: float, tmp_path: Path) -> None:
    """A double keeps 15 digits: at 1e8 mm the last one is 15 nm."""
    path = tmp_path / "far.dxf"
    corners = [(0, 0), (30, 0), (30, 20), (0, 20)]
    sides = zip(corners, [*corners[1:], corners[0]], strict=True)
    lines = "".join(LINE.format(far + x, far + y, far + a, far + b) for (x, y), (a, b) in sides)
    path.write_bytes(_file(lines + DISC.format(far + 10, far + 10, 5)))
    (region,) = timed_reading(path).regions
    assert region.polygon.bounds == pytest.approx((0, 0, 30, 20), abs=1e-6)
    assert region.polygon.area == pytest.approx(600 - math.pi * 25, abs=0.0002 * 40 + 1e-4)
