"""Pictures of a support: the unrolled pipe wall, temperatures along the pipe, and a cut at z = 0."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes

from sim.judge.support import SupportAnswer
from sim.report.field import cell_polygons
from sim.report.style import COLOURS, FAINT, FIELD, INK, figure, halo, hours, levels, plane, save
from sim.report.words import ZERO
from sim.section.layout import angle_to_clock, clock_to_angle
from sim.section.shapes import Array
from sim.section.support import SupportLayout
from sim.solve.support import Field, SupportResult
from sim.study.letters import drawable

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


def draw_support(answer: SupportAnswer, path: Path) -> None:
    """Write the three pictures of a support in one condition as one PNG. Needs a result."""
    result = answer.result
    assert result is not None
    made = figure(10.4, 7.6)
    title = f"{answer.name} ({answer.support.family}), {answer.condition}"
    made.text(0.012, 0.97, drawable(title), fontsize=11, fontweight="bold", va="center")
    said = "with the allowance" if result.installed is not None else "tracer alone"
    made.text(0.012, 0.943, f"around the support; unrolled wall and cut: {said}", fontsize=8, color=FAINT)
    shown = result.installed or result.alone
    _unrolled(made.add_axes((0.065, 0.50, 0.50, 0.39)), result, shown)
    _along(made.add_axes((0.065, 0.075, 0.90, 0.34)), result)
    _cut(made.add_axes((0.60, 0.47, 0.38, 0.45)), result, shown)
    save(made, path)


def _unrolled(axes: Axes, result: SupportResult, field: Field) -> None:
    layout = result.mesh.layout
    radius = 0.5 * (layout.inner_radius + layout.outer_radius)
    angle, z, value = unrolled(field, radius)
    reach = min(max(SEEN * result.support.length, 0.3), float(z[-1]))
    keep = z <= reach * 1.3
    hour = angle / (2 * np.pi) * 12
    both = np.concatenate([-z[keep][::-1], z[keep][1:]])
    twice = np.concatenate([value[keep][::-1], value[keep][1:]])
    low, high = float(twice.min()), float(twice.max())
    if high - low < 0.01:
        low, high = low - 0.01, high + 0.01
    axes.contourf(both, hour, twice.T, np.linspace(low, high, 25), cmap=FIELD)
    lines = axes.contour(both, hour, twice.T, levels(low, high, 7), colors=INK, linewidths=0.5)
    axes.clabel(lines, fontsize=6.5, fmt="%g")
    row, column = np.unravel_index(int(np.argmin(value)), value.shape)
    axes.plot([z[row]], [hour[column] % 12], "v", ms=7, mfc="white", mec=INK, clip_on=False)
    axes.text(
        z[row], hour[column] % 12 + 0.5, f"  coldest {value.min():.2f}", fontsize=7.5, path_effects=halo()
    )
    for part, arc in (
        (result.support.pad, result.support.pad.arc if result.support.pad else 0.0),
        (result.support.leg, result.support.leg.width / layout.outer_radius if result.support.leg else 0.0),
        (result.support.insert, result.support.insert.arc if result.support.insert else 0.0),
    ):
        if part is not None:
            half, middle = arc / (2 * np.pi) * 6, part.clock
            x = 0.5 * part.length * np.array([-1, 1, 1, -1, -1])
            axes.plot(x, middle + half * np.array([-1, -1, 1, 1, -1]), color="white", lw=1.2, ls=(0, (4, 2)))
    for body in layout.bodies:
        axes.axhline(float(angle_to_clock(body.clock_angle)), color=COLOURS["sheath"], lw=1.2)
    axes.set_xlim(-reach, reach)
    axes.set_ylim(0, 12)
    axes.set_yticks(range(0, 13, 3), ["12", "3", "6", "9", "12"])
    axes.set_ylabel("clock position, hours", fontsize=8)
    axes.set_xlabel("z, m (0 is the middle of the support)", fontsize=8)
    axes.set_title("pipe's outside, degC; red: tracers, dashed: parts", fontsize=8, loc="left")


def _along(axes: Axes, result: SupportResult) -> None:
    layout = result.mesh.layout
    radius = 0.5 * (layout.inner_radius + layout.outer_radius)
    for field, style, said in (
        (result.alone, "-", "tracer alone"),
        (result.installed, "--", "with the allowance"),
    ):
        if field is None:
            continue
        for clock, colour in ((6.0, COLOURS["wall"]), (12.0, COLOURS["sheath"])):
            axes.plot(
                field.wall.z,
                _at(field, radius, clock),
                style,
                color=colour,
                lw=1.3,
                label=f"{clock:g} o'clock, {said}",
            )
        if np.isfinite(field.contents).all():
            axes.plot(
                field.wall.z, field.contents - ZERO, style, color="#4f7d3a", lw=1.1, label=f"contents, {said}"
            )
    axes.axhline(result.section_wall[0] - ZERO, color=FAINT, lw=0.8, ls=":", label="section's coldest wall")
    for name in ("wall_min", "contents_min"):
        limit = getattr(result.case.limits, name)
        if limit is not None:
            axes.axhline(
                limit - ZERO, color=INK, lw=0.8, ls=(0, (5, 3)), label=f"limit: {name.replace('_', ' ')}"
            )
    axes.set_xlim(0, float(result.alone.wall.z[-1]))
    axes.set_xlabel("z, m", fontsize=8)
    axes.set_ylabel("degC", fontsize=8)
    axes.set_title("along the pipe", fontsize=8, loc="left")
    axes.grid(color="#d5dade", lw=0.5)
    axes.legend(fontsize=7, ncols=2, frameon=False)


def _cut(axes: Axes, result: SupportResult, field: Field) -> None:
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
    reach = 1e3 * (layout.cover_radius + abs(layout.drop))
    plane(axes, 1.2 * reach, 0.0, -1e3 * layout.drop / 2)
    hours(axes, 1e3 * layout.cover_radius, 1e3 * layout.drop)
    axes.set_title(f"cut at z = 0: {low:.1f} to {high:.1f} degC", fontsize=8, loc="left")
