"""What is written: form and true size, that a wrong file is caught, that a folder appears whole or not at all."""

from __future__ import annotations

import io
import itertools
import os
import re
import struct
import zlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pytest
import resvg_py
import shapely

from inlayfit.arcs import ArcRing, fit_polygon, ring_area
from inlayfit.errors import WriteError
from inlayfit.readback import ReadBack, read_back_dxf, read_back_svg
from inlayfit.sheet import LAYER_COLOURS, Line, Sheet
from inlayfit.write.dxf import dxf_bytes
from inlayfit.write.files import write_folder
from inlayfit.write.svg import path_data, svg_bytes

Writer = Callable[[Sheet], bytes]
Reader = Callable[[Path, Sheet], ReadBack]

LEAF = shapely.Polygon(
    [(12 + 9 * np.cos(a) + np.cos(3 * a), 7 + 5 * np.sin(a)) for a in np.linspace(0, 2 * np.pi, 900, endpoint=False)]
)
PIERCED = LEAF.difference(shapely.Point(12, 7).buffer(2, quad_segs=48))
PLATE = shapely.box(-3, -2, 30, 16).buffer(1.5, quad_segs=40)
SHEET = Sheet(
    name="leaf-pieces",
    title='Leaf & bud <"draft">',
    layers={
        "PIECE_OUTLINE": fit_polygon(PIERCED),
        "PIECE_PATH": (*fit_polygon(PLATE), *fit_polygon(shapely.Point(1, 1).buffer(0.5, quad_segs=24))),
        "GUIDE": fit_polygon(shapely.box(-5, -5, 35, 20)),
    },
    labels=((12.0, 7.0, 2.5, "1 & <a>"), (1.0, 1.0, 1.0, "50 %% of it\nGrün")),
    lines={
        "SLOT_PATH": (Line(3.0, 1.0, 3.25, 14.5), Line(20.0, 1.0, 20.0, 14.5)),
        "GUIDE": (Line(-5.0, 7.0, 35.0, 7.0),),
    },
)
BOTH = pytest.mark.parametrize(
    ("write", "read", "ending"), [(dxf_bytes, read_back_dxf, "dxf"), (svg_bytes, read_back_svg, "svg")],
    ids=["dxf", "svg"],
)  # fmt: skip


def written(tmp_path: Path, content: bytes, ending: str) -> Path:
    path = tmp_path / f"sheet.{ending}"
    path.write_bytes(content)
    return path


def changed(layer: str, number: int, **parts: np.ndarray) -> Sheet:
    rings = list(SHEET.layers[layer])
    rings[number] = replace(rings[number], **parts)
    return replace(SHEET, layers={**SHEET.layers, layer: tuple(rings)})


