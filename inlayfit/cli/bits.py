"""`inlayfit bits`: the standard sizes."""

from __future__ import annotations

import argparse

from inlayfit.cli.codes import GOOD
from inlayfit.cli.options import Parser, add_common_options
from inlayfit.cli.output import show_json
from inlayfit.cli.stdout import write
from inlayfit.cutters import STANDARD_SIZES
from inlayfit.units import MM_PER_INCH, format_inch

EXAMPLES = """\
  inlayfit bits
  inlayfit bits --json
"""


def parser() -> Parser:
    """Return the options of the command."""
    options = Parser(
        "bits",
        description="List the standard bit sizes in inch and millimetres: 1/64 to 1/8 in, and 0.2 to 3 mm.",
        examples=EXAMPLES,
    )
    add_common_options(options)
    return options


def run(options: argparse.Namespace) -> int:
    """Print the table."""
    if options.json:
        show_json({"bits": [_row(diameter) for diameter in STANDARD_SIZES]})
        return GOOD
    lines = ["size       inch      mm"]
    for diameter in STANDARD_SIZES:
        row = _row(diameter)
        lines.append(f"{row['size']:<8}  {row['inch']:.4f}  {row['mm']:.4f}")
    write("\n".join(lines) + "\n")
    return GOOD


def _row(diameter: float) -> dict[str, str | float]:
    inch = format_inch(diameter)
    return {
        "size": inch if "/" in inch else f"{diameter:g} mm",
        "inch": round(diameter / MM_PER_INCH, 6),
        "mm": round(diameter, 6),
    }
