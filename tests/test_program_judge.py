"""The judge of cutting programs on trial: it reads what the report on RS-274 shows, and raises what that calls errors.

Source of rules and examples: Kramer, Proctor, Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556, 2000.
"(source)" marks errors that the source of that interpreter has and the report does not tell.
"""

from __future__ import annotations

import math
import re
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.program_judge import UNKNOWN, Event, Move, NotJudgedError, Program, ProgramError, read_program

SET = "G21 G90 G17 G94 G54\nF100\n"
HOME = (0.0, 0.0, 0.0)


def run(*lines: str, start: tuple[float, float, float] = HOME) -> Program:
    return read_program(SET + "\n".join((*lines, "M2")), start=start)


def only(*lines: str, start: tuple[float, float, float] = HOME) -> Move:
    (move,) = run(*lines, start=start).moves
    return move


def refused(*lines: str, start: tuple[float, float, float] = HOME) -> str:
    """Return the error of the last of these lines."""
    with pytest.raises(ProgramError) as caught:
        run(*lines, start=start)
    assert caught.value.line == 2 + len(lines)
    return str(caught.value)


def test_the_judge_takes_nothing_from_the_package() -> None:
    sources = sorted(Path(__file__).parent.glob("program_*.py"))
    assert len(sources) == 6
    for source in sources:
        assert not re.search(r"^\s*(from|import)\s+inlayfit", source.read_text("utf-8"), re.MULTILINE), source.name


def test_the_arc_of_the_report_is_read() -> None:
    """Section 3.5.3.2: from (7, 7) to (10, 16, 9) about (10, 11), radius 5, clockwise from the positive z."""
    move = only("G17 G2 x10 y16 i3 j4 z9", start=(7.0, 7.0, 0.0))
    assert move.arc is not None
    assert (move.kind, move.arc.plane, move.arc.clockwise) == ("arc", "XY", True)
    assert move.arc.centre == (10.0, 11.0, 0.0)
    assert move.arc.radius == 5.0
    assert move.end == (10.0, 16.0, 9.0)
    assert move.arc.sweep_rad == pytest.approx(math.pi - math.atan2(3, 4))
    assert np.allclose(move.at(np.array([0.0, 1.0])), [(7, 7, 0), (10, 16, 9)])


def test_spaces_within_numbers_and_the_case_of_letters_mean_nothing() -> None:
    """Section 3.3: `g0x +0. 12 34y 7` is `g0 x+0.1234 y7`."""
    assert only("g0x +0. 12 34y 7") == only("G0 X+0.1234 Y7")
    assert only("g0x +0. 12 34y 7").end == (0.1234, 7.0, 0.0)
    assert only("g\t0 X 1 . 5").end == (1.5, 0.0, 0.0)


@pytest.mark.parametrize(
    ("text", "value"), [("7", 7), ("+7", 7), ("-7", -7), ("7.", 7), (".7", 0.7), ("-.7", -0.7), ("007.50", 7.5)]
)
def test_numbers_have_a_sign_digits_and_a_point_or_not(text: str, value: float) -> None:
    assert only(f"G0 X{text}").end[0] == value


@pytest.mark.parametrize("text", ["", "+", ".", "-.", "1.2.3", "--1", "1e3", "1-2", "+ -1", "1,5", "*1"])
def test_other_numbers_are_refused(text: str) -> None:
    assert "is not a word" in refused(f"G0 X{text}")


@pytest.mark.parametrize(
    "line", ["E1", "O100", "U1", "V1", "W1", "G0 X1;", "; comment", "X1 /", "//", "G0 X1 %", "?", "1"]
)
def test_other_letters_and_signs_are_refused(line: str) -> None:
    assert "is not a word" in refused(line)


@pytest.mark.parametrize("line", ["G0 X1 \x07", "(caf\u00e9)", "G0\u00a0X1", "G0 X1\x0b", "\ufeffG21", "G0 X1\rG0 X2"])
def test_what_is_not_printable_is_refused(line: str) -> None:
    assert "is not allowed" in refused(line)


def test_lines_may_end_in_either_way() -> None:
    text = SET + "G1 X1 Y1\nM2\n"
    assert read_program(text.replace("\n", "\r\n")) == read_program(text)


