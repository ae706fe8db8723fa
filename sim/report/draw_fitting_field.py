"""The field around a fitting: cuts along the pipe and across it, and temperatures along the pipe."""

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from scipy.spatial import cKDTree

from sim.case import Fitting
from sim.judge.support import SupportAnswer
from sim.report.draw_support import draw_along
from sim.report.glyphs import drawable
from sim.report.style import FIELD, INK, figure, heading, save
from sim.report.words import ZERO
from sim.section.bodies import AIR, CONTENTS, Bodies, bodies_of
from sim.section.mesh import IntArray
from sim.section.shapes import Array
from sim.solve.fitting_space import sites_in_space
from sim.solve.support_meshes import Field, SupportResult

POINTS = 420  # samples across a cut


def sampled(result: SupportResult, field: Field, bodies: Bodies, point: Array) -> Array:
    """Temperature at points (n, 3), degC; NaN outside. A point lies in the cell of its nearest site."""
    site, value = sites_in_space(result, field)
    celsius = value[cKDTree(site).query(point)[1]] - ZERO
    code = bodies.made_of(*point.T)
    inside = (np.hypot(point[:, 0], point[:, 1]) < bodies.inner) | (code == CONTENTS)
    if result.case.contents.state not in ("still", "buoyant"):  # lumped: no cells there
        celsius[inside] = np.interp(point[inside, 2], field.wall.z, field.contents) - ZERO
    celsius[(code == AIR) & ~inside] = np.nan
    return celsius


def draw_fitting_field(answer: SupportAnswer, path: Path | None) -> Figure:
    """Draw a fitting in one condition. Needs a result."""
    result, fitting = answer.result, answer.support
    assert result is not None
    assert isinstance(fitting, Fitting)
    field = result.installed or result.alone
    bodies = bodies_of(result.case, fitting)
    across = bodies.across
    turn = across[0].clock_angle if across else 0.0
    reach = 1.1 * max([bodies.cover, *(c.radius for c in bodies.along), *(c.high for c in across)])
    low = -1.1 * max([bodies.cover, *(c.radius for c in bodies.along)])
    long = 1.25 * bodies.half_length + 0.4 * bodies.cover
    z, s = np.meshgrid(np.linspace(-long, long, POINTS), np.linspace(low, reach, POINTS))
    x, y = np.meshgrid(np.linspace(-reach, reach, POINTS), np.linspace(-reach, reach, POINTS))
    cuts = [
        np.stack([s * np.sin(turn), s * np.cos(turn), np.abs(z)], axis=-1),
        np.stack([x, y, np.zeros_like(x)], axis=-1),
    ]
    shown = [sampled(result, field, bodies, cut.reshape(-1, 3)).reshape(POINTS, POINTS) for cut in cuts]
    scale = Normalize(min(float(np.nanmin(v)) for v in shown), max(float(np.nanmax(v)) for v in shown))
    fig = figure(10.4, 7.6)
    which = "with the allowance" if result.installed is not None else "tracer alone"
    heading(
        fig,
        drawable(f"{answer.name} ({fitting.family.replace('_', ' ')}), {answer.condition}"),
        f"cuts: {which}",
    )
    side, end = fig.add_axes((0.065, 0.47, 0.47, 0.43)), fig.add_axes((0.59, 0.47, 0.33, 0.43))
    _cut(side, shown[0], bodies.made_of(*np.moveaxis(cuts[0], -1, 0)), (-long, long, low, reach), scale)
    _cut(end, shown[1], bodies.made_of(*np.moveaxis(cuts[1], -1, 0)), (-reach, reach, -reach, reach), scale)
    side.set_title(
        f"cut along the pipe; up is {turn / (2 * np.pi) * 12 or 12:.3g} o'clock", fontsize=8, loc="left"
    )
    end.set_title("cut across at z = 0; up is 12 o'clock", fontsize=8, loc="left")
    side.set_xlabel("z, mm (0 is the middle; symmetric)", fontsize=8)
    bar = fig.colorbar(ScalarMappable(scale, FIELD), cax=fig.add_axes((0.935, 0.52, 0.011, 0.33)))
    bar.ax.tick_params(labelsize=7, length=2)
    bar.ax.set_title("degC", fontsize=7.5, pad=5)
    draw_along(fig.add_axes((0.065, 0.075, 0.90, 0.31)), result)
    return save(fig, path)


def _cut(axes: Axes, value: Array, code: IntArray, extent: tuple[float, ...], scale: Normalize) -> None:
    left, right, low, high = (1e3 * e for e in extent)
    millimetres = (left, right, low, high)
    axes.imshow(
        value,
        origin="lower",
        extent=millimetres,
        cmap=FIELD,
        norm=scale,
        interpolation="nearest",
        aspect="equal",
    )
    edges = np.arange(AIR + 0.5, float(code.max()) + 1.0)
    axes.contour(code, edges, extent=millimetres, colors=INK, linewidths=0.4)
    axes.tick_params(labelsize=7, length=2)
