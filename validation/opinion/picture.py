"""The picture of an opinion: pipe wall and outside surface around the clock by all three on one plot."""

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes

from sim.report.glyphs import drawable
from sim.report.style import COLOURS, INK, around_the_clock, figure, heading, save
from sim.report.words import ZERO
from sim.section.shapes import Array
from validation.opinion.compare import ELEMENTS, FIPY, ConditionOpinion

MARKS = 24  # of FiPy's, around the clock


def draw_opinion(opinion: ConditionOpinion, path: Path) -> None:
    """Write the picture of one condition that has an answer."""
    made = figure(10.4, 6.2)
    heading(made, drawable(opinion.name), "around the clock, by three solvers")
    places = {"wall": (0.61, "pipe's outside, degC"), "cover": (0.345, "outside surface, degC")}
    for which, (bottom, label) in places.items():
        axes = made.add_axes((0.075, bottom, 0.90, 0.235))
        _panel(axes, opinion, which, label)
        if which == "wall":
            axes.legend(loc="lower right", bbox_to_anchor=(1.0, 1.01), ncols=3, frameon=False, fontsize=8)
    axes = made.add_axes((0.075, 0.085, 0.90, 0.23))
    _apart(axes, opinion)
    axes.set_xlabel("clock position, hours (12 at the top, 6 at the bottom)", labelpad=13)
    save(made, path)


def _panel(axes: Axes, opinion: ConditionOpinion, which: str, label: str) -> None:
    band = _band(opinion, {"wall": "wall", "cover": "barrier"}[which])
    x, y = _once(*getattr(opinion.around["ours"], which))
    axes.fill_between(x, y - band, y + band, color=COLOURS["wall"], alpha=0.22, lw=0)
    axes.plot(x, y, color=COLOURS["wall"], lw=1.5, label="ours, with its band")
    if ELEMENTS in opinion.around:
        x, y = _once(*getattr(opinion.around[ELEMENTS], which))
        axes.plot(x, y, color=COLOURS["sheath"], lw=1.1, ls=(0, (5, 3)), label=ELEMENTS)
    if FIPY in opinion.around:
        x, y = _once(*getattr(opinion.around[FIPY], which))
        at = np.linspace(0.25, 11.75, MARKS)
        axes.plot(at, np.interp(at, x, y), "o", ms=4.0, mfc="white", mec=INK, mew=0.9, label=FIPY, zorder=5)
    _dress(axes, label, numbers=False)


def _apart(axes: Axes, opinion: ConditionOpinion) -> None:
    """Ours less each peer's on the pipe's outside, within our band of its extremes."""
    x, y = _once(*opinion.around["ours"].wall)
    band = _band(opinion, "wall")
    axes.axhspan(-band, band, color=COLOURS["wall"], alpha=0.22, lw=0)
    for who, look in ((ELEMENTS, {"color": COLOURS["sheath"], "ls": (0, (5, 3))}), (FIPY, {"color": INK})):
        if who in opinion.around:
            there, value = _once(*opinion.around[who].wall)
            axes.plot(x, y - np.interp(x, there, value), lw=1.1, **look)
    _dress(axes, "ours less theirs, K\n(pipe's outside)", numbers=True)


def _band(opinion: ConditionOpinion, group: str) -> float:
    bands = {row.quantity: row.band for row in opinion.rows}
    return max(bands.get(f"{group}.{end}", 0.0) for end in ("min", "max"))


def _dress(axes: Axes, label: str, numbers: bool) -> None:
    axes.set_xlim(0, 12)
    around_the_clock(axes, label, numbers)


def _once(angle: Array, temperature: Array) -> tuple[Array, Array]:
    """Hours and degC, carried on a little beyond both ends."""
    hours, value = angle * 6 / np.pi, temperature - ZERO
    return (
        np.concatenate([hours[-1:] - 12, hours, hours[:1] + 12]),
        np.concatenate([value[-1:], value, value[:1]]),
    )