def test_a_line_has_256_characters_at_most() -> None:
    longest = "G0 X1" + " " * 251
    assert only(longest).end[0] == 1
    assert "257 characters" in refused(longest + " ")


@pytest.mark.parametrize("line", ["N0 G0 X1", "N99999 G0 X1", "n 1 2 3 G0 X1", "/N7 G0 X1", " / N00007G0X1"])
def test_a_line_number_has_up_to_five_digits(line: str) -> None:
    assert only(line).end[0] == 1


@pytest.mark.parametrize(
    "line", ["N100000 G0 X1", "N000001 G0 X1", "N-1 G0 X1", "N1.5 G0 X1", "N+1", "G0 N1 X1", "N1 N2"]
)
def test_other_line_numbers_are_refused(line: str) -> None:
    refused(line)


def test_comments_are_kept_with_their_lines() -> None:
    program = run("( first )", "G0 (a % b; [#1]) X1 (last)")
    assert [(comment.line, comment.text) for comment in program.comments] == [
        (3, " first "),
        (4, "a % b; [#1]"),
        (4, "last"),
    ]
    assert program.moves[0].end[0] == 1


@pytest.mark.parametrize("line", ["(one (two) )", "(one (two)", "(open", "G0 X1 (open", "closed)", "(a) b)"])
def test_comments_are_closed_and_not_nested(line: str) -> None:
    refused(line)


@pytest.mark.parametrize("line", ["G0 X(half)1", "G0 X1(half)2", "(first) N1 G0 X1"])
def test_a_comment_stands_between_words_only(line: str) -> None:
    refused(line)


def test_lines_with_a_slash_are_left_out_where_that_is_asked_for() -> None:
    text = SET + "/G0 X1\nG0 Y1\nM2"
    assert [move.end[:2] for move in read_program(text, start=HOME).moves] == [(1, 0), (1, 1)]
    assert [move.end[:2] for move in read_program(text, start=HOME, block_delete=True).moves] == [(0, 1)]


def test_percent_lines_stand_in_for_an_end() -> None:
    program = read_program(f"\n  % \n{SET}G0 X1\n\t%\nthis is not read")
    assert (program.ended_by, len(program.moves)) == ("%", 1)
    assert program.moves[0].line == 5


def test_a_percent_line_at_the_beginning_needs_one_at_the_end() -> None:
    for body in ("G0 X1\n", "G0 X1\nM2\n"):
        with pytest.raises(ProgramError, match="none at the end"):
            read_program("%\n" + SET + body)


@pytest.mark.parametrize("text", ["", "\n\n", SET, SET + "G0 X1\n%\n", SET + "/M2\nG0 E1"])
def test_a_program_has_an_end(text: str) -> None:
    with pytest.raises(ProgramError):
        read_program(text, block_delete=True)


@pytest.mark.parametrize("end", ["M2", "m 02", "M30", "G0 X1 M2", "M2.00005"])
def test_nothing_is_read_behind_the_end(end: str) -> None:
    program = read_program(SET + end + "\n$$$ (never closed")
    assert program.ended_by == ("M30" if end == "M30" else "M2")
    assert len(program.moves) == ("X" in end)


@pytest.mark.parametrize(
    "line",
    [
        "G0 G1 X1",
        "G0 G0 X1",
        "G1 G80",
        "G20 G21",
        "G90 G91",
        "G17 G18",
        "G93 G94",
        "G54 G59.1",
        "G61 G64",
        "G40 G41",
        "G43 G49",
        "G98 G99",
        "G4 P1 G53",
        "M3 M5",
        "M3 M4",
        "M7 M8",
        "M0 M2",
        "M48 M49",
    ],
)
def test_two_codes_of_one_group_do_not_share_a_line(line: str) -> None:
    """Table 4."""
    assert "one modal group" in refused(line)


def test_codes_of_all_other_groups_may_share_a_line() -> None:
    program = run("G1 G17 G90 G94 G21 G40 G49 G54 G61 X1 F100 S9000 M3 M8 M48")
    assert len(program.moves) == 1


