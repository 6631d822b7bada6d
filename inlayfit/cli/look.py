"""`inlayfit look`: what was understood of a drawing, before anything is made of it."""

from __future__ import annotations

import argparse
from pathlib import Path

from inlayfit.cli.codes import GOOD
from inlayfit.cli.options import Parser, add_common_options, add_drawing_options, drawing_choices
from inlayfit.cli.picture import add_picture_option, check_picture, drawn

EXAMPLES = """\
  inlayfit look heron.svg
  inlayfit look heron.dxf --units in --picture heron-regions.svg
  inlayfit look heron.svg --width 58mm --json
"""


def parser() -> Parser:
    """Return the options of the command."""
    options = Parser(
        "look",
        description="Say what was understood of a drawing: its size, layers, colours, regions and holes, what is\n"
        "open, what was left out and why, and what was repaired. With --picture draw it with names.",
        examples=EXAMPLES,
    )
    options.add_argument("drawing", metavar="DRAWING", help="the artwork: SVG or DXF")
    add_picture_option(options, "the regions with their names")
    add_drawing_options(options)
    add_common_options(options)
    return options


def run(options: argparse.Namespace) -> int:
    """Read the drawing, print what was understood, and draw it where that is asked for."""
    check_picture(options.picture, Path(options.drawing))
    import inlayfit
    from inlayfit.cli.output import progress, show, show_json

    with progress():
        drawing = inlayfit.read_drawing(options.drawing, **drawing_choices(options))
        files = drawn(options.picture, drawing)
    if options.json:
        from inlayfit.report.summary import look_summary

        show_json(look_summary(drawing, files))
    else:
        from inlayfit.report.terminal import look_report

        show(*look_report(drawing, files))
    return GOOD
