"""Natural convection in published enclosures, and what must hold in any of them."""

import numpy as np
import pytest

from sim.heat.convection import Convection
from sim.solve.buoyant import VERIFIED
from sim.solve.motion import State
from validation.checks.bore.convection import HIGH
from validation.checks.bore.enclosures import heated_side, square


def test_flow_leaves_no_cell_a_source() -> None:
    enclosure = square(20, heated_side)
    motion = enclosure.solve(1e5, 0.71)
    convection = Convection(enclosure.flow)
    flows = convection.flows(motion.state.psi)
    assert np.abs(convection.gather @ flows).max() < 1e-12 * np.abs(flows).max()


def test_heated_from_above_stands_still() -> None:
    """Stable layering: the conducting field, whatever the Rayleigh number."""
    enclosure = square(16, lambda p: np.where(p[:, 1] > 1 - 1e-9, 1.0, np.where(p[:, 1] < 1e-9, 0.0, np.nan)))
    x, y = enclosure.flow.site.T
    uneven = enclosure.conducting() + 0.05 * np.cos(np.pi * x) * np.sin(np.pi * y)
    stirred = State(uneven, np.zeros(len(x)), np.zeros(len(x)))
    motion = enclosure.solve(1e6, 7.0, stirred)
    assert np.abs(motion.state.psi).max() < 1e-5
    assert motion.state.temperature == pytest.approx(y, abs=1e-6)


def test_density_greatest_at_the_mean_gives_two_mirrored_cells() -> None:
    """Density as -(T - T_mean)^2, as of water with walls at 0 and 8 degC: two cells, one the other's image."""
    enclosure = square(20, heated_side)
    motion = enclosure.solve(
        2e4, 10.0, density=lambda t: -2 * (t - 0.5) ** 2, slope=lambda t: -4 * (t - 0.5), pseudo_time=0.01
    )
    x, y = enclosure.flow.site.T
    order, mirrored = np.lexsort((x.round(9), y.round(9))), np.lexsort(((1 - x).round(9), y.round(9)))
    psi, temperature = motion.state.psi, motion.state.temperature
    assert np.abs(psi).max() > 0.5
    assert psi[order] == pytest.approx(-psi[mirrored], abs=1e-4 * np.abs(psi).max())
    assert temperature[order] == pytest.approx(1 - temperature[mirrored], abs=1e-4)


def test_flows_are_believed_as_far_as_they_are_checked() -> None:
    """The greatest Rayleigh number of a published flow in the checks (Le Quere 1991)."""
    assert max(HIGH) >= VERIFIED
