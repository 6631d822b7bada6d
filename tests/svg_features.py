"""One-feature drawings with areas known in closed form: the source of the figures stands beside each group.

A case is (name, attributes of the root, content, colours in painting order with their areas in mm2). Unless a case says
otherwise the page is 100 x 100 mm with a viewBox of 0 0 100 100, so that one user unit is one millimetre.
"""

# ruff: noqa: E501  # a table: one drawing a line
from __future__ import annotations

import math
from dataclasses import dataclass

PI = math.pi


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """A drawing that uses one feature; `painted` lists (colour, area in mm2) for each element, lowest first."""

    name: str
    content: str
    painted: tuple[tuple[str, float], ...]
    root: str = 'width="100mm" height="100mm" viewBox="0 0 100 100"'
    judged: bool = True
    """Whether the renderer knows the feature, so that it can be the judge."""

    @property
    def text(self) -> str:
        """The whole file."""
        return f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" {self.root}>{self.content}</svg>'


BLACK, RED, LIME, BLUE, WHITE = "#000000", "#ff0000", "#00ff00", "#0000ff", "#ffffff"
BOX = '<rect x="10" y="10" width="20" height="10"'


def _one(name: str, content: str, area: float, colour: str = BLACK, **more: object) -> Feature:
    return Feature(name=name, content=content, painted=((colour, area),), **more)  # type: ignore[arg-type]


def _path(name: str, data: str, area: float, attributes: str = "") -> Feature:
    return _one(name, f'<path d="{data}" {attributes}/>', area)


# Areas of polygons, discs and ellipses by elementary geometry; SVG 2, chapter 10 for the shapes.
SHAPES = [
    _one("rect", BOX + "/>", 200),
    _one("rect rounded", '<rect x="10" y="10" width="40" height="20" rx="5"/>', 800 - (4 - PI) * 25),
    _one("rect rounded unevenly", '<rect x="10" y="10" width="40" height="20" rx="8" ry="4"/>', 800 - (4 - PI) * 32),
    _one("rect with a radius too large", '<rect x="10" y="10" width="40" height="20" rx="90"/>', PI * 20 * 10),
    _one("circle", '<circle cx="50" cy="50" r="20"/>', PI * 400),
    _one("ellipse", '<ellipse cx="50" cy="50" rx="30" ry="10"/>', PI * 300),
    _one("ellipse with one radius", '<ellipse cx="50" cy="50" rx="20"/>', PI * 400),
    _one("polygon", '<polygon points="10,10 40,10 40,30"/>', 300),
    _one("polyline filled", '<polyline points="10 10 40 10 40 30"/>', 300),
    _one("percent", '<rect x="10%" y="10%" width="20%" height="10%"/>', 200),
    _one("em", '<rect font-size="2" x="1em" y="1em" width="2em" height="3em"/>', 24),
    _one("geometry in a style", '<rect style="x:10px;y:10px;width:20px;height:10px"/>', 200, judged=False),
]

# SVG 2, 9.3 (path data); the area under a parabola is two thirds of its box (Archimedes), and a cubic (0,0) (0,a) (b,a)
# (b,0) encloses 3 a b / 5 with its chord (Green's theorem over the Bernstein form).
PATHS = [
    _path("lines", "M10 10 L40 10 L40 30 Z", 300),
    _path("relative lines", "m10 10 30 0 0 20z", 300),
    _path("h and v", "M10 10H40V30h-30z", 600),
    _path("numbers run together", "M10 10l30-.0.0 20e0-30,0z", 600),
    _path("open subpath is closed by the fill", "M10 10 H40 V30", 300),
    _path("quadratic", "M10 50 Q30 10 50 50", 2 / 3 * 40 * 20),
    _path("smooth quadratic", "M10 50 Q20 30 30 50 T50 50 ", 2 * (2 / 3 * 20 * 10)),
    _path("cubic", "M10 50 C10 20 50 20 50 50", 3 / 5 * 40 * 30),
    _path("smooth cubic", "M10 50 C10 30 30 30 30 50 S 50 70 50 50", 2 * (3 / 5 * 20 * 20)),
    _path("subpath after a close", "M10 10h10v10h-10zm20 0h10v10h-10z", 200),
    _path("line after a close", "M10 10h10v10h-10z h-5 v-5 z", 112.5),
    _path("d of CSS is an attribute first", "M10 10H40V30h-30z", 600),
]

