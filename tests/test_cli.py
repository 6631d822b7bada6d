"""The command line: what it prints where, what it returns, and that no call ends in a traceback."""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest
import shapely

import inlayfit
from inlayfit.cli import COMMANDS, HELP, main, output
from inlayfit.cli import check as check_command
from inlayfit.cli import fit as fit_command
from inlayfit.cli.folder import folder_for
from inlayfit.errors import GeometryError
from inlayfit.half_sheets import safe_name, sheets_of
from tests.made_up import a_fit, a_piece

SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">{}</svg>'
DRAWINGS = {
    "normal": SVG.format('<circle id="disc" cx="12" cy="20" r="10"/><path id="kite" d="M30 5L50 20L30 35L26 20Z"/>'),
    "disc": SVG.format('<circle id="disc" cx="20" cy="20" r="10"/>'),
    "needle": SVG.format('<circle cx="20" cy="20" r="10"/><path id="needle" d="M35 5L55 5.5L35 6Z"/>'),
    "empty": SVG.format(""),
    "degenerate": SVG.format('<path d="M0 0L10 10"/><rect width="0" height="5"/><path d="M3 3"/>'),
    "not xml": "this is no drawing",
}


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return an empty directory with the drawings and a job, and stand in it."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COLUMNS", raising=False)
    for name, text in DRAWINGS.items():
        (tmp_path / f"{name}.svg").write_text(text, encoding="utf-8")
    (tmp_path / "job.toml").write_text(
        'name = "The Kite"\n[drawing]\nfile = "normal.svg"\n[piece]\nbit = "1/32in"\nrunout = 0.01\n'
        '[pocket]\nbit = "1/32in"\n[fit]\ngap = "0.05mm"\n',
        encoding="utf-8",
    )
    return tmp_path


