"""The charts an engineer shows: results along an axis with bands and limits, spreads, chances and drivers.

Drawn without a window (Agg); one line a condition, one panel for each combination of the other axes.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np

from .answer import Series, series
from .axes import Line
from .conduct import Answers, Group
from .frame import Array
from .tables import replace
from .words import displayed, is_temperature, spoken, unit

COLOURS = ("#1b6ca8", "#d1495b", "#2e8b57", "#b8860b", "#6a4c93", "#444444", "#00838f", "#a0522d")
MOST_PANELS = 6
LIMITS_OF = {
    "contents.min": ("contents_min", -1),
    "liquid.min": ("contents_min", -1),
    "wall.min": ("wall_min", -1),
    "wall.max": ("wall_max", 1),
    "barrier.max": ("barrier_max", 1),
    "tracers.sheath_max": ("sheath_max", 1),
}


def draw(answers: Answers, folder: Path) -> list[tuple[str, Path]]:
    """Write every chart as SVG and PNG; returns (caption, path of the SVG)."""
    import matplotlib

    matplotlib.use("Agg")
    matplotlib.rcParams["svg.hashsalt"] = "study"
    folder.mkdir(parents=True, exist_ok=True)
    drawn: list[tuple[str, Path]] = []
    for stem, caption, figure in _figures(answers):
        path = folder / f"{stem}.svg"
        replace(path, lambda beside, figure=figure: figure.savefig(beside, format="svg", metadata={"Date": None}))
        replace(
            path.with_suffix(".png"), lambda beside, figure=figure: figure.savefig(beside, format="png", dpi=110)
        )
        import matplotlib.pyplot as plt

        plt.close(figure)
        drawn.append((caption, path))
    return drawn


def _figures(answers: Answers) -> Any:
    if answers.found is not None:
        yield "search", f"Search: values of {answers.found.name} tried", _search(answers)
        return
    if answers.groups:
        yield from _uncertain(answers)
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
                _stem(f"{axis.name} {path}"),
                f"{spoken(path).capitalize()} along {axis.name}",
                _along(answers, axis, path),
            )


def _stem(text: str) -> str:
    return re.sub(r"[^A-Za-z0-9]+", "-", text).strip("-").lower()[:80] or "chart"


def _panels(n: int, *, tall: float = 3.6) -> tuple[Any, list[Any]]:
    import matplotlib.pyplot as plt

    wide = 1 if n == 1 else 2 if n in (2, 4) else 3
    high = -(-n // wide)
    size = (7.0 if wide == 1 else 4.4 * wide, tall * high if n > 1 else 4.2)
    figure, grid = plt.subplots(high, wide, figsize=size, sharey=True, squeeze=False, layout="constrained")
    every = [ax for line in grid for ax in line]
    for ax in every[n:]:
        ax.set_visible(False)
    return figure, every[:n]


def _along(answers: Answers, axis: Line, path: str) -> Any:
    every = series(answers.frame, axis, answers.study.lines)
    figure, panels = _panels(min(len(every), MOST_PANELS))
    for ax, one in zip(panels, every, strict=False):
        for n, condition in enumerate(answers.frame.conditions):
            _line(ax, answers, one, condition, path, COLOURS[n % len(COLOURS)])
        _limits(ax, answers, path)
        _axis_labels(ax, axis, one)
    _at_least(panels[0], 1.0 if is_temperature(path) else 0.5)
    panels[0].set_ylabel(f"{spoken(path)} [{unit(path).replace('degC', '°C')}]")
    marks = {label: mark for ax in panels for mark, label in zip(*ax.get_legend_handles_labels(), strict=True)}
    figure.legend(marks.values(), marks.keys(), loc="outside lower center", ncols=min(len(marks), 4), fontsize=8)
    more = len(every) - len(panels)
    figure.suptitle(spoken(path).capitalize() + (f" (first {len(panels)} of {len(every)} panels)" if more > 0 else ""))
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
        ax.plot(x, y, color=colour, marker="o", markersize=3.5 if len(rows) < 40 else 0, linewidth=1.5, label=condition)
    else:
        shift = 0.12 * (answers.frame.conditions.index(condition) - (len(answers.frame.conditions) - 1) / 2)
        ax.errorbar(x + shift, y, yerr=band, color=colour, marker="o", linestyle="none", capsize=4, label=condition)


def _places(axis: Line, answers: Answers, rows: list[int]) -> Array:
    if axis.numeric:
        return answers.frame.inputs[axis.name][rows]
    order = {point.text: float(n) for n, point in enumerate(axis.points)}
    return np.array([order[answers.frame.texts[axis.name][i]] for i in rows])


def _limits(ax: Any, answers: Answers, path: str) -> None:
    """Draw each limit, unless it is so far off that the lines would be flattened: then it is only named."""
    known = LIMITS_OF.get(path)
    if known is None:
        return
    every = [by[known[0]] for by in answers.frame.limits.values() if known[0] in by]
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


def _axis_labels(ax: Any, axis: Line, one: Series | None) -> None:
    ax.grid(alpha=0.25)
    if axis.numeric:
        ax.set_xlabel(f"{axis.name} [o'clock]" if axis.is_clock else axis.label)
        numbers = [p.number for p in axis.points if p.number is not None]
        whole = [v for v in numbers if float(v).is_integer()]
        if whole and (axis.is_clock or len(whole) == len(numbers) <= 13):
            ax.set_xticks(whole)
    else:
        ax.set_xticks(range(len(axis.points)), [p.text for p in axis.points], rotation=20, ha="right")
        ax.set_xlim(-0.5, len(axis.points) - 0.5)
        ax.set_xlabel(axis.name)
    if one is not None and one.held:
        ax.set_title(one.label(), fontsize=9)


def _uncertain(answers: Answers) -> Any:
    if len(answers.groups) > 1 and len(answers.study.lines) == 1:
        yield "chance", "Probability that each limit holds", _chance_along(answers)
    for n, group in enumerate(answers.groups[:MOST_PANELS], start=1):
        mark = f"-{n}" if len(answers.groups) > 1 else ""
        tail = f" ({group.label})" if group.label else ""
        for path in answers.paths:
            yield _stem(f"spread {path}{mark}"), f"Spread of the {spoken(path)}{tail}", _spread(answers, group, path)
        if group.drivers:
            yield _stem(f"drivers{mark}"), f"What drives the results{tail}", _drivers(answers, group)


def _chance_along(answers: Answers) -> Any:
    axis = answers.study.lines[0]
    figure, (ax,) = _panels(1)
    x = np.array([p.number if axis.numeric and p.number is not None else n for n, p in enumerate(axis.points)])
    kinds = [(c.condition, c.limit) for c in answers.groups[0].chances]
    for k, kind in enumerate(kinds):
        found = [next((c for c in g.chances if (c.condition, c.limit) == kind), None) for g in answers.groups]
        rows = [i for i, c in enumerate(found) if c is not None]
        chosen = [c for c in found if c is not None]
        y = np.array([c.probability for c in chosen])
        reach = np.array([[c.probability - c.low, c.high - c.probability] for c in chosen]).clip(0).T
        colour = COLOURS[k % len(COLOURS)]
        label = f"{kind[0]}: {kind[1].replace('_', ' ')}"
        ax.errorbar(x[rows], y, yerr=reach, color=colour, marker="o", capsize=3, label=label)
    _axis_labels(ax, axis, None)
    ax.set_ylim(-0.03, 1.03)
    ax.set_ylabel("probability that the limit holds")
    ax.legend(fontsize=8)
    return figure


def _spread(answers: Answers, group: Group, path: str) -> Any:
    """One panel a condition: how the result scatters, the limit and the probability that it holds."""
    there = [c for c, by in answers.frame.values.items() if path in by and np.isfinite(by[path][group.rows]).any()]
    figure, panels = _panels(min(max(len(there), 1), MOST_PANELS))
    for n, (ax, condition) in enumerate(zip(panels, there, strict=False)):
        found = answers.frame.values[condition][path][group.rows]
        values = np.array([displayed(path, float(v)) for v in found[np.isfinite(found)]])
        bins = min(30, max(8, int(np.sqrt(len(values)))))
        ax.hist(values, bins=bins, color=COLOURS[n % len(COLOURS)], alpha=0.7)
        low, _, high = np.percentile(values, [5, 50, 95])
        ax.axvspan(low, high, color="black", alpha=0.06, linewidth=0)
        ax.set_title(condition + _limit_mark(ax, answers, group, condition, path), fontsize=9)
        ax.set_xlabel(f"{spoken(path)} [{'°C' if is_temperature(path) else unit(path)}]")
        ax.grid(alpha=0.25)
    panels[0].set_ylabel("samples (shaded: nine of ten)")
    return figure


def _limit_mark(ax: Any, answers: Answers, group: Group, condition: str, path: str) -> str:
    """Draw the limit of a result where it is near, and say how likely it holds."""
    known = LIMITS_OF.get(path)
    column = answers.frame.limits.get(condition, {}).get(known[0]) if known is not None else None
    likely = next((c for c in group.chances if known and (c.condition, c.limit) == (condition, known[0])), None)
    if column is None or likely is None or not np.isfinite(column[group.rows]).any():
        return ""
    value = displayed(path, float(np.nanmax(column[group.rows])))
    low, high = ax.get_xlim()
    if low - 1.5 * (high - low) <= value <= high + 1.5 * (high - low):
        ax.axvline(value, color="#b00020", linestyle="--", linewidth=1.3)
    return f"\nlimit {value:.4g} °C holds with {100 * likely.probability:.1f} %"


def _drivers(answers: Answers, group: Group) -> Any:
    """One bar for each input, for each result and condition, the strongest input on top."""
    kinds = list(dict.fromkeys((d.condition, d.path) for d in group.drivers))[:MOST_PANELS]
    figure, panels = _panels(len(kinds), tall=2.2 + 0.25 * len(answers.study.inputs))
    strength = {e.name: max((abs(d.value) for d in group.drivers if d.name == e.name), default=0.0) for e in answers.study.inputs}
    names = sorted(strength, key=lambda name: strength[name])
    for ax, kind in zip(panels, kinds, strict=True):
        chosen = {d.name: d for d in group.drivers if (d.condition, d.path) == kind}
        values = np.array([chosen[n].value for n in names])
        reach = np.array([chosen[n].band for n in names])
        colours = [COLOURS[0] if v >= 0 else COLOURS[1] for v in values]
        ax.barh(range(len(names)), values, xerr=reach, color=colours, alpha=0.85, capsize=3, error_kw={"linewidth": 1})
        ax.set_yticks(range(len(names)), names, fontsize=8)
        ax.axvline(0, color="black", linewidth=0.8)
        ax.set_title(f"{kind[0]}: {spoken(kind[1])}", fontsize=9)
        ax.set_xlabel(group.drivers[0].method, fontsize=8)
        ax.grid(alpha=0.25, axis="x")
    return figure


def _search(answers: Answers) -> Any:
    found = answers.found
    assert found is not None
    figure, (ax,) = _panels(1)
    numeric = all(step.point.number is not None for step in found.path)
    for n, step in enumerate(found.path, start=1):
        place = step.point.number if numeric else n
        colour = COLOURS[2] if step.met else COLOURS[1]
        ax.plot(place, n, marker="o", color=colour, markersize=9)
        ax.annotate(step.point.text, (place, n), xytext=(9, -3), textcoords="offset points", fontsize=8)
    ax.plot([], [], "o", color=COLOURS[2], label="meets what is wanted")
    ax.plot([], [], "o", color=COLOURS[1], label="does not")
    if found.least is not None and found.least.number is not None and numeric:
        ax.axvline(found.least.number, color=COLOURS[2], linestyle=":", label=f"least: {found.least.text}")
    ax.set_xlabel(f"{found.name} [{found.unit}]" if found.unit else found.name)
    ax.set_ylabel("step")
    ax.set_yticks(range(1, len(found.path) + 1))
    ax.margins(x=0.15, y=0.1)
    ax.invert_yaxis()
    ax.grid(alpha=0.25)
    ax.legend(fontsize=8)
    return figure
