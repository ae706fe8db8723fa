"""The sun and the sky on the outer surface. Numbers of the sun's path: pvlib's, computed; of the sky: as named."""

from typing import Any

import numpy as np
import pytest
from plain_lines import line
from scipy.optimize import brentq

from sim.case import Sky, Sun, case_for, parse_case
from sim.heat import film
from sim.heat.constants import STEFAN_BOLTZMANN
from sim.heat.outlets import outside
from sim.heat.sun import berdahl_martin, clark_allen, irradiance, sky_temperature, sun_path

HOURS = np.radians(30.0 * np.array([12, *range(1, 12)]))


def condition(**more: Any) -> Any:
    raw = line()
    raw["outside"] = {}
    raw["condition"] = [{"name": "a", "ambient": "-20 degC"} | more]
    return case_for(parse_case(raw), "a")


def test_beam_falls_by_the_cosine() -> None:
    sun = Sun(irradiance="800 W/m2", clock=2, absorptivity=1.0)
    beam = irradiance(sun).at(HOURS)
    assert beam == pytest.approx(800 * np.maximum(np.cos(HOURS - np.pi / 3), 0.0), abs=1e-9)


def test_diffuse_and_reflected_are_halves_all_round() -> None:
    around = np.linspace(0, 2 * np.pi, 721)[:-1]
    sun = Sun(irradiance="0 W/m2", clock=2, diffuse="100 W/m2", reflected="60 W/m2", absorptivity=1.0)
    beam = irradiance(sun).at(around)
    assert beam.mean() == pytest.approx(80.0)
    assert beam[0] == pytest.approx(100.0)
    assert beam[360] == pytest.approx(60.0)


@pytest.mark.parametrize(
    ("date", "expected"),
    [
        ("2023-06-21", [901, 952, 791, 461, 171, 178, 180, 178, 171, 162, 273, 653]),
        ("2023-12-21", [334, 647, 803, 760, 531, 176, 67, 66, 65, 62, 60, 58]),
    ],
)
def test_clear_day_around_the_clock(date: str, expected: list[int]) -> None:
    """45 N 0 E, 100 m, 12 UTC, line bearing east: pvlib 0.16, isotropic transposition, albedo 0.2 (computed)."""
    pytest.importorskip("pvlib")
    sun = Sun(date=date, hour=12, latitude=45, altitude=100, bearing=90, absorptivity=0.5)
    assert irradiance(sun).at(HOURS) == pytest.approx(expected, abs=1.0)


def test_every_bearing_of_the_line_is_pvlibs_transposition() -> None:
    """`get_total_irradiance`, isotropic, of a plane tilted by the clock's angle to the line's right or left."""
    pvlib = pytest.importorskip("pvlib")
    sun = Sun(date="2026-03-02", hour=9.5, latitude=52, longitude=5, bearing=217, absorptivity=0.5)
    path = sun_path(np.array(["2026-03-02T09:30:00"], "datetime64[s]"), sun)
    beam = irradiance(sun).at(HOURS)
    for angle, value in zip(HOURS, beam, strict=True):
        turned = np.degrees(angle) % 360
        tilt, side = (turned, 90) if turned <= 180 else (360 - turned, -90)
        peer = pvlib.irradiance.get_total_irradiance(
            tilt,
            (217 + side) % 360,
            90 - path.elevation,
            path.azimuth,
            path.beam,
            path.level,
            path.diffuse,
            albedo=0.2,
        )
        assert value == pytest.approx(float(peer["poa_global"][0]), rel=1e-6)


def test_position_of_the_published_example() -> None:
    """NREL's SPA example (Reda and Andreas 2004; from memory): 17 October 2003, 12:30:30 UTC-7, 39.742476 N
    105.1786 W, 1830 m: zenith 50.11162 with refraction, azimuth 194.34024 degrees."""
    pytest.importorskip("pvlib")
    place = Sun(
        date="2003-10-17",
        hour=19.5,
        latitude=39.742476,
        longitude=-105.1786,
        altitude=1830.14,
        bearing=0,
        absorptivity=1,
    )
    path = sun_path(np.array(["2003-10-17T19:30:30"], "datetime64[s]"), place, clear=False)
    assert 90 - path.elevation[0] == pytest.approx(50.11162, abs=2e-3)
    assert path.azimuth[0] == pytest.approx(194.34024, abs=2e-3)


