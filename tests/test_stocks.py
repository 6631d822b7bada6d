"""Regions go to stocks by layer, colour, name or by hand; what is left over or wanted twice is refused by name."""

from __future__ import annotations

from pathlib import Path

import pytest

from inlayfit.cutters import Bit, Kerf
from inlayfit.drawing import Drawing, Region
from inlayfit.errors import InlayfitError, JobError
from inlayfit.job import Job, read_job
from inlayfit.stocks import Stock, assign, check_stocks, find_stock
from tests.shapes import square

LOOKS = [
    ("wing", "birds", "#a9bccb"),
    ("tail feather 1", "birds", "#a9bccb"),
    ("tail feather 2", "birds", "#4a5563"),
    ("eye", "birds", "#1c1a19"),
    ("moon", "sky", "#e3c47a"),
]


def drawing() -> Drawing:
    regions = tuple(Region(polygon=square(1.0), name=name, layer=layer, colour=colour) for name, layer, colour in LOOKS)
    return Drawing(source="birds.svg", regions=regions)


def of(*stocks: Stock) -> list[str]:
    return [region.stock for region in assign(drawing(), stocks)[0].regions]


def test_regions_go_to_stocks_by_layer_colour_pattern_and_hand() -> None:
    pearl = Stock(name="pearl", layers=("sky",), names=("tail feather *",))
    slate = Stock(name="slate", kind="stone", colours=("#1c1a19",))
    bone = Stock(name="bone", kind="bone", regions=("wing",))
    assert of(pearl, slate, bone) == ["bone", "pearl", "pearl", "slate", "pearl"]


def test_what_stands_under_without_is_left_to_others() -> None:
    pearl = Stock(name="pearl", layers=("birds", "sky"), without=("eye", "tail*"))
    ebony = Stock(name="ebony", kind="wood", names=("eye", "tail*"))
    assert of(pearl, ebony) == ["pearl", "ebony", "ebony", "ebony", "pearl"]


def test_a_stock_that_is_alone_and_claims_nothing_takes_all() -> None:
    assert of(Stock(name="pearl")) == ["pearl"] * 5


def test_regions_without_a_stock_are_listed_with_layer_and_colour() -> None:
    with pytest.raises(JobError) as error:
        of(Stock(name="pearl", layers=("sky",)), Stock(name="bone", names=("tail*", "wing")))
    assert "eye (layer birds, colour #1c1a19)" in error.value.message
    assert "wing" not in error.value.message
    assert error.value.where == "stock"
    assert "[stock.pearl], [stock.bone]" in error.value.remedy


@pytest.mark.parametrize("way", [{"colours": ("#e3c47a",)}, {"names": ("m??n",)}, {"regions": ("moon",)}])
def test_a_region_that_two_stocks_claim_names_both(way: dict[str, tuple[str, ...]]) -> None:
    with pytest.raises(JobError, match=r"moon .* is claimed by pearl and gold") as error:
        of(Stock(name="pearl", layers=("birds", "sky")), Stock(name="gold", **way))  # type: ignore[arg-type]
    assert error.value.where == "stock.gold"
    assert 'without = ["moon"]' in error.value.remedy


def test_a_stock_that_no_region_uses_is_a_note() -> None:
    _, found = assign(drawing(), [Stock(name="pearl", layers=("birds", "sky")), Stock(name="gold", layers=("suns",))])
    assert [(finding.kind, finding.severity, finding.name) for finding in found] == [("unused-stock", "note", "gold")]


def test_a_region_named_by_hand_must_exist() -> None:
    with pytest.raises(JobError, match="no region is called 'wnig'") as error:
        of(Stock(name="pearl", layers=("birds", "sky")), Stock(name="bone", regions=("wnig",)))
    assert error.value.where == "stock.bone.regions"
    assert "did you mean wing?" in error.value.remedy


def test_an_unknown_stock_lists_the_known() -> None:
    stocks = [Stock(name="pearl"), Stock(name="bone")]
    assert find_stock(stocks, "bone", where="blank[0].stock").name == "bone"
    with pytest.raises(JobError, match="no stock is called 'perl'") as error:
        find_stock(stocks, "perl", where="blank[0].stock")
    assert error.value.remedy == "did you mean pearl? known: pearl, bone"


