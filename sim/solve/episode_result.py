"""The answer of an episode: its series and its moments, each with a band from mesh and from step size.

The coarsest mesh is run once more at a quarter of the tolerance; what that changes is what the steps leave uncertain. A
moment is read from the courses of each run (`sim.solve.course`), and its band is a time.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import takewhile
from typing import Any

import numpy as np

from sim.case import Case
from sim.case.episode import Control, Episode
from sim.heat.network import Network
from sim.section.mesh import IntArray
from sim.section.shapes import Array
from sim.solve.at_rest import RATIO, ROUNDING
from sim.solve.convergence import SAFETY_UNSURE, THEORETICAL_ORDER, Banded, banded, widths
from sim.solve.course import Course, course, times
from sim.solve.drive import lagged
from sim.solve.episode import Track
from sim.solve.paths import of_episode

# on what that changes: a quarter of the tolerance leaves up to two fifths of the error (order two)
STEP_SAFETY = 1.7
OF_TWO = SAFETY_UNSURE / (RATIO**THEORETICAL_ORDER - 1.0)  # of the change between two meshes, for their band
NEARBY = 0.025  # of the episode, within which the widest band of the meshes holds: their difference may pass through 0
NEARBY_OF_TWO = 0.25  # likewise of two meshes, whose one difference tells nothing where it does
SHARES = (0.25, 0.5, 0.95)
NAN = float("nan")


@dataclass(frozen=True)
class Run:
    """An episode on one mesh with one tolerance: its network, its track, and the course of every quantity by path."""

    network: Network
    track: Track
    courses: Mapping[str, Course]

    def course(self, path: str) -> Course | None:
        """The course at a path; where a coarse mesh has no cell of a thin liquid, the contents' own."""
        part, _, rest = path.partition(".")
        if path not in self.courses and part in ("liquid", "gas"):
            return self.courses.get(f"contents.{rest}")
        return self.courses.get(path)


@dataclass(frozen=True)
class Series:
    """A quantity at the moments written: value and band (n,), SI; largest: the largest band over the episode."""

    value: Array
    band: Array
    largest: float


@dataclass(frozen=True)
class EpisodeResult:
    """An episode followed. runs: coarse, middle, fine; tight: the coarse mesh with short steps.

    time (n,): the moments written, s; series: by path; controls: those in force; notes: what a reader must know;
    other: the bound on the other side, for contents that move, or None. Around a support runs are coarse and fine, and
    least, by path, what a series' band is never less than.
    """

    case: Case
    episode: Episode
    controls: tuple[Control, ...]
    runs: tuple[Run, ...]
    tight: Run
    time: Array
    series: Mapping[str, Series] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    other: EpisodeResult | None = None
    least: Mapping[str, float] = field(default_factory=dict)

    def __repr__(self) -> str:
        return f"<{self.episode.name}: {len(self.series)} series in SI and K on meshes of {self.cells} cells>"

    @property
    def fine(self) -> Run:
        """The run whose values are the answer."""
        return self.runs[-1]

    @property
    def track(self) -> Track:
        return self.fine.track

    @property
    def cells(self) -> tuple[int, ...]:
        return tuple(run.network.mesh.cells for run in self.runs)

    @property
    def steps(self) -> tuple[int, ...]:
        """Steps of each run, that with short steps last."""
        return tuple(run.track.steps for run in (*self.runs, self.tight))

    @property
    def bracketed(self) -> bool:
        """Whether the contents move, and every band reaches from one bound to the other."""
        return self.other is not None

    def moment(self, read: Callable[..., float | None], *args: Any, stays: bool = False) -> Banded:
        """A moment at which a course passes a value, as `number`; its band reaches to where the course would pass it
        warmer, and colder, by the band of its own value: far where the course is flat, or passes it only then."""
        moment = self._of_runs(read, *args)
        reached = self._reached(read, *args, stays=stays)
        if np.isnan(moment.value):
            return replace(moment, band=np.inf) if np.isfinite(reached).any() else moment
        return replace(moment, band=max([moment.band, *(abs(x - moment.value) for x in reached)]))

    def earliest(self, moment: Banded, read: Callable[..., float | None], *args: Any) -> float:
        """Before what a moment, found as by `moment`, does not come; known also where it may not come at all."""
        runs = self._of_runs(read, *args)
        reached = self._reached(read, *args) if np.isfinite(moment.value) else []
        return min([runs.value - runs.band, *reached])

    def _reached(self, read: Callable[..., float | None], *args: Any, stays: bool = False) -> list[float]:
        """A moment as the course would have it warmer, and colder; infinite where it has none then."""
        if self.other is not None:
            return []
        # a course that stays at the value once it is there, as at a freezing point, is followed on its way to it alone
        readings = [read(run, *args) for run in (self.reach[1:] if stays else self.reach)]
        return [np.inf if x is None else float(x) for x in readings]

    @cached_property
    def reach(self) -> tuple[Run, Run]:
        """The finest mesh's run with every course warmer, and colder, by the band of its value."""
        warmer, colder = (
            replace(self.fine, courses={p: self._shifted(p, c, sign) for p, c in self.fine.courses.items()})
            for sign in (1.0, -1.0)
        )
        return warmer, colder

    def _shifted(self, path: str, curve: Course, sign: float) -> Course:
        series = self.series[path]
        if curve.steps or not np.isfinite(series.largest) or series.largest == 0.0:
            return curve
        return course(curve.times, curve.value + sign * np.interp(curve.times.at, self.time, series.band))

    def number(self, read: Callable[..., float | None], *args: Any) -> Banded:
        """A number of the episode, read(run, *args), with its band; NaN where there is none; the band is infinite where
        some runs have it and others do not."""
        number = self._of_runs(read, *args)
        if not self.least or not np.isfinite(number.value):
            return number
        reached = [abs(x - number.value) for run in self.reach if (x := read(run, *args)) is not None]
        return replace(number, band=max([number.band, *reached]))

    def _of_runs(self, read: Callable[..., float | None], *args: Any) -> Banded:
        readings = [read(run, *args) for run in (*self.runs, self.tight)]
        banded = _with_steps([NAN if x is None else float(x) for x in readings])
        return banded if self.other is None else _reaching(banded, self.other.number(read, *args))


