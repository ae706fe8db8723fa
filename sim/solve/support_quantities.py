"""The numbers an engineer asks of the field around a support."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.heat.network import clocks
from sim.heat.support import LegFin
from sim.section.mesh import IntArray
from sim.section.shapes import Array
from sim.solve.quantities import SKEWED, boundary, quantities, region_mask
from sim.solve.steady import Solution, cell_temperature

TENTH = 0.1  # of the dip, at which its reach ends


@dataclass(frozen=True)
class Band:
    """Temperatures of a group of cells and its boundary along z: value (rows, n) K, point (n, 2) m, z (rows,) m.

    The first row is z = 0, from the parabola through the first two layers (the plane is one of symmetry). Cells come
    first, then the boundary; outer (n,): on the boundary, not a cell's own value.
    """

    value: Array
    point: Array
    z: Array
    outer: NDArray[np.bool_]


def at_middle(layers: Array, value: Array) -> Array:
    """Put a row for z = 0 before rows at layer centres: the even parabola through the first two, (rows + 1, n)."""
    if len(value) < 2:
        return np.concatenate([value[:1], value])
    z1, z2 = layers[:2]
    first = value[:1] - (value[1:2] - value[:1]) * z1**2 / (z2**2 - z1**2)
    return np.concatenate([first, value])


def _of_kind(solution: Solution, *kinds: str, index: int | None = None) -> NDArray[np.bool_]:
    mesh = solution.network.plan.mesh
    wanted = [r.kind in kinds and (index is None or r.index == index) for r in mesh.layout.regions]
    return np.array(wanted)[mesh.cell_region]


def group(solution: Solution, inside: NDArray[np.bool_]) -> Band:
    """Cells of a group and the boundary around them in the plan, the side of the group."""
    network, balance = solution.network, solution.balance
    plan, mesh, layers = network.plan, network.plan.mesh, network.layers
    cells = cell_temperature(network, solution.temperature).reshape(layers.count, mesh.cells)
    conductivity = solution.conductivity.reshape(layers.count, mesh.cells)
    faces = balance.conductance[balance.parts["faces"]].reshape(layers.count, len(plan.face))
    each = solution.temperature.reshape(layers.count, plan.nodes)
    pair = mesh.face_cells[plan.face]
    one = inside[pair[:, 0]] != inside[pair[:, 1]]
    one &= mesh.face_length[plan.face] > SKEWED * mesh.face_gap[plan.face]
    face, pair = plan.face[one], pair[one]
    own = np.where(inside[pair[:, 0]], pair[:, 0], pair[:, 1])
    other = np.where(inside[pair[:, 0]], pair[:, 1], pair[:, 0])
    leaving = faces[:, one] * (cells[:, own] - cells[:, other])
    area = mesh.face_length[face] * layers.thickness[:, None]
    value = cells[:, own] - leaving * 0.5 * mesh.face_gap[face] / (conductivity[:, own] * area)
    mine = inside[plan.halves.cell]
    everything = np.concatenate([cells[:, inside], value, each[:, plan.halves.node[mine]]], axis=1)
    point = np.concatenate([mesh.site[inside], mesh.face_point[face], plan.halves.point[mine]])
    outer = np.arange(len(point)) >= inside.sum()
    z = np.concatenate([[0.0], layers.centre])
    return Band(at_middle(layers.centre, everything), point, z, outer)


def wall_band(solution: Solution) -> Band:
    """The pipe wall, with the corners of contacts beside round tracers last, as in a section's extremes."""
    inside, network = _of_kind(solution, "wall"), solution.network
    wall, layers, corners = group(solution, inside), network.layers, network.plan.wedges
    own = inside[corners.seat_cell]
    if not own.any():
        return wall
    cells = cell_temperature(network, solution.temperature)
    value = network.wedges.corner_temperature(solution.conductivity, cells).reshape(layers.count, -1)[:, own]
    return Band(
        np.concatenate([wall.value, at_middle(layers.centre, value)], axis=1),
        np.concatenate([wall.point, network.plan.mesh.site[corners.seat_cell[own]]]),
        wall.z,
        np.append(wall.outer, np.zeros(own.sum(), bool)),
    )


def line_wall(section: Solution) -> Array:
    """Temperatures of the line's own wall in the order of `wall_band`, K."""
    inside = region_mask(section, "wall")
    cells = cell_temperature(section.network, section.temperature)
    corners = section.network.wedges
    own = inside[corners.seat_cell]
    corner = corners.corner_temperature(section.conductivity, cells)[own] if own.any() else np.zeros(0)
    return np.concatenate([cells[inside], boundary(section, inside).temperature, corner])


def barrier_band(solution: Solution) -> Band:
    """The outside surface: barrier, the bare strip beside a leg, and the leg's own cut face."""
    network = solution.network
    plan, layers = network.plan, network.layers
    each = solution.temperature.reshape(layers.count, plan.nodes)[:, plan.cover_node]
    point = plan.mesh.cover_point - np.array([0.0, -plan.mesh.layout.drop])
    z = np.concatenate([[0.0], layers.centre])
    return Band(at_middle(layers.centre, each), point, z, np.ones(len(point), bool))