class TestBothFormats:
    @BOTH
    def test_a_sheet_reads_back_as_it_was_meant(self, tmp_path, write: Writer, read: Reader, ending: str) -> None:
        report = read(written(tmp_path, write(SHEET), ending), SHEET)
        assert report.rings == 5
        assert report.elements >= sum(ring.bulges.size for rings in SHEET.layers.values() for ring in rings)
        assert report.largest_deviation < 0.000002  # six decimals in SVG

    @pytest.mark.parametrize("write", [dxf_bytes, svg_bytes])
    def test_the_same_sheet_gives_the_same_bytes(self, write: Writer) -> None:
        assert write(SHEET) == write(SHEET)

    @BOTH
    def test_an_empty_sheet_is_a_file_too(self, tmp_path, write: Writer, read: Reader, ending: str) -> None:
        empty = Sheet(name="none", title="", layers={})
        assert read(written(tmp_path, write(empty), ending), empty).rings == 0

    @BOTH
    def test_wide_and_huge_arcs_read_back(self, tmp_path, write: Writer, read: Reader, ending: str) -> None:
        """Of 350 and 180 degrees, of a radius of 50 m, of 1 um, clockwise and counter-clockwise."""
        points = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 7.0], [9.998, 7.0], [-40.0, 7.0]])
        ring = ArcRing(points=points, bulges=np.array([20.0, 1.0, -1.0, 0.00025, -2.5]))
        sheet = Sheet(name="wide", title="wide", layers={"POCKET_PATH": (ring,)})
        assert read(written(tmp_path, write(sheet), ending), sheet).largest_deviation < 0.00001

    @BOTH
    @pytest.mark.parametrize(
        "wrong",
        [
            pytest.param(
                changed("PIECE_OUTLINE", 1, bulges=-SHEET.layers["PIECE_OUTLINE"][1].bulges), id="bulge flipped"
            ),
            pytest.param(
                changed("PIECE_PATH", 0, points=SHEET.layers["PIECE_PATH"][0].points + np.array([0.0002, 0])),
                id="moved 0.2 um",
            ),
            pytest.param(
                changed("PIECE_OUTLINE", 1, bulges=SHEET.layers["PIECE_OUTLINE"][1].bulges * 1.0002), id="fatter 0.4 um"
            ),
            pytest.param(
                replace(SHEET, layers={**SHEET.layers, "PIECE_OUTLINE": SHEET.layers["PIECE_OUTLINE"][:1]}),
                id="hole lost",
            ),
            pytest.param(
                replace(SHEET, layers={**SHEET.layers, "PIECE_PATH": SHEET.layers["PIECE_PATH"][::-1]}), id="swapped"
            ),
            pytest.param(
                replace(SHEET, layers={"POCKET_PATH" if k == "PIECE_PATH" else k: v for k, v in SHEET.layers.items()}),
                id="other layer",
            ),
            pytest.param(
                replace(
                    SHEET,
                    layers={
                        name: tuple(replace(ring, points=ring.points * 25.4) for ring in rings)
                        for name, rings in SHEET.layers.items()
                    },
                ),
                id="25.4 times",
            ),
            pytest.param(replace(SHEET, labels=SHEET.labels[:1]), id="label lost"),
            pytest.param(replace(SHEET, lines={"SLOT_PATH": SHEET.lines["SLOT_PATH"]}), id="line lost"),
            pytest.param(replace(SHEET, lines=SHEET.lines | {"GUIDE": SHEET.lines["GUIDE"] * 2}), id="line twice"),
            pytest.param(
                replace(SHEET, lines=SHEET.lines | {"SLOT_PATH": SHEET.lines["SLOT_PATH"][::-1]}), id="lines swapped"
            ),
            pytest.param(
                replace(SHEET, lines=SHEET.lines | {"GUIDE": (Line(-5.0, 7.0, 35.0, 7.0002),)}), id="line moved 0.2 um"
            ),
            pytest.param(
                replace(SHEET, lines={"PIN_HOLE" if k == "SLOT_PATH" else k: v for k, v in SHEET.lines.items()}),
                id="line on another layer",
            ),
        ],
    )
    def test_a_wrong_file_is_caught(self, tmp_path, write: Writer, read: Reader, ending: str, wrong: Sheet) -> None:
        with pytest.raises(WriteError, match="was meant"):
            read(written(tmp_path, write(wrong), ending), SHEET)

    @pytest.mark.parametrize("read", [read_back_dxf, read_back_svg])
    @pytest.mark.parametrize("content", [b"", b"no drawing", b"\x00\xff" * 40], ids=["empty", "text", "noise"])
    def test_what_is_no_drawing_is_caught(self, tmp_path, read: Reader, content: bytes) -> None:
        with pytest.raises(WriteError, match="does not read back"):
            read(written(tmp_path, content, "bin"), SHEET)


