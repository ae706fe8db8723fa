"""Pictures of a support: the unrolled pipe wall, temperatures along the pipe, and a cut at z = 0."""

from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from sim.case import Support
from sim.case.clock_face import HOUR, angle_to_clock, clock_to_angle
from sim.judge.support import SupportAnswer
from sim.report.field import cell_polygons
from sim.report.glyphs import drawable, drawn_name
from sim.report.style import (
    COLOURS,
    FAINT,
    FIELD,
    INK,
    PALE,
    figure,
    halo,
    heading,
    hours,
    levels,
    on_circle,
    plane,
    save,
)
from sim.report.words import ZERO
from sim.section.shapes import Array
from sim.section.support_plan import SupportLayout
from sim.solve.measures import LIMITS
from sim.solve.support_meshes import Field, SupportResult

SEEN = 2.5  # the unrolled wall is drawn this many part lengths (or a reach) from the middle


def unrolled(field: Field, radius: float) -> tuple[Array, Array, Array]:
    """The wall's outside: clock angle (n,) rising from 0 to 2 pi, z (rows,) m, temperature (rows, n) degC."""
    far = np.hypot(*field.wall.point.T)
    outside = field.wall.outer & (far > radius)
    angle = np.mod(np.arctan2(*field.wall.point[outside].T), 2 * np.pi)
    order = np.argsort(angle)
    value = field.wall.value[:, outside][:, order] - ZERO
    angle = np.concatenate([angle[order][-1:] - 2 * np.pi, angle[order], angle[order][:1] + 2 * np.pi])
    return angle, field.wall.z, np.concatenate([value[:, -1:], value, value[:, :1]], axis=1)


def _at(field: Field, radius: float, clock: float) -> Array:
    angle, _, value = unrolled(field, radius)
    turn = clock_to_angle(clock)
    return np.array([np.interp(turn, angle, row) for row in value])


def draw_support(answer: SupportAnswer, path: Path | None) -> Figure:
    """Draw the three pictures of a support in one condition as one PNG. Needs a result."""
    result = answer.result
    assert result is not None
    fig = figure(10.4, 7.6)
    title = f"{answer.name} ({answer.support.family}), {answer.condition}"
    which = "with the allowance" if result.installed is not None else "tracer alone"
    heading(fig, drawable(title), f"around the support; unrolled wall and cut: {which}")
    shown = result.installed or result.alone
    wall = _unrolled(fig.add_axes((0.065, 0.50, 0.44, 0.39)), result, shown)
    scale_of(fig, wall, 0.515)
    draw_along(fig.add_axes((0.065, 0.075, 0.90, 0.34)), result)
    section = _cut(fig.add_axes((0.575, 0.47, 0.355, 0.45)), result, shown)
    scale_of(fig, section, 0.94)
    return save(fig, path)


def scale_of(fig: Figure, field: ScalarMappable, left: float) -> None:
    """The scale of a field's colours, its left edge as a part of the figure."""
    bar = fig.colorbar(field, cax=fig.add_axes((left, 0.52, 0.011, 0.33)))
    bar.ax.tick_params(labelsize=7, length=2)
    bar.outline.set_linewidth(0.4)
    bar.ax.set_title("degC", fontsize=7.5, pad=5)


