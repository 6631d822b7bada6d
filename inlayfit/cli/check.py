"""`inlayfit check`: can this drawing be cut with this bit?"""

from __future__ import annotations

import argparse
from pathlib import Path

from inlayfit.cli.codes import FINDINGS, GOOD
from inlayfit.cli.options import (
    Parser,
    add_common_options,
    add_drawing_options,
    add_judging_options,
    chosen_cutter,
    drawing_choices,
    given,
    size,
    zero_up,
)
from inlayfit.cli.picture import add_picture_option, check_picture, drawn
from inlayfit.errors import JobError

EXAMPLES = """\
  inlayfit check heron.svg --bit 1/32in --width 58mm
  inlayfit check heron.dxf --bit 0.8mm --runout 0.02mm --units in
  inlayfit check heron.svg --kerf 0.35mm --height 2in --json
"""


def parser() -> Parser:
    """Return the options of the command."""
    options = Parser(
        "check",
        description="Say what a bit cannot cut of a drawing, where and how badly, and which bit or size could.\n"
        "The exit code is 1 where detail is lost, 0 where corners are softened at most.",
        examples=EXAMPLES,
    )
    options.add_argument("drawing", metavar="DRAWING", help="the artwork: SVG or DXF")
    group = options.add_argument_group("what cuts")
    group.add_argument("--bit", type=size("--bit"), metavar="SIZE", help="diameter of the bit, as measured")
    group.add_argument("--kerf", type=size("--kerf"), metavar="WIDTH", help="full slit of a saw or a beam, not a bit")
    group.add_argument(
        "--runout", type=zero_up("--runout"), metavar="LENGTH", help="full indicator reading at the bit (0)"
    )
    add_picture_option(options, "the regions, and each place that changes,")
    add_drawing_options(options)
    add_judging_options(options)
    add_common_options(options)
    return options


def run(options: argparse.Namespace) -> int:
    """Check the drawing, print the answer, and return 1 where detail is lost."""
    cutter = chosen_cutter(options.bit, options.kerf, options.runout, bit_name="--bit", kerf_name="--kerf")
    if cutter is None:
        raise JobError("what is it to be cut with?", where="check", remedy="give --bit 1/32in or --kerf 0.3mm")
    check_picture(options.picture, Path(options.drawing))
    import inlayfit
    from inlayfit.cli.output import progress, show, show_json

    with progress() as tell:
        drawing = inlayfit.read_drawing(options.drawing, **drawing_choices(options))
        answer = inlayfit.check(drawing, cutter=cutter, progress=tell, **given(options, "tolerance", "least_web"))
        files = drawn(options.picture, drawing, answer.findings)
    if options.json:
        from inlayfit.report.summary import check_summary

        show_json(check_summary(answer, drawing, files))
    else:
        from inlayfit.report.terminal import check_report

        show(*check_report(answer, drawing, files))
    return FINDINGS if answer.verdict == "loses detail" else GOOD
