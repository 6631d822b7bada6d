"""A drawing as it was understood, to look at: one static SVG of regions, names, sizes, and what is to be said of it.

What is said is numbered, and marked where it has a place. Where there is a fit, its seams show the gap by colour.

Layers (or colours, where there are no layers) are told apart by names as much as by colours; the colours are those of
Okabe and Ito, "Color Universal Design" (2008), which readers with any kind of colour vision can tell apart.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePath
from xml.sax.saxutils import escape

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.drawing import Drawing, ReadNote, Region
from inlayfit.gap import GapAlong
from inlayfit.sheet import plain_text
from inlayfit.units import Mm, format_mm, format_thou
from inlayfit.write.gap_scale import CIVIDIS, GapScale, colour_of, seam_runs
from inlayfit.write.placing import LETTER, LINE_HEIGHT, SIDE_FONT, Name, place_names, shortened
from inlayfit.write.svg import NAMESPACE

SPAN = 900.0
"""Px of the longer side of the drawing."""

PALETTE = ("#0072b2", "#e69f00", "#009e73", "#cc79a7", "#56b4e9", "#d55e00", "#f0e442")
PAPER, INK, QUIET, ALARM = "#fcfbf8", "#1d2330", "#5d6675", "#b3260f"
STRIPES = ("", "M-2 2L2 -2M0 8L8 0M6 10L10 6", "M4 0V8M0 4H8")
"""What tells layers apart once the colours are used up: nothing, slanting lines, a net; each on a tile of 8 px."""
TINT = 0.45
"""How much of the colour a region shows: dark names stay readable on it."""

EDGE = 20.0
LEADER = 26.0
BESIDE = 44.0
"""Room for the height beside the drawing."""
SIMPLE = 0.1
"""Px by which outlines in the picture may differ from those that were read."""

MOST_LISTED = 16
"""Layers in the legend."""

MOST_TOLD = 40
"""Notes and findings that are marked and stand below the drawing; the rest is counted."""

CASING, CORE = 4.2, 2.6
"""Px of a seam: its dark band, and the colour on it."""

STEP = 54.0
"""Px of a step of the scale of colours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """The map from mm to px: `scale` px per mm, from the drawing's corner; y up in both, turned over when written."""

    scale: float
    left: Mm
    bottom: Mm

    def of(self, x: Mm, y: Mm) -> tuple[float, float]:
        return (x - self.left) * self.scale, (y - self.bottom) * self.scale


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Something to be said of a drawing, and where, if it has a place; mm."""

    text: str
    at: tuple[Mm, Mm] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Seams:
    """The gap along each piece, and the scale that colours it."""

    alongs: Sequence[GapAlong]
    scale: GapScale


def picture_bytes(drawing: Drawing, told: Sequence[Told] = (), seams: Seams | None = None) -> bytes:
    """Return the file; the same drawing gives the same bytes.

    Args:
        drawing: its regions are drawn, and its notes are told first.
        told: what else is to be said, the worst first.
        seams: the gap of a fit, to be shown on the drawing.
    """
    told = [*map(_note, drawing.notes), *told]
    left, bottom, _, _ = drawing.bounds
    across, up = drawing.size
    frame = _Frame(scale=SPAN / max(across, up), left=left, bottom=bottom)
    size = (across * frame.scale, up * frame.scale)
    polygons = [_to_px(region.polygon, frame) for region in drawing.regions]
    names, unnamed = place_names([plain_text(region.name) for region in drawing.regions], _shown(polygons))
    low, high = _levels(names, size[1])
    columns = [_column(names, side) for side in (-1, 1)]
    x0, y0 = EDGE + columns[0] + BESIDE, EDGE + 46.0 + high
    head = _heading(drawing, y0 - high - 30.0)
    paints, tiles = _paints(drawing.regions)
    legend, end = _legend(drawing.regions, paints, y0 - low + 70.0)
    ramp, end = _ramp(seams, end)
    notes, end = _notes(told, unnamed, end, x0 + size[0] + max(columns[1], EDGE))
    width, height = x0 + size[0] + max(columns[1], EDGE) + EDGE, end + EDGE
    body = [
        *head,
        f'<g transform="translate({_n(x0)} {_n(y0)})">',
        *_regions(drawing.regions, polygons, paints),
        *_sizes((across, up), size, columns[0]),
        *_seams(seams, frame),
        *_names(names, size[0]),
        *_marks(told, frame),
        "</g>",
        *legend,
        *ramp,
        *notes,
    ]
    svg = (
        f'<svg xmlns="{NAMESPACE}" width="{_n(width)}" height="{_n(height)}" viewBox="0 0 {_n(width)} {_n(height)}" '
        f'font-family="DejaVu Sans, Verdana, Arial, sans-serif" fill="{INK}">'
    )
    title = f"<title>{_safe(PurePath(drawing.source).name)}</title>"
    paper = f'<rect width="{_n(width)}" height="{_n(height)}" fill="{PAPER}"/>'
    declaration = '<?xml version="1.0" encoding="UTF-8"?>'
    return "\n".join([declaration, svg, title, paper, *tiles, *body, "</svg>", ""]).encode()


def _to_px(polygon: shapely.Polygon, frame: _Frame) -> shapely.Polygon:
    corner = np.array((frame.left, frame.bottom))
    placed = shapely.transform(polygon, lambda points: (points - corner) * frame.scale)
    simple = shapely.simplify(placed, SIMPLE, preserve_topology=True)
    return placed if simple.is_empty or not simple.is_valid else simple


def _shown(polygons: Sequence[shapely.Polygon]) -> list[shapely.Geometry]:
    """Return what of each polygon no later one covers."""
    tree = shapely.STRtree(polygons)
    shown: list[shapely.Geometry] = []
    for index, polygon in enumerate(polygons):
        over = [polygons[other] for other in tree.query(polygon, predicate="intersects") if other > index]
        left = shapely.difference(polygon, shapely.union_all(over)) if over else polygon
        parts = [part for part in shapely.get_parts(left) if part.geom_type == "Polygon"]
        shown.append(max(parts, key=lambda part: float(part.area), default=shapely.Polygon()))
    return shown


def _levels(names: Sequence[Name], height: float) -> tuple[float, float]:
    """Return how far the names reach down (a number below nought where they go below the drawing) and up."""
    levels = [name.level for name in names if name.side]
    return min([0.0, *(level - LINE_HEIGHT for level in levels)]), max([height, *(y + LINE_HEIGHT for y in levels)])


def _column(names: Sequence[Name], side: int) -> float:
    longest = max((len(name.text) for name in names if name.side == side), default=0)
    return longest * LETTER * SIDE_FONT + 2 * LEADER if longest else 0.0


def _keys(regions: Sequence[Region]) -> list[str]:
    """Return what each region is coloured by: its layer, or its own colour where the drawing has no layers."""
    layered = any(region.layer for region in regions)
    return [region.layer if layered else region.colour for region in regions]


def _paints(regions: Sequence[Region]) -> tuple[dict[str, str], list[str]]:
    """Return the fill of each layer or colour, and the definitions of those that are striped."""
    paints: dict[str, str] = {}
    tiles: list[str] = []
    for index, key in enumerate(dict.fromkeys(_keys(regions))):
        colour, stripes = PALETTE[index % len(PALETTE)], STRIPES[index // len(PALETTE) % len(STRIPES)]
        paints[key] = f"url(#tile-{index})" if stripes else _tint(colour)
        if stripes:
            tiles.append(
                f'<pattern id="tile-{index}" width="8" height="8" patternUnits="userSpaceOnUse">'
                f'<rect width="8" height="8" fill="{_tint(colour)}"/>'
                f'<path d="{stripes}" stroke="{colour}" stroke-width="1.6"/></pattern>'
            )
    return paints, [f"<defs>{''.join(tiles)}</defs>"] if tiles else []


def _tint(colour: str) -> str:
    channels = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return "#" + "".join(f"{round(255 - TINT * (255 - channel)):02x}" for channel in channels)


def _regions(regions: Sequence[Region], polygons: Sequence[shapely.Polygon], paints: dict[str, str]) -> list[str]:
    return [
        f'<path d="{_path(polygon)}" fill="{paints[key]}" stroke="{INK}" stroke-width="1" '
        f'stroke-linejoin="round" fill-rule="evenodd"><title>{_safe(region.name)}</title></path>'
        for region, key, polygon in zip(regions, _keys(regions), polygons, strict=True)
    ]


def _path(polygon: shapely.Polygon) -> str:
    rings = (shapely.get_coordinates(ring)[:-1] for ring in (polygon.exterior, *polygon.interiors))
    return "".join(f"{_line(ring)}Z" for ring in rings)


def _line(points: NDArray[np.float64]) -> str:
    return "M" + "L".join(f"{_n(x)} {_n(-y)}" for x, y in points.tolist())


def _names(names: Sequence[Name], width: float) -> list[str]:
    lines: list[str] = []
    for name in names:
        if not name.side:
            lines.append(_text(name.x, 0.35 * name.font - name.y, name.text, name.font, anchor="middle", halo=True))
            continue
        edge = -LEADER / 2 if name.side < 0 else width + LEADER / 2
        end = edge + name.side * LEADER
        points = f"{_n(name.x)},{_n(-name.y)} {_n(edge)},{_n(-name.level)} {_n(end)},{_n(-name.level)}"
        lines += [
            f'<polyline points="{points}" fill="none" stroke="{PAPER}" stroke-width="3" stroke-opacity="0.7"/>',
            f'<polyline points="{points}" fill="none" stroke="{INK}" stroke-width="0.8"/>',
            f'<circle cx="{_n(name.x)}" cy="{_n(-name.y)}" r="2.2" fill="{INK}" stroke="{PAPER}"/>',
            _text(end + name.side * 5, 0.35 * name.font - name.level, name.text, name.font,
                  anchor="end" if name.side < 0 else "start"),
        ]  # fmt: skip
    return lines


def _sizes(size: tuple[Mm, Mm], px: tuple[float, float], column: float) -> list[str]:
    """Return the dimension lines: the width below, the height to the left of the names there."""
    below, beside = 26.0, -column - 14.0
    line = f'fill="none" stroke="{QUIET}" stroke-width="1"'
    return [
        f'<path d="M0 {_n(below - 5)}V{_n(below + 5)}M0 {_n(below)}H{_n(px[0])}m0 -5v10" {line}/>',
        _text(px[0] / 2, below + 18, format_mm(size[0], 2), 13, anchor="middle", colour=QUIET),
        f'<path d="M{_n(beside - 5)} 0h10M{_n(beside)} 0V{_n(-px[1])}m-5 0h10" {line}/>',
        f'<g transform="translate({_n(beside - 6)} {_n(-px[1] / 2)}) rotate(-90)">'
        + _text(0, 0, format_mm(size[1], 2), 13, anchor="middle", colour=QUIET, halo=True)
        + "</g>",
    ]


def _note(note: ReadNote) -> Told:
    subject = f"{note.subject}: " if note.subject else ""
    return Told(text=f"{note.kind.replace('-', ' ')}: {subject}{note.message}", at=note.at)


def _seams(seams: Seams | None, frame: _Frame) -> list[str]:
    """Return the seams as dark bands, and on them their stretches in the colours of their gaps."""
    if seams is None:
        return []
    lines: dict[int, str] = {}
    for along in seams.alongs:
        for step, points in seam_runs(along, seams.scale):
            lines[step] = lines.get(step, "") + _line((points - (frame.left, frame.bottom)) * frame.scale)
    band = f'<path d="{"".join(lines.values())}" {_stroke(INK, CASING)}/>'
    return [
        band,
        *(f'<path d="{lines[step]}" {_stroke(colour_of(step), CORE)}/>' for step in sorted(lines, reverse=True)),
    ]


def _stroke(colour: str, width: float) -> str:
    return f'fill="none" stroke="{colour}" stroke-width="{width}" stroke-linejoin="round" stroke-linecap="round"'


def _marks(told: Sequence[Told], frame: _Frame) -> list[str]:
    """Return a numbered ring for each thing that has a place and is listed below, the first over the others."""
    lines = []
    for number, one in reversed(list(enumerate(told[:MOST_TOLD], start=1))):
        if one.at is None:
            continue
        x, y = frame.of(*one.at)
        lines += [
            f'<circle cx="{_n(x)}" cy="{_n(-y)}" r="7" fill="none" stroke="{PAPER}" stroke-width="4"/>',
            f'<circle cx="{_n(x)}" cy="{_n(-y)}" r="7" fill="none" stroke="{ALARM}" stroke-width="2"/>',
            _text(x + 10, -y - 6, str(number), 12, colour=ALARM, halo=True, bold=True),
        ]
    return lines


def _heading(drawing: Drawing, y: float) -> list[str]:
    holes = sum(len(region.polygon.interiors) for region in drawing.regions)
    across, up = (format_mm(length, 2) for length in drawing.size)
    told = f"{across} wide, {up} high; regions: {len(drawing.regions)}, holes: {holes}"
    name = _text(EDGE, y - 6, shortened(plain_text(PurePath(drawing.source).name)), 20, bold=True)
    return [name, _text(EDGE, y + 14, told, 13, colour=QUIET)]


def _legend(regions: Sequence[Region], paints: dict[str, str], y: float) -> tuple[list[str], float]:
    """Return a line a layer with its colour and the number of its regions, and where the next thing may begin."""
    keys = _keys(regions)
    lines: list[str] = []
    for key, paint in list(paints.items())[:MOST_LISTED]:
        count = keys.count(key)
        told = f"{shortened(plain_text(key)) or 'no layer'}: {count} region{'s' if count > 1 else ''}"
        lines += [
            f'<rect x="{_n(EDGE)}" y="{_n(y - 11)}" width="18" height="13" fill="{paint}" stroke="{INK}"/>',
            _text(EDGE + 27, y, told, 13),
        ]
        y += 21
    if len(paints) > MOST_LISTED:
        lines.append(_text(EDGE + 27, y, f"and {len(paints) - MOST_LISTED} more", 13, colour=QUIET))
        y += 21
    return lines, y


def _ramp(seams: Seams | None, y: float) -> tuple[list[str], float]:
    """Return the steps of the scale with both ends and the middle, and where the next thing may begin."""
    if seams is None:
        return [], y
    low, high = seams.scale.ends
    lines = [_text(EDGE, y + 4, "Gap on each side, along the seam", 13)]
    for step, colour in enumerate(CIVIDIS):
        spot = f'x="{_n(EDGE + STEP * step)}" y="{_n(y + 14)}" width="{_n(STEP)}" height="14"'
        lines.append(f'<rect {spot} fill="{colour}" stroke="{INK}"/>')
    length = STEP * len(CIVIDIS)
    for value, says, share, anchor in (
        (low, "tighter", 0.0, "start"),
        (seams.scale.asked, "as asked", 0.5, "middle"),
        (high, "wider", 1.0, "end"),
    ):
        label = f"{says}: {value:.3f} mm, {format_thou(value)}"
        lines.append(_text(EDGE + share * length, y + 44, label, 12, anchor=anchor, colour=QUIET))
    return lines, y + 72


def _notes(told: Sequence[Told], unnamed: int, y: float, width: float) -> tuple[list[str], float]:
    """Return what is said, numbered as the rings are, and where it ends."""
    texts = [f"{number} {one.text}" for number, one in enumerate(told[:MOST_TOLD], start=1)]
    if len(told) > MOST_TOLD:
        texts.append(f"and {len(told) - MOST_TOLD} more")
    if unnamed:
        texts.append(f"{unnamed} small regions have no name here")
    lines: list[str] = []
    y += 8 if texts else 0
    for text in texts:
        for index, part in enumerate(textwrap.wrap(plain_text(text), max(int(width / (0.56 * 12)), 20))):
            lines.append(_text(EDGE + (16 if index else 0), y, part, 12, colour=INK))
            y += 17
    return lines, y


def _text(
    x: float, y: float, text: str, font: float, *, anchor: str = "start", colour: str = INK, halo: bool = False,
    bold: bool = False,
) -> str:  # fmt: skip
    around = f' stroke="{PAPER}" stroke-width="3" stroke-opacity="0.8" paint-order="stroke" stroke-linejoin="round"'
    return (
        f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(font)}" text-anchor="{anchor}" fill="{colour}"'
        f"{around if halo else ''}{' font-weight=' + chr(34) + 'bold' + chr(34) if bold else ''}>{_safe(text)}</text>"
    )


def _safe(text: str) -> str:
    return escape(plain_text(text))


def _n(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text
