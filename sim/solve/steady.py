"""The steady state of a network: a chord iteration on its heat balance, residual in watts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import SuperLU, splu

from sim.case import Case
from sim.heat.conductivity import SIGMA, CellConductivity
from sim.heat.film import outside_coefficient, outside_slope
from sim.heat.network import IntArray, Network, film_terms
from sim.heat.tracer import tracer_slope, tracer_watts
from sim.section.shapes import Array
from sim.solve.motion import Flow

TOLERANCE = 1e-9  # imbalance over all nodes, as a part of the heat that flows
NO_HEAT = 1e-3  # W/m: less than this counts as none where an imbalance is set beside the heat that flows
EPSILON = float(np.finfo(float).eps)
MAX_STEPS = 60
SHORTEST = 1e-4  # part of a step towards a self-regulating output below which it is given up
SLOW = 0.25  # the matrix is factored anew when a step shrinks the imbalance by less than this


class NotConverged(RuntimeError):
    """The heat balance could not be met; the message gives the imbalance reached."""


@dataclass(frozen=True)
class Balance:
    """One evaluation of a network at given node temperatures.

    a, b (k,) joints between nodes and their conductance; to_node, to_conductance, to_temperature: joints to given
    temperatures; slope (cover,): derivative of the outside flux by the surface temperature, W/m/K; heat (tracers,).
    """

    a: IntArray
    b: IntArray
    conductance: Array
    to_node: IntArray
    to_conductance: Array
    to_temperature: Array
    slope: Array
    heat: Array
    heat_slope: Array


@dataclass(frozen=True)
class Solution:
    """Node temperatures (nodes,) K, the balance there, the imbalance in W/m and as a part of the heat, steps.

    flow: the contents' motion, where they move.
    """

    network: Network
    temperature: Array
    balance: Balance
    conductivity: Array
    imbalance: float
    relative: float
    steps: int
    flow: Flow | None = None


def cell_temperature(network: Network, temperature: Array) -> Array:
    """Temperature of every cell, K; contents that are lumped take their lump's (or the bore's mean)."""
    cells = temperature[np.maximum(network.cell_node, 0)]
    absent = network.cell_node < 0
    if absent.any() and network.bore is not None:
        bore = network.bore
        default = float(np.average(temperature[bore.face_node], weights=bore.face_area))
        kinds = np.array([r.kind for r in network.mesh.layout.regions])[network.mesh.cell_region]
        liquid = default
        if bore.liquid >= 0:
            liquid = temperature[bore.liquid]
        elif bore.liquid_at is not None:
            liquid = bore.liquid_at
        gas = temperature[bore.gas] if bore.gas >= 0 else default
        empty = network.case.contents.state == "empty"
        cells = np.where(absent, np.where((kinds == "liquid") & (not empty), liquid, gas), cells)
    return cells


def evaluate(network: Network, temperature: Array, law: CellConductivity) -> tuple[Balance, Array]:
    """All joints of the network at the given node temperatures, and the cells' conductivity."""
    case, mesh, bore = network.case, network.mesh, network.bore
    condition = case.conditions[0]
    conductivity = law(cell_temperature(network, temperature))
    pairs = network.cell_node[mesh.face_cells[network.face]]
    halves = network.halves
    corners = network.wedges
    a = [pairs[:, 0], network.cell_node[halves.cell], network.links.a, network.cell_node[corners.seat_cell]]
    b = [pairs[:, 1], halves.node, network.links.b, network.cell_node[corners.tracer_cell]]
    g = [
        network.face_conductance(conductivity),
        conductivity[halves.cell] * halves.area / halves.gap,
        network.links.conductance,
        corners.conductance(conductivity),
    ]
    surface = temperature[network.cover_node]
    film = film_terms(case, mesh.layout.cover_radius)
    to_node = [network.cover_node]
    to_g = [outside_coefficient(surface, network.cover_angle, **film) * mesh.cover_length]
    to_t = [np.full(len(surface), condition.ambient)]
    slope = outside_slope(surface, network.cover_angle, **film) * mesh.cover_length
    if bore is not None:
        _add_bore(network, temperature, (a, b, g), (to_node, to_g, to_t))
    wall = network.beneath @ temperature
    heat = np.array([float(tracer_watts(t, condition, w)) for t, w in zip(case.tracers, wall, strict=True)])
    heat_slope = np.array(
        [float(tracer_slope(t, condition, w)) for t, w in zip(case.tracers, wall, strict=True)]
    )
    first, second, conductance, node, to_conductance, to_temperature = (
        np.concatenate(x) for x in (a, b, g, to_node, to_g, to_t)
    )
    return (
        Balance(first, second, conductance, node, to_conductance, to_temperature, slope, heat, heat_slope),
        conductivity,
    )


