"""FiPy on a condition's own cells, with everything the section has, run as a program of its own.

FiPy reads its process's arguments when imported. See `validation.peers.process`.

FiPy's: the mesh built of the cells' polygons, with their sites as centres; lengths, distances and normals; harmonic
face conductivities; the discretisation of conduction and, where contents move, of what a given flow carries; the
assembly; the sweeps; the linear solver. Ours: property laws, films, outputs, and the joints that are no faces (sheets,
surface nodes, lumped contents, radiation across the bore, the innermost wedge of a contact), which come in as a
further term of FiPy's equation.
"""

from __future__ import annotations

from dataclasses import dataclass
from time import perf_counter
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix

from sim.heat.network import Network
from sim.solve.balance import Balance, evaluate
from sim.solve.steady import Solution
from validation.peers.process import serve
from validation.peers.volumes.cells import Cells, cells_of

MOST_SWEEPS = 100
SETTLED = 1e-7  # largest change of a node in a sweep, K
SHRINKS = 0.7  # a sweep that shrinks the change by less than this is halved from then on
REFINED = 3  # corrections by the factored matrix in a sweep, whatever their residual
LEAST = 0.05  # part of a sweep that is taken at the least
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Found:
    """FiPy's answer: node temperatures (nodes,) K, sweeps, the last change (K), and how far FiPy's own length over
    distance of a face is from ours, as a part of it; seconds of its mesh and of its sweeps."""

    temperature: Array
    sweeps: int
    change: float
    shape_error: float
    seconds: tuple[float, float]


def mesh_of(cells: Cells) -> Any:
    """A FiPy mesh whose cell centres are the sites, and whose face centres lie on the lines between them."""
    from fipy.meshes.mesh2D import Mesh2D

    class VoronoiMesh(Mesh2D):
        def _calcFaceCenters(self) -> Array:
            start, stop = (cells.vertex[:, cells.face_vertex[i]] for i in (0, 1))
            along = stop - start
            owner = np.asarray(self.faceCellIDs[0])
            share = ((cells.centre[:, owner] - start) * along).sum(axis=0) / (along**2).sum(axis=0)
            return start + share * along

        def _calcCellCenters(self) -> Array:
            return cells.centre

    return VoronoiMesh(cells.vertex, cells.face_vertex, np.ma.masked_equal(cells.cell_faces, -1))


def joints_term() -> Any:
    """A term of FiPy's that adds a sparse matrix to its own; `entries` holds it."""
    from fipy.terms.unaryTerm import _UnaryTerm

    class Joints(_UnaryTerm):
        entries: coo_matrix

        def _buildMatrix(self, var: Any, SparseMatrix: Any, **_: Any) -> tuple[Any, Any, Array]:
            matrix = SparseMatrix(mesh=var.mesh)
            matrix.addAt(self.entries.data, self.entries.row, self.entries.col)
            return var, matrix, np.zeros(var.mesh.numberOfCells)

    return Joints(coeff=1.0)


def entries_of(network: Network, balance: Balance) -> coo_matrix:
    """Joints that are no faces, and the answer of self-regulating outputs, as heat into each node, W/m/K."""
    skip = balance.parts["faces"].stop  # the groups after the faces
    a, b, g = balance.a[skip:], balance.b[skip:], balance.conductance[skip:]
    rows, columns, values = [a, b, a, b], [b, a, a, b], [g, g, -g, -g]
    for share, beneath, slope in zip(network.heat_share, network.beneath, balance.heat_slope, strict=True):
        if slope:
            i, j = np.flatnonzero(share), np.flatnonzero(beneath)
            rows.append(np.repeat(i, len(j)))
            columns.append(np.tile(j, len(i)))
            values.append(slope * np.outer(share[i], beneath[j]).ravel())
    n = network.nodes
    triples = (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))
    return coo_matrix(triples, shape=(n, n)).tocsr().tocoo()


def given_heat(network: Network, balance: Balance, rise: Array, ambient: float) -> tuple[Array, Array]:
    """Loss per kelvin (W/m/K) to given temperatures and heat (W/m) into each node, about the last rise (nodes,) K."""
    slope = balance.to_slope
    here = rise[balance.to_node]
    loss = balance.to_conductance * (here - (balance.to_temperature - ambient))
    n = network.nodes
    offset = np.bincount(balance.to_node, slope * here - loss, n)
    heat = balance.heat - balance.heat_slope * (network.beneath @ rise)
    per_kelvin = np.bincount(balance.to_node, slope, n).astype(float)
    return per_kelvin, offset + heat @ network.heat_share


