"""The charts an engineer shows: results along an axis with bands and limits, spreads, chances and drivers.

All lines of a result in one panel, or in as few as it takes.
"""

from collections import Counter
from functools import partial
from pathlib import Path
from textwrap import fill
from typing import Any

import numpy as np
from matplotlib.patches import Patch, Polygon
from matplotlib.text import Text

from sim.case import Case, case_for
from sim.case.clock_face import clock_to_angle
from sim.report.draw_mesh import colour_of
from sim.report.draw_sample import search_figure, uncertain_figures
from sim.report.glyphs import drawable, drawn_name
from sim.report.scene import fills
from sim.report.study_panels import (
    MOST_LINES,
    MOST_PANELS,
    STYLES,
    axis_labels,
    columns_of,
    grid_of,
    label_of,
    stem,
    with_unit,
)
from sim.report.style import FAINT, figure, plane, save_svg
from sim.section.layout import place
from sim.solve.paths import quantity
from sim.study.answer import Series, change, series
from sim.study.axes import Line
from sim.study.band import judged_path
from sim.study.cells import replace
from sim.study.execute import Answers
from sim.study.frame import Array
from sim.study.words import displayed, headed, is_temperature, quoted, spoken, unit

CONDITION = "\0condition"  # no axis can be called this


def draw(answers: Answers, folder: Path) -> list[tuple[str, Path]]:
    """Write every chart as SVG and PNG; returns (caption, path of the SVG)."""
    folder.mkdir(parents=True, exist_ok=True)
    drawn: list[tuple[str, Path]] = []
    names = Counter[str]()
    for name, caption, chart in _figures(answers):
        names[name] += 1
        path = folder / (f"{name}.svg" if names[name] == 1 else f"{name}-{names[name]}.svg")
        for text in chart.findobj(Text):
            text.set_text(drawable(text.get_text()))
        save_svg(chart, path)
        replace(path.with_suffix(".png"), partial(chart.savefig, format="png", dpi=110))
        drawn.append((caption, path))
    return drawn


def _figures(answers: Answers) -> Any:
    if answers.search is not None:
        yield "search", f"Search: values of {answers.search.name} tried", search_figure(answers)
        return
    if answers.groups:
        yield from uncertain_figures(answers)
        return
    drawn: set[str] = set()
    lines = [axis for axis in answers.study.lines if len(axis.points) > 1]
    many = {axis.name: len(_panels(answers, axis)) for axis in lines}
    for axis in lines:
        # Many panels of few lines say less than the chart along another axis, which shows the same numbers.
        crowded = many[axis.name] > max(MOST_PANELS, min(many.values()))
        if axis.pair in drawn or crowded:
            continue
        drawn |= {axis.pair} if axis.pair else set()
        for path in answers.paths:
            if _moves(answers, axis, path):
                yield (
                    stem(f"{axis.name} {path}"),
                    f"{headed(path)} along {axis.name}",
                    _along(answers, axis, path),
                )


def _moves(answers: Answers, axis: Line, path: str) -> bool:
    """Whether a result moves along an axis in any condition: a flat chart says nothing."""
    changes = [
        change(answers.frame, answers.bands, one, condition, path)
        for one in series(answers.frame, axis, answers.study.lines)
        for condition in answers.frame.conditions
    ]
    return any(one.moves for one in changes if one is not None)


