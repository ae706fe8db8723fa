"""The sun on the outer surface, and the temperature of the sky.

Angles around the line run clockwise from 12 o'clock, looking along the flow. Diffuse and reflected irradiance are
taken to be even over the sky and the ground (isotropic transposition; Liu and Jordan, Solar Energy 7 (1963) 53-65).
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sim.basics import ZERO_CELSIUS, Array
from sim.case import Sky, Sun
from sim.case.clock_face import clock_to_angle
from sim.case.sun_and_sky import BERDAHL


@dataclass(frozen=True)
class Irradiance:
    """What falls on the surfaces around a line, W/m2: the beam in the section's plane, towards 3 and towards 12 o'clock
    (where the sun stands), the sky's on level ground, what level ground sends up. Numbers, or arrays over time."""

    right: float | Array
    up: float | Array
    diffuse: float | Array
    reflected: float | Array

    def at(self, angle: ArrayLike, in_plane: float | Array = 1.0) -> Array:
        """On surfaces that face the angles (n,), rad: W/m2 (n,).

        in_plane: what of a surface's unit normal lies in the section's plane; 0 of one that faces along the line.
        """
        sine, cosine = np.sin(angle) * in_plane, np.cos(angle) * in_plane
        beam = np.maximum(self.right * sine + self.up * cosine, 0.0)
        return beam + 0.5 * self.diffuse * (1 + cosine) + 0.5 * self.reflected * (1 - cosine)


class SunPath(NamedTuple):
    """Where the sun stands, degrees (refraction included), and its irradiance: on level ground, of the beam, of the
    sky on level ground, W/m2; each (times,)."""

    azimuth: Array
    elevation: Array
    level: Array
    beam: Array
    diffuse: Array


def sky_view(angle: ArrayLike, in_plane: float | Array = 1.0) -> Array:
    """View factor of the sky from a surface that faces an angle, rad: (1 + cos) / 2, a half all round. in_plane: as of
    `Irradiance.at`."""
    view: Array = 0.5 * (1 + np.cos(np.asarray(angle, dtype=float)) * in_plane)
    return view


def irradiance(sun: Sun) -> Irradiance:
    """What falls on the line in a condition."""
    if sun.irradiance is not None:
        assert sun.clock is not None
        angle = clock_to_angle(sun.clock)
        right, up = sun.irradiance * float(np.sin(angle)), sun.irradiance * float(np.cos(angle))
        return Irradiance(right, up, sun.diffuse, sun.reflected)
    return clear_sky(sun)


@lru_cache(maxsize=64)
def clear_sky(sun: Sun) -> Irradiance:
    """On the line at the hour of a clear day."""
    assert sun.date is not None
    assert sun.hour is not None
    time = np.array([np.datetime64(sun.date) + np.timedelta64(round(3600 * sun.hour), "s")])
    series = on_line(sun_path(time, sun), sun)
    return Irradiance(
        *(float(np.asarray(part)[0]) for part in (series.right, series.up, series.diffuse, series.reflected))
    )


def sun_path(time: NDArray[np.datetime64], sun: Sun, *, clear: bool = True) -> SunPath:
    """The sun's path at a place, at moments (times,) UTC, by pvlib; clear: with its clear sky.

    Position: NREL's algorithm (Reda and Andreas 2004). Clear sky: Ineichen and Perez (2002) with the monthly turbidity
    of the place that pvlib holds.
    """
    import pandas as pd
    from pvlib.location import Location

    place = Location(sun.latitude, sun.longitude, altitude=sun.altitude)
    index = pd.DatetimeIndex(time, tz="UTC")
    seen = place.get_solarposition(index)
    azimuth, elevation = seen["azimuth"].to_numpy(), seen["apparent_elevation"].to_numpy()
    if not clear:
        none = np.zeros(len(time))
        return SunPath(azimuth, elevation, none, none, none)
    sky = place.get_clearsky(index, solar_position=seen)
    return SunPath(azimuth, elevation, *(sky[key].to_numpy() for key in ("ghi", "dni", "dhi")))


def on_line(path: SunPath, sun: Sun) -> Irradiance:
    """What falls on a line of a bearing, over time; a sun below the horizon sends nothing."""
    assert sun.bearing is not None
    elevation = np.radians(path.elevation)
    beam = np.where(path.elevation > 0, path.beam, 0.0)
    right = beam * np.cos(elevation) * np.sin(np.radians(path.azimuth - sun.bearing))
    return Irradiance(right, beam * np.sin(elevation), path.diffuse, sun.albedo * path.level)


def sky_temperature(sky: Sky, ambient: float) -> float:
    """Radiant temperature of the sky, K, in a condition of this ambient temperature, K."""
    if sky.temperature is not None:
        return sky.temperature
    assert sky.dew_point is not None
    dew, clear = sky.dew_point, sky.correlation == BERDAHL
    emissivity = berdahl_martin(dew) if clear else clark_allen(dew, sky.cloud)
    return float(emissivity**0.25 * ambient)


def clark_allen(dew_point: ArrayLike, cloud: ArrayLike = 0.0) -> Array:
    """Emissivity of the sky from the dew point, K, and the share covered by cloud.

    Clark and Allen (1978) with the cloud of Walton (1983), as in EnergyPlus, Engineering Reference, "Climate
    calculations": (0.787 + 0.764 ln(T/273)) (1 + 0.0224 N - 0.0035 N^2 + 0.00028 N^3), N in tenths.
    """
    tenths = 10 * np.asarray(cloud, dtype=float)
    clear = 0.787 + 0.764 * np.log(np.asarray(dew_point, dtype=float) / 273.0)
    return np.minimum(clear * (1 + 0.0224 * tenths - 0.0035 * tenths**2 + 0.00028 * tenths**3), 1.0)


def berdahl_martin(dew_point: ArrayLike, hour: float | None = None, pressure: float = 1000.0) -> Array:
    """Emissivity of a clear sky: Berdahl and Martin, Solar Energy 32 (1984) 663-664.

    0.711 + 0.56 t + 0.73 t^2, t = dew point in degC / 100; at an hour of solar time (the mean of the day without it)
    + 0.013 cos(2 pi hour / 24), and + 0.00012 (pressure - 1000), hPa. dew_point: K.
    """
    t = (np.asarray(dew_point, dtype=float) - ZERO_CELSIUS) / 100
    daily = 0.0 if hour is None else 0.013 * np.cos(np.pi * hour / 12)
    return np.minimum(0.711 + 0.56 * t + 0.73 * t**2 + daily + 0.00012 * (pressure - 1000.0), 1.0)
