"""A fluid that moves by its own weight: its Rayleigh and Prandtl numbers, density and viscosity, by hand."""

import numpy as np

from sim.heat.fluid import Buoyancy


def test_a_density_of_its_own_is_taken_as_it_is() -> None:
    """Water is densest at 4 degC: both sides of it are lighter, whatever the expansion at the mean."""
    from sim.case import catalogue

    fluid = Buoyancy(catalogue.fluid("water"), 0.1)
    low, middle, high = fluid.density(np.array([273.65, 277.13, 281.0]), 280.0)
    assert low < middle > high
