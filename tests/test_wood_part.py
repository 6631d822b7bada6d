"""The part under the drawing: outline, tuner holes and keep-outs, placed, drawn, and kept clear of."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
import shapely

import inlayfit
from inlayfit.drawing import Drawing, DrawnLine
from inlayfit.errors import InlayfitError, JobError
from inlayfit.half_sheets import sheets_of
from inlayfit.job import Job, read_job
from inlayfit.recipe import Fit
from inlayfit.sheet import GUIDE
from inlayfit.wood_part import Hole, KeepOut, WoodPart, placed, with_layers
from tests.shapes import drawing_of, square

EDGE = shapely.box(-40, 0, 40, 150)


def fitted(part: WoodPart) -> Fit:
    """A square of 10 with its lower left at the drawing's zero: its pocket is 10 wide, the gap comes off the piece."""
    return inlayfit.fit(drawing_of(square(10)), piece_cutter=0.8, pocket_cutter=0.8, gap=0.05, part=part)


def told(part: WoodPart) -> list[tuple[str, float | None]]:
    kinds = {"in-keep-out", "near-keep-out", "off-part", "near-edge"}
    return [(finding.kind, finding.size_mm) for finding in fitted(part).findings if finding.kind in kinds]


def test_a_pocket_that_keeps_its_distance_is_no_finding() -> None:
    assert told(WoodPart(outline=shapely.box(-5, -5, 15, 15), holes=(Hole(x=20, y=5, diameter=10),), clearance=4)) == []


def test_a_pocket_near_a_hole_is_told_with_the_place_and_the_distance() -> None:
    """The hole of 10 mm has its middle 17.5 mm to the right: its edge is 2.5 mm from the wall of the pocket."""
    part = WoodPart(holes=(Hole(x=17.5, y=5, diameter=10, name="tuner 3"),), clearance=3)
    found = [finding for finding in fitted(part).findings if finding.kind == "near-keep-out"]
    assert [finding.size_mm for finding in found] == [pytest.approx(2.5, abs=0.002)]
    assert (found[0].x, found[0].y) == (pytest.approx(11.25, abs=0.01), pytest.approx(5, abs=0.1))
    assert "2.5 mm from tuner 3; 3 mm were asked for" in found[0].message
    assert found[0].severity == "warning"


def test_a_pocket_that_runs_into_a_hole_or_off_the_part_is_told() -> None:
    keep = KeepOut(name="cover", area=shapely.box(9, 2, 12, 4))
    assert told(WoodPart(keep_outs=(keep,), clearance=1)) == [("in-keep-out", 0.0)]
    assert told(WoodPart(outline=shapely.box(-5, -5, 9, 15), clearance=1)) == [("off-part", 0.0)]
    assert told(WoodPart(outline=shapely.box(-5, -5, 10.5, 15), clearance=1)) == [
        ("near-edge", pytest.approx(0.5, abs=0.002))
    ]


@pytest.mark.parametrize(
    ("origin", "offset", "x", "y"),
    [
        ("nut", (0, 60), 5, -55),
        ("corner", (40, 60), 5, -55),
        ("middle", (0, 0), 5, -70),
        ("middle", (10, -15), -5, -55),
    ],
)
def test_the_middle_of_the_drawing_lies_where_the_offset_says(
    origin: str, offset: tuple[float, float], x: float, y: float
) -> None:
    """`x, y` is where the part's own zero, the middle of its lower edge, comes to lie in the drawing."""
    part = WoodPart(outline=EDGE, holes=(Hole(x=0, y=0, diameter=8),))
    there = placed(part, drawing_of(square(10)), origin=origin, offset=offset, rotation_deg=0, where="part.origin")
    assert (there.holes[0].x, there.holes[0].y) == pytest.approx((x, y))


def test_a_turned_drawing_turns_the_part_the_other_way_about_its_middle() -> None:
    part = WoodPart(holes=(Hole(x=10, y=60, diameter=8),))
    turned = placed(part, drawing_of(square(10)), origin="nut", offset=(0, 60), rotation_deg=90, where="part.origin")
    assert (turned.holes[0].x, turned.holes[0].y) == pytest.approx((5, -5))


