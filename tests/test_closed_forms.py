"""Offsets, openings and closings against closed forms, a second engine, and a picture of pixels.

Sources stand beside the figures. "Plain geometry" means that the formula follows from the shape in a few lines.
"""

from __future__ import annotations

import math

import numpy as np
import pyclipper
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from inlayfit.offset import closing, grow, opening, shrink
from tests import shapes

CHAIN = 0.0003
"""mm: what the whole chain of offsets may be off by; times the length of the wall it is the area it may be off by."""


def area_error(shape: shapely.Geometry) -> float:
    return CHAIN * shape.length


CONVEX = {
    "square": shapes.square(10),
    "triangle": shapes.regular(3, 8),
    "hexagon": shapes.regular(6, 5),
    "bar": shapes.bar(30, 2),
    "ellipse": shapes.ellipse(8, 5),
}


@pytest.mark.parametrize("radius", [0.1, 0.396875, 1.0, 3.0])
@pytest.mark.parametrize("shape", CONVEX.values(), ids=CONVEX)
def test_a_convex_shape_grows_by_the_steiner_formula(shape: shapely.Polygon, radius: float) -> None:
    """A + P r + pi r^2 and P + 2 pi r. Source: Schneider, Convex Bodies: the Brunn-Minkowski Theory (1993), 4.2."""
    grown = grow(shape, radius)
    assert grown.area == pytest.approx(shape.area + shape.length * radius + math.pi * radius**2, abs=area_error(grown))
    assert grown.length == pytest.approx(shape.length + 2 * math.pi * radius, abs=0.002)


@pytest.mark.parametrize("radius", [0.25, 1.0, 3.0])
def test_a_smooth_shape_shrinks_by_the_steiner_formula(radius: float) -> None:
    """A - L d + pi d^2 while d is under the least radius of curvature, b^2 / a = 3.125 here. Plain geometry."""
    shape = shapes.ellipse(8, 5)
    left = shrink(shape, radius)
    wanted = shape.area - shape.length * radius + math.pi * radius**2
    assert left.area == pytest.approx(wanted, abs=area_error(left))


@pytest.mark.parametrize(
    ("shape", "area", "length"),
    [(shapes.square(10), 143.141593, 46.283185), (shapes.ell(10, 5), 117.926991, 45.853982)],
    ids=["square", "ell"],
)
def test_handbook_figures_of_a_square_and_an_ell_grown_by_one(
    shape: shapely.Polygon, area: float, length: float
) -> None:
    """Convex corners add (pi - t) r^2 / 2, reflex ones take tan((t - pi) / 2) r^2. Plain geometry."""
    grown = grow(shape, 1.0)
    assert (grown.area, grown.length) == (pytest.approx(area, abs=area_error(grown)), pytest.approx(length, abs=0.001))


@given(st.lists(st.floats(3, 8), min_size=5, max_size=9), st.floats(0.02, 0.25))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_a_simple_polygon_grows_by_what_its_corners_say(radii: list[float], radius: float) -> None:
    """A + P r + r^2 (sum over convex (pi - t)/2 - sum over reflex tan((t - pi)/2)) for small r. Plain geometry."""
    shape = shapes._around(np.array(radii))
    angles = shapes.interior_angles(shape)
    reflex = angles > math.pi
    tangents = radius * np.tan((angles[reflex] - math.pi) / 2)
    sides = np.hypot(*np.diff(shapely.get_coordinates(shape), axis=0).T)
    assume(tangents.max(initial=0.0) * 2 < sides.min())  # or r is not small: a side is swallowed
    corners = ((math.pi - angles[~reflex]) / 2).sum() - np.tan((angles[reflex] - math.pi) / 2).sum()
    grown = grow(shape, radius)
    wanted = shape.area + shape.length * radius + radius**2 * corners
    assert grown.area == pytest.approx(wanted, abs=area_error(grown))


def leftover(angle: float) -> float:
    """Area that a disc of radius 1 leaves in a corner of that interior angle."""
    return 1 / math.tan(angle / 2) - (math.pi - angle) / 2


