"""Heat put on the pipe's outside itself, instead of in a tracer: what the closed forms assume."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.case import Case
from sim.heat.network import network
from sim.section.layout import place
from sim.section.mesh import PlanMesh, plan_mesh
from sim.solve.balance import evaluate, residual, step_matrix
from sim.solve.direct import factor

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Ring:
    """The pipe's outside: angle (n,) from 12 o'clock, rad, increasing; rise (n,) above the ambient, K; closure."""

    angle: Array
    rise: Array
    length: Array
    closure: float
    cells: int

    def at(self, angle: Array) -> Array:
        return np.interp(angle, self.angle, self.rise, period=2 * np.pi)

    @property
    def mean(self) -> float:
        return float(np.average(self.rise, weights=self.length))


def _outer_faces(mesh: PlanMesh) -> NDArray[np.int64]:
    one_wall = (mesh.kind[mesh.face_cells] == "wall").sum(axis=1) == 1
    outside = np.hypot(*mesh.face_point.T) > 0.5 * (mesh.layout.inner_radius + mesh.layout.outer_radius)
    return np.flatnonzero(one_wall & outside & (mesh.face_length > 0.3 * mesh.face_distance))


def heated_ring(case: Case, fineness: float, heat: float, half_angle: float) -> Ring:
    """A plain insulated pipe with `heat` (W/m) spread over its outside within half_angle of 12 o'clock.

    An interface source splits by the two half conductances; the face is warmer than its cells by what is left.
    For constant properties and a given outside coefficient only (one linear solve).
    """
    mesh = plan_mesh(place(case), fineness)
    net = network(case, mesh)
    ambient = np.full(net.nodes, case.conditions[0].ambient)
    balance = evaluate(net, ambient, net.law())
    k = balance.conductivity
    face = _outer_faces(mesh)
    angle = np.arctan2(*mesh.face_point[face].T)
    reach = 0.5 * mesh.face_length[face] / mesh.layout.outer_radius
    covered = np.minimum(angle + reach, half_angle) - np.maximum(angle - reach, -half_angle)
    share = heat * np.clip(covered, 0.0, None) / np.clip(covered, 0.0, None).sum()
    a, b = mesh.face_cells[face].T
    half = 2 * mesh.face_length[face] / mesh.face_distance[face]
    to_a = k[a] / (k[a] + k[b])
    source = np.bincount(net.cell_node[a], share * to_a, net.nodes)
    source += np.bincount(net.cell_node[b], share * (1 - to_a), net.nodes)
    temperature = ambient + factor(step_matrix(net, balance)).solve(source)
    left = residual(net, balance, temperature) + source
    cells = temperature[net.cell_node] - ambient[0]
    rise = (half * (k[a] * cells[a] + k[b] * cells[b]) + share) / (half * (k[a] + k[b]))
    order = np.argsort(angle)
    closure = float(np.abs(left).sum()) / heat
    return Ring(angle[order], rise[order], mesh.face_length[face][order], closure, mesh.cells)
