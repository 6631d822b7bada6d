"""Position markers: on which frets, where on the board, and as large as there is room for."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely

from inlayfit.board import Board
from inlayfit.drawing import Drawing, Region
from inlayfit.errors import JobError
from inlayfit.marker_shapes import SHAPES, Style
from inlayfit.markers import (
    SETS,
    Marker,
    MarkerSettings,
    SideDots,
    doubled_frets,
    drawing_of,
    largest_enlargement,
    lay_out,
    marked_frets,
    side_dots,
)
from tests.boards import FANNED, INCH, a_board, a_scale

MICROMETRE = 0.001


def markers(board: Board, **style: Any) -> dict[str, Marker]:
    return {marker.name: marker for marker in lay_out(board, MarkerSettings(style=Style(**style)))}


def middle(marker: Marker) -> tuple[float, float]:
    left, bottom, right, top = marker.area.bounds
    return (left + right) / 2, (bottom + top) / 2


# -- which frets ----------------------------------------------------------------------------------------------------


def test_the_usual_frets_are_marked_with_two_at_the_octaves() -> None:
    """http://www.mymusicmentor.com/dots.html and https://guitarophile.com/?p=301."""
    usual = MarkerSettings()
    assert marked_frets(a_board(), usual) == (3, 5, 7, 9, 12, 15, 17, 19, 21, 24)
    assert doubled_frets(a_board(), usual) == (12, 24)
    assert marked_frets(a_board(scale=a_scale(frets=20)), usual) == (3, 5, 7, 9, 12, 15, 17, 19)
    assert len(lay_out(a_board(), usual)) == 12


@pytest.mark.parametrize("name", ["mandolin", "ukulele", "banjo"])
def test_some_instruments_mark_ten_in_place_of_nine(name: str) -> None:
    frets = marked_frets(a_board(), MarkerSettings(set=name))
    assert 10 in frets
    assert 9 not in frets
    assert set(SETS) == {"guitar", "mandolin", "ukulele", "banjo"}


def test_frets_of_ones_own_take_the_place_of_the_usual() -> None:
    own = MarkerSettings(frets=(12, 1, 5), doubles=(5,))
    assert marked_frets(a_board(), own) == (1, 5, 12)
    assert [marker.name for marker in lay_out(a_board(), own)] == ["fret 1", "fret 5 bass", "fret 5 treble", "fret 12"]


def test_with_other_divisions_the_frets_must_be_named_and_the_octave_is_double() -> None:
    board = a_board(scale=a_scale(frets=38, divisions=19))
    with pytest.raises(JobError, match="which frets are marked"):
        lay_out(board, MarkerSettings())
    assert doubled_frets(board, MarkerSettings(frets=(5, 8, 19, 38))) == (19, 38)


BAD = [
    ("a fret beyond the last", {"frets": (3, 25)}, "markers.frets", "no fret 25"),
    ("fret nought", {"frets": (0, 3)}, "markers.frets", "no fret 0"),
    ("two where no fret is", {"doubles": (30,)}, "markers.doubles", "no fret 30"),
    ("two where none is marked", {"doubles": (11,)}, "markers.doubles", "fret 11 is not marked"),
    ("an own look where no fret is", {"overrides": {30: Style()}}, "markers.at", "no fret 30"),
    ("an own look where none is marked", {"overrides": {11: Style()}}, "markers.at", "fret 11 is not marked"),
    ("no fret at all", {"frets": ()}, "markers.frets", "no fret is marked"),
    ("no room for a block", {"style": Style(shape="block", margin=9.0)}, "markers.margin", "no room"),
    ("no room for a trapezoid", {"style": Style(shape="trapezoid", margin=9.0)}, "markers.margin", "no room"),
    ("a split that leaves nothing", {"style": Style(shape="split-block", split=60.0)}, "markers.split", "no halves"),
    ("a dot of nothing", {"style": Style(diameter=1e-9)}, "markers.diameter", "too small"),
    ("a width of nothing", {"style": Style(shape="diamond", width=0.1)}, "markers.width", "too small"),
    ("a length of nothing", {"style": Style(shape="block", length=0.1)}, "markers.margin", "no room"),
    ("a drawing with no region", {"style": Style(shape="drawing")}, "markers.drawing", "no region"),
]


