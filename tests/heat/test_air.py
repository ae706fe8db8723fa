"""Air against the library's Standard Atmosphere, a second equation of state and a handbook table."""

import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976

from sim.heat import air

# Incropera and DeWitt, table A.4, air: K, mu 1e-7 Pa s, k 1e-3 W/m/K, cp kJ/kg/K, Pr (from memory).
INCROPERA = [
    (200, 132.5, 18.1, 1.007, 0.737),
    (250, 159.6, 22.3, 1.006, 0.720),
    (300, 184.6, 26.3, 1.007, 0.707),
    (350, 208.2, 30.0, 1.009, 0.700),
    (400, 230.1, 33.8, 1.014, 0.690),
    (450, 250.7, 37.3, 1.021, 0.686),
    (500, 270.1, 40.7, 1.030, 0.684),
    (600, 305.8, 46.9, 1.051, 0.685),
]


def test_closed_forms_are_the_library_ones():
    temperature = np.linspace(160.0, 700.0, 28)
    library = ATMOSPHERE_1976
    for t, k, mu, rho in zip(
        temperature,
        air.conductivity(temperature),
        air.viscosity(temperature),
        air.density(temperature),
        strict=True,
    ):
        assert k == pytest.approx(library.thermal_conductivity(t), rel=1e-12)
        assert mu == pytest.approx(library.viscosity(t), rel=1e-12)
        assert rho == pytest.approx(library.density(t, 101325.0), rel=1e-8)


@pytest.mark.parametrize(("t", "mu", "k", "cp", "pr"), INCROPERA)
def test_handbook_table(t, mu, k, cp, pr):
    assert air.viscosity(t) == pytest.approx(mu * 1e-7, rel=0.015)
    assert air.conductivity(t) == pytest.approx(k * 1e-3, rel=0.01)
    assert air.specific_heat(t) == pytest.approx(cp * 1e3, rel=0.005)
    assert air.prandtl(t) == pytest.approx(pr, rel=0.01)


@pytest.mark.slow
def test_specific_heat_against_the_full_equation_of_state():
    """Lemmon et al. (2000) as CoolProp carries it, at a pressure where the gas is ideal."""
    coolprop = pytest.importorskip("CoolProp.CoolProp")
    for t in (200.0, 273.15, 350.0, 500.0, 600.0):
        assert air.specific_heat(t) == pytest.approx(coolprop.PropsSI("C", "T", t, "P", 1.0, "Air"), rel=3e-4)


def test_groups_agree_with_their_definitions():
    t = np.linspace(200.0, 600.0, 9)
    np.testing.assert_allclose(air.prandtl(t), air.kinematic_viscosity(t) / air.diffusivity(t), rtol=1e-12)
    together = air.properties(t)
    np.testing.assert_allclose(together.prandtl, air.prandtl(t), rtol=1e-13)
    np.testing.assert_allclose(together.kinematic_viscosity, air.kinematic_viscosity(t), rtol=1e-13)
    fall = (air.density(t - 0.01) - air.density(t + 0.01)) / (0.02 * air.density(t))
    np.testing.assert_allclose(air.expansion(t), fall, rtol=1e-6)
    np.testing.assert_array_equal(together.expansion, air.expansion(t))
