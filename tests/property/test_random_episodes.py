"""Random episodes over the whole schema: none crashes, loses energy, or ends without a word."""

from collections import Counter

import pytest
from random_episodes import outcome_of

FAULTLESS = {"ended", "not converged", "refused"}
MOST_UNSETTLED = 1  # of a block, that do not converge


@pytest.mark.slow
@pytest.mark.parametrize("block", range(6))
def test_thirty_episodes(block: int) -> None:
    ends = Counter[str]()
    for seed in range(5 * block, 5 * block + 5):
        outcome = outcome_of(seed)
        assert outcome.end in FAULTLESS, outcome
        ends[outcome.end] += 1
    assert ends["not converged"] <= MOST_UNSETTLED, ends
