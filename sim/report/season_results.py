"""A file of weather's answer as files: every moment as a table that any sheet opens, and the answer as JSON."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.basics import ZERO_CELSIUS
from sim.report.tree import finite
from sim.study.cells import csv_text

if TYPE_CHECKING:
    from sim.judge.season import SeasonAnswer

WORST_WEEK = 7 * 86400.0  # s


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


def season_results(answer: SeasonAnswer) -> dict[str, Any]:
    """The answer as plain numbers: temperatures in degC, times in s, energy in J/m; null where there is none."""
    begin, end = worst_week(answer)
    return {
        "weather": answer.file.name,
        "condition": answer.condition,
        "lasts": float(answer.file.time[-1]),
        "order": answer.order,
        "coldest": finite(answer.coldest - ZERO_CELSIUS),
        "coldest_at": answer.at,
        "full_field": {
            "from": answer.file.stamp(answer.stretch[0]),
            "lasts": answer.stretch[1] - answer.stretch[0],
            "coldest": finite(answer.coldest_full - ZERO_CELSIUS),
            "difference": finite(answer.error),
            "of_each_days_coldest": answer.daily,
        },
        "worst_week": {"weather_from": answer.file.stamp(begin), "lasts": end - begin},
        "energy": finite(answer.energy),
        "duty": finite(answer.duty),
        "switchings": answer.season.switchings,
        "hours_beyond": answer.hours_beyond,
        "notes": list(answer.notes),
    }


def season_json(answer: SeasonAnswer) -> str:
    """`season_results` as text."""
    return json.dumps(season_results(answer), indent=2, allow_nan=False) + "\n"


def worst_week(answer: SeasonAnswer) -> tuple[float, float]:
    """Begin and end of the week of the coldest hour, which stands in its sixth day, s from the file's first moment."""
    season = answer.season
    coldest = float(season.time[int(np.argmin(season.extreme(season.lowest)))])
    last = float(season.time[-1])
    begin = min(max(coldest - 5 * 86400.0, 0.0), max(last - WORST_WEEK, 0.0))
    return begin, min(begin + WORST_WEEK, last)
