"""Sizes as makers type them, and what cuts."""

from __future__ import annotations

import contextlib
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inlayfit.cutters import (
    STANDARD_INCH,
    STANDARD_SIZES,
    Bit,
    Kerf,
    as_cutter,
    make_bit,
    make_kerf,
    size_label,
)
from inlayfit.errors import InlayfitError, UnitError, nearest_of
from inlayfit.findings import Finding
from inlayfit.units import LARGEST, UNITS, format_inch, format_mm, parse_length, positive_length, zero_or_more

# 1 in = 25.4 mm exactly: ISO 31-1; NIST SP 811 appendix B.9. The decimals below follow by hand.
WRITTEN = [
    ("1/32in", 0.79375),
    ("1/32 in", 0.79375),
    ('3/64"', 1.190625),
    ("1 1/4 in", 31.75),
    ("1-1/4in", 31.75),
    ("31 thou", 0.7874),
    ("31mil", 0.7874),
    ("0.031in", 0.7874),
    (".5IN", 12.7),
    ("2 inches", 50.8),
    ("1ft", 304.8),
    ("0.8", 0.8),
    ("0.8mm", 0.8),
    ("5.8 cm", 58.0),
    ("0.1m", 100.0),
    ("50um", 0.05),
    ("50 µm", 0.05),
    ("1e-1mm", 0.1),
    ("+3mm", 3.0),
    ("-0.2mm", -0.2),
    ("-1/32in", -0.79375),
    ("-1 1/4in", -31.75),
    ("  7 mm  ", 7.0),
    (7, 7.0),
    (0.25, 0.25),
]


@pytest.mark.parametrize(("text", "mm"), WRITTEN)
def test_a_length_means_what_is_written(text: str | float, mm: float) -> None:
    assert parse_length(text) == pytest.approx(mm, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no length"),
        ("wide", "no length"),
        ("mm", "no length"),
        ("1/0in", "divides by nought"),
        ("1/32/2in", "not known"),
        ("3 furlong", "unit 'furlong' is not known"),
        ("3 inn", "unit 'inn' is not known"),
        ("1,5mm", "is not known"),
        ("1e400", "not a usable length"),
        ("101m", "not a usable length"),
        ("-101m", "not a usable length"),
        (math.nan, "not a usable length"),
        (math.inf, "not a usable length"),
        (True, "not true or false"),
        ("nan", "no length"),
        ("1" + "0" * 400 + "/1in", "is not known"),
        ("1" * 5000 + "mm", "not a usable length"),
        ("1/" + "9" * 5000 + "in", "is not known"),
        (10**400, "not a usable length"),
    ],
)
def test_what_is_no_length_is_refused_with_the_place_and_a_remedy(text: str | float, says: str) -> None:
    with pytest.raises(UnitError) as error:
        parse_length(text, where="--bit")
    assert says in error.value.message
    assert error.value.where == "--bit"
    assert len(error.value.message) < 100
    assert error.value.remedy


def test_an_unknown_unit_names_the_nearest_and_the_known() -> None:
    with pytest.raises(UnitError) as error:
        parse_length("3 inchs")
    assert error.value.remedy.startswith("did you mean inch")
    assert "thou" in error.value.remedy


@given(st.floats(-LARGEST, LARGEST), st.sampled_from(["mm", "", " mm"]))
def test_millimetres_come_back_as_they_were_written(value: float, unit: str) -> None:
    assert parse_length(f"{value!r}{unit}") == pytest.approx(value)


@given(st.integers(1, 640))
def test_sixty_fourths_come_back_from_the_screen(number: int) -> None:
    mm = number / 64 * 25.4
    assert parse_length(format_inch(mm)) == pytest.approx(mm)


@given(st.text(max_size=12))
def test_any_text_is_a_length_or_a_clear_error(text: str) -> None:
    with contextlib.suppress(UnitError):
        assert math.isfinite(parse_length(text))


@pytest.mark.parametrize("text", ["0", "0mm", "-1mm", 0, -0.1])
def test_a_size_must_be_over_zero(text: str | float) -> None:
    with pytest.raises(UnitError, match="more than zero"):
        positive_length(text)


