"""An episode around a support or a fitting, in three dimensions, on two meshes.

Bands are those of the two meshes, and of the coarser with short steps. A temperature's is never less than what the
finer mesh's own steady field is apart from the answer of three, with its band.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sim.case import Case, Fitting
from sim.case.episode import STEADY, Control, Episode
from sim.heat.network import Network, network
from sim.section.mesh import IntArray, plan_mesh
from sim.section.shapes import Array
from sim.solve.at_rest import RATIO
from sim.solve.drive import at_start
from sim.solve.episode import TOLERANCE, Record
from sim.solve.episode_result import EpisodeResult, Run, Series, courses_of, notes_of_switchings, series_of
from sim.solve.fitting_quantities import hottest_outside, on_bodies
from sim.solve.interruption import Interruption, around, laid_out, layers_around, unknowns, with_extra
from sim.solve.multigrid import MEMORY_LIMIT, Multigrid, refuse_too_large
from sim.solve.over_time import TIGHTER, Start
from sim.solve.passage import passage
from sim.solve.quantities import at_clock, wall_surface
from sim.solve.runs import Task, follow_all
from sim.solve.steady import Solution, cell_temperature, solve
from sim.solve.stiff import State
from sim.solve.support_level import half_length, reach
from sim.solve.support_meshes import SupportResult
from sim.solve.support_quantities import barrier_band, contents_rows, group, sheath_max, wall_band
from sim.solve.transient import Line

KNOWN = {  # a quantity over time, and the steady one of which its band is known
    "wall.min": "wall_min",
    "wall.max": "wall_max",
    "contents.min": "contents_min",
    "barrier.max": "barrier_max",
}
AT_ICE = 0.01  # K over the freezing point: contents that are mixed stay there
HOLLOW_ICE = re.compile(r"hollows\.\d+\.frozen")
NOTES = (
    "around {} the episode is followed on two meshes: a band is their difference and what shorter steps change on the"
    " coarser one; a temperature's is at least the distance of the finer mesh's steady field from the answer of three"
    " meshes, and that of ice what this distance is worth in time",
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

    fineness: of the finest of the three meshes of that, the coarsest of which is the finer one here; limit: of memory,
    bytes. Raises NotConverged or TooLarge, or ValueError if it cannot be meshed.
    """
    tasks, least = [], {}
    for i, (coarser, shorter) in enumerate(((RATIO, 1.0), (1.0, 1.0), (RATIO, TIGHTER))):
        net, line = stretch(case, what, fineness / RATIO**2 / coarser, limit, known)
        own = solve(net, net.spread(line.temperature), Multigrid())
        if coarser == 1.0:
            least = _steady_bands(case, own, known)
        begin: Array | State
        if start is not None:
            begin = start.ends[i]
        elif episode.start == STEADY:
            begin = _at_start(net, episode, own).temperature
        else:
            begin = np.full(net.nodes, float(episode.start))
        tasks.append(Task(net, episode, controls, begin, shorter * TOLERANCE, (), recorder))
    runs = []
    for task, track in zip(tasks, follow_all(tasks, progress), strict=True):
        track.fields.clear()  # pictures are of sections
        runs.append(Run(task.network, track, courses_of(case, episode, track)))
    coarse, fine, tight = runs
    time = np.unique(np.append(np.arange(0.0, episode.lasts, episode.every), episode.lasts))
    active = tuple(c for c in controls if c.name in episode.control)
    lumped = fine.network.lumped
    notes = [note.format(what.name) for note in NOTES]
    notes += [CELLS_NOTE] * bool(_full(fine.network))
    notes += [LUMP_NOTE] * (lumped is not None and bool(lumped.any()))
    result = EpisodeResult(case, episode, active, (coarse, fine), tight, time, least=least)
    notes += notes_of_switchings(result)
    series = series_of(result)
    return replace(result, series=series | _moved_ice(result, series), notes=tuple(notes))


