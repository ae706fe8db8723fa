"""Air against the library's Standard Atmosphere, a second equation of state and a handbook table."""

import numpy as np
import pytest

from sim.heat import air


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
