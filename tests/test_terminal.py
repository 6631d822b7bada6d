"""What the screen and the JSON say of a check and of a fit: the verdict first, all of it true, none of it too wide."""

from __future__ import annotations

import json
import math

import pytest
from rich.console import Console

from inlayfit.checker import verdict_of
from inlayfit.cutters import Kerf
from inlayfit.drawing import ReadNote
from inlayfit.recipe import FitSettings
from inlayfit.report.places import places_of
from inlayfit.report.reading import MOST_NOTES
from inlayfit.report.summary import check_summary, fit_summary
from inlayfit.report.terminal import CAUTION, MOST_ROWS, MOST_SPOTS, check_report, fit_report
from tests.made_up import BIT, a_check, a_drawing, a_finding, a_fit, a_gap

LIMB = {
    "kind": "limb",
    "severity": "loss",
    "site": 7,
    "message": "limb 0.5 mm wide; the bit needs 0.8 mm",
    "remedy": "enlarge the drawing 1.6 times",
}


CUTTERS = {"piece_cutter": BIT, "pocket_cutter": BIT}


def shown(parts, width: int = 100) -> str:
    console = Console(width=width, markup=False, emoji=False, highlight=False, color_system=None)
    with console.capture() as capture:
        console.print(*parts, sep="\n")
    return capture.get()


def test_the_marks_of_one_place_count_once_by_the_deepest() -> None:
    marks = [a_finding(**LIMB, x=float(x), reach_mm=reach) for x, reach in ((1, 0.4), (3, 2.5), (5, 0.6))]
    (place,) = places_of(marks)
    assert place.worst.x == 3
    assert place.marks == 3


def test_places_of_other_parts_or_without_a_number_stay_apart_the_worst_first() -> None:
    findings = [
        a_finding(reach_mm=0.1),
        a_finding(reach_mm=0.3),
        a_finding(**LIMB, reach_mm=0.9),
        a_finding(**LIMB, part="piece", reach_mm=1.2),
    ]
    assert [place.worst.reach_mm for place in places_of(findings)] == [1.2, 0.9, 0.3, 0.1]


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        (
            {"verdict": "as drawn", "findings": ()},
            "Yes: heron.svg at 40 x 20 mm can be cut as drawn with a 1/32 in (0.794 mm) bit (within 0.05 mm).",
        ),
        (
            {},
            "Yes, softened: a 1/32 in (0.794 mm) bit rounds 1 place of heron.svg at 40 x 20 mm, and loses nothing.",
        ),
        (
            {"verdict": "loses detail", "findings": (a_finding(**LIMB), a_finding(**LIMB, x=3.0))},
            (
                "No: a 1/32 in (0.794 mm) bit loses 1 place of heron.svg at 40 x 20 mm. "
                "A bit of 3.175 mm or less loses nothing."
            ),
        ),
        (
            {
                "verdict": "loses detail",
                "findings": (a_finding(**LIMB),),
                "largest_bit_no_loss": None,
                "smallest_width": 88.31,
                "cutter": Kerf(width=0.3),
            },
            "No: a 0.3 mm kerf loses 1 place of heron.svg at 40 x 20 mm. This one cuts it all from 88.4 mm wide.",
        ),
        (
            {"verdict": "loses detail", "findings": (a_finding(**LIMB),), "largest_bit_no_loss": None},
            (
                "No: a 1/32 in (0.794 mm) bit loses 1 place of heron.svg at 40 x 20 mm. "
                "No bit and no size cuts all of it: redraw the places below."
            ),
        ),
    ],
)
def test_a_check_opens_with_a_line_to_act_on(changes, line: str) -> None:
    assert shown(check_report(a_check(**changes), a_drawing()), width=200).splitlines()[0] == line


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({}, "They fit: 2 pieces and 2 pockets, gap 0.050 mm a side (asked: 0.05 mm), as drawn."),
        (
            {"findings": (a_finding(),)},
            "They fit: 2 pieces and 2 pockets, gap 0.050 mm a side (asked: 0.05 mm); 1 place softened on both halves.",
        ),
        (
            {"findings": (a_finding(),) * 2, "settings": FitSettings(**CUTTERS, gap=0.05, corners="sharp")},
            (
                "They fit: 2 pieces and 2 pockets, gap 0.050 mm a side (asked: 0.05 mm) "
                "once 2 places listed below are finished by hand."
            ),
        ),
        (
            {"findings": (a_finding(**LIMB), a_finding())},
            (
                "They fit: 2 pieces and 2 pockets, gap 0.050 mm a side (asked: 0.05 mm), "
                "but the drawing loses 1 place: look below before you cut."
            ),
        ),
    ],
)
def test_a_fit_opens_with_a_line_to_act_on(changes, line: str) -> None:
    assert shown(fit_report(a_fit(**changes), []), width=200).splitlines()[0] == line


