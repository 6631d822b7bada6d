"""How deep a marker goes and what sanding leaves, against closed forms; and what must be known of it."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pytest
import shapely

from inlayfit.board import Board, Channel
from inlayfit.board_recipe import BoardFit, fit_board
from inlayfit.errors import JobError
from inlayfit.marker_depth import DepthSettings, least_and_most_drop
from inlayfit.marker_shapes import Style
from inlayfit.markers import MarkerSettings
from tests.boards import FANNED, INCH, a_board, a_random_board

MICROMETRE = 0.001


def fitted(board: Board, depth: DepthSettings | None = None, frets=(5,), doubles=(), **style: Any) -> BoardFit:
    settings = MarkerSettings(frets=frets, doubles=doubles, style=Style(**style))
    return fit_board(board, settings, depth, piece_cutter=0.8, pocket_cutter=0.8, gap=0.05)


def kinds(result: BoardFit) -> dict[str, str]:
    return {finding.kind: finding.severity for finding in result.fit.findings if finding.part == "board"}


# -- closed forms ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("radius", "shape", "size", "meant"),
    [
        (7.25, "dot", 0.25, 0.00108),
        (12, "dot", 0.25, 0.00065),
        (7.25, "dot", 0.5, 0.00431),
        (12, "dot", 0.5, 0.00260),
        (7.25, "block", 1.5, 0.03890),
        (12, "block", 1.5, 0.02346),
    ],
)
def test_the_surface_falls_over_a_marker_as_over_a_chord(radius: float, shape: str, size: float, meant: float) -> None:
    """Derived from h = R - sqrt(R^2 - a^2): drop at the edge of a flat disc or block on the centre line, inches."""
    style = {"diameter": size * INCH} if shape == "dot" else {"width": size * INCH}
    depth = fitted(a_board(radius=radius * INCH), frets=(3,), shape=shape, **style).depths[0]
    assert depth.drop / INCH == pytest.approx(meant, abs=5.001e-6)


@pytest.mark.parametrize("cut", ["before", "after"])
@pytest.mark.parametrize("width", [6.0, 24.0, 40.0])
def test_left_at_the_thinnest_is_the_sheet_less_proud_less_the_drop(cut: Any, width: float) -> None:
    radius, sheet, proud = 254.0, 1.5, 0.1
    settings = DepthSettings(sheet=sheet, cut=cut, proud=proud)
    depth = fitted(a_board(radius=radius), settings, shape="block", width=width).depths[0]
    sagitta = radius - (radius**2 - (width / 2) ** 2) ** 0.5
    assert depth.pocket == pytest.approx(sheet - proud, abs=MICROMETRE / 10)
    assert depth.left == pytest.approx(sheet - proud - sagitta, abs=MICROMETRE)


def test_on_a_cone_the_narrow_end_of_a_block_loses_the_most() -> None:
    board = a_board(radius=200.0, end_radius=400.0)
    result = fitted(board, DepthSettings(sheet=2.0), shape="block", width=30.0)
    left, _, right, _ = result.markers[0].area.bounds
    radius = 200.0 + 200.0 * left / board.length
    assert result.depths[0].drop == pytest.approx(radius - (radius**2 - 15.0**2) ** 0.5, abs=MICROMETRE / 10)
    assert left < right


@pytest.mark.parametrize("cut", ["before", "after"])
def test_off_the_crown_only_the_difference_of_the_drop_is_lost(cut: Any) -> None:
    """The floor lies lower by the least drop: cut before the radius the pocket is deeper, after it is not."""
    board = a_board(radius=254.0)
    result = fitted(board, DepthSettings(sheet=1.5, cut=cut), frets=(12,), doubles=(12,), shape="block", width=8.0)
    for marker, depth in zip(result.markers, result.depths, strict=True):
        near, far = sorted(abs(y) for y in (marker.area.bounds[1], marker.area.bounds[3]))
        least, most = (254.0 - (254.0**2 - y**2) ** 0.5 for y in (near, far))
        assert depth.floor == pytest.approx(1.4 + least, abs=MICROMETRE)
        assert depth.pocket == pytest.approx(1.4 + least if cut == "before" else 1.4, abs=MICROMETRE)
        assert depth.left == pytest.approx(1.4 - (most - least), abs=MICROMETRE)


def test_the_least_and_the_most_drop_are_those_of_a_fine_grid() -> None:
    """Another way to the same: the surface sampled all over the marker."""
    chance = random.Random(5)
    for _ in range(40):
        board = a_random_board(chance)
        x, y = chance.uniform(50, 200), chance.uniform(-12, 12)
        area = shapely.affinity.rotate(shapely.box(x, y, x + chance.uniform(3, 20), y + 5), chance.uniform(0, 90))
        least, most = least_and_most_drop(board, area)
        left, bottom, right, top = area.bounds
        grid = np.stack(np.meshgrid(np.linspace(left, right, 60), np.linspace(bottom, top, 60)), -1).reshape(-1, 2)
        inside = grid[shapely.covers(area, shapely.points(grid))]
        heights = [board.drop_at(float(a), float(b)) for a, b in inside]
        assert min(heights) >= least - 1e-6
        assert max(heights) <= most + 1e-9
        assert min(heights) - least < 0.02
        assert most - max(heights) < 0.02


def test_a_flat_board_takes_nothing() -> None:
    depth = fitted(a_board(), DepthSettings(sheet=1.3), shape="block").depths[0]
    assert (depth.drop, depth.left, depth.pocket) == (0.0, pytest.approx(1.2), pytest.approx(1.2))


def test_wood_under_the_pocket_is_what_the_board_has_left() -> None:
    board = a_board(thickness=6.4, channel=Channel(width=6.0, depth=3.0))
    depth = fitted(board, DepthSettings(sheet=1.3), shape="block").depths[0]
    assert depth.wood == pytest.approx(5.2)
    assert depth.wood_at_channel == pytest.approx(2.2)
    assert depth.wood_at_slot is None
    beside = fitted(board, DepthSettings(sheet=1.3), frets=(12,), doubles=(12,)).depths[0]
    assert beside.wood_at_channel is None, "a pair of dots stands beside the channel"


def test_a_channel_that_ends_before_the_marker_is_not_met() -> None:
    board = a_board(thickness=6.4, channel=Channel(width=6.0, depth=5.9, start=0.0, end=100.0))
    result = fitted(board, DepthSettings(sheet=1.3), shape="block")
    assert result.depths[0].wood_at_channel is None
    assert "breaks-channel" not in kinds(result)


def test_where_a_slot_crosses_a_pocket_the_deeper_of_the_two_counts() -> None:
    board = a_board(thickness=6.4, slot_depth=2.5)
    depth = fitted(board, DepthSettings(sheet=1.3), shape="diamond", length=60.0, width=10.0).depths[0]
    assert depth.wood_at_slot == pytest.approx(6.4 - 2.5)
    round_board = a_board(thickness=6.4, slot_depth=2.5, radius=254.0)
    lower = fitted(round_board, DepthSettings(sheet=1.3), shape="diamond", length=60.0, width=10.0).depths[0]
    assert lower.wood_at_slot < depth.wood_at_slot


# -- findings -------------------------------------------------------------------------------------------------------


def test_a_marker_with_room_on_all_sides_has_no_finding_of_the_board() -> None:
    board = a_board(thickness=6.4, radius=305.0, slot_depth=2.5)
    assert kinds(fitted(board, DepthSettings(sheet=1.5), frets=(5, 12), doubles=(12,))) == {}
    assert kinds(fitted(board, DepthSettings(sheet=1.5), shape="block", frets=(3, 9))) == {}


ROUND = {"radius": 184.0, "thickness": 6.4}
CASES = [
    ("sanded through", ROUND, {"sheet": 1.0}, {"shape": "block"}, {"sanded-through": "loss"}),
    ("nearly", ROUND, {"sheet": 1.5}, {"shape": "block", "width": 41.0}, {"sanded-thin": "warning"}),
    ("after the radius", ROUND, {"sheet": 2.0, "cut": "after"}, {"shape": "block"}, {"stands-proud": "warning"}),
    ("too shallow", ROUND, {"sheet": 1.5, "depth": 1.0}, {}, {"stands-proud": "warning"}),
    ("too deep", ROUND, {"sheet": 1.5, "depth": 1.8}, {}, {"lies-low": "loss"}),
    ("through the back", {"thickness": 2.0}, {"sheet": 2.2}, {}, {"breaks-through": "loss"}),
    ("a thin floor", {"thickness": 2.0}, {"sheet": 1.5}, {}, {"thin-floor": "warning"}),
    (
        "into the channel",
        {"thickness": 6.4, "channel": Channel(width=6, depth=5.5)},
        {"sheet": 1.5},
        {},
        {"breaks-channel": "loss"},
    ),
    (
        "thin over the channel",
        {"thickness": 6.4, "channel": Channel(width=6, depth=4.5)},
        {"sheet": 1.5},
        {},
        {"thin-floor": "warning"},
    ),
    ("near a slot", {}, {}, {"shape": "block", "width": 9.0, "length": 28.0}, {"near-slot": "warning"}),
    ("near an edge", {}, {}, {"along": "bass", "edge_distance": 4.0}, {"near-edge": "warning"}),
    ("over the edge", {}, {}, {"along": "bass", "edge_distance": 2.0}, {"over-edge": "loss"}),
]


@pytest.mark.parametrize(("board", "depth", "style", "meant"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_what_must_be_known_is_found_and_nothing_else(board: Any, depth: Any, style: Any, meant: Any) -> None:
    result = fitted(a_board(**board), DepthSettings(**depth), **style)
    assert kinds(result) == meant
    for finding in result.fit.findings:
        if finding.part == "board":
            assert finding.name == "fret 5"
            assert finding.remedy
            assert shapely.distance(shapely.Point(finding.x, finding.y), result.markers[0].area) < 4


def test_a_pocket_that_breaks_into_slots_is_named_with_both() -> None:
    result = fitted(a_board(), shape="block", width=9.0, length=40.0)
    assert kinds(result) == {"breaks-slot": "loss", "wider-than-space": "loss"}
    told = [finding.message for finding in result.fit.findings if finding.kind == "breaks-slot"]
    assert [message.split(",")[0] for message in told] == [
        "the pocket breaks into the slot of fret 4",
        "the pocket breaks into the slot of fret 5",
    ]


def test_a_marker_wider_than_the_board_is_named() -> None:
    found = kinds(fitted(a_board(), shape="block", length=9.0, width=60.0))
    assert found == {"over-edge": "loss", "wider-than-space": "loss"}


def test_at_fret_one_the_nut_bounds_the_space() -> None:
    found = fitted(a_board(), frets=(1,), shape="block", width=9.0, length=35.0)
    assert "near-slot" in kinds(found)
    assert any("from the nut" in finding.message for finding in found.fit.findings)
    over = kinds(fitted(a_board(), frets=(1,), shape="block", width=9.0, length=39.0))
    assert over == {"breaks-slot": "loss", "near-slot": "warning", "over-edge": "loss", "wider-than-space": "loss"}


def test_a_pair_that_runs_into_one_another_is_named() -> None:
    found = kinds(fitted(a_board(), frets=(12,), doubles=(12,), diameter=10.0, spread=0.1))
    assert found["markers-meet"] == "loss"


@pytest.mark.parametrize("scale", [None, FANNED], ids=["straight", "fanned"])
def test_pieces_lie_centred_in_their_places_within_a_micrometre(scale: Any) -> None:
    board = a_board(**{} if scale is None else {"scale": scale})
    result = fitted(board, frets=(3, 9, 12, 21), doubles=(12,))
    pieces = {piece.name: piece for piece in result.fit.pieces}
    for marker, pockets in zip(result.markers, result.pockets, strict=True):
        (pocket,) = pockets
        for outline in (pieces[marker.name].outline, result.fit.pockets[pocket].outline):
            left, bottom, right, top = outline.bounds
            assert (left + right) / 2 == pytest.approx(marker.place.x, abs=MICROMETRE)
            assert (bottom + top) / 2 == pytest.approx(marker.place.y, abs=MICROMETRE)


@pytest.mark.parametrize(
    ("settings", "where"),
    [
        (DepthSettings(sheet=1.0, proud=1.0), "markers.proud"),
        (DepthSettings(depth=1.0), "piece.thickness"),
        (DepthSettings(sheet=1.0, depth=7.0), "markers.pocket_depth"),
    ],
)
def test_depths_that_cannot_be_are_refused_by_their_key(settings: DepthSettings, where: str) -> None:
    with pytest.raises(JobError) as error:
        fitted(a_board(thickness=6.4), settings)
    assert error.value.where == where
