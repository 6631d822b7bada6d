"""The largest bit: formulas, and a slow second way by another engine to the definition itself.

Definition: a bit of radius r leaves nothing further than r plus the tolerance from where its centre may go; within the
area for the pocket, round each group for the piece, and round each part of a group as far as the group goes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
import shapely

import inlayfit
from inlayfit.checker import Check
from inlayfit.drawing import Drawing
from inlayfit.offset import geometry_of
from inlayfit.plan import drawn_area
from inlayfit.regions import group_regions
from tests import shapes
from tests.swept import grown, shrunk
from tests.test_laws import ARTWORK
from tests.test_laws import drawing as artwork

TOLERANCE = 0.05
WITHIN = 0.001
"""mm: a largest bit is right to a micrometre."""
SPECK_MM2 = 1e-8
"""What two engines leave of an edge that both keep."""
MORE = 0.003
"""mm: in a blunt corner the reach of a bit grows slowly, and less than this leaves no more than a speck."""


def largest(*polygons: shapely.Polygon, bit: str = "1mm", tolerance: float = TOLERANCE) -> float | None:
    return inlayfit.check(shapes.drawing_of(*polygons), cutter=bit, tolerance=tolerance).largest_bit


def dumbbell(radius: float, half: float, width: float, fillet: float) -> shapely.Polygon:
    """Return two discs 2 `half` apart, joined by a straight bar, its ends rounded by fillets that touch both."""
    side = width / 2 + fillet
    foot = half - math.sqrt((radius + fillet) ** 2 - side**2)
    joint = (half - (half - foot) * radius / (radius + fillet), side * radius / (radius + fillet))
    bar = shapely.box(-half, -side, half, side) - shapely.union_all(
        [shapely.box(-foot, s * side - fillet, foot, s * side + fillet) for s in (-1, 1)]
        + [shapes.disc(fillet, x, y) for x in (-foot, foot) for y in (-side, side)]
    )
    middle = shapely.box(-joint[0], -joint[1], joint[0], joint[1])
    return shapely.union_all([shapes.disc(radius, -half), shapes.disc(radius, half), bar & middle])


def star(tips: int, outer: float, inner: float) -> shapely.Polygon:
    angles = math.pi * np.arange(2 * tips) / tips
    radii = np.where(np.arange(2 * tips) % 2 == 0, outer, inner)
    return shapely.Polygon(np.column_stack([radii * np.cos(angles), radii * np.sin(angles)]))


def lens(radius: float, half: float) -> shapely.Polygon:
    return shapely.intersection(shapes.disc(radius, -half), shapes.disc(radius, half))


def root(reach: Callable[[float], float], low: float, high: float) -> float:
    """Return the bit, twice the radius between two where a growing reach comes to the tolerance."""
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if reach(middle) > TOLERANCE else (middle, high)
    return low + high


def beside_a_waist(radius: float, half: float) -> float:
    """Return the largest bit of an hourglass: it touches both discs R, whose centres lie 2 c apart, before the waist.

    Reach sqrt((R + r)^2 - c^2) - sqrt(R^2 - c^2) - r.
    """
    waist = math.sqrt(radius**2 - half**2)
    return root(lambda r: math.sqrt((radius + r) ** 2 - half**2) - waist - r, 0.0, radius)


def within_a_lens(radius: float, half: float) -> float:
    """Return the largest bit of what two discs share: it touches both rims. Reach h - sqrt((R - r)^2 - c^2) - r."""
    tip = math.sqrt(radius**2 - half**2)
    return root(lambda r: tip - math.sqrt((radius - r) ** 2 - half**2) - r, 0.0, radius - half)


def beside_a_fillet(radius: float, half: float, width: float, fillet: float) -> float:
    """Return the largest bit of a dumbbell: it touches disc R and bar. Reach |its centre to the fillet's| + f - r."""

    def foot(r: float) -> tuple[float, float]:
        return half - math.sqrt((radius + r) ** 2 - (width / 2 + r) ** 2), width / 2 + r

    return root(lambda r: math.dist(foot(r), foot(fillet)) + fillet - r, fillet, 3 * fillet)


