"""What checking and fitting cost, as a multiple of one plain shapely buffer of the same outline on the same machine."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Callable

import numpy as np
import pytest
import shapely

import inlayfit
from tests.shapes import drawing_of

SIZES = (1_000, 10_000, 100_000)
CHECK_LIMIT = 150
FIT_LIMIT = 250
START_LIMIT = 3
"""Of `inlayfit --help` against a Python that does nothing."""
BIT = 0.79375


def leaf(vertices: int) -> shapely.Polygon:
    """Return a leaf 58 mm wide with 40 lobes and sharp notches, by that many vertices."""
    angles = 2 * np.pi * np.arange(vertices) / vertices
    radii = 23 + 5 * np.abs(np.sin(20 * angles)) + 1.0 * np.sin(3 * angles)
    return shapely.Polygon(np.column_stack([radii * np.cos(angles), 0.7 * radii * np.sin(angles)]))


def seconds(call: Callable[[], object], least: int = 1) -> float:
    """Return the median time of a call; small ones are repeated for half a second."""
    taken: list[float] = []
    while len(taken) < least or (sum(taken) < 0.5 and len(taken) < 200):
        began = time.perf_counter()
        call()
        taken.append(time.perf_counter() - began)
    return statistics.median(taken)


@pytest.mark.benchmark
@pytest.mark.parametrize(("name", "limit"), [("check", CHECK_LIMIT), ("fit", FIT_LIMIT)], ids=["check", "fit"])
def test_cost_in_buffers_stays_under_the_limit_and_falls_with_size(name: str, limit: float) -> None:
    ratios = []
    print(f"\n{'vertices':>9} {'buffer ms':>10} {name + ' ms':>10} {'buffers':>8}")
    for vertices in SIZES:
        outline = leaf(vertices)
        drawing = drawing_of(outline)
        buffer = seconds(lambda outline=outline: outline.buffer(BIT / 2), least=5)
        if name == "check":
            whole = seconds(lambda drawing=drawing: inlayfit.check(drawing, cutter=BIT, tolerance=0.05), least=3)
        else:
            whole = seconds(
                lambda drawing=drawing: inlayfit.fit(drawing, piece_cutter=BIT, pocket_cutter=BIT, gap=0.05), least=3
            )
        ratios.append(whole / buffer)
        print(f"{vertices:>9} {buffer * 1000:>10.2f} {whole * 1000:>10.1f} {ratios[-1]:>8.0f}")
    assert max(ratios) <= limit
    assert ratios == sorted(ratios, reverse=True)


def start_up(*arguments: str) -> float:
    """Return the least time of seven runs: what the machine does beside only ever adds."""
    taken = []
    for _ in range(7):
        began = time.perf_counter()
        subprocess.run([sys.executable, *arguments], check=True, capture_output=True)
        taken.append(time.perf_counter() - began)
    return min(taken)


@pytest.mark.benchmark
def test_help_starts_within_three_times_what_python_itself_needs() -> None:
    nothing, asked = start_up("-c", "pass"), start_up("-m", "inlayfit", "--help")
    print(
        f"\npython -c pass {nothing * 1000:.0f} ms, inlayfit --help {asked * 1000:.0f} ms, {asked / nothing:.2f} times"
    )
    assert asked <= START_LIMIT * nothing
