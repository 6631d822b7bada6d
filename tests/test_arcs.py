"""Outlines as lines and arcs: closed forms, corners kept, and the deviation both ways by independent dense sampling."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from ezdxf.math import bulge_center, bulge_radius
from hypothesis import given, settings
from hypothesis import strategies as st

from inlayfit.arcs import (
    ARC_TOLERANCE,
    ArcRing,
    chords_of,
    fit_polygon,
    fit_ring,
    flatten_ring,
    halved_arcs,
    polygon_of,
    ring_area,
    ring_length,
    sweeps_of,
)
from inlayfit.errors import GeometryError

SQUARE = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
STAR = np.array([[(10, 4)[k % 2] * f(k * math.pi / 5) for f in (math.cos, math.sin)] for k in range(10)])


def blob(vertices: int, seed: int, lobes: int = 9) -> np.ndarray:
    """A star-shaped trigonometric polynomial of radius about 12 mm."""
    dice = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * np.pi, vertices, endpoint=False)
    radius = np.full(vertices, 12.0)
    for k in range(2, lobes + 1):
        radius += dice.normal() * 1.2 / k * np.cos(k * angle + dice.uniform(0, 2 * np.pi))
    return np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])


def densely(outline: np.ndarray, step: float) -> np.ndarray:
    return shapely.get_coordinates(shapely.segmentize(shapely.linearrings(outline), step))[:-1]


def sampled(ring: ArcRing, samples: int) -> np.ndarray:
    """Points on the ring from the centre and radius that ezdxf gives, not from our own formulas."""
    found = []
    ends = np.roll(ring.points, -1, axis=0)
    for start, end, bulge in zip(ring.points, ends, ring.bulges, strict=True):
        if bulge == 0:
            found.append(start + np.linspace(0, 1, samples, endpoint=False)[:, None] * (end - start))
            continue
        centre = np.array(bulge_center(start, end, bulge))
        first = math.atan2(*(start - centre)[::-1])
        angle = first + np.linspace(0, 4 * math.atan(bulge), samples, endpoint=False)
        found.append(centre + bulge_radius(start, end, bulge) * np.column_stack([np.cos(angle), np.sin(angle)]))
    return np.vstack(found)


def farthest(points: np.ndarray, outline: np.ndarray) -> float:
    edges = shapely.linestrings(np.stack([outline, np.roll(outline, -1, axis=0)], axis=1))
    _, off = shapely.STRtree(edges).query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    return float(off.max())


def deviation(outline: np.ndarray, ring: ArcRing) -> float:
    """Both ways. Chords between n samples of an arc leave it by 1 / n^2 of its height."""
    of_ring = sampled(ring, max(30, 40_000 // ring.bulges.size))
    perimeter = shapely.length(shapely.linearrings(outline))
    of_outline = np.vstack([outline, densely(outline, perimeter / 20_000)])
    return max(farthest(of_ring, outline), farthest(of_outline, of_ring))


def kinks_deg(ring: ArcRing) -> np.ndarray:
    """How far the tangent breaks at the start of each element."""
    chords = chords_of(ring)
    direction = np.arctan2(chords[:, 1], chords[:, 0])
    leaving, arriving = direction - sweeps_of(ring) / 2, direction + sweeps_of(ring) / 2
    return np.degrees(np.abs(np.angle(np.exp(1j * (leaving - np.roll(arriving, 1))))))


class TestClosedForms:
    def test_a_grown_square_is_four_lines_and_four_quarter_arcs(self) -> None:
        """tan(22.5 degrees) = 0.41421: DXF reference, code 42, is the tangent of a quarter of the included angle."""
        (ring,) = fit_polygon(shapely.Polygon(SQUARE).buffer(0.5, quad_segs=24))
        assert sorted(ring.bulges) == pytest.approx([0.0] * 4 + [math.tan(math.pi / 8)] * 4, abs=1e-9)
        assert ring_area(ring) == pytest.approx(100 + 40 * 0.5 + math.pi * 0.25, abs=1e-8)
        assert ring_length(ring) == pytest.approx(40 + math.pi, abs=1e-8)

    @pytest.mark.parametrize("step", [0.01, 0.003])
    @pytest.mark.parametrize("clockwise", [True, False])
    def test_a_dense_outline_gives_the_same_elements(self, step: float, clockwise: bool) -> None:
        grown = shapely.Polygon(SQUARE).buffer(0.5, quad_segs=24)
        outline = densely(shapely.get_coordinates(grown)[:-1], step)
        ring = fit_ring(outline[::-1] if clockwise else outline)
        assert ring.bulges.size == 8
        assert np.sort(np.abs(ring.bulges))[4:] == pytest.approx([math.tan(math.pi / 8)] * 4, abs=0.0004)

    def test_a_stadium_is_two_lines_and_two_half_circles(self) -> None:
        (ring,) = fit_polygon(shapely.LineString([(0, 0), (10, 3)]).buffer(2, quad_segs=60))
        assert sorted(ring.bulges) == pytest.approx([0, 0, 1, 1], abs=1e-9)
        assert ring_area(ring) == pytest.approx(4 * math.hypot(10, 3) + 4 * math.pi, abs=1e-8)

    @pytest.mark.parametrize("radius", [0.1, 0.4, 5.0, 60.0])
    def test_a_circle_is_two_arcs(self, radius: float) -> None:
        segments = math.ceil(math.pi / math.acos(1 - 0.0002 / radius) / 4)
        (ring,) = fit_polygon(shapely.Point(3, -2).buffer(radius, quad_segs=segments))
        assert ring.bulges.size == 2
        assert ring_area(ring) == pytest.approx(math.pi * radius**2, rel=1e-8)
        assert ring_length(ring) == pytest.approx(2 * math.pi * radius, rel=1e-8)

    @pytest.mark.parametrize("vertices", [60, 163, 352, 1100])
    def test_a_circle_is_two_arcs_wherever_its_vertices_lie(self, vertices: int) -> None:
        angle = 0.3 + np.arange(vertices) * 2 * math.pi / vertices
        ring = fit_ring(np.column_stack([50 + 0.1 * np.cos(angle), -70 + 0.1 * np.sin(angle)]))
        assert ring.bulges.size == 2
        assert ring_area(ring) == pytest.approx(math.pi * 0.01, rel=1e-6)

    def test_an_opened_square_loses_its_corners(self) -> None:
        """Square opened by r: loses (4 - pi) r^2."""
        opened = shapely.Polygon(SQUARE).buffer(-0.4).buffer(0.4, quad_segs=24)
        (ring,) = fit_polygon(opened)
        assert sorted(ring.bulges) == pytest.approx([0.0] * 4 + [math.tan(math.pi / 8)] * 4, abs=1e-9)
        assert ring_area(ring) == pytest.approx(100 - (4 - math.pi) * 0.16, abs=1e-8)

    def test_a_hole_runs_clockwise_after_the_outside(self) -> None:
        disc = shapely.Point(0, 0).buffer(5, quad_segs=90)
        outside, hole = fit_polygon(disc.difference(shapely.Point(0.5, 0).buffer(2, quad_segs=60)))
        assert ring_area(outside) == pytest.approx(25 * math.pi, rel=1e-7)
        assert ring_area(hole) == pytest.approx(-4 * math.pi, rel=1e-7)
        assert polygon_of([outside, hole]).area == pytest.approx(21 * math.pi, abs=0.0002 * 14 * math.pi)


class TestTheBulge:
    """DXF code 42 is tan(included angle / 4), negative clockwise.

    Source: DXF Reference / ActiveX GetBulge, https://help.autodesk.com/cloudhelp/2016/ENU/AutoCAD-ActiveX/files/
    GUID-6AC9CF99-7230-4333-859A-1CBACB57B5BA.htm; radius c (1 + b^2) / (4 |b|) and sagitta b c / 2 follow from it.
    """

    @pytest.mark.parametrize(
        ("angle_deg", "bulge"),
        [
            (30, 0.131652), (45, 0.198912), (60, 0.267949), (90, 0.414214),
            (120, 0.577350), (180, 1.0), (270, 2.414214),
        ],
    )  # fmt: skip
    def test_the_table_of_bulges(self, angle_deg: float, bulge: float) -> None:
        ring = ArcRing(points=np.array([[0.0, 0.0], [10.0, 0.0]]), bulges=np.array([bulge, 0.0]))
        angle = math.radians(angle_deg)
        radius = 5 / math.sin(angle / 2)
        assert sweeps_of(ring)[0] == pytest.approx(angle, abs=2e-6)
        assert ring_length(ring) == pytest.approx(10 + radius * angle, abs=2e-4)
        assert ring_area(ring) == pytest.approx(radius**2 * (angle - math.sin(angle)) / 2, abs=2e-3)

    def test_a_quarter_over_a_chord_of_ten(self) -> None:
        """c 10, 90 degrees: r 7.071068, sagitta 2.071068; counter-clockwise bulges to the right of the chord."""
        ring = ArcRing(points=np.array([[0.0, 0.0], [10.0, 0.0]]), bulges=np.array([0.41421356, 0.0]))
        chords = flatten_ring(ring, 1e-7)
        assert chords[:, 1].min() == pytest.approx(-2.071068, abs=1e-6)
        assert np.hypot(chords[:, 0] - 5, chords[:, 1] - 5) == pytest.approx(7.071068, abs=1e-6)

    def test_a_negative_bulge_takes_its_segment_away(self) -> None:
        scooped = ArcRing(points=SQUARE, bulges=np.array([-1.0, 0.0, 0.0, 0.0]))
        assert ring_area(scooped) == pytest.approx(100 - math.pi * 25 / 2)
        assert shapely.Polygon(flatten_ring(scooped, 1e-6)).area == pytest.approx(ring_area(scooped), abs=1e-4)


class TestFlattening:
    @pytest.mark.parametrize("tolerance", [0.01, 0.0002, 1e-6])
    @pytest.mark.parametrize("bulge", [1e-9, 0.001, 0.3, -1.0, 2.4])
    def test_chords_stay_within_the_tolerance(self, bulge: float, tolerance: float) -> None:
        ring = ArcRing(points=SQUARE * 0.7, bulges=np.array([bulge, 0.0, 0.0, 0.0]))
        off = farthest(sampled(ring, 5000), flatten_ring(ring, tolerance))
        assert off <= tolerance * 1.001 + 1e-9
        assert off >= tolerance * 0.3 or flatten_ring(ring, tolerance).shape[0] <= 6

    def test_halving_leaves_the_shape(self) -> None:
        ring = ArcRing(points=SQUARE, bulges=np.array([0.2, -1.0, 0.0, 2.0]))
        halved = halved_arcs(ring, math.radians(120))
        assert halved.bulges.size == 6
        assert ring_area(halved) == pytest.approx(ring_area(ring))
        assert ring_length(halved) == pytest.approx(ring_length(ring))
        assert farthest(sampled(halved, 400), sampled(ring, 4000)) < 1e-5


class TestDeviation:
    @pytest.mark.parametrize("vertices", [1000, 3000, 20_000])
    @pytest.mark.parametrize("seed", [1, 2, 3])
    def test_a_blob_is_kept_within_the_tolerance_both_ways(self, vertices: int, seed: int) -> None:
        outline = blob(vertices, seed)
        ring = fit_ring(outline)
        assert deviation(outline, ring) <= ARC_TOLERANCE
        assert ring.bulges.size <= 120  # 56 to 73 were seen
        assert np.percentile(kinks_deg(ring), 95) < 0.5  # 0.16 to 0.24 were seen

    @pytest.mark.parametrize("noise", [0.00002, 0.0001])
    def test_noise_and_near_duplicates_do_not_matter(self, noise: float) -> None:
        dice = np.random.default_rng(7)
        outline = np.repeat(blob(2000, 4), 2, axis=0)
        outline[1::2] += dice.normal(size=(2000, 2)) * 0.00001
        outline += dice.uniform(-noise, noise, size=outline.shape)
        ring = fit_ring(outline)
        assert deviation(outline, ring) <= ARC_TOLERANCE
        assert ring.bulges.size <= 120

    @pytest.mark.parametrize("tolerance", [0.0005, 0.002, 0.01])
    def test_a_coarser_tolerance_gives_fewer_elements(self, tolerance: float) -> None:
        outline = blob(4000, 5)
        ring = fit_ring(outline, tolerance)
        assert deviation(outline, ring) <= tolerance
        assert ring.bulges.size <= 100 * (ARC_TOLERANCE / tolerance) ** (1 / 3) + 10

    @settings(max_examples=25, deadline=None)
    @given(
        outline=st.builds(blob, vertices=st.integers(3, 900), seed=st.integers(0, 10_000), lobes=st.integers(2, 14)),
        stretch=st.sampled_from([0.0005, 0.02, 0.2, 1.0, 4.0]),
        noise=st.sampled_from([0.0, 0.00001, 0.0003, 0.01]),
        step=st.sampled_from([None, 0.1]),
    )
    def test_any_outline_is_kept_within_the_tolerance(self, outline, stretch, noise, step) -> None:
        outline = outline * [stretch, 1] * min(1.0, 10 * stretch)
        outline = outline if step is None else densely(outline, step)
        outline += np.random.default_rng(len(outline)).uniform(-noise, noise, size=outline.shape)
        ring = fit_ring(outline)
        assert deviation(outline, ring) <= ARC_TOLERANCE
        assert {tuple(point) for point in ring.points} <= {tuple(point) for point in outline}


class TestCorners:
    @pytest.mark.parametrize("step", [100.0, 0.02, 0.001])
    @pytest.mark.parametrize("corners", [SQUARE, STAR], ids=["square", "star"])
    def test_straight_sides_stay_whole_lines(self, corners: np.ndarray, step: float) -> None:
        ring = fit_ring(densely(corners, step))
        assert ring.bulges.size == len(corners)
        assert not ring.bulges.any()
        assert {tuple(point) for point in ring.points} == {tuple(point) for point in corners}

    @pytest.mark.parametrize("flattened", [0.0002, 0.00005, 0.000001])
    @pytest.mark.parametrize("seed", range(6))
    def test_a_corner_between_arcs_stays_a_joint(self, seed: int, flattened: float) -> None:
        """Twelve arcs of 22 to 46 degrees meet in breaks of 0 to 16 degrees; those of 3.5 or more are corners."""
        angle = np.arange(12) * math.pi / 6
        sweeps = math.pi / 6 + np.radians(8) * np.random.default_rng(seed).choice([-1, 0, 0.5, 1, 2], 12)
        drawn = ArcRing(points=8 * np.column_stack([np.cos(angle), np.sin(angle)]), bulges=np.tan(sweeps / 4))
        ring = fit_ring(flatten_ring(drawn, flattened))
        corners = drawn.points[kinks_deg(drawn) > 3.5]
        assert len(corners) >= 4
        off = np.abs(ring.points[:, None] - corners[None]).max(axis=2).min(axis=0)
        assert off.max() < 1e-9
        assert ring.bulges.size <= 18

    def test_a_step_below_the_tolerance_is_no_corner(self) -> None:
        stepped = np.array([[0, 0], [5, 0], [5, 0.0003], [10, 0.0003], [10, 10], [0, 10.0]])
        assert fit_ring(densely(stepped, 0.01)).bulges.size == 4

    def test_the_first_point_of_the_outline_leaves_no_trace(self) -> None:
        outline = shapely.get_coordinates(shapely.Polygon(SQUARE).buffer(0.5, quad_segs=24).exterior)[:-1]
        rings = [fit_ring(np.roll(outline, shift, axis=0)) for shift in range(0, 100, 7)]
        assert {ring.bulges.size for ring in rings} == {8}
        smooth = blob(2000, 6)
        counts = [fit_ring(np.roll(smooth, shift, axis=0)).bulges.size for shift in range(0, 2000, 331)]
        assert len(set(counts)) == 1

    def test_a_coarse_polygon_is_left_as_it_is(self) -> None:
        """Forty sides on a radius of 10 mm leave the circle by 31 um: they were meant, or are not ours to smooth."""
        angle = np.arange(40) * math.pi / 20
        ring = fit_ring(10 * np.column_stack([np.cos(angle), np.sin(angle)]))
        assert ring.bulges.size == 40
        assert not ring.bulges.any()


class TestWhatIsHardlyAnOutline:
    @pytest.mark.parametrize(
        "points", [[[0, 0], [1, 0]], [[0, 0], [1, 0], [0, 0], [1, 0]], [[1, 1]] * 5], ids=["two", "to and fro", "one"]
    )
    def test_fewer_than_three_points_is_an_error(self, points: list[list[float]]) -> None:
        with pytest.raises(GeometryError, match="three different points"):
            fit_ring(np.array(points, dtype=float))

    def test_an_empty_polygon_is_an_error(self) -> None:
        with pytest.raises(GeometryError):
            fit_polygon(shapely.Polygon())

    @pytest.mark.parametrize("height", [0.0001, 0.0004, 0.001])
    def test_a_sliver_thinner_than_the_tolerance_keeps_its_area(self, height: float) -> None:
        sliver = np.array([[0, 0], [10, 0], [10, height], [0, height]])
        ring = fit_ring(sliver)
        assert ring_area(ring) == pytest.approx(10 * height, rel=0.5)
        assert deviation(sliver, ring) <= ARC_TOLERANCE
