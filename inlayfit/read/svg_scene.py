"""What the walk through the tree finds, in painting order and still as curves: the paint, the clips, the source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

from inlayfit.read.outline import Outline, Pen
from inlayfit.read.stroke_sides import Cap, Join
from inlayfit.read.svg_transform import Matrix
from inlayfit.read.sweep import Rule


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """How a line is drawn; lengths in user units, or in px of the page where `fixed` (vector-effect)."""

    width: float
    cap: Cap
    join: Join
    miter_limit: float
    dashes: tuple[float, ...]
    dash_offset: float
    path_length: float | None
    fixed: bool


NO_STROKE = Stroke(
    width=0.0, cap="butt", join="miter", miter_limit=4.0, dashes=(), dash_offset=0.0, path_length=None, fixed=False
)


class Source(NamedTuple):
    """Where a painted thing comes from: ``path#eye``, its name and its layer; `serial` numbers the elements."""

    element: str
    name: str
    layer: str
    serial: int


class Painted(NamedTuple):
    """One fill or one stroke. `matrix` leads from the outline to px of the page (y down).

    `light` is the luminance times the opacity, 0 to 1: what counts inside a mask. A tuple as an outline is one.
    """

    outline: Outline
    matrix: Matrix
    rule: Rule
    stroke: Stroke | None
    colour: str
    light: float
    clips: tuple[Clip, ...]
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Clip:
    """Only what lies inside the union of the shapes stays; with `mask`, dark shapes take away from what is below."""

    kind: Literal["clip", "mask"]
    shapes: tuple[Painted, ...]


def box_clip(box: tuple[float, float, float, float], matrix: Matrix) -> Clip:
    """Return the clip to a rectangle x, y, width, height."""
    pen = Pen()
    x, y, width, height = box
    pen.move(x, y)
    for corner in ((x + width, y), (x + width, y + height), (x, y + height)):
        pen.line(*corner)
    pen.close()
    source = Source(element="", name="", layer="", serial=0)
    shape = Painted(
        outline=pen.outline(), matrix=matrix, rule="nonzero", stroke=None, colour="", light=1.0, clips=(), source=source
    )
    return Clip(kind="clip", shapes=(shape,))
