"""`inlayfit frets`: the fret table of a scale, or of two."""

from __future__ import annotations

import argparse

from inlayfit.cli.codes import GOOD
from inlayfit.cli.options import Parser, add_common_options, length, size, whole_number
from inlayfit.cli.output import show_json
from inlayfit.cli.stdout import write
from inlayfit.errors import JobError
from inlayfit.fretboard import TWELVE, Scale, fret_rows
from inlayfit.units import MM_PER_INCH, format_mm

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any

    from inlayfit.fretboard import FretRow, Side
    from inlayfit.units import Mm

EXAMPLES = """\
  inlayfit frets --scale 25.5in --frets 22
  inlayfit frets --scale 27in --treble-scale 25.5in --perpendicular 7 --frets 24
  inlayfit frets --scale 650mm --frets 38 --divisions 19 --csv
  inlayfit frets --scale 628mm --frets 20 --zero-fret --nut-offset -3mm --json
"""
OPTION = {
    "scale": "--scale",
    "treble_scale": "--treble-scale",
    "frets": "--frets",
    "divisions": "--divisions",
    "perpendicular": "--perpendicular",
    "nut_offset": "--nut-offset",
}
"""The option behind each field that a scale may refuse."""

MM_DIGITS = 3
INCH_DIGITS = 5
"""As fine as 0.001 mm, which is 0.00004 in."""


def parser() -> Parser:
    """Return the options of the command."""
    options = Parser(
        "frets",
        description="Print where the frets lie: from the nut, and from the fret before, in mm and inches.\n"
        "Lay them out from the nut: steps add up their errors. Two scales give fanned frets, measured along\n"
        "the centre line from the nut on the bass side; skew is how much farther the bass end lies.",
        examples=EXAMPLES,
    )
    options.add_argument(
        "--scale", type=size("--scale"), metavar="LENGTH", required=True, help="scale length, of the bass side if two"
    )
    options.add_argument(
        "--frets", type=whole_number("--frets"), metavar="NUMBER", required=True, help="how many frets: 1 to 200"
    )
    options.add_argument(
        "--treble-scale", type=size("--treble-scale"), metavar="LENGTH", help="scale of the treble side, for a fan"
    )
    options.add_argument(
        "--perpendicular",
        type=_fret_number,
        metavar="FRET",
        help="the fret of a fan that stands square; 0 is the nut (0)",
    )
    options.add_argument(
        "--divisions",
        type=whole_number("--divisions"),
        metavar="NUMBER",
        default=TWELVE,
        help="equal steps of an octave (12)",
    )
    options.add_argument(
        "--nut-offset",
        type=length("--nut-offset"),
        metavar="LENGTH",
        default=0.0,
        help="how much nearer to the bridge the nut stands; below zero: behind the scale's origin (0)",
    )
    options.add_argument("--zero-fret", action="store_true", help="a fret at the origin of the scale, before the nut")
    options.add_argument("--csv", action="store_true", help="print comma-separated values")
    add_common_options(options)
    return options


def _fret_number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise JobError(f"{text!r} is no fret", where="--perpendicular", remedy="give a number such as 7") from None


def run(options: argparse.Namespace) -> int:
    """Print the table."""
    scale = _scale(options)
    if options.json and options.csv:
        raise JobError("JSON and CSV at once", where="--json, --csv", remedy="give one of them")
    if options.json:
        show_json(_document(scale))
    elif options.csv:
        write(_csv(scale))
    else:
        write(_table(scale))
    return GOOD


def _scale(options: argparse.Namespace) -> Scale:
    if options.perpendicular is not None and options.treble_scale is None:
        raise JobError(
            "all frets stand square on one scale", where="--perpendicular", remedy="give --treble-scale as well"
        )
    try:
        return Scale(
            bass=options.scale,
            treble=options.scale if options.treble_scale is None else options.treble_scale,
            frets=options.frets,
            divisions=options.divisions,
            perpendicular=options.perpendicular or 0.0,
            nut_offset=options.nut_offset,
            zero_fret=options.zero_fret,
        )
    except JobError as error:
        raise JobError(error.message, where=OPTION[error.where], remedy=error.remedy) from error


def _sides(scale: Scale) -> tuple[Side, ...]:
    return ("bass", "treble") if scale.fanned else ("bass",)


