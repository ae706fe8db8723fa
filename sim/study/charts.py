"""The charts an engineer shows: results along an axis with bands and limits, spreads, chances and drivers.

Drawn without a window (Agg); one line a condition, one panel for each combination of the other axes.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np

from sim.solve.paths import quantity

from .answer import Series, series
from .axes import Line
from .band import held_against
from .conduct import Answers
from .frame import Array
from .panels import COLOURS, MOST_PANELS, axis_labels, grid_of, label_of, stem
from .scatter import search_figure, uncertain_figures
from .tables import replace
from .words import displayed, is_temperature, spoken, unit


def draw(answers: Answers, folder: Path) -> list[tuple[str, Path]]:
    """Write every chart as SVG and PNG; returns (caption, path of the SVG)."""
    import matplotlib
    from matplotlib.text import Text

    from .letters import drawable

    matplotlib.use("Agg")
    matplotlib.rcParams["svg.hashsalt"] = "study"
    folder.mkdir(parents=True, exist_ok=True)
    matplotlib.rcParams["text.parse_math"] = False
    drawn: list[tuple[str, Path]] = []
    names = Counter[str]()
    for name, caption, figure in _figures(answers):
        names[name] += 1
        path = folder / (f"{name}.svg" if names[name] == 1 else f"{name}-{names[name]}.svg")
        for text in figure.findobj(Text):
            text.set_text(drawable(text.get_text()))
        replace(
            path, lambda beside, figure=figure: figure.savefig(beside, format="svg", metadata={"Date": None})
        )
        replace(
            path.with_suffix(".png"),
            lambda beside, figure=figure: figure.savefig(beside, format="png", dpi=110),
        )
        import matplotlib.pyplot as plt

        plt.close(figure)
        drawn.append((caption, path))
    return drawn


def _figures(answers: Answers) -> Any:
    if answers.found is not None:
        yield "search", f"Search: values of {answers.found.name} tried", search_figure(answers)
        return
    if answers.groups:
        yield from uncertain_figures(answers)
        return
    drawn: set[str] = set()
    lines = [axis for axis in answers.study.lines if len(axis.points) > 1]
    panels = {axis.name: len(series(answers.frame, axis, answers.study.lines)) for axis in lines}
    for axis in lines:
        # Many panels of few points say less than the chart along the other axis.
        crowded = panels[axis.name] > max(MOST_PANELS, min(panels.values()))
        if axis.pair in drawn or crowded:
            continue
        drawn |= {axis.pair} if axis.pair else set()
        for path in answers.paths:
            yield (
                stem(f"{axis.name} {path}"),
                f"{spoken(path).capitalize()} along {axis.name}",
                _along(answers, axis, path),
            )


def _along(answers: Answers, axis: Line, path: str) -> Any:
    every = series(answers.frame, axis, answers.study.lines)
    figure, panels = grid_of(min(len(every), MOST_PANELS))
    for ax, one in zip(panels, every, strict=False):
        for n, condition in enumerate(answers.frame.conditions):
            _line(ax, answers, one, condition, path, COLOURS[n % len(COLOURS)])
        _limits(ax, answers, path)
        axis_labels(ax, axis, one.label())
    _at_least(panels[0], 1.0 if is_temperature(path) else 0.5)
    panels[0].set_ylabel(f"{spoken(path)} [{unit(path).replace('degC', '°C')}]")
    marks = {
        label: mark for ax in panels for mark, label in zip(*ax.get_legend_handles_labels(), strict=True)
    }
    figure.legend(
        marks.values(), marks.keys(), loc="outside lower center", ncols=min(len(marks), 4), fontsize=8
    )
    more = len(every) - len(panels)
    figure.suptitle(
        spoken(path).capitalize() + (f" (first {len(panels)} of {len(every)} panels)" if more > 0 else "")
    )
    return figure


def _at_least(ax: Any, span: float) -> None:
    """A scale no finer than `span`, so that what lies within rounding does not fill the chart."""
    ax.ticklabel_format(axis="y", useOffset=False)
    low, high = ax.get_ylim()
    if high - low < span:
        ax.set_ylim((low + high - span) / 2, (low + high + span) / 2)


def _line(ax: Any, answers: Answers, one: Series, condition: str, path: str, colour: str) -> None:
    column = answers.frame.values[condition].get(path)
    if column is None:
        return
    rows = [i for i in one.rows if np.isfinite(column[i])]
    if not rows:
        return
    x = _places(one.axis, answers, rows)
    y = np.array([displayed(path, float(column[i])) for i in rows])
    band = np.nan_to_num(np.array([answers.bands.of(condition, path, i) for i in rows]))
    if one.axis.numeric:
        ax.fill_between(x, y - band, y + band, color=colour, alpha=0.22, linewidth=0)
        ax.plot(
            x,
            y,
            color=colour,
            marker="o",
            markersize=3.5 if len(rows) < 40 else 0,
            linewidth=1.5,
            label=label_of(condition),
        )
    else:
        shift = 0.12 * (answers.frame.conditions.index(condition) - (len(answers.frame.conditions) - 1) / 2)
        ax.errorbar(
            x + shift,
            y,
            yerr=band,
            color=colour,
            marker="o",
            linestyle="none",
            capsize=4,
            label=label_of(condition),
        )


def _places(axis: Line, answers: Answers, rows: list[int]) -> Array:
    if axis.numeric:
        return answers.frame.inputs[axis.name][rows]
    order = {point.text: float(n) for n, point in enumerate(axis.points)}
    return np.array([order[answers.frame.texts[axis.name][i]] for i in rows])


def _limits(ax: Any, answers: Answers, path: str) -> None:
    """Draw each limit, unless it is so far off that the lines would be flattened: then it is only named."""
    limit = quantity(path).limit
    if not limit:
        return
    every = [
        by[limit]
        for condition, by in answers.frame.limits.items()
        if limit in by and held_against(limit, answers.frame.values[condition]) == path
    ]
    allowed = sorted({float(v) for column in every for v in column if np.isfinite(v)})
    low, high = ax.get_ylim()
    room = 2.5 * (high - low)
    for value in allowed:
        shown = displayed(path, value)
        if low - room <= shown <= high + room:
            ax.axhline(shown, color="#b00020", linestyle="--", linewidth=1.2, label=f"limit {shown:.4g} °C")
        else:
            side = "below" if shown < low else "above"
            ax.plot([], [], color="#b00020", linestyle="--", label=f"limit {shown:.4g} °C, far {side}")