def _with_steps(every: list[float]) -> Banded:
    """The band of the meshes, coarse to fine, three or two, and of the coarsest with short steps, in this order."""
    meshes = tuple(every[:-1])
    absent = np.isnan(every)
    if absent.any():
        band = NAN if absent.all() else np.inf
        return Banded(meshes[-1], band, meshes, NAN, meshes[-1], False)
    if np.isinf(every).any():
        return Banded(meshes[-1], 0.0 if np.isinf(every).all() else np.inf, meshes, NAN, meshes[-1], False)
    steps = STEP_SAFETY * abs(every[-1] - every[0])
    if len(meshes) == 2:
        band = OF_TWO * abs(meshes[1] - meshes[0]) + ROUNDING + steps
        return Banded(meshes[1], band, meshes, NAN, meshes[1], False)
    of_steps = banded((meshes[0], meshes[1], meshes[2]), RATIO, ROUNDING)
    return replace(of_steps, band=of_steps.band + steps)


def _reaching(one: Banded, other: Banded) -> Banded:
    """A band that takes in another number with its own."""
    if np.isnan(one.value) and np.isnan(other.value):
        return one
    if np.isnan(one.value) or np.isnan(other.value):
        return replace(one, band=np.inf, asymptotic=False)
    reach = abs(one.value - other.value) + other.band
    return replace(one, band=max(one.band, reach), asymptotic=False)


def courses_of(case: Case, episode: Episode, track: Track) -> dict[str, Course]:
    """The course of every quantity; a sensor with a time constant follows the pipe's surface behind it."""
    at = times(np.array(track.time))
    courses = {}
    for path, values in track.values.items():
        row = of_episode(path)
        courses[path] = course(at, np.array(values), steps=bool(np.isfinite(row.measure.period)))
    for sensor in case.sensors:
        path = f"sensors.{sensor.name}"
        if sensor.time_constant > 0.0:
            surface, reading = courses[path], courses[path].value.copy()
            for i, (a, b) in enumerate(zip(at.at[:-1], at.at[1:], strict=True)):
                if b > a:
                    here = _part(surface, a, b)
                    reading[i + 1] = lagged(reading[i], here, b - a, sensor.time_constant)
                else:
                    reading[i + 1] = reading[i]
            courses[path] = course(at, reading)
    return courses


def _part(surface: Course, begin: float, end: float) -> Callable[[Array], Array]:
    return lambda part: surface.at(np.maximum(begin + (end - begin) * part, np.nextafter(begin, end)))


