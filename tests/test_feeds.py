"""Feeds and speeds: the formulas against printed figures, the starting values against the charts they come from."""

from __future__ import annotations

import json
import math

import pytest

from inlayfit.cli import main
from inlayfit.cutters import STANDARD_SIZES, Bit
from inlayfit.errors import InlayfitError
from inlayfit.feeds import STARTS, Machine, SpeedsAsked, feed_of, speeds_for, turns_of
from inlayfit.stocks import KINDS
from inlayfit.units import MM_PER_INCH, positive_speed

FEET = 12 * MM_PER_INCH / 1000
EIGHTH = Bit(diameter=MM_PER_INCH / 8)


@pytest.mark.parametrize(
    ("feet_per_min", "inch", "rpm"),
    [
        (300, 1 / 16, 18335),
        (300, 1 / 8, 9167),
        (300, 1 / 4, 4584),
        (300, 3 / 8, 3056),
        (300, 1 / 2, 2292),
        (120, 1 / 16, 7334),
        (120, 1 / 8, 3667),
        (120, 1 / 4, 1833),
        (120, 3 / 8, 1222),
        (120, 1 / 2, 917),
    ],
)
def test_turns_are_those_of_a_printed_table(feet_per_min: float, inch: float, rpm: float) -> None:
    """Source: Univ. of Arizona MMT Observatory shop notes, http://cholla.mmto.arizona.edu/machining/speeds.html."""
    assert turns_of(feet_per_min * FEET, inch * MM_PER_INCH) == pytest.approx(rpm, abs=0.5)


@pytest.mark.parametrize(("rpm", "teeth", "chip_inch", "feed_inch"), [(3056, 2, 0.001, 6.1), (88, 32, 0.004, 11.264)])
def test_feeds_are_those_of_worked_examples(rpm: float, teeth: int, chip_inch: float, feed_inch: float) -> None:
    """Sources: http://www.binghamsite.com/miscellaneous/milling-procedures (6.1 in/min); New Concepts in Milling
    Handbook (1973), Selecting Feed in Chip Load per Tooth (prints 11.2, exact 11.264).
    """
    assert feed_of(rpm, teeth, chip_inch * MM_PER_INCH) / MM_PER_INCH == pytest.approx(feed_inch, abs=0.02)


@pytest.mark.parametrize(
    ("kind", "least", "most"), [("wood", 0.002, 0.005), ("plastic", 0.002, 0.004), ("metal", 0.0002, 0.002)]
)
def test_the_chip_of_an_eighth_inch_bit_lies_within_the_charts(kind: str, least: float, most: float) -> None:
    """Inches a tooth. Sources: two cutter sellers' charts (hardwood, hard plastic); for any end mill under 1.5 in
    https://lavallee-ide.com/catalog/technical_data_milling_feeds.php.
    """
    speeds = speeds_for(EIGHTH, kind, SpeedsAsked(), Machine(most_feed=math.inf))
    assert least <= speeds.feed / speeds.rpm / 2 / MM_PER_INCH <= most


@pytest.mark.parametrize("diameter", [0.6, MM_PER_INCH / 32, 1.0])
def test_shell_is_cut_as_small_bits_usually_cut_it(diameter: float) -> None:
    """100 to 380 mm/min, 0.1 to 0.25 mm a pass, 15,000 to 30,000 turns: common practice, no source."""
    speeds = speeds_for(Bit(diameter=diameter), "shell", SpeedsAsked(), Machine())
    assert 15_000 <= speeds.rpm <= 30_000
    assert 100 <= speeds.feed <= 380
    assert 0.1 <= speeds.pass_depth <= 0.25


def test_bone_is_cut_in_chips_thinner_than_those_that_crack_it() -> None:
    """It shears at 10 to 50 um and cracks over 100: Luo et al. 2022, doi 10.1186/s10033-022-00769-2."""
    for diameter in STANDARD_SIZES:
        speeds = speeds_for(Bit(diameter=diameter), "bone", SpeedsAsked(), Machine())
        assert speeds.feed / speeds.rpm / 2 <= 0.05


def test_every_kind_of_stock_has_figures_to_start_from() -> None:
    assert set(STARTS) == set(KINDS)


@pytest.mark.parametrize("kind", STARTS)
def test_a_larger_bit_goes_no_slower_and_no_shallower(kind: str) -> None:
    found = [speeds_for(Bit(diameter=size), kind, SpeedsAsked(), Machine()) for size in STANDARD_SIZES]
    assert [one.pass_depth for one in found] == sorted(one.pass_depth for one in found)
    chips = [one.feed / one.rpm for one in found if one.feed < Machine().most_feed]
    assert chips == sorted(chips)
    assert all(one.down < one.feed <= Machine().most_feed for one in found)
    assert all(Machine().least_rpm <= one.rpm <= Machine().most_rpm for one in found)


def test_what_the_maker_says_goes_before_the_table() -> None:
    asked = SpeedsAsked(rpm=12_000, feed=90, pass_depth=0.05)
    speeds = speeds_for(EIGHTH, "shell", asked, Machine())
    assert (speeds.rpm, speeds.feed, speeds.pass_depth) == (12_000, 90, 0.05)


def test_one_tooth_goes_half_as_fast_as_two() -> None:
    one, two = (speeds_for(EIGHTH, "shell", SpeedsAsked(teeth=teeth), Machine()) for teeth in (1, 2))
    assert one.feed == pytest.approx(two.feed / 2)


@pytest.mark.parametrize(
    ("text", "speed"),
    [("300mm/min", 300), ("12in/min", 304.8), ("5 mm/s", 300), (250, 250), ("0.5 m / min", 500), ("1/2in/sec", 762)],
)
def test_a_speed_is_read_with_its_unit(text: str | float, speed: float) -> None:
    assert positive_speed(text) == pytest.approx(speed)


@pytest.mark.parametrize("text", ["fast", "0", "-3mm/min", "12 furlong/min", "", "1e300mm/min", "3mm/h"])
def test_what_is_no_speed_is_refused(text: str) -> None:
    with pytest.raises(InlayfitError) as caught:
        positive_speed(text, where="machine.rapid")
    assert caught.value.where == "machine.rapid"
    assert caught.value.remedy


def test_the_table_shows_every_kind_with_its_source(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["feeds", "--bit", "1/32in"]) == 0
    printed = capsys.readouterr().out
    assert all(kind in printed and start.source in printed for kind, start in STARTS.items())


def test_json_of_one_kind(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["feeds", "--bit", "0.6mm", "--kind", "shell", "--teeth", "1", "--most-rpm", "24000", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["bit_mm"] == 0.6
    assert document["teeth"] == 1
    (row,) = document["feeds"]
    assert row["kind"] == "shell"
    assert row["feed_mm_per_min"] == pytest.approx(24_000 * 1 * 0.005 * 0.6)


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["--bit", "0"],
        ["--bit", "1/32in", "--teeth", "0"],
        ["--bit", "1/32in", "--teeth", "two"],
        ["--bit", "1/32in", "--kind", "cheese"],
        ["--bit", "1/32in", "--most-rpm", "-1"],
        ["--bit", "1/32in", "--most-rpm", "1e9"],
        ["--bit", "0.1mm", "--runout", "0.2mm"],
    ],
)
def test_what_cannot_be_used_is_told(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["feeds", *words]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err
