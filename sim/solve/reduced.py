"""A section in few unknowns, made from its own matrices, for stretches of time too long for the full field.

Rational Krylov at three shifts about a few outside films, with the steady fields of the coldest and the warmest
weather, orthonormal in the capacity, Galerkin (Antoulas 2005, Approximation of Large-Scale Dynamical Systems, ch. 11).
Joints that follow the temperature are taken at the temperature: their conductances are projected on the few ways in
which they change over the basis (proper orthogonal decomposition of snapshots; Chaturantabut and Sorensen, SIAM J. Sci.
Comput. 32 (2010) 2737-2764, project nonlinear terms likewise), each of which has its own reduced matrix.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.sparse import csr_matrix

from sim.heat.conductivity import CellConductivity
from sim.heat.network import Network
from sim.heat.outlets import WET, Film
from sim.heat.plan_storage import line_store
from sim.section.shapes import Array
from sim.solve.balance import Balance, cell_temperature, evaluate, joint_matrix
from sim.solve.direct import factor
from sim.solve.sensor import reading_at
from sim.solve.steady import solve

SHIFTS = (1e-7, 1e-5, 1e-3)  # 1/s
FILMS = (3.0, 12.0, 40.0)  # W/m2/K, of the outside
LEAST = 3e-11  # part of the largest direction's square, below which a direction is left out
SWING = 15.0  # K by which a snapshot of the conductances lies above and below the middle field, at most
STRAIGHT = 1e-2  # part of the conductances' largest change, below which a way of changing is left out


@dataclass(frozen=True)
class Reduced:
    """The section in few unknowns z (r,): temperatures are reference + basis @ z, K.

    basis (nodes, r); mean: reduced matrix of all joints at the middle field, (r, r); middle (k,): conductances there;
    ways (m, k): ways in which they change, as parts of `middle`; matrices (m, r, r): of each; tracers (tracers, r):
    heat of 1 W/m; beneath (tracers, r) and sensors by name (r,): what reads the wall; given: right side of given
    contents; cover (k, r), area (k,) m2: the outside's nodes.
    """

    network: Network
    reference: float
    basis: Array
    mean: Array
    middle: Array
    ways: Array
    matrices: Array
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

    @cached_property
    def law(self) -> CellConductivity:
        """Of the section's cells."""
        return self.network.law()

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
        if not len(self.ways):
            return self.mean
        share = self.ways @ (conductances(self.network, self.law, self.field(z)) / self.middle - 1.0)
        matrix: Array = self.mean + np.tensordot(share, self.matrices, 1)
        return matrix


def conductances(network: Network, law: CellConductivity, field: Array) -> Array:
    """Of all joints at a field, W/K."""
    return network.joints.conductance(law(cell_temperature(network, field)), field)


def reduced(network: Network, coldest: float, warmest: float) -> Reduced:
    """The reduced model of a section for weather between two ambient temperatures, K. Raises NotConverged."""
    steady = [_at_ambient(network, t) for t in (coldest, warmest)]
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
    g0, ways, matrices = _ways(network, law, basis, middle)
    return Reduced(
        network,
        reference,
        basis,
        basis.T @ (joints @ basis),
        g0,
        ways,
        matrices,
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


def _ways(network: Network, law: CellConductivity, basis: Array, middle: Array) -> tuple[Array, Array, Array]:
    """Conductances (k,) at the middle field, the ways (m, k) in which they change, and the matrix of each (m, r, r)."""
    g0 = conductances(network, law, middle)
    steps = basis * (SWING / np.maximum(np.abs(basis).max(axis=0), 1e-300))
    fields = [middle + sign * step for step in steps.T for sign in (1.0, -1.0)]
    changes = np.array([conductances(network, law, field) / g0 - 1.0 for field in fields])
    _, size, ways = np.linalg.svd(changes, full_matrices=False)
    ways = ways[size > max(STRAIGHT * size[0], 1e-9)]
    falls = basis[network.joints.a] - basis[network.joints.b]
    matrices = np.array([falls.T @ ((g0 * way)[:, None] * falls) for way in ways])
    return g0, ways, matrices.reshape(len(ways), basis.shape[1], basis.shape[1])


def _sensor_row(network: Network, clock: float, balance: Balance) -> Array:
    """Weights (nodes,) by which the pipe's surface is read at a clock position, with the conductances of a balance."""
    reading = reading_at(network, clock)
    across = balance.conductance[balance.parts["faces"].start + reading.joint] * reading.resistance
    across = across / balance.conductivity[reading.cell]
    node = np.concatenate([reading.own, reading.other, reading.node])
    weight = np.concatenate([reading.part * (1 - across), reading.part * across, reading.rest])
    return np.bincount(node, weight, network.nodes).astype(float)
