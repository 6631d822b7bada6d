"""Drawings by other hands: the regions that were read, against what a renderer by other hands paints.

How it is judged: at 1024 px, and at 2048 px where more than half a percent is left. A pixel differs where one picture
paints it and the other does not, or in another colour. Where paint is half transparent or a gradient, which are read as
solid on purpose, only paint more than a pixel away from all paint of the other counts.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from inlayfit.errors import InlayfitError
from tests.collections import SOURCES, collection_or_skip
from tests.svg_judge import pixels_as_read, pixels_of_file, share_beyond_edges, share_that_differs

SAMPLE = 60
MOST = 0.005
SOFT = ("half transparent", "gradient", "greys", "pattern")


def _difference(path: Path, width: int) -> tuple[float, str]:
    theirs = pixels_of_file(path, width)
    ours, notes = pixels_as_read(path, theirs.shape[:2])
    told = "; ".join(f"{note.subject}: {note.message}" for note in notes)
    judge = share_beyond_edges if any(word in told for word in SOFT) else share_that_differs
    return judge(theirs, ours), told


def _judged(path: Path) -> str:
    """Return what is wrong with the reading of one file, or nothing."""
    try:
        share, told = _difference(path, 1024)
        if share > MOST:
            share, told = _difference(path, 2048)
    except InlayfitError as error:
        return f"{path.name}: {error}"
    return f"{path.name}: {share:.2%} differ; notes: {told or 'none'}" if share > MOST else ""


@pytest.mark.campaign
@pytest.mark.parametrize("name", SOURCES)
def test_collections_are_painted_alike(name: str) -> None:
    files = collection_or_skip(name, SAMPLE, seed=7)
    wrong = [finding for finding in map(_judged, files) if finding]
    assert len(wrong) <= MOST * len(files), "\n".join(wrong)