def _add_bore(
    network: Network, temperature: Array, inner: tuple[list, list, list], outer: tuple[list, list, list]
) -> None:
    bore = network.bore
    assert bore is not None
    a, b, g = inner
    to_node, to_g, to_t = outer
    level = -np.inf if network.case.contents.state == "empty" else network.mesh.layout.level
    wet = bore.face_point[:, 1] < level
    for mask, lump in ((wet, bore.liquid), (~wet, bore.gas)):
        if not mask.any():
            continue
        if lump >= 0:
            a.append(bore.face_node[mask])
            b.append(np.full(int(mask.sum()), lump))
            g.append(bore.film[mask])
        elif bore.liquid_at is not None and mask is wet:
            to_node.append(bore.face_node[mask])
            to_g.append(bore.film[mask])
            to_t.append(np.full(int(mask.sum()), bore.liquid_at))
    i, j, exchange = bore.radiation
    if len(i):
        ti, tj = temperature[i], temperature[j]
        a.append(i)
        b.append(j)
        g.append(exchange * SIGMA * (ti**2 + tj**2) * (ti + tj))
    if bore.surface >= 0:
        if bore.liquid >= 0:
            a.append(np.array([bore.surface]))
            b.append(np.array([bore.liquid]))
            g.append(np.array([bore.surface_film]))
        else:
            assert bore.liquid_at is not None
            to_node.append(np.array([bore.surface]))
            to_g.append(np.array([bore.surface_film]))
            to_t.append(np.array([bore.liquid_at]))
        a.append(np.array([bore.surface]))
        b.append(np.array([bore.gas]))
        g.append(np.array([bore.surface_gas_film]))


def residual(network: Network, balance: Balance, temperature: Array, reference: float = 0.0) -> Array:
    """Heat arriving at each node less heat leaving it, W/m, shape (nodes,).

    temperature: of the nodes, K over `reference`; near the ambient's, less is lost to rounding.
    """
    flow = balance.conductance * (temperature[balance.a] - temperature[balance.b])
    out = balance.to_conductance * (temperature[balance.to_node] - (balance.to_temperature - reference))
    n = network.nodes
    return (
        np.bincount(balance.b, flow, n)
        - np.bincount(balance.a, flow, n)
        - np.bincount(balance.to_node, out, n)
        + balance.heat @ network.heat_share
    )


def joint_matrix(network: Network, balance: Balance) -> csc_matrix:
    """The symmetric matrix of the joints, with the outside's true slope on the diagonal."""
    n = network.nodes
    diagonal = np.bincount(balance.a, balance.conductance, n) + np.bincount(balance.b, balance.conductance, n)
    outside = balance.to_conductance.copy()
    outside[: len(balance.slope)] = balance.slope
    diagonal += np.bincount(balance.to_node, outside, n)
    every = np.arange(n)
    rows = np.concatenate([balance.a, balance.b, every])
    cols = np.concatenate([balance.b, balance.a, every])
    data = np.concatenate([-balance.conductance, -balance.conductance, diagonal])
    return csc_matrix((data, (rows, cols)), shape=(n, n))


def factor_joints(network: Network, balance: Balance) -> SuperLU:
    """Factor the matrix of the joints. Raises NotConverged if it is singular."""
    matrix = joint_matrix(network, balance)
    try:
        # columns one by one: on plane meshes the panels of SuperLU's default cost twice the time
        return splu(
            matrix,
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            relax=1,
            panel_size=1,
            options={"SymmetricMode": True},
        )
    except RuntimeError as error:
        raise NotConverged(f"the heat balance has no unique solution ({error})") from error


