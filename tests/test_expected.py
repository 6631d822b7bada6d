"""The gap to expect of each piece: from the measured gap, with words and findings where it may close or open."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from inlayfit.cutters import Bit, Kerf
from inlayfit.expected import Expected, Premises, expect, sizes_along
from inlayfit.expected_remarks import SURE, advice, expected_findings
from inlayfit.glues import ADHESIVES, EVEN, Glue, judge_gap
from inlayfit.recipe import Fit
from inlayfit.report.expected import expected_lines, expected_table, piece_table
from inlayfit.report.summary import fit_summary
from inlayfit.season import Climate, Season, Timber
from inlayfit.stack import HalfTolerances, Tolerances, wall_stack
from inlayfit.stocks import Stock
from inlayfit.woods import WOODS
from tests.made_up import a_fit, a_gap, a_pocket

MAPLE = Timber(wood=WOODS["sugar maple"], grain_deg=0, sawn="flat")
DRY, ROOM, DAMP = (Climate(humidity=humidity, temperature_c=20) for humidity in (20, 45, 75))
YEAR = Season(pocket=MAPLE, cut=ROOM, driest=DRY, dampest=DAMP)


def with_gaps(*gaps: float) -> Fit:
    both = a_fit()
    pieces = [replace(piece, gap=a_gap(min=gap, max=gap + 0.002)) for piece, gap in zip(both.pieces, gaps, strict=True)]
    return replace(both, pieces=tuple(pieces))


def loose(repeat: float, **changes) -> Premises:
    half = HalfTolerances(repeat=repeat)
    return Premises(tolerances=Tolerances(piece=half, pocket=half, **changes))


def kinds(expected: Expected, fit: Fit) -> list[str]:
    return [finding.kind for finding in expected_findings(expected, fit)]


def test_a_piece_that_is_tight_somewhere_has_its_own_likelihood() -> None:
    body, eye = expect(with_gaps(0.05, 0.02), Premises()).pieces
    assert body.drops_in > 0.999 > eye.drops_in
    assert (body.name, eye.name) == ("body", "eye")


def test_the_ranges_lie_about_the_measured_gap() -> None:
    expected = expect(with_gaps(0.05, 0.04), Premises())
    for piece, (low, high) in zip(expected.pieces, [(0.05, 0.052), (0.04, 0.042)], strict=True):
        assert piece.worst == pytest.approx((low - expected.stack.worst, high + expected.stack.worst))
        assert piece.likely == pytest.approx((low - expected.stack.likely, high + expected.stack.likely))


def test_pieces_that_share_a_pocket_feel_the_cutter_of_the_pieces_twice() -> None:
    both = a_fit()
    shared = replace(
        both,
        settings=replace(both.settings, piece_cutter=Kerf(width=0.3), pocket_cutter=Bit(diameter=0.788, runout=0.001)),
        pieces=tuple(replace(piece, pocket=0) for piece in both.pieces),
        pockets=(a_pocket("both", shapely.box(0, 0, 40, 20), 0, 1),),
    )
    alone = replace(shared, pieces=shared.pieces[:1], pockets=(a_pocket("one", shapely.box(0, 0, 20, 20), 0),))
    wide = loose(0.0)
    assert expect(alone, wide).pieces[0].likely[0] > expect(shared, wide).pieces[0].likely[0]


def in_one_pocket(joint: float, between: float, *, gap: float = 0.05) -> Fit:
    """Return two squares side by side in one pocket, with a joint of their own between them."""
    both = a_fit()
    pieces = [
        replace(piece, pocket=0, gap=a_gap(min=gap, max=gap), joint=a_gap(nominal=joint, min=between, max=between))
        for piece in both.pieces
    ]
    pockets = (a_pocket("both", shapely.box(0, 0, 40, 20), 0, 1),)
    settings = replace(both.settings, joint=joint)
    return replace(both, settings=settings, pieces=tuple(pieces), pockets=pockets)


def test_a_joint_of_its_own_has_its_own_likelihood_and_its_own_advice() -> None:
    tight = in_one_pocket(0.01, 0.01)
    expected = expect(tight, Premises())
    assert expected.pieces[0].drops_in < SURE < expect(in_one_pocket(0.04, 0.04), Premises()).pieces[0].drops_in
    assert advice(expected).startswith("a wider joint, 0.0")
    assert kinds(expected, tight) == 2 * ["gap-may-close"]
    wide = in_one_pocket(0.1, 0.1)
    assert advice(expect(wide, Premises())).startswith("a narrower joint, 0.0")


def test_where_a_gap_is_too_tight_and_a_joint_too_wide_both_are_told() -> None:
    said = advice(expect(in_one_pocket(0.1, 0.1, gap=0.01), Premises()))
    assert said.startswith("a wider gap, 0.0")
    assert "; a narrower joint, 0.0" in said


def test_pieces_that_butt_drop_in_as_a_row_with_the_gap_at_its_ends() -> None:
    row = expect(in_one_pocket(0.0, 0.001), Premises()).pieces[0]
    alone = expect(with_gaps(0.05, 0.05), Premises()).pieces[0]
    assert row.drops_in > 0.5, "that two pieces touch is no want of room"
    assert row.likely[0] < alone.likely[0], "the errors of both pieces count"
    within = in_one_pocket(0.0, 0.001)
    inner = replace(within.pieces[0], gap=within.pieces[0].joint)
    within = replace(within, pieces=(inner, within.pieces[1]))
    assert expect(within, Premises()).pieces[0].drops_in == pytest.approx(row.drops_in), "it has no wall of its own"


def test_the_advice_names_no_gap_below_nought() -> None:
    rough = expect(in_one_pocket(0.3, 0.3, gap=0.5), loose(0.2, limit=0.16))
    assert advice(rough).startswith("a narrower gap; first of all machine")


@pytest.mark.parametrize(("across", "up"), [(1, 1), (3, 1), (2, 2), (1, 4)])
def test_a_row_is_as_long_as_the_most_pieces_on_one_line(across: int, up: int) -> None:
    both = a_fit()
    squares = [shapely.box(10 * x, 10 * y, 10 * x + 9.9, 10 * y + 9.9) for x in range(across) for y in range(up)]
    pieces = tuple(replace(both.pieces[0], outline=square, pocket=0) for square in squares)
    pocket = a_pocket("all", shapely.box(0, 0, 10 * across, 10 * up), *range(len(pieces)))
    butted = replace(both, settings=replace(both.settings, joint=0.0), pieces=pieces, pockets=(pocket,))
    spread = {place.stack.likely for place in (piece.tightest for piece in expect(butted, Premises()).pieces)}
    row = wall_stack(both.settings.piece_cutter, both.settings.pocket_cutter, Tolerances(), row=max(across, up))
    assert spread == {row.likely}


def test_a_gap_that_the_errors_eat_up_is_a_finding_with_a_gap_that_would_do() -> None:
    tight = with_gaps(0.01, 0.05)
    expected = expect(tight, Premises())
    (found,) = expected_findings(expected, tight)
    assert (found.kind, found.severity, found.name) == ("gap-may-close", "warning", "body")
    assert "a wider gap" in found.remedy
    wanted = float(found.remedy.split(",")[1].split()[0])
    least = expect(with_gaps(0.01 + wanted - 0.05, 0.05), Premises()).pieces[0].drops_in
    assert least == pytest.approx(SURE, abs=0.003), "the gap that is proposed is just wide enough"


def test_a_gap_that_may_open_past_the_limit_is_a_finding_with_a_gap_that_would_do() -> None:
    wide = with_gaps(0.05, 0.085)
    expected = expect(wide, Premises())
    (found,) = expected_findings(expected, wide)
    assert (found.kind, found.name) == ("gap-may-open", "eye")
    assert "a narrower gap" in found.remedy
    assert not kinds(expect(wide, loose(0.0254, limit=0.2)), wide), "the maker's own limit counts"


def test_where_no_gap_does_both_the_machine_comes_first() -> None:
    expected = expect(with_gaps(0.05, 0.05), loose(0.2))
    assert advice(expected).startswith("no gap does both: ")
    assert "first of all machine (9" in advice(expected)


def test_what_matters_most_stands_in_the_advice() -> None:
    sure = expect(with_gaps(0.05, 0.05), Premises())
    assert advice(sure).startswith("nothing has to; most comes from machine")
    bits = HalfTolerances(bit=0.2, repeat=0.0)
    rough = expect(with_gaps(0.05, 0.05), Premises(tolerances=Tolerances(piece=bits, pocket=bits)))
    assert "first of all bit (100% of the spread)" in advice(rough)
    none = HalfTolerances(bit=0.0, runout=0.0, repeat=0.0)
    exact = expect(with_gaps(0.05, 0.05), Premises(tolerances=Tolerances(piece=none, pocket=none)))
    assert "nothing is taken to be off" in advice(exact)
    assert [piece.drops_in for piece in exact.pieces] == [1, 1]


def test_the_film_of_glue_that_is_asked_for_needs_its_room() -> None:
    epoxy = Glue(adhesive=ADHESIVES["epoxy"], thickness=0.04)
    dry, glued = (expect(with_gaps(0.05, 0.05), Premises(glue=glue)).least_sure.drops_in for glue in (None, epoxy))
    assert dry > 0.999
    assert glued < 0.9
    (first, _) = expected_findings(expect(with_gaps(0.05, 0.05), Premises(glue=epoxy)), with_gaps(0.05, 0.05))
    assert "room for its glue" in first.message


def test_a_pocket_is_measured_along_the_grain_and_square_to_it() -> None:
    bar = shapely.box(0, 0, 30, 10)
    assert sizes_along(bar, 0) == pytest.approx((30, 10))
    assert sizes_along(bar, 90) == pytest.approx((10, 30))
    assert sizes_along(shapely.affinity.rotate(bar, 25), 25) == pytest.approx((30, 10))


def test_the_gap_of_a_dry_winter_is_that_of_the_cut_less_half_of_what_the_pocket_shrinks() -> None:
    """By hand: 0.05 - 20 mm x 0.00353 x change / 2, and next to nothing along the grain."""
    expected = expect(with_gaps(0.05, 0.05), Premises(season=YEAR))
    body = expected.pieces[0]
    assert body.dry is not None
    assert body.damp is not None
    assert body.dry.across == pytest.approx(0.05 - 20 * 0.00353 * (ROOM.moisture - DRY.moisture) / 2)
    assert body.damp.across == pytest.approx(0.052 + 20 * 0.00353 * (DAMP.moisture - ROOM.moisture) / 2)
    assert body.dry.along == pytest.approx(0.05, abs=0.005)


def test_a_gap_that_closes_or_opens_with_the_seasons_is_a_finding_of_its_pocket() -> None:
    both = with_gaps(0.05, 0.05)
    found = [f for f in expected_findings(expect(both, Premises(season=YEAR)), both) if f.kind.startswith("season")]
    assert {(finding.kind, finding.name) for finding in found} >= {
        ("season-closes", "pocket 1"),
        ("season-opens", "pocket 1"),
    }
    closes = next(finding for finding in found if finding.kind == "season-closes")
    assert "in the driest time the gap closes across the grain" in closes.message
    assert closes.size_mm is not None
    assert closes.size_mm < 0
    calm = replace(YEAR, driest=ROOM, dampest=ROOM)
    assert not kinds(expect(both, Premises(season=calm)), both)


def test_a_piece_of_the_same_wood_keeps_its_gap_all_year() -> None:
    both = with_gaps(0.05, 0.05)
    year = replace(YEAR, pieces=(("shell", MAPLE),))
    assert not [kind for kind in kinds(expect(both, Premises(season=year)), both) if kind.startswith("season")]


def test_a_stock_with_the_name_of_a_wood_that_is_taken_as_still_is_noted() -> None:
    both = with_gaps(0.05, 0.05)
    both = replace(both, pieces=tuple(replace(piece, stock="Ebony") for piece in both.pieces))
    calm = replace(YEAR, driest=ROOM, dampest=ROOM)
    (note,) = expected_findings(expect(both, Premises(season=calm)), both)
    assert (note.kind, note.severity) == ("still-wood", "note")
    assert 'stock = "Ebony"' in note.remedy
    koa = replace(both.settings, stocks=(Stock(name="koa", kind="wood"),))
    other = replace(both, settings=koa, pieces=tuple(replace(piece, stock="koa") for piece in both.pieces))
    assert kinds(expect(other, Premises(season=calm)), other) == ["still-wood"]
    told = replace(calm, pieces=(("Ebony", MAPLE),))
    assert not kinds(expect(both, Premises(season=told)), both)
    assert not kinds(expect(both, Premises()), both)


@pytest.mark.parametrize(
    ("glue", "gap", "verdict"),
    [
        ("cyanoacrylate", 0.05, "suits"),
        ("cyanoacrylate", 0.25, "too wide"),
        ("epoxy", 0.05, "suits"),
        ("epoxy", 0.03, "too tight"),
        ("epoxy", 0.2 + 2 * EVEN, "too wide"),
        ("filled epoxy", 0.25, "suits"),
        ("hide glue", 0.05, "no figure"),
        ("wood glue", 5.0, "no figure"),
    ],
)
def test_a_gap_suits_a_glue_as_published(glue: str, gap: float, verdict: str) -> None:
    """Cyanoacrylate under 0.2 mm, epoxy starves under 0.05 mm, 0.05 to 0.2 mm in general.

    Practical Guide to Adhesive Bonding of Small Engineering Plastic and Rubber Parts, gap-filling capability.
    """
    assert judge_gap(ADHESIVES[glue], gap) == verdict


def test_every_glue_has_a_source_or_says_that_there_is_none() -> None:
    for adhesive in ADHESIVES.values():
        assert adhesive.source
        assert (adhesive.least is None) == ("no published figure" in adhesive.source)


def test_a_glue_that_the_gap_does_not_suit_is_a_finding_with_its_source() -> None:
    both = with_gaps(0.05, 0.05)
    both = replace(both, settings=replace(both.settings, gap=0.03))
    found = expected_findings(expect(both, Premises(glue=Glue(adhesive=ADHESIVES["epoxy"]))), both)
    assert [finding.kind for finding in found] == ["glue-gap"]
    assert "0.05 to 0.2 mm" in found[0].message
    assert "Practical Guide" in found[0].remedy


def test_the_json_and_the_screen_carry_the_same_numbers() -> None:
    both = with_gaps(0.05, 0.04)
    epoxy = Glue(adhesive=ADHESIVES["epoxy"])
    expected = expect(both, Premises(season=YEAR, glue=epoxy))
    table = expected_table(expected)
    said = "\n".join(line.text for line in expected_lines(expected))
    rows = [piece_table(piece) for piece in expected.pieces]
    low, high = min(row["expect"]["rss_mm"][0] for row in rows), max(row["expect"]["rss_mm"][1] for row in rows)
    assert f"{low:.3f} to {high:.3f} mm a side" in said
    assert table["expect"]["advice"] in said
    assert f"{table['season']['cut']['moisture_percent']:.1f}% in the wood" in said
    across = [row["season"]["dry"]["across_mm"] for row in rows]
    assert f"{min(across):.3f} to {max(across):.3f} mm across the grain" in said
    assert sum(one["share"] for one in table["expect"]["contributors"]) == pytest.approx(1)
    assert {one["acts_on"] for one in table["expect"]["contributors"]} == {"size", "place"}


def test_the_json_of_a_fit_has_the_names_that_others_rely_on() -> None:
    both = with_gaps(0.05, 0.05)
    summary = fit_summary(both, [], expected=expect(both, Premises(season=YEAR)))
    assert {"limit_mm", "contributors", "advice", "glue"} <= summary["expect"].keys()
    assert {"name", "acts_on", "plus_minus_mm", "effect_mm", "share", "source"} <= summary["expect"]["contributors"][
        0
    ].keys()
    piece = summary["pieces"][0]
    assert piece["expect"].keys() == {
        "nominal_mm",
        "worst_mm",
        "rss_mm",
        "drops_in_likelihood",
        "under_limit_likelihood",
    }
    assert {"along_mm", "across_mm"} <= piece["season"]["dry"].keys() & piece["season"]["damp"].keys()
    bare = fit_summary(both, [], expected=expect(both, Premises()))
    assert (bare["season"], bare["pieces"][0]["season"], bare["expect"]["glue"]) == (None, None, None)
