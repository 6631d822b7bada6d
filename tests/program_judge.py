"""The stranger who judges a cutting program: reads it strictly, complains of what is not safe, measures what it cuts.

It imports nothing of the package. `read_program` raises where the report on RS-274 (NISTIR 6556,
see `program_reader.py`) sees an error; `check_safety` complains of what the report lets pass; the measures tell what
ground a flat cutter sweeps, how deep it cuts, how far it goes and how long that takes.
"""

from __future__ import annotations

from tests.program_lines import NotJudgedError, ProgramError
from tests.program_measures import Lengths, deepest_step, lengths_of, swept_ground, time_of
from tests.program_moves import UNKNOWN, Arc, Comment, Event, Move, Program
from tests.program_reader import read_program
from tests.program_safety import Complaint, check_safety

__all__ = [
    "UNKNOWN",
    "Arc",
    "Comment",
    "Complaint",
    "Event",
    "Lengths",
    "Move",
    "NotJudgedError",
    "Program",
    "ProgramError",
    "check_safety",
    "deepest_step",
    "lengths_of",
    "read_program",
    "swept_ground",
    "time_of",
]
