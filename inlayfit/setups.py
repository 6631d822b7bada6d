"""A board that is longer than the machine's bed, cut in setups that are indexed by pins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from inlayfit.board import SIDES, Board
from inlayfit.errors import JobError
from inlayfit.units import Mm, format_mm

CLEARANCE: Mm = 2.0
"""Room for the cutter around whatever is cut whole in one setup."""

PIN_SPAN: Mm = 40.0
"""Two pins stand this far apart along the board, and on either side of it: a board turned round does not fit them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bed:
    """How long a board the machine reaches, and the pins; `pin_distance` is from the board's edge to a pin's middle."""

    length: Mm
    pin_diameter: Mm = 3.0
    pin_distance: Mm = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """One clamping: it reaches from `start` to `end` along the board, and cuts the items of these numbers.

    `pins` are the middles of the holes, in the coordinates of the board; the last two of a setup are the first two of
    the next. What the machine reads as x is the x of the board less `shift`.
    """

    number: int
    start: Mm
    end: Mm
    shift: Mm
    items: tuple[int, ...]
    pins: tuple[tuple[Mm, Mm], ...]


def plan_setups(extents: Sequence[tuple[Mm, Mm]], board: Board, bed: Bed) -> tuple[Setup, ...]:
    """Return the setups that cut every item whole: one without pins where the bed is long enough.

    Args:
        extents: from where to where each item reaches along the board, mm.
        board: the board.
        bed: how much of it the machine reaches, and the pins.

    Raises:
        JobError: the bed is too short for the longest item beside its pins.
    """
    if bed.length < _least(extents, bed):
        raise JobError(
            f"a bed of {format_mm(bed.length)} is too short for two pins and for what must be cut in one go",
            where="board.bed_length",
            remedy=f"it must reach {format_mm(_least(extents, bed), 1)} at least",
        )
    first = min(x for x, _ in board.outline) - CLEARANCE
    last = max(x for x, _ in board.outline) + CLEARANCE
    left = dict(enumerate(extents))
    setups: list[Setup] = []
    pins: tuple[tuple[Mm, Mm], ...] = ()
    start = first
    while True:
        end = min(start + bed.length, last)
        done = end >= last
        items = tuple(index for index, (_, right) in left.items() if done or right + CLEARANCE <= end)
        new = () if done else _pins(end, board, bed)
        setups.append(
            Setup(number=len(setups) + 1, start=start, end=end, shift=start - first, items=items, pins=(*pins, *new))
        )
        if done:
            return tuple(setups)
        left = {index: extent for index, extent in left.items() if index not in items}
        before_pins = min(x for x, _ in new) - _around(bed)
        start = min([before_pins, *(begin - CLEARANCE for begin, _ in left.values())])
        pins = new


def _around(bed: Bed) -> Mm:
    """Return the room on either side of the middle of a pin."""
    return bed.pin_diameter / 2 + CLEARANCE


def _pins(end: Mm, board: Board, bed: Bed) -> tuple[tuple[Mm, Mm], ...]:
    """Return the middles of two holes in the waste beside the board, as far toward the end of a setup as they can."""
    far = end - _around(bed)
    return tuple(
        (x, board.edge_at(x, side) + board.sign(side) * bed.pin_distance)
        for x, side in zip((far - PIN_SPAN, far), SIDES, strict=True)
    )


def _least(extents: Sequence[tuple[Mm, Mm]], bed: Bed) -> Mm:
    """Return how much of a board the machine must reach: every item whole, and half of it new each time."""
    longest = max((right - left for left, right in extents), default=0.0)
    return max(longest + 3 * CLEARANCE, 2 * (PIN_SPAN + 2 * _around(bed)))
