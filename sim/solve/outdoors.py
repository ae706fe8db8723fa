"""The weather of an episode over time: a file's, or the sun of a clear day moving on."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from sim.case import Sky, Sun
from sim.case.episode import Episode
from sim.case.weather import SIGMA, ZERO, Weather
from sim.heat.sun import Irradiance, SunPath, clark_allen, on_line, sun_path
from sim.section.shapes import Array

CLEAR_DAY = 600.0  # s between the moments at which a clear day's sun is taken


@dataclass(frozen=True, eq=False)
class Outdoors:
    """Values over time, linear between: time (n,) s from the episode's start, with ambient K, wind m/s, sky K where
    they are known; sun_time (m,) s with the sun on the line (m,)."""

    time: Array
    ambient: Array | None
    wind: Array | None
    sky: Array | None
    sun_time: Array
    sun: Irradiance | None
    absorptivity: float
    spacing: float

    def at(self, time: float) -> dict[str, Any]:
        """Keys of the condition at a moment, s."""
        changes: dict[str, Any] = {}
        for key in ("ambient", "wind"):
            series = getattr(self, key)
            if series is not None:
                changes[key] = float(np.interp(time, self.time, series))
        if self.sky is not None:
            changes["sky"] = Sky.model_construct(temperature=float(np.interp(time, self.time, self.sky)))
        if self.sun is not None:
            parts = (self.sun.right, self.sun.up, self.sun.diffuse, self.sun.reflected)
            right, up, diffuse, reflected = (float(np.interp(time, self.sun_time, part)) for part in parts)
            changes["sun"] = Sun.model_construct(
                absorptivity=self.absorptivity,
                irradiance=float(np.hypot(right, up)),
                clock=float(np.arctan2(right, up) * 6 / np.pi) % 12,
                diffuse=diffuse,
                reflected=reflected,
            )
        return changes


def outdoors(episode: Episode, sun: Sun | None, given_film: bool) -> Outdoors | None:
    """What weather drives an episode; None where nothing does. sun: the condition's, None where the episode gives its
    own; given_film: the outside's coefficient is given, so that no sky is seen."""
    return _outdoors(episode.file, episode.offset, episode.lasts, sun, given_film)


@lru_cache(maxsize=16)
def _outdoors(
    file: Weather | None, offset: float, lasts: float, sun: Sun | None, no_sky: bool
) -> Outdoors | None:
    if file is not None:
        return _of_file(file, offset, sun, no_sky)
    if sun is None or sun.date is None:
        return None
    assert sun.hour is not None
    time = np.arange(0.0, lasts + CLEAR_DAY, CLEAR_DAY)
    begin = np.datetime64(sun.date) + np.timedelta64(round(3600 * sun.hour), "s")
    stamps = begin + time.astype("timedelta64[s]")
    path = sun_path(stamps, sun)
    return Outdoors(time, None, None, None, time, on_line(path, sun), sun.absorptivity, CLEAR_DAY)


def _of_file(file: Weather, offset: float, sun: Sun | None, no_sky: bool) -> Outdoors:
    values, time = file.values, file.time - offset
    ambient = values["dry_bulb_degC"] + ZERO
    sky = None if no_sky else _sky(file, ambient)
    falling = None
    middle = file.time - 0.5 * file.spacing
    if sun is not None and sun.bearing is not None and file.has_sun:
        place = sun
        if file.place is not None:
            latitude, longitude, altitude = file.place
            place = sun.model_copy(
                update={"latitude": latitude, "longitude": longitude, "altitude": altitude}
            )
        path = sun_path(file.begin + middle.astype("timedelta64[s]"), place, clear=False)
        level, beam, diffuse = (values[f"{name}_W_m2"] for name in ("global", "direct", "diffuse"))
        falling = on_line(SunPath(path.azimuth, path.elevation, level, beam, diffuse), place)
    absorptivity = 0.0 if sun is None else sun.absorptivity
    return Outdoors(
        time, ambient, values["wind_m_s"], sky, middle - offset, falling, absorptivity, file.spacing
    )


def _sky(file: Weather, ambient: Array) -> Array | None:
    """Temperature of the sky, K: from its measured radiation, or dew point and cloud; None where neither is there."""
    values = file.values
    if "sky_W_m2" in values:
        return np.asarray((values["sky_W_m2"] / SIGMA) ** 0.25)
    if "dew_point_degC" in values:
        cloud = values.get("cloud_tenths", np.zeros(len(ambient))) / 10
        dew = np.minimum(values["dew_point_degC"] + ZERO, ambient)
        return np.asarray(clark_allen(dew, cloud) ** 0.25 * ambient)
    return None
