"""`inlayfit look`: what was understood of a drawing, before anything is made of it."""

from __future__ import annotations

import argparse
from pathlib import Path

from inlayfit.cli.codes import GOOD
from inlayfit.cli.options import Parser, add_common_options, add_drawing_options, drawing_choices

TYPE_CHECKING = False
if TYPE_CHECKING:
    from inlayfit.drawing import Drawing

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
    options.add_argument("--picture", type=Path, metavar="FILE.svg", help="draw the regions with their names here")
    add_drawing_options(options)
    add_common_options(options)
    return options


def run(options: argparse.Namespace) -> int:
    """Read the drawing, print what was understood, and draw it where that is asked for."""
    _check_picture(options.picture, options.drawing)
    import inlayfit
    from inlayfit.cli.output import progress, show, show_json

    with progress():
        drawing = inlayfit.read_drawing(options.drawing, **drawing_choices(options))
        if options.picture is not None:
            _draw(drawing, options.picture)
    picture = "" if options.picture is None else str(options.picture)
    if options.json:
        from inlayfit.report.summary import look_summary

        show_json(look_summary(drawing, [(picture, "picture")] if picture else []))
    else:
        from inlayfit.report.terminal import look_report

        show(*look_report(drawing, picture=picture))
    return GOOD


def _check_picture(picture: Path | None, drawing: str) -> None:
    """Refuse to draw over the artwork itself, or into a file that claims to be something else.

    Raises:
        JobError: it would be one of both.
    """
    from inlayfit.errors import JobError

    if picture is None:
        return
    if picture.suffix.lower() != ".svg":
        raise JobError(f"the picture is an SVG, not {picture.suffix!r}", where="--picture", remedy="name it FILE.svg")
    if picture.resolve() == Path(drawing).resolve():
        raise JobError("the picture would replace the drawing", where="--picture", remedy="give another name")


def _draw(drawing: Drawing, picture: Path) -> None:
    from inlayfit.write.files import write_file
    from inlayfit.write.picture import picture_bytes

    write_file(picture, picture_bytes(drawing))
