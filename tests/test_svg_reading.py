"""What a maker sees of an SVG that was read: size, place, names, layers, notes."""

from __future__ import annotations

import gc
import gzip
from pathlib import Path

import pytest
import shapely

from inlayfit.drawing import Drawing
from inlayfit.errors import DrawingError, InlayfitError, UnitError
from inlayfit.read import read_drawing

PAGE = 'width="100mm" height="100mm" viewBox="0 0 100 100"'
LABELS = 'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape"'
BOX = '<rect x="10" y="20" width="30" height="15"/>'
BLOB = '<path d="M10 50 C10 20 50 20 50 50 S 20 90 10 50 Z" stroke="red" stroke-width="3"/>'


def _write(folder: Path, content: str, root: str = PAGE, name: str = "a.svg") -> Path:
    path = folder / name
    path.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {LABELS} {root}>{content}</svg>')
    return path


def _notes(drawing: Drawing, kind: str) -> str:
    return "\n".join(f"{note.subject}: {note.message} ({note.remedy})" for note in drawing.notes if note.kind == kind)


@pytest.mark.parametrize(("asked", "size"), [
    ({}, (30, 15)),
    ({"width": "58mm"}, (58, 29)),
    ({"width": 58}, (58, 29)),
    ({"width": "2in"}, (50.8, 25.4)),
    ({"height": "29mm"}, (58, 29)),
    ({"scale": 2}, (60, 30)),
    ({"scale": "0.5"}, (15, 7.5)),
])  # fmt: skip
def test_the_size_is_the_one_that_was_asked(
    asked: dict[str, str | float], size: tuple[float, float], tmp_path: Path
) -> None:
    assert read_drawing(_write(tmp_path, BOX), **asked).size == pytest.approx(size, abs=1e-9)


@pytest.mark.parametrize("width", ["0.5mm", "58mm", "700mm"])
def test_a_curved_drawing_meets_its_width_with_the_stroke_counted(width: str, tmp_path: Path) -> None:
    drawing = read_drawing(_write(tmp_path, BLOB, root='viewBox="0 0 100 100"'), width=width)
    assert drawing.size[0] == pytest.approx(float(width.removesuffix("mm")), abs=1e-9)


def test_a_clipped_drawing_meets_its_width_by_what_is_left(tmp_path: Path) -> None:
    clip = '<clipPath id="c"><circle cx="20" cy="25" r="5"/></clipPath><g clip-path="url(#c)">'
    drawing = read_drawing(_write(tmp_path, f"{clip}{BOX}</g>"), width="58mm")
    assert drawing.size[0] == pytest.approx(58, abs=1e-9)
    # flattened at the finished size, not at the size before the clip
    assert drawing.regions[0].polygon.area == pytest.approx(3.14159265 * 29**2, abs=2e-4 * 3.15 * 58)


def test_y_runs_upwards_and_the_lower_left_is_the_origin(tmp_path: Path) -> None:
    drawing = read_drawing(_write(tmp_path, '<path d="M10 10h10v20h-30z"/>'))
    assert drawing.bounds[:2] == (0, 0)
    assert drawing.regions[0].polygon.equals(shapely.Polygon([(20, 20), (30, 20), (30, 0), (0, 0)]))


@pytest.mark.parametrize("root", ['width="100" height="100"', 'width="100px" height="100px"', 'viewBox="0 0 9 9"', "",
                                  'width="100%" height="100%" viewBox="0 0 100 100"'])  # fmt: skip
def test_a_file_without_a_physical_size_is_asked_about(root: str, tmp_path: Path) -> None:
    with pytest.raises(DrawingError, match=r"mm at 96 px an inch.*mm at 90.*mm at 72.*--width, --height or --scale"):
        read_drawing(_write(tmp_path, BOX, root))


