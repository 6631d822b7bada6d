"""Fits over drawings by other hands, each judged from outside; INLAYFIT_CAMPAIGN says how many."""

from __future__ import annotations

import os

import pytest

from tests.campaign import as_table, cases, run, summary
from tests.collections import CollectionMissingError

SHORT = 60
SLICES = 6


@pytest.mark.campaign
@pytest.mark.parametrize("part", range(SLICES))
def test_every_fit_of_the_campaign_keeps_its_promises(part: int) -> None:
    """Inside its pocket, apart from its neighbours, the gap even, every change named, no loss invented."""
    count = int(os.environ.get("INLAYFIT_CAMPAIGN", SHORT))
    try:
        chosen = [case for case in cases(count) if case.number % SLICES == part]
    except CollectionMissingError as reason:
        pytest.skip(str(reason))
    results = [run(case) for case in chosen]
    print(summary(results))
    bad = [result for result in results if result["outcome"] in {"failed", "crashed"}]
    assert not bad, f"{summary(results)}\n{as_table(bad)}"
    fitted = [result for result in results if result["outcome"] == "ok"]
    assert len(fitted) >= 0.9 * len(results), "too many drawings were refused for the campaign to mean anything"
