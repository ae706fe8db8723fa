"""Freezing data of solutions in the catalogue, against published points and the lever rule."""

import tomllib

import numpy as np
import pytest
from plain_lines import FLAT, LIQUID, line

from sim.case import catalogue, parse_case
from sim.case.catalogue.solutions import POINTS, freezing
from sim.case.resolve import to_toml
from sim.heat.storage import fluid_store

ZERO = 273.15
NAMES = (
    "calcium chloride brine 25 %",
    "sodium chloride brine 20 %",
    "ethylene glycol 50 %",
    "propylene glycol 40 %",
)


@pytest.mark.parametrize(
    ("solute", "percent", "celsius", "within"),
    [
        *[("sodium chloride", *row, 0.1) for row in ((2, -1.13), (5, -2.97), (10, -6.6), (15, -10.88), (20, -16.46))],
        *[("calcium chloride", 100 / (1 + 9.0106 / m), t, 1.0) for m, t in ((0.5, -2.66), (1.5, -10.78), (3, -28.08))],
        ("ethylene glycol", 20, -7.95, 0.01),
        ("ethylene glycol", 40, -23.81, 0.01),
        ("propylene glycol", 20, -7.17, 0.01),
        ("propylene glycol", 40, -20.57, 0.01),
    ],
)  # fmt: skip
def test_freezing_point_of_a_solution(solute: str, percent: float, celsius: float, within: float) -> None:
    """Salt: Lange's Handbook, 15th edition, table 5.13 (10 %: from memory); calcium chloride by molality: Smithsonian
    Physical Tables, 9th edition, which lie up to 1 K apart from Melinder; glycols: Melinder 2010 by CoolProp 8.0.0."""
    assert float(POINTS[solute](percent / 100)) - ZERO == pytest.approx(celsius, abs=within)


@pytest.mark.parametrize("solute", list(POINTS))
def test_water_freezes_at_0_and_more_of_a_solute_lowers_it(solute: str) -> None:
    curve = POINTS[solute]
    assert float(curve(0.0)) == pytest.approx(ZERO, abs=0.05)  # what the fits leave
    assert (np.diff(curve(np.linspace(0.0, curve.strongest, 200))) < 0).all()


@pytest.mark.parametrize(
    ("solute", "share", "celsius", "ice"),
    [
        ("ethylene glycol", 0.20, -10.0, 0.149),
        ("ethylene glycol", 0.20, -20.0, 0.448),
        ("ethylene glycol", 0.20, -30.0, 0.559),
        ("calcium chloride", 0.15, -15.0, 0.164),
        ("calcium chloride", 0.15, -30.0, 0.408),
        ("sodium chloride", 0.10, -10.0, 0.289),
        ("sodium chloride", 0.10, -15.0, 0.468),
    ],
)
def test_lever_rule(solute: str, share: float, celsius: float, ice: float) -> None:
    """The salt that was in all of the liquid is in what is left of it: (1 - ice) x(T) = x0."""
    curve = freezing(solute, share)["frozen_share"]
    assert curve(celsius + ZERO) == pytest.approx(ice, abs=2e-3)
    left = share / (1.0 - curve(celsius + ZERO))
    assert float(POINTS[solute](left)) == pytest.approx(celsius + ZERO, abs=0.1)


@pytest.mark.parametrize("name", NAMES)
def test_heat_stored_rises_with_the_temperature(name: str) -> None:
    fluid = catalogue.fluid(name)
    assert fluid.frozen_share is not None
    assert fluid.freezes_at is not None
    assert fluid.frozen_share(fluid.freezes_at) == 0.0
    store = fluid_store(fluid)
    assert (np.diff(store.temperature) > 1e-7).all()
    assert (np.diff(store.enthalpy) > 0).all()
    assert (np.diff(store.frozen) <= 1e-12).all()


@pytest.mark.parametrize(("solute", "eutectic"), [("calcium chloride", -49.8), ("sodium chloride", -21.1)])
def test_all_is_solid_below_a_salts_eutectic(solute: str, eutectic: float) -> None:
    curve = freezing(solute, 0.1)["frozen_share"]
    assert curve(eutectic + ZERO + 0.01) < 0.7
    assert curve(eutectic + ZERO - 0.2) == 1.0


def test_heat_of_freezing_is_that_of_water_where_the_solution_freezes() -> None:
    """Of supercooled water 312 kJ/kg at -10 and 289 at -20 degC (Dorsey 1940; from memory)."""
    for share, celsius, known in ((0.144, -10.0, 312e3), (0.229, -20.0, 289e3)):
        keys = freezing("sodium chloride", share)
        assert keys["freezes_at"] - ZERO == pytest.approx(celsius, abs=0.5)
        assert keys["latent_heat"] == pytest.approx(known, rel=0.01)


def test_a_frozen_share_of_a_case_is_written_as_it_was_read() -> None:
    fluid = LIQUID | {
        "freezes_at": "-5 degC",
        "latent_heat": "250 kJ/kg",
        "frozen": {"conductivity": "2 W/m/K", "specific_heat": "2000 J/kg/K"},
        "frozen_share": {"at": [["-20 degC", 0.8], ["-5 degC", 0.0]]},
    }
    text = to_toml(parse_case(line(FLAT, contents={"fluid": fluid})))
    assert tomllib.loads(text)["contents"]["fluid"]["frozen_share"] == fluid["frozen_share"]
