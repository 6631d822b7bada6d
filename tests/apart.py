"""Many files judged, each in a process of its own: a crash or a hang of a library stops one file and no run."""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import random
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

SECONDS = 120.0
"""Of the clock, for one file; what reading it costs is counted in seconds of the processor: others work here too."""
PROCESSES = 2

Result = dict[str, Any]
Judge = Callable[[Path], Iterator[Result]]
"""Yields what came of a file, the last result counts: one that was reached before the time was up is kept."""


def _child(judge: Judge, path: Path, pipe: Connection) -> None:
    try:
        for result in judge(path):
            pipe.send(result)
    except Exception as crash:  # noqa: BLE001  # the crash is the finding
        pipe.send({"outcome": "crashed", "error": f"{type(crash).__name__}: {crash}"})
    pipe.close()
    os._exit(0)  # a fork of a thread cannot shut down in order: it would wait for the thread that it is


def apart(judge: Judge, path: Path) -> Result:
    """Return the last result of a file, `slow` where there was none in `SECONDS`, `crashed` where the process died."""
    fork = multiprocessing.get_context("fork")
    here, there = fork.Pipe(duplex=False)
    process = fork.Process(target=_child, args=(judge, path, there))
    process.start()
    there.close()
    result: Result = {"outcome": "slow", "error": f"over {SECONDS:g} s", "seconds": SECONDS}
    try:
        while here.poll(SECONDS):
            result = here.recv()
    except EOFError:
        process.join()
        if process.exitcode:
            result = {"outcome": "crashed", "error": f"the process ended with {process.exitcode}"}
    process.kill()
    process.join()
    return result


def run(judge: Judge, work: Sequence[tuple[str, Path]], out: Path) -> list[Result]:
    """Return the results of (collection, file); lines of JSON in `out` are added to, and not done again."""
    done = [json.loads(line) for line in out.read_text().splitlines()] if out.exists() else []
    known = {result["path"] for result in done}
    todo = [(name, path) for name, path in work if str(path) not in known]
    for _, path in todo[:1]:
        next(judge(path))  # here as well: what is imported now is there in every fork
    began = time.monotonic()
    with out.open("a") as lines, ThreadPoolExecutor(PROCESSES) as threads:
        results = threads.map(lambda item: apart(judge, item[1]), todo)
        for number, ((name, path), result) in enumerate(zip(todo, results, strict=True), start=1):
            done.append({"collection": name, "file": path.name, "path": str(path), **result})
            lines.write(json.dumps(done[-1]) + "\n")
            lines.flush()
            if number % 250 == 0:
                print(f"{number} of {len(todo)}, {time.monotonic() - began:.0f} s", file=sys.stderr)
    return done


def files_in(folders: Sequence[str], suffixes: Sequence[str], limit: int) -> list[tuple[str, Path]]:
    """Return (name, file) for folders as NAME=PATH; of a larger one a seeded sample."""
    work = []
    for name, _, folder in (text.partition("=") for text in folders):
        files = sorted(
            path
            for path in Path(folder).rglob("*")
            if path.suffix.lower() in suffixes and path.is_file() and not path.is_symlink()
        )
        if len(files) > limit:
            files = sorted(random.Random(name).sample(files, limit))
        work += [(name, path) for path in files]
    return work


def options_of(description: str | None, limit: int) -> argparse.Namespace:
    """Return the options of a run from the command line."""
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("--out", type=Path, required=True, help="JSON lines; files that stand there are not run again")
    parser.add_argument("--table", type=Path, help="write the table into this file, below its head")
    parser.add_argument("--limit", type=int, default=limit, help="files of one collection at most")
    parser.add_argument("--folder", action="append", default=[], help="NAME=PATH: these drawings and no collection")
    return parser.parse_args()


COLUMNS = {
    "agree": ("agree",),
    "named by notes": ("named",),
    "refused": ("refused",),
    "differ": ("differ",),
    "not rendered": ("unrendered",),
    "slow or crashed": ("slow", "crashed"),
}
"""Heading of a column to the outcomes that it counts."""

ANSWERED = ("agree", "named", "refused")
"""Outcomes that the reader itself answers for, in its notes or its error."""


def table(results: Sequence[Result], titles: dict[str, str], reason: Callable[[Result], str]) -> str:
    """Return a row a collection, and below it each file that neither agrees nor is answered for, with the reason."""
    lines = [
        f"| collection | files | {' | '.join(COLUMNS)} | slowest, ms |",
        f"|---|{'--:|' * (len(COLUMNS) + 2)}",
        *(
            _row(titles.get(name, name), [result for result in results if result["collection"] == name])
            for name in dict.fromkeys(result["collection"] for result in results)
        ),
        _row("all", results),
        "",
    ]
    lines += [
        f"- {result['collection']}/{result['file']}: {result['outcome']}; {reason(result)}"
        for result in results
        if result["outcome"] not in ANSWERED
    ]
    return "\n".join(lines) + "\n"


def _row(title: str, results: Sequence[Result]) -> str:
    counts = [sum(result["outcome"] in outcomes for result in results) for outcomes in COLUMNS.values()]
    slowest = round(1000 * max((result.get("seconds", 0.0) for result in results), default=0.0))
    return f"| {title} | {len(results)} | {' | '.join(map(str, counts))} | {slowest:,} |"


def finish(results: Sequence[Result], text: str, into: Path | None) -> int:
    """Write and print the table; return 1 where a file differs without a note, crashed or was slow."""
    if into is not None:
        head = into.read_text().partition("\n| ")[0] if into.exists() else ""
        into.write_text(f"{head}\n{text}")
    print(text.partition("\n\n")[0])
    return int(any(result["outcome"] in {"differ", "slow", "crashed"} for result in results))