@pytest.mark.parametrize(
    ("angle_deg", "area", "reach", "tangent"),
    [
        (30, 2.423054, 2.863703, 3.732051),
        (45, 1.236116, 1.613126, 2.414214),
        (60, 0.684853, 1.000000, 1.732051),
        (90, 0.214602, 0.414214, 1.000000),
        (120, 0.053751, 0.154701, 0.577350),
        (135, 0.021514, 0.082392, 0.414214),
        (150, 0.006150, 0.035276, 0.267949),
    ],
)
@pytest.mark.parametrize("radius", [0.25, 0.5, 1.0])
def test_what_a_bit_leaves_in_a_corner(
    angle_deg: float, area: float, reach: float, tangent: float, radius: float
) -> None:
    """For 90 degrees 0.215 r^2: Machinery's Handbook, 31st ed., p. 80, Spandrel or Fillet; the rest plain geometry."""
    shape = shapes.wedge(angle_deg, 20)
    left = opening(shape, radius)
    corner = shapely.intersection(shapely.difference(shape, left), shapely.box(-1, -3, tangent * radius + 0.001, 3))
    assert corner.area == pytest.approx(area * radius**2, abs=2.5e-6 * radius**2 + CHAIN * 2 * tangent * radius)
    assert shapely.distance(shapely.Point(0, 0), left) == pytest.approx(reach * radius, abs=CHAIN + 1e-6 * radius)


def test_a_square_opened_and_an_ell_closed_then_opened() -> None:
    """100 - (4 - pi) and 75 - 5 (1 - pi/4) at r = 1; 175 + (1 - pi/4)(rc^2 - 5 ro^2) at 0.7 and 0.6. Plain geometry.

    The last is the one where GEOS tilts whole sides: its input is simplified by 1 % of the distance.
    """
    assert opening(shapes.square(10), 1.0).area == pytest.approx(99.141593, abs=40 * CHAIN)
    assert opening(shapes.ell(10, 5), 1.0).area == pytest.approx(73.926991, abs=40 * CHAIN)
    both = opening(closing(shapes.ell(20, 5), 0.7), 0.6)
    assert both.area == pytest.approx(174.71887, abs=80 * CHAIN)
    along = shapely.points(np.linspace((0.6, 0.0), (19.4, 0.0), 400))
    assert shapely.distance(both.boundary, along).max() < CHAIN


@pytest.mark.parametrize("radius", [0.2, 0.5, 0.79375])
def test_a_pentagram_opened_and_closed(radius: float) -> None:
    """Opening loses 5 r^2 (cot 18 - 0.4 pi), closing adds 5 r^2 (cot 54 - 0.2 pi). Plain geometry."""
    star = shapes.pentagram(15)
    loss = 5 * radius**2 * (1 / math.tan(math.radians(18)) - 0.4 * math.pi)
    gain = 5 * radius**2 * (1 / math.tan(math.radians(54)) - 0.2 * math.pi)
    assert star.area - opening(star, radius).area == pytest.approx(loss, abs=area_error(star))
    assert closing(star, radius).area - star.area == pytest.approx(gain, abs=area_error(star))


@pytest.mark.parametrize("radius", [0.25, 0.396875, 0.5, 1.0])
def test_a_slot_wider_than_the_bit_by_5_um_is_cut_and_one_narrower_is_not(radius: float) -> None:
    """w > 2 r keeps w L - (4 - pi) r^2, w < 2 r keeps nothing. Plain geometry."""
    width = 2 * radius + 0.005
    kept = opening(shapes.bar(12, width), radius)
    assert kept.area == pytest.approx(12 * width - (4 - math.pi) * radius**2, abs=area_error(kept))
    assert opening(shapes.bar(12, 2 * radius - 0.005), radius).is_empty


def dead_end(width: float, depth: float, radius: float) -> float:
    """Area that a disc cannot enter in a dead end narrower than it: w L - r^2 acos(s/r) + s w/2, s^2 = r^2 - w^2/4."""
    s = math.sqrt(radius**2 - width**2 / 4)
    return width * depth - radius**2 * math.acos(s / radius) + s * width / 2


@pytest.mark.parametrize("radius", [0.25, 0.5, 1.0])
def test_a_cleft_wider_than_the_bit_by_5_um_stays_and_one_narrower_is_filled(radius: float) -> None:
    """A cleft that stays has its two inner corners filled, (2 - pi/2) r^2; one that does not is a dead end."""
    wide, narrow = (shapes.block_with_cleft(2 * radius + change, 7) for change in (0.005, -0.005))
    inner = (2 - math.pi / 2) * radius**2
    assert closing(wide, radius).area - wide.area == pytest.approx(inner, abs=CHAIN * 16)
    filled = dead_end(2 * radius - 0.005, 7, radius)
    assert closing(narrow, radius).area - narrow.area == pytest.approx(filled, abs=CHAIN * 16)