# SVG 2, appendix B.2: arcs by their end points; a half disc, a three-quarter disc, radii too small are scaled up.
ARCS = [
    _path("half circle", "M30 50 A20 20 0 0 1 70 50 Z", PI * 200),
    _path("half circle, flags run together", "M30 50a20 20 0 0140 0z", PI * 200),
    _path("no arc with a flag that is none", "M10 10h20v10h-20z M50 50a25,25 0 6 0 -25,25z", 200),
    _path("no arc with a flag that a number swallows", "M10 10h20v10h-20z M50 50a25,2501 025,-25z", 200),
    _path("large arc", "M50 30 A20 20 0 1 1 30 50 L50 50 Z", PI * 300),
    _path("small arc", "M50 30 A20 20 0 0 0 30 50 L50 50 Z", PI * 100),
    _path("radii too small", "M30 50 A1 1 0 0 1 70 50 Z", PI * 200),
    _path("half ellipse turned by 90 degrees", "M40 50 A20 10 90 0 1 60 50 Z", PI * 100),
    _path("half ellipse turned by 30 degrees", "M32.67949 40 A20 10 30 0 1 67.32051 60 Z", PI * 100),
    _path("radius nought is a line", "M10 10 A0 5 0 0 1 40 10 L40 30 Z", 300),
    _path("negative radius", "M30 50 A-20 20 0 0 1 70 50 Z", PI * 200),
    _path("no way to go", "M10 10 A5 5 0 1 1 10 10 L40 10 L40 30 Z", 300),
]

# SVG 2, 13.4.2: fill-rule. Two squares of 20 in a square of 60, and a pentagram in a circle of radius R = 40. Its inner
# pentagon has the radius r = R / golden ratio^2 and the area 5/2 r^2 sin 72; the outline of the star has ten corners,
# at R and r in turn, 36 degrees apart: ten triangles of 1/2 R r sin 36 about the middle.
_STAR = " ".join(f"{50 + 40 * math.sin(4 * PI * k / 5):.9f},{50 - 40 * math.cos(4 * PI * k / 5):.9f}" for k in range(5))
_INNER = 40 / ((1 + math.sqrt(5)) / 2) ** 2
_PENTAGON = 2.5 * _INNER**2 * math.sin(2 * PI / 5)
_STAR_AREA = 5 * 40 * _INNER * math.sin(PI / 5)
RULES = [
    _path("nonzero, same way", "M20 20h60v60h-60z M40 40h20v20h-20z", 3600),
    _path("nonzero, other way", "M20 20h60v60h-60z M40 40v20h20v-20z", 3200),
    _path("evenodd", "M20 20h60v60h-60z M40 40h20v20h-20z", 3200, 'fill-rule="evenodd"'),
    _path("evenodd, three deep", "M10 10h80v80h-80zM20 20h60v60h-60zM40 40h20v20h-20z", 3200, 'fill-rule="evenodd"'),
    _one("star, nonzero", f'<polygon points="{_STAR}"/>', _STAR_AREA),
    _one("star, evenodd", f'<polygon points="{_STAR}" fill-rule="evenodd"/>', _STAR_AREA - _PENTAGON),
    _path("two squares over each other, nonzero", "M10 10h20v20h-20z M20 20h20v20h-20z", 700),
    _path("two squares over each other, evenodd", "M10 10h20v20h-20z M20 20h20v20h-20z", 600, 'fill-rule="evenodd"'),
    _path("bow tie", "M10 10 L50 50 L50 10 L10 50 Z", 800),
    _path("spike", "M10 10 H40 H60 H40 V30 H10 Z", 600),
]

