"""The DXF reader: sizes, curves, blocks, hatches, bad files. Files are made here, with ezdxf or by hand."""

from __future__ import annotations

import itertools
import math
import random
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, ClassVar

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf.document import Drawing as Document
from ezdxf.math import BSpline, fit_points_to_cad_cv
from scipy.interpolate import BSpline as OtherSpline

from inlayfit.drawing import CURVE_TOLERANCE, Drawing
from inlayfit.errors import DrawingError, InlayfitError, UnitError
from inlayfit.read.dxf import read_dxf
from inlayfit.read.dxf_curves import arc_points, bulge_points, ellipse_points, nurbs_points
from tests.dxf_samples import SDISTS, drawings_or_skip

MM = 4
SQUARE = [(0, 0), (10, 0), (10, 10), (0, 10)]


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., Drawing]:
    """Return a function that builds a file (mm unless told otherwise), saves it and reads it."""

    def build(draw: Callable[[Any, Document], object], *, insunits: int = MM, version: str = "R2010",
              fmt: str = "asc", **size: Any) -> Drawing:  # fmt: skip
        document = ezdxf.new(version, units=MM)
        document.header["$INSUNITS"] = insunits
        draw(document.modelspace(), document)
        path = tmp_path / "drawing.dxf"
        document.saveas(path, fmt=fmt)
        return read_dxf(path, **size)

    return build


def square(space: Any, x: float = 0, y: float = 0, size: float = 10, **attributes: Any) -> Any:
    corners = [(x + size * u, y + size * v) for u, v in ((0, 0), (1, 0), (1, 1), (0, 1))]
    return space.add_lwpolyline(corners, close=True, dxfattribs=attributes)


def areas(drawing: Drawing) -> list[float]:
    return sorted(float(region.polygon.area) for region in drawing.regions)


def within_tolerance(drawing: Drawing, area: float, perimeter: float) -> None:
    """An outline within the tolerance of the true one has its area within the tolerance times the perimeter."""
    assert abs(sum(areas(drawing)) - area) <= CURVE_TOLERANCE * perimeter
    assert all(region.polygon.is_valid for region in drawing.regions)


