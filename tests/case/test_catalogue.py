"""The catalogue against the sources it names."""

import numpy as np
import pytest

from sim.case import catalogue
from sim.case.catalogue.pipes import SCHEDULES, dimensions, nominal_size, schedules_of
from sim.case.covering import Barrier


@pytest.mark.parametrize(
    ("size", "schedule", "outer", "wall"),
    [
        ("NPS 4", "40", 114.3, 6.02),
        ("NPS 1-1/2", "40", 48.3, 3.68),
        ("NPS 1 1/2", "sch 40", 48.3, 3.68),
        ("dn150", "XS", 168.3, 10.97),
    ],
)
def test_a_size_as_people_write_it(size: str, schedule: str, outer: float, wall: float) -> None:
    nps = nominal_size(size)
    assert nps is not None
    assert dimensions(nps, schedule) == pytest.approx((outer / 1e3, wall / 1e3), abs=1e-12)


def test_unknown_sizes() -> None:
    for text in ("DN 101", "4", "NPS 1/0", "DN 1-1/2", "NPS", "4 in"):
        assert nominal_size(text) is None
    assert schedules_of(4.7) == []
    assert set(schedules_of(4.0)) <= set(SCHEDULES)


def test_emissivities_by_the_radiation_coefficients_of_iso_12241() -> None:
    """C_r in 1e-8 W/m2/K4 over Stefan and Boltzmann's 5.67 (table 2 of the standard, from memory)."""
    coefficients = {
        "bright aluminium": 0.28,
        "aluminium": 0.74,
        "galvanised steel": 1.47,
        "stainless steel": 0.85,
        "aluminised steel": 1.02,
    }
    for name, coefficient in coefficients.items():
        assert catalogue.barrier(name).emissivity == pytest.approx(coefficient / 5.67, abs=0.005)
        sheet = Barrier.model_validate({"thickness": "0.6 mm", "material": name})
        assert sheet.emissivity == catalogue.barrier(name).emissivity
    given = Barrier.model_validate({"thickness": "0.6 mm", "material": "aluminium", "emissivity": 0.4})
    assert given.emissivity == 0.4
    assert Barrier.model_validate({"thickness": "0.6 mm", "conductivity": "160 W/m/K"}).emissivity == 0.9


@pytest.mark.parametrize(
    "name", ["heavy fuel oil", "light fuel oil", "caustic soda 50 %", "ethylene glycol 50 %"]
)
def test_viscosity_between_the_points_of_a_table(name: str) -> None:
    """Walther's relation, log log (nu + 0.7) linear in log T (ASTM D341), through two points, at the middle: 20 %."""
    fluid = catalogue.fluid(name)
    kelvin = np.array(fluid.viscosity.temperatures)
    middle = 0.5 * (kelvin[1:] + kelvin[:-1])

    def walther(t: np.ndarray) -> np.ndarray:
        return np.log(np.log(1e6 * fluid.viscosity(t) / fluid.density(t) + 0.7))

    share = np.log(middle / kelvin[:-1]) / np.log(kelvin[1:] / kelvin[:-1])
    expected = np.exp(np.exp((1 - share) * walther(kelvin[:-1]) + share * walther(kelvin[1:]))) - 0.7
    assert 1e6 * fluid.viscosity(middle) / fluid.density(middle) == pytest.approx(expected, rel=0.2)


def test_water_expansion_changes_sign_at_4_degc_and_is_held_at_the_ends() -> None:
    water = catalogue.fluid("water")
    assert water.expansion(275.15) < 0 < water.expansion(279.15)
    assert abs(water.expansion(277.13)) < 2e-6
    assert water.density(250.0) == water.density(water.density.low)
    assert water.density(400.0) == water.density(water.density.high)


def test_expansion_is_that_of_the_density() -> None:
    """-d(ln rho)/dT between tabled points is the mean expansion, as far as the digits go."""
    for name in ("water", "ethylene glycol 50 %", "propylene glycol 40 %", "sodium chloride brine 20 %"):
        fluid = catalogue.fluid(name)
        kelvin = np.array(fluid.density.temperatures)
        slope = -np.diff(np.log(fluid.density.values)) / np.diff(kelvin)
        expansion = np.array(fluid.expansion.values)
        last_digit = 0.1 / (1000.0 * np.diff(kelvin))
        assert np.all(np.abs((expansion[1:] + expansion[:-1]) / 2 - slope) < 5e-6 + last_digit)


@pytest.mark.slow
def test_melinder_tables_by_way_of_coolprop() -> None:
    coolprop = pytest.importorskip("CoolProp.CoolProp")
    names = {
        "calcium chloride brine 25 %": "INCOMP::MCA[0.25]",
        "sodium chloride brine 20 %": "INCOMP::MNA[0.2]",
        "ethylene glycol 50 %": "INCOMP::MEG[0.5]",
        "propylene glycol 40 %": "INCOMP::MPG[0.4]",
    }
    letters = {"conductivity": "L", "density": "D", "specific_heat": "C", "viscosity": "V"}
    for name, theirs in names.items():
        fluid = catalogue.fluid(name)
        for kelvin in fluid.density.temperatures:
            for key, letter in letters.items():
                value = coolprop.PropsSI(letter, "T", kelvin, "P", 101325, theirs)
                assert getattr(fluid, key)(kelvin) == pytest.approx(value, rel=1e-4)


def test_every_entry_is_sane_and_says_its_source() -> None:
    for name in catalogue.FLUIDS:
        fluid = catalogue.fluid(name)
        assert fluid.source
        for key in ("conductivity", "density", "specific_heat", "viscosity"):
            low, high = getattr(fluid, key).extremes()
            assert 0 < low <= high
    for entry in catalogue.INSULATIONS.values():
        assert 0.01 < entry.conductivity.extremes()[0] < 0.2
        assert entry.conductivity.source
    for solid in catalogue.SOLIDS.values():
        assert solid.source
        assert solid.conductivity.extremes()[0] > 0.1
    for barrier in catalogue.BARRIERS.values():
        assert barrier.source
        assert 0 < barrier.emissivity < 1