@pytest.mark.parametrize("line", ["G0 X1 X2", "F1 F2", "S1 S1", "G0 X1 x1", "T1 T2", "G4 P1 P1"])
def test_a_letter_stands_once_on_a_line(line: str) -> None:
    assert "two " in refused(line)


def test_no_more_than_four_m_words_share_a_line() -> None:
    assert len(run("M6 M3 M8 M48").events) == 2
    assert "more than 4" in refused("M6 M3 M8 M48 M1")


@pytest.mark.parametrize("line", ["S-1", "T-1", "G4 P-1", "F-1", "G-1 X1", "M-3", "S-0.001"])
def test_what_counts_from_zero_is_not_negative(line: str) -> None:
    """S, P and T in the report; F, G and M (source)."""
    assert "negative" in refused(line)


@pytest.mark.parametrize(
    "line",
    [
        "G5",
        "G1.5 X1",
        "G50",
        "G90.1",
        "G91.1",
        "G59.4",
        "G100",
        "G1000",
        "M10",
        "M100",
        "M99",
        "G0.1 X1",
        "M3.1",
        "M61",
    ],
)
def test_unknown_codes_are_refused(line: str) -> None:
    """Table 3; G90.1 and G91.1 are not in this version of the language."""
    refused(line)


G_CODES = (
    "0 1 2 3 4 10 17 18 19 20 21 28 30 38.2 40 41 42 43 49 53 54 55 56 57 58 59 59.1 59.2 59.3 61 61.1 64 80 81 82 83"
)
MORE_G_CODES = "84 85 86 87 88 89 90 91 92 92.1 92.2 92.3 93 94 98 99"
M_CODES = "0 1 2 3 4 5 6 7 8 9 30 48 49 60"
JUDGED_G_CODES = "0 1 2 3 4 17 18 19 20 21 40 49 54 55 56 57 58 59 59.1 59.2 59.3 61 61.1 64 80 90 91 94"
JUDGED_M_CODES = "0 1 2 3 4 5 6 7 8 9 30 48"


def fate(line: str) -> str:
    """Return what becomes of a line: nothing said, the words of its error, or that it is not judged."""
    try:
        run(line)
    except NotJudgedError:
        return "not judged"
    except ProgramError as error:
        return str(error)
    return ""


def test_the_codes_are_those_of_the_tables_of_the_report() -> None:
    """Tables 4, 5 and 7 (numbers of the last two from memory)."""
    g = {f"{tenths / 10:g}": fate(f"G{tenths / 10:g}") for tenths in range(1000)}
    m = {str(code): fate(f"M{code}") for code in range(100)}
    assert {code for code in g if g[code] != f"line 3: unknown code G{code}"} == set(
        f"{G_CODES} {MORE_G_CODES}".split()
    )
    assert {code for code in m if m[code] != f"line 3: unknown code M{code}"} == set(M_CODES.split())
    assert {code for code in g if g[code] == "not judged"} == set(f"{G_CODES} {MORE_G_CODES}".split()) - set(
        JUDGED_G_CODES.split()
    )
    assert {code for code in m if m[code] == "not judged"} == set(M_CODES.split()) - set(JUDGED_M_CODES.split())


@pytest.mark.parametrize("line", ["G1.00001 X1", "G0.999991 X1", "G1.000009 X1", "G01. X1", "G001 X1"])
def test_codes_are_whole_within_a_ten_thousandth(line: str) -> None:
    """Sections 3.1 and 3.3: ten times a G code (from memory), an M code, an index, each whole within 0.0001."""
    assert only(line).kind == "straight"


@pytest.mark.parametrize("line", ["G1.00002 X1", "G0.99998 X1", "M3.0002", "M2.9998", "T1.0002", "T1.5"])
def test_codes_that_are_less_whole_are_refused(line: str) -> None:
    assert "whole number" in refused(line)


@pytest.mark.parametrize("line", ["M3.0001 S1", "M2.9999 S1"])
def test_an_m_code_may_be_off_by_a_ten_thousandth(line: str) -> None:
    assert only(line, "G1 X1").spindle == "clockwise"