# SVG 2, chapter 8; CSS Transforms 1. The area changes by the determinant.
TRANSFORMS = [
    _one("translate", BOX + ' transform="translate(5 7)"/>', 200),
    _one("scale", BOX + ' transform="scale(2 1.5)"/>', 600),
    _one("rotate about a point", BOX + ' transform="rotate(30 20 15)"/>', 200),
    _one("skew", BOX + ' transform="skewX(20)"/>', 200),
    _one("matrix", BOX + ' transform="matrix(2 0.5 -0.5 1 10 0)"/>', 450),
    _one("mirror", '<path transform="translate(60 0) scale(-1 1)" d="M10 10H40V30z"/>', 300),
    _one(
        "list",
        '<g transform="translate(10,10)scale(2)"><rect width="5" height="5" transform="rotate(45),scale(2)"/></g>',
        400,
    ),
    _one("arc, turned and uneven", '<circle r="10" transform="translate(50 50) rotate(30) scale(3 1)"/>', PI * 300),
    _one("style", BOX + ' style="transform: translate(5px, 7px) scale(2)"/>', 800, judged=False),
    _one(
        "style with angles",
        BOX + ' style="transform-origin:20px 15px; transform: rotate(0.25turn) scaleX(2)"/>',
        400,
        judged=False,
    ),
    _one("transform-origin", '<rect width="20" height="10" transform="rotate(90)" transform-origin="20 20"/>', 200),
    _one(
        "fill-box",
        BOX + ' style="transform-box:fill-box;transform-origin:center;transform:scale(2)"/>',
        800,
        judged=False,
    ),
    _one("beats the attribute", BOX + ' transform="scale(9)" style="transform:scale(2)"/>', 800),
]

# SVG 2, 8.2 to 8.6 and 5.5: viewBox, preserveAspectRatio, nested svg, symbol, use.
_USE = '<defs><rect id="a" width="20" height="10"/></defs>'
_SYMBOL = '<symbol id="s" viewBox="0 0 10 10"><rect width="10" height="10"/></symbol>'
VIEWPORTS = [
    _one("viewBox scaled", '<rect width="10" height="10"/>', 400, root='width="100mm" height="100mm" viewBox="0 0 50 50"'),
    _one("viewBox, meet", '<rect width="10" height="10"/>', 100, root='width="100mm" height="50mm" viewBox="0 0 50 50"'),
    _one("viewBox, none", '<rect width="10" height="10"/>', 200,
         root='width="100mm" height="50mm" viewBox="0 0 50 50" preserveAspectRatio="none"'),
    _one("viewBox, slice", '<rect x="20" y="20" width="5" height="5"/>', 100,
         root='width="100mm" height="50mm" viewBox="0 0 50 50" preserveAspectRatio="xMidYMid slice"'),
    _one("width alone", '<rect width="10" height="10"/>', 400, root='width="100mm" viewBox="0 0 50 50"'),
    _one("nested svg", '<svg x="10" y="10" width="40" height="40" viewBox="0 0 10 10"><rect width="5" height="5"/></svg>', 400),
    _one("nested svg clips", '<svg x="10" y="10" width="40" height="20"><rect width="90" height="90"/></svg>', 800),
    _one("nested svg with overflow", '<svg width="40" height="20" overflow="visible"><rect width="50" height="50"/></svg>', 2500),
    _one("percent in a nested svg", '<svg width="40" height="20"><rect width="50%" height="50%"/></svg>', 200),
    _one("use", _USE + '<use href="#a" x="10" y="10"/>', 200),
    _one("use by xlink", _USE + '<use xlink:href="#a" x="10" y="10"/>', 200),
    _one("use of use", _USE + '<defs><use id="b" href="#a" x="10" y="10"/></defs><use href="#b" y="5"/>', 200),
    _one("use turned", _USE + '<use href="#a" transform="rotate(20) scale(2)" x="20"/>', 800),
    _one("use of a group", '<defs><g id="g" fill="red"><rect width="5" height="5"/></g></defs><use href="#g" x="9"/>', 25, RED),
    _one("use hands on its style", _USE + '<use href="#a" fill="red"/>', 200, RED),
    _one("symbol", _SYMBOL + '<use href="#s" x="10" y="10" width="30" height="30"/>', 900),
    _one("symbol without a size", _SYMBOL + '<use href="#s"/>', 10000),
    _one("symbol clips", '<symbol id="s" viewBox="0 0 10 10"><circle r="10"/></symbol><use href="#s" width="20" height="20"/>', PI * 100),
    _one("use of a nested svg", '<defs><svg id="s" width="10" height="10" viewBox="0 0 5 5"><rect width="5" height="5"/></svg></defs>'
         '<use href="#s" width="20" height="20"/>', 400),
    _one("switch", f'<switch>{BOX} systemLanguage="xx"/><rect width="5" height="5"/><rect width="9" height="9"/></switch>', 25),
]  # fmt: skip

