"""The numbers an engineer asks of a solved section."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.case.clock_face import angle_to_clock, clock_to_angle
from sim.heat.network import Network, clocks
from sim.heat.outlets import Film
from sim.section.mesh import IntArray, PlanMesh
from sim.section.shapes import Array
from sim.solve.steady import NO_HEAT, Solution, cell_temperature

SKEWED = 0.3  # a face shorter than this part of its sites' distance is a corner, not a stretch of boundary


@dataclass(frozen=True)
class Places:
    """Temperatures of a group of cells in each layer, value (layers, n) K: of its cells, then of its boundary, then of
    the corners of contacts in it. point (n, 2) m in the section; length (n,) m of the boundary, 0 elsewhere;
    outer (n,): on the boundary; cells: how many are cells' own."""

    value: Array
    point: Array
    length: Array
    outer: NDArray[np.bool_]
    cells: int


@dataclass(frozen=True)
class Group:
    """Where the places of a group of cells are in a network, in the order of `Places`.

    inside (cells of the section,); own, other (m,): cells on either side of its boundary's faces; joint (m,): theirs in
    "faces"; half_over_area (m,): from the cell to the face over its area, m/m2 for a layer of a metre; node: surface
    nodes of its cells; met: corners of contacts; point, length, outer: as in `Places`.
    """

    inside: NDArray[np.bool_]
    own: IntArray
    other: IntArray
    joint: IntArray
    half_over_area: Array
    node: IntArray
    met: NDArray[np.bool_]
    point: Array
    length: Array
    outer: NDArray[np.bool_]


def group_places(network: Network, inside: NDArray[np.bool_]) -> Group:
    """The places of a group of cells, kept with its joints."""
    cache, key = network.joints.cache, ("group", inside.tobytes())
    if key not in cache:
        cache[key] = _new_group(network, inside)
    group: Group = cache[key]
    return group


def _new_group(network: Network, inside: NDArray[np.bool_]) -> Group:
    mesh, half, corners = network.mesh, network.plan.halves, network.plan.wedges
    along = half.area / mesh.depth(half.point)  # of a face, in the section
    pair = mesh.face_cells[network.face]
    upright = mesh.face_length[network.face] > SKEWED * mesh.face_distance[network.face]
    one = (inside[pair[:, 0]] != inside[pair[:, 1]]) & upright
    face, first = network.face[one], inside[pair[one, 0]]
    own, other = np.where(first, pair[one].T, pair[one, ::-1].T)
    wide, met = inside[half.cell] & (along > 2 * SKEWED * half.distance), inside[corners.seat_cell]
    point = [mesh.site[inside], mesh.face_point[face], half.point[wide]]
    if met.any():
        point.append(mesh.site[corners.seat_cell[met]])
    length = np.zeros(sum(len(p) for p in point))
    bounds = slice(len(point[0]), len(point[0]) + len(face) + int(wide.sum()))
    length[bounds] = np.concatenate([mesh.face_length[face], along[wide]])
    outer = np.zeros(len(length), bool)
    outer[bounds] = True
    half_over_area = 0.5 * mesh.face_distance[face] / mesh.face_area[face]
    node, joint = half.node[wide], np.flatnonzero(one)
    return Group(inside, own, other, joint, half_over_area, node, met, np.concatenate(point), length, outer)


def places(solution: Solution, inside: NDArray[np.bool_]) -> Places:
    """Cells of a group (cells of the section,), its boundary in the section seen from inside (so a contact's jump is
    on the other side), and its corners of contacts beside round tracers."""
    network, layers = solution.network, solution.network.layers
    group = group_places(network, inside)

    every = cell_temperature(network, solution.temperature)
    cells, k = network.by_layer(every), network.by_layer(solution.conductivity)
    own = cells[:, group.own]
    faces = solution.balance.conductance[solution.balance.parts["faces"]]
    conductance = faces.reshape(layers.count, -1)[:, group.joint]
    leaving = conductance * (own - cells[:, group.other])
    rim = own - leaving * group.half_over_area / (k[:, group.own] * layers.thickness[:, None])
    value = [cells[:, inside], rim, network.by_layer(solution.temperature)[:, group.node]]
    if group.met.any():
        corner = network.wedges.corner_temperature(solution.conductivity, every)
        value.append(corner.reshape(layers.count, -1)[:, group.met])
    return Places(np.concatenate(value, axis=1), group.point, group.length, group.outer, value[0].shape[1])


