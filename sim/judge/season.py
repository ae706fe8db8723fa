"""A file of weather lived through by a line: a reduced model for all of it, the full field for its worst ten days."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sim.case import Case, CaseError, Limits, case_for
from sim.case.episode import Control, Episode
from sim.case.episode_checks import sun_fits
from sim.case.weather import ZERO, Weather, read_weather
from sim.heat.network import network
from sim.judge.episode_answers import weather_notes
from sim.section.shapes import Array
from sim.solve.at_rest import MeshStore
from sim.solve.bounds import with_contents
from sim.solve.drive import AMBIENT, Drive
from sim.solve.episode import Track, follow, thermostats
from sim.solve.reduced import Reduced, reduced
from sim.solve.season_course import COLDEST, HOTTEST, Season, node_groups
from sim.solve.stiff import State
from sim.solve.transient import Line
from sim.solve.year import slowest_time, through

BEFORE, AFTER = 8 * 86400.0, 2 * 86400.0  # s of the full field before and after the coldest hour
DAY = 86400.0
FORGOTTEN = DAY  # s at the start of that stretch which are not compared
HOT_BEFORE, HOT_AFTER = 2 * 86400.0, 86400.0  # s, likewise about the hottest hour of an upper limit
FORGETS = 3.0  # slowest time constants after which a start is forgotten
COURSE_OF = {
    "contents_min": "contents",
    "wall_min": "wall",
    "wall_max": "wall_max",
    "sheath_max": "tracer",
    "barrier_max": "barrier",
}
STEP_ERROR = 0.05  # K: error of a step of the full field
ONE_MESH = (
    "both models have one mesh: what that mesh itself is wrong by is not in their difference; an episode of the worst"
    " week has three meshes and a band"
)
NOT_BUOYANT = "contents that would move are taken at rest"


@dataclass(frozen=True)
class SeasonAnswer:
    """What a file of weather does to a line in one condition, with controls in force.

    season: hour by hour, by the reduced model; hours_beyond: by limit; coldest, coldest_full: K, in the season, and of
    the worst stretch by the full field; at: its moment on the file's clock; stretch: begin and end (s) of what was run
    in full; error: largest difference of the two there, K, at any hour, or of the coldest of any so many days where a
    thermostat's switching drifts apart (days, 0 without); errors: likewise of the course of each limit, of an upper
    one near its own hottest hour too; energy J/m; duty; notes.
    """

    file: Weather
    condition: str
    controls: tuple[Control, ...]
    limits: Limits
    season: Season
    model: Reduced
    hours_beyond: dict[str, float]
    coldest: float
    coldest_full: float
    at: str
    stretch: tuple[float, float]
    error: float
    errors: dict[str, float]
    days: int
    energy: float
    duty: float
    notes: tuple[str, ...]


def season(
    case: Case, weather: Path, condition: str, controls: tuple[str, ...], fineness: float = 1.5
) -> SeasonAnswer:
    """Run a file of weather through a condition of a case. Raises CaseError, NotConverged.

    controls: names of those in force; fineness: of the one mesh that both models have.
    """
    file = read_weather(weather)
    narrowed = case_for(case, condition)
    sun_fits(narrowed.conditions[0].sun, file)
    episode = weather_episode("season", file, condition, controls, 0.0, float(file.time[-1]))
    state = narrowed.contents.state
    iceless = dict.fromkeys(("latent_heat", "freezes_at", "frozen", "frozen_share"))
    frost = narrowed.contents.fluid.model_copy(update=iceless)
    dry = with_contents(narrowed, fluid=frost)
    net = network(dry, MeshStore().get(dry, fineness))
    air = file.values["dry_bulb_degC"] + ZERO
    model = reduced(net, float(air.min()), float(air.max()) + 1.0)
    drive = Drive(dry, episode, 0.0)
    passed = through(model, drive, thermostats(dry, case.controls, episode), file.time)
    lowest = passed.extreme(passed.lowest)
    coldest = int(np.argmin(lowest))
    in_full = _InFull(case, narrowed, model, passed, file, condition, controls)
    begin, end = in_full.stretch(coldest, BEFORE, AFTER)
    full = in_full.run(begin, end)
    days = in_full.days_of_cycles(full, end - begin)
    error = apart(passed, full, file.time, begin, days, passed.lowest)
    beyond = _beyond(narrowed, passed)
    errors = {name: apart(passed, full, file.time, begin, days, COURSE_OF[name]) for name in beyond}
    errors |= _of_the_hottest(in_full, errors, days)
    notes = [
        ONE_MESH,
        *weather_notes(narrowed, episode),
        *([NOT_BUOYANT] if state == "buoyant" else []),
        *_notes_of_ice(narrowed, float(lowest[coldest]), error),
        *_notes_of_time(model, end - begin),
    ]
    gave = float(passed.output[1:].sum() * file.spacing)
    return SeasonAnswer(
        file,
        condition,
        tuple(c for c in case.controls if c.name in controls),
        narrowed.limits,
        passed,
        model,
        beyond,
        float(lowest[coldest]),
        float(min(full.values[passed.lowest])),
        file.stamp(float(file.time[coldest])),
        (begin, end),
        error,
        errors,
        days,
        gave,
        float(passed.duty[1:].mean()),
        tuple(notes),
    )


def weather_episode(
    name: str, file: Weather, condition: str, controls: tuple[str, ...], begin: float, lasts: float
) -> Episode:
    """An episode that a file drives from a moment of it on, s. Raises CaseError."""
    raw: dict[str, Any] = {"name": name, "condition": condition, "lasts": f"{lasts} s", "control": controls}
    raw |= {"weather": file.name, "weather_from": file.stamp(begin)}
    episode = Episode.model_validate(raw)
    episode.attach(file)
    return episode


@dataclass(frozen=True)
class _InFull:
    """What the full field needs to be run over a stretch of a season."""

    case: Case
    narrowed: Case
    model: Reduced
    season: Season
    file: Weather
    condition: str
    controls: tuple[str, ...]

    def stretch(self, at: int, before: float, after: float) -> tuple[float, float]:
        """Begin and end about a moment of the file, s."""
        time = self.file.time
        begin = max(0.0, float(time[at]) - before)
        return float(time[int(begin / self.file.spacing)]), min(float(time[-1]), float(time[at]) + after)

    def days_of_cycles(self, full: Track, lasts: float) -> int:
        """Days that hold two cycles of every control that the line itself switches; lasts: of the stretch, s."""
        by_line = [c.name for c in self.case.controls if c.sensor != AMBIENT]
        rounds = [sum(on for _, on in full.switchings[n]) for n in by_line if full.switchings.get(n)]
        return int(np.ceil(2 * lasts / max(1, min(rounds)) / DAY)) if rounds else 0

    def run(self, begin: float, end: float) -> Track:
        """The full field over a stretch, from the reduced model's field of its beginning; every extreme by its name, K,
        a step ending at every moment of the file."""
        full = network(self.narrowed, self.model.network.mesh)
        groups, courses = node_groups(full), self.season.courses
        rows = {
            name: groups[name.removesuffix("_max")] for name in courses if np.isfinite(courses[name]).all()
        }
        episode = weather_episode("season", self.file, self.condition, self.controls, begin, end - begin)
        start = self.model.field(self.season.state[round(begin / self.file.spacing)])

        def record(line: Line, state: State) -> dict[str, float]:
            each = {name: state.temperature[row] for name, row in rows.items()}
            return {name: float(t.min() if name in COLDEST else t.max()) for name, t in each.items()}

        moments = tuple(float(t) - begin for t in self.file.time if begin < t <= end)
        return follow(full, episode, self.case.controls, start, STEP_ERROR, record, moments)


def _of_the_hottest(in_full: _InFull, errors: dict[str, float], days: int) -> dict[str, float]:
    """Errors of the upper limits, in the days of the hottest hour too of the one that comes nearest to its limit."""
    limits, season, time = in_full.narrowed.limits, in_full.season, in_full.file.time
    upper = [name for name in errors if COURSE_OF[name] in HOTTEST]
    if not upper:
        return {}
    margin = {name: getattr(limits, name) - season.courses[COURSE_OF[name]].max() for name in upper}
    nearest = COURSE_OF[min(margin, key=lambda name: margin[name])]
    hottest = int(np.argmax(season.extreme(nearest)))
    begin, end = in_full.stretch(hottest, HOT_BEFORE, HOT_AFTER)
    full = in_full.run(begin, end)
    days = max(days, in_full.days_of_cycles(full, end - begin))
    return {
        name: max(errors[name], apart(season, full, time, begin, days, COURSE_OF[name])) for name in upper
    }


def apart(season: Season, full: Track, times: Array, begin: float, days: int, name: str) -> float:
    """Largest difference of the two models in a course, K, over what the full field was run for but its first day: at
    any of the moments `times`, or of the extremes of any so many days."""
    at, of_full = np.array(full.time) + begin, np.array(full.values[name])
    by_model, last = season.courses[name], at[-1]
    skip = begin + min(FORGOTTEN, 0.5 * (last - begin))
    if not days:
        moments = times[(times >= skip) & (times <= last)]
        by_model = np.interp(moments, season.moment, by_model)
        return float(np.abs(by_model - np.interp(moments, at, of_full)).max())
    sign = 1.0 if name in COLDEST else -1.0

    window = min(days * DAY, last - skip)

    def least(moment: Array, values: Array, day: float) -> float:
        end = day + window
        ends = np.interp([day, end], moment, values)  # it may fall across midnight, between two records
        return float(min(values[(moment >= day) & (moment <= end)].min(initial=np.inf), *ends))

    firsts = np.arange(skip, last - window + 1.0, DAY)
    return max(
        abs(least(season.moment, sign * by_model, day) - least(at, sign * of_full, day)) for day in firsts
    )


def _notes_of_ice(narrowed: Case, coldest: float, error: float) -> list[str]:
    """That the reduced model holds no ice, where the contents come within its error of freezing; K."""
    freezes = narrowed.contents.fluid.freezes_at
    if narrowed.contents.state == "empty" or freezes is None or coldest - error >= freezes:
        return []
    reach = "reach their freezing point" if coldest < freezes else "come within that difference of freezing"
    return [
        f"the contents {reach}: the reduced model holds no ice, the full field does; ice that must thaw keeps a line"
        " cold for longer than the hours counted here"
    ]


def _notes_of_time(model: Reduced, lasts: float) -> list[str]:
    """That the full field forgets its start too slowly for the difference to show all of the error; lasts: s of it."""
    slowest = slowest_time(model)
    if lasts > FORGETS * slowest:
        return []
    forgotten = 100 * (1 - np.exp(-lasts / slowest))
    return [
        f"the line's slowest time constant is about {slowest / DAY:.1f} days: the full field began from the reduced"
        f" model's field and has forgotten {forgotten:.0f} % of it by the end, so that the difference shows about"
        " that part of the error"
    ]


def _beyond(case: Case, season: Season) -> dict[str, float]:
    """Hours beyond each limit of the case; the tracer's body stands for its sheath, which is no hotter."""
    limits = {name: getattr(case.limits, name) for name in COURSE_OF}
    return {
        name: season.hours_beyond(COURSE_OF[name], limit)
        for name, limit in limits.items()
        if limit is not None and np.isfinite(season.courses[COURSE_OF[name]]).all()
    }


def checked_names(
    case: Case, condition: str | None, controls: list[str] | None
) -> tuple[str, tuple[str, ...]]:
    """The condition and controls asked for: the first condition and every control without a name. Raises CaseError."""
    known = [c.name for c in case.controls]
    for name in controls or []:
        if name not in known:
            raise CaseError(
                f'there is no control "{name}"; known: {", ".join(known) or "none"}', key="control"
            )
    names = tuple(known if controls is None or not controls else controls)
    return condition or case.conditions[0].name, names
