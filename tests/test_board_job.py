"""The tables [board] and [markers] of a job, from the file to the folder."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import ezdxf
import pytest
import shapely

from inlayfit.board import Channel
from inlayfit.cli import main
from inlayfit.errors import InlayfitError
from inlayfit.fretboard import Scale
from inlayfit.job import Job, read_job
from inlayfit.job_board import Artwork, BoardTable, ChannelTable, MarkersTable, MarkTable, SideTable
from inlayfit.marker_depth import DepthSettings
from inlayfit.marker_shapes import Style
from inlayfit.markers import SideDots, lay_out, side_dots
from inlayfit.setups import Bed

BOARD = {"scale": '"25.5in"', "frets": "22", "nut_width": "43", "end_width": "57"}
LEAF = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 20"><path id="leaf" d="M0 10C10 0 30 0 40 10C30 20 10 20 0 10Z"/></svg>'  # noqa: E501
EMPTY = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 20"></svg>'


def text_of(board: dict[str, str], rest: str = "") -> str:
    table = BOARD | board
    return "[board]\n" + "".join(f"{key} = {value}\n" for key, value in table.items() if value) + rest


def job(board: dict[str, str] | None = None, rest: str = "") -> Job:
    return read_job(text_of(board or {}, rest), source="neck.toml", folder=Path("jobs"))


CUT = '[piece]\nbit = "0.8mm"\nthickness = "1.5mm"\n[pocket]\nbit = "0.8mm"\n[fit]\ngap = "0.05mm"\n'


# -- what comes in --------------------------------------------------------------------------------------------------


def test_a_whole_board_comes_in_as_millimetres() -> None:
    board = {
        "scale": '"65cm"',
        "treble_scale": '"600mm"',
        "perpendicular": "7",
        "nut_offset": '"0.5mm"',
        "end_fret": "12",
        "overhang": '"8mm"',
        "radius": '"12in"',
        "end_radius": '"16in"',
        "thickness": '"1/4in"',
        "slot_width": '"23thou"',
        "slot_depth": '"2mm"',
        "left_handed": "true",
        "channel": '{ width = "1/4in", depth = "3mm", end = "400mm" }',
        "bed_length": '"300mm"',
        "pin_diameter": '"1/8in"',
    }
    found = job(board).board
    assert found is not None
    made = found.board
    assert made.scale == Scale(bass=650.0, treble=600.0, frets=22, perpendicular=7, nut_offset=0.5)
    assert (made.nut_width, made.end_width, made.end_fret, made.overhang) == (43.0, 57.0, 12, 8.0)
    assert (made.radius, made.end_radius, made.thickness) == pytest.approx((304.8, 406.4, 6.35))
    assert (made.slot_width, made.slot_depth, made.left_handed) == (pytest.approx(0.5842), 2.0, True)
    assert made.channel == Channel(width=6.35, depth=3.0, end=400.0)
    assert found.bed == Bed(length=300.0, pin_diameter=3.175)


def test_markers_come_in_with_their_own_and_with_what_single_frets_have() -> None:
    rest = """
        [markers]
        set = "mandolin"
        doubles = [12]
        shape = "block"
        margin = "1mm"
        width_share = 0.5
        spread = 0.4
        cut = "after"
        proud = "0.2mm"
        least_left = 0.4
        [markers.side]
        frets = [5, 12]
        [[markers.at]]
        fret = 5
        drawing = "leaf.svg"
        turn_deg = 90
        [[markers.at]]
        fret = 7
        width = "20mm"
        [piece]
        thickness = "1.5mm"
    """
    found = job(rest=rest).board
    assert found is not None
    assert found.markers.set == "mandolin"
    assert found.markers.doubles == (12,)
    assert found.markers.style == Style(shape="block", margin=1.0, width_share=0.5, spread=0.4)
    assert found.markers.overrides == {
        5: Style(shape="drawing", margin=1.0, spread=0.4, turn_deg=90.0),
        7: Style(shape="block", margin=1.0, spread=0.4, width=20.0),
    }
    assert found.markers.side == SideDots(frets=(5, 12))
    assert found.drawings == {5: Artwork(path=Path("jobs/leaf.svg"), key="markers.at[0].drawing")}
    assert found.depth == DepthSettings(sheet=1.5, cut="after", proud=0.2, least_left=0.4)


def test_a_board_alone_has_the_usual_dots() -> None:
    found = job().board
    assert found is not None
    assert found.markers.style == Style()
    assert found.board.scale.divisions == 12
    assert found.bed is None


# -- what cannot be -------------------------------------------------------------------------------------------------

BAD = [
    ("zero scale", {"scale": "0"}, "", "board.scale", "more than zero"),
    ("negative scale", {"scale": '"-650mm"'}, "", "board.scale", "more than zero"),
    ("no scale", {"scale": ""}, "", "board", "`scale`"),
    ("a scale of a kilometre", {"scale": '"90m"'}, "", "board.scale", "at most 3000 mm"),
    ("no frets", {"frets": "0"}, "", "board.frets", "1 to 200"),
    ("five hundred frets", {"frets": "500"}, "", "board.frets", "1 to 200"),
    ("half a fret", {"frets": "22.5"}, "", "board.frets", "whole number"),
    ("no divisions", {"divisions": "0"}, "", "board.divisions", "1 to"),
    ("a square fret without a fan", {"perpendicular": "7"}, "", "board.perpendicular", "one scale"),
    ("a square fret that is none", {"perpendicular": "30", "treble_scale": "600"}, "", "board.perpendicular", "30"),
    ("radius under half the width", {"radius": "20"}, "", "board.radius", "smaller than half"),
    ("end radius under half", {"radius": "300", "end_radius": "20"}, "", "board.end_radius", "smaller than half"),
    ("a radius of nought", {"radius": "0"}, "", "board.radius", "more than zero"),
    ("edges that cross", {"end_width": "12", "end_fret": "3"}, "", "board.end_width", "would cross"),
    ("an end fret that is none", {"end_fret": "30"}, "", "board.end_fret", "no fret 30"),
    ("a nut of nought", {"nut_width": "0"}, "", "board.nut_width", "more than zero"),
    ("a negative overhang", {"overhang": "-1"}, "", "board.overhang", "less than zero"),
    ("slots of nought", {"slot_width": "0"}, "", "board.slot_width", "more than zero"),
    ("a nut beyond fret 1", {"nut_offset": "50"}, "", "board.nut_offset", "beyond fret 1"),
    ("a channel the wrong way", {"channel": "{width=6,depth=3,start=9,end=8}"}, "", "board.channel.end", "before"),
    ("a channel without a depth", {"channel": "{width=6}"}, "", "board.channel", "`depth`"),
    ("a slip in a channel", {"channel": "{width=6,dept=3}"}, "", "board.channel.dept", "no such key"),
    ("a bed of nought", {"bed_length": "0"}, "", "board.bed_length", "more than zero"),
    ("a slip in a key", {"raduis": "300"}, "", "board.raduis", "no such key"),
    ("a shape that is none", {}, '[markers]\nshape = "disc"', "markers.shape", "none of the choices"),
    ("a set that is none", {}, '[markers]\nset = "gitar"', "markers.set", "none of the choices"),
    ("a share of nought", {}, '[markers]\nshape="block"\nwidth_share = 0', "markers.width_share", "number > 0"),
    ("a size and a share", {}, '[markers]\nshape="block"\nwidth=9\nwidth_share=0.1', "markers.width", "at once"),
    ("a width of a dot", {}, "[markers]\nwidth = 9", "markers.width", "other than a dot"),
    ("a diameter of a block", {}, '[markers]\nshape="block"\ndiameter = 9', "markers.diameter", "for a dot"),
    ("a split dot", {}, "[markers]\nsplit = 1", "markers.split", "split block"),
    ("a drawing that is not named", {}, '[markers]\nshape = "drawing"', "markers.drawing", "which drawing"),
    ("an edge without a distance", {}, '[markers]\nalong = "bass"', "markers.edge_distance", "how far"),
    ("a distance without an edge", {}, "[markers]\nedge_distance = 5", "markers.along", "which edge"),
    ("a text for a list", {}, '[markers]\nfrets = "3, 5"', "markers.frets", "a list"),
    ("a negative margin", {}, "[markers]\nmargin = -1", "markers.margin", "less than zero"),
    ("a cut that is none", {}, '[markers]\ncut = "later"', "markers.cut", "none of the choices"),
    ("a slip at a fret", {}, "[[markers.at]]\nfret = 3\nwidht = 3", "markers.at[0].widht", "no such key"),
    ("a fret twice", {}, "[[markers.at]]\nfret = 3\n[[markers.at]]\nfret = 3", "markers.at[1].fret", "twice"),
    ("no fret at all", {}, "[[markers.at]]\nmargin = 3", "markers.at[0]", "`fret`"),
    ("side dots of nought", {}, "[markers.side]\ndiameter = 0", "markers.side.diameter", "more than zero"),
    ("a drawing beside the board", {}, '[drawing]\nfile = "a.svg"', "drawing", "at once"),
    ("a sheet of nought", {}, "[piece]\nthickness = 0", "piece.thickness", "more than zero"),
]


@pytest.mark.parametrize(("board", "rest", "key", "says"), [row[1:] for row in BAD], ids=[row[0] for row in BAD])
def test_what_is_wrong_is_named_by_its_key(board: dict[str, str], rest: str, key: str, says: str) -> None:
    with pytest.raises(InlayfitError) as error:
        job(board, rest)
    assert error.value.where == f"neck.toml: {key}"
    assert says in error.value.message
    assert error.value.remedy


def test_markers_want_a_board() -> None:
    with pytest.raises(InlayfitError) as error:
        read_job("[markers]\nfrets = [3]", source="neck.toml", folder=Path())
    assert error.value.where == "neck.toml: markers"


def test_a_nut_wider_than_the_end_is_allowed() -> None:
    found = job({"nut_width": "60", "end_width": "45"}).board
    assert found is not None
    assert found.board.flare < 0


# -- from the command line ------------------------------------------------------------------------------------------


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COLUMNS", raising=False)
    (tmp_path / "leaf.svg").write_text(LEAF, encoding="utf-8")
    (tmp_path / "empty.svg").write_text(EMPTY, encoding="utf-8")
    return tmp_path


def fit(here: Path, capsys, board: dict[str, str], rest: str, *words: str) -> tuple[int, str, str]:
    (here / "neck.toml").write_text(text_of(board, rest), encoding="utf-8")
    code = main(["fit", "neck.toml", *words])
    out, err = capsys.readouterr()
    return code, out, err


def test_a_board_is_fitted_drawn_and_reported(here: Path, capsys) -> None:
    board = {"radius": '"12in"', "thickness": "6.4", "overhang": "8", "slot_depth": "2"}
    code, out, err = fit(here, capsys, board, "[markers.side]\n" + CUT, "--json")
    assert (code, err) == (0, "")
    found = json.loads(out)
    third = found["markers"][0]
    assert (third["name"], third["fret"], third["shape"]) == ("fret 3", 3, "dot")
    assert third["x"] == pytest.approx(86.858, abs=0.0005)
    assert third["drop_mm"] == pytest.approx(304.8 - (304.8**2 - 9) ** 0.5, abs=1e-6)
    assert third["pocket_depth_mm"] == pytest.approx(1.4)
    assert third["left_mm"] == pytest.approx(1.4 - third["drop_mm"], abs=1e-6)
    assert third["wood_mm"] == pytest.approx(5.0)
    assert found["board"]["length_mm"] == pytest.approx(465.945 + 8, abs=0.001)
    assert [line["fret"] for line in found["board"]["fret_lines"]] == list(range(1, 23))
    assert found["setups"] == []
    assert found["drops_in"] is True
    kinds = {file["kind"] for file in found["files"]}
    assert kinds == {
        *(f"{stem}-{suffix}" for stem in ("pieces", "pockets", "board") for suffix in ("dxf", "svg")),
        "page",
        "side-dots-csv",
        "report",
    }
    report = json.loads((here / "neck-fit" / "report.json").read_text(encoding="utf-8"))
    assert report | {"files": []} == found | {"files": []}
    with (here / "neck-fit" / "side-dots.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["fret"] for row in rows] == ["3", "5", "7", "9", "12", "12", "15", "17", "19", "21"]
    assert float(rows[0]["along_edge_mm"]) == pytest.approx(found["side_dots"][0]["along_edge_mm"], abs=0.0005)


def entities(path: Path) -> dict[str, list[Any]]:
    found: dict[str, list[Any]] = {}
    for entity in ezdxf.readfile(path).modelspace():
        found.setdefault(f"{entity.dxf.layer} {entity.dxftype()}", []).append(entity)
    return found


def test_the_drawing_of_the_board_holds_outline_slots_centre_line_and_pockets(here: Path, capsys) -> None:
    assert fit(here, capsys, {}, CUT)[0] == 0
    found = entities(here / "neck-fit" / "board.dxf")
    counts = {name: len(of_kind) for name, of_kind in found.items() if not name.startswith("GUIDE")}
    assert counts == {
        "BOARD_OUTLINE LWPOLYLINE": 1,
        "SLOT_OUTLINE LWPOLYLINE": 22,
        "SLOT_PATH LINE": 22,
        "POCKET_OUTLINE LWPOLYLINE": 10,
        "POCKET_PATH LWPOLYLINE": 10,
    }
    (centre,) = found["GUIDE LINE"]
    assert centre.dxf.start.y == centre.dxf.end.y == 0.0
    outline = [tuple(point) for point in found["BOARD_OUTLINE LWPOLYLINE"][0].get_points("xy")]
    assert (0.0, -21.5) in [(round(x, 6), round(y, 6)) for x, y in outline]
    xs = sorted(line.dxf.start.x for line in found["SLOT_PATH LINE"])
    for fret, x in enumerate(xs, start=1):
        assert x == pytest.approx(647.7 * (1 - 2 ** (-fret / 12)), abs=0.0005)


def test_a_maker_reads_each_marker_with_its_depth(here: Path, capsys) -> None:
    code, out, _ = fit(here, capsys, {"radius": '"12in"'}, CUT)
    assert code == 0
    assert out.startswith("They fit: 10 pieces and 10 pockets")
    assert "Board: scale 647.7 mm, 22 frets" in out
    assert "fret 12 treble" in out
    code, out, _ = fit(here, capsys, {}, CUT.replace('thickness = "1.5mm"\n', ""))
    assert code == 0
    assert "For depths give piece.thickness" in out


def test_a_marker_that_is_sanded_through_is_exit_code_one(here: Path, capsys) -> None:
    code, out, _ = fit(here, capsys, {"radius": '"7.25in"'}, '[markers]\nshape = "block"\n' + CUT.replace("1.5", "1.0"))
    assert code == 1
    assert "sanding goes through the sheet of 1 mm" in " ".join(out.split())


def test_a_longer_board_is_split_into_setups_of_the_machines_own(here: Path, capsys) -> None:
    code, out, err = fit(here, capsys, {"bed_length": "250"}, CUT, "--json")
    assert (code, err) == (0, "")
    found = json.loads(out)
    one, after, *_ = found["setups"]
    assert one["pins_mm"][-2:] == after["pins_mm"][:2]
    assert sorted(fret for setup in found["setups"] for fret in setup["frets"]) == list(range(1, 23))
    assert sum(len(setup["pockets"]) for setup in found["setups"]) == 10
    for setup in found["setups"]:
        drawn = entities(here / "neck-fit" / f"board-setup-{setup['number']}.dxf")
        assert len(drawn["SLOT_PATH LINE"]) == len(setup["frets"])
        assert len(drawn["PIN_HOLE LWPOLYLINE"]) == len(setup["pins_mm"])
        xs = [line.dxf.start.x + setup["shift_mm"] for line in drawn["SLOT_PATH LINE"]]
        meant = [647.7 * (1 - 2 ** (-fret / 12)) for fret in setup["frets"]]
        assert sorted(xs) == pytest.approx(meant, abs=0.0005)
        ends = [end.x for line in drawn["BOARD_OUTLINE LINE"] for end in (line.dxf.start, line.dxf.end)]
        assert max(ends) - min(ends) <= 250.0 + 1e-6
    assert len(entities(here / "neck-fit" / "board.dxf")["PIN_HOLE LWPOLYLINE"]) == 2 * (len(found["setups"]) - 1)


def test_a_drawing_without_a_unit_is_set_in_by_its_own_size(here: Path, capsys) -> None:
    markers = '[markers]\ndrawing = "leaf.svg"\nlength = "24mm"\nfrets = [3]\n'
    code, out, err = fit(here, capsys, {}, markers + CUT, "--json")
    assert (code, err) == (0, "")
    found = json.loads(out)
    assert found["markers"][0]["length_mm"] == pytest.approx(24.0, abs=0.001)
    assert found["pieces"][0]["name"] == "fret 3 leaf"
    piece = shapely.box(*found["pieces"][0]["bounds_mm"])
    assert piece.centroid.x == pytest.approx(found["markers"][0]["x"], abs=0.001)
    assert piece.centroid.y == pytest.approx(0.0, abs=0.001)


LATE = [
    ("a marker fret that is none", {}, "[markers]\nfrets = [3, 40]\n", [], "neck.toml: markers.frets"),
    ("a drawing with no region", {}, '[markers]\ndrawing = "empty.svg"\n', [], "neck.toml: markers.drawing: empty.svg"),
    ("one at a fret", {}, '[[markers.at]]\nfret = 3\ndrawing = "empty.svg"\n', [], "neck.toml: markers.at[0].drawing"),
    (
        "a drawing that is not there",
        {},
        '[markers]\ndrawing = "none.svg"\n',
        [],
        "neck.toml: markers.drawing: none.svg",
    ),
    ("no room for a block", {}, '[markers]\nshape = "block"\nmargin = 12\n', [], "neck.toml: markers.margin"),
    ("a bed that is too short", {"bed_length": "60"}, "", [], "neck.toml: board.bed_length"),
    ("a width on the command line", {}, "", ["--width", "3"], "--width"),
]


@pytest.mark.parametrize(("board", "rest", "words", "where"), [row[1:] for row in LATE], ids=[row[0] for row in LATE])
def test_what_is_found_wrong_later_is_named_as_well_and_nothing_is_written(
    board: dict[str, str], rest: str, words: list[str], where: str, here: Path, capsys
) -> None:
    code, out, err = fit(here, capsys, board, rest + CUT, *words)
    assert (code, out) == (2, "")
    assert where in err
    assert len(err.splitlines()) == 2
    assert not (here / "neck-fit").exists()


# -- whatever stands at a key ---------------------------------------------------------------------------------------

ODD = ["0", "-1", "1e400", "nan", "-inf", "true", '""', '" "', "[]", "[1]", "[[1]]", "{}", "{ a = 1 }", "1979-05-27"]
ODD += ["9" * 400, '"1/0in"', "0x10", '"block"', "1e-300", '"1e-9mm"', '"100m"', "[true]", "[1, 2.5]", "[99999999999]"]


WHERE = [
    *(("board", key) for key in BoardTable.__struct_fields__),
    *(("board.channel", key) for key in ChannelTable.__struct_fields__),
    *(("markers", key) for key in MarkersTable.__struct_fields__),
    *(("markers.side", key) for key in SideTable.__struct_fields__),
    *(("markers.at", key) for key in MarkTable.__struct_fields__),
]


@pytest.mark.parametrize(("table", "key"), WHERE, ids=[".".join(where) for where in WHERE])
def test_whatever_stands_at_a_key_gives_a_board_with_markers_or_a_clear_error(table: str, key: str) -> None:
    refused = 0
    usual = {"board": {}, "board.channel": {"width": "6", "depth": "1"}, "markers.at": {"fret": "5"}}.get(table, {})
    for value in ODD:
        own = usual | {key: value}
        head = "" if table == "board" else f"[[{table}]]\n" if table == "markers.at" else f"[{table}]\n"
        rest = "" if table == "board" else head + "".join(f"{name} = {text}\n" for name, text in own.items())
        try:
            made = job(own if table == "board" else {}, rest).board
            assert made is not None
            if not made.drawings:
                lay_out(made.board, made.markers)
                side_dots(made.board, made.markers)
        except InlayfitError as error:
            assert error.where, value  # noqa: PT017
            assert error.remedy, value  # noqa: PT017
            refused += 1
    assert refused > len(ODD) / 3, "most of these are of no use anywhere"