def _unrolled(axes: Axes, result: SupportResult, field: Field) -> ScalarMappable:
    layout = result.mesh.layout
    radius = 0.5 * (layout.inner_radius + layout.outer_radius)
    angle, z, value = unrolled(field, radius)
    reach = min(max(SEEN * result.support.length, 0.3), float(z[-1]))
    keep = z <= reach * 1.3
    hour = angle / HOUR
    both = np.concatenate([-z[keep][::-1], z[keep][1:]])
    twice = np.concatenate([value[keep][::-1], value[keep][1:]])
    low, high = float(twice.min()), float(twice.max())
    if high - low < 0.01:
        low, high = low - 0.01, high + 0.01
    scale = ScalarMappable(Normalize(low, high), FIELD)
    axes.contourf(both, hour, twice.T, np.linspace(low, high, 25), cmap=FIELD)
    lines = axes.contour(both, hour, twice.T, levels(low, high, 7), colors="white", linewidths=0.6)
    for text in axes.clabel(lines, fontsize=6.5, fmt="%g", colors=INK):
        text.set_path_effects(halo(1.8))
    _parts(axes, result)
    for tracer, body in zip(result.case.tracers, layout.bodies, strict=False):
        at, red = float(angle_to_clock(body.clock_angle)), COLOURS["sheath"]
        axes.axhline(at, color=red, lw=1.2)
        name = drawn_name(tracer.name, "tracer")
        axes.text(
            0.98 * reach, at, name, fontsize=7.5, ha="right", va="bottom", color=red, path_effects=halo()
        )
    row, column = np.unravel_index(int(np.argmin(value)), value.shape)
    label = f"coldest: {value.min():.2f} degC"
    look: dict[str, Any] = {"ms": 7, "mfc": "white", "mec": INK, "ls": "", "clip_on": False}
    axes.plot([z[row]], [hour[column] % 12], "v", label=label, **look)
    legend = axes.legend(fontsize=7, loc="upper left", facecolor="#8b949e", framealpha=0.9, edgecolor="none")
    for text in legend.get_texts():
        text.set_color("white")
    axes.set_xlim(-reach, reach)
    axes.set_ylim(0, 12)
    axes.set_yticks(range(0, 13, 3), ["12", "3", "6", "9", "12"])
    axes.set_ylabel("clock position, o'clock", fontsize=8)
    axes.set_xlabel("z, m (0 is its middle)", fontsize=8)
    axes.set_title("pipe's outside, unrolled; red: tracers", fontsize=8, loc="left")
    return scale


def _parts(axes: Axes, result: SupportResult) -> None:
    """The outlines of pad, leg and insert on the unrolled wall, each with a line of its own."""
    support, radius = result.support, result.mesh.layout.outer_radius
    assert isinstance(support, Support)
    for name, part, arc, dash in (
        ("pad", support.pad, support.pad.arc if support.pad else 0.0, (0, (5, 2))),
        ("leg", support.leg, support.leg.width / radius if support.leg else 0.0, "solid"),
        ("insert", support.insert, support.insert.arc if support.insert else 0.0, (0, (1, 1.2))),
    ):
        if part is None:
            continue
        x = 0.5 * part.length * np.array([-1, 1, 1, -1, -1])
        y = min(arc / (2 * np.pi) * 6, 6.0) * np.array([-1, -1, 1, 1, -1])
        for turn in (-12.0, 0.0, 12.0):  # a part across 12 o'clock shows at both edges
            label = name if turn == 0.0 else None
            axes.plot(x, part.clock + turn + y, color="white", lw=1.4, ls=dash, label=label)


def draw_along(axes: Axes, result: SupportResult) -> None:
    """Wall and contents along the pipe, with the tracer alone and with the allowance."""
    layout = result.mesh.layout
    radius = 0.5 * (layout.inner_radius + layout.outer_radius)
    for field, style, label in (
        (result.alone, "-", "tracer alone"),
        (result.installed, "--", "with the allowance"),
    ):
        if field is None:
            continue
        curves = [
            (f"wall at {clock:g} o'clock", _at(field, radius, clock), colour, mark)
            for clock, colour, mark in ((6.0, COLOURS["wall"], "v"), (12.0, COLOURS["sheath"], "^"))
        ]
        if np.isfinite(field.contents).all():
            curves.append(("contents", field.contents - ZERO, "#4f7d3a", "o"))
        for k, (name, values, colour, mark) in enumerate(curves):
            look: dict[str, Any] = {"color": colour, "lw": 1.3, "marker": mark, "ms": 4}
            look |= {"label": f"{name}, {label}", "markevery": (2 * k, 7)}
            axes.plot(field.wall.z, values, style, **look)
    axes.axhline(result.section_wall[0] - ZERO, color=FAINT, lw=0.8, ls=":", label="section's coldest wall")
    for name, dash in (
        ("wall_min", (0, (5, 3))),
        ("contents_min", (0, (5, 2, 1, 2))),
        ("wall_max", (0, (9, 2))),
    ):
        limit = getattr(result.case.limits, name)
        if limit is not None:
            words = f"limit: {LIMITS[name].words()} {limit - ZERO:g}"
            axes.axhline(limit - ZERO, color=INK, lw=0.8, ls=dash, label=words)
    axes.set_xlim(0, float(result.alone.wall.z[-1]))
    axes.set_xlabel("z, m (0 is its middle)", fontsize=8)
    axes.set_ylabel("degC", fontsize=8)
    axes.set_title("along the pipe", fontsize=8, loc="left")
    axes.grid(color="#d5dade", lw=0.5)
    axes.legend(fontsize=7, ncols=2, frameon=False)