def contents_rows(solution: Solution, *parts: str) -> Array:
    """Lowest temperature of the contents in each row as in `Band`, K; NaN where they have none of their own.

    parts: of "liquid" and "gas", both if none is named, as a section's contents.min.
    """
    wanted = parts or ("liquid", "gas")
    network = solution.network
    bore, layers = network.plan.bore, network.layers
    if bore is None:
        lowest: Array = group(solution, _of_kind(solution, *wanted)).value.min(axis=1)
        return lowest
    each = solution.temperature.reshape(layers.count, network.plan.nodes)
    lumps = {"liquid": bore.liquid, "gas": bore.gas}
    rows = [at_middle(layers.centre, each[:, [lumps[p]]])[:, 0] for p in wanted if lumps[p] >= 0]
    if bore.liquid_at is not None and "liquid" in wanted:
        rows.append(np.full(layers.count + 1, bore.liquid_at))
    return np.min(rows, axis=0) if rows else np.full(layers.count + 1, np.nan)


def held_contents(line: Mapping[str, object]) -> tuple[str, tuple[str, ...]]:
    """What a limit on the coldest contents is held against in a section's quantities, and its parts here: the liquid
    where the bore is partly filled, else all that is in it."""
    return ("liquid.min", ("liquid",)) if "liquid.min" in line else ("contents.min", ())


def sheath_max(solution: Solution) -> float:
    """Highest temperature on the tracers' outlines in the stretch, K; NaN without tracers."""
    highest = [
        group(solution, _of_kind(solution, "tracer", index=i))
        for i in range(len(solution.network.case.tracers))
    ]
    return max((float(b.value[:, b.outer].max()) for b in highest), default=float("nan"))


@dataclass(frozen=True)
class Heat:
    """Heat of the whole stretch (both halves), W: leaving outside, of it through the leg's fin, from tracers and
    contents, and the imbalance between them as a part of the larger."""

    out: float
    leg: float
    tracers: float
    contents: float
    closure: float


def heat(solution: Solution) -> Heat:
    """Heat balance of the stretch."""
    b, temperature = solution.balance, solution.temperature
    flow, leg = 2 * b.leaving(temperature), 2 * b.through("fin", temperature)
    out = 2 * b.through("cover", temperature) + leg
    tracers, contents = 2 * float(b.source.sum()), -2 * b.through("contents", temperature)
    scale = max(abs(out), abs(tracers + contents), float(np.abs(flow).sum()) / 2, 1e-9)
    return Heat(out, leg, tracers, contents, abs(tracers + contents - out) / scale)


def dip_quantities(solution: Solution, section: Solution) -> dict[str, float]:
    """What the support does to the line's temperatures; section: the line's own field on the same plan.

    dip: the section's wall minimum less that around the support; reach: distance from z = 0 at which the wall's
    minimum has come back to a tenth of the dip; fall_max: largest fall at one place of the wall, its surface included;
    fall_mean: of the wall's mean at z = 0; contents_dip, sheath_rise, wall_rise, barrier_rise: change of contents_min,
    sheath_max, wall_max and barrier_max against the section's.
    """
    line = quantities(section)
    wall, barrier = wall_band(solution), barrier_band(solution)
    low = wall.value.min(axis=1)
    area = solution.network.plan.mesh.cell_area[_of_kind(solution, "wall")]
    fall = line_wall(section)[None, :] - wall.value
    flow = heat(solution)
    contents = contents_rows(solution)
    path, parts = held_contents(line)
    liquid = float(contents_rows(solution, *parts).min())
    tracers, highest = section.network.case.tracers, sheath_max(solution)
    dip = line["wall.min"] - float(low.min())
    found = {
        "contents_min": float(contents.min()),
        "contents_dip": line["contents.min"] - float(contents.min()),
        "dip": dip,
        "reach": reach_of(wall.z, line["wall.min"] - low, dip),
        "fall_max": float(fall.max()),
        "fall_mean": float(np.average(fall[0, : len(area)], weights=area)),
        "wall_rise": float(wall.value.max()) - line["wall.max"],
        "barrier_rise": float(barrier.value.max()) - line["barrier.max"],
        "leg_heat": flow.leg,
        "closure": flow.closure,
    }
    found |= _at("wall_min", wall, int(np.argmin(wall.value)))
    found |= _at("wall_max", wall, int(np.argmax(wall.value)))
    found |= _at("barrier_max", barrier, int(np.argmax(barrier.value)))
    fin = solution.network.outlets.get("fin")
    if isinstance(fin, LegFin):
        found["leg_film"] = fin.at(fin.mean(solution.temperature), section.network.case).film
    if parts:
        found |= {"liquid_min": liquid, "liquid_dip": line[path] - liquid}
    if tracers:
        found["sheath_max"] = highest
        found["sheath_rise"] = highest - max(line[f"tracers.{t.name}.sheath_max"] for t in tracers)
    return found


def _at(name: str, band: Band, flat: int) -> dict[str, float]:
    """An extreme and its place: K, o'clock, m."""
    row, place = np.unravel_index(flat, band.value.shape)
    return {
        name: float(band.value[row, place]),
        f"{name}_clock": float(clocks(band.point[place : place + 1])[0]),
        f"{name}_z": float(band.z[row]),
    }


def reach_of(z: Array, fall: Array, dip: float) -> float:
    """Last z at which the fall is still a tenth of the dip, m; NaN if there is no dip, or it does not end here."""
    if not dip > 1e-3:
        return float("nan")
    above: IntArray = np.flatnonzero(fall >= TENTH * dip)
    last = int(above[-1])
    if last + 1 >= len(z):
        return float("nan")
    share = (fall[last] - TENTH * dip) / (fall[last] - fall[last + 1])
    return float(z[last] + share * (z[last + 1] - z[last]))
