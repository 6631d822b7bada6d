"""The gap to expect as the maker meets it: in the report, in the JSON, by an option, and in the table of woods."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from inlayfit.cli import main
from inlayfit.woods import WOODS

JOB = """
[drawing]
file = "disc.svg"
[piece]
bit = "0.788mm"
runout = "0.01mm"
[pocket]
bit = "0.788mm"
runout = "0.01mm"
[fit]
gap = "{gap}"
{more}
"""
SEASON = """
[season]
wood = "sugar maple"
grain = "x"
sawn = "flat"
cut = { humidity = 50, temperature = "70F" }
driest = { humidity = 30, temperature = "70F" }
dampest = { humidity = 75, temperature = "70F" }
"""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return an empty directory with a drawing of two discs, and stand in it."""
    monkeypatch.chdir(tmp_path)
    circles = '<circle id="disc" cx="20" cy="20" r="10"/><circle id="dot" cx="45" cy="20" r="4"/>'
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">{circles}</svg>'
    (tmp_path / "disc.svg").write_text(svg, encoding="utf-8")
    return tmp_path


def fitted(
    capsys: pytest.CaptureFixture[str], *words: str, gap: str = "0.05mm", more: str = ""
) -> tuple[int, str, str]:
    Path("job.toml").write_text(JOB.format(gap=gap, more=more), encoding="utf-8")
    code = main(["fit", "job.toml", *words])
    out, err = capsys.readouterr()
    assert "Traceback" not in out + err
    return code, out, err


def test_a_season_of_the_handbooks_table_moves_a_pocket_as_by_hand(here: Path, capsys) -> None:
    """A disc of 20 mm in flat-sawn sugar maple, 0.00353 a per cent (table 13-5); 9.2 to 6.2 and 14.4 % (table 4-2).

    By hand: dry 0.05 - 20 x 0.00353 x 3.07 / 2 = -0.058, damp 0.05 + 20 x 0.00353 x 5.16 / 2 = 0.232 mm.
    """
    code, out, err = fitted(capsys, "--json", more=SEASON)
    assert (code, err) == (0, "")
    report = json.loads(out)
    moistures = [report["season"][time]["moisture_percent"] for time in ("cut", "dry", "damp")]
    assert moistures == pytest.approx([9.2, 6.2, 14.4], abs=0.06)
    disc = next(piece for piece in report["pieces"] if piece["name"] == "disc")
    assert disc["season"]["dry"]["across_mm"] == pytest.approx(-0.058, abs=0.002)
    assert disc["season"]["damp"]["across_mm"] == pytest.approx(0.232, abs=0.002)
    assert {finding["kind"] for finding in report["findings"]} == {"season-closes", "season-opens"}
    assert report == json.loads((here / "job-fit" / "report.json").read_text("utf-8")) | {"files": report["files"]}


def test_the_screen_tells_the_gap_to_expect_in_a_few_lines(here: Path, capsys) -> None:
    code, out, _ = fitted(capsys, more=f'{SEASON}[glue]\nkind = "cyanoacrylate"\n')
    assert code == 0
    lines = out.splitlines()
    block = lines[next(i for i, line in enumerate(lines) if line.startswith("Expect")) :]
    block = block[: block.index("")]
    assert len(block) <= 12
    for word in ("Expect", "Likely", "Spread by", "Change", "Glue", "Season"):
        assert any(line.startswith(word) for line in block)
    assert "drops in with no filing" in out


def test_a_gap_that_the_errors_eat_up_still_gives_a_fit_that_says_so_first(here: Path, capsys) -> None:
    code, out, _ = fitted(capsys, gap="0.005mm")
    assert code == 0, "a finding, no error"
    said = " ".join(out.split())
    assert "2 pieces may be tight: the errors of cutting can eat up the room." in said.partition("Read")[0]
    assert "a wider gap, 0.0" in said


def test_a_limit_of_the_command_line_takes_the_place_of_the_jobs(here: Path, capsys) -> None:
    _, out, _ = fitted(capsys, "--json", "--limit", "3thou", more='[tolerance]\nlimit = "0.3mm"\nrepeat = 0\n')
    expected = json.loads(out)["expect"]
    assert expected["limit_mm"] == pytest.approx(0.0762)
    assert {one["plus_minus_mm"] for one in expected["contributors"] if one["name"].startswith("machine")} == {0.0}


@pytest.mark.parametrize(("limit", "says"), [("0", "more than zero"), ("1in", "more than 5 mm"), ("wide", "no length")])
def test_a_limit_of_no_use_is_refused(limit: str, says: str, here: Path, capsys) -> None:
    code, _, err = fitted(capsys, "--limit", limit)
    assert code == 2
    assert "--limit" in err
    assert says in err


def test_the_wood_of_a_stock_that_nothing_is_cut_from_is_refused(here: Path, capsys) -> None:
    piece = '[[season.pieces]]\nstock = "shel"\nwood = "beech"\ngrain = 0\n'
    code, _, err = fitted(capsys, more=SEASON + piece)
    assert code == 2
    assert "season.pieces[0].stock: no piece is cut from 'shel'" in err
    assert "did you mean shell?" in err


def test_the_woods_are_listed_with_their_sources(capsys) -> None:
    assert main(["woods"]) == 0
    out, _ = capsys.readouterr()
    assert "sugar maple         1.65          3.53          USDA FPL Wood Handbook" in out
    assert all(wood.name in out and wood.source in out for wood in WOODS.values())
    assert main(["woods", "--json"]) == 0
    rows = json.loads(capsys.readouterr()[0])["woods"]
    assert [row["name"] for row in rows] == list(WOODS)
    assert rows[0]["tangential_per_percent"] == [0.00353, 0.00353]