@pytest.mark.parametrize("line", ["G0", "G1", "G2", "G3", "G1 F100", "G2 I1 J0"])
def test_a_motion_needs_an_axis(line: str) -> None:
    assert f": {line[:2]} without X, Y or Z" in refused(line)


@pytest.mark.parametrize("lines", [("G80", "X1"), ("G80 X1",), ("X1",), ("G1 X1", "G80", "Z1")])
def test_axes_without_a_motion_are_refused(lines: tuple[str, ...]) -> None:
    """G80 is active from the beginning as well (from memory)."""
    assert "no motion is chosen" in refused(*lines)


@pytest.mark.parametrize("line", ["G1 G92 X1", "G0 G28 X1", "G1 G10 X1", "G3 G30 X1"])
def test_two_codes_do_not_both_use_the_axes(line: str) -> None:
    assert "both use the axis words" in refused(line)


@pytest.mark.parametrize("motion", ["G1 X1", "G2 X1 I0.5", "G3 X1 R3"])
@pytest.mark.parametrize("feed", ["", "F0"])
def test_a_cut_needs_a_feed(motion: str, feed: str) -> None:
    """(source)."""
    with pytest.raises(ProgramError, match=f"line 3: {motion[:2]} with no feed rate"):
        read_program(f"G21 G90 G17 G94\n{feed}\n{motion}\nM2", start=HOME)


@pytest.mark.parametrize(
    "line", ["D1", "H1", "L1", "Q1", "P1", "I1", "G0 X1 J1", "G1 X1 K1", "R1", "G1 X1 R2", "G1 X1 L2", "G80 I1"]
)
def test_words_that_nothing_uses_are_refused(line: str) -> None:
    """(source)."""
    assert "nothing on the line uses" in refused(line)


def test_a_dwell_needs_its_time() -> None:
    """(source)."""
    assert run("G4 P0.5").events == (Event(line=3, code="G4", value=0.5),)
    assert "without P" in refused("G4")


@pytest.mark.parametrize(
    "line",
    [
        "G81 X1 Z-1 R1",
        "G38.2 Z-1",
        "G41 D1",
        "G42",
        "G43 H1",
        "G53 G0 X1",
        "G28",
        "G30 X1",
        "G10 L2 P1 X0",
        "G92 X0",
        "G92.1",
        "G92.2",
        "G92.3",
        "G93",
        "G98",
        "G99",
        "M49",
        "M60",
        "G0 A1",
        "G1 X[1+1]",
        "G0 X#1",
        "#1=2",
        "G0 Xsin[30]",
    ],
)
def test_what_is_legal_and_not_followed_is_said_to_be_so(line: str) -> None:
    with pytest.raises(NotJudgedError, match="line 3: not judged"):
        run(line)


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("G2 Z1 I1", "without X and Y"),
        ("G18 G2 Y1 I1", "without X and Z"),
        ("G19 G2 X1 J1", "without Y and Z"),
        ("G2 X1", "without a centre"),
        ("G2 X1 I1 K1", "(source)"),
        ("G18 G2 X1 I1 J1", "(source)"),
        ("G19 G2 Y1 J1 I1", "(source)"),
        ("G2 X1 I0.5 R0.5", "(source)"),
        ("G2 X0 I0", "zero radius (source)"),
        ("G2 X0.001 I0.001", "zero radius (source)"),
        ("G2 X1 I0.6", "at its end"),
        ("G3 X0 Y0 R1", "ends where it begins"),
        ("G3 X2 R0.99", "too small"),
        ("G3 X2 R0", "too small"),
    ],
)
def test_arcs_that_cannot_be_are_refused(line: str, reason: str) -> None:
    assert reason in refused(line)


@pytest.mark.parametrize("unit", ["mm", "inch"])
@pytest.mark.parametrize(("off", "good"), [(0.99, True), (1.0, True), (1.01, False), (-1.0, True), (-1.01, False)])
def test_the_radii_of_an_arc_differ_by_no_more_than_the_limit(unit: str, off: float, good: bool) -> None:
    """Section 3.5.3.2: more than 0.002 mm, or 0.0002 inch in inch mode, is an error: so exactly that passes."""
    limit = 0.002 if unit == "mm" else 0.0002
    end = 10 + off * limit
    lines = ["G21" if unit == "mm" else "G20", "F10", f"G3 X0 Y{end:.7f} I-10 J0"]
    start = (10.0, 0.0, 0.0) if unit == "mm" else (254.0, 0.0, 0.0)
    if good:
        assert only(*lines, start=start).end[1] == pytest.approx(end * (1 if unit == "mm" else 25.4))
    else:
        assert "radius is" in refused(*lines, start=start)


