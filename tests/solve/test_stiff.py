"""The integrator on small problems with closed forms, and freezing fronts on a line of cells."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.sparse import csc_matrix, diags_array
from scipy.sparse.linalg import splu
from scipy.special import erf, erfc

from sim.case.curve import constant
from sim.case.freezing import Frozen
from sim.case.materials import Fluid
from sim.heat.storage import Group, Storage, constant_store, fluid_store
from sim.solve.stiff import State, Stepper

HOUR = 3600.0


@dataclass
class Row:
    """A row of cells (one metre square to heat) between a wall held at a temperature and an adiabatic end."""

    store: Storage
    conductance: np.ndarray  # (n - 1,) between cells, W/K
    at_wall: float  # W/K
    wall: Callable[[float], float]
    tolerance: float
    ice: float = 0.0  # conductivities of ice and water where the row freezes from its wall, W/m/K
    water: float = 0.0
    entering: float = 0.0
    edges: np.ndarray = field(default_factory=lambda: np.zeros(0))

    def rate(self, time: float, temperature: np.ndarray, enthalpy: np.ndarray) -> np.ndarray:
        if self.ice:
            frozen, half = self.store.frozen(enthalpy), 0.5 * np.diff(self.edges)
            colder = half / np.where(frozen > 0, self.ice, self.water)  # towards the wall
            warmer = half / np.where(frozen < 1, self.water, self.ice)
            self.conductance = 1.0 / (colder[1:] + warmer[:-1])
            self.at_wall = 1.0 / colder[0]
        flow = self.conductance * np.diff(temperature)
        arriving = np.append(flow, 0.0) - np.concatenate([[0.0], flow])
        self.entering = self.at_wall * (self.wall(time) - temperature[0])
        arriving[0] += self.entering
        return arriving

    def flows(self) -> np.ndarray:
        return np.array([self.entering])

    def matrix(self) -> csc_matrix:
        g = self.conductance
        diagonal = np.append(g, 0.0) + np.concatenate([[self.at_wall], g])
        return diags_array([-g, diagonal, -g], offsets=[-1, 0, 1]).tocsc()

    def factor(self, matrix: csc_matrix) -> Callable[[np.ndarray], np.ndarray]:
        return splu(matrix).solve

    def scale(self) -> float:
        return 1.0

    def rounding(self, temperature: np.ndarray) -> float:
        return 1e-15 * float(self.conductance.sum() * np.abs(temperature).max())

    def norm(self, change: np.ndarray, stored: np.ndarray) -> float:
        return float(np.sqrt(np.mean(change**2))) / self.tolerance


def _run(row: Row, start: float, stop: float, first: float = 1.0) -> State:
    temperature = np.full(row.store.nodes, start)
    state = State(0.0, temperature, row.store.enthalpy(temperature))
    for step in Stepper(row).march(state, stop, first):
        state = step.new
    return state


def _slab(
    n: int, depth: float, k: float, rho: float, c: float, wall: Callable[[float], float], tolerance: float
) -> Row:
    width = depth / n
    store = Storage(n, (Group(np.arange(n), np.full(n, width), constant_store(rho, c), False),))
    return Row(store, np.full(n - 1, k / width), 2 * k / width, wall, tolerance)


def test_nafems_t3_is_met() -> None:
    """NAFEMS benchmark T3 (Cameron, Casey and Simpson 1986): 36.60 degC at 0.08 m after 32 s.

    A bar of 0.1 m, 0 degC at one end, 100 sin(pi t / 40) degC at the other.
    """
    n = 200
    row = _slab(n, 0.1, 35.0, 7200.0, 440.5, lambda t: 273.15 + 100 * np.sin(np.pi * t / 40), 1e-3)
    ends = row.rate

    def both(time: float, temperature: np.ndarray, enthalpy: np.ndarray) -> np.ndarray:
        arriving = ends(time, temperature, enthalpy)
        arriving[-1] += row.at_wall * (273.15 - temperature[-1])
        return arriving

    plain = row.matrix

    def matrix() -> csc_matrix:
        matrix = plain().tolil()
        matrix[n - 1, n - 1] += row.at_wall
        return matrix.tocsc()

    row.rate, row.matrix = both, matrix  # type: ignore[method-assign]
    state = _run(row, 273.15, 32.0, 0.1)
    place = (np.arange(n) + 0.5) * 0.1 / n  # from the driven end
    assert np.interp(0.02, place, state.temperature) - 273.15 == pytest.approx(36.603, abs=0.02)


def test_order_in_time_is_three() -> None:
    """One decaying mode of a slab held at its wall: exact in time for the cells' own matrix."""
    row = _slab(8, 0.1, 1.0, 1000.0, 1000.0, lambda t: 273.15, 1e9)
    matrix = row.matrix().toarray() / (1000.0 * 1000.0 * 0.1 / 8)
    value, mode = np.linalg.eigh(matrix)
    start = 273.15 + 20 * mode[:, 0]
    errors = []
    for steps in (4, 8, 16):
        state = State(0.0, start, row.store.enthalpy(start))
        stepper = Stepper(row)
        for _ in range(steps):
            taken = stepper.step(state, 2 * HOUR / steps)
            assert taken is not None
            state = taken[0].new
        exact = 273.15 + 20 * mode[:, 0] * np.exp(-value[0] * 2 * HOUR)
        errors.append(np.abs(state.temperature - exact).max())
    order = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert (order > 2.8).all()


