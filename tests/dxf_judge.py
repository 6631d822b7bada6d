"""A renderer by other hands as the judge of what a DXF shows: the drawing add-on of ezdxf, against what was read.

Both are taken at 100 mm. Filled areas are painted by resvg and compared by pixels. Of the lines, everything that is
drawn must be a line that the reader knows or the edge of an area; every line that the reader knows must be the edge of
a region or be told of in a note on its layer; and no region has an edge that is not drawn.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from ezdxf.addons.drawing.backend import Backend
from ezdxf.addons.drawing.config import Configuration, HatchPolicy, ImagePolicy, LinePolicy, TextPolicy
from ezdxf.addons.drawing.frontend import Frontend
from ezdxf.addons.drawing.properties import RenderContext
from numpy.typing import NDArray

from inlayfit.drawing import ReadNote, Region
from inlayfit.read.dxf_load import load
from inlayfit.read.dxf_regions import draw_all, make_regions
from inlayfit.read.dxf_walk import PLANAR, walk
from tests.svg_judge import pixels_of_text, share_that_differs

SIZE = 100.0
"""Mm: the longer side of a drawing while it is judged."""

JOIN = 0.01
NEAR = 0.05
"""Mm: five joins; the renderer flattens its curves within a tenth of it."""

STEP = 0.25
WIDTH_PX = 1024
LONGEST = 100_000.0
"""Mm of lines that are looked at; more is hatching."""

Points = NDArray[np.float64]


@dataclass(slots=True)
class Shown:
    """What one entity shows: the kinds of it and of those around it, its lines, and areas by even-odd."""

    kinds: tuple[str, ...]
    lines: list[Points] = field(default_factory=list)
    areas: list[shapely.Geometry] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """Shares of length and of painted pixels for which nobody answers; `seen` is the length of all lines, mm."""

    filled: float
    unread: float
    untold: float
    invented: float
    seen: float
    regions: int
    notes: tuple[ReadNote, ...]

    @property
    def worst(self) -> float:
        """The largest of the shares."""
        return max(self.filled, self.unread, self.untold, self.invented)


class _Eye(Backend):  # type: ignore[misc]  # ezdxf types its abstract class loosely
    """Keeps what is drawn, by entity."""

    def __init__(self) -> None:
        super().__init__()
        self.shown: list[Shown] = []

    def enter_entity(self, entity: Any, properties: Any) -> None:
        super().enter_entity(entity, properties)
        self.shown.append(Shown(tuple(one.dxftype() for one, _ in self.entity_stack)))

    def exit_entity(self, entity: Any) -> None:
        super().exit_entity(entity)
        self.shown.append(Shown(tuple(one.dxftype() for one, _ in self.entity_stack)))

    def draw_line(self, start: Any, end: Any, properties: Any) -> None:  # noqa: ARG002
        self._draw(np.array([(start.x, start.y), (end.x, end.y)]))

    def draw_path(self, path: Any, properties: Any) -> None:  # noqa: ARG002
        self._draw(self._flat(path))

    def draw_filled_paths(self, paths: Iterable[Any], properties: Any) -> None:  # noqa: ARG002
        self._fill([self._flat(part) for path in paths for part in path.sub_paths()] if paths else [])

    def draw_filled_polygon(self, points: Any, properties: Any) -> None:  # noqa: ARG002
        self._fill([np.array([(one.x, one.y) for one in points.vertices()])])

    def _draw(self, points: Points) -> None:
        if len(points) > 1 and np.ptp(points, axis=0).max() > 0:
            self.shown[-1].lines.append(points)

    def _flat(self, path: Any) -> Points:
        flat = path.flattening(distance=self.config.max_flattening_distance)
        return np.array([(one.x, one.y) for one in flat]).reshape(-1, 2)

    def _fill(self, rings: Sequence[Points]) -> None:
        area = shapely.Polygon()
        for ring in rings:
            if len(ring) > 2:
                area = shapely.symmetric_difference(area, shapely.make_valid(shapely.Polygon(ring)))
        if area.area > 0:
            self.shown[-1].areas.append(area)

    def draw_point(self, pos: Any, properties: Any) -> None: ...
    def draw_image(self, image_data: Any, properties: Any) -> None: ...
    def set_background(self, color: Any) -> None: ...
    def clear(self) -> None: ...


def judge(path: Path) -> Verdict | None:
    """Return how what was read stands against what is drawn, or None where nothing is drawn.

    Raises:
        DrawingError: the reader refuses the file.
    """
    loaded = load(path)
    shown = _shown(loaded.document, 1e-2)
    corners = [shapely.get_coordinates(part) for one in shown for part in _geometry(one)]
    if not corners:
        return None
    extent = float(np.ptp(np.concatenate(corners), axis=0).max())
    if not extent > 0:
        return None
    factor = SIZE / extent
    shown = [_scaled(one, factor) for one in _shown(loaded.document, NEAR / 10 / factor)]
    walked = walk(loaded.document)
    drawn, remarks = draw_all(walked.placed, factor, NEAR / 50, JOIN)
    regions, notes = make_regions(walked.placed, drawn, JOIN)
    told = (*remarks, *notes)
    judged = [one for one in shown if set(one.kinds) <= {*PLANAR, "INSERT"}]
    lines = [(walked.placed[order].layer, points) for order, one in drawn for points, _ in one.lines]
    areas = [area for _, one in drawn for area in one.areas]
    return Verdict(
        filled=_filled(judged, areas),
        unread=_far(_outlines(judged), [*(line for _, line in lines), *_edges(areas)]),
        untold=_untold(lines, regions, told),
        invented=_far(_edges([region.polygon for region in regions]), _outlines(judged)),
        seen=sum(float(np.hypot(*np.diff(line, axis=0).T).sum()) for line in _outlines(judged)),
        regions=len(regions),
        notes=told,
    )


def _shown(document: Any, flatness: float) -> list[Shown]:
    eye = _Eye()
    config = Configuration(
        line_policy=LinePolicy.SOLID,
        hatch_policy=HatchPolicy.SHOW_SOLID,
        text_policy=TextPolicy.IGNORE,
        image_policy=ImagePolicy.IGNORE,
        max_flattening_distance=flatness,
        circle_approximation_count=720,
        infinite_line_length=0,
    )
    Frontend(RenderContext(document), eye, config=config).draw_layout(document.modelspace())
    return [one for one in eye.shown if one.lines or one.areas]


def _geometry(one: Shown) -> list[shapely.Geometry]:
    return [*(shapely.LineString(line) for line in one.lines), *one.areas]


def _scaled(one: Shown, factor: float) -> Shown:
    areas = [shapely.transform(area, lambda points: points * factor) for area in one.areas]
    return Shown(one.kinds, [line * factor for line in one.lines], areas)


def _outlines(shown: Sequence[Shown]) -> list[Points]:
    return [line for one in shown for line in (*one.lines, *_edges(one.areas))]


def _edges(areas: Sequence[shapely.Geometry]) -> list[Points]:
    rings = [ring for area in areas for part in shapely.get_parts(area) for ring in _rings(part)]
    return [shapely.get_coordinates(ring) for ring in rings]


def _rings(part: shapely.Geometry) -> list[shapely.LinearRing]:
    return [part.exterior, *part.interiors] if isinstance(part, shapely.Polygon) else []


def _samples(lines: Sequence[Points]) -> Points:
    total = sum(float(np.hypot(*np.diff(line, axis=0).T).sum()) for line in lines)
    step = STEP * max(1.0, total / LONGEST)
    many = [shapely.get_coordinates(shapely.segmentize(shapely.LineString(line), step)) for line in lines]
    return np.concatenate([np.empty((0, 2)), *((line[1:] + line[:-1]) / 2 for line in many)])


def _is_near(points: Points, lines: Sequence[Points]) -> NDArray[np.bool_]:
    near = np.zeros(len(points), dtype=bool)
    if lines and len(points):
        tree = shapely.STRtree([shapely.LineString(line) for line in _short(lines)])
        found = tree.query(shapely.points(points), predicate="dwithin", distance=NEAR)
        near[found[0]] = True
    return near


def _short(lines: Sequence[Points]) -> list[Points]:
    """Return runs of few points: a tree of small boxes is quick."""
    return [line[at : at + 33] for line in lines for at in range(0, max(len(line) - 1, 1), 32) if len(line[at:]) > 1]


def _far(lines: Sequence[Points], others: Sequence[Points]) -> float:
    """Return the share of the lines that lies near none of the others."""
    lines = [line for line in lines if len(line) > 1 and np.ptp(line, axis=0).max() > 0]
    points = _samples(lines)
    return float((~_is_near(points, others)).mean()) if len(points) else 0.0


def _untold(lines: Sequence[tuple[str, Points]], regions: Sequence[Region], notes: Sequence[ReadNote]) -> float:
    """Return the share of lines that are the edge of no region, on layers of which no note tells of such lines."""
    edges = _edges([region.polygon for region in regions])
    named = {note.subject for note in notes if note.kind in {"open", "left-out", "repaired"}}
    quiet = [line for layer, line in lines if f"layer {layer!r}" not in named]
    return _far(quiet, edges)


def _filled(shown: Sequence[Shown], areas: Sequence[shapely.Geometry]) -> float:
    """Return the share of painted pixels that differ between the areas that are shown and those that were read."""
    theirs = [area for one in shown for area in one.areas]
    if not theirs and not areas:
        return 0.0
    box = shapely.total_bounds([*theirs, *areas])
    return share_that_differs(_painted(theirs, box), _painted(areas, box))


def _painted(areas: Sequence[shapely.Geometry], box: Points) -> Any:
    left, bottom, right, top = box.tolist()
    rings = [[ring for part in shapely.get_parts(area) for ring in _rings(part)] for area in areas]
    body = "".join(f'<path fill-rule="evenodd" d="{"".join(map(_data, loops))}"/>' for loops in rings)
    across, up = max(right - left, 1e-6), max(top - bottom, 1e-6)
    head = f'viewBox="{left} {-top} {across} {up}" width="{WIDTH_PX}" height="{max(round(WIDTH_PX * up / across), 1)}"'
    return pixels_of_text(f'<svg xmlns="http://www.w3.org/2000/svg" {head} preserveAspectRatio="none">{body}</svg>')


def _data(ring: shapely.LinearRing) -> str:
    return "M" + "L".join(f"{x:.4f} {-y:.4f}" for x, y in ring.coords[:-1]) + "Z"
