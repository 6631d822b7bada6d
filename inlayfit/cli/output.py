"""Results go to stdout; errors and progress go to stderr."""

from __future__ import annotations

import os
import sys
from contextlib import contextmanager

from inlayfit.cli.codes import FAULT, UNUSABLE
from inlayfit.cli.stdout import write
from inlayfit.errors import InlayfitError

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from typing import Any

    from rich.console import RenderableType

PIPED_COLUMNS = 100
"""Width of the text where no terminal says how wide it is: a printed page in a small type."""

PATIENCE_S = 1.0
"""Work that is done sooner shows no progress."""


def show_json(document: dict[str, Any]) -> None:
    """Print one JSON document on stdout."""
    from inlayfit.report.json_text import json_text

    write(json_text(document))


def show(*parts: RenderableType) -> None:
    """Print what a maker reads on stdout, as wide as the terminal, without colour where none is wanted."""
    from rich.console import Console

    piped = not sys.stdout.isatty() and "COLUMNS" not in os.environ
    console = Console(width=PIPED_COLUMNS if piped else None, highlight=False, markup=False, emoji=False)
    with console.capture() as capture:
        console.print(*parts, sep="\n")
    write("".join(f"{line.rstrip()}\n" for line in capture.get().splitlines()))


def show_error(error: Exception, *, as_json: bool, debug: bool) -> int:
    """Say on stderr what is wrong and what to do; return the exit code.

    With `as_json` the same goes to stdout as {"error": {"message", "where", "remedy"}}, so that a program that
    waits for a document gets one.
    """
    if isinstance(error, InlayfitError):
        message, where, remedy, code = error.message, error.where, error.remedy, UNUSABLE
    else:
        message, where, code = f"a fault of inlayfit: {type(error).__name__}: {error}", "", FAULT
        remedy = "please report it with the command and the drawing; --debug shows where it happened"
    print(f"inlayfit: {where}: {message}" if where else f"inlayfit: {message}", file=sys.stderr)
    if remedy:
        print(f"  {remedy}", file=sys.stderr)
    if debug:
        import traceback

        traceback.print_exception(error)
    if as_json:
        show_json({"error": {"message": message, "where": where, "remedy": remedy}})
    return code


@contextmanager
def progress() -> Iterator[Callable[[float, str], None]]:
    """Give a function of the share done and the step; it draws a bar on stderr once work has lasted a second."""
    if not sys.stderr.isatty():
        yield lambda _share, _step: None
        return
    from threading import Timer

    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn

    columns = (BarColumn(bar_width=30), TextColumn("{task.percentage:>3.0f}%"), TextColumn("{task.description}"))
    bar = Progress(*columns, console=Console(stderr=True), transient=True)
    task = bar.add_task("reading the drawing", total=1.0)
    start = Timer(PATIENCE_S, bar.start)
    start.daemon = True
    start.start()
    try:
        yield lambda share, step: bar.update(task, completed=share, description=step)
    finally:
        start.cancel()
        start.join()
        bar.stop()