def _panels(answers: Answers, axis: Line) -> list[tuple[str, list[tuple[Series, str, str]]]]:
    """(title, lines as (series, condition, label)): everything in one panel where it is few lines, else split by as few
    of the other axes as it takes, the conditions first."""
    every = series(answers.frame, axis, answers.study.lines)
    conditions = answers.frame.conditions
    names = list(every[0].others) if every else []
    several = [name for name in names if len({one.others[name] for one in every}) > 1]
    splits: list[str] = []
    for extra in ("", *([CONDITION] if len(conditions) > 1 else []), *several):
        splits += [extra] if extra else []
        panels: dict[tuple[str, ...], list[tuple[Series, str, str]]] = {}
        for one in every:
            for condition in conditions:
                labels = {CONDITION: condition, **{n: f"{n} {quoted(one.others[n])}" for n in several}}
                if len(conditions) == 1:
                    del labels[CONDITION]
                title = tuple(text for name, text in labels.items() if name in splits)
                label = ", ".join(text for name, text in labels.items() if name not in splits)
                panels.setdefault(title, []).append((one, condition, label))
        if max(map(len, panels.values()), default=0) <= MOST_LINES:
            break
    return [(", ".join(title), lines) for title, lines in panels.items()]


def _along(answers: Answers, axis: Line, path: str) -> Any:
    every = _panels(answers, axis)
    figure, panels = grid_of(min(len(every), MOST_PANELS))
    labels = dict.fromkeys(label for _, lines in every for *_, label in lines)
    styles = {label: STYLES[n % len(STYLES)] for n, label in enumerate(labels)}
    for ax, (title, lines) in zip(panels, every, strict=False):
        for n, (one, condition, label) in enumerate(lines):
            _line(ax, answers, one, condition, path, styles[label], label, (n, len(lines)))
        _limits(ax, answers, path)
        axis_labels(ax, axis, title)
    _at_least(panels[0], path)
    for ax in panels[:: columns_of(len(panels))]:
        ax.set_ylabel(with_unit(path))
    marks = {
        label: mark for ax in panels for mark, label in zip(*ax.get_legend_handles_labels(), strict=True)
    }
    longest = max((len(label) for label in marks), default=1)
    figure.legend(
        marks.values(),
        marks.keys(),
        loc="outside lower center",
        ncols=max(1, min(len(marks), int((58 if len(panels) == 1 else 110) / (longest + 8)))),
        fontsize=8,
    )
    more = len(every) - len(panels)
    title = headed(path) + (f" (first {len(panels)} of {len(every)} panels)" if more > 0 else "")
    figure.suptitle(fill(title, 70), fontsize=11)
    return figure


def _at_least(ax: Any, path: str) -> None:
    """A scale no finer than 1 K, 0.5 W/m or 5 %, so that what lies within rounding does not fill the chart."""
    ax.ticklabel_format(axis="y", useOffset=False)
    low, high = ax.get_ylim()
    span = 1.0 if is_temperature(path) else 0.5 if unit(path) == "W/m" else 0.05 * max(abs(low), abs(high))
    if high - low < span:
        ax.set_ylim((low + high - span) / 2, (low + high + span) / 2)


def _line(
    ax: Any,
    answers: Answers,
    one: Series,
    condition: str,
    path: str,
    style: tuple[str, str, str],
    label: str,
    place: tuple[int, int],
) -> None:
    """One line with its band; a bracket has a hollow mark. place: (number of the line in its panel, of how many)."""
    column = answers.frame.values[condition].get(path)
    if column is None:
        return
    rows = [i for i in one.rows if np.isfinite(column[i])]
    if not rows:
        return
    colour, dash, marker = style
    x = _places(one.axis, answers, rows)
    y = np.array([displayed(path, float(column[i])) for i in rows])
    band = np.array([answers.bands.of(condition, path, i) for i in rows])
    unknown = np.isinf(band)
    band = np.where(np.isfinite(band), band, 0.0)
    marked = answers.frame.bracketed.get(condition, np.zeros(len(answers.frame), dtype=bool))[rows]
    name = label_of(label or spoken(path))
    if one.axis.numeric:
        size = 4.0 if len(rows) < 40 else 0.0
        ax.fill_between(x, y - band, y + band, color=colour, alpha=0.18, linewidth=0)
        ax.plot(x, y, color=colour, linestyle=dash, marker=marker, markersize=size, linewidth=1.5, label=name)
    else:
        x = x + 0.6 * ((place[0] + 0.5) / place[1] - 0.5)
        ax.errorbar(x, y, yerr=band, color=colour, marker=marker, linestyle="none", capsize=4, label=name)
    if unknown.any():
        cross: dict[str, Any] = {"marker": "x", "ls": "none", "ms": 9, "color": colour}
        ax.plot(x[unknown], y[unknown], label="cross: a band that is not known", **cross)
    if marked.any():
        hollow: dict[str, Any] = {"marker": marker, "ls": "none", "ms": 7, "mfc": "white", "mec": colour}
        ax.plot(x[marked], y[marked], label="hollow: a bracket, the flow was not resolved", **hollow)


