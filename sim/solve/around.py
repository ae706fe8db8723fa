"""An episode around a support or a fitting, in three dimensions, on one mesh.

The band of a temperature is what that mesh's own steady field is apart from the answer of three, with its band; a
second run with longer steps tells what the steps leave uncertain. A moment's band is what the courses, shifted by the
band of their temperature, make of it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from scipy.interpolate import PPoly

from sim.case import Case, Fitting
from sim.case.episode import STEADY, Control, Episode
from sim.heat.network import Network, network
from sim.section.mesh import IntArray, plan_mesh
from sim.section.shapes import Array
from sim.solve.at_rest import RATIO
from sim.solve.course import Course
from sim.solve.drive import BEFORE, Drive
from sim.solve.episode import TOLERANCE, Record, follow
from sim.solve.episode_result import STEP_SAFETY, EpisodeResult, Run, Series, courses_of
from sim.solve.fitting_quantities import hottest_outside, on_bodies
from sim.solve.interruption import Interruption, around, laid_out, layers_around, unknowns, with_extra
from sim.solve.multigrid import MEMORY_LIMIT, Multigrid, refuse_too_large
from sim.solve.over_time import Start
from sim.solve.passage import passage
from sim.solve.paths import of_episode
from sim.solve.quantities import at_clock, wall_surface
from sim.solve.steady import Solution, cell_temperature, solve
from sim.solve.stiff import State
from sim.solve.support_level import half_length, reach
from sim.solve.support_meshes import SupportResult
from sim.solve.support_quantities import barrier_band, contents_rows, group, wall_band
from sim.solve.transient import Line

LONGER = 4.0  # times the tolerance, of the run that tells what the steps leave uncertain
KNOWN = {  # a quantity over time, and the steady one of which its band is known
    "wall.min": "wall_min",
    "wall.max": "wall_max",
    "contents.min": "contents_min",
    "barrier.max": "barrier_max",
}
NOTES = (
    "around {} one mesh is followed: a band is what its steady field is apart from the answer of three, and"
    " what longer steps change; that of the frozen share and the free passage is of the steps alone",
    "sensors read at the far end of the stretch, where the line does not feel {}; outputs, losses and energy"
    " are those of the line there",
)
CELLS_NOTE = "contents in the hollow of a body have the band of the body's coldest place"
LUMP_NOTE = (
    "contents in hollows are one with the bore's beside them, in what they store and in their ice: the frozen share is"
    " of both, its ring lies on the bore alone, and no ice covers the hollows' surfaces"
)


def solve_around(
    case: Case,
    what: Interruption,
    episode: Episode,
    controls: tuple[Control, ...],
    known: SupportResult,
    fineness: float,
    limit: float = MEMORY_LIMIT,
    start: Start | None = None,
    progress: Callable[[str], None] | None = None,
) -> EpisodeResult:
    """Follow an episode of a case narrowed to its condition around a support or a fitting; known: its steady answer.

    fineness: of the finest of the three meshes of that; limit: of memory, bytes. Raises NotConverged or TooLarge.
    """
    net, line = stretch(case, what, fineness / RATIO**2, limit, known)
    own = solve(net, net.spread(line.temperature), Multigrid())
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
                    f"{net.nodes} nodes around {what.name}, {steps}{time / 3600:.1f} of"
                    f" {episode.lasts / 3600:.1f} h"
                )

        track = follow(net, episode, controls, at, longer * TOLERANCE, recorder(net), (), tell)
        track.fields.clear()  # pictures are of sections
        runs.append(Run(net, track, courses_of(case, episode, track)))
    loose, fine = runs
    apart = _mesh_bands(case, own, known)
    widths = {path: apart.get(path, 0.0) for path in fine.courses}
    shifted = tuple(_shifted(fine, widths, sign) for sign in (1.0, -1.0))
    time = np.unique(np.append(np.arange(0.0, episode.lasts, episode.every), episode.lasts))
    active = tuple(c for c in controls if c.name in episode.control)
    series = {path: _series(path, fine, loose, time, widths[path]) for path in fine.courses}
    notes = [note.format(what.name) for note in NOTES]
    notes += [CELLS_NOTE] * bool(_full(net)) + [LUMP_NOTE] * (
        net.lumped is not None and bool(net.lumped.any())
    )
    return EpisodeResult(case, episode, active, (fine,), loose, time, series, tuple(notes), shifted=shifted)


def stretch(
    case: Case, what: Interruption, fineness: float, limit: float, known: SupportResult | None = None
) -> tuple[Network, Solution]:
    """The network around a support or a fitting, with its allowance, and the section's own field. known: its steady
    answer, whose stretch of line is taken. Raises TooLarge, or ValueError if it cannot be meshed."""
    layout = laid_out(case, what)
    mesh = plan_mesh(layout, fineness)
    plan = network(case, mesh)
    section = solve(plan)
    distance = reach(section) if known is None else known.line.reach
    half = half_length(what, distance, layout.cover_radius) if known is None else float(known.layers.edge[-1])
    layers = layers_around(layout, what, half, distance, fineness)
    refuse_too_large(unknowns(plan, layers, what), limit, what.name, isinstance(what, Fitting))
    net = around(mesh, layers, what, plan.bore is not None).network(plan)
    return with_extra(net, what.allowance if case.tracers else 0.0), section


def _at_first_ambient(net: Network, episode: Episode, own: Solution) -> Solution:
    """The steady field at the episode's first ambient."""
    condition = net.case.conditions[0]
    ambient = Drive(net.case, episode, BEFORE).condition(0.0).ambient
    if ambient == condition.ambient:
        return own
    update = {"conditions": (condition.model_copy(update={"ambient": ambient}),)}
    return solve(replace(net, case=net.case.model_copy(update=update)), own.temperature, Multigrid())


