"""Files that are broken, hostile or absurd: a clear error or a note, in under two seconds, and nothing is fetched."""

from __future__ import annotations

import gzip
import socket
from collections.abc import Callable
from pathlib import Path

import pytest

from inlayfit.errors import DrawingError
from inlayfit.read import read_drawing
from tests.timed import timed_reading

PAGE = 'width="100mm" height="100mm" viewBox="0 0 100 100"'
LINK = 'xmlns:xlink="http://www.w3.org/1999/xlink"'
BOX = '<rect width="10" height="10"/>'


def _svg(content: str, root: str = PAGE) -> bytes:
    return f'<svg xmlns="http://www.w3.org/2000/svg" {LINK} {root}>{content}</svg>'.encode()


def _bomb() -> bytes:
    entities = "".join(f'<!ENTITY e{level + 1} "{f"&e{level};" * 20}">' for level in range(8))
    return f'<!DOCTYPE svg [<!ENTITY e0 "{"a" * 40}">{entities}]><svg {PAGE}><text>&e8;</text></svg>'.encode()


def _nested(levels: int) -> bytes:
    return _svg("<g>" * levels + BOX + "</g>" * levels)


def _copies(levels: int, each: int) -> bytes:
    chain = "".join(f'<g id="a{n + 1}">{f"<use href=&quot;#a{n}&quot;/>" * each}</g>' for n in range(levels))
    return _svg(f'<defs><g id="a0">{BOX}</g>{chain}</defs><use href="#a{levels}"/>'.replace("&quot;", '"'))


def _lines(count: int, point: Callable[[int], str], attributes: str = "") -> bytes:
    return _svg(f'<path id="long" {attributes} d="M0 0{"".join(f"L{point(n)}" for n in range(count))}"/>')


