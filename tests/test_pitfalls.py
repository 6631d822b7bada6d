"""What goes wrong with drawings in practice: each is named, with what to do about it, and nothing is named in error."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely

import inlayfit
from inlayfit.cli import main
from inlayfit.drawing import Drawing, ReadNote
from inlayfit.errors import DrawingError
from inlayfit.read.pitfalls import MANY_POINTS, SIMPLIFIED

ARTWORK = sorted((Path(__file__).resolve().parent.parent / "artwork").glob("*.*"))
PAGE = '<rect id="page" width="60" height="40" fill="#fff"/>'
DISC = '<circle id="disc" cx="20" cy="20" r="10"/>'
Reader = Callable[..., Drawing]


@pytest.fixture
def svg(tmp_path: Path) -> Reader:
    def read(content: str, *, page: str = 'width="60mm" height="40mm" viewBox="0 0 60 40"', **how: Any) -> Drawing:
        path = tmp_path / "drawing.svg"
        path.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {page}>{content}</svg>', encoding="utf-8")
        return inlayfit.read_drawing(path, **how)

    return read


@pytest.fixture
def dxf(tmp_path: Path) -> Reader:
    def read(draw: Callable[[Any], object], **how: Any) -> Drawing:
        document = ezdxf.new("R2010", units=4)
        draw(document.modelspace())
        path = tmp_path / "drawing.dxf"
        document.saveas(path)
        return inlayfit.read_drawing(path, **how)

    return read


def rectangle(space: Any, left: float, bottom: float, right: float, top: float) -> None:
    space.add_lwpolyline([(left, bottom), (right, bottom), (right, top), (left, top)], close=True)


def note_of(drawing: Drawing, words: str) -> ReadNote:
    (note,) = [note for note in drawing.notes if words in note.message]
    return note


@pytest.mark.parametrize("path", ARTWORK, ids=lambda path: path.name)
def test_nothing_is_held_against_a_sound_drawing(path: Path) -> None:
    drawing = inlayfit.read_drawing(path, width="58mm")
    assert {note.kind for note in drawing.notes} <= {"joined"}


# -- the page behind the drawing ------------------------------------------------------------------------------------


def test_a_page_behind_the_drawing_is_named_and_kept(svg: Reader) -> None:
    drawing = svg(PAGE + DISC)
    note = note_of(drawing, "behind everything else")
    assert (note.kind, note.subject) == ("assumed", "page")
    assert "60 x 40 mm" in note.message
    assert "--ignore-page" in note.remedy
    assert [region.name for region in drawing.regions] == ["page", "disc"]


@pytest.mark.parametrize("size", [{}, {"width": 50}, {"height": "30mm"}, {"scale": 3}], ids=str)
def test_without_the_page_the_rest_has_the_size_that_was_asked_for(size: dict[str, Any], svg: Reader) -> None:
    drawing = svg(PAGE + DISC, ignore_page=True, **size)
    across = size.get("width") or (30 if "height" in size else 20 * size.get("scale", 1))
    assert [region.name for region in drawing.regions] == ["disc"]
    assert drawing.bounds == pytest.approx((0, 0, across, across), abs=0.0005)
    assert drawing.scale == pytest.approx(across / 20, rel=1e-4)
    true = math.pi * across**2 / 4
    assert drawing.regions[0].polygon.area == pytest.approx(true, abs=0.0002 * math.pi * across), "as fine as at once"
    assert note_of(drawing, "is ignored, as asked").kind == "left-out"


def test_a_rectangle_alone_is_no_page(svg: Reader) -> None:
    drawing = svg(PAGE, ignore_page=True)
    assert [region.name for region in drawing.regions] == ["page"]
    assert note_of(drawing, "leaves nothing out").kind == "assumed"
    assert svg(PAGE).notes == ()


@pytest.mark.parametrize(
    "content",
    [
        '<circle cx="30" cy="20" r="20"/>' + DISC,
        DISC + PAGE,
        '<rect width="30" height="40"/><circle cx="45" cy="20" r="15"/>',
    ],
    ids=["a disc", "on top", "beside"],
)
def test_what_is_no_rectangle_or_not_behind_is_no_page(content: str, svg: Reader) -> None:
    assert not [note for note in svg(content).notes if "behind" in note.message]


def test_a_frame_round_a_dxf_makes_holes_of_the_shapes_and_leaving_it_out_turns_them_back(dxf: Reader) -> None:
    def draw(space: Any) -> None:
        rectangle(space, 0, 0, 60, 40)
        space.add_circle((20, 20), 10)
        space.add_circle((20, 20), 4)
        space.add_circle((45, 20), 5)

    framed, free = dxf(draw), dxf(draw, ignore_page=True)
    assert len(framed.regions[0].polygon.interiors) == 2
    assert note_of(framed, "behind everything else").subject == framed.regions[0].name
    areas = sorted(region.polygon.area for region in free.regions)
    assert areas == pytest.approx([25 * math.pi, (100 - 16) * math.pi], abs=0.02)
    assert free.size == pytest.approx((40, 20), abs=0.001)


def test_a_frame_drawn_as_a_band_goes_whole(dxf: Reader) -> None:
    def draw(space: Any) -> None:
        rectangle(space, 0, 0, 60, 40)
        rectangle(space, 2, 2, 58, 38)
        space.add_circle((20, 20), 10)

    (disc,) = dxf(draw, ignore_page=True).regions
    assert disc.polygon.area == pytest.approx(100 * math.pi, abs=0.02)


def test_the_commands_and_the_job_leave_the_page_out(tmp_path: Path, capsys, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    text = f'<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">{PAGE}{DISC}</svg>'
    Path("page.svg").write_text(text, encoding="utf-8")
    Path("job.toml").write_text(
        '[drawing]\nfile = "page.svg"\nignore_page = true\n[piece]\nbit = 1\n[pocket]\nbit = 1\n[fit]\ngap = 0.05\n',
        encoding="utf-8",
    )
    for line in ("look page.svg --ignore-page", "check page.svg --bit 1 --ignore-page", "fit job.toml --out a",
                 "fit page.svg --bit 1 --gap 0.05 --ignore-page --out b"):  # fmt: skip
        assert main([*line.split(), "--json"]) == 0
        found = json.loads(capsys.readouterr().out)
        regions = found["regions"] if "regions" in found else found["read"]["regions"]
        assert [region["name"] for region in regions] == ["disc"]
    assert main(["fit", "page.svg", "--bit", "1", "--gap", "0.05", "--out", "c", "--json"]) == 0
    assert [region["name"] for region in json.loads(capsys.readouterr().out)["read"]["regions"]] == ["page", "disc"]


# -- twice, too large, too small, too fine --------------------------------------------------------------------------


def test_two_identical_outlines_are_named(svg: Reader) -> None:
    note = note_of(svg(DISC + '<circle id="again" cx="20.002" cy="20" r="10"/>'), "two identical outlines")
    assert note.subject == "disc, again"
    assert note.at == pytest.approx((10, 10), abs=0.1)
    more = note_of(svg(DISC * 2 + '<rect x="40" y="2" width="9" height="9"/>' * 2), "two identical outlines")
    assert "1 more pair" in more.message


@pytest.mark.parametrize(
    "other",
    [
        '<circle cx="20.02" cy="20" r="10"/>',
        '<rect x="10" y="10" width="20" height="20"/>',
        '<path d="M10 20A10 10 0 0 0 30 20A10 10 0 0 0 10 20Z M19 19V21H21V19Z" fill-rule="evenodd"/>',
    ],
    ids=["moved", "of the same box", "with a hole"],
)
def test_outlines_that_differ_are_two(other: str, svg: Reader) -> None:
    assert not [note for note in svg(DISC + other).notes if "identical" in note.message]


@pytest.mark.parametrize(
    ("drawn", "asks"),
    [
        (25.4 * 40, "--scale 0.03937 makes it 40 x 40 mm"),
        (600 * 96 / 72, "--scale 0.75 makes it 600 x 600 mm"),
        (58 / 25.4, "--scale 25.4 makes it 58 x 58 mm"),
    ],
)
def test_a_size_that_is_none_of_an_inlay_is_asked_about(drawn: float, asks: str, svg: Reader) -> None:
    page = f'width="{drawn}mm" height="{drawn}mm" viewBox="0 0 40 40"'
    square = '<rect width="40" height="40"/>'
    note = note_of(svg(square, page=page), "is the unit right?")
    assert asks in note.remedy
    assert not svg(square, page=page, width=700).notes, "who asks for it means it"


@pytest.mark.parametrize("size", [3.1, 58, 599])
def test_a_usual_size_is_not_asked_about(size: float, svg: Reader) -> None:
    page = f'width="{size}mm" height="{size}mm" viewBox="0 0 40 40"'
    assert not svg('<rect width="40" height="40"/>', page=page).notes


def test_specks_are_named_by_every_command_alike(svg: Reader, tmp_path: Path, capsys) -> None:
    dots = "".join(f'<circle id="dot{x}" cx="{x}" cy="5" r="{r}"/>' for x, r in ((41, 0.03), (43, 0.049), (45, 0.051)))
    note = note_of(svg(DISC + dots), "smaller than 0.1 mm across")
    assert note.subject == "dot41, dot43"
    assert note.at == pytest.approx((31, 25), abs=0.1)
    (tmp_path / "out").mkdir()
    told = []
    for words in (
        ["look"],
        ["check", "--bit", "0.8"],
        ["fit", "--bit", "2", "--gap", "0.05", "--out", str(tmp_path / "out")],
    ):
        assert main([words[0], str(tmp_path / "drawing.svg"), *words[1:], "--json"]) == (words[0] != "look")
        answer = json.loads(capsys.readouterr().out)
        told.append([note for note in answer.get("read", answer)["notes"] if note["subject"] == "dot41, dot43"])
    assert len(told[0]) == 1
    assert told[0] == told[1] == told[2]


def wavy(points: int) -> np.ndarray:
    """Return a flower of that many points, mm."""
    turn = np.linspace(0, math.tau, points, endpoint=False)
    radius = 20 + 3 * np.sin(7 * turn)
    return np.column_stack((30 + radius * np.cos(turn), 25 + radius * np.sin(turn)))


def test_the_points_of_a_tracing_are_thinned_out_and_that_is_said(svg: Reader) -> None:
    traced = wavy(300_000)
    data = "M" + "L".join(f"{x:.7f} {y:.7f}" for x, y in traced.tolist()) + "Z"
    drawing = svg(f'<path id="flower" d="{data}"/>', page='width="60mm" height="60mm" viewBox="0 0 60 60"')
    note = note_of(drawing, "as of a tracing")
    assert note.kind == "repaired"
    assert "0.5 um" in note.message
    (flower,) = drawing.regions
    assert len(flower.polygon.exterior.coords) < 10_000
    corner = traced * (1, -1) - (traced * (1, -1)).min(axis=0)
    off = shapely.distance(flower.polygon.exterior, shapely.points(corner))
    assert off.max() <= SIMPLIFIED + 1e-6


def test_an_ordinary_drawing_keeps_all_its_points(svg: Reader) -> None:
    data = "M" + "L".join(f"{x:.7f} {y:.7f}" for x, y in wavy(MANY_POINTS // 2).tolist()) + "Z"
    drawing = svg(f'<path d="{data}"/>', page='width="60mm" height="60mm" viewBox="0 0 60 60"')
    assert len(drawing.regions[0].polygon.exterior.coords) == MANY_POINTS // 2 + 1
    assert not drawing.notes


# -- open by a hair -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("hole", [0.011, 0.05, 0.17])
def test_a_dxf_open_by_a_hair_is_told_which_join_closes_it(hole: float, dxf: Reader) -> None:
    def draw(space: Any) -> None:
        space.add_lwpolyline([(hole, 0), (10, 0), (10, 10), (0, 10), (0, 0)])
        rectangle(space, 20, 0, 30, 10)

    remedy = note_of(dxf(draw), "open from").remedy
    assert remedy.startswith("open by a hair: --join ")
    closed = dxf(draw, join=remedy.split()[5])
    assert len(closed.regions) == 2
    assert {note.kind for note in closed.notes} == {"joined"}


def test_a_dxf_that_is_only_open_by_a_hair_says_so_in_its_error(dxf: Reader) -> None:
    with pytest.raises(DrawingError, match="nothing in the drawing encloses an area") as caught:
        dxf(lambda space: space.add_lwpolyline([(0.05, 0), (10, 0), (10, 10), (0, 10), (0, 0)]))
    assert caught.value.remedy == "open by a hair: --join 0.055mm closes it"


def test_a_wide_opening_is_no_hair(dxf: Reader) -> None:
    def draw(space: Any) -> None:
        space.add_lwpolyline([(2, 0), (10, 0), (10, 10), (0, 10), (0, 0)])
        rectangle(space, 20, 0, 30, 10)

    assert "hair" not in note_of(dxf(draw), "open from").remedy


@pytest.mark.parametrize("hole", [0.004, 0.05, 0.19])
def test_an_svg_line_open_by_a_hair_is_named_with_its_hole(hole: float, svg: Reader) -> None:
    line = f'<path id="loop" d="M{20 + hole} 10H30V20H20V10" fill="none" stroke="black" stroke-width="0.5"/>'
    note = note_of(svg(DISC + line), "open by a hair")
    assert (note.kind, note.subject) == ("open", "path#loop")
    assert f"its ends are {hole:g} mm apart" in note.message
    assert note.at == pytest.approx((20 + hole - 10, 30 - 10), abs=0.001), "from the lower left of all: 10, 30"


@pytest.mark.parametrize("data", ["M23 10H30V20H20V10", "M20 10H30V20H20Z", "M20 10H30V20H20V10"])
def test_lines_that_are_closed_or_wide_open_are_not(data: str, svg: Reader) -> None:
    drawing = svg(DISC + f'<path d="{data}" fill="none" stroke="black" stroke-width="0.5"/>')
    assert not [note for note in drawing.notes if "hair" in note.message]


# -- lines alone, text, clips ---------------------------------------------------------------------------------------

LINE = '<path id="line" d="M5 5H30V20" fill="none" stroke="black"/>'


def test_a_drawing_of_lines_alone_says_what_is_taken(svg: Reader) -> None:
    note = note_of(svg(LINE), "nothing is filled")
    assert note.kind == "assumed"
    assert "fill the shapes" in note.remedy
    assert not [note for note in svg(LINE + DISC).notes if "nothing is filled" in note.message]


def test_text_is_named_with_what_to_do(svg: Reader) -> None:
    note = note_of(svg(DISC + '<text id="motto" x="5" y="30">Opus <tspan>7</tspan></text>'), "is not read")
    assert (note.kind, note.subject) == ("left-out", "text#motto")
    assert '"Opus 7"' in note.message
    assert "convert it to paths" in note.remedy


CLIP = '<clipPath id="edge"><rect x="10" y="10" width="30" height="20"/></clipPath>'


def test_one_clip_round_everything_is_named(svg: Reader) -> None:
    drawing = svg(f'{CLIP}<g clip-path="url(#edge)"><g>{DISC}</g>{LINE}</g>')
    note = note_of(drawing, "everything lies in one clip group")
    assert note.subject == "rect"
    assert drawing.size == pytest.approx((20.5, 20), abs=0.001)


def test_a_clip_of_a_part_and_the_edge_of_a_viewport_are_not(svg: Reader) -> None:
    for content in (
        f'{CLIP}<g clip-path="url(#edge)">{DISC}</g>{LINE}',
        f'<svg width="30" height="30">{DISC}{LINE}</svg>',
    ):
        assert not [note for note in svg(content).notes if "everything lies" in note.message]
