"""The order of accuracy as a picture: error over cell size on logarithmic axes, a line a mesh, beside slope 2."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

from sim.report.style import FAINT, INK, PALE, figure
from validation.published.rows import Levels

LINES = ("#00639c", "#b3261e", "#2e7d32", "#8a5a00", "#6a3d9a")
MARKERS = ("s", "^", "o", "D", "v")
ROOM = 25.0  # below the lowest error, for the legend


def drawn_order(results: list[Levels]) -> Figure:
    """Two panels, the plane and space; full marks the L2 norm, open ones the greatest error."""
    made = figure(9.6, 4.4)
    for i, dimensions in enumerate((2, 3)):
        axes = made.add_axes((0.095 + 0.49 * i, 0.13, 0.40, 0.77))
        _panel(axes, [r for r in results if r.dimensions == dimensions])
        axes.set_title(f"{dimensions}D", fontsize=9, loc="left", color=INK)
        if i == 0:
            axes.set_ylabel("error of temperature / span of the field")
    return made


def _order(levels: Levels) -> float:
    """Slope of log error over log size by least squares."""
    return float(np.polyfit(np.log(levels.size), np.log(levels.l2), 1)[0])


def _panel(axes: Axes, results: list[Levels]) -> None:
    axes.set_xscale("log")
    axes.set_yscale("log")
    for result, colour, marker in zip(results, LINES, MARKERS, strict=False):
        x = result.size
        label = f"{result.name}: {_order(result):.2f}"
        axes.plot(x, result.l2, color=colour, lw=1.3, marker=marker, ms=4, label=label)
        axes.plot(x, result.largest, color=colour, lw=0.7, ls=(0, (4, 2)), marker=marker, ms=3.6, mfc="white")
    _slope(axes, results)
    lowest = min(float(result.l2.min()) for result in results)
    axes.set_ylim(bottom=lowest / ROOM)
    axes.set_xlabel("mean cell size / size of the body")
    axes.grid(True, which="major", color=PALE, lw=0.5)
    axes.set_axisbelow(True)
    axes.xaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.xaxis.set_minor_formatter(NullFormatter())
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{100 * value:g} %"))
    axes.yaxis.set_minor_formatter(NullFormatter())
    axes.legend(
        loc="lower right",
        fontsize=7,
        frameon=False,
        title="order, L2 norm (full marks); dashed: greatest error",
        title_fontsize=7,
        alignment="left",
    )


def _slope(axes: Axes, results: list[Levels]) -> None:
    """A triangle of slope 2 above the lines."""
    x = np.concatenate([r.size for r in results])
    top = max(float((r.largest / r.size**2).max()) for r in results)
    low = float(x.min()) * 1.3
    ends = np.array([low, 2.2 * low])
    rise = 1.6 * top * ends**2
    axes.plot(ends, rise, color=FAINT, lw=1.2)
    axes.plot([ends[0], ends[0], ends[1]], [rise[0], rise[1], rise[1]], color=FAINT, lw=0.7)
    middle = np.sqrt(ends[0] * ends[1]), np.sqrt(rise[0] * rise[1])
    axes.text(ends[0] * 0.96, middle[1], "2", ha="right", va="center", color=FAINT)
    axes.text(middle[0], rise[1] * 1.1, "1", ha="center", va="bottom", color=FAINT)
    axes.set_ylim(top=3.0 * max(rise[1], float(max(r.largest.max() for r in results))))
