"""The page of a fit: it stands alone, it says what report.json says, and names stay names."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import lxml.html
import pytest
import shapely

from inlayfit.board_recipe import BoardFit, fit_board
from inlayfit.board_sheets import BoardDrawn, drawn
from inlayfit.cli import main
from inlayfit.cli.folder import document, shown_sheet
from inlayfit.cutters import make_bit
from inlayfit.errors import WriteError
from inlayfit.expected import Premises, expect
from inlayfit.half_sheets import sheets_of
from inlayfit.marker_depth import DepthSettings
from inlayfit.marker_shapes import Style
from inlayfit.markers import MarkerSettings, SideDots
from inlayfit.readback import read_back_page
from inlayfit.report.board_terminal import depth_legend
from inlayfit.report.page import page_bytes
from inlayfit.report.page.bench import SOFTENED, WORDS
from inlayfit.report.page.drawing import LAYERS
from inlayfit.report.page.pattern import HIGH, WIDE, Tile, registration_marks, tiles
from inlayfit.report.page.resources import script, style_sheet
from inlayfit.setups import Bed
from inlayfit.sheet import LAYER_COLOURS, Sheet
from inlayfit.units import MM_PER_INCH
from inlayfit.write.svg import layer_lines
from tests.boards import a_board

ROOT = Path(__file__).resolve().parent.parent
OF_ALL = ["bench", "expect", "season", "blanks", "programs", "pieces", "pockets", "reading", "files", "cautions"]
BOARD_TABLES = ["markers", "depths", "side-dots", "setups"]
OF_BOARDS = ["bench", "expect", "pieces", "pockets", *BOARD_TABLES, "reading", "files", "cautions"]
UNLESS = {"season", "blanks", "programs"}
"""These stand only where the job asks for them."""
LOADING = {"link", "img", "image", "iframe", "object", "embed", "base", "form", "audio", "video"}
LINKING = {"src", "href", "srcset", "action", "data", "poster", "background"}
LEAF = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 20">'
    '<path id="&lt;script&gt;alert(1)&lt;/script&gt;" d="M0 10C10 0 30 0 40 10C30 20 10 20 0 10Z"/></svg>'
)

Row = list[str]


def rows_of(page: lxml.html.HtmlElement, section: str) -> list[Row]:
    """Return the rows below the headings, cell by cell."""
    return [[cell.text_content() for cell in row] for row in page.xpath(f'//section[@id="{section}"]//tbody/tr')]


def agree(row: Row, meant: list[float | None]) -> None:
    """Hold three decimals on the page against the report, which has six."""
    assert [None if cell == "-" else float(cell) for cell in row] == pytest.approx(meant, abs=0.0005 + 1e-6)


BOARDS = pytest.mark.parametrize("demo", ["block-board", "willow-board"], indirect=True)


@pytest.fixture(scope="module", params=["heron-emblem", "heron-headstock", "block-board", "willow-board"])
def demo(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("page") / request.param
    assert main(["fit", str(ROOT / "demo" / f"{request.param}.toml"), "--out", str(out)]) == 0
    return out


@pytest.fixture
def page(demo: Path) -> lxml.html.HtmlElement:
    return lxml.html.fromstring((demo / "report.html").read_bytes())


@pytest.fixture
def report(demo: Path) -> dict:
    return json.loads((demo / "report.json").read_text(encoding="utf-8"))


def board() -> BoardDrawn:
    """Return a board with dots and side dots on a bed that is too short for it."""
    made = a_board(radius=304.8, thickness=6.0)
    result = fit_board(
        made,
        MarkerSettings(frets=(3, 12), side=SideDots()),
        DepthSettings(sheet=1.5),
        piece_cutter=make_bit(0.8),
        pocket_cutter=make_bit(0.8),
        gap=0.05,
    )
    return drawn(result, Bed(length=250.0))


# -- it stands alone ------------------------------------------------------------------------------------------------


def test_the_page_is_well_formed_for_both_kinds_of_reader(demo: Path) -> None:
    content = (demo / "report.html").read_bytes()
    assert ElementTree.fromstring(content).tag == "html"
    page = lxml.html.document_fromstring(content)
    assert page.get("lang") == "en"
    assert page.xpath("//meta/@charset") == ["utf-8"]
    assert page.xpath("//meta[@name='viewport']")
    ids = page.xpath("//@id")
    assert len(ids) == len(set(ids))
    assert set(page.xpath("//@aria-labelledby")[0].split()) <= set(ids)


def test_the_page_asks_for_nothing_from_elsewhere(demo: Path, page: lxml.html.HtmlElement) -> None:
    text = (demo / "report.html").read_text(encoding="utf-8")
    assert not re.search(r"https?:|url\(|@import|javascript:|<link", text)
    assert not {node.tag for node in page.iter()} & LOADING
    for node in page.iter(lxml.html.etree.Element):
        linked = {name: value for name, value in node.attrib.items() if name in LINKING}
        assert all(name == "href" and value.startswith("#") for name, value in linked.items()), node.tag
        assert not {name for name in node.attrib if name.startswith("on") or name == "style"}
    assert {value[1:] for value in page.xpath("//@href")} <= set(page.xpath("//@id"))


def test_the_page_may_run_nothing_but_its_own_style_and_script(page: lxml.html.HtmlElement) -> None:
    """The hashes are reckoned here from what a browser sees, by W3C, Content Security Policy Level 3, 6.7.2.3."""
    (told,) = page.xpath("//meta[@http-equiv='Content-Security-Policy']/@content")
    policy = dict(part.strip().split(" ", 1) for part in told.split(";"))
    assert policy.pop("default-src") == "'none'"
    for kind, path in (("style-src", "//style"), ("script-src", "//script[not(@type)]")):
        (node,) = page.xpath(path)
        digest = base64.b64encode(hashlib.sha256(node.text.encode()).digest()).decode()
        assert policy.pop(kind) == f"'sha256-{digest}'"
    assert set(policy.values()) == {"'none'"}
    assert len(page.xpath("//script")) == 2, "the other holds the report, and is not run"


def test_each_part_has_one_section_with_its_heading(demo: Path, page: lxml.html.HtmlElement, report: dict) -> None:
    meant = OF_BOARDS if "board" in demo.name else OF_ALL
    assert page.xpath("//section/@id") == [name for name in meant if name not in UNLESS or report.get(name)]
    assert all(len(section.xpath("./h2")) == 1 for section in page.xpath("//section"))
    assert len(page.xpath("//h1")) == 1


def test_the_drawing_is_told_to_those_who_do_not_see_it(page: lxml.html.HtmlElement) -> None:
    (svg,) = page.xpath("//svg[@id='figure']")
    assert svg.get("role") == "img"
    told = [svg.xpath(f"./*[@id='{name}']")[0] for name in svg.get("aria-labelledby").split()]
    assert [node.tag for node in told] == ["title", "desc"]
    assert all(node.text_content().strip() for node in told)


def test_whatever_scrolls_can_be_scrolled_with_the_keys(page: lxml.html.HtmlElement) -> None:
    scrolling = page.xpath("//*[@class='scroll']")
    assert {node.tag for box in scrolling for node in box} == {"table"}
    assert all(table.getparent().get("class") == "scroll" for table in page.xpath("//table"))
    assert {(box.get("tabindex"), box.get("role")) for box in scrolling} == {("0", "region")}


# -- it says the same -----------------------------------------------------------------------------------------------


def test_the_drawing_is_that_of_the_files_beside_it(demo: Path, page: lxml.html.HtmlElement) -> None:
    """Path by path, letter by letter."""
    meant: dict[str, list[str]] = {}
    base = "board.svg" if "board" in demo.name else "pockets.svg"
    for file in (demo / base, *demo.glob("pieces-*.svg")):
        root = ElementTree.fromstring(file.read_text(encoding="utf-8"))
        for group in root.iter("{http://www.w3.org/2000/svg}g"):
            paths = [path.get("d", "") for path in group.iter("{http://www.w3.org/2000/svg}path")]
            meant.setdefault(group.get("id", ""), []).extend(paths)
    assert len(meant) >= 5
    for name, paths in meant.items():
        assert sorted(page.xpath(f"//svg[@id='figure']//g[@id='{name}']/path/@d")) == sorted(paths)


def test_the_report_within_the_page_is_the_report_beside_it(page: lxml.html.HtmlElement, report: dict) -> None:
    assert json.loads(page.xpath("//script[@id='report']")[0].text) == report


def test_the_pieces_and_the_pockets_are_those_of_the_report(page: lxml.html.HtmlElement, report: dict) -> None:
    for row, piece in zip(rows_of(page, "pieces"), report["pieces"], strict=True):
        assert row[:3] == [piece[key] for key in ("name", "stock", "pocket")]
        agree(row[3:7], [piece["gap"][key] for key in ("nominal", "min", "mean", "max")])
    for row, pocket in zip(rows_of(page, "pockets"), report["pockets"], strict=True):
        assert row[:2] == [pocket["name"], ", ".join(pocket["pieces"])]
        left, bottom, right, top = pocket["bounds_mm"]
        steps = [zone["depth_mm"] for zone in pocket.get("zones", ())] or [pocket.get("depth_mm")]
        agree(row[2].split(" / "), steps)
        agree(row[3:5], [right - left, top - bottom])
        agree(row[6:], [pocket["path_length_mm"]])


def test_the_programs_are_those_of_the_report(page: lxml.html.HtmlElement, report: dict) -> None:
    rows, programs = rows_of(page, "programs"), report.get("programs", [])
    for row, one in zip(rows, programs, strict=True):
        assert row[:2] == [one["file"], one["of"]]
        agree([row[2], *row[5:7]], [one[key] for key in ("bit_mm", "pass_mm", "lowest_mm")])
        assert [float(cell) for cell in row[3:5]] == pytest.approx([one["rpm"], one["feed_mm_per_min"]], abs=0.5)
        assert float(row[7]) == pytest.approx(one["minutes"], abs=0.05)


@BOARDS
def test_the_markers_are_those_of_the_report(page: lxml.html.HtmlElement, report: dict) -> None:
    rows = rows_of(page, "markers")
    gaps = {piece["name"]: piece["gap"] for piece in report["pieces"]}
    assert sorted(row[7] for row in rows) == sorted(gaps), "each piece belongs to one marker"
    markers = {marker["name"]: marker for marker in report["markers"]}
    assert list(dict.fromkeys(row[0] for row in rows)) == list(markers)
    for row in rows:
        marker, gap = markers[row[0]], gaps[row[7]]
        assert row[1:3] == [str(marker["fret"]), marker["shape"]]
        agree(row[3:7], [marker[key] for key in ("x", "y", "length_mm", "width_mm")])
        agree(row[8:], [gap[key] for key in ("nominal", "min", "mean", "max")])


@BOARDS
def test_the_depths_are_those_of_the_report(page: lxml.html.HtmlElement, report: dict) -> None:
    rows = rows_of(page, "depths")
    assert [row[0] for row in rows] == [marker["name"] for marker in report["markers"]]
    for row, marker in zip(rows, report["markers"], strict=True):
        woods = [marker[key] for key in ("wood_mm", "wood_at_slot_mm", "wood_at_channel_mm")]
        least = min(wood for wood in woods if wood is not None)
        agree(row[1:], [marker["drop_mm"], marker["left_mm"], marker["pocket_depth_mm"], least])


@BOARDS
def test_the_side_dots_and_the_setups_are_those_of_the_report(page: lxml.html.HtmlElement, report: dict) -> None:
    keys = ("fret", "along_edge_mm", "over_back_mm", "diameter_mm", "depth_mm", "x", "y")
    rows = rows_of(page, "side-dots")
    assert len(rows) == len(report["side_dots"])
    for row, dot in zip(rows, report["side_dots"], strict=True):
        agree(row, [dot[key] for key in keys])
    setups = report["setups"] if len(report["setups"]) > 1 else []
    rows = rows_of(page, "setups")
    assert len(rows) == len(setups)
    for row, setup in zip(rows, setups, strict=True):
        agree(row[:4], [setup[key] for key in ("number", "start_mm", "end_mm", "shift_mm")])
        pins = [[float(number) for number in pin.split(", ")] for pin in row[4].split("; ")]
        assert pins == [pytest.approx(pin, abs=0.0005 + 1e-6) for pin in setup["pins_mm"]]


def test_every_place_of_the_report_stands_among_the_findings(page: lxml.html.HtmlElement, report: dict) -> None:
    """One place a site; its words, its remedy and its spot are those of one finding of that site."""
    sites: dict[tuple, list[dict]] = {}
    for number, finding in enumerate(report["findings"]):
        own = number if finding["site"] is None else (finding["part"], finding["name"], finding["site"])
        sites.setdefault(own, []).append(finding)
    links = page.xpath("//div[@class='lot']//a")
    assert len(links) == len(sites)
    assert sorted(int(link.get("id").removeprefix("place-")) for link in links) == list(range(1, len(links) + 1))
    for link in links:
        lot = link.xpath("ancestor::div[@class='lot']")[0]
        said = link.xpath("ancestor::div[@class='said']/p")[0].text_content()
        remedy, x, y = "".join(lot.xpath("p/text()")), float(link.get("data-x")), float(link.get("data-y"))
        finding = next(
            finding
            for finding in report["findings"]
            if (finding["message"], finding["remedy"]) == (said, remedy)
            and (finding["x"], finding["y"]) == pytest.approx((x, y), abs=0.0005 + 1e-6)  # one rounds to three digits
        )
        word = lot.xpath("ancestor::details/summary/b")[0].text_content()
        assert word in {WORDS[finding["severity"]], SOFTENED if finding["severity"] == "warning" else ""}
        assert finding["name"] in link.text_content()
        (pin,) = page.xpath(f"//g[@id='{link.get('href')[1:]}']")
        assert pin.get("transform") == f"translate({x:.3f} {-y:.3f})"


def test_the_blanks_are_drawn_as_in_their_files_and_listed_as_in_the_report(tmp_path: Path) -> None:
    assert main(["fit", str(ROOT / "demo" / "heron-blanks.toml"), "--out", str(tmp_path / "out")]) == 0
    page = lxml.html.fromstring((tmp_path / "out" / "report.html").read_bytes())
    report = json.loads((tmp_path / "out" / "report.json").read_text(encoding="utf-8"))
    figures = page.xpath("//section[@id='blanks']//figure")
    assert len(figures) == len(report["blanks"]) > 1
    for number, (figure, blank) in enumerate(zip(figures, report["blanks"], strict=True), start=1):
        file = tmp_path / "out" / f"blank-{blank['name'].replace(' ', '-')}.svg"
        root = ElementTree.fromstring(file.read_text(encoding="utf-8"))
        for group in root.iter("{http://www.w3.org/2000/svg}g"):
            meant = [path.get("d") for path in group.iter("{http://www.w3.org/2000/svg}path")]
            assert figure.xpath(f".//g[@class='{group.get('id')}']/path/@d") == meant or "PATH" in group.get("id")
        assert page.xpath(f"//div[@class='patterns']//use[@href='#blank-{number}']"), "and printed at true size"
    for row, meant in zip(rows_of(page, "blanks"), report["cut_list"], strict=True):
        assert row[:3] == [meant[key] for key in ("number", "piece", "stock")]
        agree(row[3:6], [meant[key] for key in ("length_mm", "width_mm", "area_mm2")])
        assert row[6] == meant["blank"] + (", mirrored" if meant["mirrored"] else "")
        agree(row[7:9], [meant[key] for key in ("x_mm", "y_mm")])
    assert sorted(page.xpath("//g[@class='number-of']//text/text()")) == sorted(
        row[0] for row in rows_of(page, "blanks")
    )


def test_the_report_names_the_page(report: dict) -> None:
    assert {"path": "report.html", "kind": "page"} in report["files"]


def test_the_cautions_stand_below(page: lxml.html.HtmlElement) -> None:
    assert "dust can harm lungs" in page.xpath("//section[@id='cautions']")[0].text_content()


def page_of(made: BoardDrawn, job: str = "neck") -> bytes:
    """Return the page of a board as the folder gets it."""
    result = made.result
    expected = expect(result.fit, Premises())
    report = document(result.fit, [], job, expected, made)
    return page_bytes(result.fit, report, shown(made), expected, board_line="Board", depth_legend=depth_legend(result))


def shown(made: BoardDrawn) -> Sheet:
    return shown_sheet([*sheets_of(made.result.fit), *made.sheets])


def test_a_board_without_a_sheet_says_what_is_missing() -> None:
    made = board()
    bare = fit_board(
        made.result.board,
        MarkerSettings(frets=(3,)),
        piece_cutter=make_bit(0.8),
        pocket_cutter=make_bit(0.8),
        gap=0.05,
    )
    page = lxml.html.fromstring(page_of(drawn(bare, None), job="bare"))
    assert "give piece.thickness" in page.xpath("//section[@id='depths']")[0].text_content()
    assert rows_of(page, "depths")[0][2:4] == ["-", "-"]
    for section in ("side-dots", "setups"):
        assert rows_of(page, section) == []
        assert page.xpath(f"//section[@id='{section}']/p")


def test_a_marker_of_which_nothing_is_left_still_has_its_row() -> None:
    made = board()
    result = made.result
    lost = replace(result, pockets=((), *result.pockets[1:]))
    rows = rows_of(lxml.html.fromstring(page_of(replace(made, result=lost), job="lost")), "markers")
    assert rows[0][0] == "fret 3"
    assert rows[0][7:] == ["none is left", "-", "-", "-", "-"]


def test_the_same_board_gives_the_same_page() -> None:
    assert page_of(board()) == page_of(board())


# -- names stay names -----------------------------------------------------------------------------------------------

NASTY = "<script>alert('1')</script> & \"<b>\" \x00\u202e"


def test_names_stay_names_wherever_they_stand() -> None:
    made = board()
    result: BoardFit = made.result
    fit = result.fit
    finding = replace(board_findings()[0], name=NASTY, message=NASTY, remedy=NASTY)
    nasty = replace(
        result,
        markers=tuple(replace(marker, name=NASTY) for marker in result.markers),
        fit=replace(
            fit,
            pieces=tuple(replace(piece, name=NASTY) for piece in fit.pieces),
            findings=(finding, *fit.findings),
        ),
    )
    sheet = replace(made.sheets[0], title=NASTY, labels=((1.0, 1.0, 2.0, NASTY),))
    content = page_of(replace(made, result=nasty, sheets=(sheet,)), job=NASTY)
    ElementTree.fromstring(content)
    page = lxml.html.document_fromstring(content)
    assert len(page.xpath("//script")) == 2
    assert "alert" not in page.xpath("//script[not(@type)]")[0].text
    assert json.loads(page.xpath("//script[@id='report']")[0].text)["job"] == NASTY
    shown = "<script>alert('1')</script> & \"<b>\""
    assert page.xpath("//h1")[0].text_content() == shown
    assert page.xpath("//head/title")[0].text_content().startswith(shown)
    assert page.xpath("//svg/title")[0].text_content() == shown
    assert page.xpath("//svg//text")[0].text_content() == shown
    assert rows_of(page, "markers")[0][0] == rows_of(page, "markers")[0][7] == rows_of(page, "depths")[0][0] == shown
    assert shown in page.xpath("//p[@class='what']/text()")
    assert shown in page.xpath("//p[@class='remedy']/text()")
    assert shown in page.xpath("//select[@id='walk-piece']/option/text()")


def board_findings() -> tuple:
    """Return findings that a real board has: blocks whose corners are rounded."""
    made = board().result.board
    result = fit_board(
        made,
        MarkerSettings(frets=(3,), style=Style(shape="block")),
        piece_cutter=make_bit(0.8),
        pocket_cutter=make_bit(0.8),
        gap=0.05,
    )
    assert result.fit.findings
    return result.fit.findings


def test_a_name_from_a_drawing_stays_a_name_all_the_way(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "leaf.svg").write_text(LEAF, encoding="utf-8")
    (tmp_path / "neck.toml").write_text(
        '[board]\nscale = 650\nfrets = 22\nnut_width = 43\nend_width = 57\n[markers]\ndrawing = "leaf.svg"\n'
        "length = 24\nfrets = [3]\n[piece]\nbit = 0.8\n[pocket]\nbit = 0.8\n[fit]\ngap = 0.05\n",
        encoding="utf-8",
    )
    assert main(["fit", "neck.toml"]) == 0
    page = lxml.html.document_fromstring((tmp_path / "neck-fit" / "report.html").read_bytes())
    assert len(page.xpath("//script")) == 2
    assert rows_of(page, "markers")[0][7] == "fret 3 <script>alert(1)</script>"


# -- it is checked, and can be read ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("good", "bad"),
    [('<g id="SLOT_PATH"', '<g id="GUIDES"'), ("</main>", ""), ('Z"/>', 'L9 9Z"/>'), ('<line x1="', '<line x1="1')],
)
def test_a_page_whose_drawing_is_not_the_board_is_refused(good: str, bad: str, tmp_path: Path) -> None:
    made = board()
    path = tmp_path / "report.html"
    text = page_of(made).decode()
    path.write_text(text, encoding="utf-8")
    assert read_back_page(path, shown(made)).largest_deviation < 1e-5
    start = text.index('<g id="SLOT_PATH"' if "<" in good else '<g id="')
    path.write_text(text[:start] + text[start:].replace(good, bad, 1), encoding="utf-8")
    with pytest.raises(WriteError):
        read_back_page(path, shown(made))


def test_a_page_that_does_not_read_back_keeps_the_folder_from_being_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("inlayfit.report.page.drawing.layer_lines", lambda *which: layer_lines(*which)[:-1])
    code = main(["fit", str(ROOT / "demo" / "block-board.toml"), "--out", str(tmp_path / "out")])
    assert code != 0
    assert "report.html" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def luminance(colour: str) -> float:
    """Return the relative luminance of #rrggbb; source: WCAG 2.2, "relative luminance"."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def colours(light: str) -> dict[str, str]:
    """Return the colours by day, or those by night."""
    rules = style_sheet()
    block = rules.split("data-light=night] {")[1] if light == "night" else rules
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", block.partition("}")[0]))


