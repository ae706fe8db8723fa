"""Natural convection in published enclosures, and what must hold in any of them."""

import numpy as np
import pytest

from sim.heat.convection import Convection, FlowLaw
from sim.solve.buoyant import VERIFIED
from sim.solve.motion import Fluidity, State
from sim.solve.stability import growth
from validation.checks.bore.convection import HIGH, hot_nusselt
from validation.checks.bore.enclosures import heated_side, square


def test_second_order() -> None:
    """Mean Nu of the cavity approaches its converged value (2.2448 at 1e4) with the square of the cell size."""
    errors = []
    for n in (16, 32):
        enclosure = square(n, heated_side, 1.3)
        motion = enclosure.solve(1e4, 0.71)
        errors.append(abs(hot_nusselt(enclosure, motion.state.temperature) - 2.2448))
    assert 1.6 < np.log2(errors[0] / errors[1]) < 2.4


def test_flow_leaves_no_cell_a_source() -> None:
    enclosure = square(20, heated_side)
    motion = enclosure.solve(1e5, 0.71)
    convection = Convection(enclosure.flow)
    flows = convection.flows(motion.state.psi)
    assert np.abs(convection.gather @ flows).max() < 1e-12 * np.abs(flows).max()


def test_heat_that_enters_leaves() -> None:
    enclosure = square(20, heated_side)
    temperature = enclosure.solve(1e5, 0.71).state.temperature
    hot, cold = (enclosure.heat(temperature, enclosure.wall == w) for w in (1.0, 0.0))
    assert hot + cold == pytest.approx(0.0, abs=1e-6 * hot)


def test_heated_from_above_stands_still() -> None:
    """Stable layering: the conducting field, whatever the Rayleigh number."""
    enclosure = square(16, lambda p: np.where(p[:, 1] > 1 - 1e-9, 1.0, np.where(p[:, 1] < 1e-9, 0.0, np.nan)))
    x, y = enclosure.flow.site.T
    uneven = enclosure.conducting() + 0.05 * np.cos(np.pi * x) * np.sin(np.pi * y)
    stirred = State(uneven, np.zeros(len(x)), np.zeros(len(x)))
    motion = enclosure.solve(1e6, 7.0, stirred)
    assert np.abs(motion.state.psi).max() < 1e-5
    assert motion.state.temperature == pytest.approx(y, abs=1e-6)


@pytest.mark.parametrize(("rayleigh", "moves"), [(2400.0, False), (2800.0, True)])
def test_heated_from_below_begins_to_move(rayleigh: float, moves: bool) -> None:
    """A square of rigid walls, adiabatic sides: onset at Ra 2585 (Luijkx and Platten 1981, from memory)."""
    enclosure = square(
        20, lambda p: np.where(p[:, 1] < 1e-9, 1.0, np.where(p[:, 1] > 1 - 1e-9, 0.0, np.nan)), 0.5
    )
    x, y = enclosure.flow.site.T
    uneven = enclosure.conducting() + 0.05 * np.cos(np.pi * x) * np.sin(np.pi * y)
    motion = enclosure.solve(rayleigh, 1.0, State(uneven, 0 * x, 0 * x), pseudo_time=0.05)
    assert bool(np.abs(motion.state.psi).max() > 0.1) is moves


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


@pytest.mark.parametrize("prandtl", [0.2, 5.0])
def test_growth_in_a_square_free_of_shear(prandtl: float) -> None:
    """Rayleigh's layer (1916) in a square of free, adiabatic sides, at 2.5 times its onset, 8 pi^4.

    Its mode sin(pi x) sin(pi y) grows as (s + k2)(s / Pr + k2) = Ra a2 / k2, a = pi, k2 = 2 pi2 (Chandrasekhar 1961,
    section 15).
    """
    k2, rayleigh = 2 * np.pi**2, 2.5 * 8 * np.pi**4
    exact = np.roots([1 / prandtl, k2 * (1 + 1 / prandtl), k2**2 - rayleigh * np.pi**2 / k2]).max()
    enclosure = square(
        20,
        lambda p: np.where(p[:, 1] < 1e-9, 1.0, np.where(p[:, 1] > 1 - 1e-9, 0.0, np.nan)),
        0.5,
        slips=lambda p: np.ones(len(p)),
    )
    rest = np.zeros(enclosure.nodes)
    fluid = Fluidity(lambda t: FlowLaw(prandtl, rayleigh, 1.0), lambda t: -t, lambda t: -np.ones_like(t))
    mode = growth(enclosure, Convection(enclosure.flow), fluid, State(enclosure.conducting(), rest, rest))
    assert mode.real == pytest.approx(exact, rel=0.02)


def test_flows_are_believed_as_far_as_they_are_checked() -> None:
    """The greatest Rayleigh number of a published flow in the checks (Le Quere 1991)."""
    assert max(HIGH) >= VERIFIED
