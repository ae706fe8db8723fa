"""What a picture shows of one solved condition, as plain arrays that another process can be given."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.judge.check import ConditionAnswer
from sim.report.words import ZERO, celsius, clock, number
from sim.section.layout import FlatBody, Layout, RoundBody, clock_to_angle
from sim.section.mesh import PlanMesh
from sim.section.shapes import Array
from sim.solve.quantities import boundary, cover_surface, region_mask, wall_surface
from sim.solve.steady import cell_temperature


@dataclass(frozen=True)
class Mark:
    """A marked point. kind: contents, wall, sheath, sensor; label: its line in the legend; short: beside the point."""

    kind: str
    label: str
    short: str
    x: float
    y: float


@dataclass(frozen=True)
class Scene:
    """One condition's field for the pictures. Lengths in m, temperatures in degC, angles clockwise from 12.

    point (n, 2), value (n,), inner (n,) whether the point is of wall or contents; curve: interfaces as polylines;
    wall, cover: (angle, temperature) around the clock; limits: (name, which curve, temperature).
    """

    name: str
    weather: str
    layout: Layout
    point: Array
    value: Array
    inner: Array
    curves: tuple[Array, ...]
    marks: tuple[Mark, ...]
    wall: tuple[Array, Array]
    cover: tuple[Array, Array]
    wall_band: float
    cover_band: float
    tracers: tuple[tuple[str, float, float], ...]
    sensors: tuple[tuple[str, float, float], ...]
    limits: tuple[tuple[str, str, float], ...]
    wind_from: float | None
    bore_known: bool


@dataclass(frozen=True)
class MeshScene:
    """One mesh for its picture: faces as pairs of points (m, 2, 2), the interfaces, and where to look closer."""

    layout: Layout
    cells: int
    faces: Array
    curves: tuple[Array, ...]
    closer: tuple[float, float, float]


def curves_of(mesh: PlanMesh) -> tuple[Array, ...]:
    """The interfaces of a section as polylines, m."""
    return tuple(
        p.curve.point(np.linspace(0.0, 1.0, max(2, min(181, int(p.curve.length / 4e-4)))))
        for p in mesh.pieces
    )


def scene(answer: ConditionAnswer) -> Scene:
    """The picture of a condition that has a field. Raises ValueError if it did not converge."""
    if answer.result is None:
        raise ValueError(f"condition {answer.name} has no field to draw")
    case, solution = answer.case, answer.result.solution
    net, mesh = solution.network, solution.network.mesh
    cells = cell_temperature(net, solution.temperature) - ZERO
    bore = region_mask(solution, "liquid", "gas")
    known = bool(np.isfinite(answer.result.value("contents.min")))
    inner = region_mask(solution, "wall") | (bore if known else np.zeros(mesh.cells, bool))
    keep = np.ones(mesh.cells, bool) if known else ~bore
    rim = solution.temperature[net.cover_node] - ZERO
    condition = case.conditions[0]
    wind = f", wind {number(condition.wind, 1)} m/s" if condition.wind > 0 else ", still air"
    if case.outside.coefficient is not None:
        wind = f", {case.outside.coefficient:g} W/m2/K outside"
    found = answer.result.quantities
    around, cover = wall_surface(solution), cover_surface(solution)
    return Scene(
        answer.name,
        f"{number(condition.ambient - ZERO, 1)} degC{wind}",
        mesh.layout,
        np.concatenate([mesh.site[keep], mesh.cover_point]),
        np.concatenate([cells[keep], rim]),
        np.concatenate([inner[keep], np.zeros(len(rim), bool)]),
        curves_of(mesh),
        _marks(answer, cells, bore if known else None),
        (around[0], around[1] - ZERO),
        (cover[0], cover[1] - ZERO),
        max(found["wall.min"].band, found["wall.max"].band),
        max(found["barrier.min"].band, found["barrier.max"].band),
        tuple(
            (t.name, clock_to_angle(t.clock), _half_width(mesh.layout, i)) for i, t in enumerate(case.tracers)
        ),
        tuple((s.name, clock_to_angle(s.clock), s.reading.value - ZERO) for s in answer.sensors),
        _limits(answer),
        clock_to_angle(condition.wind_from)
        if condition.wind_from is not None and condition.wind > 0
        else None,
        known,
    )


def _half_width(layout: Layout, tracer: int) -> float:
    """Half the angle a tracer covers on the pipe, rad."""
    body = next(b for b in layout.bodies if b.index == tracer)
    if isinstance(body, FlatBody):
        return body.half_angle
    return body.radius / layout.outer_radius


def _limits(answer: ConditionAnswer) -> tuple[tuple[str, str, float], ...]:
    limits = answer.case.limits
    wanted = (
        ("wall_min", "wall", limits.wall_min),
        ("contents_min", "wall", limits.contents_min),
        ("wall_max", "wall", limits.wall_max),
        ("barrier_max", "cover", limits.barrier_max),
    )
    return tuple((name, curve, value - ZERO) for name, curve, value in wanted if value is not None)


def _marks(answer: ConditionAnswer, cells: Array, bore: NDArray[np.bool_] | None) -> tuple[Mark, ...]:
    assert answer.result is not None
    solution, found = answer.result.solution, answer.result.quantities
    mesh, case = solution.network.mesh, answer.case
    marks: list[Mark] = []
    if solution.network.bore is None and bore is not None:
        for part, words in (("liquid", "coldest liquid"), ("contents", "coldest contents")):
            inside = region_mask(solution, "liquid") if part == "liquid" else bore
            if f"{part}.min" not in found or (part == "contents" and marks):
                continue
            x, y = mesh.site[np.flatnonzero(inside)[np.argmin(cells[inside])]]
            at = clock(found[f"{part}.min_clock"].value)
            marks.append(Mark("contents", f"{words} {celsius(found[f'{part}.min'])} degC, {at}", "", x, y))
    wall = region_mask(solution, "wall")
    x, y = mesh.site[np.flatnonzero(wall)[np.argmin(cells[wall])]]
    at = clock(found["wall.min_clock"].value)
    marks.append(
        Mark("wall", f"coldest wall {celsius(found['wall.min'])} degC, {at}", "", float(x), float(y))
    )
    for i, tracer in enumerate(case.tracers):
        rim = boundary(solution, region_mask(solution, "tracer", index=i))
        x, y = rim.point[np.argmax(rim.temperature)]
        value = celsius(found[f"tracers.{tracer.name}.sheath_max"])
        marks.append(Mark("sheath", f"hottest sheath of {tracer.name} {value} degC", "", float(x), float(y)))
    radius = mesh.layout.outer_radius
    for sensor in answer.sensors:
        angle = clock_to_angle(sensor.clock)
        x, y = radius * np.sin(angle), radius * np.cos(angle)
        label = f"sensor {sensor.name} reads {celsius(sensor.reading)} degC, {clock(sensor.clock)}"
        marks.append(Mark("sensor", label, sensor.name, float(x), float(y)))
    return tuple(marks)


def mesh_scene(answer: ConditionAnswer) -> MeshScene:
    """The finest mesh of a condition that has a field."""
    assert answer.result is not None
    mesh = answer.result.solution.network.mesh
    layout = mesh.layout
    ends = np.concatenate([mesh.face_ends, mesh.cover_ends]).astype(int)
    return MeshScene(layout, mesh.cells, mesh.vertex[ends], curves_of(mesh), _closer(layout))


def _closer(layout: Layout) -> tuple[float, float, float]:
    """Centre and half width of the enlarged detail: the first tracer, or the top of the wall without one."""
    if not layout.bodies:
        middle = 0.5 * (layout.inner_radius + layout.outer_radius)
        return 0.0, middle, 2.5 * (layout.outer_radius - layout.inner_radius)
    body = layout.bodies[0]
    if isinstance(body, RoundBody):
        return body.cx, body.cy, 1.9 * body.radius
    middle = 0.5 * (body.inner + body.outer)
    size = max(body.half_angle * body.inner, 0.5 * (body.outer - body.inner))
    return float(middle * np.sin(body.clock_angle)), float(middle * np.cos(body.clock_angle)), 1.7 * size
