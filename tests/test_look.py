"""What `look` says and draws: every region with its name, on the screen, in the JSON and in the picture."""

from __future__ import annotations

import json
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import resvg_py
import shapely
from PIL import Image
from rich.console import Console

import inlayfit
from inlayfit.cli import main
from inlayfit.drawing import Drawing, ReadNote, Region
from inlayfit.report.reading import MOST_NAMED, reading_lines
from inlayfit.report.terminal import check_report, fit_report, look_report
from inlayfit.write.gap_scale import CIVIDIS
from inlayfit.write.picture import PALETTE, picture_bytes
from inlayfit.write.placing import LETTER, LINE_HEIGHT, MOST_LEADERS, SIDE_FONT, SMALLEST_FONT, place_names
from tests.made_up import a_check, a_drawing, a_fit

ARTWORK = sorted((Path(__file__).resolve().parent.parent / "artwork").glob("*.*"))
TAG = "{http://www.w3.org/2000/svg}"
RING = '<path id="ring" d="M2 2H22V22H2Z M7 7H17V17H7Z" fill-rule="evenodd" fill="#c08040"/>'
SVG = f"""<svg xmlns="http://www.w3.org/2000/svg" xmlns:e="http://www.inkscape.org/namespaces/inkscape"
 width="60mm" height="40mm" viewBox="0 0 60 40"><g e:label="brass" e:groupmode="layer">{RING}</g>
 <g e:label="shell" e:groupmode="layer"><circle id="dot" cx="40" cy="12" r="9" fill="#1080c0"/></g>
 <text id="motto" x="3" y="30">Opus 7</text></svg>"""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "ring.svg").write_text(SVG, encoding="utf-8")
    return tmp_path


