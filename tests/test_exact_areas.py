"""Curves enclose, as chords, the area that they enclose as curves: within a millionth of the closed form.

Chords between points of the curve would lie inside: a circle of radius 10 mm, flattened within 0.2 um, would lose 3e-5.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely

from inlayfit.drawing import CURVE_TOLERANCE
from inlayfit.read import read_drawing
from inlayfit.read.chords import ROOM, chords_for, levelled, quarters, swelling
from inlayfit.read.dxf_curves import arc_points, bulge_points, nurbs_points

MILLIONTH = 1e-6
ROOT = math.sqrt(0.5)
CIRCLE = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
CIRCLE_WEIGHTS = [1, ROOT, 1, ROOT, 1, ROOT, 1, ROOT, 1]
CIRCLE_KNOTS = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
"""A rational quadratic spline that is a circle: Piegl and Tiller, The NURBS Book, 7.5."""


def svg_area(folder: Path, content: str) -> float:
    path = folder / "a.svg"
    path.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">{content}</svg>'
    )
    return float(sum(region.polygon.area for region in read_drawing(path).regions))


def dxf_area(folder: Path, draw: Callable[[Any], object]) -> float:
    document = ezdxf.new(units=4)
    draw(document.modelspace())
    path = folder / "a.dxf"
    document.saveas(path)
    return float(sum(region.polygon.area for region in read_drawing(path).regions))


def green(*cubics: tuple[tuple[float, float], ...]) -> float:
    """Return the area within cubics that follow one another, by Green's theorem, term by term of their polynomials."""
    total = 0.0
    for points in cubics:
        x, y = (np.polynomial.Polynomial(_power(np.array(axis))) for axis in zip(*points, strict=True))
        whole = (x * y.deriv() - y * x.deriv()).integ()
        total += (whole(1.0) - whole(0.0)) / 2
    return total


def _power(p: np.ndarray) -> list[float]:
    return [p[0], 3 * (p[1] - p[0]), 3 * (p[2] - 2 * p[1] + p[0]), p[3] - 3 * p[2] + 3 * p[1] - p[0]]


SEGMENT = 8**2 / 2 * (math.radians(100) - math.sin(math.radians(100)))
"""Of a circle of radius 8 mm, over 100 degrees."""

SVGS = {
    "circle": ('<circle cx="50" cy="50" r="10"/>', math.pi * 100),
    "small circle": ('<circle cx="50" cy="50" r="0.5"/>', math.pi / 4),
    "ellipse": ('<ellipse cx="50" cy="50" rx="20" ry="3"/>', math.pi * 60),
    "turned and sheared": ('<ellipse rx="9" ry="4" transform="translate(50 50) rotate(30) skewX(20)"/>', math.pi * 36),
    "two half circles": ('<path d="M10 20A10 10 0 0 1 30 20A10 10 0 0 1 10 20Z"/>', math.pi * 100),
    "segment": (f'<path d="M10 50A8 8 0 0 0 {10 + 16 * math.sin(math.radians(50)):.12f} 50Z"/>', SEGMENT),
    "parabola": ('<path d="M10 10Q30 60 50 10Z"/>', 2 / 3 * 40 * 25),
    "rounded": ('<rect x="5" y="5" width="30" height="20" rx="4"/>', 600 - (4 - math.pi) * 16),
    "cubic": ('<path d="M10 10C60 10 0 50 30 80L10 80Z"/>',
              abs(green(((10, 10), (60, 10), (0, 50), (30, 80)), ((30, 80), (70 / 3, 80), (50 / 3, 80), (10, 80)),
                        ((10, 80), (10, 170 / 3), (10, 100 / 3), (10, 10))))),
    "an end without a control": ('<path d="M10 10C10 10 70 30 60 60L10 60Z"/>',
              abs(green(((10, 10), (10, 10), (70, 30), (60, 60)), ((60, 60), (130 / 3, 60), (80 / 3, 60), (10, 60)),
                        ((10, 60), (10, 130 / 3), (10, 80 / 3), (10, 10))))),
}  # fmt: skip


