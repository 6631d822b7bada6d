"""Whole collections through the SVG reader, each file against a renderer: `python -m tests.svg_whole --out runs.jsonl`.

Two files at a time, each for `SECONDS` at most; a run goes on where it stopped. `--table tests/svg_results.md` writes
the table that is kept. Folders of other drawings are judged alike with `--folder NAME=PATH`.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from pathlib import Path

from inlayfit.drawing import ReadNote
from inlayfit.errors import InlayfitError
from inlayfit.read import read_drawing
from tests.apart import SECONDS, Result, files_in, finish, options_of, run, table
from tests.collections import SOURCES, CollectionMissingError, collection
from tests.svg_judge import Pixels, pixels_as_read, pixels_of_file, share_beyond_edges, share_that_differs, silhouettes

MOST = 0.005
"""Of the painted pixels: as much may differ."""

TOO_SLOW = 10.0
WIDTH_MM = 60.0
SHOWN = 160  # letters of a reason
WIDTHS_PX = (512, 1024, 2048, 4096)
"""In turn, until a file agrees: the soft pixels along edges are a smaller share of a larger picture."""

TALLEST = 6000
NO_EDGE = 0.1
"""More than this is not the softness of edges, and no larger picture will make it agree."""
LARGE = 1500
"""Files of one collection: of a larger one a seeded sample."""

TOLD = ("as its style says", "is a percentage", "not applied", "taken whole")
"""Words of notes on what is read otherwise on purpose."""

SOFT = ("half transparent", "gradient", "greys", "pattern", "filter")
"""Words of notes on paint that is read as solid on purpose: there the outline alone is compared."""


def judged(path: Path) -> Iterator[Result]:
    """Yield what came of one file: first of the reading alone, then with the shares that differ.

    `outcome` is agree, named (the notes say what is left out or taken otherwise), differ, refused (a clear error),
    unrendered (the renderer refuses the file), slow or crashed.
    """
    began = time.process_time()
    try:
        notes = read_drawing(path, width=WIDTH_MM).notes
    except InlayfitError as refusal:
        yield _refused(path, refusal, time.process_time() - began)
        return
    result = {"seconds": round(time.process_time() - began, 3), "notes": [_words(note) for note in notes]}
    result |= {"outcome": "unrendered", "error": f"the renderer takes over {SECONDS:g} s"}
    yield result
    for width in WIDTHS_PX:
        try:
            theirs = pixels_of_file(path, width)
        except Exception as trouble:  # noqa: BLE001  # whatever it raises is its own refusal
            yield {**result, "error": f"the renderer: {trouble}"[:200]}
            return
        if len(theirs) > TALLEST:
            break
        result |= {"error": "", **_compared(path, theirs)}
        if result["outcome"] == "agree" or result["strict"] > NO_EDGE:
            break
    if result["seconds"] > TOO_SLOW:
        result["outcome"] = "slow"
    yield result


def _refused(path: Path, refusal: InlayfitError, seconds: float) -> Result:
    """Return a refusal, with whether the renderer saw anything there."""
    result = {"outcome": "refused", "error": str(refusal), "seconds": round(seconds, 3), "notes": []}
    try:
        picture = pixels_of_file(path, 1024)
    except Exception:  # noqa: BLE001
        return {**result, "painted": 0}
    return {**result, "painted": int((picture[..., 3] >= 128).sum())}


def _compared(path: Path, theirs: Pixels) -> Result:
    ours, notes = pixels_as_read(path, theirs.shape[:2])
    told = [_words(note) for note in notes]
    strict = share_that_differs(theirs, ours)
    if strict <= MOST:
        return {"outcome": "agree", "strict": round(strict, 5), "told": told}
    outline, beyond = silhouettes(theirs, ours), share_beyond_edges(theirs, ours)
    soft = any(word in one for one in told for word in SOFT)
    left = any(note.kind == "left-out" or any(word in note.message for word in TOLD) for note in notes)
    outcome = "agree" if soft and min(outline, beyond) <= MOST else "named" if left or soft else "differ"
    shares = {"strict": round(strict, 5), "outline": round(outline, 5), "beyond": round(beyond, 5)}
    return {"outcome": outcome, **shares, "told": told}


def _words(note: ReadNote) -> str:
    return f"{note.kind} {note.subject}: {note.message}"


def reason(result: Result) -> str:
    """Return why a file does not agree: the error, or the shares that differ and what the notes say."""
    shares = (
        f"{result['strict']:.2%} of the pixels, {result['outline']:.2%} of the outline: " if "outline" in result else ""
    )
    return (shares + (result.get("error") or "; ".join(result.get("told", [])) or "no note"))[:SHOWN]


def main() -> int:
    """Run from the command line; exit 1 where a file differs without a note, crashes or is too slow."""
    options = options_of(__doc__, limit=LARGE)
    try:
        work = files_in(options.folder, (".svg", ".svgz"), options.limit) or [
            (name, path) for name in SOURCES for path in collection(name, options.limit, seed=1)
        ]
    except CollectionMissingError as missing:
        print(missing, file=sys.stderr)
        return 2
    results = run(judged, work, options.out)
    titles = {name: source.package for name, source in SOURCES.items()}
    return finish(results, table(results, titles, reason), options.table)


if __name__ == "__main__":
    raise SystemExit(main())