@pytest.mark.parametrize(("changes", "where", "says"), [row[1:] for row in BAD], ids=[row[0] for row in BAD])
def test_a_marker_that_cannot_be_is_refused_by_its_key(changes: dict[str, Any], where: str, says: str) -> None:
    with pytest.raises(JobError) as error:
        lay_out(a_board(), MarkerSettings(**changes))
    assert error.value.where == where
    assert says in error.value.message
    assert error.value.remedy


@pytest.mark.parametrize("frets", [(25,), (11,)])
def test_side_dots_that_cannot_be_are_refused_by_their_key(frets: tuple[int, ...]) -> None:
    side = SideDots(frets=frets) if frets == (25,) else SideDots(frets=(3, 5), doubles=frets)
    with pytest.raises(JobError) as error:
        side_dots(a_board(), MarkerSettings(side=side))
    assert error.value.where.startswith("markers.side.")


# -- where ----------------------------------------------------------------------------------------------------------

# Midway between frets n - 1 and n, from the nut (derived; midway: common practice, no source).
MIDDLES_650 = "87.167 148.572 203.279 252.017 315.337 368.583 399.286 426.639 451.008 482.669".split()  # noqa: SIM905
MIDDLES_25_5 = "3.4196 5.8286 7.9748 9.8868 12.3709 14.4598 15.6643 16.7374 17.6934 18.9355".split()  # noqa: SIM905


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize(("length", "unit", "figures"), [(650.0, 1.0, MIDDLES_650), (647.7, INCH, MIDDLES_25_5)])
def test_markers_stand_midway_between_their_frets(shape: str, length: float, unit: float, figures: list[str]) -> None:
    found = lay_out(a_board(scale=a_scale(length)), MarkerSettings(doubles=(), style=Style(shape=shape)))
    for marker, meant in zip(found, figures, strict=True):
        assert middle(marker)[0] / unit == pytest.approx(float(meant), abs=0.51 * 10 ** -len(meant.split(".")[1]))
        low, high = (length * 2 ** (-fret / 12) for fret in (marker.fret - 1, marker.fret))
        assert middle(marker) == pytest.approx((length - (low + high) / 2, 0.0), abs=MICROMETRE / 10)


@pytest.mark.parametrize("shape", ["dot", "diamond", "trapezoid", "parallelogram"])
@pytest.mark.parametrize("left_handed", [False, True])
def test_on_fanned_frets_they_stand_midway_at_their_own_height(shape: str, left_handed: bool) -> None:
    board = a_board(scale=FANNED, left_handed=left_handed)
    for marker in markers(board, shape=shape).values():
        place = marker.place
        lines = board.fret_line(marker.fret - 1), board.fret_line(marker.fret)
        assert place.x == pytest.approx(sum(line.x_at(place.y) for line in lines) / 2, abs=1e-9)
        level = shapely.intersection(marker.area, shapely.LineString([(-99, place.y), (999, place.y)]))
        left, _, right, _ = level.bounds
        assert (left + right) / 2 == pytest.approx(place.x, abs=MICROMETRE / 10)


def test_two_are_spread_by_a_share_of_the_width_bass_first() -> None:
    board = a_board()
    found = markers(board, spread=0.4)
    bass, treble = found["fret 12 bass"], found["fret 12 treble"]
    assert middle(bass)[0] == pytest.approx(middle(treble)[0])
    assert middle(bass)[1] < 0
    assert middle(treble)[1] - middle(bass)[1] == pytest.approx(0.4 * board.width_at(bass.place.x), abs=1e-6)


@pytest.mark.parametrize(("along", "ends"), [("bass", (0, 1)), ("treble", (3, 2))])
@pytest.mark.parametrize("left_handed", [False, True])
@pytest.mark.parametrize("scale", [a_scale(), FANNED], ids=["straight", "fanned"])
def test_markers_along_an_edge_keep_their_distance_from_it(along: str, ends, left_handed: bool, scale) -> None:
    board = a_board(scale=scale, left_handed=left_handed)
    start, end = (board.outline[index] for index in ends)
    edge = shapely.LineString([start, end])
    for marker in markers(board, along=along, edge_distance=7.0, diameter=4.0).values():
        if not marker.name.endswith("inner"):
            assert shapely.distance(shapely.Point(marker.place.x, marker.place.y), edge) == pytest.approx(7, abs=1e-9)
            low, high = (board.fret_line(fret).x_at(marker.place.y) for fret in (marker.fret - 1, marker.fret))
            assert marker.place.x == pytest.approx((low + high) / 2, abs=1e-9)


# -- how large ------------------------------------------------------------------------------------------------------