def test_a_dead_end_limb_too_narrow_for_the_bit() -> None:
    """With s = sqrt(r^2 - w^2/4) the tip has a reach of sqrt((L + s)^2 + w^2/4) - r. Plain geometry."""
    width, depth, radius = 0.8, 7.0, 0.5
    shape = shapes.block_with_limb(width, depth)
    left = opening(shape, radius)
    tip = shapely.Point(20 + depth, 10 + width / 2)
    assert shapely.distance(tip, left) == pytest.approx(6.8109, abs=CHAIN + 5e-5)
    limb = shapely.intersection(shapely.difference(shape, left), shapely.box(20, 5, 30, 15))
    assert dead_end(width, depth, radius) == pytest.approx(5.4882, abs=5e-5)
    assert limb.area == pytest.approx(dead_end(width, depth, radius), abs=area_error(limb))


@pytest.mark.parametrize("half_distance", [3.2, 3.37, 3.38, 3.6])
def test_two_discs_are_joined_by_closing_as_their_distance_says(half_distance: float) -> None:
    """Closed neck 2 (sqrt((R + rc)^2 - c^2) - rc), joined if c^2 < R^2 + 2 R rc. Plain geometry.

    With R = 3 and rc = 0.4 they are joined up to c = sqrt(11.4) = 3.3764.
    """
    closed = closing(shapes.twin_discs(3, half_distance), 0.4)
    assert (closed.geom_type == "Polygon") == (half_distance**2 < 11.4)
    neck = 2 * (math.sqrt(3.4**2 - half_distance**2) - 0.4) if half_distance < 3.4 else 0.0
    waist = shapely.intersection(closed, shapely.LineString([(0, -3), (0, 3)])).length
    assert waist == pytest.approx(max(0.0, neck), abs=0.005)


SAMPLES = {
    "pentagram": shapes.pentagram(10),
    "ell": shapes.ell(12, 3),
    "limb": shapes.block_with_limb(0.9, 4, 10),
    "cleft": shapes.block_with_cleft(0.9, 4, 10),
    "hourglass": shapes.hourglass(5, 4.96),
    "ring": shapes.ring(6, 5, 0.6),
    "comb": shapes.comb(5, 0.9),
    "twins": shapes.twin_discs(3, 3.1),
}


@pytest.mark.parametrize("radius", [0.25, 0.396875, 0.6])
@pytest.mark.parametrize("shape", SAMPLES.values(), ids=SAMPLES)
def test_laws_of_opening_and_closing(shape: shapely.Geometry, radius: float) -> None:
    """Opening within the shape within closing; done twice is done once; one is the other of the complement.

    Source: Serra, Image Analysis and Mathematical Morphology (1982), from memory.
    """
    opened, closed = opening(shape, radius), closing(shape, radius)
    assert shapely.difference(opened, shape.buffer(CHAIN)).is_empty
    wider = closed.buffer(CHAIN, join_style="mitre", mitre_limit=20)  # a tip of angle t may be short by e / sin(t/2)
    assert shapely.difference(shape, wider).is_empty
    assert shapely.symmetric_difference(opening(opened, radius), opened).area <= 2 * area_error(opened)
    assert shapely.symmetric_difference(closing(closed, radius), closed).area <= 2 * area_error(closed)
    frame = shapely.box(*shape.bounds).buffer(5, join_style="mitre")
    dual = shapely.difference(frame, opening(shapely.difference(frame, shape), radius))
    inner = shapely.box(*shape.bounds).buffer(2, join_style="mitre")
    assert shapely.symmetric_difference(shapely.intersection(dual, inner), closed).area <= 2 * area_error(closed)


