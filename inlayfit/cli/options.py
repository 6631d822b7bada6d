"""What the commands share: lengths with units, choices, and errors that name the nearest of what is known."""

from __future__ import annotations

import argparse
import re

from inlayfit.choices import LARGEST_TOLERANCE
from inlayfit.errors import JobError, nearest_of
from inlayfit.units import LARGEST, parse_length, positive_length, zero_or_more

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from typing import Any

    from inlayfit.cutters import Cutter
    from inlayfit.units import Mm


class Parser(argparse.ArgumentParser):
    """An argument parser whose errors are ours, and which knows the nearest option."""

    def __init__(self, command: str, *, description: str, examples: str) -> None:
        self._command = command
        super().__init__(
            prog=f"inlayfit {command}",
            description=description,
            epilog=f"examples:\n{examples}",
            formatter_class=argparse.RawDescriptionHelpFormatter,
            allow_abbrev=False,
        )

    def error(self, message: str) -> None:  # type: ignore[override]  # it never returns, it raises
        """Raise what argparse would print and exit with.

        Raises:
            JobError: always.
        """
        raise JobError(message, where=self._command, remedy=f"{self.prog} --help shows the options")

    def parse(self, words: Sequence[str]) -> argparse.Namespace:
        """Return the options.

        Raises:
            JobError: an option that is not known, with the nearest that is.
        """
        options, left = self.parse_known_args(_with_negatives(words))
        if left and left[0].startswith("-"):
            name = left[0].partition("=")[0]
            known = [option for option in self._option_string_actions if option.startswith("--")]
            raise JobError(f"no such option {name!r}", where=self._command, remedy=nearest_of(name, known))
        if left:
            self.error(f"{left[0]!r} is one word too many")
        return options


def _with_negatives(words: Sequence[str]) -> list[str]:
    """Join ``--gap -0.1mm`` to ``--gap=-0.1mm``: argparse takes the length for an option."""
    joined: list[str] = []
    for word in words:
        if re.match(r"-[\d.]", word) and joined and re.fullmatch(r"--[a-z-]+", joined[-1]):
            joined[-1] += f"={word}"
        else:
            joined.append(word)
    return joined


def zero_up(where: str, most: Mm = LARGEST) -> Callable[[str], Mm]:
    """Return a reader of lengths from zero to `most`."""
    return lambda text: zero_or_more(text, where=where, most=most)


def size(where: str, most: Mm = LARGEST) -> Callable[[str], Mm]:
    """Return a reader of lengths over zero, to `most`."""
    return lambda text: positive_length(text, where=where, most=most)


def length(where: str) -> Callable[[str], Mm]:
    """Return a reader of lengths, below zero as well."""
    return lambda text: parse_length(text, where=where)


def whole_number(where: str) -> Callable[[str], int]:
    """Return a reader of whole numbers."""

    def read(text: str) -> int:
        if not re.fullmatch(r"[+-]?\d{1,9}", text):
            raise JobError(f"{text!r} is no whole number", where=where, remedy="give a number such as 22")
        return int(text)

    return read


def one_of(names: Sequence[str], where: str) -> Callable[[str], str]:
    """Return a reader of one of some names, which says the nearest when it is none of them."""

    def read(text: str) -> str:
        if text not in names:
            raise JobError(f"{text!r} is none of the choices", where=where, remedy=nearest_of(text, names))
        return text

    return read


def factor(where: str) -> Callable[[str], float]:
    """Return a reader of a plain number over zero."""

    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = 0.0
        if not 0 < value < float("inf"):
            raise JobError(f"{text!r} is no factor", where=where, remedy="give a number over zero, such as 1.25")
        return value

    return read


def add_drawing_options(parser: Parser) -> None:
    """Add how a drawing is brought in."""
    group = parser.add_argument_group("the drawing")
    group.add_argument("--width", type=size("--width"), metavar="LENGTH", help="finished width of all regions together")
    group.add_argument("--height", type=size("--height"), metavar="LENGTH", help="finished height, in place of a width")
    group.add_argument("--scale", type=factor("--scale"), metavar="FACTOR", help="times the size that the file states")
    group.add_argument("--units", metavar="UNIT", help="one unit of the file, where it does not say: mm, in, ...")
    group.add_argument(
        "--join", type=size("--join"), metavar="LENGTH", help="close gaps between line ends up to this (0.01mm)"
    )
    group.add_argument(
        "--ignore-page",
        action="store_true",
        default=None,
        help="leave out a rectangle that lies behind everything else",
    )
    group.add_argument(
        "--font",
        action="append",
        dest="fonts",
        metavar="FILE",
        help="draw texts with this font: TTF, OTF, TTC, WOFF or WOFF2; may be given more than once",
    )


def drawing_choices(options: argparse.Namespace) -> dict[str, Any]:
    """Return what of `add_drawing_options` was typed, for `inlayfit.read_drawing`."""
    return given(options, "width", "height", "scale", "units", "join", "ignore_page", "fonts")


def add_judging_options(parser: Parser) -> None:
    """Add what counts as a finding."""
    group = parser.add_argument_group("what counts")
    group.add_argument(
        "--tolerance",
        type=size("--tolerance", most=LARGEST_TOLERANCE),
        metavar="LENGTH",
        help="what the bit misses by no more than this is no finding (0.05mm)",
    )
    group.add_argument(
        "--least-web",
        type=zero_up("--least-web"),
        metavar="LENGTH",
        help="warn where less material than this is left between two edges (0.6mm)",
    )


def add_common_options(parser: Parser) -> None:
    """Add what every command takes."""
    parser.add_argument("--json", action="store_true", help="print one JSON document, lengths in mm, and nothing else")
    parser.add_argument("--debug", action="store_true", help="show the traceback of a fault of inlayfit")


def chosen_cutter(
    bit: Mm | None, kerf: Mm | None, runout: Mm | None, *, bit_name: str, kerf_name: str
) -> Cutter | None:
    """Return the cutter that was asked for, if any.

    Raises:
        JobError: both a bit and a kerf, or a runout for a kerf.
    """
    from inlayfit.cutters import Kerf, make_bit

    if bit is not None and kerf is not None:
        raise JobError("a bit and a kerf at once", where=f"{bit_name}, {kerf_name}", remedy="give the one that cuts")
    if bit is None and runout is not None and kerf is not None:
        raise JobError("a kerf has no runout", where="--runout", remedy="give the whole slit as the kerf")
    if bit is not None:
        return make_bit(bit, runout=runout or 0.0, where=bit_name)
    return None if kerf is None else Kerf(width=kerf)


def given(options: argparse.Namespace, *names: str) -> dict[str, Any]:
    """Return those of the options that were typed; the others keep the default of what they are handed to."""
    return {name: value for name in names if (value := getattr(options, name)) is not None}
