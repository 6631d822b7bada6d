"""Dashes: tracks cut by length along them (SVG 2, section 13.5.6)."""

from __future__ import annotations

import numpy as np

from inlayfit.errors import DrawingError
from inlayfit.read.outline import Floats
from inlayfit.read.tracks import Track

_MOST = 100_000  # dashes of one element


def dash(
    lines: list[Track], dashes: tuple[float, ...], offset: float, scale: float, path_length: float | None
) -> list[Track]:
    """Return the dashes as open tracks; the pattern begins anew with each subpath.

    Args:
        lines: the subpaths.
        dashes: lengths on and off in user units, of even count.
        offset: where in the pattern a subpath begins, user units.
        scale: track units in one user unit.
        path_length: what the author says the whole path measures, or None.
    """
    lengths = [_lengths(line) for line in lines]
    total = sum(float(length[-1]) for length in lengths)
    if path_length is not None:
        scale = total / path_length
    pattern = np.array(dashes) * scale
    if total / float(pattern.sum()) * len(pattern) > _MOST:
        raise DrawingError(f"over {_MOST:,} dashes on one line", remedy="use a longer dash or a solid line")
    return [
        piece
        for line, length in zip(lines, lengths, strict=True)
        for begin, end in _marks(float(length[-1]), pattern, offset * scale)
        for piece in (_piece(line, length, begin, end),)
    ]


def _lengths(line: Track) -> Floats:
    """Return the length along the curve at each point (n,), the way back to the start of a closed one included.

    A chord is shorter than its arc by the factor 1 - turn^2 / 24, to the second order.
    """
    following, inward = np.roll(line.points, -1), np.roll(line.incoming, -1)
    turn = np.angle(line.outgoing.conj() * inward)
    steps = np.abs(following - line.points) * (1 + np.minimum(turn * turn, 1) / 24)
    return np.concatenate(((0.0,), np.cumsum(steps if line.closed else steps[:-1])))


def _marks(length: float, pattern: Floats, offset: float) -> list[tuple[float, float]]:
    """Return where each dash begins and ends along a line."""
    period = float(pattern.sum())
    edges = np.concatenate(((0.0,), np.cumsum(pattern)))
    start = -(offset % period)
    found = []
    for turn in range(int((length - start) // period) + 1):
        for on in range(0, len(pattern), 2):
            begin, end = start + turn * period + edges[on], start + turn * period + edges[on + 1]
            if begin <= length and end >= 0 and (end > 0 or begin == end) and (begin < length or begin == end):
                found.append((max(begin, 0.0), min(end, length)))
    return found


def _piece(line: Track, length: Floats, begin: float, end: float) -> Track:
    """Return the part of a track between two lengths along it."""
    count = len(line.points)
    first = int(np.searchsorted(length, begin, side="right"))
    last = int(np.searchsorted(length, end, side="left"))
    inner = np.arange(first, max(last, first)) % count
    (start, away), (stop, onward) = (_at(line, length, where, count) for where in (begin, end))
    return Track(
        points=np.concatenate(((start,), line.points[inner], (stop,))),
        incoming=np.concatenate(((away,), line.incoming[inner], (onward,))),
        outgoing=np.concatenate(((away,), line.outgoing[inner], (onward,))),
        swell=np.concatenate(((0.0,), line.swell[inner], (0.0,))),
        closed=False,
    )


def _at(line: Track, length: Floats, where: float, count: int) -> tuple[complex, complex]:
    """Return the point and the tangent at a length along the track."""
    before = min(max(int(np.searchsorted(length, where, side="right")) - 1, 0), len(length) - 2)
    step = float(length[before + 1] - length[before])
    part = (where - float(length[before])) / step if step else 0.0
    a, b = before % count, (before + 1) % count
    tangent = complex(line.outgoing[a] * (1 - part) + line.incoming[b] * part)
    return complex(line.points[a] * (1 - part) + line.points[b] * part), tangent / abs(tangent)