def test_the_limit_does_not_grow_with_the_radius() -> None:
    """A later rule lets 0.1 % of the radius pass; this one does not."""
    assert "radius is" in refused("G3 X0 Y1000.0025 I-1000 J0", start=(1000.0, 0.0, 0.0))


def test_a_radius_too_small_within_the_limit_is_half_a_turn() -> None:
    """The limit for R is the same as for the centre (source, from memory)."""
    move = only("G3 X2 R0.999")
    assert move.arc is not None
    assert (move.arc.centre, move.arc.sweep_rad) == ((1.0, 0.0, 0.0), pytest.approx(math.pi))
    refused("G3 X2 R0.9979")


@pytest.mark.parametrize(
    ("line", "centre", "sweep"),
    [
        ("G2 X1 Y1 R1", (1, 0), math.pi / 2),
        ("G3 X1 Y1 R1", (0, 1), math.pi / 2),
        ("G2 X1 Y1 R-1", (0, 1), 3 * math.pi / 2),
        ("G3 X1 Y1 R-1", (1, 0), 3 * math.pi / 2),
        ("G2 X1 Y1 I1", (1, 0), math.pi / 2),
        ("G3 X1 Y1 J1", (0, 1), math.pi / 2),
        ("G3 X1 Y1 I1", (1, 0), 3 * math.pi / 2),
        ("G2 X0 I1", (1, 0), 2 * math.pi),
        ("G3 Y0 J-2", (0, -2), 2 * math.pi),
    ],
)
def test_an_arc_turns_the_way_it_is_told(line: str, centre: tuple[float, float], sweep: float) -> None:
    """R > 0 is up to half a turn, R < 0 is more; an arc with a centre that ends where it begins is a circle."""
    arc = only(line).arc
    assert arc is not None
    assert arc.centre[:2] == pytest.approx(centre, abs=1e-12)
    assert arc.sweep_rad == pytest.approx(sweep)


@pytest.mark.parametrize(
    ("line", "middle"),
    [
        ("G17 G3 X-2 I-1", (-1, 1, 0)),
        ("G17 G2 X-2 I-1", (-1, -1, 0)),
        ("G18 G3 Z-2 K-1", (1, 0, -1)),
        ("G18 G2 Z-2 K-1", (-1, 0, -1)),
        ("G19 G3 Y-2 J-1", (0, -1, 1)),
        ("G19 G2 Y-2 J-1", (0, -1, -1)),
    ],
)
def test_clockwise_is_seen_from_the_positive_end_of_the_third_axis(line: str, middle: tuple[float, ...]) -> None:
    assert only(line).at(np.array([0.5]))[0] == pytest.approx(middle, abs=1e-12)


def test_a_helix_goes_along_the_third_axis() -> None:
    move = only("G18 G2 X1 Z-1 Y3 R1")
    assert move.at(np.array([0.0, 0.5, 1.0]))[:, 1] == pytest.approx([0, 1.5, 3])
    assert move.at(np.array([1.0]))[0] == pytest.approx((1, 3, -1))


def test_offsets_of_a_centre_count_from_the_start_in_either_distance_mode() -> None:
    """Section 3.5.17."""
    lines = ("G1 X5 Y5", "G91 G3 X-2 I-1 J0")
    arc = run(*lines).moves[1].arc
    assert arc is not None
    assert arc.centre == (4.0, 5.0, 0.0)
    assert run(*lines).moves[1].end == (3.0, 5.0, 0.0)


def test_motions_are_kept_from_line_to_line() -> None:
    program = run("G0 Z5", "X1", "G1 Z-1", "Y2", "G3 X0 Y3 J1", "X-1 Y2 J-1", "G91", "G1 X1 Y1 Z1")
    assert [move.kind for move in program.moves] == ["rapid"] * 2 + ["straight"] * 2 + ["arc"] * 2 + ["straight"]
    assert program.moves[-1].end == (0.0, 3.0, 0.0)