def with_gap(fit, **changes):
    from dataclasses import replace

    first, *rest = fit.pieces
    return replace(fit, pieces=(replace(first, gap=a_gap(**changes)), *rest))


def test_a_piece_that_touches_is_no_fit_whatever_else() -> None:
    text = shown(fit_report(with_gap(a_fit(), drops_in=False, min=-0.01), []))
    assert text.startswith("No fit: body touches its pocket.")


def test_the_gap_of_the_first_line_spans_all_pieces() -> None:
    assert "gap 0.031 to 0.072 mm a side" in shown(fit_report(with_gap(a_fit(), min=0.031, max=0.072), []))


def test_a_warning_without_reach_is_a_caution_and_softens_nothing() -> None:
    thin = a_finding(kind="thin-web", reach_mm=None, size_mm=0.4, message="web 0.4 mm", remedy="leave more wood")
    text = shown(fit_report(a_fit(findings=(thin,)), []))
    assert "as drawn" in text.splitlines()[0]
    assert "warn" in text
    assert verdict_of([thin]) == "as drawn"


def test_what_was_read_and_left_out_is_said() -> None:
    text = shown(check_report(a_check(), a_drawing()))
    assert "40 x 20 mm, 2 regions on shell (1), stone (1)" in text
    assert "Left out" in text
    assert "text 'Opus': letters are no outline (turn into paths)" in text


def test_many_notes_of_one_kind_are_counted_and_hide_no_other() -> None:
    joined = [ReadNote(kind="joined", subject=f"ARC {i}", message="closed", at=(1.0, 2.0)) for i in range(40)]
    notes = (*joined, ReadNote(kind="open", subject="LINE 1", message="left open"))
    text = shown(check_report(a_check(), a_drawing(notes=notes)))
    assert text.count("closed") == MOST_NOTES
    assert "ARC 0 at 1.0, 2.0: closed" in text
    assert f"{40 - MOST_NOTES} more: all of them with --json" in text
    assert "LINE 1: left open" in text


def test_sizes_are_rounded_to_the_safe_side() -> None:
    """A largest bit goes down and a smallest width up: the figure on the screen must do as well as the true one."""
    text = shown(check_report(a_check(largest_bit=0.24199, smallest_width=88.31), a_drawing()))
    assert "bits up to 0.241 mm" in text
    assert "bits up to 3.175 mm" in text
    assert "from 88.4 mm wide" in text


def test_many_places_are_counted_not_all_listed() -> None:
    findings = [a_finding(reach_mm=0.1 + i / 1000, message=f"corner {i}") for i in range(MOST_ROWS + 5)]
    text = shown(check_report(a_check(findings=tuple(findings)), a_drawing()))
    assert text.count("corner") == MOST_ROWS + 1  # and the scaling note
    assert "corner 14" in text  # the deepest is listed
    assert "and 5 more soft: all of them with --json" in text
    assert text.count("round it, or take a smaller bit") == 1


def test_places_of_which_the_same_is_said_share_a_row() -> None:
    findings = [a_finding(x=float(x)) for x in range(MOST_SPOTS + 4)]
    text = shown(check_report(a_check(findings=tuple(findings)), a_drawing()))
    assert text.count("corner of 90 degrees") == 1
    assert "rounds 8 places" in text
    assert "0.0, 20.0" in text
    assert "5 more" in text