@pytest.mark.parametrize("light", ["day", "night"])
def test_text_and_lines_stand_out_from_the_paper(light: str) -> None:
    """WCAG 2.2: 4.5 for text (1.4.3), 3 for lines that carry meaning (1.4.11)."""
    found = colours(light)
    for paper in ("paper", "sheet", "wash"):
        for name in ("text", "quiet", "loss", "softened", "warning", "note", "accent"):
            assert contrast(found[name], found[paper]) >= 4.5, (name, paper)
    for name in LAYER_COLOURS:
        assert contrast(found[name], found["sheet"]) >= 3, name
    assert contrast(found["edge"], found["paper"]) >= 3
    assert contrast(found["on-accent"], found["accent"]) >= 4.5


def test_day_and_night_have_the_same_colours() -> None:
    assert colours("day").keys() == colours("night").keys()


def test_nothing_in_the_style_or_the_script_ends_its_element_or_its_section() -> None:
    """HTML ends them at the first end tag, XML at the first end of a CDATA section."""
    for content in (style_sheet(), script()):
        assert not re.search(r"</|<!--|\]\]>", content)


def test_each_layer_of_a_file_is_shown_by_one_switch() -> None:
    assert sorted(name for layer in LAYERS for name in layer.groups) == sorted(LAYER_COLOURS)


