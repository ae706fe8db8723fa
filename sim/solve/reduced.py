"""A section in few unknowns, made from its own matrices, for stretches of time too long for the full field.

Rational Krylov at three shifts about a few outside films, with the steady fields of the coldest and the warmest
weather, orthonormal in the capacity, Galerkin (Antoulas 2005, Approximation of Large-Scale Dynamical Systems, ch. 11).
Joints that follow the temperature are taken at the temperature: their conductances are projected on the few ways in
which they change over the basis (proper orthogonal decomposition of snapshots), each of which has its own reduced
matrix, and how far each has gone is told by a few joints (discrete empirical interpolation, Chaturantabut and Sorensen,
SIAM J. Sci. Comput. 32 (2010) 2737-2764; by pivots, Drmac and Gugercin, ibid. 38 (2016) A631-A648, and more of them
than ways, by least squares).
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.linalg import qr
from scipy.sparse import csr_matrix

from sim.heat.conductivity import CellConductivity
from sim.heat.joints import arrays_of, chosen
from sim.heat.network import Network
from sim.heat.outlets import WET, Film
from sim.heat.plan_storage import line_store
from sim.section.mesh import IntArray
from sim.section.shapes import Array
from sim.solve.balance import Balance, cell_temperature, evaluate, joint_matrix
from sim.solve.direct import factor
from sim.solve.sensor import reading_at
from sim.solve.steady import solve

SHIFTS = (1e-7, 1e-5, 1e-3)  # 1/s
FILMS = (3.0, 12.0, 40.0)  # W/m2/K, of the outside
LEAST = 3e-11  # part of the largest direction's square, below which a direction is left out
SWING = 15.0  # K by which a snapshot of the conductances lies above and below the middle field, at most
STRAIGHT = 5e-3  # part of the conductances' largest change, below which a way of changing is left out
TELLING = 3  # joints for each way of changing that tell how far it has gone


@dataclass(frozen=True)
class Reduced:
    """The section in few unknowns z (r,): temperatures are reference + basis @ z, K.

    basis (nodes, r); mean: reduced matrix of all joints at the middle field, (r, r); matrices (m, r, r): of each of the
    ways in which they change; telling: how far each has gone, None where none changes; tracers (tracers, r): heat of
    1 W/m; beneath (tracers, r) and sensors by name (r,): what reads the wall; given: right side of given contents;
    cover (k, r), area (k,) m2: the outside's nodes.
    """

    network: Network
    reference: float
    basis: Array
    mean: Array
    matrices: Array
    telling: "Telling | None"
    tracers: Array
    beneath: Array
    sensors: dict[str, Array]
    given: Array
    cover: Array
    area: Array

    @property
    def order(self) -> int:
        """Number of unknowns."""
        return int(self.basis.shape[1])

    def field(self, z: Array) -> Array:
        """Temperatures of all nodes, K."""
        field: Array = self.reference + self.basis @ z
        return field

    def outside(self, z: Array) -> Array:
        """Temperatures (k,) of the outside's nodes, K."""
        surface: Array = self.reference + self.cover @ z
        return surface

    def matrix(self, z: Array) -> Array:
        """Reduced matrix of all joints but the outside's, at a state, (r, r)."""
        if self.telling is None:
            return self.mean
        share = self.telling.ways(self.reference, z)
        matrix: Array = self.mean + np.tensordot(share, self.matrices, 1)
        return matrix


