"""What drives an episode in the finite-element check: the condition over time, thermostats, sensors that lag."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from sim.case import Case
from sim.case.episode import Control, Episode

CONTROLLED = ("ambient", "wind", "wind_from", "supply", "output")


def lagged(reading: float, old: float, new: float, span: float, lag: float) -> float:
    """A reading behind a surface that goes from old to new in a straight line."""
    if span <= 0.0:
        return reading
    slope = (new - old) / span
    return float(new - slope * lag + (reading - old + slope * lag) * np.exp(-span / lag))


def condition_at(case: Case, episode: Episode, time: float, begin: float) -> tuple[Any, float | None]:
    """The condition at a moment of the stretch that begins at `begin` (s), and the contents' given temperature."""
    values: dict[str, Any] = {}
    contents = case.contents.temperature
    for key in CONTROLLED[:4]:
        series = getattr(episode, key)
        if series is not None:
            values[key] = float(np.interp(time, series.times, series.values))
    if episode.contents_temperature is not None:
        contents = float(
            np.interp(time, episode.contents_temperature.times, episode.contents_temperature.values)
        )
    for change in sorted(episode.changes, key=lambda c: c.at):
        if change.at <= begin:
            values |= {k: getattr(change, k) for k in CONTROLLED if getattr(change, k) is not None}
            contents = contents if change.contents_temperature is None else change.contents_temperature
    return case.conditions[0].model_copy(update=values), contents


def stops(episode: Episode) -> list[float]:
    """Moments at which a step ends (s): changes, and where a course bends."""
    moments = {0.0, episode.lasts} | {change.at for change in episode.changes}
    for key in (*CONTROLLED[:4], "contents_temperature"):
        series = getattr(episode, key, None)
        if series is not None:
            moments |= {t for t in series.times if 0 < t < episode.lasts}
    return sorted(moments)


@dataclass
class Thermostat:
    """A control, what its sensor reads (K), and whether it is on."""

    control: Control
    tracers: list[int]
    clock: float | None
    lag: float
    reading: float = np.nan
    on: bool = True

    def share(self, ambient: float) -> float:
        if self.control.on_below is not None:
            return float(self.on)
        low, high = self.control.full_below, self.control.off_above
        assert low is not None
        reading = ambient if self.clock is None else self.reading
        return float(np.clip((high - reading) / (high - low), 0.0, 1.0))

    def passed(self, reading: float) -> float:
        """How far a reading is beyond the one at which it switches, K; negative before it."""
        if self.control.on_below is None:
            return -np.inf
        return reading - self.control.off_above if self.on else self.control.on_below - reading

    def followed(self, old: float, new: float, span: float) -> float:
        """The reading after a step over which the surface goes from old to new in a straight line."""
        return new if self.lag <= 0.0 else lagged(self.reading, old, new, span, self.lag)
