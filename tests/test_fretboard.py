"""Fret positions, against a table in print, closed forms, and figures that are known to be wrong."""

from __future__ import annotations

import csv
import io
import json
import math
import random
import subprocess
import sys
from fractions import Fraction

import pytest

from inlayfit.cli import main
from inlayfit.errors import JobError
from inlayfit.fretboard import Scale, fret_distance, fret_rows
from inlayfit.units import MM_PER_INCH


def figures(text: str) -> list[str]:
    return text.split()


# Fret table for a 25 in (635 mm) scale, http://stuphi.co.uk/wordpress/?page_id=18: fret to bridge, in and mm.
PRINTED_INCH = figures(
    """
    23.597 22.272 21.022 19.843 18.729 17.678 16.685 15.749 14.865 14.031 13.243 12.500 11.798 11.136 10.511
    9.921 9.364 8.839 8.343 7.875 7.433 7.015 6.622 6.250
    """
)
PRINTED_MM = figures(
    """
    599.360 565.721 533.969 504.000 475.712 449.013 423.812 400.025 377.573 356.382 336.380 317.500 299.680
    282.860 266.985 252.000 237.856 224.506 211.906 200.012 188.787 178.191 168.190 158.750
    """
)
# Unit-scale factors, http://www.noah.org/mediawiki/index.php?title=fret_positioning&oldid=7888. The fourth is a
# misprint: 0.206299 is right.
PRINTED_FACTORS = figures(
    """
    0.056126 0.109101 0.159104 0.206291 0.250847 0.292893 0.33258 0.370039 0.405396 0.438769 0.470268 0.5
    0.528063 0.554551 0.579552 0.60315 0.625423 0.646447 0.66629 0.68502 0.702698 0.719385 0.735134 0.75
    """
)


def one(length: float, frets: int = 24, **given) -> Scale:
    return Scale(bass=length, treble=length, frets=frets, **given)


