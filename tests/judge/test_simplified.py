"""The one-line method against hand-worked numbers, a reprinted table and its own balances."""

from math import log, pi
from types import SimpleNamespace

import numpy as np
import pytest

from sim.judge.simplified import contact_circumference, simplified

ZERO = 273.15


def constant(value):
    return lambda t: value


def layer(thickness, conductivity, wet=None):
    return SimpleNamespace(thickness=thickness, conductivity=conductivity, wet=wet)


class Fixed:
    def __init__(self, power):
        self.power = power

    def watts(self, wall, supply):
        return np.full_like(wall, self.power if supply > 0.0 else 0.0)

    def slope(self, wall, supply):
        return np.zeros_like(wall)


def flat(power, **changes):
    keys = {
        "name": "T1",
        "shape": "flat",
        "width": 0.012,
        "diameter": None,
        "contact_width": None,
        "contact_conductance": 400.0,
        "standoff": 0.0,
        "over": None,
        "on": True,
        "tolerance": 0.0,
        "output": power if isinstance(power, Fixed) else Fixed(power),
    }
    return SimpleNamespace(**(keys | changes))


def make(**changes):
    """DN 100 Sch 40 with 50 mm of 0.04 W/m/K in a bright sheet, 60 degC in a wind of 5 m/s at -20 degC."""
    pipe = SimpleNamespace(
        outer_diameter=0.1143,
        inner_radius=0.05113,
        material=SimpleNamespace(conductivity=constant(50.0)),
    )
    contents = SimpleNamespace(
        state="still", temperature=None, velocity=None, film_coefficient=None, fill=1.0, fluid=None
    )
    insulation = SimpleNamespace(fit="snug", bore=None, layers=(layer(0.05, constant(0.04)),))
    keys = {
        "pipe": pipe,
        "contents": contents,
        "tracers": (),
        "insulation": insulation,
        "foil": None,
        "barrier": None,
        "outside": SimpleNamespace(coefficient=None, emissivity=0.13),
        "limits": SimpleNamespace(contents_min=None, wall_min=None),
        "design": design(60.0),
    }
    condition = {
        "name": "night",
        "ambient": ZERO - 20.0,
        "wind": 5.0,
        "wind_from": None,
        "supply": 1.0,
        "output": "nominal",
        "sun": None,
        "sky": None,
        "rain": False,
    }
    condition |= {key: changes.pop(key) for key in list(changes) if key in condition}
    return SimpleNamespace(**(keys | changes), conditions=(SimpleNamespace(**condition),))


def design(celsius):
    return SimpleNamespace(maintain=None if celsius is None else celsius + ZERO)


def shell(*layers, fit="snug", bore=None):
    return SimpleNamespace(fit=fit, bore=bore, layers=layers)


def test_layers_barrier_and_given_coefficient_by_hand():
    """25 mm of 0.05 and 25 mm of 0.03, 5 mm of 0.2 as barrier, h 10: series of logarithms."""
    case = make(
        insulation=shell(layer(0.025, constant(0.05)), layer(0.025, constant(0.03))),
        barrier=SimpleNamespace(thickness=0.005, conductivity=0.2, emissivity=0.9),
        outside=SimpleNamespace(coefficient=10.0, emissivity=0.9),
    )
    resistance = (
        log(164.3 / 114.3) / (2 * pi * 0.05)
        + log(214.3 / 164.3) / (2 * pi * 0.03)
        + log(224.3 / 214.3) / (2 * pi * 0.2)
        + 1.0 / (pi * 0.2243 * 10.0)
    )
    result = simplified(case)
    assert result.heat_loss == pytest.approx(80.0 / resistance, rel=1e-12)
    assert list(result.terms) == ["insulation layer 1", "insulation layer 2", "barrier", "outside film"]
    assert sum(result.terms.values()) == pytest.approx(resistance, rel=1e-12)


def test_uncontrolled_pipe_temperature_balances():
    case = make(tracers=(flat(25.0, tolerance=0.2),), output="high", design=design(None))
    result = simplified(case)
    assert result.tracer_output == pytest.approx(30.0)
    assert result.heat_loss == pytest.approx(30.0, rel=1e-8)
    assert result.pipe_temperature == result.pipe_temperature_uncontrolled
    assert any("balance" in note for note in result.notes)
    resistance = sum(result.terms.values())
    assert result.pipe_temperature - (ZERO - 20.0) == pytest.approx(30.0 * resistance, rel=1e-8)