class TestDxf:
    def test_units_layers_and_closed_polylines(self) -> None:
        """$INSUNITS 4 is millimetres, flag 70 bit 1 closed.

        Source: DXF reference, https://help.autodesk.com/cloudhelp/2024/ENU/AutoCAD-DXF/files/
        GUID-748FC305-F3F2-4F74-825A-61F04D757A50.htm (LWPOLYLINE), .../AutoCAD-LT/files/
        GUID-A58A87BB-482B-4042-A00A-EEF55A2B4FD8.htm ($INSUNITS).
        """
        document = ezdxf.read(io.StringIO(dxf_bytes(SHEET).decode()))
        assert document.dxfversion == "AC1024"  # R2010
        assert (document.header["$INSUNITS"], document.header["$MEASUREMENT"]) == (4, 1)
        assert not document.audit().errors
        polylines = document.modelspace().query("LWPOLYLINE")
        assert {polyline.dxf.layer for polyline in polylines} == {"PIECE_OUTLINE", "PIECE_PATH", "GUIDE"}
        assert all(polyline.closed for polyline in polylines)
        assert {text.dxf.layer for text in document.modelspace().query("TEXT")} == {"GUIDE"}

    def test_every_layer_has_a_colour_of_its_own(self) -> None:
        assert len({colour for colour, _ in LAYER_COLOURS.values()}) == len(LAYER_COLOURS)
        assert len({number for _, number in LAYER_COLOURS.values()}) == len(LAYER_COLOURS)

    def test_the_switch_for_fixed_dates_is_put_back(self) -> None:
        dxf_bytes(SHEET)
        assert not ezdxf.options.write_fixed_meta_data_for_testing

    @pytest.mark.parametrize(
        ("there", "instead"),
        [
            ("$INSUNITS\n 70\n4\n", "$INSUNITS\n 70\n1\n"),
            ("\n 70\n1\n 10\n", "\n 70\n0\n 10\n"),
            ("LWPOLYLINE", "CIRCLE"),
        ],
        ids=["inches", "open", "other entity"],
    )
    def test_a_file_that_was_tampered_with_is_caught(self, tmp_path, there: str, instead: str) -> None:
        text = dxf_bytes(SHEET).decode()
        assert there in text
        with pytest.raises(WriteError):
            read_back_dxf(written(tmp_path, text.replace(there, instead).encode(), "dxf"), SHEET)


class TestSvg:
    def test_one_unit_is_one_millimetre(self) -> None:
        root = ElementTree.fromstring(svg_bytes(SHEET))
        _, _, width, height = root.get("viewBox").split()
        assert (root.get("width"), root.get("height")) == (f"{width}mm", f"{height}mm")

    def test_the_picture_is_not_mirrored(self) -> None:
        """By a renderer of its own, 96 dots an inch: the arrow points up and bulges to the right, as it was drawn."""
        arrow = ArcRing(points=np.array([[0.0, 0.0], [4.0, 0.0], [2.0, 10.0]]), bulges=np.array([0.0, 0.8, 0.0]))
        sheet = Sheet(name="arrow", title="", layers={"PIECE_OUTLINE": (arrow,)})
        filled = svg_bytes(sheet).decode().replace('fill="none"', 'fill="#000"')
        picture = bytes(resvg_py.svg_to_bytes(svg_string=filled, dpi=96))
        ink = _ink(picture)
        height, width = ink.shape
        box = [int(x) for x in re.search(r'viewBox="(\S+) (\S+) (\S+) (\S+)"', filled).groups()]
        per_mm = np.array([width / box[2], height / box[3]])

        def at(x: float, y: float) -> bool:
            column, row = ((np.array([x, -y]) - box[:2]) * per_mm).astype(int)
            return bool(ink[row, column])

        assert per_mm == pytest.approx(96 / 25.4, rel=0.02)
        assert ink.sum() / per_mm.prod() == pytest.approx(ring_area(arrow), rel=0.02)
        assert at(2, 5)
        assert at(6, 6)
        assert not at(0.5, 8)
        assert not at(-0.5, 6)

    def test_a_circle_is_never_an_arc_onto_its_own_start(self) -> None:
        """SVG drops an arc whose ends are equal. Source: SVG 2, appendix B.2 (F.6 in SVG 1.1)."""
        (circle,) = fit_polygon(shapely.Point(0, 0).buffer(5, quad_segs=90))
        data = path_data(circle)
        ends = re.findall(r"[ML]?(?:A\S+ \S+ 0 0 [01] )?(-?[\d.]+ -?[\d.]+)(?=[ALZ])", data)
        assert data.count("A") == 4
        assert all(one != other for one, other in itertools.pairwise(ends))
        assert data.endswith("Z")

    def test_paths_hold_only_moves_lines_and_arcs(self) -> None:
        root = ElementTree.fromstring(svg_bytes(SHEET))
        paths = list(root.iter("{http://www.w3.org/2000/svg}path"))
        assert len(paths) == 5
        assert {letter for path in paths for letter in re.findall("[a-zA-Z]", path.get("d"))} <= set("MLAZ")

    @pytest.mark.parametrize(
        ("there", "instead"),
        [
            ("mm", "px"),
            ('viewBox="-7', 'viewBox="-8'),
            ("Z", ""),
            ('id="PIECE_PATH"', 'id="PIECE"'),
            (" 0 0 0 ", " 0 0 1 "),
        ],
        ids=["pixels", "shifted box", "open", "renamed layer", "arcs turned"],
    )
    def test_a_file_that_was_tampered_with_is_caught(self, tmp_path, there: str, instead: str) -> None:
        text = svg_bytes(SHEET).decode()
        assert there in text
        if there.startswith("viewBox"):
            text, there, instead = text.replace('height="', 'height="1'), "", ""
        with pytest.raises(WriteError):
            read_back_svg(written(tmp_path, text.replace(there, instead).encode(), "svg"), SHEET)


