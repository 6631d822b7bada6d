"""Lines of an RS-274 program: what each holds, and every error that a line has by itself.

Rules: Kramer, Proctor, Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556, 2000, sections 3.1 and 3.3,
tables 3 and 4. A rule marked "(source)" stands in the source of that interpreter and not in the report; one marked
"(from memory)" was not looked up. What the report does not allow is an error, as it says itself.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

LONGEST_LINE = 256
MOST_M_WORDS = 4
INTEGER_WITHIN = 0.0001
"""A number that should be whole may be off by this; for a G code ten times the number."""
LAST_CODE = 99
"""The largest number of an M code, and of a G code (for M in the report's table of errors, for G from memory)."""

NON_MODAL, MOTION, PLANE, DISTANCE, FEED_MODE, UNITS = 0, 1, 2, 3, 5, 6
COMPENSATION, LENGTH, RETURN, SYSTEM, PATH = 7, 8, 10, 12, 13
"""Modal groups of the G codes, table 4."""
G_GROUPS = {
    MOTION: (0, 1, 2, 3, 38.2, 80, 81, 82, 83, 84, 85, 86, 87, 88, 89),
    PLANE: (17, 18, 19),
    DISTANCE: (90, 91),
    FEED_MODE: (93, 94),
    UNITS: (20, 21),
    COMPENSATION: (40, 41, 42),
    LENGTH: (43, 49),
    RETURN: (98, 99),
    SYSTEM: (54, 55, 56, 57, 58, 59, 59.1, 59.2, 59.3),
    PATH: (61, 61.1, 64),
    NON_MODAL: (4, 10, 28, 30, 53, 92, 92.1, 92.2, 92.3),
}
STOP, TOOL_CHANGE, SPINDLE, COOLANT, OVERRIDES = 4, 6, 7, 8, 9
"""Modal groups of the M codes, table 4."""
M_GROUPS = {
    STOP: (0, 1, 2, 30, 60),
    TOOL_CHANGE: (6,),
    SPINDLE: (3, 4, 5),
    COOLANT: (7, 8, 9),
    OVERRIDES: (48, 49),
}
GROUP_OF_G = {round(10 * code): group for group, codes in G_GROUPS.items() for code in codes}
"""By ten times the code, so that G59.1 is 591."""
GROUP_OF_M = {code: group for group, codes in M_GROUPS.items() for code in codes}

TAKES_AXES = {100, 280, 300, 920}
"""Non-modal codes that use the axis words themselves."""
NOT_JUDGED_G = {382, *range(810, 900, 10), 930, 410, 420, 430, 980, 990, 100, 280, 300, 530, 920, 921, 922, 923}
NOT_JUDGED_M = {49, 60}
NOT_JUDGED_WORDS = "ABC"
"""Rotary axes."""

NOT_NEGATIVE = {"S": "", "P": "", "T": "", "F": " (source)"}
LETTERS = "ABCDFHIJKLPQRSTXYZ"
"""All letters but G, M and N, which have rules of their own."""

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)"
_LINE_NUMBER = re.compile(r"N(\d+)")
_ITEM = re.compile(rf"\(\)|([A-Z])({_NUMBER})")
_COMMENT = re.compile(r"\(([^()]*)\)")


class ProgramError(Exception):
    """Something that the report, or the source of its interpreter, calls an error; `line` counts from 1."""

    def __init__(self, line: int, message: str) -> None:
        super().__init__(f"line {line}: {message}")
        self.line = line


