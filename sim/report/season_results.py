"""A file of weather's answer as files: every moment as a table that any sheet opens, and the answer as JSON."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.basics import ZERO_CELSIUS
from sim.judge.worst_week import worst_week
from sim.report.episode_results import episode_results
from sim.report.tree import finite
from sim.study.cells import csv_text

if TYPE_CHECKING:
    from sim.judge.episode_answers import EpisodeAnswer
    from sim.judge.season import SeasonAnswer


def season_csv(answer: SeasonAnswer) -> str:
    """A row a moment of the file: its stamp, ambient, coldest and hottest places by the reduced model, output, duty.

    All but the ambient are lowest, highest or mean since the moment before. What the line does not have is empty.
    """
    season = answer.season
    columns = {
        "ambient, degC": answer.file.values["dry_bulb_degC"],
        "contents.min, degC": season.extreme("contents") - ZERO_CELSIUS,
        "wall.min, degC": season.extreme("wall") - ZERO_CELSIUS,
        "wall.max, degC": season.extreme("wall_max") - ZERO_CELSIUS,
        "tracers.mean, degC": season.extreme("tracer") - ZERO_CELSIUS,
        "barrier.max, degC": season.extreme("barrier") - ZERO_CELSIUS,
        "tracers.output, W/m": season.output,
        "duty": season.duty,
    }
    rows = [["time, s", "moment of the file", *columns]]
    for time, *row in zip(season.time, *columns.values(), strict=True):
        numbers = ["" if not np.isfinite(x) else f"{x:.6g}" for x in row]
        rows.append([f"{time:.0f}", answer.file.stamp(float(time)), *numbers])
    return csv_text(rows)


def season_results(answer: SeasonAnswer, week: EpisodeAnswer | None = None) -> dict[str, Any]:
    """The answer as plain numbers: temperatures in degC, times in s, energy in J/m; null where there is none.

    week: the worst week in full."""
    begin, end = worst_week(answer)
    return {
        "weather": answer.file.name,
        "condition": answer.condition,
        "lasts": float(answer.file.time[-1]),
        "order": answer.model.order,
        "coldest": finite(answer.coldest - ZERO_CELSIUS),
        "coldest_at": answer.at,
        "full_field": {
            "from": answer.file.stamp(answer.stretch[0]),
            "lasts": answer.stretch[1] - answer.stretch[0],
            "coldest": finite(answer.coldest_full - ZERO_CELSIUS),
            "difference": finite(answer.error),
            "of_each_days_coldest": answer.days > 0,
            "days": answer.days,
            "differences": {name: finite(value) for name, value in answer.errors.items()},
        },
        "worst_week": {"weather_from": answer.file.stamp(begin), "lasts": end - begin},
        "episodes": {} if week is None else {week.name: episode_results(week)},
        "energy": finite(answer.energy),
        "duty": finite(answer.duty),
        "switchings": answer.season.switchings,
        "hours_beyond": answer.hours_beyond,
        "notes": list(answer.notes),
    }


def season_json(answer: SeasonAnswer, week: EpisodeAnswer | None = None) -> str:
    """`season_results` as text."""
    return json.dumps(season_results(answer, week), indent=2, allow_nan=False) + "\n"
