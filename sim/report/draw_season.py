"""The picture of a season: each day's coldest contents and wall, the ambient, and the tracers' output."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.report.glyphs import drawable
from sim.report.style import COLOURS, FAINT, INK, PALE, figure, heading, save
from sim.report.words import ZERO
from sim.section.shapes import Array

if TYPE_CHECKING:
    from sim.judge.season import SeasonAnswer

DAY = 86400.0
MOST_TICKS = 12


def draw_season(answer: SeasonAnswer, path: Path | None) -> Figure:
    """Temperatures above, output below."""
    fig = figure(10.4, 5.6)
    words = f"condition {answer.condition}, each day's range"
    heading(fig, drawable(answer.file.name), words)
    upper, lower = fig.add_axes((0.07, 0.37, 0.73, 0.53)), fig.add_axes((0.07, 0.09, 0.73, 0.22))
    _temperatures(upper, answer)
    _output(lower, answer)
    for axes in (upper, lower):
        axes.set_xlim(0, answer.season.time[-1] / DAY)
        axes.axvspan(*(moment / DAY for moment in answer.stretch), color=PALE, alpha=0.6, lw=0)
        axes.grid(True, color=PALE, lw=0.5)
        axes.set_axisbelow(True)
        axes.spines[["top", "right"]].set_visible(False)
    _months(lower, answer)
    upper.set_xticks(lower.get_xticks(), labels=[])
    return save(fig, path)


def _days(answer: SeasonAnswer, values: Array, of: np.ufunc) -> tuple[Array, Array]:
    """Middle of each day of the file, and the least or greatest there."""
    first = np.arange(0, len(values), max(1, round(DAY / answer.file.spacing)))
    last = np.append(first[1:], len(values)) - 1
    middle = 0.5 * (answer.season.time[first] + answer.season.time[last]) / DAY
    return middle, of.reduceat(values, first)


def _temperatures(axes: Axes, answer: SeasonAnswer) -> None:
    season, air = answer.season, answer.file.values["dry_bulb_degC"]
    day, low = _days(answer, air, np.minimum)
    axes.fill_between(
        day, low, _days(answer, air, np.maximum)[1], color=FAINT, alpha=0.35, lw=0, label="ambient"
    )
    kinds = {
        "contents": ("coldest contents", COLOURS["contents"], "solid"),
        "wall": ("coldest wall", "#5b8db8", (0, (6, 2))),
        "tracer": ("hottest tracer", COLOURS["sheath"], (0, (4, 1, 1, 1))),
    }
    for name, (label, colour, dashes) in kinds.items():
        of = np.maximum if name == "tracer" else np.minimum
        values = season.extreme(name) - ZERO
        if np.isfinite(values).all():
            axes.plot(*_days(answer, values, of), color=colour, ls=dashes, lw=1.3, label=label)
    for name, colour in (
        ("contents_min", COLOURS["contents"]),
        ("wall_min", "#5b8db8"),
        ("sheath_max", COLOURS["sheath"]),
    ):
        limit, (low_, high) = getattr(answer.limits, name), axes.get_ylim()
        if limit is not None and low_ <= limit - ZERO <= high:
            axes.axhline(
                limit - ZERO, color=colour, lw=0.9, ls=(0, (5, 3)), label=f"{name} {limit - ZERO:g} degC"
            )
    coldest = int(np.argmin(season.extreme(season.lowest)))
    at = (season.time[coldest] / DAY, answer.coldest - ZERO)
    axes.plot(*at, "v", color=INK, ms=5, label=f"coldest hour, {answer.at}")
    axes.set_ylabel("degC")
    axes.legend(loc="upper left", bbox_to_anchor=(1.01, 1.0), frameon=False, fontsize=7.5, handlelength=3.2)


def _output(axes: Axes, answer: SeasonAnswer) -> None:
    first = np.arange(1, len(answer.season.output), max(1, round(DAY / answer.file.spacing)))
    count = np.diff(np.append(first, len(answer.season.output)))
    mean = np.add.reduceat(answer.season.output, first) / count
    middle = 0.5 * (first + np.append(first[1:], len(answer.season.output)) - 1) * answer.file.spacing / DAY
    axes.plot(
        middle, mean, color=COLOURS["sheath"], lw=1.1, drawstyle="steps-mid", label="output, mean of the day"
    )
    axes.set_ylim(0, 1.1 * max(float(mean.max()), 1e-3))
    axes.set_ylabel("W/m")
    axes.legend(loc="upper left", bbox_to_anchor=(1.01, 1.05), frameon=False, fontsize=7.5, handlelength=3.2)


def _months(axes: Axes, answer: SeasonAnswer) -> None:
    """Dates of the file below the axis: the first of each month, or a few days."""
    stamps = [answer.file.stamp(float(day * DAY)) for day in range(int(answer.season.time[-1] / DAY) + 1)]
    firsts = [day for day, stamp in enumerate(stamps) if stamp[3:5] == "01"]
    if len(firsts) < 3:
        firsts = list(range(0, len(stamps), -(-len(stamps) // MOST_TICKS)))
    axes.set_xticks(firsts, labels=[stamps[day][:5] for day in firsts])
    axes.set_xlabel("month and day of the file")
