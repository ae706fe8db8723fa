"""The numbers an engineer asks of the field around a support."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.heat.network import clocks
from sim.heat.support_layers import LegFin
from sim.section.mesh import IntArray
from sim.section.shapes import Array
from sim.solve.balance import CONTENTS
from sim.solve.fitting_quantities import hottest_outside, on_bodies
from sim.solve.paths import coldest_contents
from sim.solve.quantities import places, quantities, region_mask
from sim.solve.steady import Solution

TENTH = 0.1  # of the dip, at which its reach ends


@dataclass(frozen=True)
class Band:
    """Temperatures of a group of cells and its boundary along z: value (rows, n) K, point (n, 2) m, z (rows,) m.

    The first row is z = 0, from the parabola through the first two layers (the plane is one of symmetry). Cells come
    first, then the boundary, then corners of contacts; outer (n,): on the boundary.
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


def group(solution: Solution, *kinds: str, index: int | None = None) -> Band:
    """All places of a group of cells, as in `sim.solve.quantities.places`."""
    layers, inside = solution.network.layers, places(solution, region_mask(solution, *kinds, index=index))
    z = np.concatenate([[0.0], layers.centre])
    return Band(at_middle(layers.centre, inside.value), inside.point, z, inside.outer)


def wall_band(solution: Solution) -> Band:
    """The pipe wall, with the corners of contacts beside round tracers, as in a section's extremes."""
    return group(solution, "wall")


def line_wall(section: Solution) -> Array:
    """Temperatures of the line's own wall in the order of `wall_band`, K."""
    wall: Array = places(section, region_mask(section, "wall")).value[0]
    return wall


def barrier_band(solution: Solution) -> Band:
    """The outside surface: barrier, the bare strip beside a leg, and the leg's own cut face."""
    network = solution.network
    plan, layers = network.plan, network.layers
    each = network.by_layer(solution.temperature)[:, plan.cover_node]
    point = plan.mesh.cover_point - np.array([0.0, -plan.mesh.layout.drop])
    z = np.concatenate([[0.0], layers.centre])
    return Band(at_middle(layers.centre, each), point, z, np.ones(len(point), bool))


def contents_rows(solution: Solution, *parts: str) -> Array:
    """Lowest temperature of the contents in each row as in `Band`, K; NaN where they have none of their own.

    parts: of "liquid" and "gas", both if none is named, as a section's contents.min.
    """
    kinds = parts or ("liquid", "gas")
    network = solution.network
    bore, layers = network.plan.bore, network.layers
    if bore is None:
        lowest: Array = group(solution, *kinds).value.min(axis=1)
        return lowest
    each = network.by_layer(solution.temperature)
    lumps = {"liquid": bore.liquid, "gas": bore.gas}
    rows = [at_middle(layers.centre, each[:, [lumps[p]]])[:, 0] for p in kinds if lumps[p] >= 0]
    if bore.liquid_at is not None and "liquid" in kinds:
        rows.append(np.full(layers.count + 1, bore.liquid_at))
    return np.min(rows, axis=0) if rows else np.full(layers.count + 1, np.nan)


def judged_contents(line: Mapping[str, object]) -> tuple[str, tuple[str, ...]]:
    """What a limit on the coldest contents is held against in a section's quantities, and its parts here: the liquid
    where the bore is partly filled, else all that is in it."""
    path = coldest_contents(line)
    return path, ("liquid",) if path == "liquid.min" else ()


def sheath_max(solution: Solution) -> float:
    """Highest temperature on the tracers' outlines in the stretch, K; NaN without tracers."""
    highest = [group(solution, "tracer", index=i) for i in range(len(solution.network.case.tracers))]
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
    out = leg + 2 * sum(
        b.through(name, temperature) for name in solution.network.outlets if name not in (*CONTENTS, "fin")
    )
    tracers, contents = 2 * float(b.source.sum()), 2 * b.from_contents(temperature)
    scale = max(abs(out), abs(tracers + contents), float(np.abs(flow).sum()) / 2, 1e-9)
    return Heat(out, leg, tracers, contents, abs(tracers + contents - out) / scale)


def dip_quantities(solution: Solution, section: Solution) -> dict[str, float]:
    """What the support does to the line's temperatures; section: the line's own field on the same plan.

    dip: the section's wall minimum less that around the support; reach: distance from z = 0 at which the wall's
    minimum has come back to a tenth of the dip; fall_max: largest fall at one place of the wall, its surface included;
    fall_mean: of the wall's mean at z = 0; contents_dip, sheath_rise, wall_rise, barrier_rise: change of contents_min,
    sheath_max, wall_max and barrier_max against the section's; bodies: of a fitting, above the section's mean wall.
    """
    line = quantities(section)
    wall, barrier = wall_band(solution), barrier_band(solution)
    low = wall.value.min(axis=1)
    area = solution.network.plan.mesh.cell_area[region_mask(solution, "wall")]
    fall = line_wall(section)[None, :] - wall.value
    flow = heat(solution)
    contents = contents_rows(solution)
    path, parts = judged_contents(line)
    liquid = float(contents_rows(solution, *parts).min())
    tracers, highest = section.network.case.tracers, sheath_max(solution)
    dip = line["wall.min"] - float(low.min())
    values = {
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
    values |= _at("wall_min", wall, int(np.argmin(wall.value)))
    values |= _at("wall_max", wall, int(np.argmax(wall.value)))
    values |= _at("barrier_max", barrier, int(np.argmax(barrier.value)))
    outside, z = hottest_outside(solution)
    if outside > values["barrier_max"]:
        values |= {"barrier_max": outside, "barrier_max_clock": float("nan"), "barrier_max_z": z}
        values["barrier_rise"] = outside - line["barrier.max"]
    values |= {body: at - line["wall.mean"] for body, at in on_bodies(solution).items()}
    fin = solution.network.outlets.get("fin")
    if isinstance(fin, LegFin):
        values["leg_film"] = fin.at(fin.mean(solution.temperature), section.network.case).film
    if parts:
        values |= {"liquid_min": liquid, "liquid_dip": line[path] - liquid}
    if tracers:
        values["sheath_max"] = highest
        values["sheath_rise"] = highest - max(line[f"tracers.{t.name}.sheath_max"] for t in tracers)
    return values


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