def test_the_sizes_told_are_those_of_the_drawing(tmp_path: Path) -> None:
    # 30 px x 15 px: at 96 px an inch 7.9375 mm x 3.96875 mm; at 72 px 10.583 mm x 5.292 mm
    with pytest.raises(DrawingError, match=r"7\.9 x 4\.0 mm at 96 px an inch.*10\.6 x 5\.3 mm at 72"):
        read_drawing(_write(tmp_path, BOX, ""))


@pytest.mark.parametrize(("root", "asked", "width"), [
    ('width="100" height="100" viewBox="0 0 50 50"', {"scale": 0.5}, 15),
    ('viewBox="0 0 50 50"', {"units": "mm"}, 30),
    ('viewBox="0 0 50 50"', {"units": "in"}, 762),
    ('width="50" height="50"', {"units": "px"}, 30 * 25.4 / 96),
    ('viewBox="0 0 50 50"', {"units": "mm", "scale": 2}, 60),
])  # fmt: skip
def test_scale_and_units_count_in_the_numbers_of_the_file(
    root: str, asked: dict[str, str | float], width: float, tmp_path: Path
) -> None:
    drawing = read_drawing(_write(tmp_path, BOX, root), **asked)
    assert drawing.size[0] == pytest.approx(width, abs=1e-9)
    assert drawing.scale == pytest.approx(width / 30)


@pytest.mark.parametrize("asked", [
    {"width": 0}, {"width": -5}, {"width": float("nan")}, {"width": "big"}, {"height": "0mm"}, {"height": "-1in"},
    {"scale": 0}, {"scale": -1}, {"scale": float("nan")}, {"scale": float("inf")}, {"scale": "much"},
    {"width": 5, "height": 5}, {"width": 5, "scale": 2}, {"units": "furlong"},
])  # fmt: skip
def test_a_size_that_is_none_is_refused(asked: dict[str, str | float], tmp_path: Path) -> None:
    with pytest.raises(UnitError):
        read_drawing(_write(tmp_path, BOX), **asked)


def test_names_come_from_ids_titles_and_counting(tmp_path: Path) -> None:
    content = (
        f'<rect id="eye" width="5" height="5"/><path d="M9 9h5v5z"><title>left wing</title></path>{BOX}'
        '<path id="two" d="M0 30h5v5zM20 30h5v5z" stroke="red"/>'
    )
    drawing = read_drawing(_write(tmp_path, content))
    names = [region.name for region in drawing.regions]
    assert names[:3] == ["eye", "left wing", "rect 2"]
    assert names[3] == "two"
    assert len(set(names)) == len(names)
    assert any("stroke" in name for name in names)
    assert [region.element for region in drawing.regions[:3]] == ["rect#eye", "path", "rect"]


@pytest.mark.parametrize(("groups", "layer"), [
    ('<g id="a"><g id="b">', "a"),
    ('<g><g id="b">', "b"),
    ('<g id="a"><g id="b" inkscape:label="wings">', "wings"),
    ('<g id="a" inkscape:label="all"><g inkscape:label="shell" inkscape:groupmode="layer">', "shell"),
    ('<g id="a" inkscape:groupmode="layer"><g inkscape:label="shell" inkscape:groupmode="layer">', "a"),
    ("<g><g>", ""),
])  # fmt: skip
def test_layers_are_the_labels_of_the_editor(groups: str, layer: str, tmp_path: Path) -> None:
    assert read_drawing(_write(tmp_path, f"{groups}{BOX}</g></g>")).regions[0].layer == layer


def test_regions_stand_in_painting_order(tmp_path: Path) -> None:
    content = f'{BOX}<circle r="5" fill="white"/><g><rect width="3" height="3" fill="#0F0" stroke="blue"/></g>'
    colours = [region.colour for region in read_drawing(_write(tmp_path, content)).regions]
    assert colours == ["#000000", "#ffffff", "#00ff00", "#0000ff"]


def test_one_element_of_two_islands_gives_two_regions_and_a_ring_one_with_a_hole(tmp_path: Path) -> None:
    data = "M0 0h9v9h-9z M3 3v3h3v-3z M20 0h9v9h-9z"
    regions = read_drawing(_write(tmp_path, f'<path d="{data}"/>')).regions
    assert sorted(len(region.polygon.interiors) for region in regions) == [0, 1]


