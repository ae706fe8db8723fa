"""Natural convection in published enclosures, and what must hold in any of them."""

import numpy as np
import pytest

from sim.heat.convection import Convection, FlowLaw
from sim.solve.buoyant import VERIFIED
from sim.solve.motion import Fluidity, State
from sim.solve.stability import growth
from validation.checks.bore.convection import HIGH, cavity, hot_nusselt, raised, ring
from validation.checks.bore.enclosures import heated_side, square


@pytest.mark.parametrize(
    ("rayleigh", "nusselt", "u", "v"),
    [
        (1e3, 1.118, 3.649, 3.697),
        (1e4, 2.243, 16.178, 19.617),
        (1e5, 4.519, 34.73, 68.59),
        pytest.param(1e6, 8.800, 64.63, 219.36, marks=pytest.mark.slow),
    ],
)
def test_heated_side_cavity(rayleigh: float, nusselt: float, u: float, v: float) -> None:
    """de Vahl Davis 1983, Pr 0.71; the source gives its own error at 1e6 as up to 1 % (from memory)."""
    computed = cavity(rayleigh)
    assert computed[0].extrapolated == pytest.approx(nusselt, rel=5e-3)
    assert computed[1].extrapolated == pytest.approx(u, rel=1e-2)
    assert computed[2].extrapolated == pytest.approx(v, rel=1e-2)
    assert abs(computed[0].value - computed[0].extrapolated) <= computed[0].band


@pytest.mark.slow
@pytest.mark.parametrize(
    ("rayleigh", "nusselt", "cells"), [(1e7, 16.523, (24, 34, 48)), (1e8, 30.225, (40, 56, 80))]
)
def test_cavity_at_high_rayleigh_number(rayleigh: float, nusselt: float, cells: tuple[int, ...]) -> None:
    """Le Quere 1991, Pr 0.71 (from memory)."""
    assert raised(rayleigh, cells).extrapolated == pytest.approx(nusselt, rel=1e-2)


@pytest.mark.parametrize(
    ("rayleigh", "ratio"), [(1e3, 1.082), pytest.param(5e4, 2.958, marks=pytest.mark.slow)]
)
def test_horizontal_annulus(rayleigh: float, ratio: float) -> None:
    """Converged values computed beforehand for the annulus of Kuehn and Goldstein 1976, Pr 0.7, gap / D_i 0.8."""
    assert ring(rayleigh, (12, 17, 24)).extrapolated == pytest.approx(ratio, rel=5e-3)


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


@pytest.mark.parametrize(("rayleigh", "grows"), [(2500.0, False), (2700.0, True)])
def test_still_contents_heated_from_below_would_not_last(rayleigh: float, grows: bool) -> None:
    """The conducting field of the same square loses its stability at Ra 2585 (Luijkx and Platten 1981, from memory)."""
    enclosure = square(
        20, lambda p: np.where(p[:, 1] < 1e-9, 1.0, np.where(p[:, 1] > 1 - 1e-9, 0.0, np.nan)), 0.8
    )
    rest = np.zeros(enclosure.nodes)
    fluid = Fluidity(lambda t: FlowLaw(1.0, rayleigh, 1.0), lambda t: -t, lambda t: -np.ones_like(t))
    mode = growth(enclosure, Convection(enclosure.flow), fluid, State(enclosure.conducting(), rest, rest))
    assert (mode.real > 0) is grows


def test_the_walls_vorticity_is_exact_for_a_cubic() -> None:
    """Woods (1954): psi = a y2 + b y3 from a wall has the vorticity -2 a on it, whatever the distance of the site."""
    enclosure = square(6, heated_side, 0.5)
    rim, site = enclosure.flow.rim_cell, enclosure.flow.site
    for side in (0, 1):
        low = enclosure.point[:, side] < 1e-9
        y = site[:, side]
        psi, vorticity = 0.7 * y**2 - 0.4 * y**3, -(1.4 - 2.4 * y)
        computed = Convection(enclosure.flow).wall_vorticity(psi, vorticity)
        assert computed[low] == pytest.approx(-1.4)
        assert len(set(rim[low])) == 6


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


def test_friction_where_the_viscosity_varies() -> None:
    """The curl of div (2 m S) of a given flow and viscosity.

    That is (d2/dx2 - d2/dy2)(m (psi_yy - psi_xx)) - 4 d2/dxdy (m psi_xy).

    Away from the walls, to second order (differences of 1e-3 stand for the outer derivatives).
    """

    def square_sine(a: np.ndarray, order: int) -> np.ndarray:
        pi = np.pi
        return (np.sin(pi * a) ** 2, pi * np.sin(2 * pi * a), 2 * pi**2 * np.cos(2 * pi * a))[order]

    def thick(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.exp(x + 0.7 * y * x)

    def strain(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        s = square_sine
        return thick(x, y) * (s(x, 0) * s(y, 2) - s(x, 2) * s(y, 0))

    def shear(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return thick(x, y) * square_sine(x, 1) * square_sine(y, 1)

    h, errors = 1e-3, []
    for n in (16, 32):
        flow = square(n, heated_side, 0.6).flow
        x, y = flow.site.T
        straight = (strain(x + h, y) + strain(x - h, y) - strain(x, y + h) - strain(x, y - h)) / h**2
        mixed = shear(x + h, y + h) - shear(x + h, y - h) - shear(x - h, y + h) + shear(x - h, y - h)
        exact = (straight - mixed / h**2) * flow.area
        s = square_sine
        psi, vorticity = s(x, 0) * s(y, 0), -(s(x, 2) * s(y, 0) + s(x, 0) * s(y, 2))
        rim = np.ones(len(flow.rim_cell))
        weightless = (np.zeros(n * n), 0 * rim)
        computed = Convection(flow).vorticity(
            FlowLaw(1e30, 0.0, 1.0), psi, vorticity, weightless, (thick(x, y), rim)
        )
        inner = (np.abs(x - 0.5) < 0.3) & (np.abs(y - 0.5) < 0.3)
        errors.append(np.abs(computed - exact)[inner].sum() / np.abs(exact)[inner].sum())
    assert errors[1] < 0.01
    assert np.log2(errors[0] / errors[1]) > 1.6
