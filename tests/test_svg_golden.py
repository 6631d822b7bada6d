"""Drawings by other hands: the regions that were read, against what a renderer by other hands paints.

How it is judged stands in `svg_whole`, which runs over whole collections; here is a sample of each.
"""

from __future__ import annotations

import pytest

from tests.collections import SOURCES, collection_or_skip
from tests.svg_whole import MOST, judged, reason

SAMPLE = 60


@pytest.mark.campaign
@pytest.mark.parametrize("name", SOURCES)
def test_collections_are_painted_alike(name: str) -> None:
    results = [(path.name, *list(judged(path))[-1:]) for path in collection_or_skip(name, SAMPLE, seed=7)]
    wrong = [
        f"{file}: {result['outcome']}; {reason(result)}" for file, result in results if result["outcome"] != "agree"
    ]
    assert len(results) > SAMPLE / 2
    assert len(wrong) <= MOST * len(results), "\n".join(wrong)
