"""Charts of uncertain inputs (chances, spreads, drivers) and of a search."""

from collections.abc import Iterator
from typing import Any

import numpy as np

from sim.report.glyphs import drawable
from sim.report.study_panels import COLOURS, MOST_PANELS, axis_labels, grid_of, label_of, stem
from sim.study.band import judged_path
from sim.study.chance import ALL
from sim.study.execute import Answers, Group
from sim.study.verdicts import limit_in_words
from sim.study.words import displayed, spoken, unit


def uncertain_figures(answers: Answers) -> Iterator[tuple[str, str, Any]]:
    """(stem, caption, figure) of every chart of a study with uncertain inputs."""
    if len(answers.groups) > 1 and len(answers.study.lines) == 1:
        caption = "Probability that each limit holds (bars: its confidence interval)"
        yield "chance", caption, _chance_along(answers)
    for n, group in enumerate(answers.groups[:MOST_PANELS], start=1):
        mark = f"-{n}" if len(answers.groups) > 1 else ""
        tail = f" ({group.label})" if group.label else ""
        for path in dict.fromkeys(s.path for s in group.spreads):
            caption = f"Spread of the {spoken(path)}{tail}"
            yield stem(f"spread {path}{mark}"), caption, _spread(answers, group, path)
        if group.drivers:
            yield stem(f"drivers{mark}"), f"What drives the results{tail}", _drivers(answers, group)


def _chance_along(answers: Answers) -> Any:
    axis = answers.study.lines[0]
    figure, (ax,) = grid_of(1)
    x = np.array(
        [p.number if axis.numeric and p.number is not None else n for n, p in enumerate(axis.points)]
    )
    unsure = {(c.condition, c.limit) for g in answers.groups for c in g.chances if c.probability < 1}
    kinds = [(c.condition, c.limit) for c in answers.groups[0].chances]
    kinds = [kind for kind in kinds if kind in unsure] or kinds[-1:]
    for k, kind in enumerate(kinds):
        along = [next((c for c in g.chances if (c.condition, c.limit) == kind), None) for g in answers.groups]
        rows = [i for i, c in enumerate(along) if c is not None]
        chosen = [c for c in along if c is not None]
        y = np.array([c.probability for c in chosen])
        reach = np.array([[c.probability - c.low, c.high - c.probability] for c in chosen]).clip(0).T
        colour = COLOURS[k % len(COLOURS)]
        label = f"{kind[0]}: {limit_in_words(kind[1]) if kind[1] != ALL else ALL}"
        ax.errorbar(x[rows], y, yerr=reach, color=colour, marker="o", capsize=3, label=label_of(label))
    axis_labels(ax, axis)
    ax.set_ylim(-0.03, 1.03)
    ax.set_ylabel("probability that the limit holds")
    ax.legend(fontsize=8)
    return figure


def _spread(answers: Answers, group: Group, path: str) -> Any:
    """One panel a condition: how the result scatters, the limit and the probability that it holds."""
    there = [s.condition for s in group.spreads if s.path == path]
    figure, panels = grid_of(min(max(len(there), 1), MOST_PANELS))
    for n, (ax, condition) in enumerate(zip(panels, there, strict=False)):
        sample = answers.frame.values[condition][path][group.rows]
        values = np.array([displayed(path, float(v)) for v in sample[np.isfinite(sample)]])
        bins = min(30, max(8, int(np.sqrt(len(values)))))
        ax.hist(values, bins=bins, color=COLOURS[n % len(COLOURS)], alpha=0.7)
        low, _, high = np.percentile(values, [5, 50, 95])
        ax.axvspan(low, high, color="black", alpha=0.06, linewidth=0)
        ax.set_title(condition + _limit_mark(ax, answers, group, condition, path), fontsize=9)
        ax.set_xlabel(f"{spoken(path)} [{unit(path)}]")
        ax.grid(alpha=0.25)
    panels[0].set_ylabel("samples (shaded: nine of ten)")
    return figure


def _limit_mark(ax: Any, answers: Answers, group: Group, condition: str, path: str) -> str:
    """Draw the limit of a result where it is near, and say how likely it holds."""
    values = answers.frame.values[condition]
    key = next((k for k in answers.frame.limits.get(condition, {}) if judged_path(k, values) == path), "")
    likely = next((c for c in group.chances if (c.condition, c.limit) == (condition, key)), None)
    if likely is None:
        return ""
    column = answers.frame.limits[condition][key]
    if not np.isfinite(column[group.rows]).any():
        return ""
    value = displayed(path, float(np.nanmax(column[group.rows])))
    low, high = ax.get_xlim()
    if low - 1.5 * (high - low) <= value <= high + 1.5 * (high - low):
        ax.axvline(value, color="#b00020", linestyle="--", linewidth=1.3)
    return f"\nlimit {value:.4g} {unit(path)} holds with {100 * likely.probability:.1f} %"


def _drivers(answers: Answers, group: Group) -> Any:
    """One bar for each input, for each result and condition, the strongest input on top."""
    kinds = list(dict.fromkeys((d.condition, d.path) for d in group.drivers))[:MOST_PANELS]
    figure, panels = grid_of(len(kinds), tall=2.2 + 0.25 * len(answers.study.inputs))
    strength = {
        e.name: max((abs(d.value) for d in group.drivers if d.name == e.name), default=0.0)
        for e in answers.study.inputs
    }
    names = sorted(strength, key=lambda name: strength[name])
    for ax, kind in zip(panels, kinds, strict=True):
        chosen = {d.name: d for d in group.drivers if (d.condition, d.path) == kind}
        values = np.array([chosen[n].value for n in names])
        reach = np.array([chosen[n].band for n in names])
        colours = [COLOURS[0] if v >= 0 else COLOURS[1] for v in values]
        bars: dict[str, Any] = {"color": colours, "alpha": 0.85, "capsize": 3, "error_kw": {"linewidth": 1}}
        ax.barh(range(len(names)), values, xerr=reach, **bars)
        ax.set_yticks(range(len(names)), [drawable(name) for name in names], fontsize=8)
        ax.axvline(0, color="black", linewidth=0.8)
        ax.set_title(f"{kind[0]}: {spoken(kind[1])}", fontsize=9)
        ax.set_xlabel(group.drivers[0].method, fontsize=8)
        ax.grid(alpha=0.25, axis="x")
    return figure


def search_figure(answers: Answers) -> Any:
    """The values that a search tried, step by step."""
    search = answers.search
    assert search is not None
    figure, (ax,) = grid_of(1)
    numeric = all(step.point.number is not None for step in search.path)
    for n, step in enumerate(search.path, start=1):
        place = step.point.number if numeric else n
        colour = COLOURS[2] if step.met else COLOURS[1]
        ax.plot(place, n, marker="o", color=colour, markersize=9)
        ax.annotate(step.point.text, (place, n), xytext=(9, -3), textcoords="offset points", fontsize=8)
    ax.plot([], [], "o", color=COLOURS[2], label="meets what is wanted")
    ax.plot([], [], "o", color=COLOURS[1], label="does not")
    if search.least is not None and search.least.number is not None and numeric:
        ax.axvline(search.least.number, color=COLOURS[2], linestyle=":", label=f"least: {search.least.text}")
    ax.set_xlabel(f"{search.name} [{search.unit}]" if search.unit else search.name)
    ax.set_ylabel("step")
    ax.set_yticks(range(1, len(search.path) + 1))
    ax.margins(x=0.15, y=0.1)
    ax.invert_yaxis()
    ax.grid(alpha=0.25)
    ax.legend(fontsize=8)
    return figure
