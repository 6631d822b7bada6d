"""A strict reader of RS-274 programs: the moves that a program makes, or the error that it has.

Rules: Kramer, Proctor, Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556, 2000. A rule marked
"(source)" stands in the source of that interpreter and not in the report; one marked "(from memory)" was not looked up.
Nothing of the package is imported. All values are in mm, mm/min and turns per minute, whatever the program's units.

Not followed, and told so: cycles, cutter compensation, tool length offset, inverse time, reference points, G53, G10,
G92, probing, parameters, expressions, rotary axes. Of a change of coordinate system the offsets are not known, so the
place is unknown (nan) behind it, as it is before the first move.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tests.program_lines import (
    COOLANT,
    DISTANCE,
    FEED_MODE,
    MOTION,
    NON_MODAL,
    PLANE,
    SPINDLE,
    STOP,
    SYSTEM,
    TOOL_CHANGE,
    UNITS,
    Line,
    NotJudgedError,
    ProgramError,
    lines_between_percents,
    read_line,
    whole,
)
from tests.program_moves import UNKNOWN, Arc, Comment, Event, Move, Point, Program, Turning

Pair = NDArray[np.float64]
"""First and second coordinate in the plane of an arc."""

MM_PER_INCH = 25.4
ARC_LIMIT_MM = 0.002
ARC_LIMIT_INCH = 0.0002
"""By how much the radii to both ends of an arc may differ: section 3.5.3.2; exactly that much passes."""
LAST_DIGIT = 1e-9
"""Of a program's unit: what floats may lose of a difference of two lengths."""