# CSS Values and Units 3, 6.2: 1 in = 2.54 cm = 25.4 mm = 72 pt = 6 pc = 96 px = 101.6 Q.
_INCH = '<rect width="96" height="96"/>'
UNITS = [
    _one(
        f"root in {unit}",
        '<rect width="10" height="10"/>',
        645.16,
        root=f'width="{count}{unit}" height="{count}{unit}" viewBox="0 0 10 10"',
    )
    for unit, count in (("in", 1), ("cm", 2.54), ("mm", 25.4), ("pt", 72), ("pc", 6), ("Q", 101.6))
] + [
    _one(
        f"rect in {unit}",
        f'<rect width="{count}{unit}" height="{count}{unit}"/>',
        645.16,
        root='width="76.2mm" height="76.2mm"',
    )
    for unit, count in (
        ("in", 1),
        ("cm", 2.54),
        ("mm", 25.4),
        ("pt", 72),
        ("pc", 6),
        ("Q", 101.6),
        ("px", 96),
        ("", 96),
    )
    if unit != "Q"
]

# SVG 2, 13.5: strokes. A miter adds h^2 tan(turn / 2), a round join h^2 turn / 2, a bevel h^2 sin(turn) / 2 outside; the
# two ribbons of a corner overlap in h^2 tan(turn / 2) inside.
_LINE = '<path fill="none" stroke="black" stroke-width="4" d="{}" {}/>'


def _stroke(name: str, data: str, area: float, attributes: str = "", *, judged: bool = True) -> Feature:
    return _one(f"stroke: {name}", _LINE.format(data, attributes), area, judged=judged)


_RIGHT = 4 * 60 - 2 * 2 * math.tan(PI / 4)
STROKES = [
    _stroke("butt", "M10 50 H50", 160),
    _stroke("square", "M10 50 H50", 176, 'stroke-linecap="square"'),
    _stroke("round", "M10 50 H50", 160 + PI * 4, 'stroke-linecap="round"'),
    _stroke("miter", "M10 50 H40 V80", _RIGHT + 4),
    _stroke("bevel", "M10 50 H40 V80", _RIGHT + 2, 'stroke-linejoin="bevel"'),
    _stroke("round join", "M10 50 H40 V80", _RIGHT + PI, 'stroke-linejoin="round"'),
    _stroke("miter over its limit is a bevel", "M10 50 H40 V80", _RIGHT + 2, 'stroke-miterlimit="1.4"'),
    _stroke("miter within its limit", "M10 50 H40 V80", _RIGHT + 4, 'stroke-miterlimit="1.42"'),
    _stroke("closed square", "M20 20 H60 V60 H20 Z", 4 * 40 * 4),
    _stroke("closed square, round", "M20 20 H60 V60 H20 Z", 640 - (4 - PI) * 4, 'stroke-linejoin="round"'),
    _stroke("circle", "M30 50 a20 20 0 0 0 40 0 a20 20 0 0 0 -40 0z", 2 * PI * 20 * 4),
    _stroke("half circle", "M30 50 a20 20 0 0 0 40 0", PI * 20 * 4),
    _stroke("half circle with a radius under half the width", "M49 50 a1 1 0 0 0 2 0", PI * 9 / 2 + PI / 2, ""),
    _stroke("dashes", "M10 50 H60", 5 * 5 * 4, 'stroke-dasharray="5 5"'),
    _stroke("dashes, odd count", "M10 50 H60", 4 * (5 + 20 + 5), 'stroke-dasharray="5 5 20"'),
    _stroke("dashes with an offset", "M10 50 H60", 4 * (2 + 4 * 5 + 3), 'stroke-dasharray="5 5" stroke-dashoffset="3"'),
    _stroke("dashes, round", "M10 50 H55", 5 * (20 + PI * 4), 'stroke-dasharray="5 5" stroke-linecap="round"'),
    _stroke("dots", "M10 50 H55", 5 * PI * 4, 'stroke-dasharray="0 10" stroke-linecap="round"'),
    _stroke("pathLength", "M10 50 H60", 4 * 25, 'stroke-dasharray="1 1" pathLength="10"', judged=False),
    _stroke("dashes on a circle", "M30 50 a20 20 0 0 0 40 0 a20 20 0 0 0 -40 0z", PI * 20 * 4,
            'pathLength="40" stroke-dasharray="1"', judged=False),
    _stroke("a point with round ends", "M50 50 L50 50", PI * 4, 'stroke-linecap="round"'),
    _stroke("a point with square ends", "M50 50 z", 16, 'stroke-linecap="square"'),
    _stroke("self-crossing", "M10 50 H50 M30 30 V70", 160 + 160 - 16),
    _stroke("there and back", "M10 50 H50 H10", 160, 'stroke-linejoin="bevel"'),
    _stroke("scaled", "M10 50 H50", 640, 'transform="translate(0 -50) scale(2)"'),
    _stroke("scaled unevenly", "M10 50 H40", 30 * 2 * 4, 'transform="scale(2 1)"'),
    _stroke("circle scaled unevenly", "M15 50 a10 10 0 0 0 20 0 a10 10 0 0 0 -20 0z", 2 * 2 * PI * 10 * 4, 'transform="scale(2 1)"'),
    _stroke("width in em", "M10 50 H50", 160, 'font-size="2" style="stroke-width:2em"'),
    _stroke("width in percent", "M10 50 H50", 160, 'style="stroke-width:4%"'),
    _one("stroke: rect", '<rect x="20" y="20" width="40" height="20" fill="none" stroke="black" stroke-width="2"/>', 240),
    _one("stroke: no width", BOX + ' stroke="red" stroke-width="0"/>', 200),
    _one("stroke: not scaled", '<path transform="scale(3 1)" d="M10 50H30" vector-effect="non-scaling-stroke" stroke="black" stroke-width="4"/>',
         60 * 4 * 25.4 / 96, judged=False),
    Feature(name="stroke over fill", content=BOX + ' fill="red" stroke="blue" stroke-width="2"/>', painted=((RED, 200), (BLUE, 120))),
    Feature(name="paint-order", content=BOX + ' fill="red" stroke="blue" stroke-width="2" paint-order="stroke"/>',
            painted=((BLUE, 120), (RED, 200))),
]  # fmt: skip

