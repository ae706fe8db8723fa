"""Pictures of a clock study: temperatures against the tracers' position, and fields of chosen positions."""

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.tri import Triangulation

from sim.report.glyphs import drawable
from sim.report.scene import fills
from sim.report.style import (
    COLOURS,
    FAINT,
    INK,
    PALE,
    curves,
    figure,
    halo,
    heading,
    hours,
    levels,
    plane,
    save,
)
from sim.report.words import ZERO
from sim.section.shapes import Array
from sim.section.triangles import triangulation
from sim.solve.at_rest import SectionResult
from sim.solve.measures import LIMITS
from sim.solve.paths import quantity
from sim.solve.quantities import region_mask, wall_surface
from sim.solve.steady import cell_temperature
from sim.study.positions import ClockStudy

LOOK = {
    "still": ("#8a5a00", (0, (4, 2))),
    "buoyant": ("#00639c", "solid"),
    "mixed": ("#5f6b76", (0, (1, 1.5))),
}
PANEL = 1.75  # height of one panel, inches
STREAMLINES = 9
LEAST_FLOW = 0.05  # of the thermal diffusivity: a stream function smaller than this is drawn as no flow


def draw_clock(study: ClockStudy, path: Path | None) -> Figure:
    """Draw the picture of all curves: one panel a quantity, one curve a state, bands shaded."""
    count = len(study.paths)
    fig = figure(10.4, 0.75 + PANEL * count + 0.45)
    size = fig.get_figheight()
    what = f"tracer {study.tracer}" if study.tracer else "tracers, turned together,"
    first = study.tracer or study.case.tracers[0].name
    below = f"{study.condition}; {what} with {first} at each clock position; bands shaded"
    heading(fig, drawable(study.case.title), drawable(below))
    for k, watched in enumerate(study.paths):
        bottom = (0.45 + PANEL * (count - 1 - k)) / size
        axes = fig.add_axes((0.085, bottom, 0.895, (PANEL - 0.2) / size))
        _panel(axes, study, watched)
        axes.set_xticks(range(13), ["12", *(str(h) for h in range(1, 13))] if k == count - 1 else [""] * 13)
        if k == count - 1:
            axes.set_xlabel(f"clock position of {drawable(first)}, hours", labelpad=2)
        if k == 0:
            axes.legend(frameon=False, fontsize=7.5, ncols=3, loc="lower right", bbox_to_anchor=(1.0, 0.98))
    return save(fig, path)


def _panel(axes: Axes, study: ClockStudy, path: str) -> None:
    row = quantity(path)
    low, high = np.inf, -np.inf
    for state in study.states:
        colour, dash = LOOK.get(state, LOOK["still"])
        curve = study.curve(state, path)
        if not curve:
            continue
        for k, run in enumerate(runs([c for c, _ in curve])):
            x = np.array([c for c, _ in run])
            y = np.array([row.measure.shown(curve[n][1].value) for _, n in run])
            band = np.array([curve[n][1].band for _, n in run])
            label = state if k == 0 else None
            if len(run) == 1:
                axes.errorbar(x, y, band, color=colour, alpha=0.4, lw=0, elinewidth=3)
            axes.fill_between(x, y - band, y + band, color=colour, alpha=0.18, lw=0)
            axes.plot(x, y, color=colour, ls=dash, lw=1.4, marker="o", ms=2.6, label=label)
            low, high = min(low, float((y - band).min())), max(high, float((y + band).max()))
    for at in study.placed:
        if at.verdict is None:
            axes.axvspan(at.clock - 0.3, at.clock + 0.3, color=PALE, lw=0)
            axes.text(
                at.clock, 0.5, "not possible", transform=axes.get_xaxis_transform(), rotation=90, fontsize=6.5,
                color=FAINT, ha="center", va="center",
            )  # fmt: skip
    allowed = getattr(study.case.limits, row.limit) if row.limit else None
    if allowed is not None and low - 3 < (level := row.measure.shown(allowed)) < high + 3:
        axes.axhline(level, color=COLOURS["sheath"], lw=0.9, ls=(0, (5, 3)))
        words = LIMITS[row.limit].words(row.name)
        axes.text(11.95, level, drawable(words), fontsize=7, ha="right", va="bottom", color=COLOURS["sheath"])
    axes.set_xlim(0, 12)
    axes.set_ylabel(f"{drawable(row.words)}\n{row.measure.unit}", fontsize=7.5)
    axes.ticklabel_format(axis="y", useOffset=False)
    axes.grid(color=PALE, lw=0.5)
    axes.tick_params(labelsize=7.5, length=2)
    axes.spines[["top", "right"]].set_visible(False)