def _cut(axes: Axes, result: SupportResult, field: Field) -> ScalarMappable:
    from matplotlib.collections import PolyCollection

    mesh = result.mesh
    layout = mesh.layout
    assert isinstance(layout, SupportLayout)
    celsius = field.cells[0] - ZERO
    low, high = float(celsius.min()), float(celsius.max())
    corner, end = cell_polygons(mesh)
    outlines = np.split(1e3 * mesh.vertex[corner], end[:-1])
    shapes = PolyCollection(outlines, array=celsius, cmap=FIELD, edgecolors="face")
    shapes.set_clim(low, high)
    shapes.set_linewidth(0.15)
    axes.add_collection(shapes, autolim=False)
    x, y = 1e3 * mesh.site.T
    axes.tricontour(x, y, celsius, levels(low, high, 9), colors="white", linewidths=0.5, linestyles="solid")
    for curve in [p.curve for p in mesh.pieces]:
        axes.plot(*(1e3 * curve.point(np.linspace(0, 1, 60)).T), color=INK, lw=0.4)
    reach = 1.2e3 * (layout.cover_radius + abs(layout.drop))
    middle = (0.0, -1e3 * layout.drop / 2)
    assert isinstance(result.support, Support)
    if result.support.leg is not None:
        tip = _exposed(axes, result)
        # half of what the leg reaches beyond is taken up by moving the middle, half by the scale
        beyond = max(max(abs(tip[0] - middle[0]), abs(tip[1] - middle[1])) - 0.9 * reach, 0.0) / 2
        way = float(np.hypot(*tip)) or 1.0
        middle = (middle[0] + beyond * tip[0] / way, middle[1] + beyond * tip[1] / way)
        reach += beyond
    plane(axes, reach, *middle)
    hours(axes, 1e3 * layout.cover_radius, 1e3 * layout.drop)
    axes.set_title("cut at z = 0", fontsize=8, loc="left")
    return shapes


def _exposed(axes: Axes, result: SupportResult) -> tuple[float, float]:
    """Draw the part of the leg beyond the insulation, cut short where it is long; returns its tip, mm."""
    assert isinstance(result.support, Support)
    leg, layout = result.support.leg, result.mesh.layout
    assert leg is not None
    angle = clock_to_angle(leg.clock)
    out = np.array([np.sin(angle), np.cos(angle)])
    across = 500 * leg.width * np.array([out[1], -out[0]])
    root = np.array(on_circle(angle, 1e3 * layout.cover_radius, 1e3 * layout.drop))
    room = 1e3 * layout.cover_radius
    tip = root + min(1e3 * leg.exposed, room) * out
    corners = np.array([root - across, root + across, tip + across, tip - across])
    axes.add_patch(Polygon(corners, fc=PALE, ec=INK, hatch="////", lw=0.8, zorder=4))
    end = "end free" if leg.end == "free" else "end on the steelwork"
    short = ", cut short here" if 1e3 * leg.exposed > room else ""
    words = f" exposed leg, \n {1e3 * leg.exposed:.0f} mm, {end}{short} "
    side = "left" if across[0] >= 0 else "right"
    shift = 1.4 * float(np.abs(across).max()) * (1.0 if side == "left" else -1.0)
    x, y = 0.5 * (root + tip)
    axes.text(x + shift, y, words, fontsize=7, ha=side, va="center", zorder=8, path_effects=halo(2.0))
    return float(tip[0]), float(tip[1])
