"""A fluid that moves by its own weight: its Rayleigh and Prandtl numbers, density and viscosity, by hand."""

import numpy as np
import pytest

from sim.case.materials import Fluid
from sim.heat.fluid import Buoyancy

OIL = {
    "conductivity": "0.13 W/m/K",
    "density": "950 kg/m3",
    "specific_heat": "1900 J/kg/K",
    "viscosity": "0.5 Pa s",
    "expansion": "7e-4 1/K",
}
FALLING = [["0 degC", "2 Pa s"], ["50 degC", "0.5 Pa s"]]


def oil(**changes: object) -> Buoyancy:
    return Buoyancy(Fluid.model_validate(OIL | changes), 0.1)


def test_rayleigh_and_prandtl_by_hand() -> None:
    """g beta dT D3 / (nu a) and nu / a, with nu = mu / rho and a = k / (rho c) (any textbook)."""
    nu, a = 0.5 / 950, 0.13 / (950 * 1900)
    fluid = oil()
    assert fluid.law(300.0).prandtl == pytest.approx(nu / a)
    assert fluid.diffusivity(300.0) == pytest.approx(a)
    span = np.array([295.0, 305.0, 298.0])
    assert fluid.rayleigh(span, 300.0) == pytest.approx(9.80665 * 7e-4 * 10.0 * 0.1**3 / (nu * a))
    # what moves carries rho c a = k of heat
    assert fluid.law(300.0).carries == pytest.approx(0.13)


def test_what_is_warmer_is_lighter_and_the_slope_is_the_derivative() -> None:
    fluid = oil()
    kelvin = np.array([290.0, 300.0, 310.0])
    assert fluid.density(kelvin, 300.0) == pytest.approx([950 * 1.007, 950.0, 950 * 0.993])
    assert fluid.slope(kelvin, 300.0) == pytest.approx(-950 * 7e-4)


def test_a_density_of_its_own_is_taken_as_it_is() -> None:
    """Water is densest at 4 degC: both sides of it are lighter, whatever the expansion at the mean."""
    from sim.case import catalogue

    fluid = Buoyancy(catalogue.fluid("water"), 0.1)
    low, middle, high = fluid.density(np.array([273.65, 277.13, 281.0]), 280.0)
    assert low < middle > high


def test_a_colder_fluid_is_thicker() -> None:
    """Over that at the mean; the slope is its derivative."""
    fluid = oil(viscosity=FALLING)
    kelvin = np.array([273.15, 298.15, 323.15])
    assert fluid.thickness(kelvin, 298.15) == pytest.approx([1.6, 1.0, 0.4])
    assert fluid.thickness_slope(np.array([280.0]), 298.15) == pytest.approx(-1.5 / 50 / 1.25)