FORMULAS: dict[str, tuple[Sequence[shapely.Polygon], float]] = {
    "circle: 2 R": ([shapes.disc(4)], 8.0),
    "small circle: 2 R": ([shapes.disc(0.3)], 0.6),
    "ring: R1 - R2, the wall": ([shapes.ring(5, 3)], 2.0),
    "ring with a small hole: 2 R2": ([shapes.ring(6, 0.4)], 0.8),
    "eccentric ring: the hole": ([shapes.ring(6, 0.9, 1.0)], 1.8),
    "slot with round ends: its width": (
        [shapely.LineString([(0, 0), (9, 0)]).buffer(0.4, quad_segs=400)],
        0.8,
    ),
    "dumbbell: its bar": ([dumbbell(5, 9, 1.0, 3)], 1.0),
    "dumbbell: its fillets, tighter than the bar": ([dumbbell(5, 9, 3.0, 1.0)], beside_a_fillet(5, 9, 3.0, 1.0)),
    "square: 2 tol / (sqrt2 - 1)": ([shapes.square(10)], 2 * TOLERANCE / (math.sqrt(2) - 1)),
    "hexagon: 2 tol / (1/sin 60 - 1)": ([shapes.regular(6, 8)], 2 * TOLERANCE / (2 / math.sqrt(3) - 1)),
    "triangle: 2 tol": ([shapes.regular(3, 8)], 2 * TOLERANCE),
    "pentagram: 2 tol / sqrt5": ([shapes.pentagram(12)], 2 * TOLERANCE / math.sqrt(5)),
    "wedge of 40 degrees: 2 tol / (1/sin 20 - 1)": (
        [shapes.wedge(40, 20)],
        2 * TOLERANCE / (1 / math.sin(math.radians(20)) - 1),
    ),
    "ell: the corners": ([shapes.ell(20, 5)], 2 * TOLERANCE / (math.sqrt(2) - 1)),
    "hourglass: beside its waist": ([shapes.hourglass(5, 4.0)], beside_a_waist(5, 4.0)),
    "lens: in its tips": ([lens(8, 4)], within_a_lens(8, 4)),
    "two circles: the smaller": ([shapes.disc(4), shapes.disc(0.7, 9)], 1.4),
    "five circles: the smallest": ([shapes.disc(0.4 + 0.1 * n, 4 * n) for n in range(5)], 0.8),
    "a circle hard by a larger one: still the smaller": ([shapes.disc(4), shapes.disc(0.5, 4.52)], 1.0),
}


@pytest.mark.parametrize("name", FORMULAS)
def test_the_largest_bit_is_that_of_the_formula(name: str) -> None:
    polygons, expected = FORMULAS[name]
    assert largest(*polygons, bit="0.5mm") == pytest.approx(expected, abs=WITHIN)


@pytest.mark.parametrize("bit", ["0.2mm", "1/32in", "1.5mm", "3mm"])
@pytest.mark.parametrize("name", ["dumbbell: its bar", "square: 2 tol / (sqrt2 - 1)", "two circles: the smaller"])
def test_the_largest_bit_does_not_depend_on_the_bit_in_question(name: str, bit: str) -> None:
    polygons, expected = FORMULAS[name]
    assert largest(*polygons, bit=bit) == pytest.approx(expected, abs=WITHIN)


@pytest.mark.parametrize("tolerance", [0.005, 0.02, 0.1])
def test_the_largest_bit_of_a_square_follows_the_tolerance(tolerance: float) -> None:
    """2 tol / (sqrt2 - 1)."""
    expected = 2 * tolerance / (math.sqrt(2) - 1)
    assert largest(shapes.square(10), bit="0.5mm", tolerance=tolerance) == pytest.approx(expected, abs=WITHIN)


def test_where_no_bit_would_do_there_is_none() -> None:
    """A tip of 10 degrees: 2 tol / (1/sin 5 - 1) is 0.0095 mm, and no bit under 0.02 mm is looked for."""
    answer = inlayfit.check(shapes.drawing_of(shapes.wedge(10, 20)), cutter="1mm", tolerance=TOLERANCE)
    assert answer.largest_bit is None
    assert answer.smallest_width is None


def test_a_drawing_finer_than_any_bit_has_none() -> None:
    comb = shapely.union_all(
        [shapely.box(0, 0, 3, 0.01), *(shapely.box(0.1 * n, 0, 0.1 * n + 0.01, 3) for n in range(9))]
    )
    answer = inlayfit.check(shapes.drawing_of(comb), cutter="0.2mm", tolerance=0.004)
    assert answer.largest_bit is None
    assert answer.largest_bit_no_loss is None
    assert answer.verdict == "loses detail"


def test_a_smooth_drawing_is_softened_at_most_by_every_bit_that_enters_it() -> None:
    """In an ellipse of half axes 7 and 4 a bit of 8 mm leaves 3 mm at each end, which is less than its radius."""
    answer = inlayfit.check(shapes.drawing_of(shapes.ellipse(7, 4)), cutter="1mm", tolerance=TOLERANCE)
    assert answer.largest_bit_no_loss == pytest.approx(8.0, abs=WITHIN)


