"""The tables [tolerance], [season] and [glue] of a job: what they mean, and what is refused, by its key."""

from __future__ import annotations

from pathlib import Path

import pytest

from inlayfit.errors import InlayfitError
from inlayfit.expected import Premises
from inlayfit.glues import ADHESIVES
from inlayfit.job import read_job
from inlayfit.stack import HalfTolerances, Tolerances
from inlayfit.woods import WOODS, coefficient

CLIMATES = "cut = { humidity = 45 }\ndriest = { humidity = 25 }\ndampest = { humidity = 70 }\n"
SEASON = f'[season]\nwood = "sugar maple"\ngrain = "x"\n{CLIMATES}'


def premises(text: str) -> Premises:
    job = read_job(f'[drawing]\nfile = "a.svg"\n{text}', source="a.toml", folder=Path())
    return job.premises


def test_a_job_without_the_tables_has_what_is_usual() -> None:
    assert premises("") == Premises()


def test_what_may_be_off_comes_in_as_millimetres_and_one_half_may_have_its_own() -> None:
    found = premises(
        '[tolerance]\nbit = "0.01mm"\nrepeat = "1 thou"\nplacing = 0.1\nlimit = "0.2mm"\nfloats = false\n'
        '[tolerance.piece]\nkerf = "30um"\nrepeat = 0.05\n[tolerance.pocket]\nrunout = "0.5 thou"\n'
    ).tolerances
    assert found == Tolerances(
        piece=HalfTolerances(bit=0.01, kerf=0.03, repeat=0.05),
        pocket=HalfTolerances(bit=0.01, runout=0.0127, repeat=0.0254),
        placing=0.1,
        floats=False,
        limit=0.2,
    )


def test_a_season_comes_in_with_its_woods_and_airs() -> None:
    more = '[[season.pieces]]\nstock = "wing"\nwood = "beech"\ngrain = "30 deg"\nsawn = "quarter"\n'
    season = premises(SEASON.replace("25", '"25 %", temperature = "68F"') + more).season
    assert season is not None
    assert (season.pocket.wood, season.pocket.grain_deg, season.pocket.sawn) == (WOODS["sugar maple"], 0, None)
    assert (season.cut.humidity, season.cut.temperature_c) == (45, 20)
    assert (season.driest.humidity, season.driest.temperature_c) == (25, pytest.approx(20))
    ((stock, timber),) = season.pieces
    assert (stock, timber.wood.name, timber.grain_deg, timber.sawn) == ("wing", "beech", 30, "quarter")


FIGURED = '[stock.wing]\nkind = "wood"\nfigure_deg = 60\n[stock.tail]\nkind = "wood"\n'
WING = '[[season.pieces]]\nstock = "wing"\nwood = "beech"\n'


@pytest.mark.parametrize(("grain", "degrees"), [("", 60), ('grain = "x"\n', 0), ("grain = 30\n", 30)])
def test_the_grain_of_a_stock_runs_as_its_figure_unless_the_season_says_otherwise(grain: str, degrees: float) -> None:
    season = premises(f"{FIGURED}{SEASON}{WING}{grain}").season
    assert season is not None
    ((_stock, timber),) = season.pieces
    assert timber.grain_deg == degrees


def test_a_piece_whose_figure_runs_with_the_grain_of_its_pocket_moves_with_it() -> None:
    """Both directions are degrees from x on the drawing, so 90 and "y" are one, and no gap changes."""
    text = FIGURED.replace("60", "90") + SEASON.replace('"x"', '"y"') + WING.replace("beech", "sugar maple")
    season = premises(text).season
    assert season is not None
    ((_stock, timber),) = season.pieces
    assert timber == season.pocket


def test_a_wood_may_be_written_with_capitals() -> None:
    season = premises(SEASON.replace("sugar maple", " Sugar Maple")).season
    assert season is not None
    assert season.pocket.wood is WOODS["sugar maple"]


def test_a_wood_that_is_in_no_list_comes_in_by_its_shrinkage_with_a_range() -> None:
    season = premises(f'{SEASON.replace("sugar maple", "koa")}sawn = "quarter"\nshrinkage = [5.5, 6.2]').season
    assert season is not None
    wood = season.pocket.wood
    assert wood.name == "koa"
    assert wood.radial[0] < coefficient(0.055) < wood.radial[1]
    assert wood.tangential[0] < coefficient(0.062) < wood.tangential[1]
    assert "the job" in wood.source