def recorder(net: Network) -> Record:
    """What is kept of a field around a support or a fitting: of contents and ice in the bore the worst layer, of those
    in each hollow, and of each body its extremes."""
    full, place = _full(net), _places(net)

    def record(line: Line, state: State) -> dict[str, float]:
        values = _record(line, state)
        if full:
            cells = cell_temperature(net, state.temperature)
            inside = {number: cells[net.hollow == number] for number in full}
            values |= {f"hollows.{n}.min": float(at.min()) if len(at) else np.nan for n, at in inside.items()}
        if line.fluid is not None:
            share = line.store.frozen(state.enthalpy, state.temperature)
            parts = line.frozen_in(share, place, net.layers.count + 1 + max(full, default=0))
            bore = parts[: net.layers.count]
            worst = int(np.argmax(bore))
            values["frozen"] = float(bore[worst])
            values["passage"] = passage(net.plan, net.by_layer(share)[worst])
            values |= {f"hollows.{n}.frozen": float(parts[net.layers.count + n]) for n in full}
        return values

    return record


def _full(net: Network) -> tuple[int, ...]:
    """Numbers of the bodies whose hollows are full of contents that are cells."""
    if not isinstance(net.support, Fitting) or net.plan.bore is not None:
        return ()
    hollows = [body.hollow for body in net.support.body]
    return tuple(n for n, one in enumerate(hollows, 1) if one is not None and one.filled == "contents")


def _places(net: Network) -> IntArray:
    """Place of the liquid at each node (nodes,), as of `Line.frozen_in`: its layer of the bore, or beyond those, by the
    number of its body, a hollow."""
    place = np.zeros(net.nodes, np.int64)
    own = net.layers.count * net.plan.nodes
    place[:own] = np.repeat(np.arange(net.layers.count), net.plan.nodes)
    if net.hollow is not None:
        inside = np.flatnonzero((net.hollow > 0) & (net.cell_node >= 0))
        place[net.cell_node[inside]] = net.layers.count + net.hollow[inside]
    return place


def _extremes(solution: Solution) -> dict[str, float]:
    """Of wall, contents, outside surface and bodies, K."""
    wall = wall_band(solution).value
    return {
        "contents.min": float(contents_rows(solution).min()),
        "wall.min": float(wall.min()),
        "wall.max": float(wall.max()),
        "barrier.max": max(float(barrier_band(solution).value.max()), hottest_outside(solution)[0]),
    } | on_bodies(solution)


def _record(line: Line, state: State) -> dict[str, float]:
    """What is kept of any field in layers, by the paths of a section."""
    line.rate(state.time, state.temperature, state.enthalpy)
    assert line.balance is not None
    solution, net = line.solution(state.temperature, line.balance), line.network
    values = _extremes(solution)
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
    return values


def _mesh_bands(case: Case, own: Solution, known: SupportResult) -> dict[str, float]:
    """Half widths by path, K: this mesh's steady value against the answer of three meshes, and its band."""
    built = "" if known.installed is None else "with_allowance."
    bands = {}
    for path, value in _extremes(own).items():
        answer = known.quantities.get(built + KNOWN.get(path, path))
        if answer is None:
            bands[path] = np.nan
        elif np.isfinite(value) and np.isfinite(answer.value):
            bands[path] = abs(value - answer.value) + answer.band
    if "contents.min" in bands:
        bands["liquid.min"] = bands["contents.min"]
    for i, tracer in enumerate(case.tracers):
        answer = known.quantities[f"{built}sheath_max"]
        body = group(own, "tracer", index=i)
        hottest = float(body.value[:, body.outer].max())
        bands[f"tracers.{tracer.name}.sheath_max"] = max(answer.band, hottest - answer.value + answer.band)
    for sensor in case.sensors:
        bands[f"sensors.{sensor.name}"] = bands.get("wall.min", 0.0)
    for number in _full(own.network):
        bands[f"hollows.{number}.min"] = bands.get(f"bodies.{number}.min", np.nan)
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
