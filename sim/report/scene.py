"""From a solved condition to what its pictures are drawn from."""

import numpy as np
from numpy.typing import NDArray

from sim.case import Case, Limits
from sim.case.clock_face import clock_to_angle
from sim.judge.sensors import SensorReading, read_sensors
from sim.report.stage import Array, FlowScene, Mark, MeshScene, Outline, Scene
from sim.report.words import ZERO, celsius, clock, coldest_at, number
from sim.section.layout import FlatBody, Layout, RoundBody
from sim.section.mesh import PlanMesh
from sim.solve.at_rest import SectionResult
from sim.solve.measures import LIMITS
from sim.solve.quantities import boundary, cover_surface, region_mask, wall_surface
from sim.solve.steady import cell_temperature

FINEST = 4e-4
"""Interfaces are drawn through points about this far apart, m."""


def scene(result: SectionResult) -> Scene:
    """What the pictures of a condition show."""
    case, solution, values = result.case, result.solution, result.quantities
    sensors = read_sensors(result)
    net, mesh = solution.network, solution.network.mesh
    cells = cell_temperature(net, solution.temperature) - ZERO
    bore = region_mask(solution, "liquid", "gas")
    known = bool(np.isfinite(values["contents.min"].value))
    inner = region_mask(solution, "wall") | (bore if known else np.zeros(mesh.cells, bool))
    keep = np.ones(mesh.cells, bool) if known else ~bore
    rim = solution.temperature[net.cover_node] - ZERO
    around, cover = wall_surface(solution), cover_surface(solution)
    return Scene(
        name=case.conditions[0].name,
        weather=_weather(case),
        outline=outline_of(mesh.layout),
        point=np.concatenate([mesh.site[keep], mesh.cover_point]),
        value=np.concatenate([cells[keep], rim]),
        inner=np.concatenate([inner[keep], np.zeros(len(rim), bool)]),
        curves=curves_of(mesh),
        marks=_marks(result, sensors, cells, bore if known else None),
        wall=(around[0], around[1] - ZERO),
        cover=(cover[0], cover[1] - ZERO),
        wall_band=max(values["wall.min"].band, values["wall.max"].band),
        cover_band=max(values["barrier.min"].band, values["barrier.max"].band),
        tracers=tuple(
            (t.name, clock_to_angle(t.clock), _half(mesh.layout, i)) for i, t in enumerate(case.tracers)
        ),
        sensors=tuple((s.name, clock_to_angle(s.clock), s.reading.value - ZERO) for s in sensors),
        limits=_limits(case.limits),
        wet=tuple(
            (start, stop, mesh.layout.layer_radii[layer], mesh.layout.layer_radii[layer + 1])
            for layer, start, stop in mesh.layout.wet
        ),
        wind_from=_wind(case),
        bore_known=known,
    )


def flow_scene(result: SectionResult) -> FlowScene | None:
    """What the pictures of contents that were followed show; None where they were not."""
    flow, layout = result.solution.flow, result.solution.network.mesh.layout
    if flow is None or flow.frames is None:
        return None
    frames, node = flow.frames, result.solution.network.cell_node[flow.mesh.cell]
    mean = result.solution.temperature[node] - ZERO
    tracers = [(clock_to_angle(t.clock), _half(layout, n)) for n, t in enumerate(result.case.tracers)]
    return FlowScene(
        name=result.case.conditions[0].name,
        radius=layout.inner_radius,
        point=flow.mesh.scale * flow.mesh.site,
        mean=mean,
        psi=flow.motion.state.psi,
        swing=frames.swing,
        frames=tuple((t - ZERO, psi) for t, psi in zip(frames.temperature, frames.psi, strict=True)),
        tracers=tuple(tracers),
    )


def mesh_scene(mesh: PlanMesh) -> MeshScene:
    """What the picture of a mesh shows."""
    ends = np.concatenate([mesh.face_ends, mesh.cover_ends]).astype(int)
    present = np.bincount(mesh.cell_region, minlength=len(mesh.layout.regions)) > 0
    named = tuple(
        (r.kind, r.index, r.name) for r, there in zip(mesh.layout.regions, present, strict=True) if there
    )
    return MeshScene(
        outline=outline_of(mesh.layout),
        cells=mesh.cells,
        faces=mesh.vertex[ends],
        curves=curves_of(mesh),
        fills=fills(mesh.layout),
        names=named,
        closer=_closer(mesh.layout),
    )


def outline_of(layout: Layout) -> Outline:
    reach = max([layout.outer_radius, *(body.farthest(0.0, 0.0) for body in layout.bodies)])
    return Outline(layout.inner_radius, layout.outer_radius, reach, layout.cover_radius, layout.drop)


def curves_of(mesh: PlanMesh) -> tuple[Array, ...]:
    """The interfaces of a section as polylines."""
    return tuple(
        p.curve.point(np.linspace(0.0, 1.0, max(2, min(181, int(p.curve.length / FINEST)))))
        for p in mesh.pieces
    )


def _weather(case: Case) -> str:
    condition, coefficient = case.conditions[0], case.outside.coefficient
    wind = f"wind {number(condition.wind, 1)} m/s" if condition.wind > 0 else "still air"
    if coefficient is not None:
        wind = f"{coefficient:g} W/m2/K outside"
    return f"{number(condition.ambient - ZERO, 1)} degC, {wind}"