@pytest.mark.parametrize(("grain", "degrees"), [('"x"', 0), ('"Y"', 90), ("-30", -30), ('"12.5"', 12.5)])
def test_the_grain_runs_along_an_axis_or_at_an_angle(grain: str, degrees: float) -> None:
    season = premises(SEASON.replace('"x"', grain)).season
    assert season is not None
    assert season.pocket.grain_deg == degrees


def test_a_glue_comes_in_with_its_film() -> None:
    glue = premises('[glue]\nkind = "epoxy"\nthickness = "2 thou"\n').glue
    assert glue is not None
    assert (glue.adhesive, glue.thickness) == (ADHESIVES["epoxy"], pytest.approx(0.0508))


WRONG = [
    ("negative bit", "[tolerance]\nbit = -0.01", "tolerance.bit", "less than zero", ""),
    ("negative repeat", '[tolerance.piece]\nrepeat = "-1 thou"', "tolerance.piece.repeat", "less than zero", ""),
    ("negative placing", "[tolerance]\nplacing = -1", "tolerance.placing", "less than zero", ""),
    ("a slip of the unit", '[tolerance]\nrunout = "1in"', "tolerance.runout", "more than 1 mm", "unit"),
    ("limit zero", "[tolerance]\nlimit = 0", "tolerance.limit", "more than zero", ""),
    ("limit that is a hole", '[tolerance]\nlimit = "1in"', "tolerance.limit", "more than 5 mm", "unit"),
    ("no length", '[tolerance.pocket]\nkerf = "wide"', "tolerance.pocket.kerf", "no length", ""),
    ("an unknown key", "[tolerance]\nslack = 1", "tolerance.slack", "no such key", "known: bit"),
    ("a slip in a half", "[tolerance.peice]\nbit = 1", "tolerance.peice", "no such key", "tolerance.piece"),
    ("floats in a text", '[tolerance]\nfloats = "yes"', "tolerance.floats", "expected true or false", ""),
    ("unknown wood", SEASON.replace("sugar maple", "suger maple"), "season.wood", "no wood called", "sugar maple?"),
    ("wood like none", SEASON.replace("sugar maple", "zzz"), "season.wood", "no wood called", "known: sugar maple, "),
    ("no wood", SEASON.replace('wood = "sugar maple"', ""), "season", "`wood`", ""),
    ("no grain", SEASON.replace('grain = "x"', ""), "season", "`grain`", ""),
    ("no air", SEASON.replace("driest = { humidity = 25 }", ""), "season", "`driest`", ""),
    ("no humidity", SEASON.replace("humidity = 25", ""), "season.driest", "`humidity`", ""),
    ("too dry", SEASON.replace("25", "4.9"), "season.driest.humidity", "outside of 5 to 95 %", ""),
    ("too damp", SEASON.replace("70", '"96%"'), "season.dampest.humidity", "outside of 5 to 95 %", ""),
    ("humidity as a share", SEASON.replace("45", "0.45"), "season.cut.humidity", "outside of 5 to 95 %", "per cent"),
    ("humidity nan", SEASON.replace("45", "nan"), "season.cut.humidity", "cannot be read", ""),
    ("humidity true", SEASON.replace("45", "true"), "season.cut.humidity", "expected a number", ""),
    ("humidity in words", SEASON.replace("45", '"dry"'), "season.cut.humidity", "cannot be read", "per cent"),
    ("dry damper than damp", SEASON.replace("25", "71"), "season.driest", "moisture", "exchange"),
    ("too hot", SEASON.replace("45", "45, temperature = 200"), "season.cut.temperature", "no temperature", ""),
    ("too hot in F", SEASON.replace("45", '45, temperature = "141F"'), "season.cut.temperature", "no temperature", ""),
    ("too cold", SEASON.replace("45", '45, temperature = "-20 C"'), "season.cut.temperature", "no temperature", ""),
    ("kelvin", SEASON.replace("45", '45, temperature = "293K"'), "season.cut.temperature", "cannot be read", "68F"),
    ("grain z", SEASON.replace('"x"', '"z"'), "season.grain", "cannot be read", 'give "x"'),
    ("grain of two turns", SEASON.replace('"x"', "720"), "season.grain", "no direction", ""),
    ("shrinkage of one", f"{SEASON}shrinkage = [5]", "season.shrinkage", "list of length 2", ""),
    ("shrinkage below zero", f"{SEASON}shrinkage = [-5, 6]", "season.shrinkage[0]", "number > 0", ""),
    ("sawn round", f'{SEASON}sawn = "round"', "season.sawn", "'round'", "flat, quarter"),
    (
        "unknown wood of a piece",
        f'{SEASON}[[season.pieces]]\nstock = "wing"\nwood = "beach"\ngrain = "x"',
        "season.pieces[0].wood",
        "no wood called 'beach'",
        "beech?",
    ),
    (
        "a piece whose grain nobody tells",
        f"{FIGURED}{SEASON}{WING}{WING.replace('wing', 'tail')}",
        "season.pieces[1].grain",
        "which way does the grain of tail run?",
        "stock.tail.figure_deg",
    ),
    ("a piece of the only stock without a grain", f"{SEASON}{WING}", "season.pieces[0].grain", "grain of wing", '"y"'),
    ("a slip in the glue", '[glue]\nkind = "epoxi"', "glue.kind", "'epoxi'", "did you mean epoxy?"),
    ("no kind of glue", "[glue]\nthickness = 0.1", "glue", "`kind`", ""),
    ("negative film", '[glue]\nkind = "epoxy"\nthickness = -0.1', "glue.thickness", "less than zero", ""),
]