@pytest.mark.parametrize("name", SVGS)
def test_a_curve_of_an_svg_encloses_its_area(name: str, tmp_path: Path) -> None:
    content, area = SVGS[name]
    assert svg_area(tmp_path, content) == pytest.approx(area, rel=MILLIONTH)


STROKES = {
    "ring": ('<circle cx="50" cy="50" r="20" stroke-width="4"/>', math.tau * 20 * 4),
    "small ring": ('<circle cx="50" cy="50" r="0.5" stroke-width="0.3"/>', math.tau * 0.5 * 0.3),
    "half a ring": ('<path d="M20 50a30 30 0 0 1 60 0" stroke-width="4"/>', math.pi * 30 * 4),
    "round ends": ('<path d="M10 10l30 40" stroke-width="4" stroke-linecap="round"/>', 50 * 4 + math.pi * 4),
    "round join": ('<path d="M10 10h40v30" stroke-width="4" stroke-linejoin="round"/>', 70 * 4 - 4 + math.pi),
    "dot": ('<path d="M10 50h0" stroke-width="2" stroke-linecap="round"/>', math.pi),
    "parabola": ('<path d="M10 10Q30 50 50 10" stroke-width="2"/>', 2 * (20 * math.sqrt(5) + 10 * math.asinh(2))),
}  # fmt: skip
"""Each with its area: length times width, as long as a line bends less than its sides are away (Pappus and Guldin)."""


@pytest.mark.parametrize("name", STROKES)
def test_a_stroke_covers_its_area(name: str, tmp_path: Path) -> None:
    content, area = STROKES[name]
    assert svg_area(tmp_path, f'<g fill="none" stroke="red">{content}</g>') == pytest.approx(area, rel=MILLIONTH)


@pytest.mark.parametrize(("radius", "width"), [(0.5, 0.3), (5.0, 8.0), (40.0, 1.0)])
def test_the_outline_of_a_ring_strays_to_both_sides_by_no_more_than_the_tolerance(
    radius: float, width: float, tmp_path: Path
) -> None:
    path = tmp_path / "ring.svg"
    ring = f'<circle cx="50" cy="50" r="{radius}" fill="none" stroke="red" stroke-width="{width}"/>'
    path.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" viewBox="0 0 100 100">{ring}</svg>')
    (region,) = read_drawing(path).regions
    centre = np.array(region.polygon.centroid.coords[0])
    for line, exact in (
        (region.polygon.exterior, radius + width / 2),
        (region.polygon.interiors[0], radius - width / 2),
    ):
        points = np.array(line.coords)
        corners = np.hypot(*(points - centre).T) - exact
        middles = np.hypot(*((points[1:] + points[:-1]) / 2 - centre).T) - exact
        assert 0 < corners.max() <= CURVE_TOLERANCE
        assert -CURVE_TOLERANCE <= middles.min() < 0


def _arc_and_chord(space: Any) -> None:
    space.add_arc((0, 0), 8, 0, 100)
    space.add_line((8, 0), (8 * math.cos(math.radians(100)), 8 * math.sin(math.radians(100))))


def _hatch(space: Any, edges: Callable[[Any], object]) -> None:
    edges(space.add_hatch().paths.add_edge_path())


def _spline_edge(path: Any) -> None:
    path.add_spline(
        control_points=[(10 * x, 10 * y) for x, y in CIRCLE], weights=CIRCLE_WEIGHTS, knot_values=CIRCLE_KNOTS, degree=2
    )


def _half_moon(path: Any) -> None:
    path.add_arc((0, 0), 6, 0, 180)
    path.add_ellipse((0, 0), (6, 0), 0.5, 180, 360)