class TestUnits:
    """DXF reference, HEADER variables: $INSUNITS, group 70.

    Source: help.autodesk.com/cloudhelp/2015/ENU/AutoCAD-LT/files/GUID-A58A87BB-482B-4042-A00A-EEF55A2B4FD8.htm (0-20),
    cloudhelp/2024/ENU/AutoCAD-DXF/files/GUID-A1FD1934-7EF5-4D35-A4B0-F8AE54A9A20A.htm (21-24).
    """

    MILLIMETRES: ClassVar = {
        1: 25.4, 2: 304.8, 3: 1609344.0, 4: 1.0, 5: 10.0, 6: 1e3, 7: 1e6, 8: 25.4e-6, 9: 0.0254, 10: 914.4,
        11: 1e-7, 12: 1e-6, 13: 1e-3, 14: 100.0, 15: 1e4, 16: 1e5, 17: 1e12, 21: 1200e3 / 3937, 22: 100e3 / 3937,
        23: 3600e3 / 3937, 24: 5280 * 1200e3 / 3937,
    }  # fmt: skip

    @pytest.mark.parametrize("code", MILLIMETRES)
    def test_each_unit_gives_its_millimetres(self, read: Callable[..., Drawing], code: int) -> None:
        unit = self.MILLIMETRES[code]
        drawing = read(lambda space, _: square(space, size=10 / unit), insunits=code)
        assert drawing.size == pytest.approx((10, 10), rel=1e-9)
        assert drawing.scale == pytest.approx(unit, rel=1e-12)

    @pytest.mark.parametrize("code", [0, 99, -1])
    def test_no_unit_is_asked_about_with_the_size_both_ways(self, read: Callable[..., Drawing], code: int) -> None:
        with pytest.raises(DrawingError) as told:
            read(lambda space, _: square(space, size=2), insunits=code)
        for part in ("2 mm x 2 mm", "50.8 mm x 50.8 mm"):
            assert part in told.value.message
        assert "--units" in told.value.remedy
        assert "--width" in told.value.remedy

    def test_a_file_without_a_header_is_not_read_as_metres(self, tmp_path: Path) -> None:
        path = write(tmp_path, entities(R12_SQUARE))
        with pytest.raises(DrawingError, match="does not say its unit"):
            read_dxf(path)
        assert read_dxf(path, units="in").size == pytest.approx((254, 254))

    def test_the_unit_asked_for_overrides_the_file_and_says_so(self, read: Callable[..., Drawing]) -> None:
        drawing = read(lambda space, _: square(space), insunits=1, units="mm")
        assert drawing.size == (10, 10)
        assert [note.kind for note in drawing.notes] == ["assumed"]

    def test_an_unknown_unit_is_refused(self, read: Callable[..., Drawing]) -> None:
        with pytest.raises(UnitError, match="cubit"):
            read(lambda space, _: square(space), units="cubit")

    def test_scale_multiplies_the_physical_size(self, read: Callable[..., Drawing]) -> None:
        assert read(lambda space, _: square(space), insunits=1, scale=2).size == pytest.approx((508, 508))

    def test_scale_is_mm_per_unit_where_there_is_none(self, read: Callable[..., Drawing]) -> None:
        assert read(lambda space, _: square(space), insunits=0, scale=2.5).size == pytest.approx((25, 25))

    @pytest.mark.parametrize("insunits", [0, 1, 4, 6])
    @pytest.mark.parametrize("wanted", [1.0, 58.0, 400.0])
    def test_a_finished_width_is_met_whatever_the_unit(
        self, read: Callable[..., Drawing], insunits: int, wanted: float
    ) -> None:
        def draw(space: Any, _: Document) -> None:
            space.add_circle((3, 7), 2)
            space.add_line((20, 0), (30, 40))  # open, and so no part of the size

        drawing = read(draw, insunits=insunits, width=wanted)
        assert drawing.size[0] == pytest.approx(wanted, rel=1e-12)
        assert abs(drawing.size[1] - wanted) <= 2 * CURVE_TOLERANCE

    def test_a_finished_height_is_met(self, read: Callable[..., Drawing]) -> None:
        drawing = read(lambda space, _: space.add_ellipse((0, 0), (4, 0), 0.5), insunits=0, height=30)
        assert drawing.size == pytest.approx((60, 30), abs=2 * CURVE_TOLERANCE)

    def test_the_lower_left_comes_to_lie_at_the_origin_with_its_notes(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            square(space, -50, 200)
            space.add_line((-45, 205), (-44, 205))

        drawing = read(draw)
        assert drawing.bounds == (0, 0, 10, 10)
        (note,) = drawing.notes
        assert note.kind == "open"
        assert note.at in {(5, 5), (6, 5)}


class TestBulges:
    """Bulge = tan(included angle / 4), negative for clockwise; 1 is a half circle.

    Source: help.autodesk.com/cloudhelp/2016/ENU/AutoCAD-ActiveX/files/GUID-6AC9CF99-7230-4333-859A-1CBACB57B5BA.htm
    """

    @pytest.mark.parametrize(
        ("angle", "bulge"),
        [(30, 0.131652), (45, 0.198912), (60, 0.267949), (90, 0.414214), (120, 0.577350), (180, 1), (270, 2.414214)],
    )
    @pytest.mark.parametrize("sign", [1, -1])
    def test_a_segment_closed_by_its_chord_has_the_area_of_the_circle_segment(
        self, read: Callable[..., Drawing], angle: float, bulge: float, sign: int
    ) -> None:
        drawing = read(lambda space, _: space.add_lwpolyline([(0, 0, sign * bulge), (10, 0, 0)], "xyb", close=True))
        theta = 4 * math.atan(bulge)
        assert math.degrees(theta) == pytest.approx(angle, abs=1e-3)
        radius = 10 * (1 + bulge**2) / (4 * bulge)
        within_tolerance(drawing, radius**2 / 2 * (theta - math.sin(theta)), radius * theta + 10)
        assert drawing.size[1] == pytest.approx(bulge * 5, abs=2 * CURVE_TOLERANCE)

    def test_the_worked_figures_of_a_chord_of_10_over_90_degrees(self) -> None:
        """Radius 7.071068, sagitta 2.071068; a positive bulge bends to the right of its direction."""
        points = bulge_points(np.array([0.0, 0.0]), np.array([10.0, 0.0]), math.tan(math.pi / 8), 1e-4)
        assert points[:, 1].min() == pytest.approx(-2.071068, abs=1e-4)
        centre = np.array([5.0, 5.0])
        assert np.hypot(*(points - centre).T) == pytest.approx(7.071068, abs=1e-4)
        assert np.hypot(*(points[[0, -1]] - centre).T) == pytest.approx(7.071068, abs=1e-6)

    def test_the_last_bulge_of_a_closed_polyline_bends_the_closing_segment(self, read: Callable[..., Drawing]) -> None:
        rows = [(0, 0, 0), (10, 0, 0), (10, 10, 0), (0, 10, 1)]
        drawing = read(lambda space, _: space.add_lwpolyline(rows, "xyb", close=True))
        within_tolerance(drawing, 100 + math.pi * 25 / 2, 60)

    @pytest.mark.parametrize("bulge", [1e-12, 1e-9, 1e-6, 1e-3, 50.0, 1e4])
    def test_flat_and_nearly_full_arcs_hold_their_ends(self, bulge: float) -> None:
        start, end = np.array([1e3, 2e3]), np.array([1e3 + 1, 2e3 + 0.5])
        points = bulge_points(start, end, bulge, 1e-4)
        assert np.array_equal(points[[0, -1]], [start, end])
        sagitta = bulge * np.hypot(*(end - start)) / 2
        furthest = shapely.distance(shapely.LineString([start, end]), shapely.points(points)).max()
        assert abs(furthest - sagitta) <= 1e-4 + sagitta * 1e-9


class TestCurves:
    """Chords measured against the true curve: never further than the tolerance, and not wastefully close."""

    @pytest.mark.parametrize("tolerance", [1e-2, 2e-4, 1e-6])
    @pytest.mark.parametrize("radius", [0.01, 1.0, 300.0])
    def test_arcs(self, tolerance: float, radius: float) -> None:
        points = arc_points(np.zeros(2), radius, 0.3, 4.0, tolerance)
        middles = (points[:-1] + points[1:]) / 2
        error = np.abs(np.hypot(*np.concatenate((points, middles)).T) - radius)
        assert error.max() <= tolerance * (1 + 1e-6)
        if len(points) > 40:
            assert error.max() > 0.6 * tolerance  # two thirds of the sagitta, which is nearly the tolerance

    @pytest.mark.parametrize("ratio", [1.0, 0.3, 0.01])
    def test_ellipses(self, ratio: float) -> None:
        u, v = np.array([3.0, 4.0]), np.array([-4.0, 3.0]) * ratio
        points = ellipse_points(np.zeros(2), u, v, 0.0, math.tau, tolerance=2e-4)
        assert np.array_equal(points[0], points[-1])
        fine = np.linspace(0, math.tau, 50 * len(points))
        curve = shapely.points(np.outer(np.cos(fine), u) + np.outer(np.sin(fine), v))
        assert shapely.distance(shapely.LineString(points), curve).max() <= 2e-4

    @pytest.mark.parametrize("degree", [1, 2, 3, 5, 11])
    @pytest.mark.parametrize("rational", [False, True])
    @pytest.mark.parametrize("clamped", [True, False])
    def test_splines_against_two_other_evaluators(self, degree: int, rational: bool, clamped: bool) -> None:
        random = np.random.default_rng(degree)
        count = degree + 9
        control = random.uniform(0, 50, (count, 2))
        weights = random.uniform(0.2, 5, count) if rational else np.ones(count)
        inner = np.sort(random.uniform(1, 9, count - degree - 1))
        knots = (
            np.concatenate([np.zeros(degree + 1), inner, np.full(degree + 1, 10.0)])
            if clamped
            else np.cumsum(random.uniform(0.5, 2, count + degree + 1))
        )
        chords = shapely.LineString(nurbs_points(control, weights, knots, degree, 1e-3))
        at = np.linspace(knots[degree], knots[count], 20_001)
        homogeneous = OtherSpline(knots, np.column_stack([control * weights[:, None], weights]), degree)(at)
        curve = homogeneous[:, :2] / homogeneous[:, 2:]
        shapely.prepare(chords)
        assert shapely.distance(chords, shapely.points(curve)).max() <= 1e-3
        if clamped and degree < 11:  # ezdxf evaluates up to degree 10
            spline = BSpline(control, order=degree + 1, knots=knots, weights=weights.tolist() if rational else None)
            theirs = np.array([(point.x, point.y) for point in spline.points(at[::50].tolist())])
            assert np.abs(theirs - curve[::50]).max() < 1e-9

    def test_a_rational_spline_that_is_a_circle(self) -> None:
        """Nine points, weights 1 and sqrt(1/2): Piegl and Tiller, The NURBS Book, 7.5."""
        half = math.sqrt(0.5)
        control = np.array([(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]) * 20.0
        weights = np.array([1, half, 1, half, 1, half, 1, half, 1])
        knots = np.array([0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4], dtype=float)
        points = nurbs_points(control, weights, knots, 2, CURVE_TOLERANCE)
        middles = (points[:-1] + points[1:]) / 2
        away = np.hypot(*points.T) - 20
        assert away.min() > -1e-12
        assert away.max() <= CURVE_TOLERANCE
        assert np.abs(points[[0, -1]] - [20, 0]).max() < 1e-12
        assert 20 - np.hypot(*middles.T).min() <= CURVE_TOLERANCE

    @pytest.mark.parametrize("insunits", [1, 4, 6])
    def test_the_tolerance_holds_in_millimetres_whatever_the_unit(
        self, read: Callable[..., Drawing], insunits: int
    ) -> None:
        unit = TestUnits.MILLIMETRES[insunits]
        drawing = read(lambda space, _: space.add_circle((0, 0), 20 / unit), insunits=insunits)
        ring = shapely.get_coordinates(drawing.regions[0].polygon.exterior) - 20
        middles = np.hypot(*((ring[:-1] + ring[1:]) / 2).T)
        assert 0.6 * CURVE_TOLERANCE < 20 - middles.min() <= CURVE_TOLERANCE
        assert 0.6 * CURVE_TOLERANCE < np.hypot(*ring.T).max() - 20 <= CURVE_TOLERANCE
        assert drawing.size == pytest.approx((40, 40), rel=1e-12)

    def test_all_kinds_of_closed_curves_by_area(self, read: Callable[..., Drawing]) -> None:
        within_tolerance(read(lambda space, _: space.add_circle((0, 0), 7)), math.pi * 49, 44)
        within_tolerance(read(lambda space, _: space.add_ellipse((0, 0), (3, 4), 0.4)), math.pi * 10, 25)

        def halves(space: Any, _: Document) -> None:
            space.add_arc((0, 0), 6, 20, 200)
            space.add_arc((0, 0), 6, 200, 20)

        within_tolerance(read(halves), math.pi * 36, 38)

        def quarter(space: Any, _: Document) -> None:
            space.add_ellipse((0, 0), (8, 0), 0.5, 0, math.pi / 2)
            space.add_line((0, 4), (0, 0))
            space.add_line((0, 0), (8, 0))

        within_tolerance(read(quarter), math.pi * 8, 22)

    def test_a_spline_through_fit_points_passes_them(self, read: Callable[..., Drawing]) -> None:
        fits = [(0, 0), (20, 5), (30, 20), (5, 25), (0, 0)]
        drawing = read(lambda space, _: space.add_spline(fits))
        ring = drawing.regions[0].polygon.exterior
        curve = fit_points_to_cad_cv(fits)
        sampled = np.array([(point.x, point.y) for point in curve.points(np.linspace(0, curve.max_t, 5001).tolist())])
        from_ring = shapely.distance(ring, shapely.points(np.array(fits, dtype=float) - sampled.min(axis=0)))
        assert from_ring.max() <= 2 * CURVE_TOLERANCE  # once for the curve, once for the origin
        assert drawing.regions[0].element.startswith("SPLINE #")


class TestPolylines:
    def test_an_old_polyline_with_bulges(self, read: Callable[..., Drawing]) -> None:
        rows = [(0, 0, 1), (10, 0, 1)]
        drawing = read(lambda space, _: space.add_polyline2d(rows, format="xyb", close=True), version="R12", units="mm")
        within_tolerance(drawing, math.pi * 25, 32)

    def test_the_frame_of_a_fitted_spline_is_no_part_of_it(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            polyline = space.add_polyline2d(SQUARE, close=True, dxfattribs={"flags": 4})
            polyline.append_vertices([(-90, -90), (90, 90)], dxfattribs={"flags": 16})

        assert areas(read(draw)) == [100]

    def test_a_curve_fitted_polyline_keeps_its_added_vertices(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            polyline = space.add_polyline2d([], close=True, dxfattribs={"flags": 2})
            for corner in SQUARE:
                polyline.append_vertices([corner], dxfattribs={"flags": 1, "bulge": math.tan(math.pi / 8)})

        within_tolerance(read(draw), math.pi * 50, 45)

    def test_a_flat_polyline_in_space_is_read(self, read: Callable[..., Drawing]) -> None:
        corners = [(*corner, 3.0) for corner in SQUARE]
        drawing = read(lambda space, _: space.add_polyline3d(corners, close=True))
        assert areas(drawing) == [100]
        assert not drawing.notes

    def test_a_missing_closed_flag_does_not_matter_where_the_ends_meet(self, read: Callable[..., Drawing]) -> None:
        assert areas(read(lambda space, _: space.add_lwpolyline([*SQUARE, SQUARE[0]]))) == [100]

    def test_a_width_makes_a_band(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            space.add_lwpolyline([(0, 0), (30, 0)], dxfattribs={"const_width": 2})

        assert areas(read(draw)) == pytest.approx([60])

    @pytest.mark.parametrize(("angle", "is_told"), [(28.0, True), (30.0, False)])
    def test_a_sharp_corner_of_a_band_is_cut_off_and_told(
        self, read: Callable[..., Drawing], angle: float, is_told: bool
    ) -> None:
        """A mitre is 1 / sin(angle / 2) half widths long: 4 at 28.96 degrees."""
        far = (30 * math.cos(math.radians(angle)), 30 * math.sin(math.radians(angle)))

        def draw(space: Any, _: Document) -> None:
            space.add_lwpolyline([(30, 0), (0, 0), far], dxfattribs={"const_width": 2})

        assert any("so sharp" in note.message for note in read(draw).notes) == is_told

    def test_a_closed_band_is_mitred_at_its_corners(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            space.add_lwpolyline(SQUARE, close=True, dxfattribs={"const_width": 2})

        drawing = read(draw)
        assert areas(drawing) == pytest.approx([144 - 64])
        assert drawing.size == pytest.approx((12, 12))

    def test_a_tapered_band_is_a_trapezium(self, read: Callable[..., Drawing]) -> None:
        rows = [(0, 0, 1, 5), (20, 0, 0, 0)]
        assert areas(read(lambda space, _: space.add_lwpolyline(rows, "xyse"))) == pytest.approx([60])

    @pytest.mark.parametrize("scale", [1.0, -1.0])
    def test_a_round_band_is_a_ring(self, read: Callable[..., Drawing], scale: float) -> None:
        rows = [(-5, 0, 2, 2, scale), (5, 0, 2, 2, scale)]
        drawing = read(lambda space, _: space.add_lwpolyline(rows, "xyseb", close=True))
        within_tolerance(drawing, math.pi * (36 - 16), math.tau * 10)

    def test_a_tapered_round_band_has_the_area_of_its_spiral(self, read: Callable[..., Drawing]) -> None:
        """Half widths from 0 to 1 over half a turn at radius 5: the integral of 2 r w over the angle."""
        rows = [(-5, 0, 0, 2, -1), (5, 0, 0, 0, 0)]
        drawing = read(lambda space, _: space.add_lwpolyline(rows, "xyseb"))
        within_tolerance(drawing, math.pi * 5 * 2 * 0.5, 40)

    def test_a_mirrored_and_stretched_band_follows_its_block(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, document: Document) -> None:
            block = document.blocks.new("B")
            block.add_lwpolyline([(0, 0), (30, 0)], dxfattribs={"const_width": 2})
            space.add_blockref("B", (0, 0), dxfattribs={"xscale": -2, "yscale": 3})

        drawing = read(draw)
        assert areas(drawing) == pytest.approx([360])
        assert drawing.size == pytest.approx((60, 6))


class TestBlocks:
    def test_nested_blocks_turn_stretch_and_mirror(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, document: Document) -> None:
            inner = document.blocks.new("INNER", base_point=(1, 0))
            inner.add_arc((0, 0), 5, 0, 180)
            inner.add_line((-5, 0), (5, 0))
            outer = document.blocks.new("OUTER")
            outer.add_blockref("INNER", (3, 4), dxfattribs={"xscale": 2, "yscale": -1, "rotation": 30})
            space.add_blockref("OUTER", (7, 7), dxfattribs={"xscale": -1, "yscale": 3, "rotation": 77})

        drawing = read(draw)
        within_tolerance(drawing, math.pi * 25 / 2 * 2 * 3, 150)
        assert " in INSERT #" in drawing.regions[0].element

    def test_a_mirrored_block_puts_its_content_on_the_other_side(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, document: Document) -> None:
            block = document.blocks.new("FLAG")
            block.add_lwpolyline([(0, 0), (10, 0), (10, 4)], close=True)
            space.add_blockref("FLAG", (0, 0), dxfattribs={"xscale": -1})

        (region,) = read(draw).regions
        assert {(0.0, 0.0), (10.0, 0.0), (0.0, 4.0)} == set(region.polygon.exterior.coords)

    def test_an_array_repeats_at_its_own_spacing(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, document: Document) -> None:
            square(document.blocks.new("DOT"), size=1)
            space.add_blockref("DOT", (5, 5), dxfattribs={"xscale": 2, "yscale": 2, "rotation": 90}).grid(
                size=(3, 4), spacing=(10, 20)
            )

        drawing = read(draw)
        assert areas(drawing) == pytest.approx([4] * 12)
        assert drawing.size == pytest.approx((22, 62))  # turned by a right angle: rows run to the left, columns up

    def test_layer_0_and_byblock_inherit_from_the_insert(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, document: Document) -> None:
            document.layers.add("SHELL", color=3)
            document.layers.add("WOOD", true_color=0x804020)
            block = document.blocks.new("B")
            square(block, 0, 0, color=0)
            square(block, 20, 0)
            square(block, 40, 0, layer="WOOD")
            square(block, 60, 0, layer="WOOD", color=5)
            space.add_blockref("B", (0, 0), dxfattribs={"layer": "SHELL", "color": 1})

        regions = read(draw).regions
        assert [(region.layer, region.colour) for region in regions] == [
            ("SHELL", "#ff0000"), ("SHELL", "#00ff00"), ("WOOD", "#804020"), ("WOOD", "#0000ff"),
        ]  # fmt: skip
        assert len({region.name for region in regions}) == 4

    def test_hidden_layers_are_left_out_and_listed(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, document: Document) -> None:
            document.layers.add("OFF").off()
            document.layers.add("COLD").freeze()
            block = document.blocks.new("B")
            square(block, 100, 0)
            square(block, 120, 0, layer="OFF")
            square(space)
            square(space, 20, layer="OFF")
            square(space, 40, layer="COLD")
            square(space, 60, invisible=1)
            space.add_blockref("B", (0, 0), dxfattribs={"layer": "COLD"})

        drawing = read(draw)
        assert areas(drawing) == [100]
        told = {(note.kind, note.message) for note in drawing.notes}
        assert told == {
            ("left-out", "1 x LWPOLYLINE: layer 'OFF' is off"),
            ("left-out", "1 x LWPOLYLINE: layer 'COLD' is frozen"),
            ("left-out", "1 x INSERT: layer 'COLD' is frozen"),
            ("left-out", "1 x LWPOLYLINE: it is set invisible"),
        }

    def test_an_insert_on_a_layer_that_is_off_still_shows_what_lies_on_other_layers(
        self, read: Callable[..., Drawing]
    ) -> None:
        def draw(space: Any, document: Document) -> None:
            document.layers.add("OFF").off()
            block = document.blocks.new("B")
            square(block, layer="SHELL")
            square(block, 20)
            space.add_blockref("B", (0, 0), dxfattribs={"layer": "OFF"})

        drawing = read(draw)
        assert [region.layer for region in drawing.regions] == ["SHELL"]
        assert len(drawing.notes) == 1

    def test_a_block_that_contains_itself_is_told(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, document: Document) -> None:
            block = document.blocks.new("B")
            square(block)
            block.add_blockref("B", (5, 5))
            space.add_blockref("B", (0, 0))

        drawing = read(draw)
        assert areas(drawing) == [100]
        assert "contains itself" in drawing.notes[0].message

    def test_blocks_deeper_than_python_recurses(self, read: Callable[..., Drawing]) -> None:
        """Two thousand levels: the stack is our own."""

        def draw(space: Any, document: Document) -> None:
            for level in range(2000):
                block = document.blocks.new(f"B{level}")
                square(block, 20 * level) if level == 1999 else block.add_blockref(f"B{level + 1}", (0, 0))
            space.add_blockref("B0", (0, 0))

        assert areas(read(draw)) == [100]

    def test_blocks_that_unfold_to_billions_are_refused(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, document: Document) -> None:
            for level in range(10):
                block = document.blocks.new(f"B{level}")
                for n in range(10):
                    square(block, n) if level == 9 else block.add_blockref(f"B{level + 1}", (n, 0))
            space.add_blockref("B0", (0, 0))

        with pytest.raises(DrawingError, match="unfolds to more than"):
            read(draw)

    def test_an_endless_array_is_refused(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, document: Document) -> None:
            document.blocks.new("B")  # nothing in it, and yet it would be placed 900 million times
            space.add_blockref("B", (0, 0)).grid(size=(30_000, 30_000), spacing=(20, 20))

        with pytest.raises(DrawingError, match="array"):
            read(draw)

    def test_a_missing_block_and_attributes_are_told(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, document: Document) -> None:
            block = document.blocks.new("B")
            square(block)
            block.add_attdef("TAG", (0, 0))
            space.add_blockref("B", (0, 0)).add_attrib("TAG", "text", (0, 0))
            space.add_blockref("NONE", (0, 0))

        told = sorted(note.message for note in read(draw).notes)
        assert [text.split(":")[0] for text in told] == ["1 x ATTDEF", "1 x ATTRIB", "1 x INSERT"]


class TestExtrusion:
    """Extrusion (0, 0, -1) mirrors X (DXF reference, object coordinate systems)."""

    def test_every_planar_entity_is_mirrored(self, read: Callable[..., Drawing]) -> None:
        down = {"extrusion": (0, 0, -1)}

        def draw(space: Any, document: Document) -> None:
            space.add_circle((100, 0), 5, dxfattribs=down)  # world: -100
            space.add_lwpolyline([(80, 0), (90, 0), (90, 10)], close=True, dxfattribs=down)  # world: -90 to -80
            space.add_solid([(60, 0), (70, 0), (60, 10)], dxfattribs=down)
            hatch = space.add_hatch(dxfattribs=down)
            hatch.paths.add_polyline_path([(40, 0), (50, 0), (50, 10)])
            square(document.blocks.new("B"), size=1)
            space.add_blockref("B", (20, 0), dxfattribs=down)
            square(space, -1, 0, 1)

        drawing = read(draw)
        assert drawing.size[0] == pytest.approx(105, abs=1e-3)
        lefts = sorted(round(region.polygon.bounds[0] - 105, 3) for region in drawing.regions)
        assert lefts == pytest.approx([-105, -90, -70, -50, -21, -1], abs=1e-3)

    def test_a_mirrored_arc_meets_its_chord(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            space.add_arc((-10, 0), 5, 0, 90, dxfattribs={"extrusion": (0, 0, -1)})  # world centre (10, 0), 90 to 180
            space.add_lwpolyline([(5, 0), (10, 0), (10, 5)])

        within_tolerance(read(draw), math.pi * 25 / 4, 18)

    def test_what_lies_out_of_the_plane_is_seen_from_above_and_told(self, read: Callable[..., Drawing]) -> None:
        drawing = read(lambda space, _: space.add_circle((0, 0), 5, dxfattribs={"extrusion": (0, 1, 1)}))
        within_tolerance(drawing, math.pi * 25 * math.sqrt(0.5), 32)
        assert drawing.notes[0].kind == "assumed"


class TestHatches:
    def test_edges_of_all_kinds(self, read: Callable[..., Drawing]) -> None:
        """A line, a clockwise arc, a counter-clockwise elliptic arc, a spline and a line, end to end."""

        def draw(space: Any, _: Document) -> None:
            path = space.add_hatch().paths.add_edge_path()
            path.add_line((0, 0), (20, 0))
            path.add_arc((20, 5), 5, -90, 90, ccw=True)
            path.add_ellipse((15, 10), (5, 0), 0.5, 0, 180, ccw=True)
            path.add_spline(control_points=[(10, 10), (7, 16), (3, 4), (0, 10)], degree=3)
            path.add_line((0, 10), (0, 0))

        # the spline swings evenly to both sides of y = 10: over its length the area is that of y = 10
        swing = 10 * 10 + spline_area()
        within_tolerance(read(draw), 10 * 10 + 100 + math.pi * 12.5 + math.pi * 6.25 + swing - 100, 90)

    def test_islands_nest_by_style(self, read: Callable[..., Drawing]) -> None:
        def draw(style: int) -> Callable[[Any, Document], None]:
            def with_style(space: Any, _: Document) -> None:
                hatch = space.add_hatch(dxfattribs={"hatch_style": style})
                for corner, size in ((0, 30), (5, 20), (10, 10)):
                    hatch.paths.add_polyline_path(
                        [(corner, corner), (corner + size, corner), (corner + size, corner + size),
                         (corner, corner + size)])  # fmt: skip

            return with_style

        assert areas(read(draw(0))) == [100, 500]
        assert areas(read(draw(1))) == [500]
        assert areas(read(draw(2))) == [900]

    def test_a_hatch_and_its_own_boundary_are_one_region(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            outer = square(space, layer="OUTLINE")
            inner = space.add_circle((5, 5), 2, dxfattribs={"layer": "OUTLINE"})
            hatch = space.add_hatch(color=1, dxfattribs={"layer": "FILL"})
            hatch.associate(hatch.paths.add_polyline_path(SQUARE), [outer])
            path = hatch.paths.add_edge_path()
            path.add_arc((5, 5), 2, 0, 360)
            hatch.associate(path, [inner])

        drawing = read(draw)
        within_tolerance(drawing, 100 - math.pi * 4, 53)
        (region,) = drawing.regions
        assert region.layer == "OUTLINE"
        assert any("one region" in note.message for note in drawing.notes)

    def test_the_same_hatch_twice_is_one_region(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            for _n in range(2):
                space.add_hatch().paths.add_polyline_path(SQUARE)

        assert areas(read(draw)) == [100]

    def test_a_hatch_inside_an_outline_stays_a_region_of_its_own(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            square(space, -5, -5, 30)
            space.add_hatch().paths.add_polyline_path(SQUARE)

        assert areas(read(draw)) == [100, 900]

    def test_a_pattern_is_taken_as_a_full_area_and_told(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            hatch = space.add_hatch()
            hatch.set_pattern_fill("ANSI31")
            hatch.paths.add_polyline_path([(0, 0, 1), (10, 0, 1)])

        drawing = read(draw)
        within_tolerance(drawing, math.pi * 25, 32)
        assert [note.kind for note in drawing.notes] == ["assumed"]

    def test_a_boundary_with_a_hole_in_it_is_closed_and_told(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            path = space.add_hatch().paths.add_edge_path()
            for start, end in (((0, 0), (10, 0)), ((10, 0), (10, 10)), ((10, 10), (0, 10))):
                path.add_line(start, end)

        drawing = read(draw)
        assert areas(drawing) == [100]
        assert [note.kind for note in drawing.notes] == ["repaired"]

    def test_solids_and_traces(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            space.add_solid([(0, 0), (10, 0), (0, 10), (10, 10)])
            space.add_trace([(20, 0), (24, 0), (20, 3), (24, 3)])
            space.add_solid([(40, 0), (50, 0), (40, 10)])

        assert areas(read(draw)) == pytest.approx([12, 50, 100])


def spline_area() -> float:
    """Area between y = 10 and the cubic of the hatch test, by exact integration of its Bezier form."""
    x = np.polynomial.Polynomial([10, -9, -3, 2])
    y = np.polynomial.Polynomial([0, 18, -54, 36])
    primitive = (y * x.deriv()).integ()
    return -float(primitive(1) - primitive(0))


class TestNesting:
    KINDS = (
        "TEXT", "MTEXT", "POINT", "3DFACE", "RAY", "XLINE", "LEADER", "DIMENSION", "MESH", "HELIX", "IMAGE", "CIRCLE",
        "SOLID",
    )  # fmt: skip

    def test_outlines_of_one_layer_nest_and_those_of_two_layers_do_not(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            square(space, 0, 0, 30, layer="A")
            square(space, 5, 5, 10, layer="A")
            square(space, 20, 20, 5, layer="B")

        drawing = read(draw)
        assert {region.layer: region.polygon.area for region in drawing.regions} == {"A": 800, "B": 25}
        assert not drawing.notes

    def test_a_region_names_its_entities(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            for start, end in zip(SQUARE, [*SQUARE[1:], SQUARE[0]], strict=True):
                space.add_line(start, end, dxfattribs={"layer": "Heron wing"})

        (region,) = read(draw).regions
        assert region.name == "Heron wing-1"
        assert region.element.count("LINE #") == 2
        assert region.element.endswith("and 2 more")

    def test_names_stay_unique_where_layers_look_alike(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            for n, layer in enumerate(["A", "A", "A-1", "A-1", "A"]):
                square(space, 20 * n, layer=layer)

        names = [region.name for region in read(draw).regions]
        assert len(set(names)) == len(names) == 5

    def test_hair_gaps_and_open_chains_are_told(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            space.add_lwpolyline([*SQUARE, (0, 0.006)])
            space.add_lwpolyline([(20, 0), (30, 0), (30, 10)])
            square(space, 0, 20, 30)

        drawing = read(draw)
        assert [note.kind for note in drawing.notes] == ["joined", "open"]
        assert "0.006 mm" in drawing.notes[0].message
        assert "14.1421 mm" in drawing.notes[1].message
        assert len(read(draw, width=150).regions) == 1  # five times the size: the gap is 0.03 mm now

    def test_nothing_is_dropped_in_silence(self, read: Callable[..., Drawing]) -> None:
        """Whatever is in model space is either the element of a region or named in a note."""

        def draw(space: Any, document: Document) -> None:
            square(space)
            space.add_text("text")
            space.add_mtext("text")
            space.add_point((0, 0))
            space.add_3dface([(0, 0, 0), (1, 0, 0), (1, 1, 0)])
            space.add_ray((0, 0), (1, 0))
            space.add_xline((0, 0), (1, 0))
            space.add_leader([(0, 0), (1, 1)])
            space.add_linear_dim((0, 5), (0, 0), (10, 0)).render()

            mesh = space.add_mesh()
            with mesh.edit_data() as data:
                data.vertices, data.faces = [(0, 0, 0), (1, 0, 0), (0, 1, 0)], [(0, 1, 2)]
            space.add_helix(1, 1, 3)
            space.add_image(document.add_image_def("none.png", (10, 10)), (0, 0), (1, 1))
            space.add_circle((50, 50), 0)
            space.add_solid([(60, 0), (60, 0), (60, 0)])
            document.layout("Layout1").add_line((0, 0), (1, 1))

        told = " ".join(f"{note.subject} {note.message}" for note in read(draw).notes)
        assert set(self.KINDS) <= set(re.findall(r"\w+", told))
        assert "sheet" in told


# Files by hand -------------------------------------------------------------------------------------------------------

R12_SQUARE = [
    text
    for (x, y), (u, v) in itertools.pairwise([*SQUARE, SQUARE[0]])
    for text in ("0", "LINE", "8", "0", "10", f"{x}", "20", f"{y}", "11", f"{u}", "21", f"{v}")
]


def entities(tags: list[str]) -> str:
    return "\n".join(["0", "SECTION", "2", "ENTITIES", *tags, "0", "ENDSEC", "0", "EOF", ""])


def write(folder: Path, text: str | bytes, name: str = "drawing.dxf") -> Path:
    path = folder / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


class TestFiles:
    @pytest.mark.parametrize("version", ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"])
    @pytest.mark.parametrize("fmt", ["asc", "bin"])
    def test_all_versions_text_and_binary(self, read: Callable[..., Drawing], version: str, fmt: str) -> None:
        def draw(space: Any, _: Document) -> None:
            space.add_circle((0, 0), 5)
            space.add_polyline2d([(20, 0), (30, 0), (30, 10)], close=True)

        drawing = read(draw, version=version, fmt=fmt, units="mm" if version == "R12" else None)
        assert areas(drawing) == pytest.approx([50, math.pi * 25], abs=0.01)

    def test_a_bare_list_of_entities(self, tmp_path: Path) -> None:
        assert areas(read_dxf(write(tmp_path, entities(R12_SQUARE)), units="mm")) == [100]

    @pytest.mark.parametrize(
        ("name", "content"),
        {
            "empty": b"",
            "blank": b" \n\n",
            "a picture": b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 8,
            "an SVG": b"<svg xmlns='http://www.w3.org/2000/svg'><path d='M0 0h9v9z'/></svg>",
            "a drawing database": b"AC1027" + bytes(200),
            "prose with the word": b"In this SECTION we shall see nothing.\n",
            "no entity": entities([]).encode(),
            "only text": entities(["0", "TEXT", "8", "0", "10", "0", "20", "0", "40", "1", "1", "hi"]).encode(),
            "cut off": entities(R12_SQUARE).encode()[:-30],
            "binary, cut off": b"AutoCAD Binary DXF\r\n\x1a\x00\x00SECTION\x00\x02HEA",
            "a section without a name": b"0\nSECTION\n0\nENDSEC\n0\nEOF\n",
        }.items(),
    )
    def test_files_that_hold_no_drawing_are_an_error(self, tmp_path: Path, name: str, content: bytes) -> None:
        with pytest.raises(DrawingError) as told:
            read_dxf(write(tmp_path, content), units="mm")
        assert told.value.message, name
        assert told.value.where

    def test_a_missing_file_is_an_error(self, tmp_path: Path) -> None:
        with pytest.raises(DrawingError, match="cannot be opened"):
            read_dxf(tmp_path / "none.dxf")

    @pytest.mark.parametrize("number", ["nan", "1e300", "-1e300", "inf", "1e12"])
    @pytest.mark.parametrize("kind", ["LINE", "CIRCLE", "ARC", "LWPOLYLINE", "SOLID", "INSERT"])
    def test_numbers_that_are_none_leave_the_entity_out_with_a_note(
        self, tmp_path: Path, kind: str, number: str
    ) -> None:
        bad = {
            "LINE": f"10 {number} 20 0 11 5 21 5",
            "CIRCLE": f"10 0 20 0 40 {number}",
            "ARC": f"10 {number} 20 0 40 1 50 0 51 90",
            "LWPOLYLINE": f"5 FF 100 AcDbEntity 100 AcDbPolyline 90 3 70 1 10 0 20 {number} 10 1 20 1 10 2 20 0",
            "SOLID": f"10 {number} 20 0 11 1 21 0 12 0 22 1",
            "INSERT": f"2 B 10 {number} 20 0",
        }[kind]
        head = ["0", "SECTION", "2", "BLOCKS", "0", "BLOCK", "8", "0", "2", "B", "70", "0", "10", "0", "20", "0"]
        blocks = [*head, *R12_SQUARE, "0", "ENDBLK", "8", "0", "0", "ENDSEC", ""]
        text = "\n".join(blocks) + entities([*R12_SQUARE, "0", kind, "8", "0", *bad.split()])
        drawing = read_dxf(write(tmp_path, text), units="mm")
        assert areas(drawing) == [100]
        assert any(note.kind in {"left-out", "repaired"} for note in drawing.notes)

    @pytest.mark.parametrize(
        ("ratio", "major"), [(1e-12, (5, 0)), (0.0, (5, 0)), (0.5, (0, 0)), (0.5, (1e-300, 0)), (-0.5, (5, 0))]
    )
    def test_degenerate_ellipses(self, tmp_path: Path, ratio: float, major: tuple[float, float]) -> None:
        bad = ["0", "ELLIPSE", "8", "0", "10", "50", "20", "0", "11", f"{major[0]}", "21", f"{major[1]}",
               "40", f"{ratio}", "41", "0", "42", f"{math.tau}"]  # fmt: skip
        drawing = read_dxf(write(tmp_path, entities([*R12_SQUARE, *bad])), units="mm")
        assert 100 in areas(drawing)
        assert len(drawing.regions) + len(drawing.notes) >= 2

    @pytest.mark.parametrize("what", ["weights", "knots", "degree", "points"])
    def test_splines_that_are_none_are_left_out_and_told(self, tmp_path: Path, what: str) -> None:
        document = ezdxf.new(units=MM)
        square(document.modelspace())
        spline = document.modelspace().add_spline()
        spline.dxf.degree = 30 if what == "degree" else 3
        spline.control_points = [] if what == "points" else [(0, 0), (5, 0), (5, 5), (0, 0)]
        spline.knots = [0, 1] if what == "knots" else [0, 0, 0, 0, 1, 1, 1, 1]
        spline.weights = [1, 0, -1, 1] if what == "weights" else []
        path = tmp_path / "drawing.dxf"
        document.saveas(path)
        drawing = read_dxf(path)
        assert areas(drawing) == [100]
        assert [note.kind for note in drawing.notes] == ["left-out"]
        assert drawing.notes[0].subject.startswith("SPLINE #")

    def test_a_damaged_file_is_mended_and_says_so(self, tmp_path: Path) -> None:
        text = entities([*R12_SQUARE, "0", "LINE", "8", "0", "10", "7", "20", "3abc", "11", "7", "21", "7"])
        drawing = read_dxf(write(tmp_path, text), units="mm")
        assert areas(drawing) == [100]
        assert [note.kind for note in drawing.notes] == ["repaired", "open"]

    @pytest.mark.parametrize("fmt", ["asc", "bin"])
    def test_files_cut_at_any_place_give_an_error(self, tmp_path: Path, fmt: str) -> None:
        document = ezdxf.new(units=MM)
        square(document.modelspace())
        path = tmp_path / "whole.dxf"
        document.saveas(path, fmt=fmt)
        whole = path.read_bytes()
        where = whole.rfind(b"ENTITIES")
        for place in [1, 30, 500, where - 20, where + 10, where + 60, where + 130, len(whole) // 2]:
            with pytest.raises(DrawingError):
                read_dxf(write(tmp_path, whole[:place]))

    def test_spoiled_bytes_never_give_a_traceback(self, tmp_path: Path) -> None:
        document = ezdxf.new("R2000", units=MM)
        space = document.modelspace()
        square(space)
        space.add_spline([(0, 0), (20, 5), (30, 20)])
        space.add_hatch().paths.add_polyline_path(SQUARE)
        square(document.blocks.new("B"))
        space.add_blockref("B", (40, 40))
        path = tmp_path / "whole.dxf"
        document.saveas(path)
        whole = path.read_bytes()
        start = whole.rfind(b"ENTITIES")
        dice = random.Random(5)
        for _ in range(60):
            spoiled = bytearray(whole)
            for _n in range(3):
                spoiled[dice.randrange(start, len(whole))] = dice.choice(b"0123456789.-eAZ \n")
            drawing_or_error(write(tmp_path, bytes(spoiled)))

    def test_an_empty_model_space_is_told_of_whatever_the_unit(self, read: Callable[..., Drawing]) -> None:
        with pytest.raises(DrawingError, match="its model space is empty"):
            read(lambda *_: None, insunits=6, units="mm")

    def test_curves_in_the_wrong_unit_are_refused_and_not_drawn_for_ever(self, read: Callable[..., Drawing]) -> None:
        def draw(space: Any, _: Document) -> None:
            for n in range(200):
                space.add_circle((0, 0), 800_000 + n)

        with pytest.raises(DrawingError, match="points to be within the tolerance"):
            read(draw)


def drawing_or_error(path: Path) -> Drawing | None:
    """Read; anything but a drawing with regions or an error of ours fails."""
    try:
        drawing = read_dxf(path, units="mm")
    except InlayfitError:
        return None
    assert drawing.regions
    return drawing


@pytest.mark.campaign
def test_real_drawings_are_read_or_refused_with_a_reason() -> None:
    """Drawings by many programs, from the source packages of ezdxf 1.4.5 and ezdxf-shapely 1.0."""
    paths = [path for name in SDISTS for path in drawings_or_skip(name)]
    assert len(paths) > 40
    read = [drawing for path in paths if (drawing := drawing_or_error(path)) is not None]
    assert len(read) >= 20
    assert all(region.polygon.is_valid for drawing in read for region in drawing.regions)