@dataclass(frozen=True)
class Telling:
    """A few joints that tell how far the conductances of all have gone in each of the ways (m,) in which they change.

    groups: these joints; law: of their cells; cell, cell_node (c,): cells, and the nodes they are; node (n,), basis
    (n, r): nodes; middle (j,): conductances at the middle field; weights (m, j): of their changes as parts of it.
    """

    groups: tuple[Any, ...]
    law: CellConductivity
    nodes: int
    cell: IntArray
    cell_node: IntArray
    node: IntArray
    basis: Array
    middle: Array
    weights: Array

    def ways(self, reference: float, z: Array) -> Array:
        """How far each way has gone (m,) at a state (r,) about a reference, K."""
        field, cells = np.full(self.nodes, reference), np.full(len(self.law.base), reference)
        field[self.node] += self.basis @ z
        cells[self.cell] = field[self.cell_node]
        conductivity = self.law(cells)
        now = np.concatenate([group.conductance(conductivity, field) for group in self.groups])
        ways: Array = self.weights @ (now / self.middle - 1.0)
        return ways


def conductances(network: Network, law: CellConductivity, field: Array) -> Array:
    """Of all joints at a field, W/K."""
    return network.joints.conductance(law(cell_temperature(network, field)), field)


def reduced(network: Network, coldest: float, warmest: float) -> Reduced:
    """The reduced model of a section for weather between two ambient temperatures, K. Raises NotConverged."""
    steady = [_at_ambient(network, t) for t in (coldest, warmest)]
    idle = [np.full(network.nodes, t) for t in (coldest, warmest)]  # about what it is without output
    middle, reference = 0.5 * (steady[0] + steady[1]), 0.5 * (coldest + warmest)
    law, cover = network.law(), network.outlets["cover"]
    assert isinstance(cover, Film)
    node, area = np.asarray(cover.node), np.asarray(cover.area)
    balance = evaluate(network, middle, law)
    sensors = {s.name: _sensor_row(network, s.clock, balance) for s in network.case.sensors}
    joints, right = _joints(network, balance)
    store = line_store(network)
    capacity = store.capacity(store.enthalpy(middle), middle)
    basis = _basis(network, joints, capacity, steady, list(sensors.values()))
    g0, ways, matrices = _ways(network, law, basis, middle, [*steady, *idle])
    telling = _telling(network, basis, g0, ways) if len(ways) else None
    return Reduced(
        network,
        reference,
        basis,
        basis.T @ (joints @ basis),
        matrices,
        telling,
        network.heat_share @ basis,
        network.beneath @ basis,
        {name: row @ basis for name, row in sensors.items()},
        basis.T @ (right - reference * (joints @ np.ones(network.nodes))),
        basis[node],
        area,
    )


def _at_ambient(network: Network, ambient: float) -> Array:
    """Steady field of the network's condition at another ambient."""
    condition = network.case.conditions[0].model_copy(update={"ambient": ambient, "sun": None, "sky": None})
    there = replace(network, case=network.case.model_copy(update={"conditions": (condition,)}))
    return solve(there).temperature


def _joints(network: Network, balance: Balance) -> tuple[csr_matrix, Array]:
    """Matrix of all joints but the outside's, and the right side of given temperatures over the reference of 0."""
    part = balance.to_parts.get("contents", slice(0, 0))
    node, strength = balance.to_node[part], balance.to_conductance[part]
    diagonal = np.bincount(node, strength, network.nodes).astype(float)
    right = np.bincount(node, strength * balance.to_temperature[part], network.nodes).astype(float)
    return joint_matrix(network.nodes, balance.a, balance.b, balance.conductance, diagonal), right