DXFS: dict[str, tuple[Callable[[Any], object], float]] = {
    "circle": (lambda space: space.add_circle((3, 4), 10), math.pi * 100),
    "small circle": (lambda space: space.add_circle((3, 4), 0.5), math.pi / 4),
    "arc segment": (_arc_and_chord, SEGMENT),
    "ellipse": (lambda space: space.add_ellipse((0, 0), (12, 5), 0.4), math.pi * 169 * 0.4),
    "stadium of bulges": (
        lambda space: space.add_lwpolyline([(0, 0, 0), (20, 0, 1), (20, 10, 0), (0, 10, 1)], "xyb", close=True),
        200 + math.pi * 25,
    ),
    "square of bulges": (
        lambda space: space.add_lwpolyline(
            [(x, y, 0.3) for x, y in ((0, 0), (9, 0), (9, 9), (0, 9))], "xyb", close=True
        ),
        81 + 4 * (9 * (1 + 0.09) / 1.2) ** 2 / 2 * (4 * math.atan(0.3) - math.sin(4 * math.atan(0.3))),
    ),
    "rational spline": (
        lambda space: space.add_rational_spline(
            [(20 * x, 20 * y) for x, y in CIRCLE], CIRCLE_WEIGHTS, degree=2, knots=CIRCLE_KNOTS
        ),
        math.pi * 400,
    ),
    "hatch with a spline": (lambda space: _hatch(space, _spline_edge), math.pi * 100),
    "hatch with an arc and an ellipse": (lambda space: _hatch(space, _half_moon), math.pi * (18 + 9)),
}


@pytest.mark.parametrize("name", DXFS)
def test_a_curve_of_a_dxf_encloses_its_area(name: str, tmp_path: Path) -> None:
    draw, area = DXFS[name]
    assert dxf_area(tmp_path, draw) == pytest.approx(area, rel=MILLIONTH)


@pytest.mark.parametrize("radius", [0.2, 1.0, 10.0, 300.0])
@pytest.mark.parametrize("sweep", [0.4, 1.0, math.pi / 2, 3.0, math.tau])
def test_chords_of_an_arc_stray_to_both_sides_by_no_more_than_the_tolerance(radius: float, sweep: float) -> None:
    points = arc_points(np.zeros(2), radius, 0.3, sweep, CURVE_TOLERANCE)
    out = np.hypot(*points.T) - radius
    across = np.hypot(*((points[:-1] + points[1:]) / 2).T) - radius
    assert np.abs((out[0], out[-1])).max() < 1e-12
    assert out.min() >= -1e-9
    assert 0 < out.max() <= CURVE_TOLERANCE
    assert -CURVE_TOLERANCE <= across.min() < 0


def test_a_quarter_of_an_arc_that_begins_on_an_axis_ends_on_the_curve() -> None:
    points = arc_points(np.zeros(2), 5.0, 0.0, math.pi * 1.5, CURVE_TOLERANCE)
    assert points.max() == pytest.approx(5, abs=1e-12)
    assert points.min() == pytest.approx(-5, abs=1e-12)


@pytest.mark.parametrize("sweep", [1e-9, 1e-4, 9.99e-3, 1.01e-2, 0.5, math.pi / 2])
@pytest.mark.parametrize("chords", [1, 2, 3, 17])
def test_the_radius_of_the_inner_points_makes_up_for_the_chords(sweep: float, chords: int) -> None:
    [swell] = swelling(np.array([sweep]), np.array([chords]))
    step = sweep / chords
    if chords == 1:
        assert swell == 0
        return
    triangles = 2 * (1 + swell) + (chords - 2) * (1 + swell) ** 2  # two at the ends, the others between inner points
    assert triangles * math.sin(step) == pytest.approx(sweep, rel=1e-12)


