"""Curves and outputs: values, ends, shapes, slopes."""

import numpy as np
import pytest

from sim.case.curve import polynomial, table
from sim.case.tracing import Output


def test_table_is_linear_and_held_at_its_ends() -> None:
    curve = table((0.0, 100.0), (0.03, 0.05), "given")
    assert not curve.is_constant
    assert curve(323.15) == pytest.approx(0.04)
    assert curve(np.array([100.0, 500.0])) == pytest.approx([0.03, 0.05])
    assert isinstance(curve(300.0), float)


def test_logarithmic_table_is_exponential_between_points() -> None:
    curve = table((0.0, 100.0), (1.0, 1e-4), "given", logarithmic=True)
    assert curve(323.15) == pytest.approx(1e-2)


def test_polynomial_is_over_degc_and_held() -> None:
    curve = polynomial((54.0, -0.0333), 20.0, 800.0, "EN 1993-1-2")
    assert curve(np.array([373.15, 100.0])) == pytest.approx([54 - 3.33, 54 - 0.666])
    assert curve(1500.0) == pytest.approx(54 - 0.0333 * 800.0)
    assert "54 - 0.0333 T" in curve.in_words("W/m/K")


def test_outputs() -> None:
    fixed = Output.model_validate({"power": "25 W/m", "voltage_exponent": 0})
    scaled = Output.model_validate({"power": "25 W/m"})
    falling = Output.model_validate(
        {"at": [["0 degC", "30 W/m"], ["50 degC", "5 W/m"]], "voltage_exponent": 1}
    )
    assert (fixed.kind, scaled.kind, falling.kind) == ("fixed", "scaled", "table")
    assert fixed.watts(300.0, 0.9) == 25.0
    assert scaled.watts(300.0, 0.9) == pytest.approx(25 * 0.81)
    assert falling.watts(298.15, 0.8) == pytest.approx(0.8 * 17.5)
    assert falling.watts(np.array([200.0, 400.0])) == pytest.approx([30.0, 5.0])
    for output in (fixed, scaled, falling):
        assert output.watts(300.0, 0.0) == 0.0
        assert output.slope(300.0, 0.0) == 0.0
        assert output.watts(np.full((2, 2), 300.0)).shape == (2, 2)
    assert scaled.slope(300.0) == 0.0
    assert falling.slope(np.array([260.0, 300.0, 330.0]), 0.8) == pytest.approx([0.0, -0.4, 0.0])


def test_slope_is_the_derivative() -> None:
    rows = [["-10 degC", "15 W/m"], ["20 degC", "11 W/m"], ["50 degC", "4 W/m"], ["65 degC", "0 W/m"]]
    output = Output.model_validate({"at": rows, "voltage_exponent": 1.2})
    kelvin = np.linspace(250.0, 350.0, 37)
    step = 1e-5
    numeric = (output.watts(kelvin + step, 0.9) - output.watts(kelvin - step, 0.9)) / (2 * step)
    assert output.slope(kelvin, 0.9) == pytest.approx(numeric, abs=1e-6)
