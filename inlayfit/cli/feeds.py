"""`inlayfit feeds`: how fast a bit may turn and move in each kind of stock, to start from."""

from __future__ import annotations

import argparse

from inlayfit.cli.codes import GOOD
from inlayfit.cli.options import Parser, add_common_options, factor, one_of, size, whole_number, zero_up
from inlayfit.cli.output import show_json
from inlayfit.cli.stdout import write
from inlayfit.cutters import make_bit
from inlayfit.feeds import STARTS, TEETH, Machine, SpeedsAsked, checked_rpm, checked_teeth, speeds_for
from inlayfit.units import MM_PER_INCH

TYPE_CHECKING = False
if TYPE_CHECKING:
    from inlayfit.feeds import Speeds

DESCRIPTION = """\
Print figures to start from for a bit: turns a minute, feed, and depth of a pass in each kind of stock. They are what
the cutting programs of `inlayfit fit` take where the job says nothing else.
They are scaled down from larger bits, for nobody has published any for bits as small as these, nor for shell: try them
in waste, and defer to the makers of the bit and of the machine."""
EXAMPLES = """\
  inlayfit feeds --bit 1/32in
  inlayfit feeds --bit 0.6mm --kind shell --teeth 1 --most-rpm 24000
  inlayfit feeds --bit 1/16in --json
"""


def parser() -> Parser:
    """Return the options of the command."""
    options = Parser("feeds", description=DESCRIPTION, examples=EXAMPLES)
    options.add_argument("--bit", type=size("--bit"), metavar="SIZE", required=True, help="diameter of the bit")
    options.add_argument(
        "--runout", type=zero_up("--runout"), metavar="LENGTH", default=0.0, help="full indicator reading (0)"
    )
    options.add_argument("--kind", type=one_of(tuple(STARTS), "--kind"), metavar="KIND", help="one kind of stock (all)")
    options.add_argument(
        "--teeth", type=whole_number("--teeth"), metavar="N", default=TEETH, help=f"its cutting edges ({TEETH})"
    )
    options.add_argument(
        "--most-rpm", type=factor("--most-rpm"), metavar="N", help=f"as fast as it may turn ({Machine().most_rpm:.0f})"
    )
    add_common_options(options)
    return options


def run(options: argparse.Namespace) -> int:
    """Print the table."""
    bit = make_bit(options.bit, runout=options.runout, where="--bit")
    most = Machine().most_rpm if options.most_rpm is None else checked_rpm(options.most_rpm, where="--most-rpm")
    machine = Machine(most_rpm=most, least_rpm=min(most, Machine().least_rpm))
    asked = SpeedsAsked(teeth=checked_teeth(options.teeth, where="--teeth"))
    kinds = [options.kind] if options.kind else list(STARTS)
    found = {kind: speeds_for(bit, kind, asked, machine) for kind in kinds}
    if options.json:
        show_json({"bit_mm": bit.diameter, "teeth": asked.teeth, "feeds": [_row(kind, found[kind]) for kind in kinds]})
        return GOOD
    lines = [f"{bit.label}, {asked.teeth} teeth; to start from, in waste first", ""]
    lines.append(f"{'':<8}{'rpm':>8}{'mm/min':>8}{'in/min':>8}{'down':>8}{'pass mm':>9}")
    for kind, one in found.items():
        feeds = f"{one.feed:>8.0f}{one.feed / MM_PER_INCH:>8.1f}{one.down:>8.0f}"
        lines.append(f"{kind:<8}{one.rpm:>8.0f}{feeds}{one.pass_depth:>9.2f}")
    lines += ["", *(f"{kind}: {STARTS[kind].source}" for kind in found)]
    write("\n".join(lines) + "\n")
    return GOOD


def _row(kind: str, one: Speeds) -> dict[str, str | float]:
    return {
        "kind": kind,
        "rpm": one.rpm,
        "feed_mm_per_min": round(one.feed, 3),
        "down_mm_per_min": round(one.down, 3),
        "pass_mm": round(one.pass_depth, 4),
        "source": STARTS[kind].source,
    }