def _wind(case: Case) -> float | None:
    """Where the wind blows from, where that matters."""
    condition = case.conditions[0]
    if condition.wind_from is None or condition.wind <= 0 or case.outside.coefficient is not None:
        return None
    return clock_to_angle(condition.wind_from)


def _half(layout: Layout, tracer: int) -> float:
    body = next(b for b in layout.bodies if b.index == tracer)
    if isinstance(body, FlatBody):
        return body.half_angle
    return body.radius / layout.outer_radius


def _limits(limits: Limits) -> tuple[tuple[str, str, float], ...]:
    shown = (
        ("wall_min", "wall", limits.wall_min),
        ("contents_min", "wall", limits.contents_min),
        ("wall_max", "wall", limits.wall_max),
        ("barrier_max", "cover", limits.barrier_max),
    )
    return tuple(
        (LIMITS[name].words(), curve, value - ZERO) for name, curve, value in shown if value is not None
    )


def _marks(
    result: SectionResult, sensors: tuple[SensorReading, ...], cells: Array, bore: NDArray[np.bool_] | None
) -> tuple[Mark, ...]:
    solution, values = result.solution, result.quantities
    mesh = solution.network.mesh
    marks: list[Mark] = []

    def coldest(kind: str, words: str, path: str, inside: NDArray[np.bool_]) -> None:
        x, y = mesh.site[np.flatnonzero(inside)[np.argmin(cells[inside])]]
        at = coldest_at(values, path).removeprefix("at ")
        marks.append(
            Mark(kind, f"{words} {celsius(values[f'{path}.min'])} degC, {at}", "", float(x), float(y))
        )

    if solution.network.bore is None and bore is not None:
        if "liquid.min" in values:
            coldest("contents", "coldest liquid", "liquid", region_mask(solution, "liquid"))
        else:
            coldest("contents", "coldest contents", "contents", bore)
    coldest("wall", "coldest wall", "wall", region_mask(solution, "wall"))
    for i, tracer in enumerate(result.case.tracers):
        rim = boundary(solution, region_mask(solution, "tracer", index=i))
        x, y = rim.point[np.argmax(rim.temperature)]
        value = celsius(values[f"tracers.{tracer.name}.sheath_max"])
        label = f"hottest sheath of {tracer.name} {value} degC"
        marks.append(Mark("sheath", label, tracer.name, float(x), float(y)))
    for sensor in sensors:
        angle = clock_to_angle(sensor.clock)
        x, y = mesh.layout.outer_radius * np.sin(angle), mesh.layout.outer_radius * np.cos(angle)
        label = f"sensor {sensor.name} reads {celsius(sensor.reading)} degC, {clock(sensor.clock)}"
        marks.append(Mark("sensor", label, sensor.name, float(x), float(y)))
    return tuple(marks)


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


def fills(layout: Layout) -> tuple[tuple[str, int, Array], ...]:
    """(kind, number, outline (n, 2) in m) of every region, outermost first: the later covers the earlier."""
    low = (0.0, -layout.drop)
    painted: list[tuple[str, int, Array]] = []
    for i in range(len(layout.layer_radii) - 2, -1, -1):
        painted.append(("layer", i, _circle(*low, layout.layer_radii[i + 1])))
        for layer, start, stop in layout.wet:
            if layer == i:
                turn = start + np.linspace(0.0, 1.0, 91) * np.mod(stop - start, 2 * np.pi)
                arc = _ring(turn, layout.layer_radii[i + 1], -layout.drop)
                painted.append(("wet", i, np.concatenate([[low], arc])))
    if layout.oversize:
        painted.append(("void", 0, _circle(*low, layout.layer_radii[0])))
    painted += [("void", 0, hull.polygon) for hull in layout.hulls if hull.void]
    painted += [("void", 0, _sector(gap)) for gap in layout.gaps]
    for body in reversed(layout.bodies):
        outline = _circle(body.cx, body.cy, body.radius) if isinstance(body, RoundBody) else _sector(body)
        painted.append(("tracer", body.index, outline))
    painted.append(("wall", 0, _circle(0.0, 0.0, layout.outer_radius)))
    bore = _circle(0.0, 0.0, layout.inner_radius)
    painted.append(("liquid" if layout.level == np.inf else "gas", 0, bore))
    if abs(layout.level) < layout.inner_radius:
        half = np.arccos(-layout.level / layout.inner_radius)
        painted.append(("liquid", 0, _ring(np.pi + np.linspace(-half, half, 91), layout.inner_radius, 0.0)))
    return tuple(painted)


def _ring(turn: Array, radius: float, y: float) -> Array:
    return np.stack([radius * np.sin(turn), y + radius * np.cos(turn)], axis=-1)


def _circle(x: float, y: float, radius: float) -> Array:
    return _ring(np.linspace(0.0, 2 * np.pi, 181), radius, y) + np.array([x, 0.0])


def _sector(body: FlatBody) -> Array:
    turn = body.clock_angle + np.linspace(-body.half_angle, body.half_angle, 25)
    return np.concatenate([_ring(turn, body.inner, 0.0), _ring(turn[::-1], body.outer, 0.0)])