def test_layers_of_the_drawing_give_outline_holes_and_keep_outs() -> None:
    loose = [[(0, 0), (30, 0)], [(30, 0), (30, 20), (0, 20), (0, 0)]]
    lines = [DrawnLine(line=shapely.LineString(points), layer="EDGE") for points in loose]
    lines.append(DrawnLine(line=shapely.LineString(shapely.Point(5, 5).buffer(3, 64).exterior.coords), layer="TUNERS"))
    lines.append(DrawnLine(line=shapely.LineString(square(2).exterior.coords), layer="COVER"))
    drawing = Drawing(source="a.svg", regions=drawing_of(square(1)).regions, lines=tuple(lines))
    part = with_layers(WoodPart(clearance=2), drawing, outline="EDGE", holes="TUNERS", keep_outs="COVER")
    assert part.outline is not None
    assert part.outline.area == pytest.approx(600)
    assert [(round(hole.x, 6), round(hole.y, 6)) for hole in part.holes] == [(5, 5)]
    assert part.holes[0].diameter == pytest.approx(6, rel=1e-3)
    assert [(keep.name, keep.area.area) for keep in part.keep_outs] == [("COVER", 4.0)]
    with pytest.raises(JobError, match="nothing closed lies on layer 'HOLES'") as error:
        with_layers(part, drawing, holes="HOLES")
    assert error.value.where == "part.hole_layer"


def test_the_part_is_drawn_on_the_guide_of_the_pockets() -> None:
    part = WoodPart(outline=shapely.box(-5, -5, 15, 15), holes=(Hole(x=20, y=5, diameter=10),))
    plain, with_part = (sheets_of(fitted(one))[-1].layers[GUIDE] for one in (WoodPart(), part))
    assert len(with_part) == len(plain) + 2


def job(text: str, **more: object) -> Job:
    return read_job(f'[drawing]\nfile = "a.svg"\n[part]\n{text}', source="a.toml", folder=Path(), **more)


WHOLE = """
outline = [["0mm", "0mm"], [80, 0], [80, 150], [0, 150]]
thickness = "15mm"
clearance = "2mm"
least_floor = "3mm"
origin = "corner"
offset = ["40mm", "70mm"]
rotation_deg = 90
holes = [{ x = 10, y = 40, diameter = "10mm", name = "tuner 1" }]
[[part.keep_outs]]
name = "cover"
outline = [[30, 0], [50, 0], [40, 40]]
"""


def test_a_whole_part_comes_in_as_millimetres() -> None:
    part = job(WHOLE).part
    assert part is not None
    assert part.part.holes == (Hole(x=10, y=40, diameter=10, name="tuner 1"),)
    assert (part.part.thickness, part.part.clearance, part.part.least_floor) == (15, 2, 3)
    there = part.on(drawing_of(square(10)))
    assert there.outline is not None
    assert there.outline.area == pytest.approx(80 * 150)
    assert math.dist((there.holes[0].x, there.holes[0].y), (5, 5)) == pytest.approx(math.hypot(30, 30))


WRONG = [
    ("outline = [[0, 0], [1, 0]]\noffset = [0, 0]", "part.outline", "enclose nothing"),
    ("outline = [[0, 0], [1, 1], [1, 0], [0, 1]]\noffset = [0, 0]", "part.outline", "sides cross"),
    ('outline = [[0, 0], [1, 1], [1, 0]]\noutline_layer = "E"', "part.outline", "at once"),
    ("outline = [[0, 0], [1, 1], [1, 0]]", "part.offset", "where on the part"),
    ("offset = [1, 2]", "part.offset", "an offset of nothing"),
    ("holes = [{ x = 1, y = 2, diameter = 0 }]\noffset = [0, 0]", "part.holes[0].diameter", "more than zero"),
    ("holes = [{ x = 1, y = 2, diametr = 3 }]\noffset = [0, 0]", "part.holes[0].diametr", "no such key"),
    ("holes = [{ x = 1, diameter = 3 }]\noffset = [0, 0]", "part.holes[0]", "`y`"),
    ("thickness = -1", "part.thickness", "more than zero"),
    ("clearance = -1", "part.clearance", "less than zero"),
    ("least_floor = -1", "part.least_floor", "less than zero"),
    ('origin = "head"', "part.origin", "none of the choices"),
    ("rotation_deg = nan", "part.rotation_deg", "no angle"),
    ("offset = [1]", "part.offset", "length"),
]


@pytest.mark.parametrize(("text", "key", "says"), WRONG, ids=[f"{row[1]}: {row[2]}" for row in WRONG])
def test_what_is_wrong_with_a_part_is_named_by_its_key(text: str, key: str, says: str) -> None:
    with pytest.raises(InlayfitError) as error:
        job(text)
    assert error.value.where == f"a.toml: {key}"
    assert says in error.value.message
    assert error.value.remedy


def test_a_corner_of_a_part_without_an_outline_is_refused() -> None:
    part = job('origin = "corner"\noffset = [0, 0]\nholes = [{ x = 1, y = 2, diameter = 3 }]').part
    assert part is not None
    with pytest.raises(JobError, match="where is the corner") as error:
        part.on(drawing_of(square(10)))
    assert error.value.where == "a.toml: part.origin"