class NotJudgedError(Exception):
    """Something that may be right, but that this judge does not follow; `line` counts from 1."""

    def __init__(self, line: int, message: str) -> None:
        super().__init__(f"line {line}: not judged: {message}")
        self.line = line


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line; `words` by letter without G, M, N; `g` ten times the code by group, `m` the code by group."""

    number: int
    deletable: bool
    words: Mapping[str, float]
    g: Mapping[int, int]
    m: Mapping[int, int]
    comments: tuple[str, ...]


def lines_between_percents(text: str) -> tuple[list[tuple[int, str]], bool]:
    """Return the numbered lines that count, and whether percent lines stand before and behind them.

    Raises: ProgramError: there is a percent line at the beginning and none at the end.
    """
    numbered = [(number, line.removesuffix("\r")) for number, line in enumerate(text.split("\n"), 1)]
    filled = [(number, line) for number, line in numbered if line.strip()]
    if not filled or filled[0][1].strip() != "%":
        return numbered, False
    ends = [number for number, line in filled[1:] if line.strip() == "%"]
    if not ends:
        raise ProgramError(filled[-1][0], "a percent line at the beginning, and none at the end")
    return numbered[filled[0][0] : ends[0] - 1], True


def read_line(number: int, text: str) -> Line:
    """Return what a line holds.

    Raises:
        ProgramError: what stands there is not allowed.
        NotJudgedError: it is allowed, but uses parameters, expressions, rotary axes or codes that are not followed.
    """
    if len(text) > LONGEST_LINE:
        raise ProgramError(number, f"{len(text)} characters, {LONGEST_LINE} are allowed")
    if bad := re.search(r"[^\t\x20-\x7e]", text):  # "printable characters and white space": taken as those of ASCII
        raise ProgramError(number, f"character {bad.group()!r} is not allowed")
    comments = tuple(_COMMENT.findall(text))
    bare = re.sub(r"[ \t]", "", _COMMENT.sub("\x00", text)).upper()
    if "(" in bare or ")" in bare:
        raise ProgramError(number, "a comment within a comment, or one that is not closed or not opened")
    if "#" in bare or "[" in bare:
        raise NotJudgedError(number, "parameters and expressions")
    items = _items(number, bare.replace("\x00", "()").removeprefix("/"))
    codes = [(letter, value) for letter, value in items if letter in "GM"]
    words = _words(number, [item for item in items if item[0] not in "GM"])
    g = _by_group(number, [_g_code(number, value) for letter, value in codes if letter == "G"], GROUP_OF_G)
    m = _by_group(number, [_m_code(number, value) for letter, value in codes if letter == "M"], GROUP_OF_M)
    if sum(letter == "M" for letter, _ in codes) > MOST_M_WORDS:
        raise ProgramError(number, f"more than {MOST_M_WORDS} M words")
    if g.get(MOTION, 800) != 800 and g.get(NON_MODAL) in TAKES_AXES:
        raise ProgramError(number, "two G codes that both use the axis words")
    _refuse_unjudged(number, words, g, m)
    return Line(number=number, deletable=bare.startswith("/"), words=words, g=g, m=m, comments=comments)


def _items(number: int, bare: str) -> list[tuple[str, float]]:
    """Return letters and numbers in their order, without the line number."""
    place = 0
    if found := _LINE_NUMBER.match(bare):
        if len(found.group(1)) > 5:
            raise ProgramError(number, f"line number {found.group(1)} has more than five digits")
        place = found.end()
    items = []
    while place < len(bare):
        found = _ITEM.match(bare, place)
        if not found or (found.group(1) and found.group(1) not in LETTERS + "GM"):
            raise ProgramError(number, f"'{bare[place:]}' is not a word")
        if found.group(1):
            items.append((found.group(1), float(found.group(2))))
        place = found.end()
    return items


def _words(number: int, items: list[tuple[str, float]]) -> dict[str, float]:
    words: dict[str, float] = {}
    for letter, value in items:
        if letter in words:
            raise ProgramError(number, f"two {letter} words")
        if letter in NOT_NEGATIVE and value < 0:
            raise ProgramError(number, f"{letter} is negative{NOT_NEGATIVE[letter]}")
        if letter == "T":
            whole(number, letter, value)
        words[letter] = value
    return words


def whole(number: int, name: str, value: float) -> int:
    """Return the integer that is meant."""
    nearest = round(value)
    if abs(value - nearest) > INTEGER_WITHIN + 1e-12:  # the last digit of a float decides nothing
        raise ProgramError(number, f"{name} {value:g} is not within {INTEGER_WITHIN} of a whole number")
    return nearest


def _g_code(number: int, value: float) -> int:
    if value < 0 or value > LAST_CODE + 1:
        raise ProgramError(number, f"G{value:g} is negative or too large (source)")
    return whole(number, "ten times G", 10 * value)


def _m_code(number: int, value: float) -> int:
    if value < 0:
        raise ProgramError(number, f"M{value:g} is negative (source)")
    code = whole(number, "M", value)
    if code > LAST_CODE:
        raise ProgramError(number, f"M{code} is larger than {LAST_CODE}")
    return code


def _by_group(number: int, codes: list[int], group_of: Mapping[int, int]) -> dict[int, int]:
    letter, scale = ("G", 10) if group_of is GROUP_OF_G else ("M", 1)
    chosen: dict[int, int] = {}
    for code in codes:
        if code not in group_of:
            raise ProgramError(number, f"unknown code {letter}{code / scale:g}")
        group = group_of[code]
        if group in chosen:
            raise ProgramError(
                number, f"{letter}{chosen[group] / scale:g} and {letter}{code / scale:g}: one modal group"
            )
        chosen[group] = code
    return chosen


def _refuse_unjudged(number: int, words: Mapping[str, float], g: Mapping[int, int], m: Mapping[int, int]) -> None:
    names = [f"G{code / 10:g}" for code in g.values() if code in NOT_JUDGED_G]
    names += [f"M{code}" for code in m.values() if code in NOT_JUDGED_M]
    names += [letter for letter in words if letter in NOT_JUDGED_WORDS]
    if names:
        raise NotJudgedError(number, ", ".join(names))