def run(line: str | list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    code = main(line.split() if isinstance(line, str) else line)
    out, err = capsys.readouterr()
    assert "Traceback" not in out + err
    return code, out, err


# -- every command, against normal, empty and degenerate input and its help ----------------------------------------

LINES = [
    "check {} --bit 1/32in",
    "check {} --bit 1/32in --runout 10um --width 58mm --tolerance 0.1mm --least-web 1mm",
    "check {} --kerf 0.3mm --height 1in",
    "check {} --bit 0.5 --scale 1.5 --join 20um --json",
    "fit {} --bit 1/32in --gap 0.05mm",
    "fit {} --bit 1/32in --gap 20um --gap-from shared --corners sharp --stock bone",
    "fit {} --kerf 0.3mm --pocket-bit 0.8mm --runout 0.02mm --gap 2thou --gap-from pocket --width 2in",
    "fit {} --piece-bit 0.5 --pocket-kerf 0.4 --gap 0.05 --out deep/er --json",
]


@pytest.mark.parametrize("line", LINES)
def test_a_drawing_that_can_be_cut_gives_a_result(line: str, here: Path, capsys) -> None:
    code, out, err = run(line.format("normal.svg"), capsys)
    assert code == 0, out + err
    assert err == ""
    if "--json" in line:
        json.loads(out)
    else:
        assert out.startswith(("Yes", "They fit"))


@pytest.mark.parametrize("drawing", ["empty.svg", "degenerate.svg"])
@pytest.mark.parametrize("line", LINES)
def test_a_drawing_with_nothing_to_cut_is_named_and_nothing_is_written(line: str, drawing: str, here, capsys) -> None:
    before = sorted(here.rglob("*"))
    code, out, err = run(line.format(drawing), capsys)
    assert code == 2
    assert drawing in err
    if "--json" in line:
        assert set(json.loads(out)["error"]) == {"message", "where", "remedy"}
    else:
        assert out == ""
    assert sorted(here.rglob("*")) == before


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself_with_examples(command: str, capsys) -> None:
    code, out, err = run([command, "--help"], capsys)
    assert (code, err) == (0, "")
    assert f"inlayfit {command}" in out.partition("examples:")[2]


@pytest.mark.parametrize("command", COMMANDS)
def test_every_option_has_a_help_text(command: str) -> None:
    from importlib import import_module

    actions = import_module(f"inlayfit.cli.{command}").parser()._actions
    assert len(actions) > 2
    assert all(action.help and len(action.help) > 8 for action in actions)


@pytest.mark.parametrize("line", ["--help", "-h", "help"])
def test_the_help_names_every_command(line: str, capsys) -> None:
    code, out, _ = run(line, capsys)
    assert code == 0
    assert out == HELP
    assert all(f"  {name}" in out for name in COMMANDS)


def test_no_command_at_all_is_no_success(capsys) -> None:
    code, out, err = run([], capsys)
    assert (code, out, err) == (2, "", HELP)


def test_the_version_is_that_of_the_package(capsys) -> None:
    from importlib.metadata import version

    assert run("--version", capsys)[:2] == (0, f"inlayfit {version('inlayfit')}\n")


# -- what cannot be used --------------------------------------------------------------------------------------------

BAD = [
    ("a missing drawing", "check none.svg --bit 1/32in", "no such file"),
    ("a missing job", "fit none.toml", "none.toml"),
    ("a folder for a drawing", "check . --bit 1/32in", "directory"),
    ("no drawing", "check --bit 1/32in", "DRAWING"),
    ("a file that is none", "check notxml.svg --bit 1/32in", "notxml.svg"),
    ("no cutter", "check normal.svg", "--bit 1/32in"),
    ("no cutter for the pocket", "fit normal.svg --piece-bit 1 --gap 0.05", "pocket.bit"),
    ("no gap", "fit normal.svg --bit 1/32in", "--gap 0.05mm"),
    ("a bit of zero", "check normal.svg --bit 0", "more than zero"),
    ("a bit below zero", "check normal.svg --bit -1/32in", "more than zero"),
    ("a gap below zero", "fit normal.svg --bit 1/32in --gap -0.1mm", "less than zero"),
    ("a gap that is a hole", "fit normal.svg --bit 1/32in --gap 0.5in", "more than 5 mm"),
    ("a gap larger than the piece", "fit normal.svg --bit 1/32in --gap 4mm --width 6mm", "gap"),
    ("a runout below zero", "check normal.svg --bit 1 --runout -1um", "less than zero"),
    ("a runout of a kerf", "check normal.svg --kerf 1 --runout 1um", "runout"),
    ("a bit wider than the drawing", "check normal.svg --bit 300mm", "300 mm"),
    ("a pocket bit wider than the drawing", "fit normal.svg --bit 300mm --gap 0.05", "300 mm"),
    ("a bit and a kerf", "check normal.svg --bit 1 --kerf 1", "--bit, --kerf"),
    ("two cutters for a half", "fit normal.svg --piece-bit 1 --piece-kerf 1 --bit 1 --gap 0", "--piece-bit"),
    ("an unknown unit", "check normal.svg --bit 1/32inn", "did you mean in?"),
    ("no number", "check normal.svg --bit wide", "no length"),
    ("a width of zero", "check normal.svg --bit 1 --width 0mm", "--width"),
    ("an absurd width", "check normal.svg --bit 1 --width 1e9m", "--width"),
    ("two sizes", "check normal.svg --bit 1 --width 5 --height 5", "width"),
    ("a scale of nought", "check normal.svg --bit 1 --scale 0", "--scale"),
    ("a scale that is no number", "check normal.svg --bit 1 --scale big", "--scale"),
    ("a scale without end", "check normal.svg --bit 1 --scale inf", "--scale"),
    ("a join of nought", "check normal.svg --bit 1 --join 0", "--join"),
    ("a tolerance of nought", "check normal.svg --bit 1 --tolerance 0", "--tolerance"),
    ("a tolerance that hides all", "check normal.svg --bit 1 --tolerance 2mm", "--tolerance"),
    ("a runout as large as the bit", "check normal.svg --bit 1 --runout 3mm", "no less than the bit"),
    ("a runout too large for one half", "fit job.toml --pocket-bit 3 --runout 1", "piece bit runout"),
    ("a unit of the file that is none", "check normal.svg --bit 1 --units inn", "'inn'"),
    ("a web below zero", "check normal.svg --bit 1 --least-web -1", "--least-web"),
    ("an unknown command", "chek normal.svg", "did you mean check?"),
    ("an unknown option", "check normal.svg --bitt 1", "did you mean --bit?"),
    ("an abbreviated option", "check normal.svg --bit 1 --wid 3", "did you mean --width?"),
    ("an option like none", "fit normal.svg --zzz", "known: --help"),
    ("one word too many", "check normal.svg other.svg --bit 1", "one word too many"),
    ("an option without its value", "check normal.svg --bit", "--bit"),
    ("an unknown half", "fit normal.svg --bit 1 --gap 0 --gap-from pice", "did you mean piece?"),
    ("an unknown policy", "fit normal.svg --bit 1 --gap 0 --corners rund", "known: match, sharp"),
    ("an unknown starter", "new emblm", "did you mean emblem?"),
    ("no starter", "new", "KIND"),
]


@pytest.mark.parametrize(("line", "says"), [row[1:] for row in BAD], ids=[row[0] for row in BAD])
@pytest.mark.parametrize("form", ["text", "json"])
def test_what_cannot_be_used_is_said_with_the_place_and_the_remedy(line: str, says: str, form, here, capsys) -> None:
    (here / "not xml.svg").rename(here / "notxml.svg")
    before = sorted(here.rglob("*"))
    code, out, err = run(line + (" --json" if form == "json" else ""), capsys)
    assert code == 2
    assert says in err
    assert err.startswith("inlayfit: ")
    assert len(err.splitlines()) == 2, "what, and what to do"
    if form == "json":
        error = json.loads(out)["error"]
        assert error["message"] in err
        assert error["remedy"] in err
    else:
        assert out == ""
    assert sorted(here.rglob("*")) == before


def test_a_slip_in_a_job_names_the_key_and_the_nearest(here: Path, capsys) -> None:
    (here / "job.toml").write_text('[drawing]\nfile = "normal.svg"\nwidht = 3\n', encoding="utf-8")
    code, _, err = run("fit job.toml", capsys)
    assert code == 2
    assert "job.toml: drawing.widht" in err
    assert "did you mean drawing.width?" in err


@pytest.mark.parametrize("content", [b"\xff\xfe\x00\x01", b"\x00" * 100], ids=["no text", "noughts"])
def test_a_job_that_is_no_text_is_refused(content: bytes, here: Path, capsys) -> None:
    (here / "job.toml").write_bytes(content)
    code, _, err = run("fit job.toml", capsys)
    assert code == 2
    assert "job.toml" in err


def test_a_folder_that_cannot_be_written_is_named(here: Path, capsys) -> None:
    (here / "taken").write_text("mine", encoding="utf-8")
    for out in ("taken", "taken/deeper", "."):
        code, _, err = run(f"fit job.toml --out {out}", capsys)
        assert code == 2
        assert "taken" in err or str(here) in err
    assert (here / "taken").read_text(encoding="utf-8") == "mine"


# -- results --------------------------------------------------------------------------------------------------------


def test_lost_detail_is_exit_code_one(here: Path, capsys) -> None:
    code, out, _ = run("check needle.svg --bit 1/32in", capsys)
    assert code == 1
    assert out.startswith("No: ")
    assert run("fit needle.svg --bit 1/32in --gap 0.05", capsys)[0] == 1


def test_a_piece_that_does_not_drop_in_is_exit_code_one(here: Path, capsys, monkeypatch) -> None:
    from dataclasses import replace

    fit = a_fit()
    tight = replace(fit.pieces[0], gap=replace(fit.pieces[0].gap, drops_in=False))
    monkeypatch.setattr(inlayfit, "fit", lambda *_args, **_given: replace(fit, pieces=(tight, fit.pieces[1])))
    code, out, _ = run("fit normal.svg --bit 1/32in --gap 0.05", capsys)
    assert code == 1
    assert out.startswith("No fit: body touches its pocket.")


def test_a_square_with_a_corner_at_the_origin_is_read_back_without_a_word(here: Path, capsys) -> None:
    """A line that starts at 0, 0 has neither centre nor radius to divide by."""
    (here / "square.svg").write_text(SVG.format('<rect x="5" y="5" width="20" height="20"/>'), encoding="utf-8")
    code, out, err = run("fit square.svg --bit 1/32in --gap 0.05", capsys)
    assert (code, err) == (0, "")
    assert "4 places softened" in out


def test_a_disc_is_cut_as_drawn(here: Path, capsys) -> None:
    code, out, _ = run("check disc.svg --bit 1/32in --json", capsys)
    found = json.loads(out)
    assert code == 0
    assert (found["verdict"], found["cuttable"], found["findings"]) == ("as drawn", True, [])
    assert found["size_mm"] == pytest.approx([20, 20], abs=0.001)
    assert found["bit_mm"] == 0.79375


def test_a_fit_lists_its_files_and_writes_them(here: Path, capsys) -> None:
    code, out, err = run("fit job.toml --json", capsys)
    assert (code, err) == (0, "")
    found = json.loads(out)
    names = {"pieces-shell.dxf", "pieces-shell.svg", "pockets.dxf", "pockets.svg", "report.html", "report.json"}
    assert {Path(file["path"]).name for file in found["files"]} == names
    assert all(Path(file["path"]).stat().st_size > 100 for file in found["files"])
    assert {file["kind"] for file in found["files"]} == {
        "pieces-dxf",
        "pieces-svg",
        "pockets-dxf",
        "pockets-svg",
        "page",
        "report",
    }
    assert sorted(path.name for path in (here / "the-kite-fit").iterdir()) == sorted(names)
    report = json.loads((here / "the-kite-fit" / "report.json").read_text(encoding="utf-8"))
    assert {file["path"] for file in report["files"]} == names, "the report may move with its folder"
    assert report | {"files": []} == found | {"files": []}


def test_pieces_of_an_earlier_fit_are_named_so_that_nobody_cuts_them(here: Path, capsys) -> None:
    assert run("fit job.toml --stock bone --out o", capsys)[2] == ""
    assert run("fit job.toml --stock bone --out o", capsys)[2] == ""
    code, _, err = run("fit job.toml --stock shell --out o", capsys)
    assert code == 0
    assert err == "inlayfit: not of this fit, but of an earlier one: pieces-bone.dxf, pieces-bone.svg\n"


def test_the_command_line_overrides_the_job(here: Path, capsys) -> None:
    out = run(
        "fit job.toml --gap 0.03mm --piece-kerf 0.3 --runout 0.02 --width 30 --stock bone --out o --json", capsys
    )[1]
    found = json.loads(out)
    assert found["settings"]["gap_mm"] == 0.03
    assert found["settings"]["piece_cutter"]["effective_diameter_mm"] == 0.3
    assert found["settings"]["pocket_cutter"]["effective_diameter_mm"] == pytest.approx(0.81375)
    assert found["size_mm"][0] == pytest.approx(30)
    assert (here / "o" / "pieces-bone.dxf").exists()


def test_a_size_on_the_command_line_takes_the_place_of_another_in_the_job(here: Path, capsys) -> None:
    (here / "job.toml").write_text('[drawing]\nfile = "disc.svg"\nwidth = 58\n', encoding="utf-8")
    out = run("fit job.toml --bit 1/32in --gap 0.05 --height 30 --json", capsys)[1]
    assert json.loads(out)["size_mm"] == pytest.approx([30, 30], abs=0.001)


def test_a_drawing_is_found_from_where_the_job_lies(here: Path, capsys) -> None:
    (here / "jobs").mkdir()
    (here / "jobs" / "job.toml").write_text('[drawing]\nfile = "../disc.svg"\n', encoding="utf-8")
    assert run("fit jobs/job.toml --bit 1/32in --gap 0.05", capsys)[0] == 0
    assert (here / "job-fit").is_dir()


# -- starters and tables --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["emblem", "check"])
def test_a_starter_runs_as_it_is_and_loses_nothing(kind: str, here: Path, capsys) -> None:
    code, out, _ = run(f"new {kind} jobs.toml", capsys)
    assert code == 0
    assert "next: inlayfit fit jobs.toml" in out
    code, out, err = run("fit jobs.toml --json", capsys)
    assert code == 0, out + err
    assert json.loads(out)["drops_in"] is True
    text = (here / "jobs.toml").read_text(encoding="utf-8")
    assert "DRAWING" not in text
    assert "inlayfit fit jobs.toml" in text


def test_every_key_of_a_job_stands_in_the_starter() -> None:
    from inlayfit.cli.new import STARTERS
    from inlayfit.job import CutterTable, DrawingTable, FitTable, PieceTable

    text = (STARTERS / "emblem.toml").read_text(encoding="utf-8")
    keys = {key for table in (DrawingTable, PieceTable, CutterTable, FitTable) for key in table.__struct_fields__}
    assert not {key for key in keys if f"{key} = " not in text}


def test_a_starter_overwrites_nothing(here: Path, capsys) -> None:
    (here / "emblem.svg").write_text(DRAWINGS["disc"], encoding="utf-8")
    assert run("new emblem", capsys)[0] == 0
    assert (here / "emblem.svg").read_text(encoding="utf-8") == DRAWINGS["disc"]
    code, _, err = run("new emblem", capsys)
    assert code == 2
    assert "there already" in err
    assert run("new emblem no/such/folder.toml", capsys)[0] == 2


def test_the_bits_are_listed_in_inch_and_millimetres(capsys) -> None:
    code, out, _ = run("bits", capsys)
    assert code == 0
    assert "1/32 in     0.0312  0.7937" in out or "1/32 in   0.0312  0.7937" in out
    bits = json.loads(run("bits --json", capsys)[1])["bits"]
    assert {"size": "1/8 in", "inch": 0.125, "mm": 3.175} in bits


# -- the shell ------------------------------------------------------------------------------------------------------


def shell(*words: str, **given) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "inlayfit", *words], capture_output=True, text=True, timeout=60, check=False, **given
    )


