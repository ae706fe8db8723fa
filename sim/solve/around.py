"""An episode around a support, in three dimensions, on one mesh.

The band of a temperature is what that mesh's own steady field is apart from the answer of three, with its band; a
second run with longer steps tells what the steps leave uncertain. A moment's band is what the courses, shifted by the
band of their temperature, make of it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from scipy.interpolate import PPoly

from sim.case import Case, Support
from sim.case.episode import STEADY, Control, Episode
from sim.heat.network import Network, network
from sim.heat.support_layers import support_network
from sim.section.extrude import z_layers
from sim.section.mesh import plan_mesh
from sim.section.shapes import Array
from sim.section.support_plan import place_support
from sim.solve.at_rest import RATIO
from sim.solve.course import Course
from sim.solve.drive import BEFORE, Drive
from sim.solve.episode import TOLERANCE, follow
from sim.solve.episode_result import STEP_SAFETY, EpisodeResult, Run, Series, courses_of
from sim.solve.multigrid import MEMORY_LIMIT, Multigrid, refuse_too_large
from sim.solve.over_time import Start
from sim.solve.passage import passage
from sim.solve.paths import of_episode
from sim.solve.quantities import at_clock, wall_surface
from sim.solve.steady import Solution, solve
from sim.solve.stiff import State
from sim.solve.support_level import half_length, reach
from sim.solve.support_meshes import SupportResult
from sim.solve.support_quantities import barrier_band, contents_rows, group, wall_band
from sim.solve.transient import Line

LONGER = 4.0  # times the tolerance, of the run that tells what the steps leave uncertain
KNOWN = {  # a quantity around a support over time, and the support's own of which its band is known
    "wall.min": "wall_min",
    "wall.max": "wall_max",
    "contents.min": "contents_min",
    "liquid.min": "liquid_min",
    "barrier.max": "barrier_max",
}
NOTES = (
    "around the support one mesh is followed: a band is what its steady field is apart from the answer of three, and"
    " what longer steps change; that of the frozen share and the free passage is of the steps alone",
    "sensors read at the far end of the stretch, where the line does not feel the support; outputs and losses"
    " are those of the line there",
)


def solve_around(
    case: Case,
    support: Support,
    episode: Episode,
    controls: tuple[Control, ...],
    known: SupportResult,
    fineness: float,
    limit: float = MEMORY_LIMIT,
    start: Start | None = None,
    progress: Callable[[str], None] | None = None,
) -> EpisodeResult:
    """Follow an episode of a case narrowed to its condition around a support; known: the support's steady answer there.

    fineness: of the finest of the three meshes of that; limit: of memory, bytes. Raises NotConverged or TooLarge.
    """
    net, line = _stretch(case, support, fineness / RATIO**2, limit)
    own = solve(net, np.tile(line.temperature, net.layers.count), Multigrid())
    begin: Array | State
    if start is not None:
        begin = start.ends[0]
    elif episode.start == STEADY:
        begin = _at_first_ambient(net, episode, own).temperature
    else:
        begin = np.full(net.nodes, float(episode.start))
    runs = []
    for longer in (LONGER, 1.0):
        at = start.ends[1] if start is not None and longer > 1.0 else begin

        def tell(time: float, longer: float = longer) -> None:
            if progress is not None:
                steps = "long steps, " if longer > 1.0 else ""
                progress(
                    f"{net.nodes} nodes around {support.name}, {steps}{time / 3600:.1f} of"
                    f" {episode.lasts / 3600:.1f} h"
                )

        track = follow(net, episode, controls, at, longer * TOLERANCE, record, (), tell)
        track.fields.clear()  # pictures are of sections
        runs.append(Run(net, track, courses_of(case, episode, track)))
    loose, fine = runs
    apart = _mesh_bands(case, own, known)
    widths = {path: apart.get(path, 0.0) for path in fine.courses}
    shifted = tuple(_shifted(fine, widths, sign) for sign in (1.0, -1.0))
    time = np.unique(np.append(np.arange(0.0, episode.lasts, episode.every), episode.lasts))
    active = tuple(c for c in controls if c.name in episode.control)
    series = {path: _series(path, fine, loose, time, widths[path]) for path in fine.courses}
    return EpisodeResult(case, episode, active, (fine,), loose, time, series, NOTES, shifted=shifted)


def _stretch(case: Case, support: Support, fineness: float, limit: float) -> tuple[Network, Solution]:
    """The network around a support, with its allowance, and the section's own field."""
    layout = place_support(case, support)
    plan = network(case, plan_mesh(layout, fineness))
    section = solve(plan)
    distance = reach(section)
    half = half_length(support, distance, layout.cover_radius)
    layers = z_layers(layout, half, distance, fineness, (support.allowance_over / 2,))
    refuse_too_large(layers.count * plan.nodes, limit, support.name)
    return support_network(plan, layers, support, support.allowance if case.tracers else 0.0), section


