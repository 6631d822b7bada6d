"""The files of a layout: read with other programs' eyes, each piece on a blank is the piece of the drawing."""

from __future__ import annotations

import csv
import json
import math
import re
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf.path import make_path
from shapely import affinity

from inlayfit.cli import main

UM = 0.001
CLEARANCE = 0.4
CHORD = 0.0002

DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="24mm" viewBox="0 0 40 24">'
    '<path fill="#c09a45" d="M2 2 H14 V6 A4 4 0 0 0 10 10 V20 H2 Z"/>'
    '<path fill="#4a5563" d="M14 2 H26 A9 9 0 0 1 17 11 L14 6 Z"/>'
    '<circle fill="#c09a45" cx="32" cy="7" r="4"/><path fill="#c09a45" d="M24 22 Q31 10 38 22 Z"/>'
    '<path fill="#4a5563" fill-rule="evenodd" d="M12 12 h10 v10 h-10 Z M15 15 h4 v4 h-4 Z"/></svg>'
)
JOB = f"""
[drawing]
file = "badge.svg"
[piece]
bit = "0.8mm"
[pocket]
bit = "0.8mm"
[fit]
gap = "0.05mm"
[stock.brass]
kind = "metal"
thickness = "1mm"
colours = ["#c09a45"]
[stock.slate]
kind = "stone"
thickness = "1.5mm"
cut_from = "back"
colours = ["#4a5563"]
[[blank]]
stock = "brass"
width = "25mm"
height = "30mm"
clearance = "{CLEARANCE}mm"
count = 3
[[blank]]
stock = "slate"
width = "30mm"
height = "20mm"
thickness = "1.5mm"
clearance = "{CLEARANCE}mm"
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("badge")
    (where / "badge.svg").write_text(DRAWING, encoding="utf-8")
    (where / "badge.toml").write_text(JOB, encoding="utf-8")
    assert main(["fit", str(where / "badge.toml"), "--out", str(where / "out")]) in (0, 1)
    return where / "out"


@pytest.fixture(scope="module")
def report(folder: Path) -> dict[str, Any]:
    return json.loads((folder / "report.json").read_text(encoding="utf-8"))


def rings_of(path: Path, layer: str) -> list[shapely.Polygon]:
    """Return the closed polylines of a layer as ezdxf flattens them."""
    found = []
    for line in ezdxf.readfile(path).modelspace().query(f'LWPOLYLINE[layer=="{layer}"]'):
        assert line.closed
        found.append(shapely.Polygon([(v.x, v.y) for v in make_path(line).flattening(CHORD)]))
    return found


def areas_of(rings: list[shapely.Polygon]) -> list[shapely.Polygon]:
    """Return polygons with their holes: rings that lie in others are holes."""
    outer = [ring for ring in rings if not any(other.contains(ring) for other in rings if other is not ring)]
    holes = [ring for ring in rings if ring not in outer]
    return [shapely.Polygon(ring.exterior, [hole.exterior for hole in holes if ring.contains(hole)]) for ring in outer]


def on_blank(piece: shapely.Polygon, row: dict[str, Any]) -> shapely.Polygon:
    """Return a piece as the report says that it lies: mirrored left to right about its middle, turned, moved."""
    middle = piece.centroid
    lying = affinity.translate(piece, -middle.x, -middle.y)
    lying = affinity.scale(lying, -1 if row["mirrored"] else 1, 1, origin=(0, 0))
    return affinity.translate(affinity.rotate(lying, row["angle_deg"], origin=(0, 0)), row["x"], row["y"])


def sheet_of(folder: Path, blank: dict[str, Any]) -> Path:
    return folder / f"blank-{blank['name'].replace(' ', '-')}.dxf"


def test_each_stock_has_its_blanks_and_each_piece_its_place(report: dict[str, Any]) -> None:
    assert {blank["stock"] for blank in report["blanks"]} == {"brass", "slate"}
    placed = sorted(piece["number"] for blank in report["blanks"] for piece in blank["pieces"])
    assert placed == sorted(piece["number"] for piece in report["pieces"]) == ["A1", "A2", "A3", "B1", "B2"]


def test_pieces_on_blanks_are_those_of_the_drawing(folder: Path, report: dict[str, Any]) -> None:
    """Area, length and the farthest point, from the DXF alone; the two files do not know of each other."""
    in_place = {
        piece["number"]: next(
            area
            for area in areas_of(rings_of(folder / f"pieces-{piece['stock']}.dxf", "PIECE_OUTLINE"))
            if np.allclose(area.bounds, piece["bounds_mm"], atol=2 * UM)
        )
        for piece in report["pieces"]
    }
    for blank in report["blanks"]:
        laid = areas_of(rings_of(sheet_of(folder, blank), "PIECE_OUTLINE"))
        assert len(laid) == len(blank["pieces"])
        for row in blank["pieces"]:
            meant = on_blank(in_place[row["number"]], row)
            found = min(laid, key=lambda area, meant=meant: area.hausdorff_distance(meant))
            assert found.hausdorff_distance(meant) < UM
            assert found.area == pytest.approx(meant.area, abs=UM * meant.length)
            assert found.length == pytest.approx(meant.length, abs=UM * 10)


def test_arcs_stay_arcs(folder: Path, report: dict[str, Any]) -> None:
    def elements(path: Path, layer: str) -> list[tuple[int, int]]:
        lines = ezdxf.readfile(path).modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
        return sorted((len(line), sum(bool(point[4]) for point in line.get_points())) for line in lines)

    for layer in ("PIECE_OUTLINE", "PIECE_PATH"):
        for stock in ("brass", "slate"):
            sheets = [sheet_of(folder, blank) for blank in report["blanks"] if blank["stock"] == stock]
            laid = sorted(one for sheet in sheets for one in elements(sheet, layer))
            assert laid == elements(folder / f"pieces-{stock}.dxf", layer)


def test_no_cut_comes_nearer_to_a_piece_or_to_the_edge_than_was_asked(folder: Path, report: dict[str, Any]) -> None:
    for blank in report["blanks"]:
        sheet = sheet_of(folder, blank)
        laid = np.array(areas_of(rings_of(sheet, "PIECE_OUTLINE")), dtype=object)
        first, second = np.triu_indices(len(laid), 1)
        assert shapely.distance(laid[first], laid[second]).min(initial=math.inf) >= 0.8 + CLEARANCE - UM
        (edge,) = rings_of(sheet, "GUIDE")
        assert edge.bounds == pytest.approx((0, 0, blank["width_mm"], blank["height_mm"]))
        swept = shapely.union_all(laid).buffer(0.8)
        assert edge.contains(swept)
        assert swept.distance(edge.exterior) >= 1.5 - 2 * UM


def test_outsides_run_as_in_the_drawing_though_they_are_mirrored(folder: Path, report: dict[str, Any]) -> None:
    for blank in report["blanks"]:
        rings = rings_of(sheet_of(folder, blank), "PIECE_OUTLINE")
        for ring in rings:
            hole = any(other.contains(ring) for other in rings if other is not ring)
            assert ring.exterior.is_ccw is not hole


def test_what_is_cut_from_the_back_says_so(folder: Path, report: dict[str, Any]) -> None:
    for blank in report["blanks"]:
        back = blank["stock"] == "slate"
        assert all(piece["mirrored"] is back for piece in blank["pieces"])
        document = ezdxf.readfile(sheet_of(folder, blank))
        texts = [text.dxf.text for text in document.modelspace().query("TEXT")]
        assert any("FROM THE BACK" in text for text in texts) is back
        assert {text.dxf.layer for text in document.modelspace().query("TEXT")} == {"GUIDE"}
        assert {piece["number"] for piece in blank["pieces"]} <= set(texts)


def test_the_list_to_cut_by_has_every_piece(folder: Path, report: dict[str, Any]) -> None:
    rows = list(csv.DictReader((folder / "cut-list.csv").read_text(encoding="utf-8").splitlines()))
    assert [row["number"] for row in rows] == ["A1", "A2", "A3", "B1", "B2"]
    assert [row["number"] for row in report["cut_list"]] == [row["number"] for row in rows]
    areas = {piece["number"]: piece["area_mm2"] for piece in report["pieces"]}
    assert all(float(row["area_mm2"]) == pytest.approx(areas[row["number"]], abs=0.001) for row in rows)
    assert {row["mirrored"] for row in rows if row["stock"] == "slate"} == {"yes"}
    assert all(row["blank"].startswith(row["stock"]) for row in rows)


def test_yield_is_told_in_percent(report: dict[str, Any]) -> None:
    areas = {piece["number"]: piece["area_mm2"] for piece in report["pieces"]}
    for blank in report["blanks"]:
        pieces = sum(areas[piece["number"]] for piece in blank["pieces"])
        assert blank["yield"] == pytest.approx(100 * pieces / (blank["width_mm"] * blank["height_mm"]), abs=1e-4)


def test_the_map_has_every_number(folder: Path, report: dict[str, Any]) -> None:
    text = (folder / "assembly.svg").read_text(encoding="utf-8")
    assert all(f">{piece['number']}</text>" in text for piece in report["pieces"])


def test_the_map_in_the_demo_is_that_of_its_job(tmp_path: Path) -> None:
    demo = Path(__file__).resolve().parent.parent / "demo"
    assert main(["fit", str(demo / "heron-blanks.toml"), "--out", str(tmp_path / "out")]) == 0
    assert (demo / "heron-map.svg").read_bytes() == (tmp_path / "out" / "assembly.svg").read_bytes()


def test_the_page_shows_the_pieces_in_place_alone(folder: Path, report: dict[str, Any]) -> None:
    assert {file["kind"] for file in report["files"]} >= {"blank-dxf", "blank-svg", "assembly-svg", "cut-list-csv"}
    assert (folder / "report.html").exists()


def test_the_screen_tells_what_is_used(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["fit", str(folder.parent / "badge.toml"), "--out", str(folder.parent / "again")])
    said = capsys.readouterr().out
    assert "slate: 1 of 1 blank used" in said
    assert "slate 1 (back)" in said
    assert re.search(r"^A1 +\S.* brass +[\d.]+ x [\d.]+ +[\d.]+ +brass 1$", said, re.MULTILINE)
    same = "blank-slate-1.dxf"
    assert (folder / same).read_bytes() == (folder.parent / "again" / same).read_bytes()