@pytest.mark.parametrize(("text", "key", "says", "remedy"), [row[1:] for row in WRONG], ids=[row[0] for row in WRONG])
def test_what_is_wrong_is_named_by_its_key_with_a_remedy(text: str, key: str, says: str, remedy: str) -> None:
    with pytest.raises(InlayfitError) as error:
        premises(text)
    assert error.value.where == f"a.toml: {key}"
    assert says in error.value.message
    assert error.value.remedy
    assert remedy in error.value.remedy


@pytest.mark.parametrize("air", ["30F", "-1", "-1.0 C", "60", "140F"])
def test_the_ends_of_the_scale_are_let_in(air: str) -> None:
    """Wood Handbook table 4-2 begins at 30 F."""
    assert premises(SEASON.replace("45", f'5, temperature = "{air}"')).season is not None


ODD = [
    "0",
    "-1",
    "1e400",
    "nan",
    "-inf",
    "true",
    '""',
    r'"\u0000"',
    "[]",
    "[1]",
    "{}",
    "{ a = 1 }",
    "9" * 400,
    '"1/0in"',
]
KEYS = ["tolerance", "tolerance.bit", "tolerance.piece", "tolerance.limit", "tolerance.floats", "glue", "glue.kind"]
KEYS += ["glue.thickness", "season", "season.wood", "season.grain", "season.sawn", "season.cut", "season.pieces"]
KEYS += ["season.cut.humidity", "season.driest.temperature"]


@pytest.mark.parametrize("key", KEYS)
def test_whatever_stands_at_a_key_gives_a_job_or_a_clear_error(key: str) -> None:
    usual = {
        "season.wood": '"beech"',
        "season.grain": "0",
        **{f"season.{time}.humidity": "40" for time in ("cut", "driest", "dampest")},
        "glue.kind": '"epoxy"',
    }
    table = key.split(".", maxsplit=1)[0]
    refused = []
    for value in ODD:
        lines = {
            name: text for name, text in usual.items() if name.startswith(f"{table}.") and not name.startswith(key)
        }
        lines = {"drawing.file": '"a.svg"', **lines, key: value}
        try:
            read_job("\n".join(f"{name} = {text}" for name, text in lines.items()), source="a.toml", folder=Path())
        except InlayfitError as error:
            refused.append(error)
    assert all(error.where and error.remedy for error in refused)
    assert len(refused) > len(ODD) / 2, "most of these are of no use anywhere"
