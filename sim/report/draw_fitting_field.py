"""The field around a fitting: cuts along the pipe and across it, and temperatures along the pipe."""

from pathlib import Path

import numpy as np
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from scipy.spatial import cKDTree

from sim.case import Fitting
from sim.judge.support import SupportAnswer
from sim.report.draw_fitting import cuts_of
from sim.report.draw_support import draw_along, scale_of
from sim.report.glyphs import drawable
from sim.report.style import FIELD, figure, heading, save
from sim.report.words import ZERO
from sim.section.bodies import AIR, CONTENTS, Bodies, bodies_of
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
    fig = figure(10.4, 7.6)
    which = "with the allowance" if result.installed is not None else "tracer alone"
    title = f"{answer.name} ({fitting.family.replace('_', ' ')}), {answer.condition}"
    heading(fig, drawable(title), f"cuts: {which}")
    planes = fig.add_axes((0.065, 0.47, 0.47, 0.43)), fig.add_axes((0.59, 0.47, 0.33, 0.43))
    cuts = cuts_of(bodies, POINTS, *planes)
    shown = [sampled(result, field, bodies, cut.point.reshape(-1, 3)).reshape(POINTS, POINTS) for cut in cuts]
    scale = Normalize(min(float(np.nanmin(v)) for v in shown), max(float(np.nanmax(v)) for v in shown))
    for cut, axes, value in zip(cuts, planes, shown, strict=True):
        code = cut.of(bodies)
        edges = np.arange(AIR + 0.5, float(code.max()) + 1.0)
        cut.show(axes, value, code, edges, 0.4, cmap=FIELD, norm=scale)
    scale_of(fig, ScalarMappable(scale, FIELD), 0.935)
    draw_along(fig.add_axes((0.065, 0.075, 0.90, 0.31)), result)
    return save(fig, path)