def test_a_fault_of_ours_asks_for_a_report_and_shows_its_traceback_only_when_asked(here, capsys, monkeypatch) -> None:
    def broken(*_args, **_given) -> None:
        raise ZeroDivisionError("a slip")

    monkeypatch.setattr(inlayfit, "check", broken)
    code = main(["check", "normal.svg", "--bit", "1"])
    _, err = capsys.readouterr()
    assert code == 70
    assert "ZeroDivisionError: a slip" in err
    assert "please report it" in err
    assert "Traceback" not in err
    assert main(["check", "normal.svg", "--bit", "1", "--debug"]) == 70
    assert "Traceback" in capsys.readouterr().err


def test_an_error_of_ours_found_deep_inside_is_shown_as_it_is(here: Path, capsys, monkeypatch) -> None:
    def impossible(*_args, **_given) -> None:
        raise GeometryError("nothing is left", where="normal.svg", remedy="use a smaller bit")

    monkeypatch.setattr(inlayfit, "fit", impossible)
    assert run("fit normal.svg --bit 1 --gap 0", capsys) == (
        2,
        "",
        "inlayfit: normal.svg: nothing is left\n  use a smaller bit\n",
    )


def test_an_interrupt_is_no_fault(here: Path, capsys, monkeypatch) -> None:
    def interrupted(*_args, **_given) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(inlayfit, "check", interrupted)
    code, out, err = run("check normal.svg --bit 1", capsys)
    assert (code, out, err) == (130, "", "")


