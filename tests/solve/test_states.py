"""Several steady states: all of them found, the unstable ones told apart, and every limit held in each stable one."""

from itertools import product

import numpy as np
import pytest
from plain_lines import FLAT, STORE, line, only

from sim.case import parse_case
from sim.heat.network import Network, network
from sim.judge.check import check
from sim.judge.limits import check_limits
from sim.judge.support import STATES as NOT_AT_SUPPORTS
from sim.solve.section import solve_section
from sim.solve.states import _point, may_have_several, steady_states
from sim.study.row import condition_row

RISING = [["-20 degC", "3 W/m"], ["5 degC", "4 W/m"], ["25 degC", "15 W/m"], ["100 degC", "38 W/m"]]
TWO = line(FLAT | {"output": {"at": RISING}})
STEP = [["-20 degC", "1 W/m"], ["30 degC", "1.2 W/m"], ["34 degC", "8 W/m"], ["90 degC", "5 W/m"]]
APART = {
    "pipe__outer_diameter": "219 mm",
    "pipe__material": {"conductivity": "0.2 W/m/K", "density": "950 kg/m3", "specific_heat": "1900 J/kg/K"},
    "contents__state": "empty",
    "contents__film_coefficient": "0 W/m2/K",
}


def net_of(raw: dict, fineness: float = 1.0) -> Network:
    case = only(raw)
    return network(case, STORE.get(case, fineness))


def walls(states: tuple) -> np.ndarray:
    return np.array([s.network.beneath @ s.temperature for s in states]) - 273.15


def test_one_tracer_against_a_scan_of_its_table() -> None:
    """All constant, the wall is linear in the output: crossings of that line with the table, and their sides.

    A crossing is stable where the table comes from above the line. The line is taken at two fixed outputs.
    """
    net = net_of(TWO)
    low = _point(net, np.array([0.0]), None)
    at_20 = _point(net, np.array([20.0]), None).wall[0]
    grid = np.linspace(-20.0, 140.0, 200_001)
    needed = 20.0 * (grid + 273.15 - low.wall[0]) / (at_20 - low.wall[0])
    excess = np.interp(grid, [-20, 5, 25, 100], [3, 4, 15, 38]) - needed
    falls, rises = (grid[:-1][(excess[:-1] * s > 0) & (excess[1:] * s <= 0)] for s in (1, -1))
    states = steady_states(net)
    assert len(falls) == 2
    assert walls(states.stable)[:, 0] == pytest.approx(falls, abs=2e-3)
    assert walls(states.unstable)[:, 0] == pytest.approx(rises, abs=2e-3)
    assert states.complete


def test_every_combination_of_two_tracers_far_apart() -> None:
    """Two tracers that hardly feel each other have the nine pairs of the three states of one; four are stable."""
    tracers = [FLAT | {"output": {"at": STEP}}, FLAT | {"name": "T2", "clock": 11.0, "output": {"at": STEP}}]
    states = steady_states(net_of(line(*tracers, **APART)))
    cold, between, hot = (0.0, 5.0), (30.0, 34.0), (55.0, 65.0)
    for computed, levels in ((states.stable, (cold, hot)), (states.unstable, (cold, between, hot))):
        values = [pair for pair in product(levels, repeat=2) if levels == (cold, hot) or between in pair]
        assert len(computed) == len(values)
        for pair in values:
            assert any(
                all(a < w < b for (a, b), w in zip(pair, wall, strict=True)) for wall in walls(computed)
            )
    assert states.complete


def test_properties_over_temperature_and_films() -> None:
    """Where the chord iteration by itself lands on the unstable state, both stable ones are found."""
    raw = line(
        FLAT | {"output": {"at": RISING}},
        layer__conductivity=[["0 degC", "0.03 W/m/K"], ["100 degC", "0.05 W/m/K"]],
        outside={},
        condition__wind="4 m/s",
    )
    states = steady_states(net_of(raw))
    assert (len(states.stable), len(states.unstable), states.complete) == (2, 1, True)
    for state in (*states.stable, *states.unstable):
        assert state.relative < 1e-6
        watts = np.interp(walls((state,))[0], [-20, 5, 25, 100], [3, 4, 15, 38])
        assert state.balance.heat == pytest.approx(watts, rel=1e-6)


def test_a_falling_table_costs_nothing() -> None:
    falling = only(line(FLAT | {"output": {"at": [["0 degC", "20 W/m"], ["80 degC", "0 W/m"]]}}))
    assert not may_have_several(falling)
    assert not may_have_several(only(TWO | {"condition": [TWO["condition"][0] | {"supply": 0.0}]}))


@pytest.mark.parametrize(
    ("limits", "verdict"),
    [
        ({"wall_min": "-5 degC", "sheath_max": "100 degC"}, "pass"),
        ({"wall_min": "5 degC"}, "fail"),  # missed in the cold state only
        ({"sheath_max": "40 degC"}, "fail"),  # missed in the warm one only
        ({"barrier_max": "-8 degC"}, "fail"),
    ],
)
def test_every_limit_holds_in_every_stable_state(limits: dict, verdict: str) -> None:
    answer = check(parse_case(TWO | {"limits": limits}), fineness=1.0)
    judged = answer.conditions[0]
    assert judged.verdict == verdict
    assert judged.result is not None
    assert len(judged.limits) == 2 * len(limits)
    assert len({one.state for one in judged.limits}) == 2
    assert any("2 steady states" in note for note in judged.notes)
    mean = [state.value("wall.mean") for state in judged.result.states]
    assert mean[0] < judged.result.unstable[0] < mean[1]


def test_no_pass_where_states_may_be_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Too many combinations to try: said, and nothing passes, in a study's row neither."""
    monkeypatch.setattr("sim.solve.states.MOST_PIECES", 1)
    cold = FLAT | {"output": {"at": [["-20 degC", "3 W/m"], ["90 degC", "3.1 W/m"]]}}
    result = solve_section(only(line(cold) | {"limits": {"wall_min": "-50 degC"}}), STORE, 1.0)
    assert [one.verdict for one in check_limits(result)] == ["too close to call"]
    assert any("nothing passes" in note for note in result.notes)
    assert condition_row(result, {}, banded=True)["verdicts"] == {"wall_min": "too close to call"}


@pytest.mark.slow
def test_no_pass_at_a_support() -> None:
    cold = FLAT | {"output": {"at": [["-20 degC", "3 W/m"], ["90 degC", "3.1 W/m"]]}}
    raw = line(cold | {"clock": 2.0}) | {
        "limits": {"wall_min": "-50 degC"},
        "support": [{"name": "S1", "family": "shoe"}],
    }
    support = check(parse_case(raw), fineness=1.8).supports[0]
    assert support.verdict == "too close to call"
    assert NOT_AT_SUPPORTS in support.limits[0].note