def _water() -> Fluid:
    return Fluid.model_construct(
        conductivity=constant(0.566),
        density=constant(917.0),
        specific_heat=constant(4210.0),
        freezes_at=273.15,
        latent_heat=333.6e3,
        frozen=Frozen.model_construct(conductivity=2.22, specific_heat=2100.0),
        frozen_share=None,
        phase="liquid",
    )


def _freezing(fluid: Fluid, n: int, depth: float, wall: float, tolerance: float) -> Row:
    edges = np.linspace(0.0, depth, n + 1)
    store = Storage(n, (Group(np.arange(n), np.diff(edges), fluid_store(fluid), True),))
    row = Row(store, np.zeros(n - 1), 0.0, lambda t: wall, tolerance, edges=edges)
    row.ice, row.water = 2.22, 0.566
    return row


def test_neumann_front() -> None:
    """Neumann's front (Carslaw and Jaeger, section 11.2): wall -10 degC, water at +5; lambda 0.166054."""
    row = _freezing(_water(), 200, 0.2, 263.15, 0.02)
    state = _run(row, 278.15, 2 * HOUR)
    frozen = row.store.frozen(state.enthalpy) @ np.diff(row.edges)
    diffusivity = 2.22 / (917.0 * 2100.0)

    def balance(x: float) -> float:
        water, ratio = 0.566 / (917.0 * 4210.0), np.sqrt(diffusivity / (0.566 / (917.0 * 4210.0)))
        ice = 2.22 * 10.0 * np.exp(-(x**2)) / (np.sqrt(diffusivity) * erf(x))
        warm = 0.566 * 5.0 * np.exp(-((x * ratio) ** 2)) / (np.sqrt(water) * erfc(x * ratio))
        return float(ice - warm - x * np.sqrt(np.pi * diffusivity) * 917.0 * 333.6e3 / 1.0)

    front = 2 * brentq(balance, 0.01, 1.0) * np.sqrt(diffusivity * 2 * HOUR)
    assert frozen == pytest.approx(front, rel=0.0015)
    assert brentq(balance, 0.01, 1.0) == pytest.approx(0.166054, abs=2e-6)


def test_heat_over_a_freezing_step_closes() -> None:
    """What the row loses is what came through its wall, to the tolerance of the stages."""
    row = _freezing(_water(), 60, 0.05, 263.15, 0.05)
    temperature = np.full(60, 275.15)
    state = State(0.0, temperature, row.store.enthalpy(temperature))
    before, through = state.enthalpy.sum(), 0.0
    for step in Stepper(row).march(state, 1 * HOUR, 1.0):
        through += step.passed[0]
        state = step.new
    assert through == pytest.approx(state.enthalpy.sum() - before, rel=1e-8)
    assert 0.2 < row.store.frozen(state.enthalpy).mean() < 0.6


def test_brine_with_a_frozen_share() -> None:
    """Share linear between -8 and -2 degC, wall -20, start +5: -8 degC at 14.7728 mm and -2 at 28.5861 after 1 h.

    Closed form of three similarity zones (computed; k 1.4, c 2100 / 3000 / 4210, rho 917, L 333.6 kJ/kg).
    """
    from sim.heat.storage import _curve

    n = 400
    fluid = _water()
    knots = np.array([90.0, 265.15, 271.15, 1500.0])
    rho, latent = 917.0, 917.0 * 333.6e3
    heat = np.array([rho * 2100, rho * 3000 + latent / 6, rho * 4210])
    stored = np.concatenate([[0.0], np.cumsum(heat * np.diff(knots))])
    curve = _curve(knots, stored - stored[2], np.array([1.0, 1.0, 0.0, 0.0]))
    row = _freezing(fluid, n, 0.3, 253.15, 0.02)
    row.store = Storage(n, (Group(np.arange(n), np.diff(row.edges), curve, True),))
    row.ice = row.water = 1.4
    state = _run(row, 278.15, HOUR)
    place = 1e3 * 0.5 * (row.edges[1:] + row.edges[:-1])
    assert np.interp(265.15, state.temperature, place) == pytest.approx(14.7728, abs=0.05)
    assert np.interp(271.15, state.temperature, place) == pytest.approx(28.5861, abs=0.05)


def test_freezing_and_thawing_come_back() -> None:
    """An insulated row cooled through its wall and warmed again holds the enthalpy that the wall's heat gives it."""
    row = _freezing(_water(), 40, 0.02, 263.15, 0.05)
    temperature = np.full(40, 274.15)
    state = State(0.0, temperature, row.store.enthalpy(temperature))
    for wall, stop in ((263.15, 2 * HOUR), (274.15, 40 * HOUR)):
        row.wall = lambda t, wall=wall: wall  # type: ignore[misc]
        for step in Stepper(row).march(state, stop, 1.0):
            state = step.new
    assert state.temperature == pytest.approx(274.15, abs=1e-3)
    assert state.enthalpy == pytest.approx(row.store.enthalpy(temperature), rel=1e-3)
