"""An episode on the desk: the library's answers, and a field for every moment of the slider."""

import json

import pytest

from .conftest import Ask
from .test_jobs import unpack

EPISODE = '{ condition = "cold", lasts = "2 h", warm_to = "1 degC" }'


@pytest.mark.slow
def test_an_episode_has_a_field_for_every_moment(ask: Ask) -> None:
    edit = (["episode", "E1"], EPISODE)
    answer = ask("episode", edit, episode="E1", fineness=1)
    done = answer["done"]
    json.dumps(done, allow_nan=False)
    assert done["verdict"] == "pass"
    assert done["moments"][0] == 0.0
    assert done["moments"][-1] == pytest.approx(2.0)
    assert len(done["field"]["values"]) == len(done["moments"]) == len(done["frozen"]) == 25
    points = len(unpack(done["field"]["point"])) // 2
    assert all(len(unpack(values)) == points for values in done["field"]["values"])
    low, high = done["field"]["range"]
    assert low < high
    curve = next(c for c in done["curves"] if c["kind"] == "wall")
    assert len(curve["value"]) == len(done["hour"])
    assert any("episode" in line["progress"] for line in answer["told"])


def test_an_episode_that_is_not_there_is_told(ask: Ask) -> None:
    assert ask("episode", episode="E7")["faults"][0]["key"] == "episode"
