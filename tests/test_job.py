"""A job file says what a fit needs; what is wrong with it is named by its dotted key."""

from __future__ import annotations

from pathlib import Path

import pytest

from inlayfit.cutters import Bit, Kerf
from inlayfit.errors import InlayfitError, JobError
from inlayfit.job import Job, read_job

DRAWING = '[drawing]\nfile = "heron.svg"\n'


def job(text: str) -> Job:
    return read_job(text, source="jobs/heron.toml", folder=Path("jobs"))


def test_a_whole_job_comes_in_as_millimetres() -> None:
    whole = """
        name = "the heron"
        [drawing]
        file = "art/heron.svg"
        width = "2in"
        units = "in"
        join = "20um"
        [piece]
        stock = "abalone"
        kerf = "0.3mm"
        [pocket]
        bit = "1/32in"
        runout = 0.02
        [fit]
        gap = "2 thou"
        gap_from = "shared"
        corners = "sharp"
        tolerance = "0.04mm"
        least_web = 1
    """
    assert job(whole) == Job(
        name="the heron",
        drawing=Path("jobs/art/heron.svg"),
        width=50.8,
        units="in",
        join=0.02,
        piece_cutter=Kerf(width=0.3),
        pocket_cutter=Bit(diameter=0.79375, runout=0.02),
        stock="abalone",
        gap=0.0508,
        gap_from="shared",
        corners="sharp",
        tolerance=0.04,
        least_web=1.0,
    )


def test_a_short_job_takes_its_name_from_the_file_and_leaves_open_what_was_not_said() -> None:
    short = job(DRAWING)
    assert short.name == "heron"
    assert (short.width, short.piece_cutter, short.pocket_cutter, short.gap) == (None, None, None, None)
    assert (short.gap_from, short.corners, short.tolerance, short.least_web) == ("piece", "match", 0.05, 0.6)


def test_a_path_from_the_root_stays_as_it_is() -> None:
    assert job('[drawing]\nfile = "/art/heron.svg"').drawing == Path("/art/heron.svg")


WRONG = [
    ("nothing at all", "", "", "`drawing`", ""),
    ("no file", "[drawing]\nwidth = 3", "drawing", "`file`", ""),
    ("no table", "drawing = 3", "drawing", "expected a table", ""),
    ("a list of tables", '[[drawing]]\nfile = "a"', "drawing", "expected a table, got a list", ""),
    ("a number for a text", "[drawing]\nfile = 3", "drawing.file", "expected a text", ""),
    ("a slip in a key", f"{DRAWING}widht = 3", "drawing.widht", "no such key", "did you mean drawing.width?"),
    ("a slip in a table", f"{DRAWING}[piec]\nbit = 1", "piec", "no such key", "did you mean piece?"),
    ("a key of another table", f"{DRAWING}gap = 1", "drawing.gap", "no such key", "gap belongs to [fit]"),
    ("a key that is like none", f"{DRAWING}[fit]\nzzz = 1", "fit.zzz", "no such key", "known: gap"),
    ("a slip in a choice", f'{DRAWING}[fit]\ngap_from = "pice"', "fit.gap_from", "'pice'", "did you mean piece?"),
    ("an unknown policy", f'{DRAWING}[fit]\ncorners = "round"', "fit.corners", "'round'", "match, sharp"),
    ("an unknown unit", f'{DRAWING}width = "3 inn"', "drawing.width", "unit 'inn'", "did you mean in?"),
    ("zero width", f"{DRAWING}width = 0", "drawing.width", "more than zero", ""),
    ("negative height", f'{DRAWING}height = "-3mm"', "drawing.height", "more than zero", ""),
    ("true for a width", f"{DRAWING}width = true", "drawing.width", "expected a length, got true or false", ""),
    ("scale zero", f"{DRAWING}scale = 0", "drawing.scale", "expected a number > 0", ""),
    ("scale nan", f"{DRAWING}scale = nan", "drawing.scale", "expected a number > 0", ""),
    ("scale inf", f"{DRAWING}scale = inf", "drawing.scale", "expected a number <= 1000000", ""),
    ("width nan", f"{DRAWING}width = nan", "drawing.width", "not a usable length", ""),
    ("bit zero", f"{DRAWING}[piece]\nbit = 0", "piece.bit", "more than zero", ""),
    ("bit negative", f'{DRAWING}[pocket]\nbit = "-1/32in"', "pocket.bit", "more than zero", ""),
    ("runout negative", f"{DRAWING}[piece]\nbit = 1\nrunout = -1", "piece.bit runout", "less than zero", ""),
    ("runout of nothing", f"{DRAWING}[piece]\nrunout = 1", "piece.runout", "without a bit", "piece.bit"),
    ("bit and kerf", f"{DRAWING}[piece]\nbit = 1\nkerf = 1", "piece", "a bit and a kerf at once", ""),
    ("kerf zero", f"{DRAWING}[piece]\nkerf = 0", "piece.kerf", "more than zero", ""),
    ("gap negative", f"{DRAWING}[fit]\ngap = -0.1", "fit.gap", "less than zero", ""),
    ("gap that is a hole", f'{DRAWING}[fit]\ngap = "1in"', "fit.gap", "more than 5 mm", "unit"),
    ("tolerance that hides all", f"{DRAWING}[fit]\ntolerance = 2", "fit.tolerance", "more than 1 mm", "unit"),
    ("runout of a bit", f"{DRAWING}[piece]\nbit = 1\nrunout = 2", "piece.bit runout", "no less than the bit", ""),
    ("tolerance zero", f"{DRAWING}[fit]\ntolerance = 0", "fit.tolerance", "more than zero", ""),
    ("join zero", f"{DRAWING}join = 0", "drawing.join", "more than zero", ""),
]