_CLIP = '<clipPath id="c">{}</clipPath><circle r="3" clip-path="url(#c)"/>'


@pytest.mark.parametrize(("content", "told"), [
    ('<text id="t">Lark <tspan>Hill</tspan></text>', ["text#t", "Lark Hill", "convert it to paths"]),
    ('<image id="i" href="a.png" width="5" height="5"/>', ["image#i", "pixels"]),
    ('<foreignObject width="5" height="5"/>', ["foreignObject"]),
    ("<script>alert(1)</script>", ["script", "not run"]),
    ('<circle r="3"><animate attributeName="r" to="9"/></circle>', ["circle", "at rest"]),
    ('<circle id="f" r="3" filter="url(#x)"/>', ["circle#f", "filter"]),
    ('<circle id="n" r="3" fill="none"/>', ["circle#n", "neither filled nor stroked"]),
    ('<use id="u" href="#nowhere"/>', ["use#u", "#nowhere"]),
    ('<use id="u" href="other.svg#a"/>', ["use#u", "other.svg#a"]),
    ('<style>@import "a.css";</style>', ["@import", "a.css"]),
    (_CLIP.format('<g id="k"><circle r="9"/></g>'), ["g#k", "ungroup"]),
    (_CLIP.format('<use id="u" href="#k"/>') + '<g id="k"><circle r="9"/></g>', ["use#u", "ungroup"]),
])  # fmt: skip
def test_what_is_left_out_is_named(content: str, told: list[str], tmp_path: Path) -> None:
    notes = _notes(read_drawing(_write(tmp_path, BOX + content)), "left-out")
    assert all(word in notes for word in told)


@pytest.mark.parametrize(("content", "told"), [
    ('<line id="l" x2="50" y2="50"/>', ["line#l"]),
    ('<path id="p" d="M0 0 L50 50" fill="none"/>', ["path#p", "width"]),
])  # fmt: skip
def test_open_lines_without_a_width_are_named(content: str, told: list[str], tmp_path: Path) -> None:
    drawing = read_drawing(_write(tmp_path, BOX + content))
    assert len(drawing.regions) == 1
    notes = "\n".join(f"{note.subject}: {note.message}" for note in drawing.notes)
    assert all(word in notes for word in told)


@pytest.mark.parametrize(("content", "told"), [
    ('<path id="b" d="M50 50 L70 70 L70 50 L50 70 Z"/>', ["path#b", "crosses or touches itself"]),
    ('<path id="b" d="M50 50 L70 70 L70 50 x"/>', ["path#b", "damaged"]),
    ('<rect id="b" width="3" height="3" transform="wobble(3)"/>', ["rect#b", "transform"]),
    ('<polygon id="b" points="50 50 70 70 70 50 3"/>', ["polygon#b", "damaged"]),
])  # fmt: skip
def test_repairs_are_named(content: str, told: list[str], tmp_path: Path) -> None:
    notes = _notes(read_drawing(_write(tmp_path, BOX + content)), "repaired")
    assert all(word in notes for word in told)


_GRADIENT = '<linearGradient id="g"><stop stop-color="#000"/><stop offset="1" stop-color="#fff"/></linearGradient>'
_PATTERN = '<pattern id="p" width="2" height="2"><rect width="1" height="1" fill="red"/></pattern>'


