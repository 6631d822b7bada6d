"""Where names stand in a picture: inside their region where they fit, else beside the drawing on a leader line.

All lengths are px of the picture, y up, as the polygons that come in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

LETTER = 0.64
"""Width of a letter in font sizes: wide enough for the capitals of common sans-serif types (no source)."""

LARGEST_FONT, SMALLEST_FONT = 18.0, 9.0
"""A name within a region is never larger, and stands outside before it gets smaller."""

SIDE_FONT = 12.0
LINE_HEIGHT = 17.0
LONGEST_NAME = 36
MOST_LEADERS = 120
"""More leader lines than this hide the drawing; the rest is counted."""

SPOT_TOLERANCE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Name:
    """A name: inside (`side` 0) centred on x, y; or to the left (-1) or right (1) at `level`, led there from x, y."""

    text: str
    x: float
    y: float
    font: float
    side: int = 0
    level: float = 0.0


def place_names(names: Sequence[str], shown: Sequence[shapely.Geometry]) -> tuple[list[Name], int]:
    """Return where each name stands, and how many were left out; `shown` is what of each region no other covers.

    Regions of which nothing shows have no name in the picture.
    """
    inside: list[Name] = []
    outside: list[Name] = []
    areas = list(shown)
    left, _, right, _ = shapely.total_bounds(areas)
    order = sorted(range(len(names)), key=lambda index: -float(areas[index].area))
    for index in order:
        if areas[index].is_empty:
            continue
        name = shortened(names[index])
        spot = _inside(name, areas[index])
        if spot is not None:
            inside.append(spot)
            continue
        x, y = _middle(areas[index])
        outside.append(Name(text=name, x=x, y=y, font=SIDE_FONT, side=-1 if x < (left + right) / 2 else 1))
    led = outside[:MOST_LEADERS]
    sides = [_spread([name for name in led if name.side == side]) for side in (-1, 1)]
    return [*inside, *sides[0], *sides[1]], len(outside) - len(led)


def shortened(text: str) -> str:
    """Return a name that is not too long for its line.

    >>> shortened("feather"), shortened("a" * 40)[-5:]
    ('feather', 'aa...')
    """
    return text if len(text) <= LONGEST_NAME else f"{text[: LONGEST_NAME - 3]}..."


def _inside(name: str, area: shapely.Geometry) -> Name | None:
    """Return the name at the roomiest place for a box of its shape, or None where it would be too small.

    The box is half as wide again as high in proportion, so squeeze the area by that and take the largest disc: the box
    whose corners lie on the ellipse that the disc becomes again fits for sure.
    """
    aspect = LETTER * max(len(name), 1)
    squeezed = shapely.transform(area, lambda points: points / (aspect, 1.0))
    circle = shapely.maximum_inscribed_circle(squeezed, tolerance=SPOT_TOLERANCE)
    font = min(float(circle.length) * 2**0.5, LARGEST_FONT)
    if font < SMALLEST_FONT:
        return None
    x, y = circle.coords[0]
    return Name(text=name, x=float(x) * aspect, y=float(y), font=font)


def _middle(area: shapely.Geometry) -> tuple[float, float]:
    x, y = shapely.maximum_inscribed_circle(area, tolerance=SPOT_TOLERANCE).coords[0]
    return float(x), float(y)


def _spread(names: list[Name]) -> list[Name]:
    """Return the names of one side with levels at least a line apart, each as near to its own height as can be."""
    names = sorted(names, key=lambda name: name.y)
    if not names:
        return []
    steps = np.arange(len(names)) * LINE_HEIGHT
    levels = _rising(np.array([name.y for name in names]) - steps) + steps
    return [
        Name(text=name.text, x=name.x, y=name.y, font=name.font, side=name.side, level=float(level))
        for name, level in zip(names, levels, strict=True)
    ]


def _rising(values: np.ndarray) -> np.ndarray:
    """Return the rising sequence that is nearest in squares: neighbours in the wrong order are pooled to their mean."""
    means: list[float] = []
    counts: list[int] = []
    for value in values.tolist():
        means.append(value)
        counts.append(1)
        while len(means) > 1 and means[-2] > means[-1]:
            count = counts[-2] + counts[-1]
            means[-2:] = [(means[-2] * counts[-2] + means[-1] * counts[-1]) / count]
            counts[-2:] = [count]
    return np.repeat(means, counts)
