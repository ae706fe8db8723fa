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
from sim.solve.drive import Drive
from sim.solve.episode import Track, follow, thermostats
from sim.solve.reduced import Reduced, reduced
from sim.solve.season_course import Season, node_groups
from sim.solve.year import through

BEFORE, AFTER = 8 * 86400.0, 2 * 86400.0  # s of the full field before and after the coldest hour
DAY = 86400.0
FORGOTTEN = DAY  # s at the start of that stretch which are not compared
LOW = "low"
STEP_ERROR = 0.05  # K: error of a step of the full field
ONE_MESH = (
    "both models have one mesh: what that mesh itself is wrong by is not in their difference; an episode of the worst"
    " week has three meshes and a band"
)
NOT_BUOYANT = "contents that would move are taken at rest"


@dataclass(frozen=True)
class SeasonAnswer:
    """What a file of weather does to a line in one condition, with controls in force.

    season: hour by hour, by the reduced model; hours_beyond: by limit; coldest, coldest_full: K, in
    the season, and of the worst stretch by the full field; at: its moment on the file's clock; stretch: begin and end
    (s) of what was run in full; error: largest difference of the two there, K, each hour, or of each day's
    coldest where a thermostat's switching drifts apart (daily); energy J/m; duty; notes.
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
    daily: bool
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
    begin = max(0.0, file.time[coldest] - BEFORE)
    begin = float(file.time[int(begin / file.spacing)])
    end = min(float(file.time[-1]), float(file.time[coldest]) + AFTER)
    full = _in_full(case, narrowed, model, passed, file, condition, controls, begin, end)
    daily = any(full.switchings.values())
    error = _apart(passed, full, file.time, begin, daily)
    notes = [ONE_MESH, *weather_notes(narrowed, episode), *([NOT_BUOYANT] if state == "buoyant" else [])]
    freezes = narrowed.contents.fluid.freezes_at
    if freezes is not None and lowest.min() < freezes:
        notes.append(
            "the contents reach their freezing point: the reduced model holds no ice, the full field does"
        )
    gave = float(passed.output[1:].sum() * file.spacing)
    return SeasonAnswer(
        file,
        condition,
        tuple(c for c in case.controls if c.name in controls),
        narrowed.limits,
        passed,
        model,
        _beyond(narrowed, passed),
        float(lowest[coldest]),
        float(min(full.values[LOW])),
        file.stamp(float(file.time[coldest])),
        (begin, end),
        error,
        daily,
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


def _in_full(
    case: Case,
    narrowed: Case,
    model: Reduced,
    season: Season,
    file: Weather,
    condition: str,
    controls: tuple[str, ...],
    begin: float,
    end: float,
) -> Track:
    """The full field over a stretch, its coldest contents (or wall) at `LOW`, K."""
    full = network(narrowed, model.network.mesh)
    groups = node_groups(full)
    rows = groups[season.lowest]
    episode = weather_episode("season", file, condition, controls, begin, end - begin)
    start = model.reference + model.basis @ season.state[round(begin / file.spacing)]
    return follow(
        full,
        episode,
        case.controls,
        start,
        STEP_ERROR,
        lambda _, state: {LOW: float(state.temperature[rows].min())},
    )


def _apart(season: Season, full: Track, times: Array, begin: float, daily: bool) -> float:
    """Largest difference of the two models, K, over what the full field was run for but its first day."""
    at, low = np.array(full.time) + begin, np.array(full.values[LOW])
    reduced, last = season.courses[season.lowest], at[-1]
    skip = begin + min(FORGOTTEN, 0.5 * (last - begin))
    if not daily:
        moments = times[(times >= skip) & (times <= last)]
        reduced = np.interp(moments, season.moment, reduced)
        return float(np.abs(reduced - np.interp(moments, at, low)).max())

    def least(moment: Array, values: Array, day: float) -> float:
        ends = np.interp([day, day + DAY], moment, values)  # it may fall across midnight, between two records
        return float(min(values[(moment >= day) & (moment <= day + DAY)].min(initial=np.inf), *ends))

    days = np.arange(skip, max(last - 0.5 * DAY, skip + 1.0), DAY)
    return max(abs(least(season.moment, reduced, day) - least(at, low, day)) for day in days)


def _beyond(case: Case, season: Season) -> dict[str, float]:
    """Hours beyond each limit of the case; the tracer's body stands for its sheath, which is no hotter."""
    limits = case.limits
    beyond = {
        "contents_min": ("contents", limits.contents_min),
        "wall_min": ("wall", limits.wall_min),
        "wall_max": ("wall_max", limits.wall_max),
        "sheath_max": ("tracer", limits.sheath_max),
        "barrier_max": ("barrier", limits.barrier_max),
    }
    return {
        name: season.hours_beyond(course, limit)
        for name, (course, limit) in beyond.items()
        if limit is not None and np.isfinite(season.courses[course]).all()
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
