"""A long run of fits over drawings by other hands: `python -m tests.campaign 500 --out runs.jsonl`.

One line of JSON a fit: what was asked, what was measured, and every failure with its place, enough to do it again.
Single process on purpose: the machine is shared. A run may be sliced with --first and goes on where it stopped.
"""

from __future__ import annotations

import argparse
import json
import random
import signal
import sys
import time
import traceback
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import shapely

import inlayfit
from inlayfit.cutters import make_bit
from inlayfit.stocks import Stock
from tests.collections import CACHE, SOURCES, CollectionMissingError, mixture
from tests.judge import Asked, Failure, judge
from tests.swept import shrunk

BITS = (0.5, 0.79375, 1.0, 1.5875)
GAPS = (0.025, 0.05, 0.1)
WIDTHS = (15.0, 30.0, 60.0)
SIDES = ("piece", "pocket", "shared")
JOINTS = (None, None, 0.0, 0.05)
STOCKS = 8
"""Colours share their bits beyond this number."""
SECONDS = 60
"""Of the processor, which others share: a fit that takes longer is a failure. The alarm stops no sweep."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One fit of the matrix."""

    number: int
    drawing: str
    width: float
    piece_bit: float
    pocket_bit: float
    gap: float
    gap_from: str
    joint: float | None = None
    stock_bits: tuple[float, ...] = ()


def cases(count: int, seed: int = 0, names: Sequence[str] = tuple(SOURCES), *, stocks: bool = False) -> Iterator[Case]:
    """Yield the seeded matrix: every drawing once, with bits (half of them equal), gap and width drawn by lot.

    With `stocks` each colour is a stock with a bit of its own, and half of the joints are not as wide as the gap.

    Raises:
        CollectionMissingError: a collection cannot be fetched.
    """
    lot = random.Random(f"campaign {seed}")
    for number, path in enumerate(mixture(count, seed, names)):
        piece_bit, other = lot.choice(BITS), lot.choice(BITS)
        yield Case(
            number=number,
            drawing=path.relative_to(CACHE).as_posix(),
            width=lot.choice(WIDTHS),
            piece_bit=piece_bit,
            pocket_bit=piece_bit if lot.random() < 0.5 else other,
            gap=lot.choice(GAPS),
            gap_from=lot.choice(SIDES),
            joint=lot.choice(JOINTS) if stocks else None,
            stock_bits=tuple(lot.choices(BITS, k=STOCKS)) if stocks else (),
        )


def run(case: Case) -> dict[str, Any]:
    """Read, fit and judge one case; whatever happens stands in the result.

    `outcome` is ok, failed, refused (a clear error about the drawing), or crashed (any other exception).
    """
    result: dict[str, Any] = {**asdict(case), "outcome": "ok", "failures": []}
    previous = signal.signal(signal.SIGPROF, _too_long)
    signal.setitimer(signal.ITIMER_PROF, SECONDS)
    try:
        _measure(case, result)
    except inlayfit.InlayfitError as refusal:
        result |= {"outcome": "refused", "error": f"{type(refusal).__name__}: {refusal}"}
    except Exception as crash:  # noqa: BLE001  # a campaign goes on; the crash is its finding
        result |= {"outcome": "crashed", "error": f"{type(crash).__name__}: {crash}", "trace": traceback.format_exc()}
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, previous)
    return result


def _too_long(*_: object) -> None:
    raise TimeoutError(f"took longer than {SECONDS} s")


def _measure(case: Case, result: dict[str, Any]) -> None:
    began = time.perf_counter()
    drawing = inlayfit.read_drawing(CACHE / case.drawing, width=case.width)
    stocks = _stocks(case, drawing)
    asked = Asked(
        piece_radius=case.piece_bit / 2,
        pocket_radius=case.pocket_bit / 2,
        gap=case.gap,
        gap_from=case.gap_from,
        joint=case.joint,
        radii={stock.name: stock.cutter.radius for stock in stocks},
    )
    read = time.perf_counter()
    try:
        fit = inlayfit.fit(
            drawing,
            piece_cutter=case.piece_bit,
            pocket_cutter=case.pocket_bit,
            gap=case.gap,
            gap_from=case.gap_from,
            joint=case.joint,
            stocks=stocks,
        )
    except inlayfit.InlayfitError:
        _nothing_is_left(drawing, asked)
        raise
    fitted = time.perf_counter()
    verdict = judge(fit, drawing, asked)
    result |= {
        "outcome": "failed" if verdict.failures else "ok",
        "regions": len(drawing.regions),
        "vertices": int(sum(shapely.get_num_coordinates(region.polygon) for region in drawing.regions)),
        "pieces": len(fit.pieces),
        "pockets": len(fit.pockets),
        "findings": dict(Counter(finding.severity for finding in fit.findings)),
        "read_s": round(read - began, 3),
        "fit_s": round(fitted - read, 3),
        "judge_s": round(time.perf_counter() - fitted, 3),
        "buffer_s": _buffer_seconds(drawing, asked),
        **{name: getattr(verdict, name) for name in MEASURES},
        "failures": [failure.as_dict() for failure in verdict.failures],
    }


