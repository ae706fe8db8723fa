"""Episodes as numbers: their part of results.json, and each one's series as a table that any sheet opens."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sim.report.tree import finite, limit_row, put
from sim.section.shapes import Array
from sim.solve.convergence import Banded
from sim.solve.paths import of_episode
from sim.study.cells import csv_text

if TYPE_CHECKING:
    from sim.judge.episode_answers import EpisodeAnswer
    from sim.judge.episode_limits import Freezing
    from sim.solve.episode_result import EpisodeResult


def episode_results(answer: EpisodeAnswer) -> dict[str, Any]:
    """`episodes.<name>` of results.json: times in s, temperatures in degC; null where something did not happen."""
    tree: dict[str, Any] = {
        "condition": answer.condition,
        "around": answer.episode.support,
        "verdict": answer.verdict,
        "failure": answer.failure or None,
    }
    result = answer.result
    if result is None:
        return tree
    tree["time"] = result.time.tolist()
    band: dict[str, Any] = {}
    for path, series in result.series.items():
        row = of_episode(path)
        put(tree, ("series", *row.keys), _listed(row.measure.zero, series.value))
        if row.band != "none":
            put(band, ("series", *row.keys), finite(series.largest))
    for path, extremes in answer.extremes.items():
        row = of_episode(path)
        for name in ("min", "max"):
            value, at = getattr(extremes, name), getattr(extremes, f"{name}_at")
            keys = ("extremes", *row.keys)
            put(tree, (*keys, name), finite(row.measure.shown(value.value)))
            put(tree, (*keys, f"{name}_at"), finite(at.value))
            put(band, (*keys, name), finite(value.band))
            put(band, (*keys, f"{name}_at"), finite(at.band))
    tree["limits"], band["limits"] = {}, {}
    for limit, broken in answer.broken.items():
        both = {"first_broken": broken.first, "kept_again": broken.kept_again}
        tree["limits"][limit] = {key: finite(moment.value) for key, moment in both.items()}
        band["limits"][limit] = {key: finite(moment.band) for key, moment in both.items()}
    for key in ("warm_up", "hold"):
        _number(tree, band, (key,), getattr(answer, key))
    tree["power_lost"] = finite(answer.power_lost)
    tree["freezing"] = None
    if answer.freezing is not None:
        _freezing(tree, band, answer.freezing)
    for key in ("energy", "duty"):
        tree[key], band[key] = {}, {}
        for name, number in getattr(answer, key).items():
            _number(tree, band, (key, name), number)
    tree["switchings"] = {
        name: [moment for moment, _ in moments] for name, moments in result.track.switchings.items()
    }
    tree["band"] = band
    tree["limits_held"] = [limit_row(check) for check in answer.limits]
    tree["cells"], tree["steps"] = list(result.cells), list(result.steps)
    tree["closure"] = finite(result.track.closure)
    tree["bracketed"] = result.bracketed
    tree["notes"] = list(answer.notes)
    return tree


def _number(tree: dict[str, Any], band: dict[str, Any], keys: tuple[str, ...], number: Banded | None) -> None:
    put(tree, keys, finite(number.value) if number is not None else None)
    put(band, keys, finite(number.band) if number is not None else None)


def _freezing(tree: dict[str, Any], band: dict[str, Any], freezing: Freezing) -> None:
    tree["freezing"] = {"first_clock": finite(freezing.first_clock)}
    band["freezing"] = {}
    _number(tree, band, ("freezing", "first"), freezing.first)
    for part, moment in freezing.share.items():
        _number(tree, band, ("freezing", "share", f"{part:g}"), moment)
    _number(tree, band, ("freezing", "smallest_passage"), freezing.smallest_passage)
    for number, first in freezing.hollows.items():
        _number(tree, band, ("freezing", "hollows", f"{number}", "first"), first)


def _listed(zero: float, value: Array) -> list[float | None]:
    """A series as it is written: degC for temperatures, to a millionth; None where there is no number."""
    shown = np.round(value - zero, 6) + 0.0
    return [x if np.isfinite(x) else None for x in shown.tolist()]


def series_csv(result: EpisodeResult) -> str:
    """Time, every series and its band as CSV: a column each, with its unit in the heading."""
    heads, columns = ["time, s"], [result.time]
    for path, series in result.series.items():
        measure = of_episode(path).measure
        heads.append(f"{path}, {measure.unit}" if measure.unit else path)
        columns.append(series.value - measure.zero)
        if of_episode(path).band != "none":
            unit = f", {measure.difference}" if measure.difference else ""
            heads.append(f"band of {path}{unit}")
            columns.append(series.band)
    rows = np.stack(columns, axis=1)
    return csv_text([heads, *(["" if not np.isfinite(x) else f"{x:.9g}" for x in row] for row in rows)])
