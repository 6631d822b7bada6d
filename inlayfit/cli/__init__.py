"""The command line: one file a command, and the only place that prints or exits.

Exit codes: 0 good; 1 findings that lose detail or make a fit impossible; 2 the input or the call cannot be used;
70 a fault of ours; 130 interrupted.
"""

from __future__ import annotations

import sys

from inlayfit.cli.codes import GOOD, INTERRUPTED, UNUSABLE
from inlayfit.cli.stdout import tame_encodings, write

TYPE_CHECKING = False  # as type checkers know it; `typing` would cost start-up more than all else here
if TYPE_CHECKING:
    from collections.abc import Sequence

COMMANDS = {
    "look": "say what was understood of a drawing, and draw it with names",
    "check": "say what a bit cannot cut of a drawing, and which bit or size could",
    "fit": "make piece and pocket outlines and paths that fit, and prove the gap",
    "frets": "print the fret table of a scale length, or of two (fanned)",
    "bits": "list the standard bit sizes in inch and millimetres",
    "feeds": "print turns, feed and depth of a pass to start from, for a bit in each stock",
    "woods": "list the woods that are known, and how far each moves with the seasons",
    "new": "write a commented starter job with a small drawing",
}


HELP = f"""\
usage: inlayfit COMMAND ...

Turn artwork (SVG, DXF) into inlay pieces and pockets that fit each other.

commands:
{chr(10).join(f"  {name:<8}{summary}" for name, summary in COMMANDS.items())}

  inlayfit COMMAND --help says more and shows examples.

options:
  -h, --help  show this help
  --version   show the version

examples:
  inlayfit look heron.svg --picture heron-regions.svg
  inlayfit check heron.svg --bit 1/32in --width 58mm
  inlayfit fit heron.svg --bit 1/32in --gap 0.05mm --width 58mm --out heron
  inlayfit new emblem

Every length takes a unit (0.8mm, 1/32in, 31thou); a bare number is mm.
exit codes: 0 good, 1 loses detail or cannot fit, 2 the input or the call
cannot be used, 70 a fault of inlayfit, 130 interrupted
"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; every error ends here as a short message."""
    tame_encodings()
    words = list(sys.argv[1:] if argv is None else argv)
    try:
        code = _dispatch(words)
    except KeyboardInterrupt:
        code = INTERRUPTED
    except SystemExit as stop:  # argparse leaves this way after --help
        code = stop.code if isinstance(stop.code, int) else GOOD
    except Exception as error:  # noqa: BLE001  # the last stop: a traceback tells a maker nothing
        from inlayfit.cli.output import show_error

        code = show_error(error, as_json="--json" in words, debug="--debug" in words)
    write("")  # what argparse printed goes out here, where a reader that hung up is no error
    return code


def _dispatch(words: list[str]) -> int:
    if not words:
        print(HELP, end="", file=sys.stderr)
        return UNUSABLE
    command, *rest = words
    if command in {"-h", "--help", "help"}:
        write(HELP)
        return GOOD
    if command == "--version":
        import inlayfit

        write(f"inlayfit {inlayfit.__version__}\n")
        return GOOD
    if command not in COMMANDS:
        from inlayfit.errors import JobError, nearest_of

        raise JobError(f"no such command {command!r}", remedy=nearest_of(command, COMMANDS))
    from importlib import import_module

    module = import_module(f"inlayfit.cli.{command}")
    return int(module.run(module.parser().parse(rest)))