def test_inches_become_millimetres() -> None:
    move = only("G20", "F10", "G3 X0 Y2 J1 Z-0.5")
    assert move.end == pytest.approx((0, 50.8, -12.7))
    assert move.feed == pytest.approx(254)
    assert move.arc is not None
    assert move.arc.radius == pytest.approx(25.4)


def test_a_radius_in_inches_becomes_millimetres() -> None:
    arc = only("G20", "F10", "G3 X2 R-1").arc
    assert arc is not None
    assert arc.centre == pytest.approx((25.4, 0, 0))
    refused("G20", "F10", "G3 X2 R0.9997")


def test_before_a_program_sets_anything_it_counts_in_millimetres_and_nothing_turns() -> None:
    """Millimetres are this judge's own choice: the report leaves the units to the controller, and moves tell so."""
    first, second = read_program("F30 M3 G0 X1\nG1 Y2\nM6\nM2", start=HOME).moves
    assert (first.end, first.speed, first.spindle, first.system) == ((1, 0, 0), 0, "clockwise", "G54")
    assert (second.end, second.feed) == ((1, 2, 0), 30)
    assert run("M6").events == (Event(line=3, code="M6", value=0),)


def test_units_may_change_on_the_way() -> None:
    program = run("G0 X25.4", "G20", "G91 G0 X1", "G21 X1")
    assert [move.end[0] for move in program.moves] == pytest.approx([25.4, 50.8, 51.8])


def test_a_feed_in_other_units_is_not_judged() -> None:
    """F counts before the units of its line: table 8. What becomes of it when they change is not told."""
    for lines in (("G20", "G1 X1"), ("G20 F10 G1 X1",)):
        with pytest.raises(NotJudgedError, match="before the units changed"):
            run(*lines)


def test_a_line_is_done_in_the_order_of_table_8() -> None:
    """Feed, speed and spindle first, then the motion, then the end; M5 stops the spindle before the motion."""
    first, second = run("G1 X1 F250 S5000 M3", "X2 M5").moves
    assert (first.feed, first.speed, first.spindle) == (250, 5000, "clockwise")
    assert (second.feed, second.speed, second.spindle) == (250, 5000, "off")
    program = read_program(SET + "X1 G1 M4 S1 M30", start=HOME)
    assert [move.spindle for move in program.moves] == ["counterclockwise"]
    assert program.spindle_at_end == "counterclockwise"


def test_distance_mode_and_plane_of_a_line_hold_for_its_motion() -> None:
    assert only("G1 X1 Y1 G91", start=(1.0, 1.0, 0.0)).end == (2, 2, 0)
    arc = only("X1 Z1 G2 I1 G18").arc
    assert arc is not None
    assert arc.plane == "XZ"


def test_a_change_of_tool_stops_the_spindle_before_it_is_started() -> None:
    """From memory."""
    program = run("S100 M3", "T2", "M6", "G1 X1", "M6 T4 M3", "X2")
    assert [move.spindle for move in program.moves] == ["off", "clockwise"]
    assert program.events == (Event(line=5, code="M6", value=2), Event(line=7, code="M6", value=4))


def test_stops_and_coolant_are_told() -> None:
    assert [event.code for event in run("M7", "M8", "M9", "M0", "M1").events] == ["M7", "M8", "M9", "M0", "M1"]


@pytest.mark.parametrize(
    "line", ["S0", "M3 S0", "M3", "M5", "M48", "G64", "G61.1", "G40", "G49", "F0", "G59.3", "()", ""]
)
def test_what_the_report_lets_pass_is_let_pass(line: str) -> None:
    assert run(line).moves == ()


def test_the_place_is_not_known_before_it_is_set() -> None:
    first, second = read_program(SET + "G0 Z5\nX1 Y2\nM2").moves
    assert np.isnan(first.start).all()
    assert np.isnan(first.end[:2]).all()
    assert first.end[2] == 5
    assert second.end == (1, 2, 5)
    with pytest.raises(NotJudgedError, match="unknown place"):
        read_program(SET + "G0 X1\nG2 X2 I0.5\nM2")


