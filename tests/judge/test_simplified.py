"""The one-line method: its terms by hand, its own balances, what it leaves out. By hand: `judging.simplified`."""

from math import log, pi
from typing import Any

import pytest
from plain_lines import FLAT, line, only

from sim.judge.simplified import Simplified, simplified

ZERO = 273.15
FILMS: dict[str, Any] = {"outside": {"emissivity": 0.13}, "condition__wind": "5 m/s"}


def method(*tracers: dict[str, Any], **changes: Any) -> Simplified:
    """The plain line kept at 60 degC in -20 degC under a given coefficient of 10 W/m2/K, unless it is changed."""
    kept = {"design": {"maintain": "60 degC"}, "condition__ambient": "-20 degC"}
    return simplified(only(line(*tracers, **(kept | changes))))


def layer(thickness: str, conductivity: str, **more: Any) -> dict[str, Any]:
    return {"thickness": thickness, "conductivity": conductivity} | more


def test_a_lifted_tracer_has_no_simplified_sheath() -> None:
    lifted = method(FLAT | {"standoff": "10 mm"}, design={})
    assert lifted.sheath["T1"] is None
    assert any("no simplified sheath for T1" in note for note in lifted.notes)


@pytest.mark.parametrize(("own", "condition"), [({"on": False}, {}), ({}, {"condition__supply": 0.0})])
def test_tracer_off_or_no_supply(own: dict[str, Any], condition: dict[str, Any]) -> None:
    result = method(FLAT | own, design={}, **condition)
    assert result.pipe_temperature_uncontrolled == pytest.approx(ZERO - 20.0)
    assert result.heat_loss == pytest.approx(0.0, abs=1e-9)


def test_flowing_contents_through_film_and_wall() -> None:
    flowing = {"state": "flowing", "temperature": "60 degC", "film_coefficient": "200 W/m2/K"}
    result = method(FLAT | {"output": "24 W/m"}, contents=flowing, design={})
    assert list(result.terms)[:2] == ["film in the bore", "pipe wall"]
    assert result.terms["film in the bore"] == pytest.approx(1.0 / (pi * 0.1023 * 200.0))
    assert result.terms["pipe wall"] == pytest.approx(log(114.3 / 102.3) / (2 * pi * 50.0))
    assert result.heat_loss < method().heat_loss
    assert result.sheath["T1"] == pytest.approx(ZERO + 65.0)


def test_temperature_falls_back_on_the_limits() -> None:
    both = {"contents_min": "5 degC", "wall_min": "3 degC"}
    assert method(design={}, limits=both).pipe_temperature == ZERO + 5.0
    assert method(design={}, limits={"wall_min": "3 degC"}).pipe_temperature == ZERO + 3.0


def test_oversize_starts_at_the_bore_and_names_what_it_leaves_out() -> None:
    wet = {"from_clock": 4, "to_clock": 8, "factor": 2.0}
    layers = [layer("50 mm", "0.04 W/m/K", wet=wet)]
    result = method(insulation={"fit": "oversize", "bore": "140 mm", "layer": layers})
    assert result.terms["insulation layer 1"] == pytest.approx(log(0.24 / 0.14) / (2 * pi * 0.04))
    assert any("gap" in note and "wet" in note for note in result.notes)


def test_the_barriers_own_emissivity_counts() -> None:
    """Still air: h = 1.25 (dT/De)^(1/4) + eps sigma (Ts^4 - Ta^4)/(Ts - Ta) (ISO 12241) at the surface that is told."""
    sheet = layer("1 mm", "160 W/m/K", emissivity=0.13)
    bright, black = (method(barrier=sheet, outside={"emissivity": e}) for e in (0.13, 0.9))
    assert bright.heat_loss == black.heat_loss
    surface, ambient, outer = bright.surface_temperature, ZERO - 20.0, 0.2163
    film = 1.25 * ((surface - ambient) / outer) ** 0.25
    film += 0.13 * 5.670374e-8 * (surface**4 - ambient**4) / (surface - ambient)
    assert bright.heat_loss == pytest.approx(pi * outer * film * (surface - ambient), rel=1e-6)


def test_bare_pipe_and_no_difference() -> None:
    bare = method(insulation={"layer": []}, **FILMS)
    assert bare.surface_temperature == pytest.approx(ZERO + 60.0)
    assert method(design={"maintain": "-20 degC"}, **FILMS).heat_loss == pytest.approx(0.0, abs=1e-9)


def test_a_balance_that_does_not_exist_is_said() -> None:
    result = method(FLAT | {"output": "100 kW/m"}, design={}, **FILMS)
    assert result.pipe_temperature_uncontrolled is None
    assert result.sheath["T1"] is None
    assert any("balances" in note for note in result.notes)