REFUSED = {
    "nothing in it": (b"", "empty"),
    "only blanks": (b" \n ", "empty"),
    "no XML": (b"hello", "no SVG"),
    "bytes": (bytes(range(256)) * 9, "no SVG"),
    "another root": (b"<html><body/></html>", "<html>"),
    "no shape": (_svg(""), "nothing"),
    "text alone": (_svg("<text>Lark</text>"), "Lark"),
    "entity bomb": (_bomb(), "beyond what a drawing needs"),
    "a million groups": (_nested(1_000_000), "depth"),
    "a chain of copies": (_copies(3_000, 1), "copies within copies"),
    "a million copies": (_copies(6, 10), "copies within copies"),
    "100 MB of path data": (b"<svg><path d='" + b"M0 0L1 1" * 12_500_000 + b"'/></svg>", "64 MB"),
    "20 MB of path data": (b"<svg><path d='" + b"M0 0L1 1" * 2_500_000 + b"'/></svg>", "beyond what a drawing needs"),
    "coordinate 1e300": (_svg('<path id="far" d="M0 0L1e300 5L5 5z"/>'), "path#far"),
    "coordinate 1e400": (_svg('<path id="far" d="M0 0L1e400 5L5 5z"/>'), "path#far"),
    "size 1e400": (_svg('<rect id="far" width="1e400" height="5"/>'), "rect#far"),
    "scale 1e300": (_svg('<rect id="far" width="5" height="5" transform="scale(1e300)"/>'), "rect#far"),
    "scale 1e400": (_svg('<rect id="far" width="5" height="5" transform="scale(1e400)"/>'), "rect#far"),
    "stroke 1e300": (_svg('<rect id="far" width="5" height="5" stroke="red" stroke-width="1e300"/>'), "rect#far"),
    "a million dashes": (_svg('<path stroke="red" stroke-dasharray="0.00001" d="M0 0H100"/>'), "dashes"),
    "a line of 1.2 million points": (_lines(1_200_000, lambda n: f"{n % 1000} 0"), "segments"),
    "a stroke of 1.2 million points": (_lines(1_200_000, lambda n: f"{n % 1000} 0", 'stroke="red"'), "segments"),
    "20,000 lines across each other": (_lines(20_000, lambda n: f"{n * 7919 % 1000} {n * 104729 % 1000}"), "path#long"),
    "styles nested without end": (_svg(f"<style>{'@media screen{' * 3000}</style>{BOX}"), "nested too deeply"),
    "imports without end": (_svg(f"<style>{'@import url(a.css);' * 400_000}</style>{BOX}"), "style sheets"),
    "parentheses without end": (_svg(f'<rect width="5" height="5" style="fill:{"(" * 20000}"/>'), "nested too deeply"),
    "packed zeros": (gzip.compress(b"<svg>" + bytes(80 * 2**20), 1), "64 MB"),
    "packed and cut off": (gzip.compress(_svg(BOX))[:-20], "damaged"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_it_is_refused_in_clear_words(name: str, tmp_path: Path) -> None:
    data, told = REFUSED[name]
    path = tmp_path / "bad.svg"
    path.write_bytes(data)
    with pytest.raises(DrawingError) as caught:
        timed_reading(path)
    assert told in str(caught.value)
    assert "bad.svg" in str(caught.value)


TAKEN = {
    "cut off": (f'<svg xmlns="http://www.w3.org/2000/svg" {PAGE}>{BOX}<path d="M0 0'.encode(), "damaged XML"),
    "tags crossed": (f'<svg xmlns="http://www.w3.org/2000/svg" {PAGE}><g>{BOX}</svg>'.encode(), "damaged XML"),
    "a use of itself": (_svg(BOX + '<use id="u" href="#u"/>'), "copies itself"),
    "a group that holds its own copy": (_svg(f'<g id="g">{BOX}<use href="#g"/></g>'), "copies itself"),
    "two that copy each other": (
        _svg(BOX + '<g id="a"><use href="#b"/></g><defs><g id="b"><use href="#a"/></g></defs>'), "copies itself"),
    "a clip that clips itself": (
        _svg(BOX + '<clipPath id="c" clip-path="url(#c)"><rect width="5" height="5"/></clipPath>'
             '<rect width="9" height="9" clip-path="url(#c)"/>'), "refers to itself"),
    "a clip whose child it clips": (
        _svg(BOX + '<clipPath id="c"><rect width="5" height="5" clip-path="url(#c)"/></clipPath>'
             '<rect width="9" height="9" clip-path="url(#c)"/>'), "refers to itself"),
    "a mask that masks itself": (
        _svg(BOX + '<mask id="m"><rect width="5" height="5" mask="url(#m)"/></mask>'
             '<rect width="9" height="9" mask="url(#m)"/>'), "refers to itself"),
    "gradients that name each other": (
        _svg(BOX + '<linearGradient id="a" xlink:href="#b"/><linearGradient id="b" xlink:href="#a"/>'
             '<rect width="9" height="9" fill="url(#a)"/>'), "neither filled"),
    "a pattern of itself": (
        _svg(BOX + '<pattern id="p" width="2" height="2"><rect width="1" height="1" fill="url(#p)"/></pattern>'
             '<rect width="9" height="9" fill="url(#p)"/>'), "pattern"),
    "an import": (_svg("<style>@import url(http://127.0.0.1:9/a.css);</style>" + BOX), "@import"),
    "many imports": (_svg(f"<style>{'@import url(a.css);' * 10_000}</style>{BOX}"), "@import"),
    "a style sheet that imports itself": (
        _svg(f'<style>@import url("data:text/css,@import url(data:text/css,)");</style>{BOX}'), "@import"),
    "a style sheet of its own": (b'<?xml-stylesheet href="http://127.0.0.1:9/a.css"?>' + _svg(BOX), "style sheet"),
    "a script": (_svg("<script>while(true){}</script>" + BOX), "script"),
    "broken styles": (_svg("<style>a:::b{fill:red} rect{fill:blue}} @x; {</style>" + BOX), "selector"),
    "not a number": (_svg(BOX + '<path id="n" d="M0 0L NaN 5L5 5z"/>'), "damaged"),
    "a stroke of 1e-300": (_svg('<rect width="5" height="5" stroke="red" stroke-width="1e-300"/>'), "thinner"),
}  # fmt: skip


@pytest.mark.parametrize("name", TAKEN)
def test_it_is_read_as_far_as_it_makes_sense_and_that_is_said(name: str, tmp_path: Path) -> None:
    data, told = TAKEN[name]
    path = tmp_path / "odd.svg"
    path.write_bytes(data)
    drawing = timed_reading(path)
    assert drawing.regions
    assert told in "\n".join(note.message for note in drawing.notes)


QUIET = {
    "a marker that marks itself": _svg(
        '<marker id="k"><path d="M0 0h1v1z" marker-end="url(#k)"/></marker><path d="M0 0h9v9z" marker-end="url(#k)"/>'
    ),
    "javascript": _svg(f'<a href="javascript:alert(1)" onclick="alert(1)">{BOX}</a>', PAGE + ' onload="alert(1)"'),
    "a fill from elsewhere": _svg('<rect width="5" height="5" fill="url(http://127.0.0.1:9/a.svg#p) red"/>'),
    "a font within its styles": _svg(
        f"<style>@font-face{{src:url(data:font/ttf;base64,{'QUJD' * 1_000_000})}} rect{{fill:red}}</style>{BOX}"
    ),
    "a scale of nought": _svg(BOX + '<rect width="5" height="5" transform="scale(0)"/>'),
    "dashes of nought": _svg('<path stroke="red" stroke-dasharray="0 0" d="M0 0H100"/>'),
    "dashes below nought": _svg('<path stroke="red" stroke-dasharray="-1 5" d="M0 0H100"/>'),
    "dashes of 1e308": _svg('<path stroke="red" stroke-dasharray="1e308 1e308" d="M0 0H100"/>'),
    "an offset of 1e300": _svg('<path stroke="red" stroke-dasharray="5" stroke-dashoffset="1e300" d="M0 0H100"/>'),
    "variables that name each other": _svg(
        BOX + '<rect width="5" height="5" style="--a:var(--b);--b:var(--a);fill:var(--a)"/>'
    ),
    "an empty style": _svg('<rect width="5" height="5" style=";;:;fill;fill:;:red"/>'),
    "a viewBox below nought": _svg(BOX, 'width="9mm" height="9mm" viewBox="0 0 -5 5"'),
    "100,000 transforms": _svg(f'<rect width="5" height="5" transform="{"rotate(1)" * 100_000}"/>'),
    "a line of 250,000 points": _lines(250_000, lambda n: f"{n % 1000} 0").replace(b"</svg>", BOX.encode() + b"</svg>"),
    "two hundred groups": _nested(200),
}


@pytest.mark.parametrize("name", QUIET)
def test_it_is_read_like_any_other(name: str, tmp_path: Path) -> None:
    path = tmp_path / "odd.svg"
    path.write_bytes(QUIET[name])
    assert all(region.polygon.is_valid for region in timed_reading(path).regions)


def test_no_other_file_and_no_address_is_touched(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError("the reader opened a connection")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    secret = tmp_path / "secret.txt"
    secret.write_text("M0 0h90v90z")
    head = f'<!DOCTYPE svg SYSTEM "http://127.0.0.1:9/x.dtd" [<!ENTITY s SYSTEM "{secret.as_uri()}">]>'
    path = tmp_path / "curious.svg"
    path.write_bytes(head.encode() + _svg(f'{BOX}<path d="&s;"/><image href="http://127.0.0.1:9/a.png"/>'))
    try:
        drawing = read_drawing(path)
    except DrawingError:
        return  # refused: fine as well
    assert drawing.size == pytest.approx((10, 10))


def test_an_entity_of_the_file_itself_is_read(tmp_path: Path) -> None:
    path = tmp_path / "editor.svg"
    path.write_bytes(
        b'<!DOCTYPE svg [<!ENTITY st0 "fill:#ff0000;">]>' + _svg('<rect style="&st0;" width="5" height="5"/>')
    )
    assert read_drawing(path).regions[0].colour == "#ff0000"


@pytest.mark.parametrize(("make", "told"), [
    (lambda folder: folder / "none.svg", "no such file"),
    (lambda folder: folder, "directory"),
])  # fmt: skip
def test_a_path_to_nothing_is_refused(make: Callable[[Path], Path], told: str, tmp_path: Path) -> None:
    with pytest.raises(DrawingError, match=told):
        read_drawing(make(tmp_path))


def test_a_file_of_another_kind_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(99))
    with pytest.raises(DrawingError, match="neither an SVG nor a DXF"):
        read_drawing(path)
