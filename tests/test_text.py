"""Texts as outlines, with a font that is built here: closed forms, a renderer by other hands, and what is said."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

import inlayfit
from inlayfit.cli import main
from inlayfit.drawing import Drawing
from inlayfit.errors import DrawingError
from inlayfit.read.svg_font_style import longhands_of_font
from tests.svg_judge import pixels_as_read, pixels_of_file, share_that_differs

WIDTHS = {".notdef": 500, "space": 300, "H": 600, "o": 500, "x": 400, "D": 700}
"""In thousandths of the font size."""

AREAS = {"H": 0.4 * 0.7, "o": 0.4 * 0.4 - 0.2 * 0.2, "x": 0.3 * 0.5}
"""In squares of the font size. D is bent: see the test of curves."""


def draw_glyph(name: str, pen: Any, *, cubic: bool) -> None:
    def box(left: int, bottom: int, right: int, top: int, *, hole: bool = False) -> None:
        corners = [(left, bottom), (left, top), (right, top), (right, bottom)]
        first, *rest = corners[::-1] if hole else corners
        pen.moveTo(first)
        for corner in rest:
            pen.lineTo(corner)
        pen.closePath()

    if name == "H":
        box(100, 0, 500, 700)
    elif name == "o":
        box(50, 0, 450, 400)
        box(150, 100, 350, 300, hole=True)
    elif name == "x":
        box(50, 0, 350, 500)
    elif name == "D":
        pen.moveTo((100, 0))
        pen.lineTo((100, 700))
        if cubic:
            pen.curveTo((700, 700), (700, 0), (100, 0))
        else:
            pen.qCurveTo((700, 350), (100, 0))
        pen.closePath()


def build_font(path: Path, *, family: str = "Bench", style: str = "Regular", weight: int = 400, cubic: bool = False,
               wider: int = 0) -> Path:  # fmt: skip
    """Write a font of boxes; `wider` widens every letter, so that faces can be told apart."""
    builder = FontBuilder(1000, isTTF=not cubic)
    names = list(WIDTHS)
    builder.setupGlyphOrder(names)
    builder.setupCharacterMap({ord(" " if name == "space" else name): name for name in names if name != ".notdef"})
    widths = {name: width + wider for name, width in WIDTHS.items()}
    if cubic:
        strings = {}
        for name in names:
            pen = T2CharStringPen(widths[name], None)
            draw_glyph(name, pen, cubic=True)
            strings[name] = pen.getCharString()
        builder.setupCFF(f"{family}-{style}", {"FullName": f"{family} {style}"}, strings, {})
    else:
        glyphs = {}
        for name in names:
            pen = TTGlyphPen(None)
            draw_glyph(name, pen, cubic=False)
            glyphs[name] = pen.glyph()
        builder.setupGlyf(glyphs)
    left = {"H": 100, "o": 50, "x": 50, "D": 100}
    builder.setupHorizontalMetrics({name: (width, left.get(name, 0)) for name, width in widths.items()})
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    full = {"fullName": f"{family} {style}", "psName": f"{family}-{style}"}
    builder.setupNameTable({"familyName": family, "styleName": style, **full})
    builder.setupOS2(
        usWeightClass=weight, sCapHeight=700, sxHeight=500, sTypoAscender=800, sTypoDescender=-200, usWinAscent=800,
        usWinDescent=200,
    )  # fmt: skip
    builder.setupPost()
    builder.save(path)
    return path


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build_font(tmp_path_factory.mktemp("fonts") / "bench.ttf")


@pytest.fixture(scope="module")
def bold(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build_font(tmp_path_factory.mktemp("fonts") / "bold.ttf", style="Bold", weight=700, wider=100)


PAGE = 'xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100"'


@pytest.fixture
def svg(tmp_path: Path) -> Callable[..., Drawing]:
    def read(content: str, *fonts: Path, **how: Any) -> Drawing:
        path = tmp_path / "text.svg"
        path.write_text(f"<svg {PAGE}>{content}</svg>", encoding="utf-8")
        return inlayfit.read_drawing(path, fonts=fonts, **how)

    return read


# -- SVG ------------------------------------------------------------------------------------------------------------


def test_letters_have_their_areas_their_places_and_their_names(svg, bench: Path) -> None:
    drawing = svg('<text id="motto" x="10" y="50" font-size="20" font-family="Bench" fill="red">Ho x</text>', bench)
    assert [region.name for region in drawing.regions] == ["motto", "motto (2)", "motto (3)"]
    assert {region.colour for region in drawing.regions} == {"#ff0000"}
    assert [region.polygon.area for region in drawing.regions] == pytest.approx([AREAS[s] * 400 for s in "Hox"])
    lefts = [region.polygon.bounds[0] for region in drawing.regions]
    assert lefts == pytest.approx([0, 20 * (0.6 + 0.05 - 0.1), 20 * (0.6 + 0.5 + 0.3 + 0.05 - 0.1)])
    assert drawing.bounds[3] == pytest.approx(14)
    (note,) = drawing.notes
    assert (note.kind, note.subject) == ("assumed", "text#motto")
    assert "Bench (bench.ttf), without kerning" in note.message


@pytest.mark.parametrize("cubic", [False, True], ids=["quadratic", "cubic"])
def test_bent_letters_have_the_area_of_their_curve(cubic: bool, svg, tmp_path: Path) -> None:
    """Between a chord and a quadratic curve lie 2/3 of its triangle; between a chord and a cubic whose controls make
    a rectangle with it 3/5 of that: the integral of 3 t (1 - t) times 6 t (1 - t) from 0 to 1."""
    font = build_font(tmp_path / ("bench.otf" if cubic else "bench.ttf"), cubic=cubic)
    (region,) = svg('<text y="50" font-size="50" font-family="Bench">D</text>', font).regions
    true = (0.6 * 0.6 * 0.7 if cubic else 2 / 3 * 0.5 * 0.6 * 0.7) * 50**2
    assert region.polygon.area == pytest.approx(true, abs=0.0002 * 100)


TEXTS = {
    "plain": '<text x="10" y="50" {}>Hox</text>',
    "middle": '<text x="50" y="50" text-anchor="middle" {}>Hox D</text>',
    "end": '<text x="90" y="50" text-anchor="end" {}>Hox</text>',
    "tspan": '<text x="10" y="50" {}>H<tspan fill="red" font-size="8">ox</tspan>D</text>',
    "tspan moved": '<text x="10" y="50" {}>H<tspan x="20" y="80">ox</tspan>D</text>',
    "chunks with anchors": '<text x="50" y="40" text-anchor="middle" {}>Ho<tspan x="50" dy="20">xDx</tspan></text>',
    "x for each": '<text x="10 30 60" y="50" {}>HoxD</text>',
    "y for each": '<text x="10" y="30 40 50" {}>HoxD</text>',
    "dx, dy": '<text x="10" y="50" dx="0 5 2" dy="0 -3 6" {}>HoxD</text>',
    "rotate": '<text x="10" y="50" rotate="0 20 -30" {}>HoxD</text>',
    "spacing": '<text x="10" y="50" letter-spacing="3" {}>HoxD</text>',
    "word spacing": '<text x="10" y="50" word-spacing="7" {}>H o x</text>',
    "spaces": '<text x="10" y="50" {}>  H \n  o\t<tspan> x </tspan> D  </text>',
    "spaces kept": '<text x="10" y="50" xml:space="preserve" {}>  H  o </text>',
    "transform": '<text x="10" y="50" transform="rotate(20 50 50) scale(1.5 0.8)" {}>HoxD</text>',
    "stroke": '<text x="10" y="50" stroke="blue" stroke-width="0.8" {}>HoxD</text>',
    "outline alone": '<text x="10" y="50" style="fill:none;stroke:blue;stroke-width:0.8" {}>HoxD</text>',
    "in em": '<text x="1em" y="3em" dx="0.5em" {}>Hox</text>',
    "in percent": '<text x="20%" y="50%" {}>Hox</text>',
    "copied": '<defs><text id="t" y="20" {}>Hox</text></defs><use href="#t" x="20" y="30"/>',
    "clipped": '<clipPath id="c"><rect x="15" y="0" width="20" height="45"/></clipPath>'
    '<text clip-path="url(#c)" x="10" y="50" {}>HoxD</text>',
    "as a clip": '<clipPath id="c"><text x="10" y="50" {}>HoxD</text></clipPath>'
    '<rect y="38" width="90" height="8" clip-path="url(#c)"/>',
    "hidden": '<text x="10" y="50" {}>H<tspan visibility="hidden">ox</tspan>D</text>',
    "not displayed": '<text x="10" y="50" {}>H<tspan display="none">ox</tspan>D</text>',
    "link": '<text x="10" y="50" {}>H<a href="#x">ox</a>D</text>',
    "central": '<text x="10" y="50" dominant-baseline="central" {}>Hox</text>',
    "middle baseline": '<text x="10" y="50" dominant-baseline="middle" {}>Hox</text>',
    "shorthand": '<text x="10" y="50" style="font: 12px Bench">Hox</text>',
    "style sheet": '<style>text tspan{{font-size:6px;fill:lime}}</style><text x="9" y="50" {}>H<tspan>o</tspan></text>',
    "inherited": '<g font-size="9" font-family="Bench" fill="red"><text x="9" y="50">Hox</text></g>',
}


@pytest.mark.parametrize("name", TEXTS)
def test_texts_look_as_a_renderer_by_other_hands_draws_them(name: str, tmp_path: Path, bench: Path) -> None:
    path = tmp_path / "text.svg"
    content = TEXTS[name].format('font-size="12" font-family="Bench"')
    path.write_text(f"<svg {PAGE}>{content}</svg>", encoding="utf-8")
    theirs = pixels_of_file(path, 1000, fonts=[bench])
    ours, _notes = pixels_as_read(path, theirs.shape[:2], fonts=[bench])
    assert (theirs[..., 3] > 128).sum() > 500
    assert share_that_differs(theirs, ours) < 0.005


def test_weight_and_family_choose_the_face(svg, bench: Path, bold: Path) -> None:
    """Letters of the bold face are 0.1 wider: H in bold, then H."""
    text = '<text y="50" font-size="10" font-family="Other, Bench"><tspan font-weight="{}">H</tspan>H</text>'
    widths = [svg(text.format(weight), bench, bold).size[0] for weight in ("bold", "600", "normal", "300")]
    assert widths == pytest.approx([7 + 4, 7 + 4, 6 + 4, 6 + 4])


def test_a_font_that_is_not_there_is_replaced_and_that_is_said(svg, bench: Path) -> None:
    drawing = svg('<text id="t" y="50" font-size="10" font-family="Fine Print, serif">H</text>', bench)
    assert drawing.size == pytest.approx((4, 7))
    assert any("'Fine Print' is none of those given; Bench (bench.ttf)" in note.message for note in drawing.notes)


def test_letters_that_the_font_lacks_are_named(svg, bench: Path) -> None:
    drawing = svg('<text y="50" font-size="10" font-family="Bench">HäH\u0634</text>', bench)
    told = " ".join(note.message for note in drawing.notes if note.kind == "left-out")
    assert "'ä'" in told
    assert "'\u0634'" in told
    assert any("its script may join or turn them" in note.message for note in drawing.notes)
    assert len(drawing.regions) == 2


def test_what_is_not_followed_is_said(svg, bench: Path) -> None:
    path = '<path id="p" d="M0 40H9"/>'
    told = {
        note.message
        for content in ('<text y="9" x="0 40" textLength="50">HH</text>', '<text y="9" writing-mode="tb">H</text>',
                        '<text y="9">H<textPath href="#q">x</textPath></text>',
                        f'{path}<text y="9">H<textPath href="#p">HHHH</textPath></text>',
                        f'{path}<text y="9">H<textPath href="#p" side="right">x</textPath></text>')
        for note in svg(content, bench).notes
    }  # fmt: skip
    assert {
        "its textLength is not applied",
        "set from left to right, not downwards",
        "the path that its text stands on is not in this file",
        "letters beyond the end of the path that it stands on",
        "letters stand upright on the left of the path",
    } <= told


@pytest.mark.parametrize(("attributes", "places", "wide"), [
    ('textLength="34"', (1, 15, 29), 4),  # three letters of 6 make 18; 16 more are two gaps of 8
    ('textLength="16"', (1, 6, 11), 4),
    ('textLength="36" lengthAdjust="spacingAndGlyphs"', (2, 14, 26), 8),
    ('textLength="36" lengthAdjust="spacingAndGlyphs" text-anchor="end"', (-34, -22, -10), 8),
    ('textLength="34" text-anchor="middle"', (-16, -2, 12), 4),
])  # fmt: skip
def test_a_text_is_as_long_as_it_is_to_be(
    attributes: str, places: tuple[float, ...], wide: float, svg, bench: Path
) -> None:
    """SVG 2, 11.5: what is missing stands between the letters, or widens them with all that is in them."""
    drawing = svg(f'<rect width="1" height="1"/><text x="50" y="50" font-size="10" {attributes}>HHH</text>', bench)
    boxes = [region.polygon.bounds for region in drawing.regions[1:]]
    assert [box[0] - 50 for box in boxes] == pytest.approx(places, abs=1e-6)
    assert [box[2] - box[0] for box in boxes] == pytest.approx([wide] * 3)
    assert "textLength" not in " ".join(note.message for note in drawing.notes)


def test_letters_stand_square_on_a_path(svg, bench: Path) -> None:
    """H is 6 wide and drawn from 1 to 5, 7 high: its middle, 3 along the path, is where it stands upright."""
    content = '<path id="p" d="M60 20V90" fill="none"/><text font-size="10"><textPath href="#p">HH</textPath></text>'
    drawing = svg('<rect width="1" height="1"/>' + content, bench)
    boxes = [region.polygon.bounds for region in drawing.regions[1:]]
    top = drawing.size[1]
    # down the page, the letters lie on their left side: 7 to the right of the path, 4 along it
    assert boxes[0] == pytest.approx((60, top - 25, 67, top - 21), abs=1e-6)
    assert boxes[1] == pytest.approx((60, top - 31, 67, top - 27), abs=1e-6)


WAVE = '<path id="p" d="M5 60C30 20 60 90 95 40" fill="none"/>'
ARCH = '<path id="p" d="M5 60L50 30L95 60" fill="none"/>'  # of lines: the renderer's length of a curve is a rough one
ROUND = '<circle id="p" cx="50" cy="50" r="30" fill="none"/>'
SHIFTED = '<path id="p" d="M0 0L50 50" transform="translate(20 10)" fill="none"/>'
ON = '<textPath href="#p"'
ALONG = {
    "a wave": f'{WAVE}<text font-size="12">{ON}>HoxD oH</textPath></text>',
    "a circle": f'{ROUND}<text font-size="9">{ON}>HoxDHoxDHox</textPath></text>',
    "an offset": f'{WAVE}<text font-size="9">{ON} startOffset="30%">Hox</textPath></text>',
    "the middle": f'{ARCH}<text font-size="9" text-anchor="middle">{ON} startOffset="50%">Hox D</textPath></text>',
    "a transform": f'{SHIFTED}<text font-size="9">{ON}>Hox</textPath></text>',
    "lifted": f'{WAVE}<text font-size="9">{ON}>H<tspan dy="-5" dx="3">ox</tspan>D</textPath></text>',
    "too long": f'<path id="p" d="M5 50H40L50 60" fill="none"/><text font-size="12">{ON}>HoxDHoxD</textPath></text>',
    "spaced": f'{WAVE}<text font-size="9" letter-spacing="2">{ON}>HoxD</textPath></text>',
    "a length": '<text x="10" y="50" font-size="12" textLength="60">HoxD</text>',
    "a length of letters": '<text y="50" font-size="12" textLength="60" lengthAdjust="spacingAndGlyphs">HoxD</text>',
}  # fmt: skip


@pytest.mark.parametrize("name", ALONG)
def test_a_renderer_bends_and_stretches_texts_alike(name: str, bench: Path, tmp_path: Path) -> None:
    path = tmp_path / "text.svg"
    path.write_text(f'<svg {PAGE}><g font-family="Bench">{ALONG[name]}</g></svg>')
    theirs = pixels_of_file(path, 1024, [bench])
    ours, _ = pixels_as_read(path, theirs.shape[:2], [bench])
    assert (theirs[..., 3] > 128).mean() > 0.003
    assert share_that_differs(theirs, ours) < 0.02  # small letters are mostly edge


def test_without_a_font_the_text_is_named_and_the_option_is_told(svg) -> None:
    (note,) = svg('<circle r="9" cx="20" cy="20"/><text id="t" y="50">Opus 7</text>').notes
    assert (note.kind, note.subject, note.message) == ("left-out", "text#t", 'the text "Opus 7" is not read')
    assert "--font" in note.remedy
    with pytest.raises(DrawingError, match="nothing in the drawing can be cut") as caught:
        svg('<text y="50">Opus 7</text>')
    assert "--font" in caught.value.remedy


@pytest.mark.parametrize(
    ("value", "found"),
    [
        ("12px Bench", {"font-size": "12px", "font-family": "Bench", "font-weight": "normal", "font-style": "normal"}),
        (
            "italic small-caps bold 1.5em/2 'Fine Print', serif",
            {"font-size": "1.5em", "font-family": "'Fine Print', serif", "font-weight": "bold", "font-style": "italic"},
        ),
        ("300 x-large Bench", {"font-size": "x-large", "font-weight": "300"}),
        ("caption", {}),
        ("", {}),
    ],
)
def test_the_shorthand_of_a_font(value: str, found: dict[str, str]) -> None:
    """CSS Fonts 3, section 3.7."""
    longhands = longhands_of_font(value)
    assert bool(longhands) == bool(found)
    assert found.items() <= longhands.items()


# -- font files -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("content", [b"", b"no font", b"\x00\x01\x00\x00" + b"\xff" * 200, b"ttcf" + b"\x00" * 40,
                                     b"wOF2" + b"\x00" * 60, b"OTTO" + b"\x00" * 8])  # fmt: skip
def test_what_is_no_font_is_refused(content: bytes, svg, tmp_path: Path) -> None:
    (tmp_path / "odd.ttf").write_bytes(content)
    with pytest.raises(DrawingError, match="no font that can be read") as caught:
        svg('<text y="9">H</text>', tmp_path / "odd.ttf")
    assert "odd.ttf" in caught.value.where


@pytest.mark.parametrize("flavor", ["woff", "woff2"])
def test_a_packed_font_is_read(flavor: str, svg, bench: Path, tmp_path: Path) -> None:
    with TTFont(bench) as font:
        font.flavor = flavor
        font.save(tmp_path / "packed.font")
    plain, packed = (svg('<text y="50" font-size="10">HoD</text>', path) for path in (bench, tmp_path / "packed.font"))
    assert [region.polygon.wkb for region in packed.regions] == [region.polygon.wkb for region in plain.regions]
    content = bytearray((tmp_path / "packed.font").read_bytes())
    content[-40:-20] = bytes(20)
    (tmp_path / "packed.font").write_bytes(content)
    if flavor == "woff2":
        with pytest.raises(DrawingError, match="damaged"):
            svg('<text y="50" font-size="10">HoD</text>', tmp_path / "packed.font")


def test_a_font_that_is_not_there_or_a_folder_is_refused(svg, tmp_path: Path) -> None:
    with pytest.raises(DrawingError, match="no such font file"):
        svg('<text y="9">H</text>', tmp_path / "none.ttf")
    with pytest.raises(DrawingError, match="no font"):
        svg('<text y="9">H</text>', tmp_path)


def test_a_font_cut_off_anywhere_is_refused_or_drawn_and_never_a_fault(svg, bench: Path, tmp_path: Path) -> None:
    whole = bench.read_bytes()
    refused = 0
    for length in range(4, len(whole), 37):
        (tmp_path / "cut.ttf").write_bytes(whole[:length])
        try:
            svg('<text y="9" font-family="Bench">HoxD</text>', tmp_path / "cut.ttf")
        except DrawingError:
            refused += 1
    assert refused > 10


# -- DXF ------------------------------------------------------------------------------------------------------------


@pytest.fixture
def dxf(tmp_path: Path) -> Callable[..., Drawing]:
    def read(draw: Callable[[Any, Any], object], *fonts: Path, **how: Any) -> Drawing:
        document = ezdxf.new("R2010", units=4)
        space = document.modelspace()
        space.add_lwpolyline([(0, 0), (4, 0), (4, 4), (0, 4)], close=True, dxfattribs={"layer": "MARK"})
        draw(space, document)
        path = tmp_path / "text.dxf"
        document.saveas(path)
        return inlayfit.read_drawing(path, fonts=fonts, **how)

    return read


def boxes(drawing: Drawing) -> list[tuple[float, ...]]:
    """Return the bounds of the letters from the lower left of the mark, which lies at 0, 0 of the file."""
    (mark,) = [region.polygon for region in drawing.regions if region.layer == "MARK"]
    left, bottom, _, _ = mark.bounds
    letters = [region.polygon.bounds for region in drawing.regions if region.layer != "MARK"]
    return sorted((x0 - left, y0 - bottom, x1 - left, y1 - bottom) for x0, y0, x1, y1 in letters)


H, X = 10 / 0.7, 10 / 0.7
"""Font size at a height of capitals of 10."""


@pytest.mark.parametrize(
    ("attributes", "left", "low"),
    [
        ({}, 0, 0),
        ({"halign": 1}, -0.3 * H, 0),
        ({"halign": 2}, -0.6 * H, 0),
        ({"halign": 4}, -0.3 * H, -5),
        ({"valign": 3}, 0, -10),
        ({"valign": 2, "halign": 1}, -0.3 * H, -5),
        ({"valign": 1}, 0, 0.2 * H),
    ],
    ids=str,
)
def test_a_dxf_text_stands_where_its_alignment_says(attributes, left: float, low: float, dxf, bench: Path) -> None:
    """An H of height 10 is 4/7 of that wide and stands 1/7 from its place (DXF reference, TEXT, codes 72 and 73)."""
    place = {"insert": (20, 30), "align_point": (20, 30)} if attributes else {"insert": (20, 30)}
    drawing = dxf(lambda space, _: space.add_text("H", height=10, dxfattribs={**place, **attributes}), bench)
    (box,) = boxes(drawing)
    x, y = 20 + left + 0.1 * H, 30 + low
    assert box == pytest.approx((x, y, x + 0.4 * H, y + 10), abs=1e-6)


def test_a_dxf_text_turns_stretches_slants_and_mirrors(dxf, bench: Path) -> None:
    def one(**attributes: Any) -> tuple[float, ...]:
        given = {"insert": (20, 30), **attributes}
        (box,) = boxes(dxf(lambda space, _: space.add_text("H", height=10, dxfattribs=given), bench))
        return box

    assert one(rotation=90) == pytest.approx((10, 30 + 0.1 * H, 20, 30 + 0.5 * H), abs=1e-6)
    assert one(width=2) == pytest.approx((20 + 0.2 * H, 30, 20 + H, 40), abs=1e-6)
    assert one(oblique=45) == pytest.approx((20 + 0.1 * H, 30, 20 + 0.5 * H + 10, 40), abs=1e-6)
    assert one(text_generation_flag=2) == pytest.approx((20 - 0.5 * H, 30, 20 - 0.1 * H, 40), abs=1e-6)
    assert one(text_generation_flag=4) == pytest.approx((20 + 0.1 * H, 20, 20 + 0.5 * H, 30), abs=1e-6)
    assert one(extrusion=(0, 0, -1)) == pytest.approx((-20 - 0.5 * H, 30, -20 - 0.1 * H, 40), abs=1e-6)


@pytest.mark.parametrize(("across", "height"), [(3, 10 * 30 / (0.6 * H)), (5, 10.0)], ids=["aligned", "fit"])
def test_a_dxf_text_between_two_points_fills_them(across: int, height: float, dxf, bench: Path) -> None:
    """30 apart: `aligned` keeps the proportion, `fit` keeps the height (DXF reference, TEXT, code 72)."""
    given = {"insert": (20, 30), "align_point": (50, 30), "halign": across}
    (box,) = boxes(dxf(lambda space, _: space.add_text("H", height=10, dxfattribs=given), bench))
    assert box == pytest.approx((20 + 30 / 6, 30, 50 - 30 / 6, 30 + height), abs=1e-6)


@pytest.mark.parametrize("attachment", range(1, 10))
def test_a_dxf_mtext_hangs_where_it_is_attached(attachment: int, dxf, bench: Path) -> None:
    """Two lines of height 10, 16.67 apart, of which the first is 0.6 and the second 1.2 font sizes wide."""
    given = {"insert": (20, 30), "char_height": 10, "attachment_point": attachment}
    first, *second = sorted(
        boxes(dxf(lambda space, _: space.add_mtext("H\\PHH", dxfattribs=given), bench)), key=lambda box: -box[1]
    )
    row, column = divmod(attachment - 1, 3)
    block = 10 + 10 * 5 / 3
    top = 30 + (0, block / 2, block)[row]
    assert (first[1], first[3]) == pytest.approx((top - 10, top), abs=1e-6)
    assert second[0][1] == pytest.approx(top - block, abs=1e-6)
    assert first[0] == pytest.approx(20 - 0.3 * H * column + 0.1 * H, abs=1e-6)
    assert min(box[0] for box in second) == pytest.approx(20 - 0.6 * H * column + 0.1 * H, abs=1e-6)


def test_a_dxf_mtext_breaks_its_lines_turns_and_says_what_is_drawn_plain(dxf, bench: Path) -> None:
    given = {"insert": (20, 30), "char_height": 10, "width": 1.3 * H, "rotation": 90}
    drawing = dxf(lambda space, _: space.add_mtext("{\\fBench|b1;H} H", dxfattribs=given), bench)
    assert len({round(box[0], 3) for box in boxes(drawing)}) == 2, "two lines, one beside the other"
    assert any("drawn plain" in note.message for note in drawing.notes)


def test_a_dxf_text_in_a_block_takes_the_layer_and_the_place_of_its_insert(dxf, bench: Path) -> None:
    def draw(space: Any, document: Any) -> None:
        block = document.blocks.new("SIGN")
        block.add_text("H", height=10, dxfattribs={"insert": (0, 0)})
        space.add_blockref("SIGN", (20, 30), dxfattribs={"layer": "SHELL", "xscale": -2, "yscale": 2})

    drawing = dxf(draw, bench)
    assert [region.layer for region in drawing.regions] == ["MARK", "SHELL"]
    assert boxes(drawing) == [pytest.approx((20 - H, 30, 20 - 0.2 * H, 50), abs=1e-6)]


def test_the_style_of_a_dxf_text_chooses_its_font(dxf, bench: Path, tmp_path: Path) -> None:
    wide = build_font(tmp_path / "wide.ttf", family="Wide", wider=100)

    def draw(space: Any, document: Any) -> None:
        document.styles.add("CAPS", font="wide.ttf")
        space.add_text("HH", height=10, dxfattribs={"insert": (20, 30), "style": "CAPS"})

    first, second = boxes(dxf(draw, bench, wide))
    assert second[0] - first[0] == pytest.approx(0.7 * H, abs=1e-6)
    told = [note.message for note in dxf(draw, bench).notes]
    assert any("'wide.ttf' is none of those given; Bench (bench.ttf)" in message for message in told)


def test_without_a_font_dxf_texts_are_counted_and_the_option_is_told(dxf) -> None:
    def draw(space: Any, _document: Any) -> None:
        space.add_text("H", height=10)
        space.add_mtext("H")

    notes = {note.subject: note for note in dxf(draw).notes}
    assert set(notes) == {"TEXT", "MTEXT"}
    assert all("--font" in note.remedy for note in notes.values())


# -- the commands ---------------------------------------------------------------------------------------------------


def test_the_commands_and_the_job_take_fonts(tmp_path: Path, bench: Path, capsys, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("bench.ttf").write_bytes(bench.read_bytes())
    Path("text.svg").write_text(
        f'<svg {PAGE}><text x="9" y="50" font-size="20" font-family="Bench">H</text></svg>', encoding="utf-8"
    )
    Path("jobs").mkdir()
    Path("jobs/job.toml").write_text(
        '[drawing]\nfile = "../text.svg"\nfonts = ["../bench.ttf"]\n[piece]\nbit = 1\n[pocket]\nbit = 1\n'
        "[fit]\ngap = 0.05\n",
        encoding="utf-8",
    )
    for line in (
        "look text.svg --font bench.ttf",
        "check text.svg --bit 1 --font bench.ttf",
        "fit text.svg --bit 1 --gap 0.05 --font bench.ttf --out a",
        "fit jobs/job.toml --out b",
    ):
        assert main([*line.split(), "--json"]) == 0, line
        found = json.loads(capsys.readouterr().out)
        assert found["size_mm"] == pytest.approx([8, 14], abs=0.001)
    assert main(["look", "text.svg", "--font", "none.ttf"]) == 2
    assert "no such font file" in capsys.readouterr().err
