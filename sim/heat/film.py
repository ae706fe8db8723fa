"""Outside films: wind, free convection and grey radiation on the local surface temperature.

Every law takes arrays and returns W/(m2 K). Air properties are at the film temperature (Ts + Ta)/2, except
in the still shape of the wind's distribution, which is taken once at the ambient temperature.
"""

import numpy as np
from numpy.typing import ArrayLike

from sim.basics import Array
from sim.case.clock_face import clock_to_angle
from sim.heat import air
from sim.heat.constants import STEFAN_BOLTZMANN
from sim.heat.wind import PROFILE_REYNOLDS, wind_profile

GRAVITY = 9.80665
SLOPE_STEP = 1e-3
"""Half step of the central difference in `coefficient_and_slope`, K."""


def forced(surface_temperature: ArrayLike, *, ambient: float, wind: float, diameter: float) -> Array:
    """Mean coefficient of a cylinder in cross flow, W/(m2 K), shape of `surface_temperature`.

    Churchill and Bernstein (1977), J. Heat Transfer 99, 300-306; for Re Pr > 0.2. Kelvin, m/s, m.
    """
    gas = air.properties(0.5 * (np.asarray(surface_temperature, dtype=float) + ambient))
    return _forced_nusselt(gas, wind, diameter) * gas.conductivity / diameter


def free(surface_temperature: ArrayLike, *, ambient: float, diameter: float) -> Array:
    """Mean free-convection coefficient of a horizontal cylinder, W/(m2 K), shape of `surface_temperature`.

    Churchill and Chu (1975), Int. J. Heat Mass Transfer 18, 1049-1053, the form for all Ra up to 1e12.
    At Ts = Ta the constant term remains (Nu = 0.36), so the coefficient is never zero. Kelvin, m.
    """
    surface = np.asarray(surface_temperature, dtype=float)
    gas = air.properties(0.5 * (surface + ambient))
    return _free_nusselt(gas, surface - ambient, diameter) * gas.conductivity / diameter


def blended(surface_temperature: ArrayLike, *, ambient: float, wind: float, diameter: float) -> Array:
    """Forced and free together, Nu^4 = Nu_forced^4 + Nu_free^4, W/(m2 K). Without wind, free alone."""
    return _convection(np.asarray(surface_temperature, dtype=float), ambient, wind, diameter, 1.0)


def radiative(surface_temperature: ArrayLike, *, ambient: float, emissivity: ArrayLike) -> Array:
    """Grey surface in surroundings at `ambient`: eps sigma (Ts^2 + Ta^2)(Ts + Ta), W/(m2 K)."""
    surface = np.asarray(surface_temperature, dtype=float)
    eps = np.asarray(emissivity, dtype=float)
    coefficient: Array = (
        eps * STEFAN_BOLTZMANN * (surface * surface + ambient * ambient) * (surface + ambient)
    )
    return coefficient


def outside_coefficient(
    surface_temperature: ArrayLike,
    clock_angle: ArrayLike,
    *,
    ambient: float,
    wind: float,
    wind_from_clock: float | None,
    diameter: float,
    emissivity: ArrayLike,
    coefficient: float | None,
) -> Array:
    """Convective plus radiative coefficient on the local surface temperature.

    surface_temperature: (n,) kelvin; clock_angle: (n,) radians from 12 o'clock, clockwise; ambient in K; wind
    in m/s; wind_from_clock: the hour the wind blows from, None for the mean film all round; diameter of the
    outer surface in m; emissivity a number or (n,). A given `coefficient` in W/(m2 K) replaces convection
    and radiation. Returns (n,) W/(m2 K), such that the outward flux is h (Ts - Ta).
    """
    surface = np.asarray(surface_temperature, dtype=float)
    if coefficient is not None:
        return np.full(surface.shape, float(coefficient))
    share = _wind_share(clock_angle, ambient, wind, wind_from_clock, diameter)
    convective = _convection(surface, ambient, wind, diameter, share)
    return convective + radiative(surface, ambient=ambient, emissivity=emissivity)