def run(line: str, capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    code = main(line.split())
    return code, *capsys.readouterr()


def shown(parts, width: int = 100) -> str:
    console = Console(width=width, markup=False, emoji=False, highlight=False, color_system=None)
    with console.capture() as capture:
        console.print(*parts, sep="\n")
    return capture.get()


# -- words ----------------------------------------------------------------------------------------------------------


def test_look_says_all_that_was_understood(here: Path, capsys) -> None:
    code, out, err = run("look ring.svg", capsys)
    assert (code, err) == (0, "")
    words = " ".join(out.split())
    for told in (
        "ring.svg can be read: 2 regions.",
        "47 x 20 mm, 2 regions on brass (1), shell (1)",
        "Colours #c08040 (1), #1080c0 (1)",
        "Holes 1: in ring (1)",
        'text#motto: the text "Opus 7" is not read',
        "Nothing is open or repaired",
        "ring brass #c08040 0.0, 0.0 20 x 20 300.00 1",
    ):
        assert told in words


def test_the_json_of_look_holds_the_same(here: Path, capsys) -> None:
    code, out, err = run("look ring.svg --width 94mm --picture seen.svg --json", capsys)
    assert (code, err) == (0, "")
    found = json.loads(out)
    assert found["drawing"] == "ring.svg"
    assert found["size_mm"] == pytest.approx([94, 40], abs=1e-3)
    assert found["mm_per_unit"] == pytest.approx(2, abs=1e-4)
    assert found["layers"] == [{"name": "brass", "regions": 1}, {"name": "shell", "regions": 1}]
    assert found["colours"] == [{"colour": "#c08040", "regions": 1}, {"colour": "#1080c0", "regions": 1}]
    assert found["holes"] == 1
    ring = found["regions"][0]
    assert (ring["name"], ring["element"], ring["holes"]) == ("ring", "path#ring", 1)
    assert ring["area_mm2"] == pytest.approx(1200, abs=0.1)
    assert ring["bounds_mm"] == pytest.approx([0, 0, 40, 40], abs=1e-3)
    assert [note["kind"] for note in found["notes"]] == ["left-out"]
    assert found["files"] == [{"path": "seen.svg", "kind": "picture"}]


def test_the_same_lines_head_every_report() -> None:
    note = ReadNote(kind="open", subject="LINE 1", message="open", remedy="close it", at=(1.0, 2.0))
    drawing = a_drawing(notes=(note,))
    expected = reading_lines(drawing)
    lines = [line.rstrip() for line in shown(look_report(drawing), 300).splitlines()[2 : 2 + len(expected)]]
    assert [line.partition(" ")[0] for line in lines] == [line.label for line in expected]
    assert lines[2].split(maxsplit=1) == ["Open", "LINE 1 at 1.0, 2.0: open (close it)"]
    for report in (check_report(a_check(), drawing), fit_report(a_fit(drawing=drawing), [])):
        assert [line.rstrip() for line in shown(report, 300).splitlines()[2 : 2 + len(expected)]] == lines


def test_a_drawing_of_many_layers_names_the_first_and_counts_the_rest() -> None:
    regions = tuple(Region(polygon=shapely.box(i, 0, i + 1, 1), name=f"r{i}", layer=f"l{i}") for i in range(30))
    read, *_ = reading_lines(Drawing(source="many.svg", regions=regions))
    assert read.text.endswith(f"l{MOST_NAMED - 1} (1) and {30 - MOST_NAMED} more")


# -- the picture ----------------------------------------------------------------------------------------------------


def texts_of(picture: bytes) -> list[str]:
    return [element.text or "" for element in ElementTree.fromstring(picture).iter(f"{TAG}text")]


@pytest.mark.parametrize("path", ARTWORK, ids=lambda path: path.name)
def test_the_picture_names_every_region_that_shows(path: Path) -> None:
    drawing = inlayfit.read_drawing(path, width="58mm")
    texts = texts_of(picture_bytes(drawing))
    assert {region.name for region in drawing.regions} <= set(texts)
    assert path.name in texts


@pytest.mark.parametrize("path", ARTWORK, ids=lambda path: path.name)
def test_a_name_within_lies_within_and_the_others_are_led_to_their_region(path: Path) -> None:
    """By boxes of letters as wide as `LETTER` says, which is wider than common types are."""
    drawing = inlayfit.read_drawing(path, width="58mm")
    scale = 900 / 58
    areas = {
        region.name: shapely.transform(region.polygon, lambda points: points * scale) for region in drawing.regions
    }
    names, left_out = place_names(list(areas), list(areas.values()))
    assert left_out == 0
    assert sorted(name.text for name in names) == sorted(areas)
    for name in names:
        assert areas[name.text].covers(shapely.Point(name.x, name.y))
        if not name.side:
            wide, high = LETTER * name.font * len(name.text) / 2, name.font / 2
            box = shapely.box(name.x - wide, name.y - high, name.x + wide, name.y + high)
            assert areas[name.text].buffer(0.01).covers(box)
            assert name.font >= SMALLEST_FONT


def test_names_at_the_side_never_stand_on_one_another() -> None:
    dots = [shapely.Point(0, y).buffer(1) for y in np.linspace(0, 40, 25)]
    names, _ = place_names([f"dot {index}" for index in range(25)], dots)
    levels = sorted(name.level for name in names if name.side)
    assert len(levels) == 25
    assert min(np.diff(levels)) >= LINE_HEIGHT - 1e-9 > SIDE_FONT


def test_what_has_no_room_for_a_name_is_counted() -> None:
    squares = [shapely.box(x, y, x + 0.5, y + 0.5) for x in range(20) for y in range(10)]
    regions = tuple(Region(polygon=square, name=f"tile {i}") for i, square in enumerate(squares))
    texts = texts_of(picture_bytes(Drawing(source="tiles.svg", regions=regions)))
    named = {region.name for region in regions} & set(texts)
    assert f"{200 - MOST_LEADERS} small regions have no name here" in texts
    assert len(named) == MOST_LEADERS


def test_a_region_under_another_is_named_where_it_shows() -> None:
    low, high = shapely.box(0, 0, 20, 20), shapely.box(0, 5, 20, 20)
    regions = (Region(polygon=low, name="low"), Region(polygon=high, name="high"))
    root = ElementTree.fromstring(picture_bytes(Drawing(source="two.svg", regions=regions)))
    heights = {element.text: float(element.get("y", 0)) for element in root.iter(f"{TAG}text")}
    assert -5 * 45 < heights["low"] < 0, "in the lowest quarter of 900 px, y down from its lower edge"
    assert heights["high"] < -5 * 45


def test_layers_beyond_the_palette_differ_by_stripes() -> None:
    regions = tuple(
        Region(polygon=shapely.box(10 * i, 0, 10 * i + 9, 9), name=f"r{i}", layer=f"l{i}")
        for i in range(3 * len(PALETTE))
    )
    root = ElementTree.fromstring(picture_bytes(Drawing(source="many.svg", regions=regions)))
    fills = [path.get("fill") for path in root.iter(f"{TAG}path") if path.find(f"{TAG}title") is not None]
    assert len(set(fills)) == 3 * len(PALETTE)
    assert len({element.get("id") for element in root.iter(f"{TAG}pattern")}) == 2 * len(PALETTE)


def test_notes_with_a_place_are_marked_there_and_listed() -> None:
    note = ReadNote(kind="open", subject="LINE 1", message="open from here", at=(30.0, 5.0))
    root = ElementTree.fromstring(picture_bytes(a_drawing(notes=(note,))))
    rings = [circle for circle in root.iter(f"{TAG}circle") if circle.get("r") == "7"]
    assert {(float(ring.get("cx", 0)), float(ring.get("cy", 0))) for ring in rings} == {(30 * 22.5, -5 * 22.5)}
    assert "1 open: LINE 1: open from here" in texts_of(picture_bytes(a_drawing(notes=(note,))))


@pytest.mark.parametrize("name", ['<script>"&', "a\x00b\nc\ud800", "]]>", "", "x" * 500, "הכנסה ירח 貝"])
def test_names_of_the_drawing_are_text_and_nothing_else(name: str) -> None:
    region = Region(polygon=shapely.box(0, 0, 9, 9), name=name, layer=name)
    root = ElementTree.fromstring(picture_bytes(Drawing(source="odd.svg", regions=(region,))))
    assert {element.tag.removeprefix(TAG) for element in root.iter()} <= {
        "svg", "title", "rect", "g", "path", "text", "circle", "polyline", "defs", "pattern",
    }  # fmt: skip


@pytest.mark.parametrize("size", [(1e-3, 1e-3), (1e5, 1.0), (1.0, 1e-4)])
def test_a_drawing_of_any_proportion_can_be_drawn(size: tuple[float, float]) -> None:
    region = Region(polygon=shapely.box(0, 0, *size), name="bar")
    root = ElementTree.fromstring(picture_bytes(Drawing(source="bar.svg", regions=(region,))))
    assert 0 < float(root.get("width", 0)) < 2000
    assert 0 < float(root.get("height", 0)) < 2000


def test_the_picture_shows_the_areas_that_were_read(here: Path) -> None:
    """An independent renderer paints as much of each tint as the regions have area."""
    drawing = inlayfit.read_drawing("ring.svg")
    png = resvg_py.svg_to_bytes(svg_string=picture_bytes(drawing).decode(), skip_system_fonts=True)
    pixels = np.asarray(Image.open(BytesIO(bytes(png))).convert("RGB")).reshape(-1, 3)
    per_mm2 = (900 / drawing.size[0]) ** 2
    for region, colour in zip(drawing.regions, PALETTE, strict=False):
        full = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)])
        tint = np.round(255 - 0.45 * (255 - full))
        painted = np.count_nonzero(np.abs(pixels - tint).max(axis=1) <= 1)
        assert painted / per_mm2 == pytest.approx(region.polygon.area, rel=0.05), "the edges have a line of their own"


