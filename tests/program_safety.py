"""What a cutting program must not do, beyond what the report on RS-274 calls an error.

Common practice, no source: the report lets a rapid run through stock and a cutter that stands still be pushed into it.
These are signs, not a proof: what is safe is for the machine's maker, local rules and who stands beside it to say.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from tests.program_measures import chord_count, goes_straight_down, swept_ground
from tests.program_moves import Move, Program

SLACK = 1e-6
"""Mm: heights this near are equal."""
CLOSED_WITHIN = 0.002
"""Mm between the ends of an arc: a controller that rounds may take them for one, and make a whole turn or none."""
UNCUT = 0.002
"""Mm: a rim of stock as narrow as this beside an earlier cut is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Complaint:
    """One thing that a program should not do; `line` counts from 1."""

    kind: str
    line: int
    text: str


def check_safety(
    program: Program, *, safe_z: float, floor: float, radius: float, plunge: float, top: float = 0.0
) -> list[Complaint]:
    """Return all complaints about a program, in its order.

    Args:
        program: what was read.
        safe_z: rapids go sideways at this height or over it.
        floor: no move goes deeper.
        radius: of the cutter, which is flat.
        plunge: it may go straight down this deep into stock, not further; through what was cut before it may.
        top: height of the stock.

    Returns: kinds "rapid sideways", "rapid down", "unknown start", "spindle", "feed", "floor", "plunge", "modes",
        "closed arc", "end height", "end spindle".
    """
    complaints: list[Complaint] = []
    for index, move in enumerate(program.moves):
        found = _of_cut(move, top) if move.cuts else _of_rapid(move, safe_z, top)
        found += _of_any(move, floor)
        if goes_straight_down(move) and _into_stock(program.moves[: index + 1], radius, plunge, top):
            found.append(("plunge", f"straight down over {plunge:g} mm into stock"))
        complaints += [Complaint(kind=kind, line=move.line, text=text) for kind, text in found]
    return complaints + _of_end(program, safe_z)


def _of_rapid(move: Move, safe_z: float, top: float) -> list[tuple[str, str]]:
    found = []
    (*_, z_start), (*_, z_end) = move.start, move.end
    stays = all(one == other or (math.isnan(one) and math.isnan(other)) for one, other in _plan(move))
    high = z_start >= safe_z - SLACK and z_end >= safe_z - SLACK  # false where a height is not known
    if not stays and not high:
        found.append(("rapid sideways", f"G0 sideways from Z {z_start:g} to {z_end:g}, below {safe_z:g}"))
    if z_end < top - SLACK and not z_end >= z_start:
        found.append(("rapid down", f"G0 down to Z {z_end:g}, below the top of the stock at {top:g}"))
    return found


def _of_cut(move: Move, top: float) -> list[tuple[str, str]]:
    found = []
    if any(math.isnan(spot) for spot in move.start):
        found.append(("unknown start", "a cut from a place that no line has set"))
    if _lowest(move) < top - SLACK and (move.spindle == "off" or move.speed <= 0):
        found.append(("spindle", f"a cut with the spindle {move.spindle} at S {move.speed:g}"))
    if move.feed <= 0:
        found.append(("feed", "a cut before a feed is set"))
    return found


def _of_any(move: Move, floor: float) -> list[tuple[str, str]]:
    found = []
    if _lowest(move) < floor - SLACK:
        found.append(("floor", f"down to Z {_lowest(move):g}, below {floor:g}"))
    if move.unsaid:
        found.append(("modes", f"relies on what the controller has been left in: {', '.join(move.unsaid)}"))
    if move.arc is not None:
        apart = math.dist(*([spot[axis] for axis in move.arc.axes[:2]] for spot in (move.start, move.end)))
        if 0 < apart < CLOSED_WITHIN < 2 * move.arc.radius:
            found.append(("closed arc", f"an arc whose ends are {apart:.6f} mm apart, radius {move.arc.radius:g}"))
    return found


def _of_end(program: Program, safe_z: float) -> list[Complaint]:
    found = []
    last = program.moves[-1] if program.moves else None
    line = last.line if last else 1
    if last and not last.end[2] >= safe_z - SLACK:
        found.append(Complaint(kind="end height", line=line, text=f"ends at Z {last.end[2]:g}, below {safe_z:g}"))
    if program.spindle_at_end != "off":
        text = f"the spindle still turns {program.spindle_at_end} when {program.ended_by} ends the program"
        found.append(Complaint(kind="end spindle", line=line, text=text))
    return found


def _plan(move: Move) -> list[tuple[float, float]]:
    return list(zip(move.start[:2], move.end[:2], strict=True))


def _lowest(move: Move) -> float:
    """Return the lowest height on the way."""
    if move.arc is None or move.arc.axes[2] == 2:
        return min(move.end[2], move.start[2])  # in this order the end counts where the start is not known
    chords = chord_count(move.arc.radius, move.arc.sweep_rad, within=SLACK)
    return float(move.at(np.linspace(0.0, 1.0, chords + 1))[:, 2].min())


def _into_stock(moves: tuple[Move, ...], radius: float, plunge: float, top: float) -> bool:
    """Return whether the last move, with those straight down that lead to it, goes too deep below what was cut."""
    first = len(moves) - 1
    while first > 0 and goes_straight_down(moves[first - 1]):
        first -= 1
    end = moves[-1].end
    level = end[2] + plunge
    if min(top, moves[first].start[2]) <= level + SLACK:
        return False
    near = [move for move in moves[:first] if move.cuts and _comes_near(move, end[:2], 2 * radius)]
    (ground,) = swept_ground(near, radius, [level])
    return not shapely.covers(ground, shapely.Point(end[:2]).buffer(radius - UNCUT, quad_segs=64))


def _comes_near(move: Move, spot: tuple[float, float], within: float) -> bool:
    """Return whether a box about the way comes near; a whole circle is boxed for an arc."""
    reach = within + (2 * move.arc.radius if move.arc else 0.0)
    return all(min(ends) - reach <= at <= max(ends) + reach for ends, at in zip(_plan(move), spot, strict=True))