def test_sheath_by_hand():
    """W/(C U): 24 W/m over 12 mm and 400 W/m2/K is 5 K; a round one of 10 mm touches over a fifth, 30 K."""
    result = simplified(make(tracers=(flat(24.0),), design=design(None)))
    assert result.sheath["T1"] - result.pipe_temperature_uncontrolled == pytest.approx(5.0, rel=1e-9)
    rod = flat(24.0, shape="round", width=None, diameter=0.010)
    assert contact_circumference(rod) == pytest.approx(0.002)
    result = simplified(make(tracers=(rod,), design=design(None)))
    assert result.sheath["T1"] - result.pipe_temperature_uncontrolled == pytest.approx(30.0, rel=1e-9)
    lifted = simplified(make(tracers=(flat(24.0, standoff=0.01),), design=design(None)))
    assert lifted.sheath["T1"] is None
    assert any("no simplified sheath for T1" in note for note in lifted.notes)


def test_tracer_off_or_no_supply():
    for changes in ({"supply": 0.0}, {}):
        tracer = flat(24.0, on="supply" in changes)
        result = simplified(make(tracers=(tracer,), design=design(None), **changes))
        assert result.pipe_temperature_uncontrolled == ZERO - 20.0
        assert result.heat_loss == pytest.approx(0.0, abs=1e-9)


def test_flowing_contents_through_film_and_wall():
    contents = SimpleNamespace(
        state="flowing", temperature=ZERO + 60.0, velocity=None, film_coefficient=200.0, fill=1.0, fluid=None
    )
    result = simplified(make(contents=contents, design=design(None), tracers=(flat(24.0),)))
    assert list(result.terms)[:2] == ["film in the bore", "pipe wall"]
    assert result.terms["film in the bore"] == pytest.approx(1.0 / (pi * 0.10226 * 200.0))
    assert result.terms["pipe wall"] == pytest.approx(log(114.3 / 102.26) / (2 * pi * 50.0))
    assert result.heat_loss < simplified(make()).heat_loss
    assert result.sheath["T1"] == pytest.approx(ZERO + 65.0)


def test_temperature_falls_back_on_the_limits():
    limits = SimpleNamespace(contents_min=ZERO + 5.0, wall_min=ZERO + 3.0)
    assert simplified(make(design=design(None), limits=limits)).pipe_temperature == ZERO + 5.0
    limits.contents_min = None
    assert simplified(make(design=design(None), limits=limits)).pipe_temperature == ZERO + 3.0


def test_oversize_starts_at_the_bore_and_names_what_it_leaves_out():
    outside = SimpleNamespace(coefficient=10.0, emissivity=0.9)
    wet = layer(0.05, constant(0.04), wet=SimpleNamespace())
    result = simplified(make(insulation=shell(wet, fit="oversize", bore=0.14), outside=outside))
    assert result.terms["insulation layer 1"] == pytest.approx(log(0.24 / 0.14) / (2 * pi * 0.04))
    assert any("gap" in note and "wet" in note for note in result.notes)


def test_the_barriers_own_emissivity_counts():
    """Still air: h = 1.25 (dT/De)^(1/4) + eps sigma (Ts^4 - Ta^4)/(Ts - Ta) (ISO 12241) at the surface that is told."""
    sheet = SimpleNamespace(thickness=0.001, conductivity=160.0, emissivity=0.13)
    bright, black = (
        simplified(make(wind=0.0, barrier=sheet, outside=SimpleNamespace(coefficient=None, emissivity=e)))
        for e in (0.13, 0.9)
    )
    assert bright.heat_loss == black.heat_loss
    surface, ambient, outer = bright.surface_temperature, ZERO - 20.0, 0.2163
    film = 1.25 * ((surface - ambient) / outer) ** 0.25
    film += 0.13 * 5.670374e-8 * (surface**4 - ambient**4) / (surface - ambient)
    assert bright.heat_loss == pytest.approx(pi * outer * film * (surface - ambient), rel=1e-6)


def test_bare_pipe_and_no_difference():
    case = make(insulation=shell(), outside=SimpleNamespace(coefficient=None, emissivity=0.9))
    bare = simplified(case)
    assert bare.surface_temperature == pytest.approx(ZERO + 60.0)
    same = simplified(make(design=design(-20.0), outside=SimpleNamespace(coefficient=None, emissivity=0.0)))
    assert same.heat_loss == 0.0


def test_a_balance_that_does_not_exist_is_said():
    result = simplified(make(tracers=(flat(1e6),), design=design(None)))
    assert result.pipe_temperature_uncontrolled is None
    assert result.sheath["T1"] is None
    assert any("balances" in note for note in result.notes)
