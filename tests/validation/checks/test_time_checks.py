"""The checks over time pass, say where their numbers come from, and notice a line that stores half as much."""

import importlib

import numpy as np
import pytest

from validation.checks.time.parts import HOUR, TwoBodies, step
from validation.published.rows import Row
from validation.published.run import CHECKS, checks_of
from validation.published.sources import complaint

MODULES = tuple(check.name for check in CHECKS if check.name.startswith("time."))
QUICK = (
    "bars.nafems_t3",
    "bars.semi_infinite",
    "bars.slab_in_a_bath",
    "cooling.lumped",
    "cooling.sensor_lag",
)


def _sound(rows: list[Row]) -> None:
    assert rows
    for row in rows:
        what = f"{row.check}: {row.quantity}"
        assert row.passed, f"{what}: {row.computed} is not {row.published} within {row.tolerance}"
        assert not complaint(row.source), what
        assert row.reason, what
        assert np.isfinite([row.published, row.computed, row.tolerance]).all(), what


@pytest.mark.parametrize("name", QUICK)
def test_quick_check(name: str) -> None:
    module, rows = name.split(".")
    _sound(getattr(importlib.import_module(f"validation.checks.time.{module}"), rows)())


@pytest.mark.slow
@pytest.mark.parametrize("name", MODULES)
def test_every_check(name: str) -> None:
    for rows in checks_of(importlib.import_module(f"validation.checks.{name}"), True):
        if f"{name.partition('.')[2]}.{rows.__name__}" not in QUICK:
            _sound(rows())


def test_the_inverse_transform_is_exact() -> None:
    """1 / (s + 1) is exp(-t), 1 / s2 is t."""
    for t in (0.1, 1.0, 7.0):
        assert step(lambda s: 1 / (s + 1), t) == pytest.approx(np.exp(-t), abs=1e-9)
        assert step(lambda s: 1 / s**2, t) == pytest.approx(t, rel=1e-8)


def test_two_bodies_against_their_series() -> None:
    """A core of 41 947 J/m/K at 57.15 mm, insulation of 84 000 J/m3/K to 107.15 mm: the sum of its eigenfunctions."""
    body = TwoBodies(41947.0, 0.05715, 0.10715, 0.04, 84000.0, 10.0)
    values = [body.cooled(hours * HOUR) for hours in (1, 6, 24, 48)]
    assert values == pytest.approx([0.97724, 0.83290, 0.46846, 0.21750], abs=2e-5)