@pytest.mark.skipif(os.name == "nt", reason="no such signal there")
@pytest.mark.parametrize(
    "words", [["bits"], ["--help"], ["fit", "--help"], ["check", "normal.svg", "--bit", "1"]], ids=" ".join
)
def test_a_reader_that_hangs_up_is_met_with_silence(words: list[str], here: Path) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = subprocess.run(
            [sys.executable, "-m", "inlayfit", *words], stdout=writer, stderr=subprocess.PIPE, timeout=60, check=False
        )
    finally:
        os.close(writer)
    assert done.stderr == b""
    assert done.returncode == 0


def test_no_colour_reaches_a_pipe_or_a_terminal_that_wants_none(here: Path) -> None:
    assert "\x1b" not in shell("check", "normal.svg", "--bit", "1").stdout
    wanted = os.environ | {"FORCE_COLOR": "1", "TERM": "xterm-256color"}
    wanted.pop("NO_COLOR", None)
    assert "\x1b" in shell("check", "normal.svg", "--bit", "1", env=wanted).stdout
    plain = shell("check", "normal.svg", "--bit", "1", env=wanted | {"NO_COLOR": "1"}).stdout
    assert not re.search(r"\x1b\[(\d+;)*(3[0-8]|9\d)", plain), "bold may stay, colour may not"


