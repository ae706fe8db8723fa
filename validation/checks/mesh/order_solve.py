"""One manufactured problem on one mesh through the program's own balance and solvers, and its errors.

Exercised: `evaluate` on sections and on layers (series conductance of faces, half joints to surface nodes, film on the
surface, joints along z), `step_matrix`, `factor`, `Multigrid`. The film's surroundings, which a case gives as
one ambient, are here those that the exact field asks for, face by face; sources are its own, integrated over the cells.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sim.heat.network import Network
from sim.section.mesh import PlanMesh
from sim.solve.balance import evaluate, step_matrix
from sim.solve.direct import factor
from sim.solve.multigrid import Multigrid
from validation.checks.mesh.order_fields import Array, Exact

Law = Callable[[Array], Array]
GAUSS = 0.5 / np.sqrt(3.0)  # the two points of a layer, as parts of its thickness from its middle
ACCURACY = 1e-10  # relative residual of the linear solve in three dimensions


@dataclass(frozen=True)
class Errors:
    """One level. size: mean cell size, m; l2, largest: error of the cells' temperatures over the field's span; heat:
    relative error of the weighted heat loss."""

    cells: int
    size: float
    l2: float
    largest: float
    heat: float


def _points(plane: Array, z: float) -> Array:
    return np.column_stack([plane, np.full(len(plane), z)])


def _source(mesh: PlanMesh, k: Array, exact: Exact, z: float) -> Array:
    """The source integrated over each cell of the plan, W/m: triangles from its site to its faces, at their edges'
    middles."""
    total = np.zeros(mesh.cells)
    sides = [
        (mesh.face_cells[:, i], mesh.face_ends, 0.25 * mesh.face_length * mesh.face_distance) for i in (0, 1)
    ]
    sides.append((mesh.cover_cell, mesh.cover_ends, 0.5 * mesh.cover_length * mesh.cover_gap))
    for cell, ends, area in sides:
        a, b, c = mesh.site[cell], mesh.vertex[ends[:, 0]], mesh.vertex[ends[:, 1]]
        for one, other in ((a, b), (b, c), (c, a)):
            density = exact.source(_points(0.5 * (one + other), z), k[cell])
            total += np.bincount(cell, density * area / 3, mesh.cells)
    return total


def _surroundings(
    mesh: PlanMesh, k: Array, exact: Exact, z: float, film: float, around: bool
) -> tuple[Array, Array]:
    """Temperature around each cover face, T + k (dT/dn) / h, and the heat's weight, both where its node lies (b,).

    around: the boundary is the circle of the cover, onto which the nodes are moved; its normal is the circle's.
    """
    at, own = mesh.cover_point, k[mesh.cover_cell]
    normal = (at - mesh.site[mesh.cover_cell]) / mesh.cover_gap[:, None]
    if around:
        normal = at / np.hypot(*at.T)[:, None]
        at = mesh.layout.cover_radius * normal
    p = _points(at, z)
    slope = (exact.gradient(p, own)[:, :2] * normal).sum(axis=1)
    return exact.temperature(p, own) + own * slope / film, exact.weight(p)


def _errors(
    computed: Array, true: Array, volume: Array, heat: float, exact: Exact, dimensions: int
) -> Errors:
    off, span = np.abs(computed - true), float(np.ptp(true))
    return Errors(
        len(computed),
        float(volume.sum() / len(computed)) ** (1 / dimensions),
        float(np.sqrt((volume * off**2).sum() / volume.sum())) / span,
        float(off.max()) / span,
        abs(heat / exact.heat - 1),
    )


def in_plane(network: Network, law: Law, k: Array, exact: Exact, around: bool) -> Errors:
    """Solve a section (or a square).

    law: the program's conductivities (cells,) by temperature; k (cells,): what they ought to be, of the exact field.
    """
    mesh = network.mesh
    film = float(network.case.outside.coefficient or 0.0)
    balance = evaluate(network, np.full(network.nodes, 300.0), law)
    outside, weight = _surroundings(mesh, k, exact, 0.0, film, around)
    right = np.bincount(network.cell_node, _source(mesh, k, exact, 0.0), network.nodes)
    right += np.bincount(balance.to_node, balance.to_conductance * outside, network.nodes)
    temperature = factor(step_matrix(network, balance)).solve(right)
    leaving = balance.to_conductance * (temperature[balance.to_node] - outside)
    true = exact.temperature(_points(mesh.site, 0.0), k)
    return _errors(temperature[network.cell_node], true, mesh.cell_area, float(leaving @ weight), exact, 2)


def in_layers(network: Network, law: Law, k: Array, exact: Exact, around: bool) -> Errors:
    """Solve a layered network; law and k (layers, cells) as for `in_plane`."""
    plan, mesh, layers = network.plan, network.plan.mesh, network.layers
    film = float(plan.case.outside.coefficient or 0.0)
    balance = evaluate(network, np.full(network.nodes, 300.0), law)
    edge = layers.edge
    thickness, centre = edge[1:] - edge[:-1], 0.5 * (edge[1:] + edge[:-1])
    right = np.zeros((layers.count, plan.nodes))
    outside = np.zeros((layers.count, len(plan.cover_node)))
    weight = np.zeros_like(outside)
    for i, (middle, thick) in enumerate(zip(centre, thickness, strict=True)):
        for z in (middle - GAUSS * thick, middle + GAUSS * thick):
            right[i, plan.cell_node] += 0.5 * thick * _source(mesh, k[i], exact, z)
            there, share = _surroundings(mesh, k[i], exact, z, film, around)
            outside[i] += 0.5 * there
            weight[i] += 0.5 * share
    total = right.ravel() + np.bincount(
        balance.to_node, balance.to_conductance * outside.ravel(), network.nodes
    )
    matrix = step_matrix(network, balance)
    grid = Multigrid()
    grid.set_up(matrix)
    temperature, _ = grid.solve(matrix, total, ACCURACY)
    leaving = balance.to_conductance * (temperature[balance.to_node] - outside.ravel())
    cells = temperature.reshape(layers.count, plan.nodes)[:, plan.cell_node]
    true = np.stack([exact.temperature(_points(mesh.site, z), k[i]) for i, z in enumerate(centre)])
    volume = mesh.cell_area * thickness[:, None]
    return _errors(cells.ravel(), true.ravel(), volume.ravel(), float(leaving @ weight.ravel()), exact, 3)
