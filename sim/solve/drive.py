"""What an episode does to a line from outside: its condition at every moment, and the controls that switch tracers."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import exp
from typing import Any

import numpy as np

from sim.case import Case, Condition, Sun
from sim.case.episode import Control, Episode
from sim.section.shapes import Array
from sim.solve.outdoors import Outdoors, outdoors

AMBIENT = "ambient"
OVER_TIME = ("ambient", "wind", "wind_from", "supply")  # numbers of a condition that may be series
DARK = Sun.model_construct(absorptivity=0.0, irradiance=0.0, clock=0.0)
MOMENTS_KEPT = 16  # whose conditions need not be made again
BEFORE = -1.0  # s: a moment before the first jump
TRACED = 1.0  # s: a switching moment is found to this
SUBSTEPS = 32  # parts of a step over which a sensor's lag is integrated
HALVINGS = 30  # of the part in which a reading passes its threshold


@dataclass(frozen=True)
class Drive:
    """The condition of one stretch of an episode between two jumps. `begin` (s): changes up to it are in force."""

    case: Case
    episode: Episode
    begin: float

    @property
    def outdoors(self) -> Outdoors | None:
        """The weather that drives it, or the sun that moves."""
        sun = None if self.episode.sun is not None else self.case.conditions[0].sun
        return outdoors(self.episode, sun, self.case.outside.coefficient is not None)

    @cached_property
    def _cases(self) -> dict[float, Case]:
        return {}

    @cached_property
    def _varies(self) -> bool:
        """Whether anything changes between the jumps."""
        return bool(self.episode.series) or self.outdoors is not None

    def at(self, time: float) -> Case:
        """The case with the condition of a moment (s); the last ones asked for are kept."""
        cases, time = self._cases, time if self._varies else 0.0
        if time not in cases:
            if len(cases) > MOMENTS_KEPT:
                cases.clear()
            cases[time] = self._case_at(time)
        return cases[time]

    def _case_at(self, time: float) -> Case:
        episode = self.episode
        values: dict[str, Any] = self.outdoors.at(time) if self.outdoors is not None else {}
        for key in OVER_TIME:
            series = getattr(episode, key)
            if series is not None:
                values[key] = series(time)
        values |= {
            key: part.at(time) for key in ("sun", "sky") if (part := getattr(episode, key)) is not None
        }
        if episode.rain is not None:
            values["rain"] = bool(episode.rain(self.begin))
        contents = None if episode.contents_temperature is None else episode.contents_temperature(time)
        for change in episode.changes:
            if change.at <= self.begin:
                values |= {
                    key: getattr(change, key)
                    for key in (*OVER_TIME, "output", "rain")
                    if getattr(change, key) is not None
                }
                contents = change.contents_temperature or contents
        for one in (episode, *(c for c in episode.changes if c.at <= self.begin)):
            values |= {
                key: part.at(time) for key in ("sun", "sky") if (part := getattr(one, key)) is not None
            }
        condition = _lit(self.case.conditions[0].model_copy(update=values), self._ever_sunny)
        update: dict[str, object] = {"conditions": (condition,)}
        if contents is not None:
            update["contents"] = self.case.contents.model_copy(update={"temperature": contents})
        return self.case.model_copy(update=update)

    @property
    def _ever_sunny(self) -> bool:
        """Whether the sun is given anywhere in the episode, so that its heat is one of the quantities throughout."""
        given = (self.case.conditions[0].sun, self.episode.sun, *(c.sun for c in self.episode.changes))
        return any(sun is not None for sun in given)

    def condition(self, time: float) -> Condition:
        """The condition of a moment (s)."""
        return self.at(time).conditions[0]


def at_start(case: Case, episode: Episode) -> Case:
    """The case narrowed to its condition as a steady start has it: at the first moment's ambient and weather."""
    first = Drive(case, episode, BEFORE).condition(0.0)
    keys = ("ambient", "sun", "sky", "rain", *(("wind",) if episode.weather is not None else ()))
    condition = case.conditions[0].model_copy(update={key: getattr(first, key) for key in keys})
    return case.model_copy(update={"conditions": (condition,)})


def _lit(condition: Condition, ever_sunny: bool) -> Condition:
    """A moment's condition: rain leaves no sun and no sky, and a sun that is not there yet is dark."""
    update: dict[str, Any] = {"sky": None} if condition.rain else {}
    if ever_sunny and (condition.rain or condition.sun is None):
        update["sun"] = DARK
    return condition.model_copy(update=update) if update else condition


def jumps(episode: Episode) -> tuple[float, ...]:
    """Moments (s) at which a step must end, 0 and the episode's end included: changes, and kinks of the series."""
    moments = {0.0, episode.lasts}
    for series in episode.series:
        moments |= {t for t in series.times if 0.0 < t < episode.lasts}
    moments |= {change.at for change in episode.changes}
    return tuple(sorted(moments))


