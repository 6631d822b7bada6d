"""Standard output: a reader that hung up is met with silence, and a letter that it cannot take is no fault."""

from __future__ import annotations

import os
import sys


def write(text: str) -> None:
    """Print on stdout, at once."""
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        _hang_up()


def tame_encodings() -> None:
    """Let letters that the terminal cannot show come out as escapes."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")


def _hang_up() -> None:
    """Send what is still buffered to nowhere, or Python complains at exit."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)