def test_the_same_of_several_regions_is_said_once_and_counts_them() -> None:
    findings = tuple(a_finding(name=name) for name in ("body", "eye", "eye", "tail"))
    text = shown(check_report(a_check(findings=findings), a_drawing()))
    assert "body and 2 others: corner of 90 degrees" in text


def test_a_fit_shows_its_gaps_its_files_what_reading_back_showed_and_the_caution() -> None:
    text = shown(
        fit_report(a_fit(), [("out/pieces-shell.dxf", "pieces-dxf"), ("out/report.json", "report")], proof="8 outlines")
    )
    assert "body   pocket 1  0.050  0.050  0.050  0.050  100%" in text
    assert "Written    out/pieces-shell.dxf" in text
    assert "Read back  8 outlines" in text
    assert " ".join(text.split()).endswith(CAUTION)


@pytest.mark.parametrize("width", [40, 60, 80, 200])
def test_nothing_is_cut_off_or_too_wide(width: int) -> None:
    findings = (a_finding(**LIMB), a_finding())
    for parts in (
        check_report(a_check(findings=findings, verdict="loses detail"), a_drawing()),
        fit_report(a_fit(findings=findings), [("a-rather-long-folder-name/with-another/pieces-shell.dxf", "x")]),
    ):
        text = shown(parts, width)
        assert max(map(len, text.splitlines())) <= width
        assert "…" not in text
        words = "".join(text.split())
        assert "enlargethedrawing1.6times" in words or width < 60


def test_names_of_the_drawing_are_no_markup() -> None:
    text = shown(check_report(a_check(findings=(a_finding(name="[/b] :heart: [red]"),)), a_drawing()))
    assert "[/b] :heart: [red]" in text


def test_the_json_of_a_check_has_its_fixed_names() -> None:
    """The names are fixed by the description of the interface: other programs read them."""
    summary = check_summary(a_check(), a_drawing())
    fixed = {
        "drawing",
        "size_mm",
        "bit_mm",
        "verdict",
        "cuttable",
        "largest_bit_mm",
        "largest_bit_no_loss_mm",
        "findings",
    }
    assert fixed <= summary.keys()
    assert summary["size_mm"] == [40.0, 20.0]
    assert summary["bit_mm"] == 0.79375
    assert summary["cuttable"] is True
    assert summary["largest_bit_mm"] == 0.241421
    assert summary["read"]["notes"][0]["subject"] == "text 'Opus'"
    assert check_summary(a_check(verdict="loses detail"))["cuttable"] is False


def test_the_json_of_a_fit_has_its_fixed_names() -> None:
    """The names are fixed by the description of the interface: other programs read them."""
    summary = fit_summary(a_fit(findings=(a_finding(),)), [("out/pockets.dxf", "pockets-dxf")], job="heron")
    assert {"job", "pieces", "pockets", "findings", "files"} <= summary.keys()
    assert summary["job"] == "heron"
    assert {"name", "layer", "stock", "gap"} <= summary["pieces"][0].keys()
    assert {"nominal", "min", "mean", "max"} <= summary["pieces"][0]["gap"].keys()
    assert summary["pockets"][1]["pieces"] == ["eye"]
    assert summary["files"] == [{"path": "out/pockets.dxf", "kind": "pockets-dxf"}]
    assert summary["verdict"] == "softened"


def test_the_json_holds_no_nan_and_is_rounded_to_a_nanometre() -> None:
    odd = a_finding(x=1 / 3, y=math.nan, reach_mm=math.inf, size_mm=-0.0)
    text = json.dumps(check_summary(a_check(findings=(odd,)), a_drawing()), allow_nan=False)
    (finding,) = json.loads(text)["findings"]
    assert finding["x"] == 0.333333
    assert (finding["y"], finding["reach_mm"]) == (None, None)
    assert math.copysign(1, finding["size_mm"]) == 1


def test_plain_numbers_of_numpy_go_into_the_json() -> None:
    import numpy as np

    summary = fit_summary(with_gap(a_fit(), mean=np.float64(0.05), drops_in=np.bool_(True)), [])
    assert json.loads(json.dumps(summary))["pieces"][0]["gap"]["drops_in"] is True