AXES_OF_PLANE = {170: (0, 1, 2), 180: (2, 0, 1), 190: (1, 2, 0)}
"""First, second and normal axis: right-handed, so that "clockwise" is seen from the positive end of the normal."""
PLANE_NAMES = {170: "XY", 180: "XZ", 190: "YZ"}
OFFSET_LETTERS = "IJK"
AXIS_LETTERS = "XYZ"
CLOCKWISE_CODE, COUNTERCLOCKWISE_CODE, NO_MOTION = 20, 30, 800
TURNING: dict[int, Turning] = {3: "clockwise", 4: "counterclockwise", 5: "off"}
SAID_BY_GROUP = {UNITS: "units", DISTANCE: "distance mode", FEED_MODE: "feed mode", PLANE: "plane"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _State:
    """What a controller keeps from line to line; before the program: G80, G17, G90, G94, G54 (from memory)."""

    position: Point
    motion: int = NO_MOTION
    plane: int = 170
    mm_per_unit: float = 1.0
    incremental: bool = False
    system: int = 540
    feed: float = 0.0
    feed_mm_per_unit: float = 1.0
    feed_unsaid: tuple[str, ...] = ()
    spindle: Turning = "off"
    speed: float = 0.0
    tool: int = 0
    said: frozenset[str] = frozenset()


def read_program(text: str, *, block_delete: bool = False, start: Point = UNKNOWN) -> Program:
    """Return what the program does; with `block_delete`, lines that begin with a slash are read and not executed.

    Raises:
        ProgramError: what the report or the source of its interpreter calls an error.
        NotJudgedError: what is legal, and not followed here.
    """
    lines, demarcated = lines_between_percents(text)
    state = _State(position=start)
    moves: list[Move] = []
    events: list[Event] = []
    comments: list[Comment] = []
    for number, raw in lines:
        line = read_line(number, raw)
        if line.deletable and block_delete:
            continue
        comments += [Comment(line=number, text=comment) for comment in line.comments]
        motion = _motion(line, state)
        _refuse_stray_words(line, motion)
        state = _set(line, state)
        events += _events(line, state)
        if motion in (None, NO_MOTION):
            state = replace(state, motion=line.g.get(MOTION, state.motion))
        else:
            moves.append(_move(line, state, motion))
            state = replace(state, motion=motion, position=moves[-1].end)
        if line.m.get(STOP) in (2, 30):
            return _program(moves, events, comments, f"M{line.m[STOP]}", state)
    if not demarcated:
        raise ProgramError(lines[-1][0], "no M2 or M30, and no percent lines")
    return _program(moves, events, comments, "%", state)


def _program(moves: list[Move], events: list[Event], comments: list[Comment], ended_by: str, state: _State) -> Program:
    return Program(
        moves=tuple(moves),
        events=tuple(events),
        comments=tuple(comments),
        ended_by=ended_by,
        spindle_at_end=state.spindle,
    )


def _motion(line: Line, state: _State) -> int | None:
    """Return ten times the motion code of this line, or None where nothing moves."""
    axes = any(letter in line.words for letter in AXIS_LETTERS)
    said = line.g.get(MOTION)
    if said is None:
        said = state.motion if axes else None
    elif said != NO_MOTION and not axes:
        raise ProgramError(line.number, f"G{said / 10:g} without X, Y or Z")
    if said == NO_MOTION and axes:
        raise ProgramError(line.number, "X, Y or Z where no motion is chosen: G80 is active")
    return said


def _refuse_stray_words(line: Line, motion: int | None) -> None:
    """Refuse words that nothing on the line uses (source): what could use L, Q, D and H is not judged anyway."""
    arc = motion in (CLOCKWISE_CODE, COUNTERCLOCKWISE_CODE)
    users = {"I": arc, "J": arc, "K": arc, "R": arc, "P": line.g.get(NON_MODAL) == 40}
    stray = [letter for letter in line.words if letter in "DHIJKLPQR" and not users.get(letter, False)]
    if stray:
        raise ProgramError(line.number, f"nothing on the line uses {' '.join(stray)} (source)")
    if line.g.get(NON_MODAL) == 40 and "P" not in line.words:
        raise ProgramError(line.number, "G4 without P (source)")


def _set(line: Line, state: _State) -> _State:
    """Return the state before the motion of this line, in the order of table 8.

    Feed, speed, tool, M6, spindle, plane, units, coordinate system, distance mode; so F counts in the units before.
    """
    words = line.words
    said = state.said | {name for group, name in SAID_BY_GROUP.items() if group in line.g}
    if "F" in words:
        unsaid = () if "units" in state.said else ("units of the feed",)
        feed = words["F"] * state.mm_per_unit
        state = replace(state, feed=feed, feed_mm_per_unit=state.mm_per_unit, feed_unsaid=unsaid)
    state = replace(state, speed=words.get("S", state.speed), said=said)
    if "T" in words:
        state = replace(state, tool=whole(line.number, "T", words["T"]))
    if TOOL_CHANGE in line.m:  # a change of tool stops the spindle (from memory)
        state = replace(state, spindle="off")
    if SPINDLE in line.m:
        state = replace(state, spindle=TURNING[line.m[SPINDLE]])
    state = replace(state, plane=line.g.get(PLANE, state.plane))
    if UNITS in line.g:
        state = replace(state, mm_per_unit=MM_PER_INCH if line.g[UNITS] == 200 else 1.0)
    if line.g.get(SYSTEM, state.system) != state.system:
        state = replace(state, system=line.g[SYSTEM], position=UNKNOWN)
    return replace(state, incremental=line.g.get(DISTANCE, 910 if state.incremental else 900) == 910)


def _events(line: Line, state: _State) -> list[Event]:
    """Return what else happens, in the order of table 8."""
    found = [Event(line=line.number, code="M6", value=state.tool)] if TOOL_CHANGE in line.m else []
    if COOLANT in line.m:
        found.append(Event(line=line.number, code=f"M{line.m[COOLANT]}"))
    if line.g.get(NON_MODAL) == 40:
        found.append(Event(line=line.number, code="G4", value=line.words["P"]))
    if line.m.get(STOP) in (0, 1):
        found.append(Event(line=line.number, code=f"M{line.m[STOP]}"))
    return found


def _move(line: Line, state: _State, motion: int) -> Move:
    kind: Literal["rapid", "straight", "arc"] = "rapid" if motion == 0 else "straight" if motion == 10 else "arc"
    if kind != "rapid" and state.feed == 0:
        raise ProgramError(line.number, f"G{motion / 10:g} with no feed rate, or zero (source)")
    if kind != "rapid" and state.feed_mm_per_unit != state.mm_per_unit:
        raise NotJudgedError(line.number, "a feed rate that was set before the units changed")
    end = _end(line, state)
    return Move(
        kind=kind,
        line=line.number,
        start=state.position,
        end=end,
        feed=state.feed,
        spindle=state.spindle,
        speed=state.speed,
        system=f"G{state.system / 10:g}",
        unsaid=_unsaid(state, kind),
        arc=_arc(line, state, end, motion) if kind == "arc" else None,
    )


def _unsaid(state: _State, kind: str) -> tuple[str, ...]:
    used = ["units", "distance mode"]
    used += ["feed mode"] if kind != "rapid" else []
    used += ["plane"] if kind == "arc" else []
    unsaid = tuple(name for name in used if name not in state.said)
    return unsaid + (state.feed_unsaid if kind != "rapid" else ())


def _end(line: Line, state: _State) -> Point:
    """Return where the move ends: an axis that is not named stays."""
    spots = []
    for letter, now in zip(AXIS_LETTERS, state.position, strict=True):
        if letter not in line.words:
            spots.append(now)
        else:
            spots.append(line.words[letter] * state.mm_per_unit + (now if state.incremental else 0.0))
    return (spots[0], spots[1], spots[2])


def _arc(line: Line, state: _State, end: Point, motion: int) -> Arc:
    """Return the arc of section 3.5.3: by its centre or by its radius."""
    first, second, normal = axes = AXES_OF_PLANE[state.plane]
    name = PLANE_NAMES[state.plane]
    if not {AXIS_LETTERS[first], AXIS_LETTERS[second]} & set(line.words):
        raise ProgramError(line.number, f"an arc in {name} without {name[0]} and {name[1]}")
    if OFFSET_LETTERS[normal] in line.words:
        raise ProgramError(line.number, f"{OFFSET_LETTERS[normal]} for an arc in {name} (source)")
    offsets = [letter for letter in (OFFSET_LETTERS[first], OFFSET_LETTERS[second]) if letter in line.words]
    if offsets and "R" in line.words:
        raise ProgramError(line.number, "an arc with R and with a centre (source)")
    if not offsets and "R" not in line.words:
        raise ProgramError(line.number, "an arc without a centre and without R")
    if any(math.isnan(spot[axis]) for spot in (state.position, end) for axis in (first, second)):
        raise NotJudgedError(line.number, "an arc at an unknown place")
    clockwise = motion == CLOCKWISE_CODE
    from_start = np.array([state.position[first], state.position[second]])
    to_end = np.array([end[first], end[second]])
    by_centre = _centre_by_offsets if offsets else _centre_by_radius
    centre = by_centre(line, state, from_start, to_end, clockwise)
    whole_centre = list(state.position)
    whole_centre[first], whole_centre[second] = centre.tolist()
    radii = [float(np.hypot(*(spot - centre))) for spot in (from_start, to_end)]
    return Arc(
        plane=name,
        axes=axes,
        centre=(whole_centre[0], whole_centre[1], whole_centre[2]),
        clockwise=clockwise,
        sweep_rad=_sweep(from_start - centre, to_end - centre, clockwise),
        radius=sum(radii) / 2,
    )


def _limit(state: _State) -> float:
    """Mm by which the radii may differ, in the units of the program."""
    of_units = ARC_LIMIT_INCH if state.mm_per_unit == MM_PER_INCH else ARC_LIMIT_MM
    return (of_units + LAST_DIGIT) * state.mm_per_unit


def _centre_by_offsets(line: Line, state: _State, start: Pair, end: Pair, clockwise: bool) -> Pair:
    """I, J and K count from the start of the arc, whatever the distance mode: section 3.5.17; equal ends: a circle."""
    first, second, _ = AXES_OF_PLANE[state.plane]
    offset = [line.words.get(OFFSET_LETTERS[axis], 0.0) * state.mm_per_unit for axis in (first, second)]
    centre: Pair = start + np.array(offset)
    to_start, to_end = np.hypot(*(start - centre)), np.hypot(*(end - centre))
    if to_start == 0 or to_end == 0:
        raise ProgramError(line.number, "an arc of zero radius (source)")
    if abs(to_start - to_end) > _limit(state):
        raise ProgramError(
            line.number, f"the radius is {to_start:.6f} mm at the start of the arc and {to_end:.6f} mm at its end"
        )
    return centre


def _centre_by_radius(line: Line, state: _State, start: Pair, end: Pair, clockwise: bool) -> Pair:
    """R > 0: up to half a turn; R < 0: more; too small within the limit: half a turn (source, from memory)."""
    radius = line.words["R"] * state.mm_per_unit
    half = float(np.hypot(*(end - start))) / 2
    if half == 0:
        raise ProgramError(line.number, "an arc with R that ends where it begins")
    if radius == 0 or half - abs(radius) > _limit(state):
        raise ProgramError(line.number, f"a radius of {abs(radius):.6f} mm is too small to reach the end of the arc")
    rise = math.sqrt(max(abs(radius) - half, 0.0)) * math.sqrt(abs(radius) + half)  # squares could overflow
    left = np.array([start[1] - end[1], end[0] - start[0]]) / (2 * half)  # unit, to the left of the way to the end
    to_the_left = (radius > 0) != clockwise
    centre: Pair = (start + end) / 2 + (rise if to_the_left else -rise) * left
    return centre


def _sweep(start: Pair, end: Pair, clockwise: bool) -> float:
    """Return the angle swept, over 0 and up to a whole turn."""
    if np.array_equal(start, end):
        return math.tau
    turned = math.atan2(end[1], end[0]) - math.atan2(start[1], start[0])
    sweep = (-turned if clockwise else turned) % math.tau
    return sweep or math.tau