@pytest.mark.parametrize(
    ("stocks", "where"),
    [
        ([Stock(name="pearl"), Stock(name="pearl")], "stock.pearl"),
        ([Stock(name="pearl", kind="glass")], "stock.pearl.kind"),
        ([Stock(name="pearl", cut_from="side")], "stock.pearl.cut_from"),
    ],
)
def test_stocks_that_make_no_sense_are_refused(stocks: list[Stock], where: str) -> None:
    with pytest.raises(JobError) as error:
        check_stocks(stocks)
    assert error.value.where == where


JOB = '[drawing]\nfile = "birds.svg"\n'


def job(text: str) -> Job:
    return read_job(JOB + text, source="birds.toml", folder=Path())


def test_the_stocks_of_a_job_come_in_as_millimetres() -> None:
    whole = job("""
        [stock."white pearl"]
        thickness = "1.5mm"
        bit = "1/32in"
        runout = 0.01
        least_web = "0.8mm"
        figure_deg = 30
        cut_from = "back"
        layers = ["birds"]
        without = ["eye"]
        [stock.brass]
        kind = "metal"
        kerf = "0.3mm"
        colours = ["#FA0"]
        names = ["m*"]
        regions = ["eye"]
    """)
    assert whole.stocks == (
        Stock(
            name="white pearl",
            thickness=1.5,
            cutter=Bit(diameter=0.79375, runout=0.01),
            least_web=0.8,
            figure_deg=30.0,
            cut_from="back",
            layers=("birds",),
            without=("eye",),
        ),
        Stock(
            name="brass",
            kind="metal",
            cutter=Kerf(width=0.3),
            colours=("#ffaa00",),
            names=("m*",),
            regions=("eye",),
        ),
    )


WRONG = [
    ("[stock]\npearl = 3", "stock.pearl", "expected a table"),
    ("[stock.pearl]\nthicknes = 1", "stock.pearl.thicknes", "no such key"),
    ("[stock.pearl]\nthickness = 0", "stock.pearl.thickness", "more than zero"),
    ('[stock.pearl]\nthickness = "5in"', "stock.pearl.thickness", "more than 50 mm"),
    ("[stock.pearl]\nthickness = true", "stock.pearl.thickness", "expected a length"),
    ("[stock.pearl]\nbit = 1\nkerf = 1", "stock.pearl", "a bit and a kerf at once"),
    ("[stock.pearl]\nrunout = 0.01", "stock.pearl.runout", "without a bit"),
    ("[stock.pearl]\nleast_web = -1", "stock.pearl.least_web", "less than zero"),
    ("[stock.pearl]\nfigure_deg = 900", "stock.pearl.figure_deg", "no direction"),
    ("[stock.pearl]\nfigure_deg = nan", "stock.pearl.figure_deg", "no direction"),
    ('[stock.pearl]\nkind = "shel"', "stock.pearl.kind", "none of the choices"),
    ('[stock.pearl]\ninlaid = "glue"', "stock.pearl.inlaid", "none of the choices"),
    ('[stock.pearl]\ncut_from = "side"', "stock.pearl.cut_from", "none of the choices"),
    ('[stock.pearl]\ncolours = ["gold"]', "stock.pearl.colours", "no colour"),
    ('[stock.pearl]\nlayers = "sky"', "stock.pearl.layers", "expected a list"),
    ('[stock.""]\nthickness = 1', "stock.", "without a name"),
    ("[stock.pearl]\nbit = 1\n[stock.pearl]\nbit = 2", "stock.pearl", "two stocks are called 'pearl'"),
    ("[stock.'a b']\nbit = 1\n[stock.'a b']\nbit = 2", "stock.a b", "two stocks are called 'a b'"),
    ('[piece]\nstock = "bone"\n[stock.pearl]\nbit = 1', "piece.stock", "beside tables of stock"),
]


@pytest.mark.parametrize(("text", "key", "says"), WRONG, ids=[f"{row[1]}: {row[2]}" for row in WRONG])
def test_what_is_wrong_with_a_stock_is_named_by_its_key(text: str, key: str, says: str) -> None:
    with pytest.raises(InlayfitError) as error:
        job(text)
    assert error.value.where == f"birds.toml: {key}"
    assert says in error.value.message
    assert error.value.remedy


def test_the_markers_of_a_board_are_cut_from_one_stock() -> None:
    with pytest.raises(JobError, match="from one stock") as error:
        read_job(
            '[board]\nscale = "25.5in"\nfrets = 22\nnut_width = 43\nend_width = 57\n[stock.pearl]\nbit = 1',
            source="board.toml",
            folder=Path(),
        )
    assert error.value.where == "board.toml: stock"
