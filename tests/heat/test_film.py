"""Outside films against handbook examples, a measured table and the laws' own limits."""

import warnings

import numpy as np
import pytest

from sim.heat import air, film, iso_film

SIDE = {"ambient": 253.15, "wind": 5.0, "wind_from_clock": 3.0, "diameter": 0.2143, "emissivity": 0.13}


def test_no_difference_is_smooth_and_silent():
    """At Ts = Ta only the constant term of the free law is left (Nu = 0.36)."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for wind in (0.0, 2.0):
            kw = SIDE | {"wind": wind}
            surface = np.array([kw["ambient"] - 1e-9, kw["ambient"], kw["ambient"] + 1e-9])
            h = film.outside_coefficient(surface, np.zeros(3), coefficient=None, **kw)
            slope = film.coefficient_and_slope(surface, np.zeros(3), coefficient=None, **kw)[1]
            assert np.all(np.isfinite(h))
            assert np.all(h > 0.0)
            assert np.all(slope > 0.0)
    h = film.free(280.0, ambient=280.0, diameter=0.2)
    assert h * 0.2 / air.conductivity(280.0) == pytest.approx(0.36, rel=1e-12)


@pytest.mark.parametrize("wind", [0.0, 0.3, 9.0])
@pytest.mark.parametrize("wind_from", [None, 7.5])
def test_slope_is_the_derivative_of_the_flux(wind, wind_from):
    kw = SIDE | {"wind": wind, "wind_from_clock": wind_from, "coefficient": None}
    surface = np.linspace(240.0, 320.0, 41) + 0.2
    angle = np.linspace(0.0, 6.0, 41)

    def flux(t):
        return film.outside_coefficient(t, angle, **kw) * (t - kw["ambient"])

    coarse = (flux(surface + 0.02) - flux(surface - 0.02)) / 0.04
    np.testing.assert_allclose(film.coefficient_and_slope(surface, angle, **kw)[1], coarse, rtol=1e-3)


def test_range_notes():
    assert film.range_notes([260.0], ambient=250.0, wind=5.0, diameter=0.2, wind_from_clock=3.0) == ()
    assert film.range_notes([260.0], ambient=250.0, wind=0.0, diameter=0.2) == ()
    assert "Re Pr" in film.range_notes([260.0], ambient=250.0, wind=1e-5, diameter=0.1)[0]
    assert "Ra" in film.range_notes([400.0], ambient=250.0, wind=0.0, diameter=8.0)[0]
    assert "air properties" in film.range_notes([2200.0], ambient=250.0, wind=0.0, diameter=0.2)[0]
    assert (
        "distribution"
        in film.range_notes([260.0], ambient=250.0, wind=30.0, diameter=0.5, wind_from_clock=0)[0]
    )


def test_a_breeze_never_cools_less_than_still_air():
    kw = {"ambient": 280.0, "diameter": 0.3, "emissivity": 0.2}
    still = iso_film.outside(300.0, wind=0.0, **kw)
    for wind in (1e-4, 0.01, 0.1, 1.0):
        assert iso_film.outside(300.0, wind=wind, **kw) >= still
