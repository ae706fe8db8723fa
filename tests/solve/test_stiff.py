"""The integrator on small problems with closed forms, and freezing fronts on a bar of cells."""

import numpy as np
import pytest

from sim.heat.storage import Group, Storage, _curve
from sim.solve.stiff import State, Stepper
from validation.checks.time.parts import HOUR, Bar, bar, freezing_bar


def test_order_in_time_is_three() -> None:
    """One decaying mode of a slab held at its wall: exact in time for the cells' own matrix."""
    slab = bar(0.1, 8, 1.0, 1000.0, 1000.0, 1e9, first=(lambda t: 273.15, np.inf))
    slab.rate(0.0, np.full(8, 273.15), np.zeros(8))
    value, mode = np.linalg.eigh(slab.matrix().toarray() / (1000.0 * 1000.0 * 0.1 / 8))
    start, errors = 273.15 + 20 * mode[:, 0], []
    for steps in (4, 8, 16):
        state, stepper = State(0.0, start, slab.store.enthalpy(start)), Stepper(slab)
        for _ in range(steps):
            taken = stepper.step(state, 2 * HOUR / steps)
            assert taken is not None
            state = taken[0].new
        exact = 273.15 + 20 * mode[:, 0] * np.exp(-value[0] * 2 * HOUR)
        errors.append(np.abs(state.temperature - exact).max())
    assert (np.log2(np.array(errors[:-1]) / np.array(errors[1:])) > 2.8).all()


def test_heat_over_a_freezing_step_closes() -> None:
    """What the bar loses is what came through its wall, to the tolerance of the stages."""
    water = freezing_bar(0.05, 60, 263.15, 0.05)
    temperature = np.full(60, 275.15)
    state = State(0.0, temperature, water.store.enthalpy(temperature))
    before, through = state.enthalpy.sum(), 0.0
    for step in Stepper(water).march(state, 1 * HOUR, 1.0):
        through += step.passed[0]
        state = step.new
    assert through == pytest.approx(state.enthalpy.sum() - before, rel=1e-8)
    assert 0.2 < water.store.frozen(state.enthalpy).mean() < 0.6


def test_brine_with_a_frozen_share() -> None:
    """Share linear between -8 and -2 degC, wall -20, start +5: -8 degC at 14.7728 mm and -2 at 28.5861 after 1 h.

    Closed form of three similarity zones (computed; k 1.4, c 2100 / 3000 / 4210, rho 917, L 333.6 kJ/kg).
    """
    n, rho, latent = 400, 917.0, 917.0 * 333.6e3
    knots = np.array([90.0, 265.15, 271.15, 1500.0])
    heat = np.array([rho * 2100, rho * 3000 + latent / 6, rho * 4210])
    stored = np.concatenate([[0.0], np.cumsum(heat * np.diff(knots))])
    curve = _curve(knots, stored - stored[2], np.array([1.0, 1.0, 0.0, 0.0]))
    edges = np.linspace(0.0, 0.3, n + 1)
    store = Storage(n, (Group(np.arange(n), np.diff(edges), curve, True),))
    brine = Bar(edges, store, 1.4, 0.02, first=(lambda t: 253.15, np.inf), ice=1.4)
    temperature = brine.marched(278.15, HOUR).temperature
    assert np.interp(265.15, temperature, 1e3 * brine.middle) == pytest.approx(14.7728, abs=0.05)
    assert np.interp(271.15, temperature, 1e3 * brine.middle) == pytest.approx(28.5861, abs=0.05)
