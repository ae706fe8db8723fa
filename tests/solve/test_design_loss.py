"""The heat loss at a given temperature: a closed form, and a field solved there instead of scaled to it."""

from math import log, pi

import pytest
from plain_lines import FLAT, line, only

from sim.case import parse_case
from sim.judge.check import check
from sim.report.summary import beside
from sim.solve.at_rest import MeshStore
from sim.solve.design_loss import loss_at
from sim.solve.section import solve_section

ZERO = 273.15
STORE = MeshStore()
PLASTIC = {"conductivity": "0.4 W/m/K", "density": "950 kg/m3", "specific_heat": "1900 J/kg/K"}
TABLE = [["0 degC", "0.03 W/m/K"], ["100 degC", "0.06 W/m/K"]]


@pytest.mark.parametrize("state", ["still", "mixed", "empty", "flowing"])
@pytest.mark.parametrize("fill", [1.0, 0.5])
def test_concentric_wall_against_the_closed_form(state: str, fill: float) -> None:
    """No tracer, a plastic wall: ln(r2/r1)/2 pi k from the wall's mean outward, whatever the contents and the level.

    The mean over the area of a ring that conducts evenly: T(r) = T1 - q ln(r/r1)/(2 pi k), integrated by hand.
    """
    r1, r2, r3 = 0.05115, 0.05715, 0.10715
    contents = {"contents__state": state, "contents__fill": fill, "pipe__material": PLASTIC}
    if state == "flowing":
        contents |= {"contents__temperature": "20 degC", "contents__film_coefficient": "50 W/m2/K"}
    mean_ln = (r2**2 * log(r2 / r1) - (r2**2 - r1**2) / 2) / (r2**2 - r1**2)
    beyond = (
        (log(r2 / r1) - mean_ln) / (2 * pi * 0.4) + log(r3 / r2) / (2 * pi * 0.04) + 1 / (2 * pi * r3 * 10)
    )
    computed = loss_at(only(line(**contents)), STORE, 60.0 + ZERO, 2.0)
    assert computed.value == pytest.approx(70.0 / beyond, abs=computed.band + 1e-9)
    assert computed.band < 5e-3 * computed.value


def test_loss_is_solved_at_its_temperature() -> None:
    """Insulation that conducts more when warm, tracers strong enough to heat the line far above 10 degC.

    The same loss comes out of a flow at 10 degC behind a perfect film; scaled from the hot field it would be 20 % more.
    """
    raw = line(FLAT | {"output": "40 W/m"}, layer__conductivity=TABLE, design={"maintain": "10 degC"})
    answer = check(parse_case(raw), fineness=1.5).conditions[0]
    assert answer.loss is not None
    flow = {"state": "flowing", "temperature": "10 degC", "film_coefficient": "1e5 W/m2/K"}
    cold = only(line(FLAT | {"output": "0 W/m"}, layer__conductivity=TABLE, contents=raw["contents"] | flow))
    solved = solve_section(cold, STORE, 1.5).value("heat_out")
    assert answer.loss.value == pytest.approx(solved, rel=1e-3)
    hot = answer.result
    assert hot is not None
    scaled = hot.value("heat_out") / (hot.value("wall.mean") - 263.15) * 20.0
    assert scaled > 1.2 * answer.loss.value
    row = next(r for r in beside(answer, frozenset()) if r.quantity.startswith("heat loss"))
    assert "±" in row.field


def test_flowing_contents_are_taken_through_their_film() -> None:
    """Without a maintain temperature the simplified method starts from the contents; so does the field."""
    flow = {"state": "flowing", "temperature": "60 degC", "film_coefficient": "20 W/m2/K"}
    raw = line(FLAT, contents=line()["contents"] | flow)
    answer = check(parse_case(raw), fineness=1.5).conditions[0]
    assert answer.loss is not None
    assert answer.simplified.terms["film in the bore"] > 0.1
    assert answer.loss.value == pytest.approx(answer.simplified.heat_loss, rel=0.02)