@pytest.mark.parametrize(("text", "key", "says", "remedy"), [row[1:] for row in WRONG], ids=[row[0] for row in WRONG])
def test_what_is_wrong_is_named_by_its_key_with_a_remedy(text: str, key: str, says: str, remedy: str) -> None:
    with pytest.raises(InlayfitError) as error:
        job(text)
    assert error.value.where == ("jobs/heron.toml: " + key).removesuffix(": ")
    assert says in error.value.message
    assert error.value.remedy
    assert remedy in error.value.remedy


def test_a_slip_of_toml_names_the_line() -> None:
    with pytest.raises(JobError, match="line 3"):
        job("[drawing]\nfile = 'heron.svg'\nwidth = 58mm\n")


KEYS = ["name", "drawing", "piece", "pocket", "fit", "drawing.file", "drawing.width", "drawing.height", "drawing.scale"]
KEYS += ["drawing.units", "drawing.join", "piece.stock", "piece.bit", "piece.kerf", "piece.runout", "pocket.bit"]
KEYS += ["fit.gap", "fit.gap_from", "fit.corners", "fit.tolerance", "fit.least_web"]
KEYS += [
    "stock",
    "stock.pearl",
    "stock.pearl.kind",
    "stock.pearl.thickness",
    "stock.pearl.bit",
    "stock.pearl.least_web",
]
KEYS += ["stock.pearl.figure_deg", "stock.pearl.cut_from", "stock.pearl.layers", "stock.pearl.colours"]
ODD = [
    "0",
    "-1",
    "1e400",
    "nan",
    "-inf",
    "true",
    '""',
    '" "',
    r'"\u0000"',
    "[]",
    "[1]",
    "{}",
    "{ a = 1 }",
    "1979-05-27",
]
ODD += ["9" * 400, '"1/0in"', "'''\n'''", "0x10", '"piece"']


@pytest.mark.parametrize("key", KEYS)
def test_whatever_stands_at_a_key_gives_a_job_or_a_clear_error(key: str) -> None:
    refused = []
    for value in ODD:
        lines = {} if key == "drawing" else {"drawing.file": '"a.svg"'}
        lines[key] = value
        try:
            assert isinstance(job("\n".join(f"{name} = {text}" for name, text in lines.items())), Job)
        except InlayfitError as error:
            refused.append(error)
    assert all(error.where and error.remedy for error in refused)
    assert len(refused) > len(ODD) / 2, "most of these are of no use anywhere"


@pytest.mark.parametrize("text", ["name = " + "[" * 5000, "name = " + "9" * 5000, "= 3", "\x00"])
def test_what_is_no_toml_is_refused_however_wild(text: str) -> None:
    with pytest.raises(JobError, match="not TOML"):
        job(text)