def _moved_ice(result: EpisodeResult, series: dict[str, Series]) -> dict[str, Series]:
    """The series of ice, with bands that take in what it is as much sooner or later as the coldest contents' band is
    worth on their way to the freezing point."""
    fine, start = result.fine, result.case.contents.fluid.freezes_at
    if "frozen" not in fine.courses or start is None:
        return {}
    path = "liquid.min" if "liquid.min" in series else "contents.min"
    curve = fine.courses[path]
    begins = curve.first(1, start + AT_ICE)[0]
    if begins is None:
        return {}
    width = float(np.interp(begins, result.time, series[path].band))
    sooner = begins - (curve.first(1, start + AT_ICE + width)[0] or 0.0)
    moved = {}
    for name in ("frozen", "passage", *(p for p in series if HOLLOW_ICE.fullmatch(p))):
        one, course = series[name], fine.courses[name]
        shifts = [np.clip(result.time + by, 0.0, result.episode.lasts) for by in (-sooner, sooner)]
        apart = np.max([np.abs(course.at(at) - one.value) for at in shifts], axis=0)
        band = np.maximum(one.band, apart)
        moved[name] = Series(one.value, band, float(np.nan_to_num(band).max()))
    return moved


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


def _at_start(net: Network, episode: Episode, own: Solution) -> Solution:
    """The steady field at the episode's first ambient and weather."""
    case = at_start(net.case, episode)
    if case.conditions == net.case.conditions:
        return own
    return solve(replace(net, case=case), own.temperature, Multigrid())


def recorder(net: Network) -> Record:
    """What is kept of a field around a support or a fitting: of contents and ice in the bore the worst layer, of those
    in each hollow, and of each body its extremes."""
    full, place = _full(net), _places(net)
    rims = {number: _rim(net, number) for number in full}

    def record(line: Line, state: State) -> dict[str, float]:
        values = _record(line, state)
        assert line.balance is not None
        if full:
            cells, conducts = cell_temperature(net, state.temperature), line.balance.conductivity
            for number, (own, other, half_own, half_other) in rims.items():
                near, far = conducts[own] / half_own, conducts[other] / half_other
                rim = (near * cells[own] + far * cells[other]) / (near + far)
                every = np.concatenate([cells[net.hollow == number], rim])
                values[f"hollows.{number}.min"] = float(every.min()) if len(every) else np.nan
        ring = line.store.ring
        if ring is not None:
            values["contents.stored"] = float((state.enthalpy[ring.node] / ring.area).min())
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


def _rim(net: Network, number: int) -> tuple[IntArray, IntArray, Array, Array]:
    """Faces of a hollow's contents with what is about them: cells on either side (k,), and half the way to each, m."""
    assert net.hollow is not None
    inside, found = net.hollow == number, []
    for name in ("faces", "cells along", "fitting"):
        group = net.joints.groups[name]
        a, b = (group.cell_a, group.half_a), (group.cell_b, group.half_b)
        for (own, half_own), (other, half_other) in ((a, b), (b, a)):
            mine = inside[own] & ~inside[other] & (group.area > 0.0)
            found.append((own[mine], other[mine], half_own[mine], half_other[mine]))
    own, other, half_own, half_other = (np.concatenate(column) for column in zip(*found, strict=True))
    return own, other, half_own, half_other


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


def _steady_bands(case: Case, own: Solution, known: SupportResult) -> dict[str, float]:
    """Half widths by path, K: this mesh's steady value against the answer of three meshes, and its band."""
    built = "" if known.installed is None else "with_allowance."
    bands = {}
    for path, value in _extremes(own).items():
        answer = known.quantities.get(built + KNOWN.get(path, path))
        if answer is not None and np.isfinite(value) and np.isfinite(answer.value):
            bands[path] = abs(value - answer.value) + answer.band
    if "contents.min" in bands:
        bands["liquid.min"] = bands["contents.min"]
    if case.tracers:
        answer = known.quantities[f"{built}sheath_max"]
        apart = abs(sheath_max(own) - answer.value) + answer.band
        bands |= {f"tracers.{tracer.name}.sheath_max": apart for tracer in case.tracers}
    for sensor in case.sensors:
        bands[f"sensors.{sensor.name}"] = bands.get("wall.min", 0.0)
    for number in _full(own.network):
        bands[f"hollows.{number}.min"] = bands.get(f"bodies.{number}.min", 0.0)
    return bands