# SVG 2, 6 and CSS: where a colour comes from. CSS Color 4 for the colours.
_CSS = "<style>{}</style>"
STYLES = [
    _one("fill keyword", BOX + ' fill="lime"/>', 200, LIME),
    _one("fill #rgb", BOX + ' fill="#00f"/>', 200, BLUE),
    _one("fill rgb()", BOX + ' fill="rgb(255, 0, 0)"/>', 200, RED),
    _one("fill rgb() percent", BOX + ' fill="rgb(100%, 0%, 0%)"/>', 200, RED),
    _one("fill hsl()", BOX + ' fill="hsl(120, 100%, 50%)"/>', 200, LIME),
    _one("white is a region", BOX + ' fill="white"/>', 200, WHITE),
    _one("currentColor", f'<g color="red"><g fill="currentColor">{BOX}/></g></g>', 200, RED),
    _one("inherited", f'<g fill="red">{BOX}/></g>', 200, RED),
    _one("style beats the attribute", BOX + ' fill="red" style="fill:blue"/>', 200, BLUE),
    _one("sheet beats the attribute", _CSS.format("rect{fill:blue}") + BOX + ' fill="red"/>', 200, BLUE),
    _one("class", _CSS.format(".a{fill:red}") + BOX + ' class="b a"/>', 200, RED),
    _one("id beats class", _CSS.format("#i{fill:red}.a{fill:blue}") + BOX + ' id="i" class="a"/>', 200, RED),
    _one("later rule wins", _CSS.format(".a{fill:red}.a{fill:blue}") + BOX + ' class="a"/>', 200, BLUE),
    _one("important", _CSS.format(".a{fill:red!important}") + BOX + ' class="a" style="fill:blue"/>', 200, RED),
    _one("descendant and child", _CSS.format("g > rect{fill:red} svg g rect{fill:blue}") + f"<g>{BOX}/></g>", 200, BLUE),
    _one("attribute selector", _CSS.format('[data-a="x"]{fill:red}') + BOX + ' data-a="x"/>', 200, RED),
    _one("first-child", _CSS.format("g rect:first-child{fill:red}") + f"<g>{BOX}/></g>", 200, RED),
    _one("universal and list", _CSS.format("circle, *{fill:red}") + BOX + "/>", 200, RED),
    _one("CDATA", _CSS.format("<![CDATA[rect{fill:red}]]>") + BOX + "/>", 200, RED),
    _one("comment in a sheet", _CSS.format("/* a */rect{/* b */fill:red}") + BOX + "/>", 200, RED),
    _one("media", _CSS.format("@media screen{rect{fill:red}} @media print{rect{fill:blue}}") + BOX + "/>", 200, RED, judged=False),
    _one("custom property", _CSS.format("rect{--a:red;fill:var(--a)}") + BOX + "/>", 200, RED, judged=False),
    _one("fallback of a custom property", BOX + ' fill="var(--none, red)"/>', 200, RED, judged=False),
    _one("inherit", f'<g fill="red">{BOX} fill="inherit" /></g>', 200, RED),
    _one("display none", BOX + '/><rect width="90" height="90" display="none"/>', 200),
    _one("display none on a group", BOX + '/><g style="display:none"><rect width="90" height="90"/></g>', 200),
    _one("visibility", f'<g visibility="hidden"><rect width="90" height="90"/>{BOX} visibility="visible"/></g>', 200),
    _one("opacity nought", BOX + '/><g opacity="0"><rect width="90" height="90"/></g>', 200),
    _one("fill-opacity nought", BOX + '/><rect width="90" height="90" fill-opacity="0"/>', 200),
    _one("transparent", BOX + '/><rect width="90" height="90" fill="transparent"/>', 200),
    _one("defs are not drawn", BOX + '/><defs><rect width="90" height="90"/></defs>', 200),
    _one("missing paint server", BOX + '/><rect width="90" height="90" fill="url(#none)"/>', 200),
    _one("fallback of a paint server", BOX + ' fill="url(#none) red"/>', 200, RED),
    _one("gradient of one colour", '<linearGradient id="l"><stop stop-color="red"/></linearGradient>' + BOX + ' fill="url(#l)"/>', 200, RED),
    _one("gradient that takes its stops elsewhere", '<linearGradient id="l"><stop stop-color="red"/></linearGradient>'
         '<radialGradient id="m" xlink:href="#l"/>' + BOX + ' fill="url(#m)"/>', 200, RED),
    _one("gradient without stops", BOX + '/><linearGradient id="l"/><rect width="90" height="90" fill="url(#l)"/>', 200),
]  # fmt: skip