def printed(words: str, capsys) -> str:
    assert main(["frets", *words.split()]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return out


def test_the_printed_table_of_a_25_inch_scale_agrees_to_its_last_digit() -> None:
    rows = fret_rows(one(25 * MM_PER_INCH))
    assert [f"{25 - row.from_nut / MM_PER_INCH:.3f}" for row in rows] == PRINTED_INCH
    assert [f"{635 - row.from_nut:.3f}" for row in rows] == PRINTED_MM


def test_the_printed_factors_agree_but_for_their_misprint() -> None:
    wrong = [
        fret
        for fret, factor in enumerate(PRINTED_FACTORS, start=1)
        if abs(fret_distance(1.0, fret) - float(factor)) > 0.6e-6  # frets 5 and 22 were rounded from 17.817
    ]
    assert wrong == [4]
    assert fret_distance(1.0, 4) == pytest.approx(0.206299, abs=0.51e-6)


def test_the_rule_of_eighteen_is_not_what_is_used() -> None:
    """Each step an eighteenth of the rest lands short at the octave: 0.4963637 L (derived)."""
    eighteen = 1 - (17 / 18) ** 12
    assert eighteen == pytest.approx(0.4963637, abs=1e-7)
    assert abs(fret_distance(1.0, 12) - eighteen) > 0.003


def test_octaves_lie_exactly_at_a_half_and_at_three_quarters() -> None:
    for divisions in (5, 12, 19, 31, 53):
        assert fret_distance(650.0, divisions, divisions) == 325.0
        assert fret_distance(650.0, 2 * divisions, divisions) == 487.5


def test_the_step_is_the_rest_over_the_constant() -> None:
    """k = 17.817153745: "12-TET fret rule", same page as the factors, digits derived."""
    rows = fret_rows(one(650.0))
    rests = [650.0, *(650.0 - row.from_nut for row in rows)]
    for rest, row in zip(rests, rows, strict=False):
        assert row.step == pytest.approx(rest / 17.817153745, abs=1e-7)


def exact(length: float, fret: int, divisions: int) -> float:
    """Return the closed form by another way: integer roots in long arithmetic, no power of floats."""
    digits = 10**40
    # floor of digits * 2^(-fret / divisions): the divisions-th root of digits^divisions / 2^fret
    target = digits**divisions // 2**fret
    low, high = 0, digits
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if middle**divisions <= target else (low, middle - 1)
    return float(Fraction(length) * (1 - Fraction(low, digits)))


def test_two_hundred_random_scales_and_divisions_agree_with_long_arithmetic() -> None:
    chance = random.Random(20)
    for _ in range(200):
        length, divisions = chance.uniform(150, 1200), chance.randint(1, 72)
        fret = chance.randint(1, 3 * divisions)
        assert fret_distance(length, fret, divisions) == pytest.approx(exact(length, fret, divisions), abs=1e-9)


def test_two_hundred_random_tables_agree_with_the_closed_form_within_half_a_micrometre(capsys) -> None:
    chance = random.Random(21)
    for _ in range(200):
        length, divisions = chance.uniform(150, 1200), chance.randint(5, 60)
        frets = chance.randint(1, min(3 * divisions, 200))
        found = json.loads(printed(f"--scale {length!r} --frets {frets} --divisions {divisions} --json", capsys))
        assert len(found["frets"]) == frets
        before = 0.0
        for row in found["frets"]:
            meant = length - length / math.exp(row["fret"] * math.log(2) / divisions)
            assert row["from_nut_mm"] == pytest.approx(meant, abs=0.0005)
            assert row["step_mm"] == pytest.approx(meant - before, abs=0.0005)
            before = meant


# -- fanned: figures derived by plain geometry for 27 in, 25.5 in, fret 7 square --------------------------------------

FAN = Scale(bass=27.0, treble=25.5, frets=24, perpendicular=7)


@pytest.mark.parametrize(
    ("fret", "bass", "treble"), [(7, 8.979662, 8.979662), (12, 13.5, 13.248870), (24, 20.25, 19.623870)]
)
def test_a_fan_has_both_ends_where_geometry_says(fret: int, bass: float, treble: float) -> None:
    assert FAN.shift == pytest.approx(0.498870, abs=0.51e-6)
    assert FAN.along(fret, "bass") == pytest.approx(bass, abs=0.51e-6)
    assert FAN.along(fret, "treble") == pytest.approx(treble, abs=0.51e-6)


@pytest.mark.parametrize(("fret", "angle"), [(0, -15.911), (1, -13.331), (12, 8.166), (24, 19.687)])
def test_a_fan_leans_as_geometry_says_between_edges_that_are_parallel(fret: int, angle: float) -> None:
    """Edges 1.75 in apart; positive where the bass end lies nearer to the bridge."""
    lean = math.degrees(math.atan2(FAN.along(fret, "bass") - FAN.along(fret, "treble"), 1.75))
    assert lean == pytest.approx(angle, abs=0.00051)


def test_frets_between_parallel_edges_meet_in_one_point() -> None:
    """At (half span)(Lb + Lt) / (Lb - Lt) from the centre line, on the line of the square fret (derived)."""
    half = 0.875
    across = half * (27 + 25.5) / (27 - 25.5)
    assert across == pytest.approx(30.625)
    for fret in range(25):
        bass, treble = FAN.along(fret, "bass"), FAN.along(fret, "treble")
        at = bass + (treble - bass) * (across + half) / (2 * half)
        assert at == pytest.approx(8.979662, abs=1e-6)


def test_each_side_of_a_fan_is_an_ordinary_table() -> None:
    for side, length in (("bass", 27.0), ("treble", 25.5)):
        assert [row.from_nut for row in fret_rows(FAN, side)] == [row.from_nut for row in fret_rows(one(length))]


def test_a_fan_without_a_difference_is_straight() -> None:
    same = Scale(bass=650, treble=650, frets=24, perpendicular=9)
    assert not same.fanned
    assert all(same.along(fret, "bass") == same.along(fret, "treble") for fret in range(25))


def test_where_the_nut_is_square_fret_seven_is_not() -> None:
    nut = Scale(bass=27.0, treble=25.5, frets=24, perpendicular=0)
    assert nut.shift == 0
    assert abs(nut.along(7, "bass") - nut.along(7, "treble")) > 0.4


# -- the nut --------------------------------------------------------------------------------------------------------


def test_a_nut_moved_up_shortens_every_distance_from_it_and_no_step_but_the_first() -> None:
    plain, moved = fret_rows(one(650.0)), fret_rows(one(650.0, nut_offset=0.5))
    assert all(b.from_nut == pytest.approx(a.from_nut - 0.5, abs=1e-12) for a, b in zip(plain, moved, strict=True))
    assert [row.step for row in moved[1:]] == pytest.approx([row.step for row in plain[1:]], abs=1e-12)
    assert moved[0].step == pytest.approx(plain[0].step - 0.5, abs=1e-12)


def test_a_zero_fret_stands_at_the_origin_with_the_nut_behind_it() -> None:
    rows = fret_rows(one(650.0, zero_fret=True, nut_offset=-4.0))
    assert [rows[0].fret, rows[0].from_nut, rows[0].step] == [0, 4.0, 4.0]
    assert rows[12].from_nut == pytest.approx(329.0, abs=1e-12)


# -- what is printed ------------------------------------------------------------------------------------------------


def test_the_table_shows_millimetres_and_inches_to_a_thousandth_of_a_millimetre(capsys) -> None:
    lines = printed("--scale 25.5in --frets 24", capsys).splitlines()
    rows = {line.split()[0]: line.split() for line in lines[3:]}
    assert rows["12"] == ["12", "323.850", "19.257", "12.75000", "0.75815"]
    assert rows["24"][1] == "485.775"
    assert len(rows) == 24


def test_the_csv_holds_what_the_table_shows(capsys) -> None:
    rows = list(csv.DictReader(io.StringIO(printed("--scale 650 --frets 22 --csv", capsys))))
    assert [int(row["fret"]) for row in rows] == list(range(1, 23))
    # nut to fret of 650 mm, derived with the exact root
    for fret, meant in ((1, "36.482"), (9, "263.508"), (12, "325.000"), (17, "406.525"), (22, "467.600")):
        assert rows[fret - 1]["from_nut_mm"] == meant


def test_a_fan_is_printed_side_by_side(capsys) -> None:
    words = "--scale 27in --treble-scale 25.5in --perpendicular 7 --frets 24"
    rows = list(csv.DictReader(io.StringIO(printed(f"{words} --csv", capsys))))
    assert rows[6]["skew_mm"] == "0.000"
    assert rows[11]["treble_along_mm"] == f"{13.248870 * 25.4:.3f}"
    found = json.loads(printed(f"{words} --json", capsys))["frets"][11]
    assert found["bass"]["along_mm"] == pytest.approx(13.5 * 25.4, abs=1e-6)
    assert found["treble"]["from_nut_in"] == pytest.approx(12.75, abs=1e-6)
    table = printed(words, capsys).splitlines()
    assert all(len(line) <= 100 for line in table)
    assert table[2].split()[0] == "fret"


def test_frets_are_answered_without_any_geometry() -> None:
    heavy = ("shapely", "numpy", "ezdxf", "rich", "msgspec", "manifold3d", "lxml")
    script = (
        "import sys; from inlayfit.cli import main; code = main(['frets', '--scale', '650', '--frets', '22']); "
        f"print([name for name in {heavy} if name in sys.modules], code, file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[] 0"


BAD = [
    ("a scale of nought", "--scale 0 --frets 22", "--scale"),
    ("a scale below zero", "--scale -650mm --frets 22", "--scale"),
    ("a scale in metres by mistake", "--scale 650m --frets 22", "--scale"),
    ("a scale that is no length", "--scale long --frets 22", "--scale"),
    ("a treble scale of nought", "--scale 650 --treble-scale 0 --frets 22", "--treble-scale"),
    ("no frets", "--scale 650 --frets 0", "--frets"),
    ("frets below zero", "--scale 650 --frets -3", "--frets"),
    ("five hundred frets", "--scale 650 --frets 500", "--frets"),
    ("half a fret", "--scale 650 --frets 2.5", "--frets"),
    ("no divisions", "--scale 650 --frets 22 --divisions 0", "--divisions"),
    ("endless divisions", "--scale 650 --frets 22 --divisions 99999", "--divisions"),
    ("a square fret that is not there", "--scale 650 --treble-scale 640 --frets 22 --perpendicular 23", "--perpendi"),
    ("a square fret that is none", "--scale 650 --treble-scale 640 --frets 22 --perpendicular x", "--perpendicular"),
    ("a square fret without a fan", "--scale 650 --frets 22 --perpendicular 7", "--perpendicular"),
    ("a nut beyond fret 1", "--scale 650 --frets 22 --nut-offset 40mm", "--nut-offset"),
    ("a nut far behind", "--scale 650 --frets 22 --nut-offset -80mm", "--nut-offset"),
    ("a nut before the zero fret", "--scale 650 --frets 22 --zero-fret --nut-offset 1mm", "--nut-offset"),
    ("two forms at once", "--scale 650 --frets 22 --csv --json", "--json, --csv"),
    ("no scale", "--frets 22", "--scale"),
]


@pytest.mark.parametrize(("words", "where"), [row[1:] for row in BAD], ids=[row[0] for row in BAD])
def test_what_no_board_has_is_refused_by_the_name_of_the_option(words: str, where: str, capsys) -> None:
    assert main(["frets", *words.split()]) == 2
    err = capsys.readouterr().err
    assert where in err
    assert err.startswith("inlayfit: ")
    assert len(err.splitlines()) == 2


@pytest.mark.parametrize("bad", [{"bass": math.nan}, {"treble": math.inf}, {"perpendicular": math.nan}])
def test_a_scale_of_no_number_is_refused(bad: dict[str, float]) -> None:
    with pytest.raises(JobError):
        Scale(**{"bass": 650.0, "treble": 640.0, "frets": 22} | bad)
