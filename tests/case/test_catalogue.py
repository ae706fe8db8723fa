"""The catalogue against the sources it names."""

from __future__ import annotations

import numpy as np
import pytest

from sim.case import catalogue
from sim.case.catalogue.pipes import SCHEDULES, dimensions, nominal_size, schedules_of
from sim.case.covering import Barrier

KELVIN = 273.15


@pytest.mark.parametrize(
    ("size", "schedule", "outer", "wall"),
    [
        # ASME B36.10M and B36.19M, millimetres
        ("NPS 4", "40", 114.3, 6.02),
        ("DN 100", "STD", 114.3, 6.02),
        ("DN 50", "10S", 60.3, 2.77),
        ("NPS 1/2", "80", 21.3, 3.73),
        ("NPS 1-1/2", "40", 48.3, 3.68),
        ("NPS 1 1/2", "sch 40", 48.3, 3.68),
        ("dn150", "XS", 168.3, 10.97),
        ("NPS 12", "40S", 323.9, 9.53),
        ("DN 15", "40", 21.3, 2.77),
        ("DN 20", "40", 26.7, 2.87),
        ("DN 25", "40", 33.4, 3.38),
        ("DN 32", "40", 42.2, 3.56),
        ("DN 40", "40", 48.3, 3.68),
        ("DN 65", "40", 73.0, 5.16),
        ("DN 80", "40", 88.9, 5.49),
        ("DN 90", "40", 101.6, 5.74),
        ("DN 125", "40", 141.3, 6.55),
        ("DN 200", "40", 219.1, 8.18),
        ("DN 250", "40", 273.0, 9.27),
        ("DN 600", "STD", 610.0, 9.53),
    ],
)
def test_pipe_dimensions(size: str, schedule: str, outer: float, wall: float) -> None:
    nps = nominal_size(size)
    assert nps is not None
    assert dimensions(nps, schedule) == pytest.approx((outer / 1e3, wall / 1e3), abs=1e-12)


def test_unknown_sizes() -> None:
    for text in ("DN 101", "4", "NPS 1/0", "DN 1-1/2", "NPS", "4 in"):
        assert nominal_size(text) is None
    assert schedules_of(4.7) == []
    assert set(schedules_of(4.0)) <= set(SCHEDULES)


def test_every_known_dn_has_a_pipe() -> None:
    for nps in catalogue.pipes.NPS_OF_DN.values():
        assert schedules_of(nps)


def test_metals_by_en_1993_1_2() -> None:
    steel, stainless = catalogue.solid("carbon steel"), catalogue.solid("stainless steel")
    celsius = np.array([20.0, 100.0, 400.0])
    assert steel.conductivity(celsius + KELVIN) == pytest.approx(54 - 0.0333 * celsius)
    assert stainless.conductivity(celsius + KELVIN) == pytest.approx(14.6 + 0.0127 * celsius)
    assert steel.conductivity(200.0) == pytest.approx(54 - 0.0333 * 20.0)


def test_conductivities_by_en_iso_10456() -> None:
    """Aluminium alloys 160, HDPE 0.50, PVC 0.17 W/m/K."""
    for name, value in (("aluminium", 160.0), ("HDPE", 0.50), ("PVC", 0.17)):
        assert catalogue.solid(name).conductivity(293.15) == value
    for name, value in (("aluminium", 160.0), ("painted aluminium", 160.0), ("PVC jacket", 0.17)):
        assert catalogue.barrier(name).conductivity == value


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


@pytest.mark.parametrize(
    ("name", "celsius", "value"),
    [
        ("cellular glass", 24, 0.0490),  # ASTM C552
        ("polyisocyanurate", 93, 0.0375),  # ASTM C591
        ("aerogel", 204, 0.0346),  # ASTM C1728
        ("elastomer foam", -18, 0.0375),  # ASTM C534
        ("glass fibre", 10, 0.0360),  # ASTM C547
        ("calcium silicate", 10, 0.0540),  # ASTM C533
        ("rock wool", 50, 0.037),  # TIASA handbook 2001
    ],
)
def test_insulation_at_tabled_temperatures(name: str, celsius: float, value: float) -> None:
    entry = catalogue.insulation(name)
    assert entry.conductivity(celsius + KELVIN) == pytest.approx(value, abs=1e-9)
    assert "ASTM" in entry.conductivity.source or "TIASA" in entry.conductivity.source


def test_water_density_against_tanaka_2001() -> None:
    celsius = np.linspace(1.0, 40.0, 60)
    a = (celsius - 3.983035) ** 2 * (celsius + 301.797) / (522528.9 * (celsius + 69.34881))
    tanaka = 999.97495 * (1 - a)
    assert catalogue.fluid("water").density(celsius + KELVIN) == pytest.approx(tanaka, rel=5e-5)


def test_water_at_20_degc() -> None:
    """Viscosity 1.0016 mPa s (ISO/TR 3666), k 0.5985 W/m/K, c_p 4184 J/kg/K; from memory."""
    water = catalogue.fluid("water")
    assert water.viscosity(293.15) == pytest.approx(1.0016e-3, rel=2e-3)
    assert water.conductivity(293.15) == pytest.approx(0.5985, rel=3e-3)
    assert water.specific_heat(293.15) == pytest.approx(4184, rel=1e-3)


def test_water_expansion_changes_sign_at_4_degc_and_is_held_at_the_ends() -> None:
    water = catalogue.fluid("water")
    assert water.expansion(275.15) < 0 < water.expansion(279.15)
    assert abs(water.expansion(277.13)) < 2e-6
    assert water.density(250.0) == water.density(water.density.low)
    assert water.density(400.0) == water.density(water.density.high)


def test_water_table_agrees_with_the_library_between_its_points() -> None:
    from iapws import IAPWS97

    water = catalogue.fluid("water")
    for celsius in (3.4, 17.7, 31.2, 63.3, 88.8):
        state = IAPWS97(T=celsius + KELVIN, P=0.1)
        assert water.conductivity(celsius + KELVIN) == pytest.approx(state.k, rel=1e-3)
        assert water.viscosity(celsius + KELVIN) == pytest.approx(state.mu, rel=1e-3)
        assert water.density(celsius + KELVIN) == pytest.approx(state.rho, rel=1e-4)


def test_expansion_is_that_of_the_density() -> None:
    """-d(ln rho)/dT between tabled points is the mean expansion, as far as the digits go."""
    for name in ("water", "ethylene glycol 50 %", "sodium chloride brine 20 %"):
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
    }
    letters = {"conductivity": "L", "density": "D", "specific_heat": "C", "viscosity": "V"}
    for name, theirs in names.items():
        fluid = catalogue.fluid(name)
        for kelvin in fluid.density.temperatures:
            for key, letter in letters.items():
                value = coolprop.PropsSI(letter, "T", kelvin, "P", 101325, theirs)
                assert getattr(fluid, key)(kelvin) == pytest.approx(value, rel=1e-4)


def test_air_at_300_k() -> None:
    """Incropera table A.4 at 300 K (from memory): rho 1.1614, c_p 1007, mu 184.6e-7, k 0.0263."""
    air = catalogue.fluid("air")
    assert air.phase == "gas"
    assert air.density(300.0) == pytest.approx(1.1614, rel=0.02)
    assert air.specific_heat(300.0) == pytest.approx(1007, rel=2e-3)
    assert air.viscosity(300.0) == pytest.approx(184.6e-7, rel=0.01)
    assert air.conductivity(300.0) == pytest.approx(0.0263, rel=0.01)
    assert air.expansion(300.0) == pytest.approx(1 / 300, rel=2e-3)


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