def coefficient_and_slope(
    surface_temperature: ArrayLike,
    clock_angle: ArrayLike,
    *,
    ambient: float,
    wind: float,
    wind_from_clock: float | None,
    diameter: float,
    emissivity: ArrayLike,
    coefficient: float | None,
) -> tuple[Array, Array]:
    """The coefficient h as in `outside_coefficient`, and the derivative of h (Ts - Ta) by the local Ts, (n,) each.

    The convective part of that is a central difference, the radiative part exact.
    """
    surface = np.asarray(surface_temperature, dtype=float)
    if coefficient is not None:
        given = np.full(surface.shape, float(coefficient))
        return given, given
    share = _wind_share(clock_angle, ambient, wind, wind_from_clock, diameter)
    three = np.stack((surface, surface + SLOPE_STEP, surface - SLOPE_STEP))
    convective = _convection(three, ambient, wind, diameter, share)
    flux = convective[1:] * (three[1:] - ambient)
    radiation = 4.0 * np.asarray(emissivity, dtype=float) * STEFAN_BOLTZMANN * surface**3
    slope: Array = (flux[0] - flux[1]) / (2.0 * SLOPE_STEP) + radiation
    return convective[0] + radiative(surface, ambient=ambient, emissivity=emissivity), slope


def range_notes(
    surface_temperature: ArrayLike,
    *,
    ambient: float,
    wind: float,
    diameter: float,
    wind_from_clock: float | None = None,
) -> tuple[str, ...]:
    """What about these surfaces lies outside the range of the film laws; empty if nothing does."""
    surface = np.asarray(surface_temperature, dtype=float)
    film = 0.5 * (surface + ambient)
    notes = []
    if film.min() < air.LOW or film.max() > air.HIGH:
        notes.append(
            f"air properties used at {film.min():.0f} to {film.max():.0f} K film temperature; "
            f"their closed forms are trusted from {air.LOW:.0f} to {air.HIGH:.0f} K"
        )
    gas = air.properties(film)
    rayleigh = _rayleigh(gas, surface - ambient, diameter).max()
    if rayleigh > 1e12:
        notes.append(f"free convection at Ra = {rayleigh:.1e}; Churchill and Chu (1975) holds to 1e12")
    if wind > 0.0:
        peclet = (wind * diameter / gas.kinematic_viscosity * gas.prandtl).min()
        if peclet <= 0.2:
            notes.append(f"wind at Re Pr = {peclet:.2g}; Churchill and Bernstein (1977) needs more than 0.2")
        reynolds = wind * diameter / float(air.kinematic_viscosity(ambient))
        low, high = PROFILE_REYNOLDS
        if wind_from_clock is not None and not low <= reynolds <= high:
            notes.append(
                f"wind from one side at Re = {reynolds:.2g}; "
                f"outside {low:g} to {high:g} the distribution around the pipe is that at the end of the range"
            )
    return tuple(notes)


def _wind_share(
    clock_angle: ArrayLike, ambient: float, wind: float, wind_from_clock: float | None, diameter: float
) -> Array | float:
    """Local over mean forced coefficient, at the ambient's Re so that it stays while a solve iterates."""
    if wind_from_clock is None or wind <= 0.0:
        return 1.0
    off_stagnation = np.asarray(clock_angle, dtype=float) - clock_to_angle(wind_from_clock)
    return wind_profile(off_stagnation, wind * diameter / float(air.kinematic_viscosity(ambient)))


def _convection(surface: Array, ambient: float, wind: float, diameter: float, share: Array | float) -> Array:
    gas = air.properties(0.5 * (surface + ambient))
    nusselt = _free_nusselt(gas, surface - ambient, diameter)
    if wind > 0.0:
        local = share * _forced_nusselt(gas, wind, diameter)
        nusselt = np.sqrt(np.sqrt(np.square(np.square(local)) + np.square(np.square(nusselt))))
    return nusselt * gas.conductivity / diameter


def _forced_nusselt(gas: air.Air, wind: float, diameter: float) -> Array:
    reynolds = wind * diameter / gas.kinematic_viscosity
    laminar = 0.62 * np.sqrt(reynolds) * np.cbrt(gas.prandtl)
    laminar = laminar / (1.0 + np.cbrt(0.4 / gas.prandtl) ** 2) ** 0.25
    return 0.3 + laminar * (1.0 + (reynolds / 282_000.0) ** 0.625) ** 0.8


def _rayleigh(gas: air.Air, difference: Array, diameter: float) -> Array:
    buoyancy = GRAVITY * gas.expansion * np.abs(difference) * diameter**3
    return buoyancy * gas.prandtl / np.square(gas.kinematic_viscosity)


def _free_nusselt(gas: air.Air, difference: Array, diameter: float) -> Array:
    rayleigh = _rayleigh(gas, difference, diameter)
    prandtl_factor = (1.0 + (0.559 / gas.prandtl) ** (9.0 / 16.0)) ** (-8.0 / 27.0)
    return np.square(0.60 + 0.387 * np.sqrt(np.cbrt(rayleigh)) * prandtl_factor)
