"""Tracer heat in one condition: supply, tolerance, and the switch."""

from types import SimpleNamespace

import numpy as np
import pytest

from sim.heat.tracer import tolerance_factor, tracer_slope, tracer_watts


class Falling:
    """30 W/m at 0 degC, falling by 0.25 W/m a kelvin; scaled by the square of the supply."""

    def watts(self, wall, supply):
        return (30.0 - 0.25 * (wall - 273.15)) * supply**2

    def slope(self, wall, supply):
        return np.full_like(wall, -0.25 * supply**2)


def tracer(**changes):
    return SimpleNamespace(**({"on": True, "tolerance": 0.1, "output": Falling()} | changes))


@pytest.mark.parametrize(("output", "factor"), [("low", 0.9), ("nominal", 1.0), ("high", 1.1)])
def test_tolerance_and_supply(output, factor):
    condition = SimpleNamespace(output=output, supply=0.5)
    wall = np.array([273.15, 293.15])
    np.testing.assert_allclose(
        tracer_watts(tracer(), condition, wall), factor * 0.25 * np.array([30.0, 25.0])
    )
    np.testing.assert_allclose(tracer_slope(tracer(), condition, wall), factor * 0.25 * -0.25)
    assert tolerance_factor(tracer(), condition) == pytest.approx(factor)


def test_switched_off():
    condition = SimpleNamespace(output="high", supply=1.0)
    assert tracer_watts(tracer(on=False), condition, 280.0) == 0.0
    assert tracer_slope(tracer(on=False), condition, 280.0) == 0.0
