"""The tables [[blank]] of a job: what they say, and what is refused with its place."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest
import shapely

from inlayfit.blanks import outline_of
from inlayfit.cli import main
from inlayfit.drawing import Drawing, ReadNote, Region
from inlayfit.errors import JobError
from inlayfit.job import Job, read_job

HEAD = """
[drawing]
file = "tiles.svg"
[piece]
bit = "0.8mm"
thickness = "1.5mm"
[pocket]
bit = "0.8mm"
[fit]
gap = "0.05mm"
"""

TILES = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="20mm" viewBox="0 0 40 20">'
    '<rect width="10" height="12"/><rect x="20" width="8" height="8"/></svg>'
)


def job_with(blank: str, head: str = HEAD) -> Job:
    return read_job(f"{head}\n{blank}", source="job.toml", folder=Path("jobs"))


def refusal(blank: str, head: str = HEAD) -> str:
    with pytest.raises(JobError) as caught:
        job_with(blank, head)
    return str(caught.value)


def test_blanks_of_one_kind_are_counted_on() -> None:
    job = job_with(
        '[[blank]]\nwidth = "1in"\nheight = 35\ncount = 2\n[[blank]]\nname = "keepsake"\nwidth = 20\nheight = 20'
    )
    blanks = [blank for kind in job.blanks for blank in kind.made]
    assert [blank.name for blank in blanks] == ["shell 1", "shell 2", "keepsake"]
    assert blanks[0].size == (25.4, 35.0)
    assert (blanks[0].clearance, blanks[0].margin) == (0.5, 1.5)


def test_a_drawing_is_found_from_where_the_job_lies() -> None:
    assert job_with('[[blank]]\ndrawing = "abalone.dxf"').blanks[0].drawing == Path("jobs/abalone.dxf")


@pytest.mark.parametrize(
    ("blank", "said"),
    [
        ("width = 30\nheight = 20\ncount = 0", "job.toml: blank[0].count: a count of 0"),
        ("width = 30\nheight = 20\ncount = 100000", "job.toml: blank[0].count"),
        ("width = 0\nheight = 20", "job.toml: blank[0].width"),
        ("width = 30\nheight = -20", "job.toml: blank[0].height"),
        ("width = 30\nheight = 0.01", "job.toml: blank[0].height: 0.01 is less than 3 mm"),
        ('width = "30m"\nheight = 20', "job.toml: blank[0].width: 30m is more than 1000 mm"),
        ("width = nan\nheight = 20", "job.toml: blank[0].width"),
        ("width = 30", "job.toml: blank[0].height: the blank lacks its height"),
        ("", "job.toml: blank[0].width: the blank lacks its width"),
        ('width = 30\ndrawing = "a.dxf"', "job.toml: blank[0].drawing: a size and a drawing at once"),
        ('width = 30\nheight = 20\nstock = "horn"', "job.toml: blank[0].stock: no stock is called 'horn'"),
        ("width = 30\nheight = 20\nfigure_deg = inf", "job.toml: blank[0].figure_deg"),
        ("width = 30\nheight = 20\nmargin = -1", "job.toml: blank[0].margin"),
        ('width = 30\nheight = 20\nclearance = "2 cubits"', "job.toml: blank[0].clearance"),
        ("width = 30\nheight = 20\nthickness = 0", "job.toml: blank[0].thickness"),
        ("width = 30\nheight = 20\ncolour = 1", "job.toml: blank[0].colour: no such key"),
    ],
)
def test_bad_keys_are_refused_with_their_place(blank: str, said: str) -> None:
    with pytest.raises(Exception, match=r".") as caught:
        job_with(f"[[blank]]\n{blank}")
    assert said in str(caught.value)


def test_an_unknown_stock_lists_the_known() -> None:
    stocks = HEAD.replace('thickness = "1.5mm"', "") + "[stock.pearl]\n[stock.horn]\nlayers = ['x']\n"
    assert "known: pearl, horn" in refusal('[[blank]]\nstock = "perl"\nwidth = 30\nheight = 20', stocks)
    assert "of which stock is this blank?" in refusal("[[blank]]\nwidth = 30\nheight = 20", stocks)


def run(folder: Path, blank: str, capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    (folder / "tiles.svg").write_text(TILES, encoding="utf-8")
    (folder / "job.toml").write_text(f"{HEAD}\n[[blank]]\n{blank}\n", encoding="utf-8")
    code = main(["fit", str(folder / "job.toml"), "--out", str(folder / "out")])
    return code, capsys.readouterr().err


def dxf(path: Path, *, close: bool) -> None:
    document = ezdxf.new(units=4)
    document.modelspace().add_lwpolyline([(5, 5), (45, 5), (40, 35), (5, 30)], close=close)
    document.saveas(path)


def test_a_blank_thinner_than_its_pieces_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, said = run(tmp_path, 'width = 30\nheight = 20\nthickness = "1.2mm"', capsys)
    assert code == 2
    assert "blank[0].thickness: 1.2 mm is thinner than the pieces of shell need (1.5 mm)" in said
    assert not (tmp_path / "out").exists()


def test_a_blank_of_which_nothing_is_left_within_its_margin_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, said = run(tmp_path, "width = 30\nheight = 20\nmargin = 10", capsys)
    assert code == 2
    assert "blank[0]: nothing is left of 30 mm by 20 mm" in said


def test_an_open_outline_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    dxf(tmp_path / "real.dxf", close=False)
    code, said = run(tmp_path, 'drawing = "real.dxf"', capsys)
    assert code == 2
    assert "blank[0].drawing: real.dxf" in said
    assert "open from" in said


def test_a_drawing_without_a_region_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "real.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm"/>', "utf-8")
    code, said = run(tmp_path, 'drawing = "real.svg"', capsys)
    assert code == 2
    assert "blank[0].drawing: real.svg: nothing in the drawing can be cut" in said


def test_a_drawing_that_is_not_there_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, said = run(tmp_path, 'drawing = "none.dxf"', capsys)
    assert code == 2
    assert "blank[0].drawing: none.dxf" in said


def test_a_real_outline_is_used_from_its_lower_left_corner(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    dxf(tmp_path / "real.dxf", close=True)
    code, _ = run(tmp_path, 'drawing = "real.dxf"', capsys)
    assert code == 0
    sheet = ezdxf.readfile(tmp_path / "out" / "blank-shell-1.dxf").modelspace()
    (edge,) = (line for line in sheet.query("LWPOLYLINE") if line.dxf.layer == "GUIDE")
    outline = shapely.Polygon([point[:2] for point in edge.get_points()])
    assert outline.equals_exact(shapely.Polygon([(0, 0), (40, 0), (35, 30), (0, 25)]), 1e-6, normalize=True)


def drawing_of(*polygons: shapely.Polygon, notes: tuple[ReadNote, ...] = ()) -> Drawing:
    regions = tuple(Region(polygon=polygon, name="r") for polygon in polygons)
    return Drawing(source="blank.svg", regions=regions, notes=notes)


def test_of_a_line_round_the_blank_its_inner_edge_counts() -> None:
    line = shapely.box(1, 1, 41, 31).exterior.buffer(0.2, join_style="mitre")
    assert outline_of(drawing_of(line), where="blank").bounds == pytest.approx((0, 0, 39.6, 29.6))


@pytest.mark.parametrize(
    ("drawing", "said"),
    [
        (drawing_of(shapely.LineString([(0, 0), (30, 0), (30, 20)]).buffer(0.2)), "the outline of the blank is open"),
        (drawing_of(shapely.box(0, 0, 9, 9), shapely.box(20, 0, 29, 9)), "2 outlines: a blank has one"),
        (
            drawing_of(shapely.box(0, 0, 9, 9), notes=(ReadNote(kind="open", subject="line", message="a hole"),)),
            "the outline of the blank is open: a hole",
        ),
    ],
)
def test_what_is_no_single_closed_outline_is_refused(drawing: Drawing, said: str) -> None:
    with pytest.raises(JobError, match=said):
        outline_of(drawing, where="blank[0].drawing")
