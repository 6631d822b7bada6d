"""`inlayfit woods`: the woods that are known, how far each moves, and where that is from."""

from __future__ import annotations

import argparse

from inlayfit.cli.codes import GOOD
from inlayfit.cli.options import Parser, add_common_options
from inlayfit.cli.output import show_json
from inlayfit.cli.stdout import write

TYPE_CHECKING = False
if TYPE_CHECKING:
    from inlayfit.woods import Range

DESCRIPTION = """\
List the woods that [season] of a job knows: the change of size for one per cent of moisture, in um for one mm
(across the rings as in a quartersawn board, along them as in a flat-sawn one), and the source of each."""
EXAMPLES = """\
  inlayfit woods
  inlayfit woods --json
"""


def parser() -> Parser:
    """Return the options of the command."""
    options = Parser("woods", description=DESCRIPTION, examples=EXAMPLES)
    add_common_options(options)
    return options


def run(options: argparse.Namespace) -> int:
    """Print the table."""
    from inlayfit.woods import ALONG, ALONG_SOURCE, WOODS

    if options.json:
        rows = [
            {
                "name": wood.name,
                "radial_per_percent": wood.radial,
                "tangential_per_percent": wood.tangential,
                "source": wood.source,
            }
            for wood in WOODS.values()
        ]
        show_json({"woods": rows, "along_per_percent": ALONG, "along_source": ALONG_SOURCE})
        return GOOD
    lines = [f"{'wood':<18}  {'quartersawn':<12}  {'flat-sawn':<12}  source"]
    lines += [
        f"{wood.name:<18}  {_um(wood.radial):<12}  {_um(wood.tangential):<12}  {wood.source}" for wood in WOODS.values()
    ]
    lines += ["", f"um for one mm and one per cent of moisture; {ALONG_SOURCE}"]
    write("\n".join(lines) + "\n")
    return GOOD


def _um(ends: Range) -> str:
    low, high = (f"{1000 * end:.2f}" for end in ends)
    return low if low == high else f"{low} to {high}"