def test_a_length_over_the_most_that_makes_sense_is_a_slip_of_the_unit() -> None:
    assert positive_length("5mm", most=5) == zero_or_more("5mm", most=5) == 5
    for read in (positive_length, zero_or_more):
        with pytest.raises(UnitError, match="more than 5 mm"):
            read("0.2in", where="--gap", most=5)


def test_zero_is_a_gap_and_less_is_none() -> None:
    assert zero_or_more("0mm") == 0
    with pytest.raises(UnitError, match="less than zero"):
        zero_or_more("-0.01mm")


@pytest.mark.parametrize(
    ("value", "text"), [(0.79375, "0.794 mm"), (12.0, "12 mm"), (-0.0001, "0 mm"), (0.0, "0 mm"), (100.0, "100 mm")]
)
def test_millimetres_on_the_screen_carry_no_idle_noughts(value: float, text: str) -> None:
    assert format_mm(value) == text


def test_every_unit_can_be_typed() -> None:
    for unit, factor in UNITS.items():
        assert parse_length(f"2{unit}") == pytest.approx(2 * factor)


def test_runout_widens_the_slot_by_half_on_each_side() -> None:
    assert Bit(diameter=0.8, runout=0.02).radius == pytest.approx(0.41)
    assert Kerf(width=0.3).radius == pytest.approx(0.15)
    assert Kerf(width=0.3).diameter == 0.3


def test_a_cutter_says_its_size_as_a_maker_does() -> None:
    assert make_bit("1/32in").label == "1/32 in (0.794 mm) bit"
    assert make_bit("0.8mm", runout="10um").label == "0.8 mm bit with 0.01 mm runout"
    assert make_kerf("0.3").label == "0.3 mm kerf"
    assert size_label(25.4) == "1 in (25.4 mm)"


def test_a_size_alone_is_a_bit_and_a_cutter_stays_what_it_is() -> None:
    kerf = Kerf(width=0.3)
    assert as_cutter(kerf) is kerf
    assert as_cutter("1/16in") == Bit(diameter=1.5875)
    assert as_cutter(0.8) == Bit(diameter=0.8)


@pytest.mark.parametrize(
    "call",
    [
        lambda: make_bit(0),
        lambda: make_bit("1mm", runout="-1um"),
        lambda: make_bit(1, runout=1),
        lambda: make_kerf("-2"),
    ],
)
def test_a_cutter_of_no_size_is_refused(call) -> None:
    with pytest.raises(UnitError):
        call()


def test_the_standard_sizes_rise_and_hold_the_usual_fractions() -> None:
    """1/64 to 1/8 in in steps that ANSI B94.11M-1979 lists."""
    assert list(STANDARD_SIZES) == sorted(set(STANDARD_SIZES))
    assert [format_inch(size) for size in STANDARD_INCH] == [
        "1/64 in",
        "1/32 in",
        "3/64 in",
        "1/16 in",
        "5/64 in",
        "3/32 in",
        "1/8 in",
    ]


def test_an_error_reads_as_place_message_remedy() -> None:
    assert str(InlayfitError("no bit", where="piece.bit", remedy="give one")) == "piece.bit: no bit (give one)"
    assert str(InlayfitError("no bit")) == "no bit"


def test_the_nearest_name_comes_first_and_none_where_none_is_near() -> None:
    assert nearest_of("pocet", ["piece", "pocket"], prefix="fit.") == "did you mean fit.pocket? known: piece, pocket"
    assert nearest_of("zzz", ["piece", "pocket"]) == "known: piece, pocket"


def test_a_finding_has_the_names_of_the_json() -> None:
    """The names are fixed by the description of the interface: other programs read them."""
    finding = Finding(
        kind="corner", severity="loss", part="piece", name="eye", x=1.0, y=2.0, message="m", remedy="r", size_mm=0.5
    )
    fixed = {"kind", "severity", "part", "name", "x", "y", "size_mm", "reach_mm", "area_mm2", "message", "remedy"}
    assert fixed <= finding.as_dict().keys()