def _places(axis: Line, answers: Answers, rows: list[int]) -> Array:
    if axis.numeric:
        return answers.frame.inputs[axis.name][rows]
    order = {point.text: float(n) for n, point in enumerate(axis.points)}
    return np.array([order[answers.frame.texts[axis.name][i]] for i in rows])


def _limits(ax: Any, answers: Answers, path: str) -> None:
    """Draw each limit, unless it is so far off that the lines would be flattened: then it is only named."""
    if not quantity(path).limit:
        return
    every = [
        column
        for condition, by_key in answers.frame.limits.items()
        for key, column in by_key.items()
        if judged_path(key, answers.frame.values[condition]) == path
    ]
    allowed = sorted({float(v) for column in every for v in column if np.isfinite(v)})
    low, high = ax.get_ylim()
    room = 2.5 * (high - low)
    for value in allowed:
        shown = displayed(path, value)
        look, label = {"color": "#b00020", "ls": (0, (7, 2))}, f"limit {shown:.4g} {unit(path)}"
        if low - room <= shown <= high + room:
            ax.axhline(shown, lw=1.8, label=label, **look)
        else:
            ax.plot([], [], label=f"{label}, far {'below' if shown < low else 'above'}", **look)


WORDS = {"layer": "insulation", "wet": "wet insulation", "wall": "pipe wall", "void": "air or compound"}


def draw_plan(case: Case, condition: str, path: Path) -> None:
    """Write the section of a case in one condition as SVG. Raises ValueError if it cannot be drawn."""
    narrowed = case_for(case, condition)
    layout = place(narrowed)
    fig = figure(4.2, 4.6)
    axes = fig.add_axes((0.02, 0.12, 0.96, 0.86))
    plane(axes, 1.03e3 * layout.cover_radius, 0.0, -1e3 * layout.drop)
    painted = fills(layout)
    for kind, number, corners in painted:
        axes.add_patch(Polygon(1e3 * corners, fc=colour_of(kind, number), ec=FAINT, lw=0.4))
    places = [(t.clock, drawn_name(t.name, f"tracer {n}")) for n, t in enumerate(narrowed.tracers, start=1)]
    places += [(s.clock, drawn_name(s.name, f"sensor {n}")) for n, s in enumerate(narrowed.sensors, start=1)]
    for clock, name in places:
        angle = clock_to_angle(clock)
        across, up = (1e3 * layout.outer_radius * float(f(angle)) for f in (np.sin, np.cos))
        box: dict[str, Any] = {"facecolor": "white", "alpha": 0.85, "pad": 1.5, "edgecolor": "none"}
        line: dict[str, Any] = {"arrowstyle": "-", "linewidth": 0.8}
        inner = (0.62 * across, 0.62 * up)
        axes.annotate(name, (across, up), inner, ha="center", va="center", bbox=box, arrowprops=line)
    first = {kind: colour_of(kind, number) for kind, number, _ in reversed(painted)}
    patches = [Patch(fc=colour, ec=FAINT, label=WORDS.get(kind, kind)) for kind, colour in first.items()]
    fig.legend(handles=patches, loc="lower center", ncols=3, frameon=False)
    save_svg(fig, path)