@pytest.mark.parametrize(("content", "colour", "told"), [
    (_GRADIENT + '<circle r="3" fill="url(#g)"/>', "#808080", "one colour"),
    (_PATTERN + '<circle r="3" fill="url(#p)"/>', "#ff0000", "one colour"),
    (_GRADIENT.replace("#fff", "#000").replace('offset="1"', 'offset="1" stop-opacity="0"') +
     '<circle r="3" fill="url(#g)"/>', "#000000", "fades"),
    ('<circle r="3" fill="red" opacity="0.3"/>', "#ff0000", "solid"),
    ('<circle r="3" fill="red" fill-opacity="0.3"/>', "#ff0000", "solid"),
    ('<circle r="3" cx="99" fill="red"/>', "#ff0000", "outside the page"),
    ('<circle r="3" style="r:4px" fill="red"/>', "#ff0000", "its r is 4px, as its style says, not 3"),
])  # fmt: skip
def test_what_is_assumed_is_named(content: str, colour: str, told: str, tmp_path: Path) -> None:
    drawing = read_drawing(_write(tmp_path, BOX + content))
    assert drawing.regions[-1].colour == colour
    assert told in _notes(drawing, "assumed")


@pytest.mark.parametrize("far", [1e5, 1e7, 1e8])
@pytest.mark.parametrize("content", ['<path d="M{0} {0}h30v20h-30z"/>', '<g transform="translate({0} -{0})">{1}</g>'])
def test_a_drawing_far_from_the_origin_keeps_its_shape(content: str, far: float, tmp_path: Path) -> None:
    """A double keeps 15 digits: at 1e8 mm the last one is 15 nm."""
    path = _write(tmp_path, content.format(int(far), '<path d="M0 0h30v20h-30z"/>'))
    (region,) = read_drawing(path).regions
    assert region.polygon.bounds == pytest.approx((0, 0, 30, 20), abs=1e-6)
    assert region.polygon.area == pytest.approx(600, abs=1e-4)


def test_a_page_with_one_side_in_percent_has_the_size_of_the_other(tmp_path: Path) -> None:
    drawing = read_drawing(_write(tmp_path, BOX, 'width="100%" height="100mm" viewBox="0 0 50 200"'))
    assert drawing.scale == pytest.approx(0.5)
    assert "its width is a percentage" in _notes(drawing, "assumed")


def test_what_reaches_outside_the_page_is_cut_where_that_is_asked(tmp_path: Path) -> None:
    path = _write(tmp_path, '<rect x="90" y="10" width="30" height="10"/>')
    assert read_drawing(path).size == pytest.approx((30, 10))
    assert read_drawing(path, page="clip").size == pytest.approx((10, 10))


@pytest.mark.parametrize("name", ["a.svgz", "a.svg", "drawing"])
def test_a_packed_file_is_read_whatever_its_name(name: str, tmp_path: Path) -> None:
    plain = _write(tmp_path, BOX, name="plain.svg")
    packed = tmp_path / name
    packed.write_bytes(gzip.compress(plain.read_bytes()))
    assert read_drawing(packed).regions[0].polygon.equals(read_drawing(plain).regions[0].polygon)


def test_a_utf16_file_is_read(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    head = '<?xml version="1.0" encoding="utf-16"?>'
    path.write_bytes(f'{head}<svg xmlns="http://www.w3.org/2000/svg" {PAGE}>{BOX}</svg>'.encode("utf-16"))
    assert len(read_drawing(path).regions) == 1


def test_a_prefix_for_the_namespace_changes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    path.write_text(f'<s:svg xmlns:s="http://www.w3.org/2000/svg" {PAGE}><s:{BOX[1:]}<o xmlns="urn:other"/></s:svg>')
    assert len(read_drawing(path).regions) == 1


def test_every_error_is_one_of_ours(tmp_path: Path) -> None:
    with pytest.raises(InlayfitError) as caught:
        read_drawing(_write(tmp_path, "<text>Lark</text>"))
    assert "Lark" in str(caught.value)
    assert "a.svg" in str(caught.value)


def test_nothing_of_a_tree_stays_for_the_garbage_collector(tmp_path: Path) -> None:
    path = _write(tmp_path, f'<g id="both">{BOX}<g opacity="0.5">{BLOB}</g></g>')
    read_drawing(path)
    gc.collect()
    gc.disable()
    try:
        read_drawing(path)
        assert gc.collect() == 0
    finally:
        gc.enable()
