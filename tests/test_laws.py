"""Laws that hold for every drawing in artwork/, whatever the bit and the gap."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
import shapely

import inlayfit
from inlayfit.half_sheets import sheets_of
from inlayfit.offset import closing, grow, opening, shrink
from inlayfit.readback import read_back_dxf, read_back_svg
from inlayfit.recipe import Fit
from inlayfit.units import parse_length
from inlayfit.write.dxf import dxf_bytes
from inlayfit.write.svg import svg_bytes

ARTWORK = sorted(path.name for path in Path("artwork").iterdir() if path.suffix in {".svg", ".dxf"})
WIDTHS = {
    "heron.svg": 58,
    "moth.dxf": 46,
    "fern.svg": 16,
    "knot-band.svg": 75,
    "leaf.svg": 18,
    "leaf-pair.svg": 36,
    "dot-and-diamond.svg": 16,
    "dot-and-diamond.dxf": 16,
}
EVEN = 0.002
"""The gap may be off by this much, mm: two written paths, each within 1 um."""
NAMED = {"junction", "uneven-gap"}


def drawing(name: str) -> inlayfit.Drawing:
    return inlayfit.read_drawing(Path("artwork") / name, width=WIDTHS.get(name, 40))


@cache
def fitted(name: str, piece: str, pocket: str, gap: float, gap_from: str) -> Fit:
    return inlayfit.fit(drawing(name), piece_cutter=piece, pocket_cutter=pocket, gap=gap, gap_from=gap_from)


COMBINATIONS = [
    ("1/32in", "1/32in", 0.05, "piece"),
    ("0.5mm", "1mm", 0.025, "shared"),
    ("1mm", "0.5mm", 0.1, "pocket"),
]
every_fit = pytest.mark.parametrize(("piece", "pocket", "gap", "gap_from"), COMBINATIONS)
every_drawing = pytest.mark.parametrize("name", ARTWORK)


@every_drawing
@every_fit
def test_each_piece_lies_inside_its_pocket_and_apart_from_all_others(
    name: str, piece: str, pocket: str, gap: float, gap_from: str
) -> None:
    fit = fitted(name, piece, pocket, gap, gap_from)
    assert fit.pieces
    for index, one in enumerate(fit.pieces):
        assert one.outline.difference(fit.pockets[one.pocket].outline).area < 1e-4
        for other in fit.pieces[index + 1 :]:
            assert one.outline.intersection(other.outline).area < 1e-4


@every_drawing
@every_fit
def test_the_gap_is_as_asked_but_where_a_finding_says_otherwise(
    name: str, piece: str, pocket: str, gap: float, gap_from: str
) -> None:
    """Measured by shapely alone, from the corners of each piece to the wall and to its neighbours."""
    fit = fitted(name, piece, pocket, gap, gap_from)
    named = shapely.union_all([shapely.Point(f.x, f.y).buffer(1.5) for f in fit.findings if f.kind in NAMED])
    for one in fit.pieces:
        others = [p.outline for p in fit.pieces if p.pocket == one.pocket and p is not one]
        walls = shapely.union_all([fit.pockets[one.pocket].outline.boundary, *(other.boundary for other in others)])
        corners = shapely.points(shapely.get_coordinates(one.outline))
        corners = corners[~shapely.within(corners, named)][::7]
        off = abs(shapely.distance(corners, walls) - gap)
        assert (off <= EVEN).all()


@every_drawing
@every_fit
def test_the_outline_is_what_the_cutter_leaves_along_the_path(
    name: str, piece: str, pocket: str, gap: float, gap_from: str
) -> None:
    fit = fitted(name, piece, pocket, gap, gap_from)
    for half, cutter in (*((p, piece) for p in fit.pieces), *((p, pocket) for p in fit.pockets)):
        radius = inlayfit.Bit(diameter=parse_length(cutter)).radius
        corners = shapely.points(shapely.get_coordinates(half.outline)[::11])
        assert (abs(shapely.distance(corners, half.path) - radius) <= 0.001).all()


@every_drawing
@pytest.mark.parametrize("radius", [0.25, 0.396875, 0.79375])
def test_opening_and_closing_are_idempotent_and_bracket_the_drawing(name: str, radius: float) -> None:
    """Opening within the set within closing, both idempotent: mathematical morphology, plain set algebra."""
    whole = shapely.union_all([region.polygon for region in drawing(name).regions])
    opened, closed = opening(whole, radius), closing(whole, radius)
    hair = 0.001
    assert opened.difference(grow(whole, hair)).area < 1e-6
    assert whole.difference(grow(closed, hair)).area < 1e-6
    assert opening(opened, radius).symmetric_difference(opened).area < hair * opened.length
    assert closing(closed, radius).symmetric_difference(closed).area < hair * closed.length
    # a set open for a radius is open for a smaller one: 2 um less, so that no limb is just as wide as the disc
    assert opened.difference(grow(opening(opened, radius - 0.002), hair)).area < 1e-6
    assert shrink(closing(closed, radius - 0.002), hair).difference(closed).area < 1e-6


@every_drawing
def test_what_is_written_reads_back_as_it_was_meant(name: str, tmp_path: Path) -> None:
    for sheet in sheets_of(fitted(name, *COMBINATIONS[0])):
        dxf, svg = tmp_path / f"{sheet.name}.dxf", tmp_path / f"{sheet.name}.svg"
        dxf.write_bytes(dxf_bytes(sheet))
        svg.write_bytes(svg_bytes(sheet))
        assert read_back_dxf(dxf, sheet).largest_deviation < 1e-4
        assert read_back_svg(svg, sheet).largest_deviation < 1e-4


@every_drawing
def test_the_same_drawing_gives_the_same_halves(name: str) -> None:
    first = fitted(name, *COMBINATIONS[0])
    piece, pocket, gap, gap_from = COMBINATIONS[0]
    again = inlayfit.fit(drawing(name), piece_cutter=piece, pocket_cutter=pocket, gap=gap, gap_from=gap_from)
    assert [p.outline.wkb for p in again.pieces] == [p.outline.wkb for p in first.pieces]
    assert again.findings == first.findings
