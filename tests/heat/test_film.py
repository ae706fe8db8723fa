"""Outside films against handbook examples, a measured table and the laws' own limits."""

import warnings

import numpy as np
import pytest
from ht.conv_external import Nu_cylinder_Churchill_Bernstein
from ht.conv_free_immersed import Nu_horizontal_cylinder_Churchill_Chu
from scipy.constants import Stefan_Boltzmann

from sim.heat import air, film, iso_film

SIDE = {"ambient": 253.15, "wind": 5.0, "wind_from_clock": 3.0, "diameter": 0.2143, "emissivity": 0.13}


def test_forced_nusselt_of_a_worked_example():
    """Cengel 7-53: Re 1.632e4, Pr 0.7255 gives Nu 71.19. The law itself, through the library; ours agrees
    with the library at our own Re and Pr."""
    assert Nu_cylinder_Churchill_Bernstein(1.632e4, 0.7255) == pytest.approx(71.19, rel=2e-3)
    for wind, diameter in ((0.01, 0.05), (3.0, 0.1), (30.0, 0.5)):
        t = 0.5 * (320.0 + 260.0)
        reynolds = wind * diameter / air.kinematic_viscosity(t)
        expected = Nu_cylinder_Churchill_Bernstein(float(reynolds), float(air.prandtl(t)))
        h = film.forced(320.0, ambient=260.0, wind=wind, diameter=diameter)
        assert h * diameter / air.conductivity(t) == pytest.approx(expected, rel=1e-10)


def test_free_against_the_library():
    for surface, diameter in ((273.5, 0.02), (300.0, 0.2), (400.0, 1.0)):
        t = 0.5 * (surface + 273.15)
        nu, pr = float(air.kinematic_viscosity(t)), float(air.prandtl(t))
        grashof = film.GRAVITY / t * (surface - 273.15) * diameter**3 / nu**2
        expected = Nu_horizontal_cylinder_Churchill_Chu(pr, grashof) * float(air.conductivity(t)) / diameter
        assert film.free(surface, ambient=273.15, diameter=diameter) == pytest.approx(expected, rel=1e-10)


def test_blend_is_the_fourth_power_of_both_and_even_in_direction():
    kw = {"ambient": 280.0, "diameter": 0.2}
    surface = np.array([281.0, 300.0, 350.0])
    forced, free = film.forced(surface, wind=0.4, **kw), film.free(surface, **kw)
    np.testing.assert_allclose(
        film.blended(surface, wind=0.4, **kw), (forced**4 + free**4) ** 0.25, rtol=1e-12
    )
    np.testing.assert_allclose(film.blended(surface, wind=0.0, **kw), free, rtol=1e-14)
    colder, warmer = film.free(279.9, **kw), film.free(280.1, **kw)
    assert colder == pytest.approx(warmer, rel=1e-2)


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


def test_radiation_is_the_exact_secant():
    surface, ambient = np.array([250.0, 300.0, 400.0]), 270.0
    flux = film.radiative(surface, ambient=ambient, emissivity=0.9) * (surface - ambient)
    np.testing.assert_allclose(flux, 0.9 * Stefan_Boltzmann * (surface**4 - ambient**4), rtol=1e-12)


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


def test_wind_from_a_clock_hour():
    """Stagnation at the hour the wind comes from, mirror symmetry about it, the mean film all round kept."""
    angle = np.linspace(0.0, 2.0 * np.pi, 720, endpoint=False)
    surface = np.full(720, SIDE["ambient"] + 3.0)
    kw = SIDE | {"emissivity": 0.0, "wind": 8.0, "coefficient": None}
    h = film.outside_coefficient(surface, angle, **kw)
    three = np.argmin(np.abs(angle - 0.5 * np.pi))
    np.testing.assert_allclose(h[three - 100], h[three + 100], rtol=1e-9)
    assert h[three] > h[three + 60]
    mean = film.outside_coefficient(surface, angle, **(kw | {"wind_from_clock": None}))
    assert h.mean() == pytest.approx(mean.mean(), rel=1e-3)
    turned = film.outside_coefficient(surface, angle + 0.5 * np.pi, **(kw | {"wind_from_clock": 6.0}))
    np.testing.assert_allclose(h, turned, rtol=1e-9)


def test_given_coefficient_replaces_everything():
    kw = SIDE | {"coefficient": 10.0}
    surface = np.linspace(240.0, 320.0, 5)
    np.testing.assert_array_equal(film.outside_coefficient(surface, surface, **kw), 10.0)
    np.testing.assert_array_equal(film.coefficient_and_slope(surface, surface, **kw)[1], 10.0)


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