def _at_first_ambient(net: Network, episode: Episode, own: Solution) -> Solution:
    """The steady field at the episode's first ambient."""
    condition = net.case.conditions[0]
    ambient = Drive(net.case, episode, BEFORE).condition(0.0).ambient
    if ambient == condition.ambient:
        return own
    update = {"conditions": (condition.model_copy(update={"ambient": ambient}),)}
    return solve(replace(net, case=net.case.model_copy(update=update)), own.temperature, Multigrid())


def record(line: Line, state: State) -> dict[str, float]:
    """What is kept of a field around a support, by the paths of a section: of contents and ice the worst layer."""
    line.rate(state.time, state.temperature, state.enthalpy)
    assert line.balance is not None
    solution, net = line.solution(state.temperature, line.balance), line.network
    wall, barrier = wall_band(solution).value, barrier_band(solution).value
    values = {
        "contents.min": float(contents_rows(solution).min()),
        "wall.min": float(wall.min()),
        "wall.max": float(wall.max()),
        "barrier.max": float(barrier.max()),
    }
    if np.isin(("liquid", "gas"), net.mesh.kind).all():
        values["liquid.min"] = float(contents_rows(solution, "liquid").min())
    for i, tracer in enumerate(net.case.tracers):
        body = group(solution, "tracer", index=i)
        values[f"tracers.{tracer.name}.sheath_max"] = float(body.value[:, body.outer].max())
        values[f"tracers.{tracer.name}.output"] = float(line.balance.output[i, -1])
    values["heat_in"] = float(line.balance.output[:, -1].sum())
    part = line.balance.to_parts["cover"]
    far = line.balance.to_node[part] // net.plan.nodes == net.layers.count - 1
    lost = float(line.balance.leaving(state.temperature)[part][far].sum())
    values["heat_out"] = lost / float(net.layers.thickness[-1])
    angle, surface = wall_surface(solution, layer=-1)
    for sensor in net.case.sensors:
        values[f"sensors.{sensor.name}"] = at_clock(angle, surface, sensor.clock)
    values["ambient"] = line.drive.condition(state.time).ambient
    if line.fluid is not None:
        share = line.store.frozen(state.enthalpy, state.temperature)
        each = share.reshape(net.layers.count, -1)
        parts = [line.frozen_share(share, layer) for layer in range(net.layers.count)]
        worst = int(np.argmax(parts))
        values["frozen"] = parts[worst]
        values["passage"] = passage(net.plan, each[worst])
    return values


def _mesh_bands(case: Case, own: Solution, known: SupportResult) -> dict[str, float]:
    """Half widths by path, K: this mesh's steady value against the answer of three meshes, and its band."""
    built = known.installed is not None
    wall, barrier = wall_band(own).value, barrier_band(own).value
    here = {
        "wall.min": float(wall.min()),
        "wall.max": float(wall.max()),
        "contents.min": float(contents_rows(own).min()),
        "barrier.max": float(barrier.max()),
    }
    bands = {}
    for path, value in here.items():
        answer = known.quantities[("with_allowance." if built else "") + KNOWN[path]]
        if np.isfinite(value) and np.isfinite(answer.value):
            bands[path] = abs(value - answer.value) + answer.band
    if "contents.min" in bands:
        bands["liquid.min"] = bands["contents.min"]
    for i, tracer in enumerate(case.tracers):
        answer = known.quantities[("with_allowance." if built else "") + "sheath_max"]
        body = group(own, "tracer", index=i)
        hottest = float(body.value[:, body.outer].max())
        bands[f"tracers.{tracer.name}.sheath_max"] = max(answer.band, hottest - answer.value + answer.band)
    for sensor in case.sensors:
        bands[f"sensors.{sensor.name}"] = bands.get("wall.min", 0.0)
    return bands


def _shifted(run: Run, widths: dict[str, float], sign: float) -> Run:
    """A run whose courses are all warmer, or all colder, by the band of the meshes."""
    courses = {}
    for path, curve in run.courses.items():
        by = sign * widths[path]
        c = curve.curve.c.copy()
        c[3] += by
        courses[path] = Course(curve.times, curve.value + by, PPoly(c, curve.curve.x), curve.steps)
    return replace(run, courses=courses)


def _series(path: str, fine: Run, loose: Run, time: Array, width: float) -> Series:
    value = fine.courses[path].at(time)
    if of_episode(path).band == "none":
        return Series(value, np.zeros(len(value)), 0.0)
    band = width + STEP_SAFETY * np.abs(loose.courses[path].at(time) - value)
    return Series(value, band, float(np.nan_to_num(band).max()))
