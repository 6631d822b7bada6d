"""The JSON of the cutting programs: lengths mm, feeds mm a minute."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from inlayfit.programs import Program
from inlayfit.report.summary import plain_table

START_SLOWLY = "feeds are figures to start from: try them in waste; minutes without speeding up and slowing down"


def program_summary(programs: Sequence[Program]) -> dict[str, Any]:
    """Return what the programs add to the document of a fit."""
    return plain_table(
        {
            "programs": [
                {
                    "file": f"{program.file}.nc",
                    "of": program.of,
                    "bit_mm": program.bit.diameter,
                    "rpm": program.speeds.rpm,
                    "feed_mm_per_min": program.speeds.feed,
                    "pass_mm": program.speeds.pass_depth,
                    "lowest_mm": program.bottom,
                    "cuts": len(program.cuts),
                    "moves": len(program.moves),
                    "minutes": program.minutes,
                }
                for program in programs
            ]
        }
    )
