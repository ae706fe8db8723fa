"""A second opinion of an episode: what agrees, what differs and when, what is not covered; closed forms."""

from typing import Any

import numpy as np
import pytest
from plain_lines import FLAT, line

from sim.case import case_for, parse_case
from sim.case.episode import Episode
from sim.solve.episode_result import EpisodeResult
from sim.solve.over_time import solve_episode
from validation.opinion.compare import ELEMENTS, Opinion
from validation.opinion.over_time import compared_over_time
from validation.opinion.words import line as shown
from validation.opinion.words import remarks, state
from validation.peers.process import Reply


def raw(**episode: Any) -> dict[str, Any]:
    whole = line(FLAT, sensor=[{"name": "S1", "clock": 9.0}])
    name = whole["condition"][0]["name"]
    return whole | {
        "episode": [{"name": "cut", "condition": name, "lasts": "2 h", "start": "20 degC", **episode}]
    }


@pytest.fixture(scope="module")
def result() -> EpisodeResult:
    case = parse_case(raw())
    episode = case.episodes[0]
    return solve_episode(case_for(case, episode.condition), episode, fineness=1.0, tolerance=0.5)


def reply(result: EpisodeResult, off: float = 0.0) -> dict[str, Any]:
    """Elements that say what we say, warmer by so much in the second hour."""
    late = off * (result.time > 3600.0)
    values = {
        path: list(one.value + late)
        for path, one in result.series.items()
        if path in ("wall.min", "sensors.S1")
    }
    one = {"time": list(result.time), "values": values, "switchings": {}, "energy": {}, "unknowns": 1000}
    return {"coarse": one, "fine": one}


def test_equal_courses_agree_and_shifted_ones_differ_with_their_moment(result: EpisodeResult) -> None:
    same = compared_over_time("episode cut", result, Reply(reply(result)))
    assert state(same) == "agree"
    assert {row.elements_verdict for row in same.rows} == {"agree"}
    apart = compared_over_time("episode cut", result, Reply(reply(result, 30.0)))
    assert {row.quantity for row in apart.differing} == {"wall.min", "sensors.S1"}
    assert all(row.at is not None and row.at > 3600.0 for row in apart.rows)
    assert ", at " in shown(apart.rows[0]).quantity
    assert Opinion(result.case, (same, apart)).exit_code == 1
    missing = compared_over_time("episode cut", result, Reply(failure="ended"))
    assert missing.missing == {ELEMENTS: "ended"}
    assert any("FiPy" in notes for notes in remarks(missing))


def test_what_the_elements_do_not_cover_is_said() -> None:
    pytest.importorskip("skfem")
    from validation.peers.elements.over_time import not_covered_over_time

    case = parse_case(raw())
    narrowed, episode = case_for(case, case.episodes[0].condition), case.episodes[0]
    assert not_covered_over_time(narrowed, episode) == ""
    for change in ({"weather": "a.csv"}, {"support": "S1"}, {"start": "earlier"}):
        other: Episode = episode.model_copy(update=change)
        assert not_covered_over_time(narrowed, other)


@pytest.mark.slow
def test_elements_over_time_against_two_bodies_and_a_tracked_front() -> None:
    """A core in insulation that stores (parts.py), and still water that freezes (freezing.py)."""
    pytest.importorskip("skfem")
    pytest.importorskip("gmsh")
    from validation.checks.time import freezing, parts
    from validation.peers.elements.over_time import march

    def marched(sketched: dict[str, Any], path: str, **keys: Any) -> Any:
        case = parse_case(sketched | {"episode": [{"name": "e", "condition": "only", **keys}]})
        return march(case_for(case, "only"), case.episodes[0], (), (path,), 0.5, 1e-6, 60)

    storing = {"layer__density": "100 kg/m3", "layer__specific_heat": "840 J/kg/K"}
    computed = marched(parts.stirred(**storing), "contents.mean", start="100 degC", lasts="24 h")
    body = parts.TwoBodies(parts.CORE, parts.OUTER, parts.COVER, parts.LAYER, 84000.0, 10.0)
    warm = np.interp(24 * 3600.0, computed.time, computed.values["contents.mean"]) - 273.15
    assert warm == pytest.approx(100 * body.cooled(24 * 3600.0), abs=0.03)
    iced = parts.sketch(
        contents={"state": "still", "fluid": parts.WATER},
        pipe__material=freezing.THIN,
        insulation={},
        outside={"coefficient": "40 W/m2/K"},
        condition__ambient="-20 degC",
    )
    computed = marched(iced, "frozen", start="4 degC", lasts="1.5 h")
    far = 1 / (2 * np.pi * parts.OUTER * 40.0)
    share = freezing._tracked(far, 4.0, np.array([1.5]))[0][0]
    assert computed.values["frozen"][-1] == pytest.approx(share, abs=0.006)
