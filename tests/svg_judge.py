"""A renderer by other hands as the judge of what is painted: the file, and the regions read from it, drawn by it.

resvg draws both, so that its edges are softened alike; what differs is what was read. Pixels are decoded by Pillow.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.drawing import ReadNote
from inlayfit.read.fonts import load_fonts
from inlayfit.read.svg import scene_of
from inlayfit.read.svg_build import Builder
from inlayfit.read.svg_notes import Notes

Pixels = NDArray[np.int16]

FLATNESS = 0.01  # px
NO_COLOUR = "#808080"
FAINT = 8  # of 255: less is the soft rim of an edge


def pixels_of_file(path: Path, width: int, fonts: Sequence[Path] = ()) -> Pixels:
    """Return RGBA (h, w, 4) of an SVG file. 96 px an inch, or its mm and pt come out wrong."""
    import resvg_py

    files = {"font_files": [str(font) for font in fonts], "skip_system_fonts": True}
    return _decoded(resvg_py.svg_to_bytes(svg_path=str(path), dpi=96, width=width, **files))


def pixels_as_read(
    path: Path, shape: tuple[int, int], fonts: Sequence[Path] = ()
) -> tuple[Pixels, tuple[ReadNote, ...]]:
    """Return RGBA of what was read from an SVG file, on its page of `shape` (height, width) px, and the notes."""
    notes = Notes()
    page, painted = scene_of(path, notes, fonts=load_fonts(fonts))
    # the renderer stretches its picture as though the page were whole px wide and high
    across, down = (max(round(size), 1) for size in page.size)
    builder = Builder((shape[1] / across, 0, 0, shape[0] / down, 0, 0), FLATNESS, notes)
    body = "".join(
        f'<path fill="{one.colour or NO_COLOUR}" fill-rule="evenodd" d="{"".join(map(_data, polygons))}"/>'
        for one, polygons in zip(painted, builder.build(painted), strict=True)
    )
    head = f'xmlns="http://www.w3.org/2000/svg" width="{shape[1]}" height="{shape[0]}"'
    return pixels_of_text(f"<svg {head}>{body}</svg>"), notes.collected()


def pixels_of_text(svg: str) -> Pixels:
    """Return RGBA of an SVG document at its own size in px."""
    import resvg_py

    return _decoded(resvg_py.svg_to_bytes(svg_string=svg))


def share_that_differs(one: Pixels, two: Pixels) -> float:
    """Return how many pixels are painted in one picture alone or in another colour, as a share of the painted ones."""
    painted = [picture[..., 3] >= 128 for picture in (one, two)]
    differs = np.abs(one[..., 3] - two[..., 3]) >= 128  # half a pixel: less is how a rectangle's edge is softened
    solid = (one[..., 3] == 255) & (two[..., 3] == 255)
    differs |= solid & (np.abs(one - two)[..., :3].max(axis=2) > 40)
    return float(differs.sum() / max(painted[0].sum(), painted[1].sum(), 1))


def silhouettes(one: Pixels, two: Pixels) -> float:
    """Return the share of pixels with any paint at all in one picture and none in the other, whatever the colours."""
    a, b = one[..., 3] > FAINT, two[..., 3] > FAINT
    return float((a ^ b).sum() / max(a.sum(), b.sum(), 1))


def share_beyond_edges(one: Pixels, two: Pixels) -> float:
    """Return the share of pixels painted all round in one picture and nowhere near in the other: paint may be soft."""
    a, b = one[..., 3] > 2, two[..., 3] > 2
    differs = (_shrunk(a) & ~_grown(b)) | (_shrunk(b) & ~_grown(a))
    return float(differs.sum() / max(a.sum(), b.sum(), 1))


def _grown(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.asarray(_neighbours(mask).any(axis=0))


def _shrunk(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.asarray(_neighbours(mask).all(axis=0))


def _neighbours(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    padded = np.pad(mask, 1, mode="edge")
    height, width = mask.shape
    return np.stack([padded[y : y + height, x : x + width] for y in range(3) for x in range(3)])


def _data(polygon: shapely.Polygon) -> str:
    rings = (polygon.exterior, *polygon.interiors)
    return "".join("M" + "L".join(f"{x:.5f} {y:.5f}" for x, y in ring.coords[:-1]) + "Z" for ring in rings)


def _decoded(data: object) -> Pixels:
    from PIL import Image

    return np.asarray(Image.open(io.BytesIO(bytes(data))).convert("RGBA")).astype(np.int16)  # type: ignore[call-overload]
