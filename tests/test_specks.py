"""Drawings of a thousand specks: what no bit can cut is many, and all the same the work is soon over."""

from __future__ import annotations

import time

import numpy as np
import pytest
import shapely
import shapely.affinity

import inlayfit
from inlayfit.cutters import make_bit
from inlayfit.drawing import Drawing, Region
from inlayfit.first_cells import first_cells
from inlayfit.offset import geometry_of, grow, section, shrink
from inlayfit.stocks import Stock

SIDE = 32
"""Specks to either side."""
PITCH = 0.16
"""Between their middles, mm."""
CORNERS = 120
COLOURS = {"#203050": 0.5, "#806020": 1.5875, "#a0a0b0": 1.0, "#c04020": 1.5875}
"""With the bit for each, mm; the first is the plate."""
SECONDS = 15.0
"""Of the processor, which other work does not add to."""
NOISE = 0.0004
"""Of two ways to one outline: each is as far from it as a chord from its arc, mm."""


def specks(side: int, seed: int) -> list[shapely.Polygon]:
    """Return wavy specks, which do not touch, in rows, each a little off its place by lot."""
    lot = np.random.default_rng(seed)
    angles = np.linspace(0, 2 * np.pi, CORNERS, endpoint=False)
    ways = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    rows = np.stack(np.meshgrid(np.arange(side), np.arange(side)), axis=-1).reshape(-1, 2) * PITCH
    middles = rows + lot.uniform(-PITCH / 10, PITCH / 10, rows.shape)
    radii = PITCH * lot.uniform(0.15, 0.3, (len(rows), 1)) * (1 + 0.25 * np.sin(5 * angles + lot.uniform(0, 6)))
    return [shapely.Polygon(middle + ways * radius[:, None]) for middle, radius in zip(middles, radii, strict=True)]


def crest(side: int = SIDE) -> Drawing:
    """Return a plate 15 mm wide, on a third of which specks of three colours crowd."""
    plate, *others = COLOURS
    regions = [Region(polygon=shapely.box(-5, -3, 10, 7), name="plate", colour=plate)]
    regions += [
        Region(polygon=speck, name=f"speck {number}", colour=others[number % 3])
        for number, speck in enumerate(specks(side, seed=1))
    ]
    return Drawing(source="crest.svg", regions=tuple(regions))


def test_a_crest_of_a_thousand_specks_is_fitted_in_seconds() -> None:
    drawing = crest()
    assert len(drawing.regions) > 1_000
    stocks = [Stock(name=colour, cutter=make_bit(bit), colours=(colour,)) for colour, bit in COLOURS.items()]
    begin = time.process_time()
    fit = inlayfit.fit(drawing, pocket_cutter=0.79375, gap=0.05, gap_from="shared", stocks=stocks)
    assert time.process_time() - begin < SECONDS
    lost = {finding.name for finding in fit.findings if finding.kind == "lost-piece"}
    assert lost == {region.name for region in drawing.regions[1:]}
    (pocket,) = fit.pockets
    (piece,) = fit.pieces
    assert piece.colour == next(iter(COLOURS))
    assert pocket.outline.area - piece.outline.area == pytest.approx(0.05 * 50, rel=0.02)


def crowd() -> shapely.MultiPolygon:
    """Return two hundred specks, some of them rings round others, some of which are solid."""
    rings = [speck.buffer(0.06).difference(speck.buffer(0.03)) for speck in specks(6, seed=3)]
    apart = [shapely.affinity.translate(ring, 1.1, 0.2) for ring in [*rings, *specks(6, seed=3)]]
    return shapely.MultiPolygon(shapely.get_parts(shapely.union_all([*specks(14, seed=2), *apart])).tolist())


def assert_alike(one: shapely.Geometry, other: shapely.Geometry) -> None:
    assert shapely.difference(one, shapely.buffer(other, NOISE)).is_empty
    assert shapely.difference(other, shapely.buffer(one, NOISE)).is_empty


@pytest.mark.parametrize("radius", [0.02, 0.11, 0.4, 1.2])
def test_a_crowd_grows_to_the_union_of_what_each_speck_grows_to(radius: float) -> None:
    area = crowd()
    each = shapely.union_all([grow(part, radius) for part in area.geoms])
    assert_alike(grow(area, radius), each)


@pytest.mark.parametrize("radius", [0.02, 0.11, 0.4])
def test_a_plate_shrinks_by_what_each_of_its_holes_grows_to(radius: float) -> None:
    plate, area = shapely.box(-3, -3, 6, 5), crowd()
    holes = shapely.union_all([grow(part, radius) for part in area.geoms])
    left = shapely.difference(shrink(plate, radius), holes)
    assert_alike(shrink(plate - area, radius), left)


def test_first_cells_leave_nothing_of_the_seam_open_nor_have_it_twice() -> None:
    plate, inlay = shapely.box(0, 0, 4, 4), shapely.box(1, 1, 2, 2)
    beside, apart = shapely.box(4.008, 1, 6, 3), shapely.box(3, 5, 4, 6)
    bridge, overhang = shapely.box(3, 4, 4, 5), shapely.box(5.5, 1, 6, 3)
    areas = [plate - shapely.box(0.996, 0.996, 2.004, 2.004), inlay, beside, apart]
    seam = shapely.union_all([plate, shapely.box(3.9, 1, 6, 3), bridge, apart]) - overhang
    cells = [geometry_of(cell) for cell in first_cells(section(seam), [section(area) for area in areas])]
    assert shapely.symmetric_difference(shapely.union_all(cells), seam).area < 1e-6
    assert sum(cell.area for cell in cells) == pytest.approx(seam.area, abs=1e-6)
    drawn = (15, 1, 2 * 1.5, 1)
    filled = (
        2 * 0.006 + 0.006,
        0,
        -2 * 0.006,
        1 - 0.006,
    )  # the first has its share of a slit, and the rest has one owner
    assert [cell.area for cell in cells] == pytest.approx(np.add(drawn, filled).tolist(), abs=0.001)