def test_nothing_shines_at_night() -> None:
    pytest.importorskip("pvlib")
    sun = Sun(date="2023-12-21", hour=0, latitude=45, bearing=90, absorptivity=0.5)
    assert irradiance(sun).at(HOURS) == pytest.approx(np.zeros(12), abs=1e-9)


def test_sky_of_clark_and_allen() -> None:
    """EnergyPlus, Engineering Reference, "Climate calculations": air 20, dew point 10 degC, clear."""
    assert clark_allen(283.15) == pytest.approx(0.815, abs=5e-4)
    radiation = clark_allen(283.15) * STEFAN_BOLTZMANN * 293.15**4
    assert radiation == pytest.approx(340.6, abs=1.0)
    assert clark_allen(283.15, 1.0) == pytest.approx(0.815 * (1 + 0.224 - 0.35 + 0.28), rel=1e-3)


@pytest.mark.parametrize(("name", "degrees"), [("Berdahl and Martin", -48.64), ("Clark and Allen", -40.2)])
def test_clear_sky_of_a_cold_night(name: str, degrees: float) -> None:
    """Air -20, dew point -24 degC, computed from the formulas as published."""
    sky = Sky(dew_point="-24 degC", correlation=name)
    assert sky_temperature(sky, 253.15) - 273.15 == pytest.approx(degrees, abs=0.05)


def test_berdahl_and_martin_hour_and_pressure() -> None:
    base = berdahl_martin(273.15)
    assert base == pytest.approx(0.711)
    assert berdahl_martin(273.15, hour=0) - base == pytest.approx(0.013)
    assert berdahl_martin(273.15, hour=12, pressure=900) - base == pytest.approx(-0.013 - 0.012)


def test_surface_that_passes_no_heat_balances_sun_sky_and_air() -> None:
    """At the temperature found, the flux written out by hand is nought at every clock position."""
    case = condition(
        wind="3 m/s",
        sun={"irradiance": "500 W/m2", "clock": 3, "absorptivity": 0.4},
        sky={"temperature": "-50 degC"},
    )
    eps, ambient, radius = case.outside.emissivity, 253.15, 0.06
    for angle in HOURS:

        def flux(surface: float, angle: float = angle) -> float:
            view = 0.5 * (1 + np.cos(angle))
            air = film.blended(surface, ambient=ambient, wind=3.0, diameter=2 * radius) * (surface - ambient)
            seen = (1 - view) * ambient**4 + view * 223.15**4
            shone = 0.4 * 500 * max(np.cos(angle - np.pi / 2), 0.0)
            return float(air + eps * STEFAN_BOLTZMANN * (surface**4 - seen) - shone)

        still = brentq(flux, 200.0, 400.0, xtol=1e-10)
        for surface in (still, still + 7.0, still - 7.0):
            computed = outside(case, radius, np.array([surface]), np.array([angle]))
            leaving = computed.conductance[0] * (surface - computed.temperature[0])
            assert leaving == pytest.approx(flux(surface), abs=1e-7)


def test_slope_is_the_derivative_of_what_leaves() -> None:
    case = condition(
        sun={"irradiance": "500 W/m2", "clock": 3, "absorptivity": 0.4}, sky={"temperature": "-50 degC"}
    )

    def leaving(surface: float) -> float:
        computed = outside(case, 0.06, np.array([surface]), np.array([0.3]))
        return float(computed.conductance[0] * (surface - computed.temperature[0]))

    slope = outside(case, 0.06, np.array([270.0]), np.array([0.3])).slope[0]
    assert slope == pytest.approx((leaving(270.01) - leaving(269.99)) / 0.02, rel=1e-4)


def test_given_coefficient_still_takes_the_sun() -> None:
    raw = line()
    raw["outside"] = {"coefficient": "10 W/m2/K"}
    raw["condition"] = [
        {
            "name": "a",
            "ambient": "0 degC",
            "sun": {"irradiance": "600 W/m2", "clock": 12, "absorptivity": 0.5},
        }
    ]
    computed = outside(case_for(parse_case(raw), "a"), 0.06, np.full(1, 280.0), np.zeros(1))
    assert computed.temperature[0] == pytest.approx(273.15 + 30.0)