def solve(network: Network, start: Array | None = None) -> Solution:
    """Solve a network to TOLERANCE. start: node temperatures to begin from, K.

    Conductivities, films and radiation are taken at the last temperatures; the matrix is kept while it serves. A
    self-regulating output is met within each step. Raises NotConverged.
    """
    case = network.case
    law = CellConductivity(case, network.mesh, network.void_width)
    ambient = case.conditions[0].ambient
    given = case.contents.temperature if case.contents.state == "flowing" else None
    first = 20.0 if given is None else given - ambient
    rise = np.full(network.nodes, first) if start is None else start - ambient
    factor: SuperLU | None = None
    sources = np.zeros((network.nodes, 0))
    before = np.inf
    for step in range(MAX_STEPS):
        temperature = ambient + rise
        balance, conductivity = evaluate(network, temperature, law)
        left = residual(network, balance, rise, ambient)
        imbalance = float(np.abs(left).sum())
        exchanged = float(np.abs(_exchanged(balance, temperature)).sum()) / 2
        scale = max(float(balance.heat.sum()), exchanged, NO_HEAT)
        rounding = EPSILON * float(balance.conductance @ np.abs(rise[balance.a]))
        if imbalance <= max(TOLERANCE * scale, rounding):
            return Solution(network, temperature, balance, conductivity, imbalance, imbalance / scale, step)
        if not np.isfinite(imbalance):
            break
        if factor is None or imbalance > SLOW * before:
            factor = factor_joints(network, balance)
            sources = factor.solve(network.heat_share.T) if len(case.tracers) else sources
        change = factor.solve(left)
        if any(t.output.kind == "table" for t in case.tracers):
            wall, answer = network.beneath @ temperature, network.beneath @ sources
            unchanged = wall + network.beneath @ change
            change = change + sources @ _regulated(case, wall, unchanged, answer, balance.heat)
        limit = 0.3 * float(temperature.min())
        rise = rise + change * min(1.0, limit / max(float(np.abs(change).max()), 1e-30))
        before = imbalance
    raise NotConverged(
        f"the heat balance did not settle: {imbalance:.3g} W/m left after {MAX_STEPS} steps "
        f"({imbalance / scale:.1e} of the heat)"
    )


def _regulated(case: Case, wall: Array, unchanged: Array, answer: Array, heat: Array) -> Array:
    """Change of the outputs to those at the wall temperatures they bring about, W/m, shape (tracers,).

    wall: temperatures beneath the tracers to start from, unchanged: those after the step if the outputs stay at
    `heat`, K; answer (tracers, tracers): what a change of the outputs adds, K per W/m. Newton with halved steps: at
    the kinks of a table a whole step may jump to and fro for ever.
    """
    condition = case.conditions[0]

    def watts(w: Array) -> Array:
        return np.array([float(tracer_watts(t, condition, x)) for t, x in zip(case.tracers, w, strict=True)])

    def excess(w: Array) -> Array:
        return w - unchanged - answer @ (watts(w) - heat)

    left = excess(wall)
    for _ in range(MAX_STEPS):
        slope = [float(tracer_slope(t, condition, x)) for t, x in zip(case.tracers, wall, strict=True)]
        step = np.linalg.solve(np.eye(len(wall)) - answer * np.array(slope), -left)
        part = 1.0
        trial = excess(wall + step)
        while np.abs(trial).max() > (1 - 0.1 * part) * np.abs(left).max() and part > SHORTEST:
            part *= 0.5
            trial = excess(wall + part * step)
        wall, left = wall + part * step, trial
        if np.abs(left).max() <= 4 * EPSILON * np.abs(wall).max() or part <= SHORTEST:
            break
    return watts(wall) - heat


def _exchanged(balance: Balance, temperature: Array) -> Array:
    return balance.to_conductance * (temperature[balance.to_node] - balance.to_temperature)