# CSS Masking 1: clip paths and masks.
_CLIP = '<clipPath id="c" {}>{}</clipPath>'
_HALF = '<rect x="10" y="10" width="10" height="50"/>'
_MASK = '<mask id="m" maskUnits="userSpaceOnUse" x="0" y="0" width="100" height="100">{}</mask>'
CLIPS = [
    _one("clip", _CLIP.format("", _HALF) + BOX + ' clip-path="url(#c)"/>', 100),
    _one("clip by two shapes", _CLIP.format("", _HALF + '<rect x="25" y="0" width="3" height="90"/>') + BOX + ' clip-path="url(#c)"/>', 130),
    _one("clip of a group", _CLIP.format("", _HALF) + f'<g clip-path="url(#c)">{BOX}/></g>', 100),
    _one("clip moves with its element", _CLIP.format("", _HALF) + BOX + ' transform="rotate(30)" clip-path="url(#c)"/>', 100),
    _one("clip with a transform", _CLIP.format('transform="translate(5 0)"', _HALF) + BOX + ' clip-path="url(#c)"/>', 100),
    _one("clip in parts of the box", _CLIP.format('clipPathUnits="objectBoundingBox"', '<rect width="0.25" height="1"/>') + BOX
         + ' clip-path="url(#c)"/>', 50),
    _one("clip-rule", _CLIP.format("", '<path clip-rule="evenodd" d="M0 0h90v90h-90zM10 10h10v10h-10z"/>') + BOX + ' clip-path="url(#c)"/>', 100),
    _one("fill-rule means nothing in a clip", _CLIP.format("", '<path fill-rule="evenodd" d="M0 0h90v90h-90zM10 10h10v10h-10z"/>') + BOX
         + ' clip-path="url(#c)"/>', 200),
    _one("clip within a clip", '<clipPath id="d"><rect width="100" height="15"/></clipPath>'
         + _CLIP.format('clip-path="url(#d)"', _HALF) + BOX + ' clip-path="url(#c)"/>', 50),
    _one("a clipped child of a clip", '<clipPath id="d"><rect width="100" height="15"/></clipPath>'
         + _CLIP.format("", _HALF.replace("/>", ' clip-path="url(#d)"/>')) + BOX + ' clip-path="url(#c)"/>', 50),
    _one("clip by use", f'<defs>{_HALF.replace("<rect", "<rect id=" + chr(34) + "h" + chr(34))}</defs>' + _CLIP.format("", '<use href="#h"/>')
         + BOX + ' clip-path="url(#c)"/>', 100),
    _one("clip by a use of a use", f'<defs>{_HALF.replace("<rect", "<rect id=" + chr(34) + "h" + chr(34))}<use id="i" href="#h"/></defs>'
         + _CLIP.format("", '<use href="#i"/>') + BOX + ' clip-path="url(#c)"/>', 100),
    _one("clip by what is not filled", _CLIP.format('fill="none"', _HALF) + BOX + ' clip-path="url(#c)"/>', 100),
    _one("an empty clip hides", _CLIP.format("", "") + '<rect width="9" height="9" clip-path="url(#c)"/>' + BOX + "/>", 200),
    _one("a hidden child does not clip", _CLIP.format("", _HALF + '<rect width="90" height="90" display="none"/>') + BOX + ' clip-path="url(#c)"/>', 100),
    _one("a missing clip does nothing", BOX + ' clip-path="url(#none)"/>', 200),
    _one("clip of a stroke", _CLIP.format("", _HALF) + '<path stroke="red" stroke-width="4" d="M0 30H90" clip-path="url(#c)"/>', 40, RED),
    _one("clip by a circle", _CLIP.format("", '<circle cx="20" cy="15" r="5"/>') + BOX + ' clip-path="url(#c)"/>', PI * 25),
    _one("mask, white", _MASK.format(_HALF.replace("<rect", '<rect fill="white"')) + BOX + ' mask="url(#m)"/>', 100),
    _one("mask, black on white", _MASK.format('<rect width="100" height="100" fill="white"/>' + _HALF) + BOX + ' mask="url(#m)"/>', 100),
    _one("mask in parts of the box", '<mask id="m" maskContentUnits="objectBoundingBox"><rect width="0.5" height="1" fill="white"/></mask>'
         + BOX + ' mask="url(#m)"/>', 100),
    _one("mask has an edge", '<mask id="m" x="0" y="0" width="0.5" height="1"><rect width="100" height="100" fill="white"/></mask>'
         + BOX + ' mask="url(#m)"/>', 100),
    _one("mask by its alpha", _MASK.format(_HALF).replace("<mask", '<mask mask-type="alpha"') + BOX + ' mask="url(#m)"/>', 100),
    _one("an empty mask hides", _MASK.format("") + '<rect width="9" height="9" mask="url(#m)"/>' + BOX + "/>", 200),
]  # fmt: skip