def runs(clocks: list[float]) -> list[list[tuple[float, int]]]:
    """Positions that a line may join, no two more than an hour apart: (place from 0 to 12, number in `clocks`).

    clocks: in order from 12 (0), each once. A run that comes round to 12 is carried over it on either side.
    """
    turns = [(c + 12.0 * turn, n) for turn in (-1, 0, 1) for n, c in enumerate(clocks)]
    parts: list[list[tuple[float, int]]] = [[]]
    for place in turns:
        if parts[-1] and place[0] - parts[-1][-1][0] > 1.0 + 1e-9:
            parts.append([])
        parts[-1].append(place)
    inside = [[p for p in run if -1.0 <= p[0] <= 13.0] for run in parts]
    return [run for run in inside if any(0.0 <= c <= 12.0 for c, _ in run)]


def draw_fields(study: ClockStudy, path: Path | None) -> Figure | None:
    """Draw the fields side by side: a row a state that was kept, a column a position; isotherms, streamlines.

    Contents of one temperature have none; nothing is written where no state has a field.
    """
    places = sorted({c for c, _ in study.fields})
    states = [
        s for s in LOOK if any((c, s) in study.fields and _resolved(study.fields[c, s]) for c in places)
    ]
    if not states:
        return None
    width, top = 3.3, 0.55
    fig = figure(max(width * len(places), 6.0) + 0.2, top + 3.35 * len(states) + 0.1)
    w, h = fig.get_figwidth(), fig.get_figheight()
    below = f"{study.condition}; pipe and contents: isotherms in degC (white), streamlines (black)"
    heading(fig, drawable(study.case.title), drawable(below))
    shown = [study.fields[c, s] for c in places for s in states if (c, s) in study.fields]
    values = [v for result in shown if _resolved(result) for v in _field(result)[1][[0, -1]]]
    low, high = float(min(values)), float(max(values))
    for row, state in enumerate(states):
        for column, place in enumerate(places):
            left, bottom = (0.1 + width * column) / w, 1 - (top + 3.35 * (row + 1)) / h
            axes = fig.add_axes((left, bottom, 3.05 / w, 3.05 / h))
            _bore(axes, study.fields.get((place, state)), f"{place or 12:g} o'clock, {state}", low, high)
    return save(fig, path)


def _resolved(result: SectionResult) -> bool:
    """Whether the contents have a field of their own."""
    return result.solution.network.bore is None


def _field(result: SectionResult) -> tuple[Array, Array, Array]:
    """Points of contents and wall (n, 2), their values from the least to the greatest and in order, degC (n,)."""
    solution = result.solution
    mesh, layout = solution.network.mesh, solution.network.mesh.layout
    inside = region_mask(solution, "liquid", "gas", "wall")
    angle, rim = wall_surface(solution)
    edge = layout.outer_radius * np.stack([np.sin(angle), np.cos(angle)], axis=-1)
    value = np.concatenate([cell_temperature(solution.network, solution.temperature)[inside], rim]) - ZERO
    return np.concatenate([mesh.site[inside], edge]), np.sort(value), value


def _bore(axes: Axes, result: SectionResult | None, title: str, low: float, high: float) -> None:
    axes.set_title(drawable(title), fontsize=8.5, pad=2)
    if result is None or not _resolved(result):
        axes.set_axis_off()
        axes.text(0.5, 0.5, "no field: given as a bracket", ha="center", transform=axes.transAxes, fontsize=8)
        return
    layout = result.solution.network.mesh.layout
    far = max([layout.outer_radius, *(b.farthest(0.0, 0.0) for b in layout.bodies)])
    plane(axes, 1.22e3 * far)
    point, _, value = _field(result)
    grid = Triangulation(1e3 * point[:, 0], 1e3 * point[:, 1], triangulation(point)[0])
    axes.tripcolor(grid, value, shading="gouraud", cmap="cividis", vmin=low, vmax=max(high, low + 1e-3))
    lines = axes.tricontour(
        grid, value, levels=levels(float(value.min()), float(value.max()), 9), colors="white", linewidths=0.7
    )
    flow = result.solution.flow
    if flow is not None:
        place, psi = 1e3 * flow.mesh.scale * flow.mesh.site, flow.motion.state.psi
        most = float(np.abs(psi).max())
        if most > LEAST_FLOW:
            edges = np.linspace(-most, most, 2 * STREAMLINES + 2)
            inner = Triangulation(place[:, 0], place[:, 1], triangulation(place)[0])
            axes.tricontour(inner, psi, levels=edges, colors=INK, linewidths=0.6, linestyles="solid")
    outlines = [
        np.concatenate([line, line[:1]]) for kind, _, line in fills(layout) if kind in ("tracer", "wall")
    ]
    bore = layout.inner_radius / layout.outer_radius * outlines[-1]
    curves(axes, (*outlines, bore), 0.8)
    for text in axes.clabel(lines, fontsize=6.3, inline_spacing=2, fmt="%g", colors=INK):
        text.set_path_effects(halo(1.8))
    hours(axes, 1.03e3 * far, 0.0, 6.5, 0.07)