def _stocks(case: Case, drawing: Any) -> tuple[Any, ...]:
    """Return a stock for each colour of the drawing; none where the case is of one."""
    if not case.stock_bits:
        return ()
    colours = sorted({region.colour for region in drawing.regions})
    bits = [make_bit(case.stock_bits[number % len(case.stock_bits)]) for number in range(len(colours))]
    return tuple(
        Stock(name=f"stock {colour}", cutter=bit, colours=(colour,)) for colour, bit in zip(colours, bits, strict=True)
    )


def _buffer_seconds(drawing: Any, asked: Asked) -> float:
    """Return the least time of five plain buffers of all regions: the yardstick of the cost."""
    polygons = [region.polygon for region in drawing.regions]
    taken = []
    for _ in range(5):
        began = time.perf_counter()
        shapely.buffer(polygons, asked.pocket_radius)
        taken.append(time.perf_counter() - began)
    return round(min(taken), 6)


MEASURES = ("even_share", "even_share_everywhere", "seam_mm", "gap_least", "gap_most", "outline_error_mm")


def _nothing_is_left(drawing: Any, asked: Asked) -> None:
    """A fit may be refused only where the bit leaves nothing of the drawing; anything else is a crash.

    Raises:
        AssertionError: there is something that the bit could cut.
    """
    drawn = shapely.union_all([region.polygon for region in drawing.regions])
    core = shrunk(drawn, asked.pocket_radius + 0.002)
    if not core.is_empty:
        raise AssertionError(f"the fit is refused, and yet the bit has {core.area:.4f} mm2 for its centre")


def as_table(results: list[dict[str, Any]]) -> str:
    """Return what went wrong, a line a failure, with all that is needed to do it again."""
    lines = []
    for result in results:
        call = (
            f"#{result['number']} {result['drawing']} width {result['width']:g} bits {result['piece_bit']:g}/"
            f"{result['pocket_bit']:g} gap {result['gap']:g} from {result['gap_from']} joint {result['joint']}"
        )
        if result["outcome"] == "crashed":
            lines.append(f"{call}\n    crashed: {result['error']}")
        elif result["failures"]:
            shown = [Failure(**failure) for failure in result["failures"]]
            lines.append("\n".join([call, *(f"    {f.kind} at {f.x:.3f}, {f.y:.3f}: {f.text}" for f in shown[:4])]))
            lines += [f"    and {len(shown) - 4} more"] if len(shown) > 4 else []
    return "\n".join(lines)


def summary(results: list[dict[str, Any]]) -> str:
    """Return the counts: outcomes, kinds of failure by fits, and time."""
    outcomes = Counter(result["outcome"] for result in results)
    kinds = Counter(kind for result in results for kind in {failure["kind"] for failure in result["failures"]})
    seconds = sorted(result["fit_s"] for result in results if "fit_s" in result)
    text = f"{len(results)} fits: {dict(outcomes)}; failures by kind (fits): {dict(kinds)}"
    if seconds:
        text += f"; fit time median {seconds[len(seconds) // 2]:.2f} s, worst {seconds[-1]:.2f} s"
    return text


def main() -> int:
    """Run the campaign from the command line; exit 1 where a fit failed or crashed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int, help="how many drawings, in turn from every collection")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--only", nargs="+", choices=tuple(SOURCES), default=tuple(SOURCES), help="these collections")
    parser.add_argument("--stocks", action="store_true", help="each colour is a stock with a bit of its own")
    parser.add_argument("--first", type=int, default=0, help="skip the cases before this number")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="stop after this time; run again to go on")
    parser.add_argument("--out", type=Path, required=True, help="JSON lines; cases that stand there are not run again")
    options = parser.parse_args()
    done = (
        {json.loads(line)["number"] for line in options.out.read_text().splitlines()} if options.out.exists() else set()
    )
    results = []
    began = time.monotonic()
    try:
        todo = [
            case
            for case in cases(options.count, options.seed, options.only, stocks=options.stocks)
            if case.number >= options.first
        ]
    except CollectionMissingError as reason:
        print(reason, file=sys.stderr)
        return 2
    with options.out.open("a") as lines:
        for case in todo:
            if case.number in done or time.monotonic() - began > options.seconds:
                continue
            results.append(run(case))
            lines.write(json.dumps(results[-1]) + "\n")
            lines.flush()
    print(as_table(results))
    print(summary(results))
    return int(any(result["outcome"] in {"failed", "crashed"} for result in results))


if __name__ == "__main__":
    raise SystemExit(main())