def test_the_picture_is_written_whole_or_not_at_all(here: Path, capsys, monkeypatch) -> None:
    (here / "seen.svg").write_text("mine", encoding="utf-8")

    def full(self: Path, content: bytes) -> int:
        with self.open("wb") as file:
            file.write(content[:100])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    code, out, err = run("look ring.svg --picture seen.svg", capsys)
    assert (code, out) == (2, "")
    assert "No space left" in err
    assert (here / "seen.svg").read_text(encoding="utf-8") == "mine"
    assert sorted(path.name for path in here.iterdir()) == ["ring.svg", "seen.svg"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("ring.svg --picture ring.svg", "replace the drawing"),
        ("ring.svg --picture seen.pdf", "an SVG or a PNG"),
        ("ring.svg --picture folder.svg", "folder"),
        ("ring.svg --picture none/seen.svg", "seen.svg"),
        ("none.svg --picture seen.svg", "no such file"),
        ("empty.svg --picture seen.svg", "nothing"),
        ("flat.svg --picture seen.svg", "nothing"),
        ("ring.svg --font none.ttf --picture seen.svg", "no such font file"),
        ("ring.svg --width 0", "more than zero"),
        ("", "DRAWING"),
    ],
)
def test_a_picture_that_cannot_be_drawn_is_refused(words: str, says: str, here: Path, capsys) -> None:
    (here / "folder.svg").mkdir()
    (here / "empty.svg").write_text("<svg/>", encoding="utf-8")
    (here / "flat.svg").write_text('<svg width="9mm" height="9mm"><path d="M0 0L9 9"/></svg>', encoding="utf-8")
    before = sorted(here.rglob("*"))
    code, out, err = run(f"look {words}", capsys)
    assert (code, out) == (2, "")
    assert says in err
    assert sorted(here.rglob("*")) == before


