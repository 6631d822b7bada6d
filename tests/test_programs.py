"""The cutting programs, as a stranger reads them: they cut the pieces and the pockets, and they do it safely."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely

from inlayfit import fit, read_drawing
from inlayfit.arcs import ArcRing, fit_polygon, flatten_ring
from inlayfit.cli import main
from inlayfit.cutters import Bit
from inlayfit.errors import WriteError
from inlayfit.feeds import Cutting, Machine, SpeedsAsked, speeds_for
from inlayfit.programs import Program as Made
from inlayfit.programs import part_program
from inlayfit.readback_program import read_back_program
from inlayfit.toolpath import LEAST_CHORD, LEAST_MOVE, MOST_RADIUS, Cut, Heights, backwards, for_machine, profile
from inlayfit.write.gcode import program_bytes
from tests.program_judge import Program, check_safety, deepest_step, read_program, swept_ground, time_of
from tests.test_blank_files import DRAWING as BADGE
from tests.test_laws import ARTWORK, WIDTHS

UM = 0.001
CHORD = 0.0001
SAFE, THROUGH = 6.0, 0.15
BIT = 0.8
RUNOUT = 0.01
RADIUS = (BIT + RUNOUT) / 2
RAPID = 1500.0

DRAWING = BADGE.replace(
    '<path fill="#4a5563" d="M14', '<circle fill="#ffffff" cx="6" cy="8" r="2.2"/><path fill="#4a5563" d="M14'
)
JOB = f"""
[drawing]
file = "badge.svg"
[piece]
bit = "{BIT}mm"
runout = "{RUNOUT}mm"
[pocket]
bit = "POCKETBITmm"
runout = "{RUNOUT}mm"
feed = "600mm/min"
[fit]
gap = "0.05mm"
[machine]
safe_height = "{SAFE}mm"
through = "{THROUGH}mm"
rapid = "{RAPID}mm/min"
units = "UNITS"
direction = "DIRECTION"
[stock.brass]
kind = "metal"
thickness = "1mm"
colours = ["#c09a45"]
pass_depth = "0.12mm"
feed = "4in/min"
[stock.slate]
kind = "stone"
thickness = "1.5mm"
cut_from = "back"
colours = ["#4a5563"]
[stock.bone]
kind = "bone"
thickness = "0.6mm"
inlaid = "piece"
colours = ["#ffffff"]
[[blank]]
stock = "brass"
width = "40mm"
height = "30mm"
[[blank]]
stock = "slate"
width = "40mm"
height = "20mm"
thickness = "1.6mm"
[[blank]]
stock = "bone"
width = "12mm"
height = "12mm"
"""
SHEETS = {"brass": 1.0, "slate": 1.6, "bone": 0.6}


def cut(where: Path, *, pocket_bit: float = BIT, units: str = "mm", direction: str = "climb", job: str = JOB) -> Path:
    """Return the folder of a fit."""
    where.mkdir(parents=True, exist_ok=True)
    (where / "badge.svg").write_text(DRAWING, encoding="utf-8")
    text = job.replace("POCKETBIT", str(pocket_bit)).replace("UNITS", units).replace("DIRECTION", direction)
    (where / "badge.toml").write_text(text, encoding="utf-8")
    assert main(["fit", str(where / "badge.toml"), "--out", str(where / "out")]) in (0, 1)
    return where / "out"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return cut(tmp_path_factory.mktemp("badge"))


@pytest.fixture(scope="module")
def other_bit(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return cut(tmp_path_factory.mktemp("badge-other"), pocket_bit=1.0, units="in", direction="conventional")


def report_of(folder: Path) -> dict[str, Any]:
    return json.loads((folder / "report.json").read_text(encoding="utf-8"))


def program(folder: Path, name: str) -> Program:
    return read_program((folder / f"{name}.nc").read_text(encoding="ascii"))


def areas_of(path: Path, *layers: str) -> list[shapely.Polygon]:
    """Return the outlines of layers, with their holes, as ezdxf flattens their arcs (its paths would make cubics)."""
    space = ezdxf.readfile(path).modelspace()
    found = [entity for layer in layers for entity in space.query(f'LWPOLYLINE[layer=="{layer}"]')]
    rings = [shapely.Polygon(_corners(one)) for one in found]
    whole = shapely.Polygon()
    for ring in sorted(rings, key=lambda one: -one.area):
        whole = whole.symmetric_difference(ring)
    return [part for part in shapely.get_parts(whole) if part.area > 0]  # where arcs meet, a last digit makes a line


def _corners(outline: Any) -> list[tuple[float, float]]:
    corners: list[tuple[float, float]] = []
    for element in outline.virtual_entities():
        if element.dxftype() == "ARC":
            points = [(point.x, point.y) for point in element.flattening(CHORD)]
        else:
            points = [(element.dxf.start.x, element.dxf.start.y), (element.dxf.end.x, element.dxf.end.y)]
        backwards = corners and math.dist(corners[-1], points[-1]) < math.dist(corners[-1], points[0])
        corners += points[::-1] if backwards else points
    return corners


def off(first: shapely.Geometry, second: shapely.Geometry) -> float:
    """Return how far the edge of either lies from the edge of the other, mm."""
    return shapely.hausdorff_distance(first.boundary, second.boundary, densify=0.2)


def names(folder: Path) -> set[str]:
    return {path.stem for path in folder.glob("*.nc")}


def test_each_blank_has_its_program_and_the_pockets_have_one(folder: Path, other_bit: Path) -> None:
    assert names(folder) == {"blank-brass-1", "blank-slate-1", "blank-bone-1", "pockets"}
    assert names(other_bit) == names(folder) | {"blank-brass-1-pockets"}
    listed = {file["path"].rpartition("/")[2]: file["kind"] for file in report_of(folder)["files"]}
    assert {name for name in listed if name.endswith(".nc")} == {f"{name}.nc" for name in names(folder)}
    assert listed["blank-brass-1.nc"] == "blank-nc"


@pytest.mark.parametrize("which", ["folder", "other_bit"])
def test_no_program_does_what_is_not_safe(which: str, request: pytest.FixtureRequest) -> None:
    out = request.getfixturevalue(which)
    for one in report_of(out)["programs"]:
        read = read_program((out / one["file"]).read_text(encoding="ascii"))
        radius = (one["bit_mm"] + RUNOUT) / 2
        complaints = check_safety(read, safe_z=SAFE - UM, floor=one["lowest_mm"] - UM, radius=radius, plunge=UM)
        assert not complaints, one["file"]
        assert read.spindle_at_end == "off"
        assert {move.speed for move in read.moves if move.cuts} == {one["rpm"]}


@pytest.mark.parametrize("which", ["folder", "other_bit"])
@pytest.mark.parametrize("stock", SHEETS)
def test_the_slot_runs_right_round_each_piece_and_through_the_sheet(
    stock: str, which: str, request: pytest.FixtureRequest
) -> None:
    out = request.getfixturevalue(which)
    pieces = areas_of(out / f"blank-{stock}-1.dxf", "PIECE_OUTLINE")
    moves = program(out, f"blank-{stock}-1").moves
    (ground,) = swept_ground(moves, RADIUS, [-SHEETS[stock] - THROUGH + UM])
    assert len(pieces) == sum(piece["stock"] == stock for piece in report_of(out)["pieces"])
    for piece in pieces:
        assert shapely.intersection(ground, piece.buffer(-UM)).area == 0
        beside = piece.buffer(BIT).difference(piece.buffer(UM))
        rest = shapely.difference(beside, ground.buffer(UM))
        assert rest.intersection(piece.buffer(2 * RADIUS - UM)).area < 1e-6


@pytest.mark.parametrize("which", ["folder", "other_bit"])
def test_the_pockets_in_the_wood_are_cleared_to_their_walls_and_no_farther(
    which: str, request: pytest.FixtureRequest
) -> None:
    out = request.getfixturevalue(which)
    radius = ((BIT if which == "folder" else 1.0) + RUNOUT) / 2
    moves = program(out, "pockets").moves
    pockets = shapely.union_all(areas_of(out / "pockets.dxf", "POCKET_OUTLINE"))
    steps = shapely.union_all(areas_of(out / "pockets.dxf", "STEP_OUTLINE"))
    first, last = swept_ground(moves, radius, [-1.0 + UM, -1.5 + UM])
    assert off(first, pockets) <= UM
    assert off(last, shapely.union_all([steps, *_deep_alone(out)])) <= UM
    assert min(move.end[2] for move in moves) == pytest.approx(-1.5, abs=UM)


def _deep_alone(out: Path) -> list[shapely.Polygon]:
    """Return the pockets that are deep all over: those of slate alone."""
    outlines = areas_of(out / "pockets.dxf", "POCKET_OUTLINE")
    deep = [one for one in report_of(out)["pockets"] if one["zones"][0]["depth_mm"] == 1.5]
    boxes = [shapely.box(*one["bounds_mm"]) for one in deep]
    return [one for one in outlines if any(shapely.box(*one.bounds).hausdorff_distance(box) < 0.01 for box in boxes)]


@pytest.mark.parametrize("which", ["folder", "other_bit"])
def test_the_pocket_for_a_piece_in_a_piece_is_cut_into_its_face_before_it_is_cut_free(
    which: str, request: pytest.FixtureRequest
) -> None:
    out = request.getfixturevalue(which)
    shared = which == "folder"
    moves = program(out, "blank-brass-1" if shared else "blank-brass-1-pockets").moves
    radius = ((BIT if shared else 1.0) + RUNOUT) / 2
    (pocket,) = areas_of(out / "blank-brass-1.dxf", "POCKET_OUTLINE")
    inside = [
        move for move in moves if all(pocket.buffer(1).contains(shapely.Point(p[:2])) for p in (move.start, move.end))
    ]
    (ground,) = swept_ground(inside, radius, [-0.6 + UM])
    assert off(ground, pocket) <= UM
    first_through = next((move.line for move in moves if move.end[2] < -1.0), math.inf)
    assert max(move.line for move in inside) < first_through


@pytest.mark.parametrize("which", ["folder", "other_bit"])
def test_no_move_takes_more_at_once_than_is_said(which: str, request: pytest.FixtureRequest) -> None:
    out = request.getfixturevalue(which)
    for one in report_of(out)["programs"]:
        moves = read_program((out / one["file"]).read_text(encoding="ascii")).moves
        assert deepest_step(moves, (one["bit_mm"] + RUNOUT) / 2) <= one["pass_mm"] + 2 * UM, one["file"]


def test_what_the_job_says_of_speeds_holds(folder: Path, other_bit: Path) -> None:
    programs = {one["file"]: one for one in report_of(folder)["programs"]}
    assert programs["blank-brass-1.nc"]["pass_mm"] == 0.12
    assert programs["blank-brass-1.nc"]["feed_mm_per_min"] == pytest.approx(4 * 25.4)
    assert programs["pockets.nc"]["feed_mm_per_min"] == 600
    feeds = {move.feed for move in program(folder, "blank-brass-1").moves if move.cuts}
    assert max(feeds) == pytest.approx(101.6)
    own = {one["file"]: one for one in report_of(other_bit)["programs"]}["blank-brass-1-pockets.nc"]
    assert own["feed_mm_per_min"] < 600  # that was said of the wood


@pytest.mark.parametrize("which", ["folder", "other_bit"])
def test_the_minutes_are_those_of_the_moves(which: str, request: pytest.FixtureRequest) -> None:
    out = request.getfixturevalue(which)
    for one in report_of(out)["programs"]:
        moves = read_program((out / one["file"]).read_text(encoding="ascii")).moves
        assert one["minutes"] == pytest.approx(time_of(moves, RAPID), rel=1e-3)


@pytest.mark.parametrize("which", ["folder", "other_bit"])
def test_the_teeth_meet_what_is_kept_as_was_asked(which: str, request: pytest.FixtureRequest) -> None:
    """A spindle that turns clockwise climbs with what is kept at its right: round a piece that is clockwise."""
    out = request.getfixturevalue(which)
    right = 1 if which == "folder" else -1
    for stock, sheet in SHEETS.items():
        pieces = shapely.union_all(areas_of(out / f"blank-{stock}-1.dxf", "PIECE_OUTLINE"))
        moves = [move for move in program(out, f"blank-{stock}-1").moves if move.cuts]
        low = [move for move in moves if max(move.start[2], move.end[2]) < -sheet]
        assert _kept_beside(low, pieces, right) > 0.98
    wood = shapely.box(-10, -10, 60, 60) - shapely.union_all(areas_of(out / "pockets.dxf", "POCKET_OUTLINE"))
    walls = [move for move in program(out, "pockets").moves if move.cuts and move.start[2] == move.end[2]]
    assert _kept_beside(walls, wood, right) > 0.98


def _kept_beside(moves: list[Any], kept: shapely.Geometry, right: int) -> float:
    """Return the share of moves along what is kept that have it on that side."""
    sides = []
    for move in moves:
        here, there = move.at(np.array([0.49, 0.51]))[:, :2]
        along = (there - here) / max(np.hypot(*(there - here)), 1e-12)
        aside = np.array([along[1], -along[0]]) * (0.55 + RUNOUT)
        middle = (here + there) / 2
        beside = [kept.contains(shapely.Point(middle + side * aside)) for side in (right, -right)]
        if sum(beside) == 1:
            sides.append(beside[0])
    assert len(sides) >= 3
    return float(np.mean(sides))


def test_a_program_in_inches_cuts_the_same(folder: Path, tmp_path: Path) -> None:
    inches = program(cut(tmp_path, units="in"), "blank-brass-1").moves
    for one, other in zip(program(folder, "blank-brass-1").moves, inches, strict=True):
        assert math.dist(one.end, other.end) < 0.3 * UM or math.isnan(one.end[0])


def test_a_kerf_and_a_sheet_of_unknown_thickness_have_no_program(tmp_path: Path) -> None:
    job = JOB.replace('kind = "metal"\nthickness = "1mm"', 'kind = "metal"')
    job = job.replace('pass_depth = "0.12mm"\nfeed = "4in/min"', "").replace(
        'kind = "stone"', 'kind = "stone"\nkerf = "0.3mm"'
    )
    out = cut(tmp_path, job=job)
    assert names(out) == {"blank-bone-1"}
    told = {one["name"]: one["message"] for one in report_of(out)["findings"] if one["kind"] == "no-program"}
    assert "kerf" in told["slate 1"]
    assert "thickness" in told["brass 1"]


def test_pockets_in_faces_that_lie_down_are_told(tmp_path: Path) -> None:
    job = JOB.replace('colours = ["#c09a45"]\n', 'colours = ["#c09a45"]\ncut_from = "back"\n')
    out = cut(tmp_path, job=job)
    (told,) = [one for one in report_of(out)["findings"] if one["kind"] == "no-program"]
    assert told["name"] == "brass 1"
    assert "face" in told["message"]
    assert not swept_ground(program(out, "blank-brass-1").moves, RADIUS, [-0.6])[0].is_empty


def test_a_cut_deeper_than_small_bits_have_teeth_is_told(tmp_path: Path) -> None:
    out = cut(
        tmp_path,
        job=JOB.replace('kind = "stone"\nthickness = "1.5mm"', 'kind = "stone"\nthickness = "2.5mm"').replace(
            'thickness = "1.6mm"', ""
        ),
    )
    told = {one["name"] for one in report_of(out)["findings"] if one["kind"] == "deep-cut"}
    assert told == {"slate 1", "the part"}


def test_comments_say_what_the_maker_must_know(folder: Path) -> None:
    text = (folder / "blank-slate-1.nc").read_text(encoding="ascii")
    assert "mirrored, FROM THE BACK" in text
    assert "origin: the lower left corner of the blank" in text
    assert re.search(r"\(bit: 0\.8 mm bit with 0\.01 mm runout", text)
    assert "eye protection" in text
    numbers = {piece["number"] for piece in report_of(folder)["pieces"] if piece["stock"] == "slate"}
    assert numbers == set(re.findall(r"\((\w+) outline\)", text))


def test_the_same_job_gives_the_same_programs(folder: Path, tmp_path: Path) -> None:
    again = cut(tmp_path)
    for name in names(folder):
        assert (again / f"{name}.nc").read_bytes() == (folder / f"{name}.nc").read_bytes()


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('units = "mm"', 'units = "feet"', "machine.units"),
        ('direction = "climb"', 'direction = "up"', "machine.direction"),
        (f'safe_height = "{SAFE}mm"', 'safe_height = "0mm"', "machine.safe_height"),
        (f'safe_height = "{SAFE}mm"', 'safe_height = "6m"', "machine.safe_height"),
        (f'through = "{THROUGH}mm"', 'through = "-1mm"', "machine.through"),
        (f'rapid = "{RAPID}mm/min"', 'rapid = "fast"', "machine.rapid"),
        ("[machine]", "[machine]\nmost_rpm = nan", "machine.most_rpm"),
        ("[machine]", "[machine]\nleast_rpm = 30000", "machine.least_rpm"),
        ("[machine]", "[machine]\nmost_feed = 0", "machine.most_feed"),
        ("[machine]", "[machine]\nspeed = 3", "machine.speed"),
        ('kind = "stone"', 'kind = "stone"\nteeth = 0', "stock.slate.teeth"),
        ('kind = "stone"', 'kind = "stone"\nrpm = -4', "stock.slate.rpm"),
        ('kind = "stone"', 'kind = "stone"\npass_depth = "0mm"', "stock.slate.pass_depth"),
        ('kind = "stone"', 'kind = "stone"\npass_depth = "0.0001mm"', "stock.slate.pass_depth"),
        ('kind = "stone"', 'kind = "stone"\nkerf = "0.3mm"\nfeed = 100', "stock.slate.feed"),
        ('feed = "600mm/min"', 'feed = "-600mm/min"', "pocket.feed"),
    ],
)
def test_what_cannot_be_used_names_its_key(
    old: str, new: str, key: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = JOB.replace("POCKETBIT", "0.8").replace("UNITS", "mm").replace("DIRECTION", "climb")
    assert old in text
    (tmp_path / "badge.svg").write_text(DRAWING, encoding="utf-8")
    (tmp_path / "badge.toml").write_text(text.replace(old, new, 1), encoding="utf-8")
    assert main(["fit", str(tmp_path / "badge.toml"), "--out", str(tmp_path / "out")]) == 2
    assert key in capsys.readouterr().err.replace("\n", "")
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(("bit", "share"), [("1/32in", 0.7), ("1/16in", 1.2)])
@pytest.mark.parametrize("name", ARTWORK)
def test_the_pockets_of_every_artwork_are_cleared(name: str, bit: str, share: float) -> None:
    drawing = read_drawing(Path("artwork") / name, width=share * WIDTHS[name])
    result = fit(drawing, piece_cutter=bit, pocket_cutter=bit, gap="0.05mm", thickness="1.2mm")
    made = part_program(result, Cutting())
    assert made is not None
    read = read_program(program_bytes(made).decode("ascii"))
    radius = result.settings.pocket_cutter.radius
    assert not check_safety(read, safe_z=5.0, floor=-1.2, radius=radius, plunge=UM)
    (ground,) = swept_ground(read.moves, radius, [-1.2])
    pockets = shapely.union_all([pocket.outline for pocket in result.pockets])
    over, under = shapely.difference(ground, pockets.buffer(UM)), shapely.difference(pockets, ground.buffer(UM))
    assert over.area + under.area == 0


@pytest.mark.parametrize(
    ("pattern", "instead"),
    [
        (r"^(G3 X)(-?\d+\.)", r"\g<1>1\2"),  # an end that is elsewhere
        (r"(J-?\d*\.?)(\d)", r"\g<1>9\2"),  # a centre that is
        (r"^G3 ", "G2 "),  # the other way round
        (r"^G1 ", "G0 "),  # a rapid move into the work
        (r"Z-0\.", "Z-9."),  # far too deep
        (r"^G3 .*\n", ""),  # a move that is missing
        (r"^M5\n", ""),  # a spindle that goes on
        (r"^M2\n", ""),
        (r"^G0 Z5\nM5", "M5"),  # the bit is left in the work
        (r" F\d+\.?\d*", " F9000"),  # as fast as no bit stands
        (r"^G17 G21", "G17 G20"),  # inches
        (r"S18000", "S1800"),
        (r"^G4 P\d+\n", ""),
        (r"^G3 ", "G5 "),
        (r"^\(.*$", "(a comment (in a comment))"),
        (r"^G3 ", "\N{LATIN SMALL LETTER E WITH ACUTE}"),
        (r"$", "x" * 300),
    ],
)
def test_a_file_that_holds_another_program_is_refused(pattern: str, instead: str, tmp_path: Path) -> None:
    made = _a_program()
    text = program_bytes(made).decode("ascii")
    good, bad = tmp_path / "good.nc", tmp_path / "bad.nc"
    good.write_text(text, encoding="ascii")
    changed = re.sub(pattern, instead, text, count=1, flags=re.MULTILINE)
    assert changed != text
    bad.write_text(changed, encoding="utf-8")
    assert read_back_program(good, made).largest_deviation < 0.0001
    with pytest.raises(WriteError, match=r"bad\.nc"):
        read_back_program(bad, made)


def _a_program() -> Made:
    ring = fit_polygon(shapely.Point(10, 10).buffer(3, quad_segs=64))[0]
    speeds = speeds_for(Bit(diameter=0.8), "shell", SpeedsAsked(), Machine())
    cut = Cut(label="A1 outline", moves=tuple(profile(ring, Heights(5.0, 0.0, -1.0), speeds)))
    return Made(
        file="good",
        title="a disc",
        of="pearl 1",
        origin="its corner",
        bit=Bit(diameter=0.8),
        speeds=speeds,
        machine=Machine(),
        cuts=(cut,),
        bottom=-1.0,
    )


@pytest.mark.parametrize("seed", range(20))
def test_elements_for_the_machine_are_neither_tiny_nor_far_from_the_path(seed: int) -> None:
    chance = np.random.default_rng(seed)
    count = 40
    angles = np.sort(chance.uniform(0, math.tau, count))
    angles[1::5] = angles[::5] + 10.0 ** chance.uniform(-9, -3, count // 5)  # some joints on one another
    points = np.column_stack([np.cos(angles), np.sin(angles)]) * chance.uniform(3, 4, count)[:, None]
    bulges = chance.choice([0.0, 1e-6, 1e-4, 0.01, 0.3, 1.0, -0.2], count)
    ring = ArcRing(points=points, bulges=bulges)
    made = for_machine(ring)
    chords = np.hypot(*(np.roll(made.points, -1, axis=0) - made.points).T)
    assert chords.min() >= LEAST_MOVE / 2
    arcs = made.bulges != 0
    assert np.abs(made.bulges).max() <= 1
    assert chords[arcs].min() >= LEAST_CHORD
    rises = np.abs(made.bulges[arcs])
    assert (chords[arcs] * (1 + rises**2) / (4 * rises)).max() <= MOST_RADIUS
    lines = [shapely.LineString(np.vstack([points, points[:1]])) for points in map(flatten_ring, (ring, made))]
    assert shapely.hausdorff_distance(*lines, densify=0.1) <= UM
    assert backwards(backwards(ring)).bulges == pytest.approx(ring.bulges)
