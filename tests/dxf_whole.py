"""Whole collections of DXF through the reader, each file against a renderer: `python -m tests.dxf_whole --out a.jsonl`.

`--table tests/dxf_results.md` writes the table that is kept; other drawings are judged with `--folder NAME=PATH`.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from pathlib import Path

from inlayfit.errors import InlayfitError
from inlayfit.read import read_drawing
from tests.apart import Result, files_in, finish, options_of, run, table
from tests.collections import CollectionMissingError
from tests.dxf_judge import judge
from tests.dxf_samples import SDISTS, sdist

MOST = 0.005
"""Of the length of the lines, and of the painted pixels: as much may differ."""

WIDTH_MM = 100.0
TOO_SLOW = 10.0


def judged(path: Path) -> Iterator[Result]:
    """Yield what came of one file: first of the reading alone, then with the shares that differ."""
    began = time.process_time()
    error = ""
    try:
        told = [f"{note.kind} {note.subject}: {note.message}" for note in read_drawing(path, width=WIDTH_MM).notes]
    except InlayfitError as refusal:
        error, told = str(refusal), []
    seconds = time.process_time() - began
    result: Result = {"seconds": round(seconds, 3), "told": told, "error": error}
    yield {**result, "outcome": "refused" if error else "unrendered"}
    try:
        verdict = judge(path)
    except InlayfitError as refusal:
        yield {**result, "outcome": "refused", "error": str(refusal)}
        return
    if verdict is None:
        yield {**result, "outcome": "refused" if error else "agree", "shows": "nothing"}
        return
    shares = {name: round(getattr(verdict, name), 5) for name in ("filled", "unread", "untold", "invented", "seen")}
    agrees = verdict.worst <= MOST
    outcome = "slow" if seconds > TOO_SLOW else "differ" if not agrees else "refused" if error else "agree"
    yield {**result, **shares, "outcome": outcome}


def reason(result: Result) -> str:
    """Return why a file does not agree: the error, or the shares that differ."""
    shares = [f"{name} {result[name]:.2%}" for name in ("filled", "unread", "untold", "invented") if result.get(name)]
    return "; ".join([*shares, *([result["error"]] if result.get("error") else [])])[:300]


def main() -> int:
    """Run from the command line; exit 1 where a file differs, crashes or is too slow."""
    options = options_of(__doc__, limit=2000)
    try:
        folders = options.folder or [f"{name}={sdist(name)}" for name in SDISTS]
    except CollectionMissingError as missing:
        print(missing, file=sys.stderr)
        return 2
    results = run(judged, files_in(folders, (".dxf",), options.limit), options.out)
    return finish(results, table(results, SDISTS, reason), options.table)


if __name__ == "__main__":
    raise SystemExit(main())