def test_a_point_at_a_cusp_or_an_inflection_stays_where_it_is() -> None:
    cusp = np.array((0.0, 1.0 + 0.5j, 2.0, 1.0 - 0.4j, -1.0j))
    none = np.zeros(1)
    moved = levelled(cusp, np.array([0]), np.array([4]), (none, none), 1.0)
    assert moved[2] == cusp[2]
    wave = np.array((0.0, 1.0 + 0.2j, 2.0 + 0.1j, 3.0 - 0.1j, 4.0 - 0.2j, 5.0))
    moved = levelled(wave, np.array([0]), np.array([5]), (none, none), 1.0)
    assert np.array_equal(moved[[2, 3]], wave[[2, 3]])  # between them the curve changes the way it bends
    assert (moved[[1, 4]] != wave[[1, 4]]).all()


def test_no_point_moves_by_more_than_the_limit_and_ends_stay() -> None:
    curve = np.array((0.0, 1.0 + 0.4j, 2.0 + 0.6j, 3.0 + 0.4j, 4.0))
    ends = (np.array([-1.0]), np.array([-1.0]))
    moved = levelled(curve, np.array([0]), np.array([4]), ends, 0.01)
    assert np.abs(moved - curve).max() <= 0.01 + 1e-15
    assert np.array_equal(moved[[0, -1]], curve[[0, -1]])
    assert moved[2].imag > curve[2].imag


def test_the_numbers_of_chords_keep_the_promise() -> None:
    """An inner point moves by m = 2/3 n / (n - 1) sagittas; one sagitta s is (need / n)^2 of the tolerance.

    Over a chord from an end, which stays, to a point that is moved by m s, the curve stands at 4 t (1 - t) s and the
    chord at t m s: they are at most (4 - m)^2 / 16 sagittas apart.
    """
    need = np.linspace(0.0, 40.0, 4001)
    for room, most in ((1.0, 1.0), (ROOM, 1.44)):
        chords = chords_for(need, room)
        several = chords > 1
        sagitta = (need[several] / chords[several]) ** 2
        moved = 2 / 3 * chords[several] / (chords[several] - 1)
        assert (moved * sagitta <= 1).all()
        assert ((4 - moved) ** 2 / 16 * sagitta <= 1).all()
        assert (sagitta <= most).all()
        assert (need[~several] <= 0.2).all()
    assert quarters(np.array([0.1, math.pi / 2, -math.pi, math.tau])).tolist() == [1, 1, 2, 4]


@pytest.mark.parametrize("size", [0.3, 3.0, 30.0])
def test_chords_of_a_cubic_stray_by_no_more_than_the_tolerance(size: float) -> None:
    random = np.random.default_rng(3)
    knots, weights = np.array([0.0] * 4 + [1.0] * 4), np.ones(4)
    at = np.linspace(0, 1, 4001)[:, None]
    for _ in range(12):
        p0, p1, p2, p3 = random.uniform(0, size, (4, 2))
        chords = shapely.LineString(nurbs_points(np.array([p0, p1, p2, p3]), weights, knots, 3, CURVE_TOLERANCE))
        s = 1 - at
        curve = s**3 * p0 + 3 * s * s * at * p1 + 3 * s * at * at * p2 + at**3 * p3
        shapely.prepare(chords)
        assert shapely.distance(chords, shapely.points(curve)).max() <= CURVE_TOLERANCE
        line = shapely.LineString(curve)  # in chords of its own, a thousandth of the tolerance off
        shapely.prepare(line)
        corners = shapely.points(shapely.get_coordinates(chords))
        assert shapely.distance(line, corners).max() <= CURVE_TOLERANCE * 1.01


@pytest.mark.parametrize("bulge", [1e-3, 0.2, 1.0, -3.0])
def test_a_bulge_and_its_chord_enclose_the_segment(bulge: float) -> None:
    start, end = np.array([2.0, 1.0]), np.array([12.0, 4.0])
    theta = 4 * math.atan(abs(bulge))
    radius = math.hypot(10, 3) / 2 / math.sin(theta / 2)
    area = shapely.Polygon(bulge_points(start, end, bulge, CURVE_TOLERANCE)).area
    assert area == pytest.approx(radius**2 / 2 * (theta - math.sin(theta)), rel=MILLIONTH)