def distances(marker: Marker, board: Board) -> tuple[float, float]:
    """Return how near a marker comes to a slot or the nut, and to an edge."""
    slots = [shapely.Polygon(board.slot(fret)) for fret in board.slots] + [shapely.LineString(board.nut_line)]
    corners = board.outline
    edges = [shapely.LineString(corners[:2]), shapely.LineString(corners[2:])]
    return tuple(min(float(shapely.distance(marker.area, line)) for line in lines) for lines in (slots, edges))


@pytest.mark.parametrize("margin", [0.8, 1.5])
@pytest.mark.parametrize("shape", ["block", "split-block", "trapezoid", "parallelogram"])
def test_a_block_takes_the_room_that_its_margin_leaves(shape: str, margin: float) -> None:
    board = a_board()
    for marker in markers(board, shape=shape, margin=margin).values():
        to_slot, to_edge = distances(marker, board)
        assert to_slot == pytest.approx(margin, abs=1e-6)
        assert to_edge == pytest.approx(margin, abs=1e-6)


@pytest.mark.parametrize("shape", ["trapezoid", "parallelogram"])
def test_what_follows_fanned_frets_keeps_its_margin_and_wastes_no_more_than_the_fan(shape: str) -> None:
    board = a_board(scale=FANNED)
    for marker in markers(board, shape=shape).values():
        to_slot, to_edge = distances(marker, board)
        assert 1.5 - 1e-6 <= to_slot < 1.6
        assert 1.5 - 1e-6 <= to_edge < 1.6


def test_a_block_is_square_a_trapezoid_follows_the_taper_a_parallelogram_the_fret() -> None:
    board = a_board(scale=FANNED, end_width=75.0)
    block = markers(board, shape="block", width=10.0)["fret 9"].area
    assert block.equals(shapely.box(*block.bounds))
    trapezoid = shapely.get_coordinates(markers(board, shape="trapezoid")["fret 9"].area)[:4]
    below, above = trapezoid[1] - trapezoid[0], trapezoid[2] - trapezoid[3]
    assert above[1] / above[0] == pytest.approx(board.flare / 2)
    assert below[1] / below[0] == pytest.approx(-board.flare / 2)
    leaning = shapely.get_coordinates(markers(board, shape="parallelogram")["fret 9"].area)[:4]
    rise = leaning[3] - leaning[0]
    assert rise[0] / rise[1] == pytest.approx((board.fret_line(8).lean + board.fret_line(9).lean) / 2)
    assert np.allclose(leaning[1] - leaning[0], leaning[2] - leaning[3])


@pytest.mark.parametrize("shape", ["diamond", "block", "split-block", "trapezoid", "parallelogram"])
def test_a_size_or_a_share_is_what_comes_out(shape: str) -> None:
    board = a_board()
    sized = markers(board, shape=shape, length=8.0, width=12.0)["fret 5"]
    shared = markers(board, shape=shape, length_share=0.4, width_share=0.5)["fret 5"]
    level = shapely.intersection(sized.area, shapely.LineString([(sized.place.x, -50), (sized.place.x, 50)]))
    assert sized.size[0] == pytest.approx(8.0, abs=1e-6)
    assert level.bounds[3] - level.bounds[1] == pytest.approx(12.0, abs=1e-6)
    assert shared.size[0] == pytest.approx(0.4 * shared.place.space, abs=1e-6)


def test_a_split_block_is_two_halves_with_wood_between() -> None:
    marker = markers(a_board(), shape="split-block", split=1.2)["fret 7"]
    first, second = (region.polygon for region in marker.regions)
    assert shapely.distance(first, second) == pytest.approx(1.2, abs=1e-6)
    assert first.area == pytest.approx(second.area, rel=1e-9)


def test_a_dot_is_round_within_the_tolerance_of_curves() -> None:
    dot = markers(a_board(), diameter=6.0)["fret 5"]
    rings = np.hypot(*(shapely.get_coordinates(dot.area) - [dot.place.x, dot.place.y]).T)
    assert rings == pytest.approx(3.0, abs=1e-9)
    assert shapely.hausdorff_distance(dot.area.exterior, shapely.Point(dot.place.x, dot.place.y).buffer(3, 4096)) < 2e-4


# -- the maker's own ------------------------------------------------------------------------------------------------


