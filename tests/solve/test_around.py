"""An episode with ice around a support: the far end is the line's own section, the support freezes first."""

import numpy as np
import pytest

from sim.case import case_for, parse_case
from sim.judge.episode_limits import freezing_of
from sim.solve.around import recorder, solve_around, stretch
from sim.solve.episode import follow, standard_record
from sim.solve.multigrid import MEMORY_LIMIT
from sim.solve.stiff import State
from sim.solve.support_meshes import solve_support
from sim.solve.transient import Line
from tests.support_lines import line


@pytest.mark.slow
@pytest.mark.parametrize("state", ["still", "mixed"])
def test_ice_around_a_shoe(state: str) -> None:
    """Frozen in part and thawed again; far from the shoe the ice is that of the section, and the heat closes."""
    episode = {
        "name": "cut",
        "condition": "a",
        "start": "1 degC",
        "lasts": "30 h",
        "change": [
            {"at": "0 h", "supply": 0, "ambient": "-30 degC"},
            {"at": "14 h", "supply": 1, "ambient": "8 degC"},
        ],
    }
    keys = {"contents": {"fluid": "water", "state": state}, "episode": [episode]}
    case = parse_case(line(**keys))
    narrowed, support = case_for(case, "a"), case.supports[0]
    net, _ = stretch(narrowed, support, 0.3, MEMORY_LIMIT)
    record, layers = recorder(net), net.layers.count
    layer = np.repeat(np.arange(layers), net.plan.nodes)

    def each(line: Line, at: State) -> dict[str, float]:
        share = line.store.frozen(at.enthalpy, at.temperature)
        parts = line.frozen_in(share, layer, layers)
        return record(line, at) | {"near": float(parts[0]), "far": float(parts[-1])}

    track = follow(net, case.episodes[0], (), np.full(net.nodes, 274.15), 0.1, each)
    alone = follow(net.plan, case.episodes[0], (), np.full(net.plan.nodes, 274.15), 0.1, standard_record)
    moments = np.linspace(2.0, 14.0, 7) * 3600
    far = np.interp(moments, track.time, track.values["far"])
    near = np.interp(moments, track.time, track.values["near"])
    assert far == pytest.approx(np.interp(moments, alone.time, alone.values["frozen"]), abs=4e-3)
    assert (near[1:] > far[1:] + 0.01).all()
    assert max(track.values["frozen"]) > 0.2
    assert track.values["frozen"][-1] < 0.5 * max(track.values["frozen"])
    assert abs(track.closure) < 1e-8


@pytest.mark.slow
def test_mixed_contents_freeze_solid_around_a_shoe() -> None:
    """Slice after slice becomes solid beside slices that freeze on, in few steps, and the heat closes."""
    episode = {
        "name": "cut",
        "condition": "a",
        "start": "1 degC",
        "lasts": "40 h",
        "change": [{"at": "0 h", "supply": 0, "ambient": "-30 degC"}],
    }
    case = parse_case(line(contents={"fluid": "water", "state": "mixed"}, episode=[episode]))
    net, _ = stretch(case_for(case, "a"), case.supports[0], 0.3, MEMORY_LIMIT)
    track = follow(net, case.episodes[0], (), np.full(net.nodes, 274.15), 0.1, recorder(net))
    share = np.array(track.values["frozen"])
    assert share[-1] > 0.9
    assert (np.diff(share) >= -1e-9).all()
    assert len(track.time) < 1500
    assert abs(track.closure) < 1e-8


FINENESSES = (0.85, 1.2)


@pytest.mark.slow
def test_a_finer_answer_lies_in_the_band_of_a_coarser() -> None:
    """Ice around a bare shoe after a power cut: every course, the frozen share and first ice, whose band has an end."""
    cut = {"at": "1 h", "supply": 0}
    episode = {"name": "cut", "condition": "a", "lasts": "30 h", "support": "S1", "change": [cut]}
    cold = {
        "condition": [{"name": "a", "ambient": "-20 degC"}],
        "contents": {"fluid": "water", "state": "still"},
    }
    case = parse_case(line(**cold, episode=[episode]))
    narrowed = case_for(case, "a")
    results = []
    for fineness in FINENESSES:
        known = solve_support(narrowed, case.supports[0], fineness)
        results.append(solve_around(narrowed, case.supports[0], case.episodes[0], (), known, fineness))
    coarse, fine = results
    for path, series in coarse.series.items():
        apart = np.abs(fine.series[path].value - series.value)
        assert (apart <= series.band + 1e-6).all(), path
    ice, later = (freezing_of(result)[0] for result in results)
    assert ice is not None
    assert later is not None
    assert abs(ice.first.value - later.first.value) <= ice.first.band < 4 * 3600


@pytest.mark.slow
@pytest.mark.parametrize(
    "weather", [{"rain": True}, {"sky": {"temperature": "-5 degC"}}, {"ambient": "-9 degC"}]
)
def test_a_steady_start_is_in_the_first_moment_s_weather(weather: dict[str, object]) -> None:
    """Around a support as in the section: with nothing that changes, nothing moves."""
    episode = {"name": "rest", "condition": "a", "lasts": "20 min", **weather}
    sky = {"name": "a", "ambient": "0 degC", "sky": {"temperature": "-60 degC"}}
    case = parse_case(line(outside={}, condition=[sky], episode=[episode]))
    narrowed, support = case_for(case, "a"), case.supports[0]
    known = solve_support(narrowed, support, 1.0)
    wall = solve_around(narrowed, support, case.episodes[0], (), known, 1.0).fine.course("wall.min")
    assert wall is not None
    assert np.ptp(wall.value) < 2e-3