def _basis(
    network: Network, joints: csr_matrix, capacity: Array, fields: list[Array], sensors: list[Array]
) -> Array:
    """Directions (nodes, r), orthonormal in the capacity: what the outside, the tracers and the readings answer to."""
    cover, case = network.outlets["cover"], network.case
    assert isinstance(cover, Film)
    angle, node, area = np.asarray(cover.angle), np.asarray(cover.node), np.asarray(cover.area)
    patterns = np.zeros((network.nodes, 5))
    shapes = (1.0 + 0 * angle, np.sin(angle), np.cos(angle), np.sin(2 * angle), np.cos(2 * angle))
    for k, shape in enumerate(shapes):
        patterns[node, k] = area * shape
    right = np.column_stack([patterns, network.heat_share.T, network.beneath.T, *sensors])
    given = case.outside.coefficient
    films = (WET,) if case.conditions[0].rain else FILMS if given is None else (given,)
    columns = [np.ones(network.nodes)[:, None], *(field[:, None] for field in fields)]
    for film in films:
        outlet = np.bincount(node, film * area, network.nodes)
        for shift in SHIFTS:
            system = joints.copy()
            system.setdiag(system.diagonal() + outlet + shift * capacity)
            columns.append(factor(system.tocsr()).solve(right))
    every = np.column_stack(columns)
    every = every / np.maximum(np.sqrt((capacity[:, None] * every**2).sum(axis=0)), 1e-300)
    size, turn = np.linalg.eigh(every.T @ (capacity[:, None] * every))
    keep = size > LEAST * size[-1]
    return np.asarray(every @ (turn[:, keep] / np.sqrt(size[keep])))


def _ways(
    network: Network, law: CellConductivity, basis: Array, middle: Array, extremes: list[Array]
) -> tuple[Array, Array, Array]:
    """Conductances (k,) at the middle field, the ways (m, k) in which they change about it and in the extreme fields,
    and the matrix of each (m, r, r)."""
    g0 = conductances(network, law, middle)
    steps = basis * (SWING / np.maximum(np.abs(basis).max(axis=0), 1e-300))
    fields = [*extremes, *(middle + sign * step for step in steps.T for sign in (1.0, -1.0))]
    changes = np.array([conductances(network, law, field) / g0 - 1.0 for field in fields])
    _, size, ways = np.linalg.svd(changes, full_matrices=False)
    ways = ways[size > max(STRAIGHT * size[0], 1e-9)]
    falls = basis[network.joints.a] - basis[network.joints.b]
    matrices = np.array([falls.T @ ((g0 * way)[:, None] * falls) for way in ways])
    return g0, ways, matrices.reshape(len(ways), basis.shape[1], basis.shape[1])


def _telling(network: Network, basis: Array, g0: Array, ways: Array) -> Telling:
    """The joints that tell how far each of the ways (m, k) has gone; g0 (k,): conductances at the middle field."""
    joints, node_of = network.joints, network.cell_node
    left, which = ways.copy(), np.zeros(ways.shape[1], bool)
    for _ in range(TELLING):
        pivots = qr(left, mode="r", pivoting=True)[1][: len(ways)]
        which[pivots] = True
        left[:, pivots] = 0.0
    groups, cell, node = list[Any](), list[IntArray](), list[IntArray]()
    for name, part in joints.parts.items():
        if not which[part].any():
            continue
        group = chosen(joints.groups[name], which[part])
        groups.append(group)
        for key, what in arrays_of(group).items():
            (cell if what == "cell" else node if what == "node" else []).append(getattr(group, key))
    cells = np.unique(np.concatenate([*cell, np.zeros(0, np.int64)]))
    nodes = np.unique(np.concatenate([*node, node_of[cells]]))
    assert nodes.min() >= 0  # a lump's cells have no joints
    law = network.law()
    law.varying = [(np.intersect1d(own, cells), of) for own, of in law.varying]
    weights = np.asarray(np.linalg.pinv(ways[:, which].T), np.float64)
    return Telling(
        tuple(groups), law, network.nodes, cells, node_of[cells], nodes, basis[nodes], g0[which], weights
    )


def _sensor_row(network: Network, clock: float, balance: Balance) -> Array:
    """Weights (nodes,) by which the pipe's surface is read at a clock position, with the conductances of a balance."""
    reading = reading_at(network, clock)
    across = balance.conductance[balance.parts["faces"].start + reading.joint] * reading.resistance
    across = across / balance.conductivity[reading.cell]
    node = np.concatenate([reading.own, reading.other, reading.node])
    weight = np.concatenate([reading.part * (1 - across), reading.part * across, reading.rest])
    return np.bincount(node, weight, network.nodes).astype(float)
