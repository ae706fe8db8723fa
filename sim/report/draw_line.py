"""The picture of a line: the coldest wall and contents along it, a panel a condition, with its stations and limits."""

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.report.glyphs import drawable
from sim.report.line import nearest
from sim.report.style import COLOURS, FAINT, INK, PALE, figure, heading, save
from sim.report.words import ZERO
from sim.study.line import LineAnswer
from sim.study.line_file import arc_of
from sim.study.line_run import LineStudy

PANEL, HEAD = 2.2, 0.35  # height of one panel, and of the names above the first, inches
MOST_NAMED = 14  # stations whose names are written


def draw_line(study: LineStudy, path: Path | None) -> Figure:
    """Draw all conditions, one below the other."""
    count = len(study.answers)
    fig = figure(10.4, 0.6 + HEAD + PANEL * count + 0.45)
    size = fig.get_figheight()
    below = "coldest wall and contents along the line; supports marked, elbows shaded"
    heading(fig, drawable(study.line.file.title), below)
    for k, one in enumerate(study.answers):
        bottom = (0.45 + PANEL * (count - 1 - k)) / size
        axes = fig.add_axes((0.075, bottom, 0.905, (PANEL - 0.2) / size))
        _panel(axes, study, one, names=k == 0)
        if k == count - 1:
            axes.set_xlabel("along the axis, m", labelpad=2)
        else:
            axes.set_xticklabels([])
    return save(fig, path)


def _panel(axes: Axes, study: LineStudy, one: LineAnswer, names: bool) -> None:
    line = study.line
    place, wall, contents = one.along
    axes.plot(place, wall - ZERO, color=COLOURS["wall"], lw=1.4, label="coldest wall")
    if np.isfinite(contents).all():
        axes.plot(place, contents - ZERO, color="#8a5a00", lw=1.1, ls=(0, (4, 2)), label="coldest contents")
    low, high = axes.get_ylim()
    for station in line.stations:
        half = 0.5 * arc_of(station, line.cases[station.stretch])
        if station.support is None:
            axes.axvspan(station.place - half, station.place + half, color=PALE, lw=0)
        else:
            axes.axvline(station.place, color=PALE, lw=0.8, zorder=0)
        if names and len(line.stations) <= MOST_NAMED:
            what = station.support.name if station.support is not None else "elbow"
            axes.text(
                station.place, 1.02, drawable(what), transform=axes.get_xaxis_transform(), rotation=35,
                fontsize=6.5, color=FAINT, ha="left", va="bottom",
            )  # fmt: skip
    for start in line.starts[1:-1]:
        axes.axvline(start, color=INK, lw=0.6, ls=(0, (1, 2)))
    for check in nearest(one):
        limit = check.check.allowed - ZERO
        if low - 5 < limit < high + 5:
            axes.axhline(limit, color=COLOURS["sheath"], lw=0.8)
            axes.text(
                0.0, limit, f" {check.limit}", fontsize=6.5, color=COLOURS["sheath"], va="bottom", ha="left"
            )  # fmt: skip
    coldest = one.coldest("wall")
    if coldest is not None:
        at, path = coldest
        axes.plot([at.at[path]], [at.values[path].value - ZERO], "v", color=COLOURS["wall"], ms=5)
    axes.set_xlim(0, line.starts[-1])
    axes.set_ylabel(drawable(f"{one.condition}\ndegC"))
    if names:
        axes.legend(
            frameon=False, fontsize=7.5, ncols=2, loc="lower right", bbox_to_anchor=(1.0, 1.0 + HEAD / (PANEL - 0.2))
        )  # fmt: skip
