"""Boards and markers of all kinds: no marker ever lies over a slot in silence."""

from __future__ import annotations

import random

import pytest
import shapely

from inlayfit.board_recipe import BoardFit, fit_board
from inlayfit.errors import GeometryError, JobError
from inlayfit.marker_depth import DepthSettings
from tests.boards import a_random_board, a_random_setting

SHORT, LONG, SLICES = 40, 500, 5
DUST_MM2 = 1e-5


def fitted(number: int) -> BoardFit | None:
    """Return the fit of the board of that number; None where its markers are refused with a reason."""
    chance = random.Random(number)
    board = a_random_board(chance)
    settings = a_random_setting(chance, board)
    depth = DepthSettings(sheet=chance.uniform(0.8, 2.5), cut=chance.choice(["before", "after"]))
    gap_from = chance.choice(["piece", "pocket", "shared"])
    try:
        return fit_board(board, settings, depth, piece_cutter=0.8, pocket_cutter=0.8, gap=0.1, gap_from=gap_from)
    except (JobError, GeometryError):
        return None


def silent_overlaps(result: BoardFit) -> list[str]:
    """Return the markers, drawn or cut, that share area with a slot and have no finding about it; judged from outside.

    The slots are made here, as strips along the lines of the frets, and no distance or overlap of the code is used.
    """
    told = {finding.name for finding in result.fit.findings if finding.kind in {"breaks-slot", "wider-than-space"}}
    board = result.board
    strips = [
        shapely.LineString(board.fret_line(fret)).buffer(board.slot_width / 2 - 1e-6, cap_style="flat")
        for fret in board.slots
    ]
    slots = shapely.union_all(strips)
    silent = []
    for marker, pockets in zip(result.markers, result.pockets, strict=True):
        areas = [marker.area, *(result.fit.pockets[index].outline for index in pockets)]
        over = max(shapely.intersection(area, slots).area for area in areas)
        if over > DUST_MM2 and marker.name not in told:
            silent.append(f"{marker.name}: {over:.6f} mm2")
    return silent


def judge(numbers: range) -> tuple[int, int]:
    """Return how many boards were made, and how many had a marker over a slot, which was told."""
    made = crossed = 0
    for number in numbers:
        result = fitted(number)
        if result is None:
            continue
        assert silent_overlaps(result) == [], f"board {number}"
        lost = {finding.name for finding in result.fit.findings if finding.severity == "loss"}
        empty = {marker.name for marker, pockets in zip(result.markers, result.pockets, strict=True) if not pockets}
        assert empty <= lost, f"board {number}: a marker has no pocket, and nobody says so"
        made += 1
        crossed += any(finding.kind == "breaks-slot" for finding in result.fit.findings)
    return made, crossed


def test_no_marker_lies_over_a_slot_without_a_finding() -> None:
    made, crossed = judge(range(SHORT))
    assert made > SHORT / 2, "too many were refused for the test to mean anything"
    assert made / 10 < crossed < made, "some cross and some do not, or the test cannot fail"


@pytest.mark.campaign
@pytest.mark.parametrize("part", range(SLICES))
def test_no_marker_of_five_hundred_boards_lies_over_a_slot_without_a_finding(part: int) -> None:
    made, crossed = judge(range(1000 + part, 1000 + LONG, SLICES))
    print(f"{made} boards, {crossed} with a marker over a slot")
    assert made > LONG / SLICES / 2


def test_the_judge_sees_a_marker_over_a_slot_that_nobody_tells() -> None:
    from dataclasses import replace

    result = next(one for number in range(SHORT) if (one := fitted(number)) and _crosses(one))
    quiet = replace(result, fit=replace(result.fit, findings=()))
    assert silent_overlaps(quiet)


def _crosses(result: BoardFit) -> bool:
    return any(finding.kind == "breaks-slot" for finding in result.fit.findings)