def test_a_narrow_window_is_kept_to(here: Path) -> None:
    narrow = shell("check", "needle.svg", "--bit", "1/32in", env=os.environ | {"COLUMNS": "60"}).stdout
    assert max(map(len, narrow.splitlines())) <= 60


def test_a_shell_without_unicode_is_served(here: Path) -> None:
    (here / "é.svg").write_text(DRAWINGS["disc"].replace("disc", "schön"), encoding="utf-8")
    done = shell("check", "é.svg", "--bit", "1", env=os.environ | {"PYTHONIOENCODING": "ascii"})
    assert done.returncode == 0, done.stderr


class Terminal(io.StringIO):
    """Standard error as a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(("patience", "shown"), [(0.0, True), (3600.0, False)])
def test_only_work_that_lasts_shows_its_progress(patience: float, shown: bool, monkeypatch) -> None:
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setattr(output, "PATIENCE_S", patience)
    with output.progress() as tell:
        tell(0.25, "finding the seams")
        tell(0.5, "measuring the gap")
        waited = time.monotonic() + (10 if shown else 0)
        while not screen.getvalue() and time.monotonic() < waited:
            time.sleep(0.01)
    assert ("measuring the gap" in screen.getvalue()) is shown
    assert ("50%" in screen.getvalue()) is shown


def test_progress_stays_off_a_stderr_that_is_no_terminal(monkeypatch, capsys) -> None:
    monkeypatch.setattr(output, "PATIENCE_S", 0.0)
    with output.progress() as tell:
        tell(0.5, "measuring the gap")
    assert capsys.readouterr() == ("", "")


MAY_LOAD = {"inlayfit", "inlayfit.cli", "inlayfit.cli.codes", "inlayfit.cli.stdout"}
"""What `inlayfit --help` may cost of ours: nothing that imports anything."""

HEAVY = {"argparse", "dataclasses", "ezdxf", "inspect", "lxml", "msgspec", "numpy", "rich", "shapely", "typing"}


def loaded_by(*words: str) -> set[str]:
    code = (
        "import sys; before = set(sys.modules); from inlayfit.cli import main\n"
        f"try:\n    main({list(words)!r})\nfinally:\n    print('\\n#', *sorted(set(sys.modules) - before))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    return set(done.stdout.rpartition("#")[2].split())


def test_the_help_loads_nothing_heavy() -> None:
    loaded = loaded_by("--help")
    assert {name for name in loaded if name.startswith("inlayfit")} <= MAY_LOAD
    assert not loaded & HEAVY


@pytest.mark.parametrize("words", [["check", "--help"], ["fit", "--help"], ["bits"], ["new", "--help"]], ids=" ".join)
def test_no_help_and_no_table_loads_a_library(words: list[str]) -> None:
    assert not loaded_by(*words) & (HEAVY - {"argparse", "dataclasses", "inspect", "typing"})


def test_the_help_starts_within_three_times_an_empty_program() -> None:
    """The best of nine each, in turn, so that other work on the machine weighs on both alike."""
    times: dict[str, list[float]] = {"-c pass": [], "-m inlayfit --help": []}
    for _ in range(9):
        for words, taken in times.items():
            began = time.perf_counter()
            subprocess.run([sys.executable, *words.split()], capture_output=True, check=True)
            taken.append(time.perf_counter() - began)
    empty, helped = (min(taken) for taken in times.values())
    assert helped < 3 * empty


# -- names ----------------------------------------------------------------------------------------------------------


def test_the_functions_stay_functions_whatever_is_imported() -> None:
    code = (
        "import inlayfit.cli.fit, inlayfit.cli.check, inlayfit.recipe, inlayfit.checker, inlayfit.read, inlayfit\n"
        "from inlayfit import fit, check, read_drawing, Bit, Kerf, Drawing, InlayfitError, __version__\n"
        "assert callable(inlayfit.fit) and callable(inlayfit.check) and callable(inlayfit.read_drawing)\n"
        "assert set(inlayfit.__all__) <= set(dir(inlayfit))\n"
        "assert not hasattr(inlayfit, 'nothing')"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("shell", "shell"),
        ("Mother-of-pearl, 1.3 mm", "mother-of-pearl-1-3-mm"),
        ("../../etc", "etc"),
        ("Perlmutt grün", "perlmutt-grun"),
        ("  ", "stock"),
        ("a" * 300, "a" * 60),
        ("貝", "貝"),
        ("a\x00b\n/c", "a-b-c"),
    ],
)
def test_a_name_is_made_safe_for_the_file_system(text: str, name: str) -> None:
    assert safe_name(text, otherwise="stock") == name
    assert folder_for(text).endswith("-fit")


def test_stocks_of_like_names_get_files_of_their_own() -> None:
    fit = a_fit()
    squares = [region.polygon for region in fit.drawing.regions]
    pieces = tuple(
        a_piece(name, square, index, stock=stock)
        for index, (name, square, stock) in enumerate(
            zip(("body", "eye"), squares, ("Shell A", "shell-a"), strict=True)
        )
    )
    sheets = sheets_of(a_fit(pieces=pieces))
    assert [sheet.name for sheet in sheets] == ["pieces-shell-a", "pieces-shell-a-2", "pockets"]
    assert [label[3] for sheet in sheets[:2] for label in sheet.labels] == ["body", "eye"]


def test_a_label_stands_on_the_widest_spot_of_its_half_and_within_it() -> None:
    """A paddle: a disc of 4 mm on a long handle; the bounding box and the centroid would mislead."""
    paddle = shapely.Point(0, 0).buffer(4).union(shapely.box(0, -0.5, 40, 0.5))
    fit = a_fit(pieces=(a_piece("paddle", paddle, 0),))
    (((x, y, height, _name),), _) = (sheet.labels for sheet in sheets_of(fit))
    assert (x, y) == pytest.approx((0, 0), abs=0.1)
    assert height == pytest.approx(2 * 3.95 / (0.9 * len("paddle")), rel=0.02)


def test_the_modules_of_the_commands_say_what_they_are() -> None:
    assert "inlayfit check" in (check_command.__doc__ or "")
    assert "inlayfit fit" in (fit_command.__doc__ or "")