@pytest.mark.parametrize("half", [9.0, 12.0])
def test_a_long_drawing_loses_its_ends_to_a_bit_that_just_enters_it(half: float) -> None:
    """A bit of r enters up to x = sqrt((1 - r^2/b^2) (a^2 - b^2)); the end is lost where a - x is over 2 r."""
    low, high = 2.0, 4.0
    for _ in range(50):
        radius = (low + high) / 2
        furthest = math.sqrt((1 - radius**2 / 16) * (half**2 - 16))
        low, high = (low, radius) if half - furthest > 2 * radius else (radius, high)
    answer = inlayfit.check(shapes.drawing_of(shapes.ellipse(half, 4)), cutter="1mm", tolerance=TOLERANCE)
    assert answer.largest_bit_no_loss == pytest.approx(2 * low, rel=0.01)


def misses(drawing: Drawing, radius: float, tolerance: float) -> bool:
    """Return whether a bit misses something, by the definition, with Clipper 1."""
    groups, _ = group_regions(drawing.regions)
    areas = [geometry_of(drawn_area(group)[0]) for group in groups]  # hair slits shut
    for area in areas:
        for part in shapely.get_parts(area):
            if (part - grown(shrunk(part, radius), radius + tolerance)).area > SPECK_MM2:
                return True
        if _filled(area, radius, tolerance).area > SPECK_MM2:
            return True
    return any(
        (_filled(part.area, radius, tolerance) & area).area > SPECK_MM2
        for group, area in zip(groups, areas, strict=True)
        if len(group.parts) > 1
        for part in group.parts
    )


def _filled(area: shapely.Geometry, radius: float, tolerance: float) -> shapely.Geometry:
    return shrunk(grown(area, radius), radius + tolerance) - area


def is_largest(answer: Check, drawing: Drawing, tolerance: float) -> None:
    """Say whether a bit a micrometre less misses nothing, and one three micrometres more does."""
    if answer.largest_bit is None:
        assert misses(drawing, 0.01, tolerance)
        return
    assert not misses(drawing, (answer.largest_bit - WITHIN) / 2, tolerance)
    assert misses(drawing, (answer.largest_bit + MORE) / 2, tolerance)


@pytest.mark.parametrize("name", ARTWORK)
def test_the_largest_bit_of_our_artwork_is_that_of_the_definition(name: str) -> None:
    drawing = artwork(name)
    is_largest(inlayfit.check(drawing, cutter="1/32in", tolerance=TOLERANCE), drawing, TOLERANCE)


def _rounded(seed: int) -> list[shapely.Polygon]:
    """Return a heap of discs and limbs with every corner rounded by 0.3 mm: no corners, but necks and tight curves."""
    heap = shapely.union_all(shapes.blob(seed, size=16.0))
    heap = heap.buffer(-0.3, 64).buffer(0.6, 64).buffer(-0.3, 64)
    return [part for part in shapely.get_parts(heap) if part.area > 0.3]


MIXED: dict[str, Callable[[], Sequence[shapely.Polygon]]] = {
    **{f"heap {seed}": (lambda seed=seed: shapes.blob(seed, size=12.0)) for seed in range(6)},
    **{f"rounded heap {seed}": (lambda seed=seed: _rounded(seed)) for seed in range(8)},
    **{f"mosaic {seed}": (lambda seed=seed: shapes.mosaic(seed, tiles=6, size=12.0)) for seed in range(5)},
    **{f"star of {tips}": (lambda tips=tips: [star(tips, 10, 6)]) for tips in (4, 7, 12)},
    "ellipse": lambda: [shapes.ellipse(9, 4)],
    "comb": lambda: [shapes.comb(5, 0.9)],
    "limb": lambda: [shapes.block_with_limb(0.7, 3)],
    "cleft": lambda: [shapes.block_with_cleft(0.7, 3)],
    "hourglass without corners": lambda: [dumbbell(4, 4.5, 0.9, 2.0)],
    "eccentric ring": lambda: [shapes.ring(5, 3, 1.2)],
    "three rings": lambda: [shapely.affinity.translate(shapes.ring(2 + n, 1 + n), 12 * n) for n in range(3)],
}


@pytest.mark.parametrize("name", MIXED)
def test_the_largest_bit_is_that_of_the_definition(name: str) -> None:
    drawing = shapes.drawing_of(*MIXED[name]())
    is_largest(inlayfit.check(drawing, cutter="0.8mm", tolerance=TOLERANCE), drawing, TOLERANCE)