def series_of(result: EpisodeResult) -> dict[str, Series]:
    """Every quantity on the moments written; the bands are found at the ends of the finest mesh's steps, at equal phase
    of the switchings: what moves those is the band of the moments, and no difference of temperature."""
    inner = np.unique(result.track.time)
    there = [at_phase(result.track, run.track, result.episode)(inner) for run in (*result.runs, result.tight)]
    near = (NEARBY if len(result.runs) > 2 else NEARBY_OF_TWO) * result.episode.lasts
    first = np.searchsorted(inner, inner - near, side="left")
    last = np.searchsorted(inner, inner + near, side="right")
    series = {}
    for path, curve in result.fine.courses.items():
        row = of_episode(path)
        courses = [run.course(path) for run in (*result.runs, result.tight)]
        value = curve.at(result.time)
        if row.band == "none":
            series[path] = Series(value, np.zeros(len(value)), 0.0)
            continue
        if any(c is None for c in courses):
            series[path] = Series(value, np.full(len(value), NAN), NAN)
            continue
        *meshes, tight = (c.at(t) for c, t in zip(courses, there, strict=True) if c is not None)
        apart, coarse, fine = row.measure.apart, meshes[0], meshes[-1]
        steps = STEP_SAFETY * np.abs(apart(tight, coarse))
        older, newer = apart(coarse, meshes[1]), apart(meshes[-2], fine)
        if len(meshes) == 2:
            width = OF_TWO * np.abs(newer) + ROUNDING
        elif row.band == "index":
            moved = np.maximum(np.abs(older), np.abs(newer)) > ROUNDING
            width = np.where(moved, widths(older, np.where(moved, newer, 1.0), RATIO)[0], 0.0) + ROUNDING
        else:
            width = np.maximum(np.abs(apart(coarse, fine)), np.abs(newer))
        width = np.maximum(_widest(np.nan_to_num(width + steps), first, last), result.least.get(path, 0.0))
        series[path] = Series(value, np.interp(result.time, inner, width), float(width.max()))
    return series


def at_phase(track: Track, other: Track, episode: Episode) -> Callable[[Array], Array]:
    """Moments of another run of an episode that lie between its switchings as moments (n,) s of one run between its
    own; after the last that they have in common as long after it, up to the next one or the end."""
    fixed = [(at, at) for at in (0.0, *(change.at for change in episode.changes))]
    at = np.array(sorted({*fixed, *_common(track, other)}))
    there = np.maximum.accumulate(at[:, 1])
    later = [moment for every in other.switchings.values() for moment, _ in every if moment > there[-1]]
    ends = min([*later, episode.lasts])

    def between(moment: Array) -> Array:
        after: Array = np.minimum(there[-1] + moment - at[-1, 0], ends)
        return np.where(moment > at[-1, 0], after, np.interp(moment, at[:, 0], there))

    return between


def _common(track: Track, other: Track) -> list[tuple[float, float]]:
    """Moments of the switchings that two runs have in common, as long as they are the same ones."""
    ours, others = (
        sorted((at, name, on) for name, every in t.switchings.items() for at, on in every)
        for t in (track, other)
    )
    pairs = takewhile(lambda pair: pair[0][1:] == pair[1][1:], zip(ours, others, strict=False))
    return [(one[0], two[0]) for one, two in pairs]


def notes_of_switchings(result: EpisodeResult) -> tuple[str, ...]:
    """How far the runs' switchings are apart, which no band of a series holds."""
    if not any(result.track.switchings.values()):
        return ()
    others = [run.track for run in (*result.runs[:-1], result.tight)]
    common = [_common(result.track, track) for track in others]
    count = sum(len(every) for every in result.track.switchings.values())
    apart = max((abs(one - two) for pairs in common for one, two in pairs), default=0.0)
    less = min(len(pairs) for pairs in common)
    from_there = "" if less == count else f"; they have the first {less} of {count} switchings in common"
    return (
        "bands of series are at equal phase of the switchings, whose moments on other meshes and with other steps are"
        f" up to {apart:.0f} s apart{from_there}",
    )


def _widest(width: Array, first: IntArray, last: IntArray) -> Array:
    """The widest of the neighbours first..last of each."""
    return np.array([width[a:b].max() for a, b in zip(first, last, strict=True)])
