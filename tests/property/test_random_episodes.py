"""Random episodes over the whole schema: none crashes, loses energy, or ends without a word."""

from collections import Counter

import pytest
from random_episodes import episode_raw, outcome_of

from sim.case import parse_case

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


def test_random_episodes_are_valid_and_varied() -> None:
    cases = [parse_case(episode_raw(seed)) for seed in range(8)]
    episodes = [episode for case in cases for episode in case.episodes]
    assert any(episode.control for episode in episodes)
    assert any(episode.changes for episode in episodes)
    assert any(episode.start == "E1" for episode in episodes) or len(episodes) == len(cases)
