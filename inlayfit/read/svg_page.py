"""The page of an SVG: its viewport, its viewBox, and whether it says how large it is on paper."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from inlayfit.read.svg_context import parse_viewbox
from inlayfit.read.svg_lengths import MM_PER_PX, PHYSICAL, parse_px, unit_of
from inlayfit.read.svg_notes import Notes
from inlayfit.read.svg_style import Style, geometry
from inlayfit.read.svg_transform import IDENTITY, Matrix, fit_viewbox, stretches
from inlayfit.read.svg_tree import Node
from inlayfit.units import Mm

_DEFAULT = (300.0, 150.0)  # CSS 2.1, section 10.3.2: a replaced element that says nothing of its size


@dataclass(frozen=True, slots=True, kw_only=True)
class PageBox:
    """`matrix` leads from user units to px; `size` is the page in px, `viewport` in user units."""

    matrix: Matrix
    size: tuple[float, float]
    viewport: tuple[float, float]
    bounded: bool
    mm_per_px: Mm | None

    @property
    def px_per_unit(self) -> float:
        """Px in one unit of the numbers in the file."""
        largest, smallest = stretches(self.matrix)
        return math.sqrt(largest * smallest)


def page_of(root: Node, style: Style) -> PageBox:
    """Return the page that the root element describes."""
    texts = geometry(root, style, "width"), geometry(root, style, "height")
    return _page(root.attrs.get("viewBox", ""), texts, root.attrs.get("preserveAspectRatio", ""))


@lru_cache(maxsize=256)
def _page(viewbox: str, texts: tuple[str, str], aspect: str) -> PageBox:
    """Return the page by its attributes, `texts` being width and height: all icons of a set have the same one."""
    box = parse_viewbox(viewbox)
    width, height = (_absolute(text) for text in texts)
    physical = any(size and unit_of(text) in PHYSICAL for size, text in zip((width, height), texts, strict=True))
    bounded = box is not None or (width is not None and height is not None)
    across, down = box[2:] if box else _DEFAULT
    if width is None and height is None:
        width, height = across, down
    elif width is None:
        width = (height or 0.0) * across / down
    elif height is None:
        height = width * down / across
    size = (width, height or down)
    matrix = fit_viewbox(box, *size, aspect) if box else IDENTITY
    return PageBox(
        matrix=matrix,
        size=size,
        viewport=box[2:] if box else size,
        bounded=bounded,
        mm_per_px=MM_PER_PX if physical else None,
    )


def remark_page(root: Node, style: Style, notes: Notes) -> None:
    """Note a page of which one side is a length and the other a share of the window: the length alone counts."""
    texts = {name: geometry(root, style, name) for name in ("width", "height")}
    shares = [name for name, text in texts.items() if text.endswith("%")]
    if len(shares) == 1 and any(map(_absolute, texts.values())):
        message = f"its {shares[0]} is a percentage; the size is taken from the other side alone"
        notes.add("assumed", "svg", message, "set the size with --width or --height")


def _absolute(text: str) -> float | None:
    """Return px over zero, or None for a percentage, auto or nothing usable."""
    if not text or text.endswith("%"):
        return None
    try:
        value = parse_px(text)
    except ValueError:
        return None
    return value if 0 < value < math.inf else None