@dataclass(frozen=True)
class Surface:
    """Temperatures on the boundary of a group of cells: temperature (n,) K, point (n, 2) m, length (n,) m."""

    temperature: Array
    point: Array
    length: Array


def boundary(solution: Solution, inside: NDArray[np.bool_], layer: int = 0) -> Surface:
    """The boundary of a group of cells of a section, or of one layer of a line, as in `places`."""
    inside_places = places(solution, inside)
    return Surface(
        inside_places.value[layer, inside_places.outer],
        inside_places.point[inside_places.outer],
        inside_places.length[inside_places.outer],
    )


def wall_surface(solution: Solution, layer: int = 0) -> tuple[Array, Array]:
    """Temperature of the pipe's outside around the clock: angle from 12 o'clock in [0, 2 pi), increasing, and K."""
    layout = solution.network.mesh.layout
    ring = boundary(solution, region_mask(solution, "wall"), layer)
    outer = np.hypot(*ring.point.T) > 0.5 * (layout.inner_radius + layout.outer_radius)
    angle = np.mod(np.arctan2(*ring.point[outer].T), 2 * np.pi)
    order = np.argsort(angle)
    return angle[order], ring.temperature[outer][order]


def cover_surface(solution: Solution) -> tuple[Array, Array]:
    """Temperature of the outside around the clock, angle about its own centre: as `wall_surface`."""
    network = solution.network
    angle = np.mod(network.cover_angle, 2 * np.pi)
    order = np.argsort(angle)
    return angle[order], solution.temperature[network.cover_node][order]


def region_mask(solution: Solution, *kinds: str, index: int | None = None) -> NDArray[np.bool_]:
    """Cells whose region is of one of the kinds (and of an index)."""
    return region_cells(solution.network.mesh, *kinds, index=index)


def region_cells(mesh: PlanMesh, *kinds: str, index: int | None = None) -> NDArray[np.bool_]:
    """Cells of a mesh whose region is of one of the kinds (and of an index)."""
    wanted = [r.kind in kinds and (index is None or r.index == index) for r in mesh.layout.regions]
    return np.array(wanted)[mesh.cell_region]


def at_clock(angle: Array, temperature: Array, clock: float) -> float:
    """Value at a clock position of a curve around the clock (periodic, linear between samples)."""
    return float(np.interp(clock_to_angle(clock), angle, temperature, period=2 * np.pi))


def _extremes(
    solution: Solution, inside: NDArray[np.bool_], further: Surface | None = None
) -> dict[str, float]:
    """Extremes over cells, their boundary, the corners of contacts and further points; the mean over the cells."""
    inside_places = places(solution, inside)
    value, point, area = (
        inside_places.value[0],
        inside_places.point,
        solution.network.mesh.cell_volume[inside],
    )
    cells = value[: inside_places.cells]
    if further is not None:
        value, point = np.append(value, further.temperature), np.concatenate([point, further.point])
    low, high = int(np.argmin(value)), int(np.argmax(value))
    return {
        "min": float(value[low]),
        "mean": float(np.average(cells, weights=area)),
        "max": float(value[high]),
        "min_clock": float(clocks(point[low : low + 1])[0]),
        "max_clock": float(clocks(point[high : high + 1])[0]),
    }


def _at_level(solution: Solution) -> Surface:
    """The two points where the level meets the wall: liquid, gas and wall are of one temperature there.

    It is the wall's along the bore, linear between the faces on either side.
    """
    layout = solution.network.mesh.layout
    ring = boundary(solution, region_mask(solution, "wall"))
    inner = np.hypot(*ring.point.T) < 0.5 * (layout.inner_radius + layout.outer_radius)
    angle = np.mod(np.arctan2(*ring.point[inner].T), 2 * np.pi)
    order = np.argsort(angle)
    edge = float(np.arccos(layout.level / layout.inner_radius)) * np.array([1.0, -1.0])
    value = np.interp(edge, angle[order], ring.temperature[inner][order], period=2 * np.pi)
    point = layout.inner_radius * np.stack([np.sin(edge), np.cos(edge)], axis=-1)
    return Surface(value, point, np.zeros(2))


