"""Pictures of contents that were followed in time: the average field, the swing of its temperature, and a film."""

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle
from matplotlib.tri import Triangulation

from sim.report.glyphs import drawn_name
from sim.report.stage import Array, FlowScene
from sim.report.style import FIELD, INK, colour_bar, figure, heading, hours, levels, plane, save
from sim.section.triangles import triangulation

PANEL, TOP = 3.6, 0.5  # inches
FRAME = 1.9  # width of a frame of the film, inches
STREAMLINES = 8


def draw_flow(scene: FlowScene, path: Path | None) -> Figure:
    """The average field with the streamlines of the average flow, and how far the temperature swings at each place."""
    fig = figure(2 * (PANEL + 0.7), PANEL + TOP)
    wide, high = fig.get_figwidth(), fig.get_figheight()
    heading(
        fig, drawn_name(scene.name, "(named in the report)"), "contents alone, each on its own scale", 0.16
    )
    grid = _grid(scene)
    for number, (value, psi) in enumerate(((scene.mean, scene.psi), (scene.swing, None))):
        left = number * (PANEL + 0.7)
        axes = fig.add_axes(((left + 0.05) / wide, 0.0, PANEL / wide, PANEL / high))
        low, most = float(value.min()), max(float(value.max()), float(value.min()) + 1e-3)
        _disk(axes, scene, grid, value, psi, (low, most))
        hours(axes, 1.03e3 * scene.radius, 0.0, 6.5, 0.07)
        colour_bar(fig, low, most, (left + PANEL + 0.06) / wide, 0.12, 0.66, ("degC", "K")[number])
    return save(fig, path)


def draw_frames(scene: FlowScene, path: Path | None) -> Figure:
    """The frames of the film in one row, on one scale."""
    count = len(scene.frames)
    fig = figure(FRAME * count, FRAME)
    values = np.array([value for value, _ in scene.frames])
    scale = float(np.percentile(values, 10)), float(np.percentile(values, 90))
    grid = _grid(scene)
    for number, (value, psi) in enumerate(scene.frames):
        axes = fig.add_axes((number / count, 0.0, 1 / count, 1.0))
        _disk(axes, scene, grid, value, psi, (scale[0], max(scale[1], scale[0] + 1e-3)))
    return save(fig, path)


def _grid(scene: FlowScene) -> Triangulation:
    place = 1e3 * scene.point
    return Triangulation(place[:, 0], place[:, 1], triangulation(scene.point)[0])


def _disk(
    axes: Axes,
    scene: FlowScene,
    grid: Triangulation,
    value: Array,
    psi: Array | None,
    scale: tuple[float, float],
) -> None:
    """A field of the contents, with isotherms, or with streamlines where the flow is given."""
    radius = 1e3 * scene.radius
    plane(axes, 1.14 * radius)
    axes.tripcolor(grid, value, shading="gouraud", cmap=FIELD, vmin=scale[0], vmax=scale[1])
    if psi is None:
        lines = levels(*scale, 6)
        axes.tricontour(grid, value, levels=lines, colors="white", linewidths=0.6)
    elif float(np.abs(psi).max()) > 0:
        most = float(np.abs(psi).max())
        edges = np.linspace(-most, most, 2 * STREAMLINES + 2)
        axes.tricontour(grid, psi, levels=edges, colors="white", linewidths=0.5, linestyles="solid")
    axes.add_patch(Circle((0, 0), radius, fill=False, ec=INK, lw=0.9))
    for angle, half in scene.tracers:
        at = np.linspace(angle - half, angle + half, 9)
        x, y = 1.02 * radius * np.sin(at), 1.02 * radius * np.cos(at)
        axes.plot(x, y, color="#b3261e", lw=2.5, solid_capstyle="butt")