def _ink(png: bytes) -> np.ndarray:
    """Return which pixels of an 8 bit RGBA picture are covered. Source: PNG (ISO/IEC 15948), clauses 5 and 9."""
    width, height, *kind = struct.unpack(">IIBBBBB", png[16:29])
    assert kind == [8, 6, 0, 0, 0]
    place, packed = 8, b""
    while place < len(png):
        (size,) = struct.unpack(">I", png[place : place + 4])
        packed += png[place + 8 : place + 8 + size] if png[place + 4 : place + 8] == b"IDAT" else b""
        place += size + 12
    raw = np.frombuffer(zlib.decompress(packed), dtype=np.uint8).reshape(height, 4 * width + 1).astype(int)
    rows = np.zeros((height + 1, 4 * width + 4), dtype=int)  # a row above and a pixel to the left, all nought
    for y, row in enumerate(raw, start=1):
        for x in range(4, 4 * width + 4):
            left, up, corner = rows[y, x - 4], rows[y - 1, x], rows[y - 1, x - 4]
            paeth = min((left, up, corner), key=lambda value: abs(left + up - corner - value))
            rows[y, x] = (row[x - 3] + (0, left, up, (left + up) // 2, paeth)[row[0]]) % 256
    return rows[1:, 7::4] > 127


def test_a_layer_without_a_name_of_ours_is_refused() -> None:
    with pytest.raises(ValueError, match="no such layer: LAYER_0"):
        Sheet(name="x", title="x", layers={"LAYER_0": ()})


def snapshot(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def trust(folder: Path) -> None:
    """Find nothing wrong."""


class TestTheFolder:
    def test_files_appear_with_their_folders(self, tmp_path: Path) -> None:
        seen = {}
        write_folder(
            tmp_path / "deep" / "job", {"a.dxf": b"1", "sub/b.svg": b"2"}, lambda folder: seen.update(snapshot(folder))
        )
        assert snapshot(tmp_path) == {"deep/job/a.dxf": b"1", "deep/job/sub/b.svg": b"2"}
        assert seen == {"a.dxf": b"1", "sub/b.svg": b"2"}

    def test_files_of_other_names_are_kept(self, tmp_path: Path) -> None:
        write_folder(tmp_path / "job", {"a": b"old", "sub/b": b"old", "notes/c": b"mine"}, trust)
        (tmp_path / "job" / "link").symlink_to("a")
        (tmp_path / "job" / "way").symlink_to("notes")
        (tmp_path / "job").chmod(0o750)
        write_folder(tmp_path / "job", {"a": b"new", "sub/d": b"new"}, trust)
        found = snapshot(tmp_path / "job")
        assert found == {
            "a": b"new", "link": b"new", "notes/c": b"mine", "sub/b": b"old", "sub/d": b"new",
        }  # fmt: skip
        assert (tmp_path / "job" / "way").is_symlink()
        assert (tmp_path / "job").stat().st_mode & 0o777 == 0o750
        assert [p.name for p in tmp_path.iterdir()] == ["job"]

    @pytest.mark.parametrize("earlier", [None, {"a": b"old", "b": b"kept"}], ids=["new", "existing"])
    def test_a_failed_check_changes_nothing(self, tmp_path: Path, earlier: dict[str, bytes] | None) -> None:
        if earlier:
            write_folder(tmp_path / "job", earlier, trust)
        before = snapshot(tmp_path)

        def doubt(folder: Path) -> None:
            raise WriteError("it does not read back", where="a")

        with pytest.raises(WriteError, match="it does not read back"):
            write_folder(tmp_path / "job", {"a": b"new"}, doubt)
        assert snapshot(tmp_path) == before
        assert [p.name for p in tmp_path.iterdir()] == (["job"] if earlier else [])

    @pytest.mark.parametrize("failure", [OSError(28, "No space left on device"), KeyboardInterrupt()], ids=repr)
    @pytest.mark.parametrize("step", [1, 2])
    def test_a_failed_rename_puts_the_old_folder_back(self, tmp_path, monkeypatch, step: int, failure) -> None:
        write_folder(tmp_path / "job", {"a": b"old", "b": b"old"}, trust)
        before, real, calls = snapshot(tmp_path), Path.rename, []

        def rename(self: Path, target: Path) -> Path:
            calls.append(self)
            if len(calls) == step:
                raise failure
            return real(self, target)

        monkeypatch.setattr(Path, "rename", rename)
        expected = WriteError if isinstance(failure, OSError) else KeyboardInterrupt
        with pytest.raises(expected):
            write_folder(tmp_path / "job", {"a": b"new"}, trust)
        assert snapshot(tmp_path) == before
        assert [p.name for p in tmp_path.iterdir()] == ["job"]

    def test_a_run_that_was_killed_between_the_renames_is_put_right(self, tmp_path: Path) -> None:
        write_folder(tmp_path / "job", {"a": b"old", "b": b"old"}, trust)
        (tmp_path / "job").rename(tmp_path / ".job.before")
        (tmp_path / ".job.new").mkdir()
        (tmp_path / ".job.new" / "half").write_bytes(b"of it")
        write_folder(tmp_path / "job", {"a": b"new"}, trust)
        assert snapshot(tmp_path) == {"job/a": b"new", "job/b": b"old"}

    def test_a_disk_without_links_gets_copies(self, tmp_path: Path, monkeypatch) -> None:
        def no_links(*_args: object, **_options: object) -> None:
            raise OSError(1, "Operation not permitted")

        write_folder(tmp_path / "job", {"a": b"old"}, trust)
        monkeypatch.setattr(os, "link", no_links)
        write_folder(tmp_path / "job", {"b": b"new"}, trust)
        assert snapshot(tmp_path) == {"job/a": b"old", "job/b": b"new"}

    def test_a_file_in_its_place_is_an_error(self, tmp_path: Path) -> None:
        (tmp_path / "job").write_bytes(b"mine")
        with pytest.raises(WriteError, match="a file stands where the folder should be") as caught:
            write_folder(tmp_path / "job", {"a": b"new"}, trust)
        assert caught.value.remedy
        assert snapshot(tmp_path) == {"job": b"mine"}

    @pytest.mark.parametrize("place", ["job/below", "job/below/deeper"])
    def test_a_file_on_the_way_is_an_error(self, tmp_path: Path, place: str) -> None:
        (tmp_path / "job").write_bytes(b"mine")
        with pytest.raises(WriteError, match="could not be written"):
            write_folder(tmp_path / place, {"a": b"new"}, trust)
        assert snapshot(tmp_path) == {"job": b"mine"}

    def test_a_folder_that_may_not_be_written_is_an_error(self, tmp_path: Path, monkeypatch) -> None:
        def refuse(self: Path, *_args: object, **_options: object) -> None:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(Path, "write_bytes", refuse)
        with pytest.raises(WriteError, match="Permission denied") as caught:
            write_folder(tmp_path / "deep" / "job", {"a": b"new"}, trust)
        assert "another folder" in caught.value.remedy
        assert list(tmp_path.iterdir()) == []

    def test_the_folder_one_stands_in_is_not_swapped(self, tmp_path: Path, monkeypatch) -> None:
        monkeypatch.chdir(tmp_path)
        with pytest.raises(WriteError, match="the folder you are in"):
            write_folder(Path(), {"a": b"new"}, trust)
        assert list(tmp_path.iterdir()) == []

    @pytest.mark.parametrize("name", ["../a", "/a", "sub/../../a", ""])
    def test_a_name_that_leads_out_is_refused(self, tmp_path: Path, name: str) -> None:
        with pytest.raises(ValueError, match="not a name within the folder"):
            write_folder(tmp_path / "job", {name: b"new"}, trust)
        assert list(tmp_path.iterdir()) == []