def power_lost(case: Case, episode: Episode) -> float | None:
    """The first moment (s) at which a supply that was there falls to 0; None: it never does."""
    before = case.conditions[0].supply
    for moment in jumps(episode)[:-1]:
        supply = Drive(case, episode, moment).condition(moment).supply
        if before > 0.0 and supply == 0.0:
            return moment
        before = max(before, supply)
    return None


@dataclass
class Thermostat:
    """One control in an episode: whether it is on, and what its sensor reads.

    reading: of the sensor itself, K, which lags behind the pipe's surface by its time constant, and surface, K, of the
    pipe there, both at the moment `since`, s; tracers (n,): 1 for those it switches.
    """

    control: Control
    tracers: Array
    time_constant: float
    on: bool = True
    reading: float = float("nan")
    surface: float = float("nan")
    since: float = 0.0

    def read(self, reading: float, surface: float, time: float) -> None:
        """Take what the sensor and the surface behind it read at a moment, s."""
        self.reading, self.surface, self.since = reading, surface, time

    def reading_at(self, time: float, surface: float) -> float:
        """The sensor's reading, K, at a moment (s) not before `since`, the surface gone straight to `surface`."""
        if time <= self.since or self.time_constant <= 0.0:
            return self.reading if self.time_constant > 0.0 else surface
        span = time - self.since
        return _lag(self.reading, self.surface, surface, span, 1.0, self.time_constant)

    @property
    def switches(self) -> bool:
        return self.control.on_below is not None

    def share(self, reading: float) -> float:
        """Share of full power at a reading, K."""
        if self.switches:
            return float(self.on)
        low, high = self.control.full_below, self.control.off_above
        assert low is not None
        return float(np.clip((high - reading) / (high - low), 0.0, 1.0))

    def threshold(self) -> float:
        """The reading at which it would switch next, K."""
        on_below = self.control.on_below
        assert on_below is not None
        return self.control.off_above if self.on else on_below

    def past(self, reading: float) -> bool:
        """Whether a reading is beyond the one at which it switches."""
        return reading > self.threshold() if self.on else reading < self.threshold()


PARTS = np.linspace(0.0, 1.0, SUBSTEPS + 1)


def followed(reading: float, surface: Callable[[Array], Array], span: float, time_constant: float) -> Array:
    """Readings of a sensor at the `PARTS` of a step: dy/dt = (x - y) / time constant, exact for x linear over each.

    surface: x at fractions (n,) of the step, K; span: length of the step, s.
    """
    x = surface(PARTS)
    if time_constant <= 0.0:
        return x
    readings = [reading]
    for before, after in pairwise(x.tolist()):
        readings.append(_lag(readings[-1], before, after, span / SUBSTEPS, 1.0, time_constant))
    return np.array(readings)


def lagged(reading: float, surface: Callable[[Array], Array], span: float, time_constant: float) -> float:
    """The last of the readings `followed` over a step."""
    if time_constant <= 0.0:
        return float(surface(np.ones(1))[0])
    if span <= 0.0:
        return reading
    return float(followed(reading, surface, span, time_constant)[-1])


def _lag(
    reading: float, before: float, after: float, span: float, part: float, time_constant: float
) -> float:
    """Reading after a part of a span, s, in which what it follows goes straight from before to after."""
    lag = (after - before) / span * time_constant
    return (
        before + (after - before) * part - lag + (reading - before + lag) * exp(-part * span / time_constant)
    )


def passing(
    past: Callable[[float], bool],
    readings: Array,
    surface: Callable[[Array], Array],
    span: float,
    time_constant: float,
) -> float:
    """Part of a step at which the readings `followed` over it are first past a threshold; infinite: never."""
    beyond = [past(reading) for reading in readings[1:].tolist()]
    if not any(beyond):
        return np.inf
    at = beyond.index(True)
    begin, end, length = PARTS[at], PARTS[at + 1], span / SUBSTEPS
    before, after = surface(PARTS[at : at + 2]).tolist()
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        if time_constant <= 0.0:
            reading = float(surface(np.array([begin + (end - begin) * middle]))[0])
        else:
            reading = _lag(float(readings[at]), before, after, length, middle, time_constant)
        low, high = (low, middle) if past(reading) else (middle, high)
    return float(begin + (end - begin) * high)


def hermite(part: Array, ends: tuple[float, float], slopes: tuple[float, float], span: float) -> Array:
    """Cubic through values and slopes (per s) at the ends of a step of `span` s, at fractions (n,) of it."""
    a, b = ends
    sa, sb = slopes[0] * span, slopes[1] * span
    p2, p3 = part**2, part**3
    return (2 * p3 - 3 * p2 + 1) * a + (p3 - 2 * p2 + part) * sa + (3 * p2 - 2 * p3) * b + (p3 - p2) * sb