def _document(scale: Scale) -> dict[str, Any]:
    """Return the JSON: mm rounded to a nanometre."""
    document: dict[str, Any] = {
        "scale_mm": _six(scale.bass),
        "treble_scale_mm": _six(scale.treble),
        "divisions": scale.divisions,
        "perpendicular": scale.perpendicular if scale.fanned else None,
        "nut_offset_mm": _six(scale.nut_offset),
        "zero_fret": scale.zero_fret,
    }
    tables = {side: fret_rows(scale, side) for side in _sides(scale)}
    if not scale.fanned:
        return document | {"frets": [{"fret": row.fret} | _entry(row) for row in tables["bass"]]}
    rows = zip(tables["bass"], tables["treble"], strict=True)
    return document | {
        "frets": [
            {
                "fret": bass.fret,
                "bass": _entry(bass) | {"along_mm": _six(bass.along)},
                "treble": _entry(treble) | {"along_mm": _six(treble.along)},
                "skew_mm": _six(bass.along - treble.along),
            }
            for bass, treble in rows
        ]
    }


def _entry(row: FretRow) -> dict[str, float]:
    return {
        "from_nut_mm": _six(row.from_nut),
        "step_mm": _six(row.step),
        "from_nut_in": _six(row.from_nut / MM_PER_INCH),
        "step_in": _six(row.step / MM_PER_INCH),
    }


def _six(value: Mm) -> float:
    return round(value, 6) + 0.0


COLUMNS = ("from_nut_mm", "step_mm", "from_nut_in", "step_in")


def _grid(scale: Scale) -> tuple[list[str], list[list[str]]]:
    """Return the headings and the cells of a table: of both sides and the skew where the frets are fanned."""
    sides = _sides(scale)
    tables = [fret_rows(scale, side) for side in sides]
    headings = ["fret", *(f"{side}_{name}" if scale.fanned else name for side in sides for name in COLUMNS)]
    rows = [[str(rows[0].fret), *(cell for row in rows for cell in _cells(row))] for rows in zip(*tables, strict=True)]
    if scale.fanned:
        headings += ["treble_along_mm", "skew_mm"]
        for row, bass, treble in zip(rows, *tables, strict=True):
            row += [_mm(treble.along), _mm(bass.along - treble.along)]
    return headings, rows


def _cells(row: FretRow) -> tuple[str, ...]:
    return (_mm(row.from_nut), _mm(row.step), _inch(row.from_nut), _inch(row.step))


def _mm(value: Mm) -> str:
    return f"{round(value, MM_DIGITS) + 0.0:.{MM_DIGITS}f}"


def _inch(value: Mm) -> str:
    return f"{round(value / MM_PER_INCH, INCH_DIGITS) + 0.0:.{INCH_DIGITS}f}"


def _csv(scale: Scale) -> str:
    headings, rows = _grid(scale)
    return "".join(",".join(row) + "\n" for row in (headings, *rows))


WORDS = {"from_nut_mm": "mm", "step_mm": "step", "from_nut_in": "inch", "step_in": "step", "along_mm": "along"}


def _table(scale: Scale) -> str:
    """Return the table for the screen, under a line that says what it is of."""
    headings, rows = _grid(scale)
    short = [_short(heading) for heading in headings]
    widths = [max(len(heading), *(len(row[i]) for row in rows)) for i, heading in enumerate(short)]
    lines = ["  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in (short, *rows)]
    return "\n".join([_title(scale), "", *lines, ""])


def _short(heading: str) -> str:
    """Return the heading of a column; of the columns of one side only the first names it."""
    side, _, rest = heading.partition("_")
    if side not in {"bass", "treble"}:
        return WORDS.get(heading, heading.removesuffix("_mm"))
    return f"{side} mm" if rest == "from_nut_mm" else WORDS[rest]


def _title(scale: Scale) -> str:
    words = [f"scale {_both(scale.bass)}"]
    if scale.fanned:
        words = [f"bass {_both(scale.bass)}", f"treble {_both(scale.treble)}", f"square at {scale.perpendicular:g}"]
    words += [f"{scale.frets} frets", f"{scale.divisions} to the octave"]
    if scale.nut_offset:
        words.append(f"nut {format_mm(scale.nut_offset)} nearer to the bridge")
    return ", ".join(words)


def _both(value: Mm) -> str:
    return f"{format_mm(value)} ({value / MM_PER_INCH:.3f} in)"