# -- the pattern at true size ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "pages"), [((40.0, 60.0), 1), ((WIDE, HIGH), 1), ((WIDE + 1, 50.0), 2), ((470.0, 300.0), 6)]
)
def test_the_pages_of_a_pattern_cover_it_and_share_their_marks(size: tuple[float, float], pages: int) -> None:
    found = list(tiles(-3.0, 7.0, *size))
    assert len(found) == pages
    covered = shapely.union_all([shapely.box(t.left, t.top, t.left + WIDE, t.top + HIGH) for t in found])
    assert covered.covers(shapely.box(-3, 7, size[0] - 3, size[1] + 7))
    for tile in found:
        sheet = shapely.box(tile.left, tile.top, tile.left + WIDE, tile.top + HIGH)
        for other in found:
            if abs(tile.row - other.row) + abs(tile.column - other.column) == 1:
                both = sheet.intersection(shapely.box(other.left, other.top, other.left + WIDE, other.top + HIGH))
                shared = marks(tile) & marks(other)
                assert len(shared) >= 2, "two marks bring two pages together"
                assert all(both.covers(shapely.Point(*spot)) for spot in shared)


def marks(tile: Tile) -> set[tuple[float, float]]:
    """Return where the registration marks of a page lie, in the drawing."""
    found = re.findall(r'cx="([-.\d]+)" cy="([-.\d]+)"', "".join(registration_marks(tile, HIGH)))
    return {(float(x), float(y)) for x, y in found}


def test_a_page_of_the_pattern_fits_both_usual_papers() -> None:
    """ISO 216: A4 is 210 x 297 mm. ANSI/ASME Y14.1: A is 8.5 x 11 in. Each with the margin of 10 mm of the style."""
    assert "@page { margin: 10mm; }" in style_sheet()
    title_bars_and_note = 30.0
    assert min(210.0, 8.5 * MM_PER_INCH) - 20 >= WIDE
    assert min(297.0, 11 * MM_PER_INCH) - 20 >= HIGH + title_bars_and_note
