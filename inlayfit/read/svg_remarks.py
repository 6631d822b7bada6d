"""What a maker should look at in an SVG, as far as it shows in the curves before they become areas."""

from __future__ import annotations

import numpy as np

from inlayfit.read.outline import Floats, Point
from inlayfit.read.svg_notes import Notes
from inlayfit.read.svg_scene import Clip, Painted
from inlayfit.read.svg_transform import Matrix, multiply
from inlayfit.units import Mm, format_mm

HAIR: Mm = 0.2
"""A line whose ends are no farther apart than this was meant to be closed."""

TOUCHING: Mm = 1e-6
"""Ends nearer than this are the same point, to the last digit of a file."""


def remark(painted: list[Painted], frame: Matrix, notes: Notes) -> None:
    """Add notes on lines without a filled area, on one clip round everything, and on lines open by a hair.

    `frame` leads from px of the page to mm of the finished drawing, y up.
    """
    if all(one.stroke is not None for one in painted):
        notes.add(
            "assumed",
            "lines",
            "nothing is filled: the lines themselves are taken as areas, as wide as they are drawn",
            "fill the shapes if what lies within the lines is to be cut",
        )
    clips = [clip for clip in painted[0].clips if all(clip in one.clips for one in painted[1:])]
    for clip in filter(_is_drawn, clips):
        source = clip.shapes[0].source
        notes.add(
            "assumed",
            source.element,
            f"everything lies in one {clip.kind} group and is cut off at its edge",
            f"release the {clip.kind} if whole shapes are meant",
        )
    for one in painted:
        if one.stroke is not None:
            _remark_hair(one, multiply(frame, one.matrix), notes)


def _is_drawn(clip: Clip) -> bool:
    """Whether a clip is one of the drawing, and not the edge of a viewport."""
    return any(shape.source.element for shape in clip.shapes)


def _remark_hair(one: Painted, matrix: Matrix, notes: Notes) -> None:
    for span in one.outline.spans:
        if span.closed or span.last - span.first < 2:
            continue
        begin, end = one.outline.points(span.first)[0], one.outline.points(span.last - 1)[1]
        here, there = _placed(begin, matrix), _placed(end, matrix)
        hole = float(np.hypot(*(there - here)))
        if TOUCHING < hole <= HAIR:
            notes.add(
                "open",
                one.source.element,
                f"this line is open by a hair: its ends are {format_mm(hole, 4)} apart",
                "join the two ends in the drawing program if it is meant to be closed",
                at=(float(here[0]), float(here[1])),
            )


def _placed(point: Point, matrix: Matrix) -> Floats:
    a, b, c, d, e, f = matrix
    return np.array((a * point[0] + c * point[1] + e, b * point[0] + d * point[1] + f))
