"""The iteration: settles to its tolerance, or says that it did not."""

import numpy as np
import pytest
from plain_lines import FLAT, ROUND, line, mesh, numbers, only, solution

from sim.heat.network import network
from sim.solve import steady
from sim.solve.at_rest import MeshStore
from sim.solve.balance import evaluate, residual
from sim.solve.direct import TOLERANCE
from sim.solve.section import solve_section
from sim.solve.steady import NO_HEAT, NotConverged, solve

WINDY = line(
    ROUND,
    contents__state="empty",
    insulation__fit="bridged",
    layer__conductivity=[["-30 degC", "0.03 W/m/K"], ["100 degC", "0.06 W/m/K"]],
    barrier={"thickness": "0.6 mm", "material": "aluminium"},
    outside={},
    condition__wind="8 m/s",
    condition__wind_from=9.0,
)


def test_settles_to_its_tolerance_in_watts() -> None:
    field = solution(WINDY)
    balance = evaluate(field.network, field.temperature, field.network.law())
    left = np.abs(residual(field.network, balance, field.temperature)).sum()
    assert left < 1e-6  # of 20 W/m, by a path of its own
    assert field.relative <= TOLERANCE
    assert field.steps < 25


def test_where_it_starts_makes_no_difference() -> None:
    field = solution(WINDY)
    for start in (200.0, 500.0):
        again = solve(field.network, np.full(field.network.nodes, start))
        assert again.temperature == pytest.approx(field.temperature, abs=1e-6)


def test_one_linear_step_suffices_for_a_linear_section() -> None:
    assert solution(line(FLAT)).steps <= 2


def test_nothing_to_lose_heat_to_is_refused() -> None:
    adiabatic = line(FLAT, outside__coefficient="0 W/m2/K", contents__state="still")
    with pytest.raises(NotConverged):
        solution(adiabatic)


def test_giving_up_raises_and_names_the_imbalance(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(steady, "MAX_STEPS", 2)
    with pytest.raises(NotConverged, match=r"W/m left after 2 steps"):
        solution(WINDY)
    with pytest.raises(NotConverged):
        solve_section(only(WINDY), MeshStore(), 1.5)


def test_not_a_number_is_not_an_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    case = only(line(FLAT))
    net = network(case, mesh(line(FLAT), 1.0))
    with pytest.raises(NotConverged):
        solve(net, np.full(net.nodes, np.nan))


@pytest.mark.parametrize("rows", [
    [["9.7 degC", "25 W/m"], ["20 degC", "25 W/m"], ["20.1 degC", "1 W/m"], ["31 degC", "1 W/m"]],
    [["-20 degC", "17 W/m"], ["1 degC", "6 W/m"], ["10 degC", "5 W/m"]],
    [["-40 degC", "60 W/m"], ["60 degC", "0 W/m"]],
    [["-40 degC", "1 W/m"], ["60 degC", "1 W/m"]],
])  # fmt: skip
@pytest.mark.parametrize("second", [False, True])
def test_kinks_of_a_table_are_no_trap(rows: list, second: bool) -> None:
    """The output must be what the table says at the wall's temperature, also where the table is steep or kinked."""
    table = {"at": rows, "voltage_exponent": 1.0}
    tracers = [FLAT | {"output": table}]
    if second:
        tracers.append(ROUND | {"name": "T2", "clock": 8.0, "output": table})
    field = solution(line(*tracers), 1.0)
    celsius = [float(r[0].split()[0]) for r in rows]
    watts = [float(r[1].split()[0]) for r in rows]
    wall = field.network.beneath @ field.temperature - 273.15
    assert field.balance.heat == pytest.approx(np.interp(wall, celsius, watts), abs=1e-6)
    assert field.relative <= TOLERANCE


def test_an_idle_line_is_at_ambient_and_closes() -> None:
    values = numbers(line(FLAT | {"on": False}, outside={}, condition__wind="5 m/s"))
    assert values["contents.max"] == pytest.approx(263.15, abs=1e-9)
    assert values["barrier.min"] == pytest.approx(263.15, abs=1e-9)
    assert abs(values["heat_out"]) < 1e-9 * NO_HEAT * 2
    assert values["closure"] < 1e-8