def carried_of(solution: Solution) -> Array | None:
    """Heat capacity flow through the conducting faces, first to second cell (faces,) W/m/K; None if nothing moves."""
    if solution.flow is None:
        return None
    network, motion, flow = solution.network, solution.flow.motion, solution.flow.mesh
    moving = np.zeros(network.mesh.cells, bool)
    moving[flow.cell] = True
    faces = np.flatnonzero(moving[network.mesh.face_cells].all(axis=1))
    carried = np.zeros(len(network.face))
    carried[np.searchsorted(network.face, faces)] = motion.law.carries * (flow.flow @ motion.state.psi)
    return carried


def sweep(network: Network, carried: Array | None = None, start: float | None = None) -> Found:
    """Let FiPy sweep a network until it settles.

    carried (faces,): heat capacity flow through the network's conducting faces, first to second cell, W/m/K, where
    the contents move; start: temperature to begin from, K, 20 K above the ambient by default. Raises RuntimeError if
    it does not settle.
    """
    from fipy import (
        CellVariable,
        CentralDifferenceConvectionTerm,
        DiffusionTerm,
        FaceVariable,
        ImplicitSourceTerm,
    )
    from fipy.solvers.scipy import LinearLUSolver

    begin = perf_counter()
    cells = cells_of(network)
    mesh = mesh_of(cells)
    inner = len(network.face)
    gap = np.asarray(mesh._cellDistances)
    ours = network.mesh.face_length[network.face] / network.mesh.face_distance[network.face]
    shape_error = float(np.abs(np.asarray(mesh._faceAreas)[:inner] / gap[:inner] / ours - 1).max())
    meshed = perf_counter()
    ambient = network.case.conditions[0].ambient
    law = network.law()
    volume = np.asarray(mesh.cellVolumes)
    rise = CellVariable(
        mesh=mesh, value=20.0 if start is None else start - network.case.conditions[0].ambient
    )
    conductivity = CellVariable(mesh=mesh, value=1.0)
    face, loss = FaceVariable(mesh=mesh, value=0.0), CellVariable(mesh=mesh, value=0.0)
    heat, joints = CellVariable(mesh=mesh, value=0.0), joints_term()
    equation = DiffusionTerm(coeff=face) + joints + heat - ImplicitSourceTerm(coeff=loss)
    if carried is not None:
        first = np.asarray(mesh.faceCellIDs[0])[:inner] == cells.pair[:, 0]
        speed = np.where(first, carried, -carried) / np.asarray(mesh._faceAreas)[:inner]
        flow = np.zeros((2, mesh.numberOfFaces))
        flow[:, :inner] = speed * np.asarray(mesh.faceNormals)[:, :inner]
        equation = equation - CentralDifferenceConvectionTerm(
            coeff=FaceVariable(mesh=mesh, rank=1, value=flow)
        )
    series = np.zeros(mesh.numberOfFaces)
    active, part, before, change = network.cell_node >= 0, 1.0, np.inf, np.inf
    for count in range(1, MOST_SWEEPS + 1):
        old = rise.value.copy()
        balance = evaluate(network, ambient + old, law)
        k = balance.conductivity[active]
        conductivity.setValue(np.concatenate([k, np.ones(network.nodes - len(k))]))
        harmonic = np.asarray(conductivity.harmonicFaceValue.value)[:inner]
        series[:inner] = 1.0 / (1.0 / harmonic + network.faces.resistance / gap[:inner])
        face.setValue(series)
        joints.entries = entries_of(network, balance)
        per_kelvin, into = given_heat(network, balance, old, ambient)
        loss.setValue(per_kelvin / volume)
        heat.setValue(into / volume)
        equation.solve(var=rise, solver=LinearLUSolver(tolerance=0.0, iterations=REFINED))
        change = float(np.abs(rise.value - old).max())
        if not np.isfinite(change):
            break
        if change < SETTLED:
            seconds = (meshed - begin, perf_counter() - meshed)
            return Found(ambient + np.asarray(rise.value), count, change, shape_error, seconds)
        if change > SHRINKS * before:
            part = max(0.5 * part, LEAST)
        rise.setValue(old + part * (rise.value - old))
        before = change
    raise RuntimeError(f"FiPy's sweeps do not settle: a node still moves by {change:.2g} K")


def work(given: dict[str, Any]) -> dict[str, Any]:
    """Sweep the network of `given["solution"]` with the flow it has, if any."""
    solution: Solution = given["solution"]
    return vars(sweep(solution.network, carried_of(solution), given.get("start")))


if __name__ == "__main__":
    serve(work)
