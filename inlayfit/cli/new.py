"""`inlayfit new`: a commented starter job with a small drawing, so that it runs at once."""

from __future__ import annotations

import argparse
from pathlib import Path

from inlayfit.cli.codes import GOOD
from inlayfit.cli.options import Parser, add_common_options, one_of
from inlayfit.cli.output import show_json
from inlayfit.cli.stdout import write
from inlayfit.errors import WriteError

EXAMPLES = """\
  inlayfit new emblem
  inlayfit new emblem jobs/heron.toml
  inlayfit new check
"""
KINDS = ("emblem", "check")
STARTERS = Path(__file__).with_name("starters")


def parser() -> Parser:
    """Return the options of the command."""
    options = Parser(
        "new",
        description="Write a commented starter job, and beside it a small drawing unless there is one of that name.\n"
        "emblem: an ornament to replace with your own. check: a test cut for scrap, to measure your gap.\n"
        "A file that is there already is never overwritten.",
        examples=EXAMPLES,
    )
    options.add_argument("kind", metavar="KIND", type=one_of(KINDS, "inlayfit new"), help="emblem or check")
    options.add_argument("file", metavar="FILE", nargs="?", type=Path, help="where to write it (KIND.toml)")
    add_common_options(options)
    return options


def run(options: argparse.Namespace) -> int:
    """Write the job and its drawing."""
    job = options.file or Path(f"{options.kind}.toml")
    drawing = job.with_suffix(".svg")
    text = (STARTERS / f"{options.kind}.toml").read_text(encoding="utf-8")
    _write_new(job, text.replace("DRAWING.svg", drawing.name).replace("JOB.toml", job.name))
    written = [job]
    if not drawing.exists():
        _write_new(drawing, (STARTERS / f"{options.kind}.svg").read_text(encoding="utf-8"))
        written.append(drawing)
    if options.json:
        show_json({"files": [{"path": str(path), "kind": path.suffix[1:]} for path in written]})
    else:
        write("".join(f"wrote {path}\n" for path in written) + f"next: inlayfit fit {job}\n")
    return GOOD


def _write_new(path: Path, text: str) -> None:
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError as error:
        raise WriteError("this file is there already", where=str(path), remedy="give another name") from error
    except OSError as error:
        reason = error.strerror or str(error)
        raise WriteError(f"it cannot be written: {reason}", where=str(path), remedy="give another place") from error