def _contents(solution: Solution) -> dict[str, dict[str, float]]:
    network = solution.network
    if network.bore is None:
        extremes = {"contents": _extremes(solution, region_mask(solution, "liquid", "gas"))}
        masks = {part: region_mask(solution, part) for part in ("liquid", "gas")}
        if all(inside.any() for inside in masks.values()):
            corner = _at_level(solution)
            extremes |= {part: _extremes(solution, inside, corner) for part, inside in masks.items()}
        return extremes
    bore = network.bore
    parts: dict[str, float] = {}
    if bore.liquid >= 0:
        parts["liquid"] = float(solution.temperature[bore.liquid])
    elif bore.liquid_at is not None and network.case.contents.state == "flowing":
        parts["liquid"] = bore.liquid_at
    if bore.gas >= 0:
        parts["gas"] = float(solution.temperature[bore.gas])
    if not parts:
        return {"contents": {k: float("nan") for k in ("min", "mean", "max", "min_clock", "max_clock")}}
    area = {p: float(network.mesh.cell_volume[region_mask(solution, p)].sum()) for p in parts}
    weight = np.array([area[p] if area[p] > 0 else 1.0 for p in parts])
    values = np.array(list(parts.values()))
    everywhere = float("nan")
    whole = {
        "min": float(values.min()),
        "mean": float(np.average(values, weights=weight)),
        "max": float(values.max()),
        "min_clock": everywhere,
        "max_clock": everywhere,
    }
    extremes = {"contents": whole}
    if len(parts) > 1:
        extremes |= {p: {"min": v, "mean": v, "max": v} for p, v in parts.items()}
    return extremes


def quantities(solution: Solution) -> Mapping[str, float]:
    """All reported quantities of a solution as {path: value}, each declared in `sim.solve.paths`; temperatures in K.

    Contents without a temperature of their own (an adiabatic bore) are NaN.
    """
    network, balance = solution.network, solution.balance
    case, mesh = network.case, network.mesh
    out: dict[str, float] = {}
    groups = _contents(solution)
    groups["wall"] = _extremes(solution, region_mask(solution, "wall"))
    for group, values in groups.items():
        out |= {f"{group}.{name}": v for name, v in values.items()}
    angle, surface = cover_surface(solution)
    cover = solution.temperature[network.cover_node]
    out["barrier.min"], out["barrier.max"] = float(cover.min()), float(cover.max())
    out["barrier.mean"] = float(np.average(cover, weights=mesh.cover_area))
    out["barrier.max_clock"] = float(angle_to_clock(angle[int(np.argmax(surface))]))
    for i, tracer in enumerate(case.tracers):
        body = region_mask(solution, "tracer", index=i)
        rim = boundary(solution, body)
        cells = cell_temperature(network, solution.temperature)[body]
        out[f"tracers.{tracer.name}.sheath_max"] = float(rim.temperature.max())
        out[f"tracers.{tracer.name}.mean"] = float(np.average(cells, weights=mesh.cell_volume[body]))
        out[f"tracers.{tracer.name}.output"] = float(balance.watts[i])
    angle, wall = wall_surface(solution)
    for sensor in case.sensors:
        out[f"sensors.{sensor.name}.reading"] = at_clock(angle, wall, sensor.clock)
    out |= _heat(solution)
    return out


def _heat(solution: Solution) -> dict[str, float]:
    balance, cover = solution.balance, solution.network.outlets["cover"]
    flow = balance.leaving(solution.temperature)
    from_contents = -balance.through("contents", solution.temperature)
    sun = {}
    if solution.network.case.conditions[0].sun is not None:
        assert isinstance(cover, Film)
        sun = {"from_sun": cover.absorbed(solution.network.case)}
    heat_in = float(balance.heat.sum()) + from_contents + sum(sun.values())
    heat_out = balance.through("cover", solution.temperature) + sum(sun.values())
    scale = max(abs(heat_in), abs(heat_out), float(np.abs(flow).sum()) / 2, NO_HEAT)
    return {
        "heat_in": heat_in,
        "heat_out": heat_out,
        "from_contents": from_contents,
        **sun,
        "closure": abs(heat_in - heat_out) / scale,
    }
