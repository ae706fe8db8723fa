"""The support's closed forms: they hold, their exact sides are right by another way, and a broken effect fails them."""

from __future__ import annotations

from math import log, pi
from types import ModuleType

import numpy as np
import pytest
from scipy.integrate import trapezoid

import sim.heat.fin
from sim.heat.fin import fin_root
from validation.checks.supports import bessel, fins, judged, legs, parts, plates, three_meshes, unchanged
from validation.published.rows import Row
from validation.published.run import checks_of


def every(check: ModuleType) -> list[Row]:
    return [row for rows in checks_of(check, full=True) for row in rows()]


def failed(rows: list[Row]) -> list[str]:
    return [
        f"{row.check}, {row.quantity}: {row.computed:.5g} not {row.published:.5g}"
        for row in rows
        if not row.passed
    ]


@pytest.mark.parametrize("check", [parts, unchanged])
def test_drawn_parts_and_a_support_that_is_none(check: ModuleType) -> None:
    assert not failed(every(check))


@pytest.mark.slow
@pytest.mark.parametrize("check", [three_meshes, plates, legs, fins, bessel, judged])
def test_closed_forms(check: ModuleType) -> None:
    assert not failed(every(check))


def test_the_fin_of_zones_meets_its_differential_equation() -> None:
    fin = fins.Fin((0.1, 0.3, 1.0), (4.0, 2.0, 0.4), (60.0, 25.0, 25.0), 0.8)
    z = np.linspace(0.0, 1.0, 2001)
    step, computed = z[1], fin(z)
    second = (computed[2:] - 2 * computed[1:-1] + computed[:-2]) / step**2
    zone = np.searchsorted(fin.end, z[1:-1])
    left = 0.8 * second - np.array(fin.loss)[zone] * computed[1:-1] + np.array(fin.given)[zone]
    away = np.abs(z[1:-1, None] - np.array([0.1, 0.3])).min(axis=1) > 1.5 * step
    assert np.abs(left[away]).max() < 1e-3
    assert abs(computed[1] - computed[0]) + abs(computed[-1] - computed[-2]) < 1e-3
    # without a ring's difference the line is its own: nothing falls
    assert fins.fall(fins.Fin((0.1, 1.0), (0.4, 0.4), (25.0, 25.0), 0.8), z).max() < 1e-9


def test_the_series_is_the_radial_formula_where_the_outside_is_cold() -> None:
    """With the outside at the air's temperature both radial fields are one logarithm, and no mode is needed."""
    bound, half = (0.05, 0.07, 0.10), 0.03
    ring, plain = (bessel.Zone(bound, (k, k), 1e9, 1e7) for k in (0.5, 0.04))
    exact = 2 * half * 2 * pi * 0.46 / log(2.0)
    assert bessel.extra_heat(ring, plain, half, 30) == pytest.approx(exact, rel=1e-3)


def test_modes_are_orthogonal() -> None:
    zone = bessel.Zone((0.05, 0.07, 0.10), (2.0, 0.04), 200.0, 10.0)
    r = np.concatenate([np.linspace(a, b, 4001) for a, b in ((0.05, 0.07), (0.07, 0.10))])
    k = np.repeat([2.0, 0.04], 4001)
    modes = [zone.shoot(float(root), r)[1] for root in zone.roots(6)]
    modes = [mode / np.abs(mode).max() for mode in modes]
    products = np.array([[trapezoid(a * b * k * r, r) for a in modes] for b in modes])
    size = np.sqrt(np.diag(products))
    assert np.abs(products / np.outer(size, size) - np.eye(6)).max() < 1e-5


@pytest.mark.slow
def test_half_a_perimeter_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    def halved(k: float, area: float, perimeter: float, *rest: object) -> tuple[float, float]:
        return fin_root(k, area, perimeter / 2, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(sim.heat.fin, "fin_root", halved)
    assert len(failed(legs.ends())) >= 6