def test_the_place_is_not_known_behind_a_change_of_coordinate_system() -> None:
    first, second, third = run("G54 G0 X1", "G59.1 X2", "Y1").moves
    assert (first.system, first.end) == ("G54", (1, 0, 0))
    assert second.system == "G59.1"
    assert np.isnan(second.start).all()
    assert third.end[:2] == (2, 1)


def test_a_move_tells_which_modes_no_line_has_set() -> None:
    bare = read_program("F1\nG0 Z1\nG1 X1 Y1\nG2 X2 I0.5\nM2", start=HOME)
    everything = ("units", "distance mode", "feed mode", "plane", "units of the feed")
    assert [move.unsaid for move in bare.moves] == [everything[:2], (*everything[:3], everything[4]), everything]
    assert {move.unsaid for move in run("G0 Z1", "G1 X1 Y1", "G2 X2 I0.5").moves} == {()}


WORDS = st.sampled_from(
    [
        *"GMXYZIJKRFSTNPD",
        *"0123456789",
        *".+-()/% \t\n#",
        "G1",
        "G2 X1 R",
        "G3X2I",
        "G91",
        "G20",
        "G18",
        "X-1",
        "Y0",
        "F9",
        "M2",
        "9" * 240,
    ]
)


@settings(max_examples=1000, deadline=None, derandomize=True)
@given(st.lists(WORDS, max_size=25).map("".join))
def test_whatever_stands_there_is_read_refused_or_not_judged(text: str) -> None:
    for start in (HOME, UNKNOWN):
        with suppress(ProgramError, NotJudgedError):
            assert read_program(f"G21 G90 F100\n{text}\nM2", start=start).ended_by == "M2"


def arcs_by_lot(count: int, digits: int) -> np.ndarray:
    """Return starts, ends and offsets of their centres, each rounded by itself, shape (count, 6)."""
    rng = np.random.default_rng(17)
    centre, radius = rng.uniform(-50, 50, (count, 2)), rng.uniform(0.5, 40, (count, 1))
    first, last = rng.uniform(0, 2 * np.pi, (2, count))
    start = centre + radius * np.column_stack([np.cos(first), np.sin(first)])
    end = centre + radius * np.column_stack([np.cos(last), np.sin(last)])
    return np.column_stack([start, end, centre - start]).round(digits)


def difference_of_radii(arcs: np.ndarray) -> np.ndarray:
    centre = arcs[:, :2] + arcs[:, 4:]
    return np.abs(np.hypot(*(arcs[:, 2:4] - centre).T) - np.hypot(*arcs[:, 4:].T))


def arc_is_read(arc: np.ndarray, digits: int, units: str) -> bool:
    x, y, x_end, y_end, i, j = (f"{value:.{digits}f}" for value in arc)
    text = f"{units} G90 G17 G94\nF100\nG1 X{x} Y{y}\nG3 X{x_end} Y{y_end} I{i} J{j}\nM2"
    try:
        return len(read_program(text).moves) == 2
    except ProgramError:
        return False


@pytest.mark.parametrize(
    ("units", "digits", "share", "worst"),
    [("G21", 3, 0.00025, 0.0024), ("G20", 4, 0.00022, 0.00023), ("G21", 4, 0, 0.00024), ("G20", 5, 0, 0.000023)],
)
def test_one_digit_less_than_is_safe_breaks_one_arc_in_four_thousand(
    units: str, digits: int, share: float, worst: float
) -> None:
    """Derived: roundings part the radii by no more than 2.83 last digits; the worst of 200 000 comes near to that."""
    arcs = arcs_by_lot(200_000, digits)
    off = difference_of_radii(arcs)
    limit = 0.002 if units == "G21" else 0.0002
    assert off.max() < 2 * math.sqrt(2) * 10**-digits
    assert off.max() == pytest.approx(worst, rel=0.07)
    assert (off > limit).mean() == pytest.approx(share, rel=0.4)
    hardest = np.argsort(off)[-300:]
    assert [arc_is_read(arc, digits, units) for arc in arcs[hardest]] == (off[hardest] <= limit).tolist()
