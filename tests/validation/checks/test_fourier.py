"""Closed forms against printed or independently computed numbers."""

import math

import numpy as np
import pytest

from validation.checks.conduction.fourier import (
    TwoLayerAnnulus,
    eccentric_shape_factor,
    multilayer_cylinder,
    share_reaching_pipe,
    thin_wall_fin,
)


def annulus(k1: float = 50, **more: object) -> TwoLayerAnnulus:
    return TwoLayerAnnulus(0.05113, 0.05715, 0.10715, k1, 0.04, 10, 20, 0.010, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("k1", "expected"),
    [(50, [54.855, 53.625, 52.753, 52.060]), (15, [59.088, 55.037, 52.212, 49.989])],
)
def test_heated_arc_on_an_empty_pipe(k1: float, expected: list[float]) -> None:
    """The numbers were summed beforehand from the same series (computed, no outside source)."""
    ring = annulus(k1)
    assert ring.mean == pytest.approx(52.989, abs=6e-4)
    assert ring.outside_of_pipe(np.radians([0, 45, 90, 180])) == pytest.approx(expected, abs=6e-4)


def test_mean_over_a_circle_is_the_zeroth_term() -> None:
    ring = annulus(15, inside="still", k_contents=0.6, sheet=0.16)
    angle = np.linspace(0, 2 * math.pi, 720, endpoint=False)
    assert ring.bore(angle).mean() == pytest.approx(ring.mean, rel=1e-9)
    assert ring.surface(angle).mean() == pytest.approx(20 / (2 * math.pi * 0.10715 * 10), rel=1e-9)


def test_inner_conditions_meet_in_their_limits() -> None:
    """No film and no conductivity inside are the empty bore; an endless film levels the wall's inside."""
    angle = np.array([0.0, 1.0, math.pi])
    empty = annulus(15).outside_of_pipe(angle)
    assert annulus(15, inside="mixed", film_inside=1e-9).outside_of_pipe(angle) == pytest.approx(empty)
    assert annulus(15, inside="still", k_contents=1e-12).outside_of_pipe(angle) == pytest.approx(empty)
    assert np.ptp(annulus(15, inside="mixed", film_inside=1e9).bore(angle)) < 1e-4


def test_wall_of_the_contents_own_conductivity_is_no_wall() -> None:
    """Then every harmonic falls inwards as r^n, from the heated circle to the bore."""
    homogeneous = annulus(0.6, inside="still", k_contents=0.6)
    n = 3
    x = homogeneous.r1 / homogeneous.r2
    _, amplitude, _, _ = homogeneous._harmonics(n)
    angle = np.linspace(0, 2 * math.pi, 360, endpoint=False)
    third = 2 * (homogeneous.bore(angle) * np.cos(n * angle)).mean()
    assert third == pytest.approx(amplitude[n - 1] * x**n, rel=1e-9)


@pytest.mark.parametrize(("k", "low", "high"), [(50, 97.054, 99.866), (15, 94.920, 104.189)])
def test_thin_wall_fin(k: float, low: float, high: float) -> None:
    """DN 100 Sch 40, U 0.6 W/m2/K, 20 W/m (computed, no outside source)."""
    computed = thin_wall_fin(0.05414, 0.00602, k, 0.6, 20)
    assert computed == pytest.approx((low, 97.990, high), abs=1e-3)


def test_multilayer_cylinder_resistances() -> None:
    """One layer between two films, by hand: 1/(2 pi r h) + ln(r2/r1)/(2 pi k) + 1/(2 pi r h)."""
    loss, at = multilayer_cylinder([0.05, 0.1], [0.04], 100, 10, 100, 0)
    by_hand = 100 * 2 * math.pi / (1 / 5 + math.log(2) / 0.04 + 1 / 1)
    assert loss == pytest.approx(by_hand)
    assert at == pytest.approx([100 - loss / (2 * math.pi * 5), loss / (2 * math.pi)])


def test_eccentric_shape_factor() -> None:
    """Incropera table 4.1; the concentric limit is 2 pi/ln(D/d)."""
    assert eccentric_shape_factor(0.060, 0.020, 0.010) == pytest.approx(6.529, abs=1e-3)
    assert eccentric_shape_factor(0.060, 0.020, 0.0) == pytest.approx(2 * math.pi / math.log(3))
    with pytest.raises(ValueError, match="within"):
        eccentric_shape_factor(0.060, 0.020, 0.020)


def test_share_of_a_source_off_the_wall() -> None:
    assert share_reaching_pipe(0.05, 0.05, 0.1, 0.04, 10) == pytest.approx(1.0)
    assert 0 < share_reaching_pipe(0.05, 0.06, 0.1, 0.04, 10) < 1
