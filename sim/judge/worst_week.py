"""The worst week of a file of weather for a line, lived through in full: an episode on three meshes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sim.case import Case, case_for
from sim.heat.network import network
from sim.heat.plan_storage import line_store
from sim.judge.episode_answers import SHOWN_MOMENTS, EpisodeAnswer, judge
from sim.judge.season import SeasonAnswer, weather_episode
from sim.solve.at_rest import FINENESS, MeshStore, carried, levels_of
from sim.solve.over_time import Start, solve_episode
from sim.solve.stiff import State

WEEK, LEAD = 7 * 86400.0, 5 * 86400.0  # s; how much of it lies before the coldest hour
NAME = "worst week"


def worst_week(answer: SeasonAnswer) -> tuple[float, float]:
    """Begin and end of the week of the coldest hour, which stands in its sixth day, s from the file's first moment."""
    season = answer.season
    coldest = float(season.time[int(np.argmin(season.extreme(season.lowest)))])
    last = float(season.time[-1])
    begin = min(max(coldest - LEAD, 0.0), max(last - WEEK, 0.0))
    begin = float(season.time[int(np.searchsorted(season.time, begin))])
    return begin, min(begin + WEEK, last)


def in_full(
    case: Case,
    answer: SeasonAnswer,
    fineness: float = FINENESS,
    progress: Callable[[str], None] | None = None,
) -> EpisodeAnswer:
    """The worst week of a season as an episode, from the reduced model's field of its first hour.

    Contents that would move start from the steady field. Raises NotConverged.
    """
    begin, end = worst_week(answer)
    names = tuple(control.name for control in answer.controls)
    episode = weather_episode(NAME, answer.file, answer.condition, names, begin, end - begin)
    narrowed, meshes = case_for(case, answer.condition), MeshStore()
    start = (
        None if narrowed.contents.state == "buoyant" else _start(narrowed, answer, begin, meshes, fineness)
    )
    moments = tuple((end - begin) * part for part in SHOWN_MOMENTS)
    result = solve_episode(
        narrowed, episode, case.controls, meshes, fineness, start, progress, moments=moments
    )
    judged, stamp = judge(result), f"{episode.weather_from} of {answer.file.name}"
    note = f"it starts at {stamp} from the reduced model's field of that hour"
    if start is None:
        note = f"it starts at {stamp} from the steady field of that hour, tracers at full output"
    return replace(judged, notes=(*judged.notes, note))


def _start(narrowed: Case, answer: SeasonAnswer, begin: float, meshes: MeshStore, fineness: float) -> Start:
    """The reduced model's field on each mesh: coarse, middle, fine, and coarse for short steps."""
    model, place = answer.model, int(np.searchsorted(answer.season.time, begin))
    field = model.field(answer.season.state[place])
    ends = []
    for level in levels_of(fineness):
        net = network(narrowed, meshes.get(narrowed, level))
        there = carried(model.network, field, net)
        ends.append(State(0.0, there, line_store(net).enthalpy(there)))
    return Start((*ends, ends[0]))