# -- of a check and of a fit ----------------------------------------------------------------------------------------


def test_a_picture_of_a_check_marks_each_place_and_says_what_is_there(here: Path, capsys) -> None:
    code, out, _ = run("check ring.svg --bit 1/8in --picture seen.svg --json", capsys)
    found = json.loads(out)
    assert code == 0
    assert found["files"] == [{"path": "seen.svg", "kind": "picture"}]
    picture = (here / "seen.svg").read_bytes()
    words = " ".join(texts_of(picture))
    places = [finding for finding in found["findings"] if "goes on here" not in finding["message"]]
    assert len(places) >= 8, "four corners without and four within"
    for finding in places:
        assert f"{finding['name']}: {finding['message']}" in words
    rings = {
        (float(ring.get("cx", 0)), float(ring.get("cy", 0)))
        for ring in ElementTree.fromstring(picture).iter(f"{TAG}circle")
        if ring.get("r") == "7"
    }
    per_mm = 900 / found["size_mm"][0]
    for finding in places:
        spot = (finding["x"] * per_mm, -finding["y"] * per_mm)
        assert min(np.hypot(x - spot[0], y - spot[1]) for x, y in rings) < 0.02


def test_a_picture_of_a_fit_shows_the_gap_along_the_seam_in_the_colours_of_its_legend(here: Path, capsys) -> None:
    code, out, _ = run("fit ring.svg --bit 1/32in --gap 0.05 --out made --picture seen.svg --json", capsys)
    assert code == 0
    assert {"path": "seen.svg", "kind": "picture"} in json.loads(out)["files"]
    picture = (here / "seen.svg").read_bytes()
    assert "as asked: 0.050 mm, 2.0 thou" in texts_of(picture)
    strokes = {path.get("stroke") for path in ElementTree.fromstring(picture).iter(f"{TAG}path")}
    assert CIVIDIS[5] in strokes, "an even gap has the colour of the middle"


def test_a_picture_can_be_a_png(here: Path, capsys) -> None:
    code, out, _ = run("look ring.svg --picture seen.png", capsys)
    assert code == 0
    assert "seen.png" in out
    with Image.open(here / "seen.png") as image:
        assert image.size[0] > 900


def test_a_png_that_nothing_can_make_is_refused_with_a_way_out(here: Path, capsys, monkeypatch) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda _name: None)
    code, out, err = run("look ring.svg --picture seen.png", capsys)
    assert (code, out) == (2, "")
    assert "nothing here makes a PNG" in err
    assert "inlayfit[png]" in err


@pytest.mark.parametrize("words", ["check ring.svg --bit 1", "fit ring.svg --bit 1 --gap 0.05 --out made"])
def test_no_picture_replaces_the_drawing(words: str, here: Path, capsys) -> None:
    code, out, err = run(f"{words} --picture ring.svg", capsys)
    assert (code, out) == (2, "")
    assert "replace the drawing" in err
    assert sorted(path.name for path in here.iterdir()) == ["ring.svg"]
