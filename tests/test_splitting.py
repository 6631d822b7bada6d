"""Lines on a layer of their own part the pieces that they cross; they are no regions and do not count for the size."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest
import shapely

import inlayfit
from inlayfit.drawing import DrawnLine
from inlayfit.recipe import Fit
from tests.shapes import bar, drawing_of, ring, square

SVG = """<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape"
  width="40mm" height="40mm" viewBox="0 0 40 40">
  <g inkscape:groupmode="layer" inkscape:label="shell"><rect id="plate" x="10" y="10" width="20" height="10"/></g>
  <g inkscape:groupmode="layer" inkscape:label="CUT" fill="none" stroke="red" stroke-width="0.5">
    <path d="M20,5 V35"/><circle cx="13" cy="15" r="1.5"/></g>
</svg>"""


def svg(folder: Path) -> Path:
    file = folder / "plate.svg"
    file.write_text(SVG, encoding="utf-8")
    return file


def dxf(folder: Path) -> Path:
    document = ezdxf.new(units=4)
    space = document.modelspace()
    space.add_lwpolyline([(10, 20), (30, 20), (30, 30), (10, 30)], close=True, dxfattribs={"layer": "shell"})
    space.add_line((20, 5), (20, 35), dxfattribs={"layer": "CUT"})
    space.add_circle((13, 25), 1.5, dxfattribs={"layer": "CUT"})
    file = folder / "plate.dxf"
    document.saveas(file)
    return file


@pytest.mark.parametrize("make", [svg, dxf])
@pytest.mark.parametrize("size", [{}, {"width": 20}, {"height": 10, "ignore_page": True}])
def test_lines_of_a_named_layer_stay_lines(make, size: dict[str, object], tmp_path: Path) -> None:
    drawing = inlayfit.read_drawing(make(tmp_path), line_layers=["CUT"], **size)
    assert drawing.size == pytest.approx((20, 10))
    assert [region.layer for region in drawing.regions] == ["shell"]
    straight, circle = sorted((one.line for one in drawing.lines), key=lambda line: line.is_closed)
    assert shapely.equals_exact(straight.normalize(), shapely.LineString([(10, -15), (10, 15)]).normalize(), 1e-6)
    assert shapely.Polygon(circle).area == pytest.approx(3.14159265 * 1.5**2, rel=1e-3)
    assert circle.centroid.coords[0] == pytest.approx((3, 5), abs=1e-4)


def test_a_layer_of_lines_without_any_is_told(tmp_path: Path) -> None:
    drawing = inlayfit.read_drawing(svg(tmp_path), line_layers=["CUTS"])
    assert [(note.subject, note.message) for note in drawing.notes if note.subject == "CUTS"] == [
        ("CUTS", "no line lies on this layer")
    ]


def split(area: shapely.Polygon, *lines: shapely.LineString, **asked: object) -> Fit:
    drawing = drawing_of(area, name="plate")
    drawn = tuple(DrawnLine(line=line, layer="CUT") for line in lines)
    drawing = inlayfit.Drawing(source=drawing.source, regions=drawing.regions, lines=drawn)
    usual = {"piece_cutter": 0.8, "pocket_cutter": 0.8, "gap": 0.05, "split_layer": "CUT"}
    return inlayfit.fit(drawing, **usual | asked)


@pytest.mark.parametrize("joint", [None, 0.0, 0.1])
def test_the_parts_of_a_piece_share_its_pocket_with_the_joint_between(joint: float | None) -> None:
    """A bar of 20 by 6, cut square at 8: two bars, each less the gap of 0.05 at three sides and half the joint."""
    fit = split(bar(20, 6), shapely.LineString([(8, -1), (8, 7)]), joint=joint)
    assert [piece.name for piece in fit.pieces] == ["plate-1 a", "plate-1 b"]
    assert len(fit.pockets) == 1
    left, right = (piece.outline for piece in fit.pieces)
    asked = 0.05 if joint is None else joint
    assert left.distance(right) == pytest.approx(asked, abs=0.002)
    assert left.intersection(right).area == 0
    assert left.bounds[2] == pytest.approx(8 - asked / 2, abs=0.001)
    assert right.bounds[0] == pytest.approx(8 + asked / 2, abs=0.001)
    assert all(piece.drops_in for piece in fit.pieces)


def test_crossing_lines_part_into_four() -> None:
    lines = shapely.LineString([(5, -1), (5, 11)]), shapely.LineString([(-1, 5), (11, 5)])
    fit = split(square(10), *lines)
    assert [piece.name for piece in fit.pieces] == ["plate-1 a", "plate-1 b", "plate-1 c", "plate-1 d"]
    assert all(piece.outline.area == pytest.approx(4.925**2, abs=0.2) for piece in fit.pieces)


def test_a_ring_falls_in_two_by_one_line_across() -> None:
    fit = split(ring(8, 4), shapely.LineString([(-9, 0), (9, 0)]))
    assert len(fit.pieces) == 2


def test_a_line_that_ends_within_a_piece_parts_nothing_and_is_told() -> None:
    fit = split(square(10), shapely.LineString([(5, -1), (5, 6)]))
    assert [piece.name for piece in fit.pieces] == ["plate-1"]
    assert [finding.kind for finding in fit.findings if finding.kind == "idle-cut"] == ["idle-cut"]


def test_a_line_that_parts_is_not_told_idle() -> None:
    fit = split(square(10), shapely.LineString([(5, -1), (5, 11)]))
    assert not [finding for finding in fit.findings if finding.kind == "idle-cut"]
