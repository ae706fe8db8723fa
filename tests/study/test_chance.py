"""Intervals and indices against closed forms."""

import numpy as np
import pytest

from sim.study import chance
from sim.study.schema import Sampling


def test_clopper_pearson_against_its_closed_form() -> None:
    """With no failure in n, the lower bound is (alpha/2)^(1/n) (Clopper and Pearson 1934)."""
    for n in (10, 59, 256):
        low, high = chance.interval(n, n, 0.95)
        assert low == pytest.approx(0.025 ** (1 / n), rel=1e-9)
        assert high == 1.0
    low, high = chance.interval(0, 30, 0.9)
    assert (low, high) == (0.0, pytest.approx(1 - 0.05 ** (1 / 30), rel=1e-9))


def test_total_sobol_indices_of_the_ishigami_function() -> None:
    """Ishigami and Homma (1990): for a = 7, b = 0.1 the total indices are 0.5576, 0.4424, 0.2437."""
    pytest.importorskip("SALib")
    from sim.study.sampling import problem, salib

    names = ("x1", "x2", "x3")
    points = salib().sample.sobol.sample(problem(names), 2048, calc_second_order=False, seed=3)
    x = np.pi * (2 * points - 1)
    y = np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])
    found = chance._sobol("c", "p", names, y, Sampling(method="saltelli", samples=2048))
    for driver, total, first in zip(found, (0.5576, 0.4424, 0.2437), (0.3139, 0.4424, 0.0), strict=True):
        assert driver.value == pytest.approx(total, abs=0.03)
        assert driver.first == pytest.approx(first, abs=0.03)


def test_of_the_pairs_for_indices_only_plain_samples_are_counted() -> None:
    numbers = np.arange(40)
    rows = chance.independent(np.arange(40), numbers, Sampling(method="saltelli", samples=8), 3, 40)
    assert rows.tolist() == [0, 4, 5, 9, 10, 14, 15, 19, 20, 24, 25, 29, 30, 34, 35, 39]