def a_leaf() -> Drawing:
    leaf = shapely.Polygon([(0, 0), (8, 1), (10, 4), (3, 3)])
    return Drawing(
        source="leaf.svg",
        regions=(
            Region(polygon=leaf, name="leaf", layer="pearl", colour="#eeeeee"),
            Region(polygon=shapely.box(11, 0, 12, 1), name="bud", layer="gold"),
        ),
    )


def test_a_drawing_is_set_in_at_its_size_with_its_layers() -> None:
    board = a_board()
    found = markers(board, shape="drawing", artwork=a_leaf(), width=9.0)
    for marker in found.values():
        assert middle(marker) == pytest.approx((marker.place.x, marker.place.y), abs=MICROMETRE / 1000)
        assert marker.size == pytest.approx((27.0, 9.0))
        assert [region.layer for region in marker.regions] == ["pearl", "gold"]
    assert [region.name for region in found["fret 12 bass"].regions] == ["fret 12 bass leaf", "fret 12 bass bud"]


def test_a_share_in_both_directions_is_kept_in_both() -> None:
    for marker in markers(a_board(), shape="drawing", artwork=a_leaf(), length_share=0.8, width_share=0.3).values():
        length, width = marker.size
        room, across = 0.8 * marker.place.space, 0.3 * marker.place.across
        assert length <= room + 1e-9
        assert width <= across + 1e-9
        assert length == pytest.approx(room) or width == pytest.approx(across)


def test_a_drawing_can_be_turned_and_is_mirrored_for_the_left_hand() -> None:
    style = {"shape": "drawing", "artwork": a_leaf(), "length": 6.0}
    upright = markers(a_board(), turn_deg=90.0, **style)["fret 5"]
    assert upright.size == pytest.approx((6.0, 18.0))
    right, left = (markers(a_board(left_handed=hand), **style)["fret 5"].area for hand in (False, True))
    mirrored = shapely.transform(right, lambda points: points * [1, -1])
    assert shapely.symmetric_difference(left, mirrored).area == pytest.approx(0.0, abs=1e-9)
    assert shapely.symmetric_difference(left, right).area > 1


def test_the_largest_size_says_how_fine_a_drawing_must_be_read() -> None:
    leaf = a_leaf()
    found = lay_out(a_board(), MarkerSettings(style=Style(shape="drawing", artwork=leaf, width=10.0)))
    assert largest_enlargement(found, leaf) == pytest.approx(2.5)


def test_a_fret_may_have_a_look_of_its_own() -> None:
    settings = MarkerSettings(style=Style(shape="block"), overrides={7: Style(diameter=5.0)})
    found = {marker.fret: marker for marker in lay_out(a_board(), settings)}
    assert found[7].size == pytest.approx((5.0, 5.0))
    assert found[5].size[1] > 30


def test_all_markers_together_are_a_drawing_in_the_boards_own_place() -> None:
    found = lay_out(a_board(), MarkerSettings())
    drawing = drawing_of(found, source="board")
    assert [region.name for region in drawing.regions] == [marker.name for marker in found]
    assert drawing.bounds[0] == pytest.approx(87.167 - 3, abs=0.001)


# -- side dots ------------------------------------------------------------------------------------------------------


def test_side_dots_are_drilled_into_the_bass_edge_midway_between_frets() -> None:
    board = a_board(radius=300.0, thickness=6.4)
    dots = side_dots(board, MarkerSettings(side=SideDots(apart=5.0)))
    assert len(dots) == 12
    third = dots[0]
    assert third.x == pytest.approx(87.167, abs=0.0005)
    assert third.y == pytest.approx(-board.width_at(third.x) / 2)
    nut = board.nut_line.bass
    assert third.along_edge == pytest.approx(np.hypot(third.x - nut[0], third.y - nut[1]))
    assert third.up == pytest.approx((6.4 - board.drop_at(third.x, third.y)) / 2)
    pair = [dot for dot in dots if dot.fret == 12]
    assert pair[1].along_edge - pair[0].along_edge == pytest.approx(5.0)
    assert (pair[0].x + pair[1].x) / 2 == pytest.approx(315.337, abs=0.0005)


def test_without_side_dots_there_are_none_and_they_may_have_frets_of_their_own() -> None:
    assert side_dots(a_board(), MarkerSettings()) == ()
    own = side_dots(a_board(), MarkerSettings(side=SideDots(frets=(1, 2), doubles=(2,))))
    assert [dot.fret for dot in own] == [1, 2, 2]
    assert own[0].up is None, "the board's thickness is not known"