def by_clipper(shape: shapely.Geometry, *distances: float) -> shapely.Geometry:
    """Return the shape moved by each distance in turn, by Clipper 1 on a grid of a nanometre."""
    rings = [
        np.rint(shapely.get_coordinates(ring)[:-1] * 1e6).astype(np.int64).tolist()
        for ring in shapely.get_rings(shapely.orient_polygons(shapely.get_parts(shape)))
    ]
    for distance in distances:
        moved = pyclipper.PyclipperOffset(2.0, 20.0)
        moved.AddPaths(rings, pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
        rings = moved.Execute(distance * 1e6)
    filled: shapely.Geometry = shapely.Polygon()
    for ring in rings:
        filled = shapely.symmetric_difference(filled, shapely.make_valid(shapely.Polygon(np.asarray(ring) * 1e-6)))
    return filled


@pytest.mark.parametrize("radius", [0.25, 0.396875, 0.6])
@pytest.mark.parametrize("shape", SAMPLES.values(), ids=SAMPLES)
def test_a_second_engine_says_the_same(shape: shapely.Geometry, radius: float) -> None:
    for own, moves in (
        (grow, (radius,)),
        (shrink, (-radius,)),
        (opening, (-radius, radius)),
        (closing, (radius, -radius)),
    ):
        mine, theirs = own(shape, radius), by_clipper(shape, *moves)
        assert shapely.symmetric_difference(mine, theirs).area <= CHAIN * (mine.length + theirs.length) / 2


PIXEL = 0.02


def by_pixels(shape: shapely.Geometry, radius: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the middles of pixels, and for each how far opening and closing lie from it (0 inside), by distance maps.

    A pixel belongs to the opening where some disc of that radius inside the shape holds it: two distance transforms.
    """
    from scipy import ndimage

    left, bottom, right, top = shape.bounds
    xs, ys = np.arange(left - 2, right + 2, PIXEL), np.arange(bottom - 2, top + 2, PIXEL)
    grid = np.stack(np.meshgrid(xs, ys), axis=-1)
    solid = shapely.contains_xy(shape, grid[..., 0], grid[..., 1])

    def reach(mask: np.ndarray) -> np.ndarray:
        core = ndimage.distance_transform_edt(mask, sampling=PIXEL) > radius
        return ndimage.distance_transform_edt(~core, sampling=PIXEL) - radius

    return grid, reach(solid), reach(~solid)


@pytest.mark.parametrize("radius", [0.3, 0.6])
@pytest.mark.parametrize("name", ["pentagram", "limb", "cleft", "ring", "comb", "twins"])
def test_a_picture_of_pixels_says_the_same(name: str, radius: float) -> None:
    """A third view, without any outline: what is well inside or outside by distance maps is so by the outline too."""
    shape, unsure = SAMPLES[name], 2.5 * PIXEL
    grid, from_opening, from_closing = by_pixels(shape, radius)
    opened, closed = opening(shape, radius), closing(shape, radius)
    for area, outside in ((opened, from_opening > unsure), (closed, from_closing < -unsure)):
        strayed = shapely.contains_xy(area.buffer(-unsure), grid[outside][:, 0], grid[outside][:, 1])
        assert not strayed.any()
    sure = (from_opening < -unsure, from_closing > unsure)
    assert shapely.contains_xy(opened.buffer(unsure), grid[sure[0]][:, 0], grid[sure[0]][:, 1]).all()
    assert shapely.contains_xy(closed.buffer(unsure), grid[sure[1]][:, 0], grid[sure[1]][:, 1]).all()


@pytest.mark.parametrize("shape", SAMPLES.values(), ids=SAMPLES)
def test_every_wall_of_an_offset_lies_its_distance_from_the_shape(shape: shapely.Geometry) -> None:
    """By distance alone: no engine is needed to see that a parallel curve is parallel."""
    for radius in (0.05, 0.396875):
        for moved in (grow(shape, radius), shrink(shape, radius)):
            spots = shapely.points(shapely.get_coordinates(shapely.segmentize(moved.boundary, 0.05)))
            far = shapely.distance(shape.boundary, spots)
            assert np.abs(far - radius).max(initial=0.0) < CHAIN


def test_the_polygon_on_which_geos_is_off_by_5_um() -> None:
    """GEOS simplifies its input by 1 % of the distance: buffer(1) of this one is 5 um off at any number of segments."""
    shape = shapely.Polygon([(1.5446, -2.5976), (1.4921, -2.2264), (1.4851, -2.2257), (-4.5219, 7.0497)])
    spots = shapely.points(shapely.get_coordinates(shapely.segmentize(grow(shape, 1.0).exterior, 0.01)))
    assert np.abs(shapely.distance(shape, spots) - 1.0).max() < CHAIN
    geos = shapely.points(shapely.get_coordinates(shapely.segmentize(shape.buffer(1.0, quad_segs=400).exterior, 0.01)))
    assert np.abs(shapely.distance(shape, geos) - 1.0).max() > 0.003


def test_a_kerf_on_the_line_leaves_the_opening_larger_and_the_piece_smaller_by_the_whole_kerf() -> None:
    """Drawn 2.0 x 4.0, kerf 0.2: opening 2.2 x 4.2, piece 1.8 x 3.8. Source: a cutting service's page on kerf."""
    drawn = shapely.box(0, 0, 2, 4)
    for cut, wanted in ((grow(drawn, 0.1), (2.2, 4.2)), (shrink(drawn, 0.1), (1.8, 3.8))):
        left, bottom, right, top = cut.bounds
        assert (right - left, top - bottom) == pytest.approx(wanted, abs=1e-6)
