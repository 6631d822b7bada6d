"""The line that letters of a `textPath` stand on (SVG 2, 11.8): places and directions by the length along it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from inlayfit.read.chords import Points
from inlayfit.read.flatten import place
from inlayfit.read.outline import Floats, Outline
from inlayfit.read.svg_context import Context, measured
from inlayfit.read.svg_lengths import parse_px
from inlayfit.read.svg_path import parse_path
from inlayfit.read.svg_shapes import SHAPES, outline_of
from inlayfit.read.svg_style import computed
from inlayfit.read.svg_transform import IDENTITY, Matrix, parse_transform
from inlayfit.read.svg_tree import Node
from inlayfit.read.tracks import Track, tracks

_FINE = 1e-5
"""Of the extent of the path: so far its chords may be off while letters are placed, some nanometres in an emblem."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """Chords one after another: `begins` and `heads` (n,), directions at both ends (n,), lengths summed up (n + 1,).

    `start` is where the text begins, along the way.
    """

    begins: Points
    heads: Points
    turns: tuple[Floats, Floats]
    along: Floats
    start: float

    @property
    def end(self) -> tuple[float, float]:
        """Where the path ends."""
        return float(self.heads[-1].real), float(self.heads[-1].imag)

    def spot(self, distance: float) -> tuple[float, float, float] | None:
        """Return x, y and the direction in radians at a distance from the beginning, or None beyond the ends."""
        if not 0 <= distance <= self.along[-1]:
            return None
        at = min(int(np.searchsorted(self.along, distance, side="right")) - 1, len(self.begins) - 1)
        share = (distance - self.along[at]) / (self.along[at + 1] - self.along[at])
        place = complex(self.begins[at] + share * (self.heads[at] - self.begins[at]))
        first, last = self.turns[0][at], self.turns[1][at]
        bend = math.remainder(last - first, math.tau)
        return place.real, place.imag, float(first + share * bend)


def way_of(node: Node, target: Node | None, context: Context, font_px: float) -> Way | None:
    """Return what the letters of a textPath stand on; `target` is the element that it names. None: there is no line."""
    outline, matrix = _outline(node, target, context)
    if outline is None or outline.is_empty or not math.isfinite(outline.largest):
        return None
    lines, _ = tracks(place([outline], [matrix]), max(outline.largest, 1e-6) * _FINE, np.zeros(1))
    parts = [part for _, line in lines for part in (_chords(line),) if len(part[0])]
    if not parts:
        return None
    begins, heads, first, last = (np.concatenate(column) for column in zip(*parts, strict=True))
    along = np.concatenate(((0.0,), np.abs(heads - begins).cumsum()))
    start = _start(node, target, float(along[-1]), font_px)
    return Way(begins=begins, heads=heads, turns=(first, last), along=along, start=start)


def _outline(node: Node, target: Node | None, context: Context) -> tuple[Outline | None, Matrix]:
    if node.attrs.get("path"):
        return parse_path(node.attrs["path"])[0], IDENTITY
    if target is None or target.tag not in SHAPES:
        return None, IDENTITY
    _, style = computed(target, {})
    data = target.attrs.get("points" if target.tag in {"polyline", "polygon"} else "d", "")
    outline, _ = outline_of(target.tag, data, lambda name, way: measured(target, style, context, name, way))
    try:
        return outline, parse_transform(style.get("transform", ""), lambda text, _: parse_px(text))
    except ValueError:
        return outline, IDENTITY


def _chords(line: Track) -> tuple[Points, Points, Floats, Floats]:
    """Return begins, heads, and the directions at both ends of the chords of one subpath."""
    begins, heads = line.points, np.roll(line.points, -1)
    outgoing, incoming = line.outgoing, np.roll(line.incoming, -1)
    long = heads != begins
    if not line.closed:
        long[-1] = False
    return begins[long], heads[long], np.angle(outgoing[long]), np.angle(incoming[long])


def _start(node: Node, target: Node | None, length: float, font_px: float) -> float:
    """Return the start offset: a share of the length, or a length in units of what the author says that it measures."""
    text = node.attrs.get("startOffset", "0")
    try:
        offset = parse_px(text, font=font_px, whole=length)
        said = parse_px(target.attrs["pathLength"]) if target is not None and "pathLength" in target.attrs else 0.0
    except ValueError:
        return 0.0
    scale = length / said if said > 0 and not text.strip().endswith("%") else 1.0
    return offset * scale if math.isfinite(offset * scale) else 0.0
