"""What can be told of an element or of its outline alone, whoever draws it."""

from __future__ import annotations

from functools import lru_cache

from inlayfit.errors import DrawingError
from inlayfit.read.outline import LARGEST_COORDINATE, Outline
from inlayfit.read.svg_context import Context, whole
from inlayfit.read.svg_lengths import parse_px
from inlayfit.read.svg_notes import Notes
from inlayfit.read.svg_shapes import SHAPES
from inlayfit.read.svg_style import GEOMETRY, Style
from inlayfit.read.svg_transform import Matrix, stretches
from inlayfit.read.svg_tree import Node

GROUPS = frozenset({"g", "a", "switch"})
LEFT_OUT = {
    "image": ("an image holds pixels, not outlines", "trace it to paths"),
    "foreignObject": ("foreign content is not read", "convert it to paths"),
    "script": ("a script is not run", "export the drawing as it looks"),
    "animate": ("an animation is not played; the drawing is taken at rest", ""),
    "animateTransform": ("an animation is not played; the drawing is taken at rest", ""),
    "animateMotion": ("an animation is not played; the drawing is taken at rest", ""),
    "set": ("an animation is not played; the drawing is taken at rest", ""),
}
"""What holds no outline, why, and what to do."""

CLIPPING = SHAPES | {"use", "text"}
"""What may stand in a clipPath (CSS Masking 1, 5.1); copies of copies are taken as well, as programs draw them."""

NO_CLIP = ("a group does not count in a clip path", "ungroup what is in the clip path")


def check_range(node: Node, outline: Outline, matrix: Matrix, width: float) -> None:
    """Refuse what no drawing holds: numbers that are none, or so large that a micrometre drowns in them."""
    if not _is_near(outline.bound, matrix, width) and not _is_near(outline.largest, matrix, width):
        raise DrawingError(
            "a coordinate is no number or beyond a thousand million",
            where=node.label,
            remedy="delete the element or draw it again",
        )


def _is_near(largest: float, matrix: Matrix, width: float) -> bool:
    return largest < LARGEST_COORDINATE and largest + width < _room(matrix)  # NaN fails it too


@lru_cache(maxsize=256)
def _room(matrix: Matrix) -> float:
    """Return how far from the origin a coordinate may be to lie within `LARGEST_COORDINATE` after a transform."""
    return (LARGEST_COORDINATE - abs(matrix[4]) - abs(matrix[5])) / max(stretches(matrix)[0], 1e-300)


def mask_edge(
    target: Node, context: Context, box: tuple[float, float, float, float] | None
) -> tuple[float, float, float, float]:
    """Return x, y, width, height of the mask, in fractions of the box where there is one (CSS Masking 1, 7.1)."""
    values = []
    for name, way, default in (("x", "x", "-10%"), ("y", "y", "-10%"), ("width", "x", "120%"), ("height", "y", "120%")):
        try:
            values.append(parse_px(target.attrs.get(name, default), whole=1.0 if box else whole(context, way)))
        except ValueError:
            values.append(parse_px(default, whole=1.0 if box else whole(context, way)))
    return values[0], values[1], values[2], values[3]


def is_within(node: Node, target: Node) -> bool:
    """Whether a node stands inside the target that it would copy."""
    above: Node | None = node
    while above is not None:
        if above is target:
            return True
        above = above.parent
    return False


def is_drawn(node: Node) -> bool:
    """Whether a switch may choose an element."""
    return node.tag in SHAPES or node.tag in GROUPS or node.tag in {"svg", "use", "text", "image", "foreignObject"}


def is_wanted(node: Node) -> bool:
    """Whether the conditional attributes let an element be drawn (SVG 2, 5.7); the language of a reader is English."""
    if "requiredExtensions" in node.attrs:
        return False
    languages = node.attrs.get("systemLanguage")
    return languages is None or any(part.strip().lower().split("-")[0] == "en" for part in languages.split(","))


def title_of(node: Node) -> str:
    """Return the title inside an element, or nothing."""
    for child in node.children:
        if child.tag == "title":
            return " ".join(child.text.split())
    return ""


@lru_cache(maxsize=4096)
def luminance(colour: str) -> float:
    """Return the luminance of a colour, 0 to 1 (CSS Masking 1, section 7.10.1)."""
    if len(colour) != 7:
        return 1.0
    red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return 0.2125 * red + 0.7154 * green + 0.0721 * blue


def data_of(node: Node, style: Style) -> str:
    """Return the path data or the points of a shape: what the style says goes before the attribute."""
    data = style.get("d", "")
    data = data[data.find("(") + 1 : data.rfind(")")].strip(" \"'") if data.startswith("path(") else ""
    return data or node.attrs.get("points" if node.tag in {"polyline", "polygon"} else "d", "")


def remark_shape(node: Node, style: Style, notes: Notes) -> None:
    """Note what moves in a shape, and where its style has another size than its attributes."""
    for child in node.children:
        if child.tag in LEFT_OUT:
            notes.add("left-out", node.label, *LEFT_OUT[child.tag])
    if style.keys().isdisjoint(GEOMETRY):
        return
    for name in sorted(GEOMETRY & style.keys() & node.attrs.keys()):
        if style[name] != node.attrs[name].strip():
            message = f"its {name} is {style[name]}, as its style says, not {node.attrs[name].strip()[:20]}"
            notes.add("assumed", node.label, f"{message}; older programs draw it so", "take it out of the style")


def remark_unpainted(node: Node, outline: Outline, notes: Notes) -> None:
    """Note a shape that is neither filled nor stroked."""
    if all(span.closed for span in outline.spans):
        notes.add("left-out", node.label, "neither filled nor stroked", "give it a fill if it is to be cut")
    else:
        notes.add("open", node.label, "an open line without a width encloses nothing", "give it a stroke width")