# SVG 2, 13.7: markers.
_MARKER = '<marker id="k" markerWidth="2" markerHeight="2" refX="1" refY="1" {}><rect width="2" height="2" fill="red"/></marker>'
_MARKED = '<path d="M20 20 H50 V50" fill="none" {}/>'


def _marked(name: str, marker: str, use: str, count: int, area: float) -> Feature:
    content = _MARKER.format(marker) + _MARKED.format(use)
    return Feature(name=f"marker: {name}", content=content, painted=((RED, area),) * count)


MARKERS = [
    _marked("start", "", 'marker-start="url(#k)"', 1, 4),
    _marked("mid", "", 'marker-mid="url(#k)"', 1, 4),
    _marked("all", "", 'marker="url(#k)" style="marker:url(#k)"', 3, 4),
    _marked("scaled by the stroke", "", 'stroke-width="3" marker-end="url(#k)"', 1, 36),
    _marked("in user units", 'markerUnits="userSpaceOnUse"', 'stroke-width="3" marker-end="url(#k)"', 1, 4),
    _marked("turned", 'orient="auto"', 'stroke-width="3" marker-mid="url(#k)"', 1, 36),
    _marked("turned by an angle", 'orient="30"', 'stroke-width="3" marker-mid="url(#k)"', 1, 36),
    _marked("with a viewBox", 'viewBox="0 0 4 4"', 'stroke-width="2" marker-end="url(#k)"', 1, 4),
    Feature(
        name="marker: clips",
        content='<marker id="k" markerWidth="2" markerHeight="2"><circle r="2"/></marker>'
        + _MARKED.format('marker-end="url(#k)"'),
        painted=((BLACK, PI),),
    ),
]

FEATURES = [*SHAPES, *PATHS, *ARCS, *RULES, *TRANSFORMS, *VIEWPORTS, *UNITS, *STROKES, *STYLES, *CLIPS, *MARKERS]
