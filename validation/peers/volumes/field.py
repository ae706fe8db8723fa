"""FiPy on a condition's own cells, with everything the section has, run as a program of its own.

FiPy reads its process's arguments when imported. See `validation.peers.process`.

FiPy's: the mesh built of the cells' polygons, with their sites as centres; lengths, distances and normals; harmonic
face conductivities; the discretisation of conduction and, where contents move, of what a given flow carries; the
assembly; the sweeps; the linear solver. Ours: property laws, films, outputs, and the joints that are no faces (sheets,
surface nodes, lumped contents, radiation across the bore, the innermost wedge of a contact), which come in as a
further term of FiPy's equation. A section's cells are polygons, a network's in layers are prisms of these.
"""

from dataclasses import dataclass
from time import process_time
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array, diags_array, kron

from sim.heat.network import Network
from sim.solve.balance import Balance, evaluate
from sim.solve.steady import Solution
from validation.peers.process import Job, ask, serve
from validation.peers.volumes.cells import Cells, cells_of

MOST_SWEEPS = 100
SETTLED = 1e-7  # largest change of a node in a sweep, K
SHRINKS = 0.7  # a sweep that shrinks the change by less than this is halved from then on
REFINED = 3  # corrections by the factored matrix in a sweep, whatever their residual
LEAST = 0.05  # part of a sweep that is taken at the least
FACES = ("faces", "cells along")  # the network's groups of joints that are faces of FiPy's cells
MOST_ITERATIONS = 20_000  # of conjugate gradients in a sweep
LEFT = 1e-7  # of the right-hand side, where conjugate gradients end
PATIENCE = 600.0  # s
Array = NDArray[np.float64]


@dataclass(frozen=True)
class PeerField:
    """FiPy's answer: node temperatures (nodes,) K, sweeps, the last change (K), and how far FiPy's own length over
    distance of a face is from ours, as a part of it; processor seconds of its mesh, of its sweeps, and of what it
    assembles and solves in the first of these."""

    temperature: Array
    sweeps: int
    change: float
    shape_error: float
    seconds: tuple[float, float, float]


def mesh_of(cells: Cells) -> Any:
    """A FiPy mesh whose cell centres are the sites, and whose face centres lie on the lines between them."""
    from fipy.meshes.mesh import Mesh
    from fipy.meshes.mesh2D import Mesh2D

    solid = len(cells.vertex) == 3

    class VoronoiMesh(Mesh if solid else Mesh2D):  # type: ignore[misc]
        def _calcFaceCenters(self) -> Array:
            return cells.middle

        def _calcCellCenters(self) -> Array:
            return cells.centre

        def _calcFaceNormals(self) -> Array:
            """Along the line between two sites: FiPy takes it from three corners, of which two may coincide."""
            if not solid:
                normal: Array = super()._calcFaceNormals()
                return normal
            line = np.asarray(self.cellDistanceVectors)
            return line / np.linalg.norm(line, axis=0)

    faces, of_cell = (np.ma.masked_equal(ids, -1) for ids in (cells.face_vertex, cells.cell_faces))
    return VoronoiMesh(cells.vertex, faces, of_cell)


def joints_term() -> Any:
    """A term of FiPy's that adds a sparse matrix to its own; `entries` holds it."""
    from fipy.terms.unaryTerm import _UnaryTerm

    class Joints(_UnaryTerm):
        entries: coo_array

        def _buildMatrix(self, var: Any, SparseMatrix: Any, **_: Any) -> tuple[Any, Any, Array]:
            matrix = SparseMatrix(mesh=var.mesh)
            matrix.addAt(self.entries.data, self.entries.row, self.entries.col)
            return var, matrix, np.zeros(var.mesh.numberOfCells)

    return Joints(coeff=1.0)


def answer_of(network: Network, balance: Balance) -> csr_array:
    """What self-regulating outputs add to each node's heat as each node warms (nodes, nodes), W/K."""
    plan = network.plan
    answer = csr_array((network.nodes, network.nodes))
    for share, beneath, steep in zip(plan.heat_share, plan.beneath, balance.steep, strict=True):
        if steep.any():
            outer = kron(csr_array(share[:, None]), csr_array(beneath[None]))
            answer = answer + kron(diags_array(steep * network.layers.thickness), outer)
    return csr_array(answer)


def entries_of(network: Network, balance: Balance, answer: csr_array) -> coo_array:
    """Joints that are no faces, and the answer of self-regulating outputs, as heat into each node, W/K."""
    other = np.ones(len(balance.a), bool)
    for name in FACES:
        other[balance.parts.get(name, slice(0, 0))] = False
    a, b, g = balance.a[other], balance.b[other], balance.conductance[other]
    ends = (np.concatenate([a, b, a, b]), np.concatenate([b, a, a, b]))
    joints = coo_array((np.concatenate([g, g, -g, -g]), ends), shape=answer.shape)
    return (joints.tocsr() + answer).tocoo()


def given_heat(
    network: Network, balance: Balance, rise: Array, ambient: float, answer: csr_array
) -> tuple[Array, Array]:
    """Loss per kelvin (W/K) to given temperatures and heat (W) into each node, about the last rise (nodes,) K."""
    slope, n = balance.to_slope, network.nodes
    here = rise[balance.to_node]
    loss = balance.to_conductance * (here - (balance.to_temperature - ambient))
    offset = np.bincount(balance.to_node, slope * here - loss, n)
    per_kelvin = np.bincount(balance.to_node, slope, n).astype(float)
    return per_kelvin, offset + balance.source - answer @ rise


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


class Sweeps:
    """FiPy's equation on a network's cells, and the sweeps that settle it.

    carried (faces,): heat capacity flow through the network's conducting faces, first to second cell, W/m/K, where the
    contents move; capacity (nodes,): J/K (of a section J/m/K), where it is taken through time.
    """

    def __init__(self, network: Network, carried: Array | None = None, capacity: Array | None = None) -> None:
        from fipy import (
            CellVariable,
            CentralDifferenceConvectionTerm,
            DiffusionTerm,
            FaceVariable,
            ImplicitSourceTerm,
            TransientTerm,
        )
        from fipy.solvers.scipy import LinearCGSolver, LinearLUSolver

        self.network, self.law = network, network.law()
        self.mesh = mesh = mesh_of(cells := cells_of(network))
        self.inner = inner = cells.conducting
        self.gap = np.asarray(mesh._cellDistances)[inner]
        faces: list[Any] = [network.joints.groups[n] for n in FACES if n in network.joints.groups]
        ours = np.concatenate([f.area / (f.half_a + f.half_b) for f in faces])
        self.resistance = np.concatenate([f.resistance for f in faces])
        self.shape_error = float(np.abs(np.asarray(mesh._faceAreas)[inner] / self.gap / ours - 1).max())
        self.volume = np.asarray(mesh.cellVolumes)
        self.rise = CellVariable(mesh=mesh, value=20.0, hasOld=capacity is not None)
        self.conductivity = CellVariable(mesh=mesh, value=1.0)
        self.face, self.loss = FaceVariable(mesh=mesh, value=0.0), CellVariable(mesh=mesh, value=0.0)
        self.heat, self.joints = CellVariable(mesh=mesh, value=0.0), joints_term()
        self.equation = (
            DiffusionTerm(coeff=self.face) + self.joints + self.heat - ImplicitSourceTerm(coeff=self.loss)
        )
        if carried is not None:
            first = np.asarray(mesh.faceCellIDs[0])[inner] == network.cell_node[network.faces.cell_a]
            speed = np.where(first, carried, -carried) / np.asarray(mesh._faceAreas)[inner]
            flow = np.zeros((2, mesh.numberOfFaces))
            flow[:, inner] = speed * np.asarray(mesh.faceNormals)[:, inner]
            self.equation = self.equation - CentralDifferenceConvectionTerm(
                coeff=FaceVariable(mesh=mesh, rank=1, value=flow)
            )
        if capacity is not None:
            stored = CellVariable(mesh=mesh, value=capacity / self.volume)
            self.equation = self.equation - TransientTerm(coeff=stored)
        if network.section is None:
            self.solver = LinearLUSolver(tolerance=0.0, iterations=REFINED)
        else:  # never a direct solver in three dimensions
            self.solver = LinearCGSolver(tolerance=LEFT, criterion="RHS", iterations=MOST_ITERATIONS)
        self.first_solve = 0.0

    def settle(self, step: float | None = None) -> tuple[int, float]:
        """Sweep until nothing moves; step: length of an implicit step of time, s. Sweeps, and the last change, K.

        Raises RuntimeError if it does not settle.
        """
        rise, part, before, change = self.rise, 1.0, np.inf, np.inf
        if step is not None:
            rise.updateOld()
        for count in range(1, MOST_SWEEPS + 1):
            old = rise.value.copy()
            self._about(old)
            started = process_time()
            self.equation.solve(var=rise, solver=self.solver, dt=step)
            self.first_solve = self.first_solve or process_time() - started
            change = float(np.abs(rise.value - old).max())
            if not np.isfinite(change):
                break
            if change < SETTLED:
                return count, change
            if change > SHRINKS * before:
                part = max(0.5 * part, LEAST)
            rise.setValue(old + part * (rise.value - old))
            before = change
        raise RuntimeError(f"FiPy's sweeps do not settle: a node still moves by {change:.2g} K")

    def _about(self, rise: Array) -> None:
        """Take the terms of the equation about temperatures (nodes,) over the ambient, K."""
        network = self.network
        ambient = network.case.conditions[0].ambient
        balance = evaluate(network, ambient + rise, self.law)
        active, k = network.cell_node >= 0, np.ones(network.nodes)
        k[network.cell_node[active]] = balance.conductivity[active]
        self.conductivity.setValue(k)
        harmonic = np.asarray(self.conductivity.harmonicFaceValue.value)[self.inner]
        series = np.zeros(self.mesh.numberOfFaces)
        series[self.inner] = 1.0 / (1.0 / harmonic + self.resistance / self.gap)
        self.face.setValue(series)
        answer = answer_of(network, balance)
        self.joints.entries = entries_of(network, balance, answer)
        per_kelvin, into = given_heat(network, balance, rise, ambient, answer)
        self.loss.setValue(per_kelvin / self.volume)
        self.heat.setValue(into / self.volume)


def sweep(network: Network, carried: Array | None = None, start: float | None = None) -> PeerField:
    """Let FiPy sweep a network until it settles.

    carried: as of `Sweeps`; start: temperature to begin from, K, 20 K above the ambient by default. Raises RuntimeError
    if it does not settle.
    """
    begin, ambient = process_time(), network.case.conditions[0].ambient
    sweeps = Sweeps(network, carried)
    meshed = process_time()
    if start is not None:
        sweeps.rise.setValue(start - ambient)
    count, change = sweeps.settle()
    seconds = (meshed - begin, process_time() - meshed, sweeps.first_solve)
    return PeerField(ambient + np.asarray(sweeps.rise.value), count, change, sweeps.shape_error, seconds)


def work(given: dict[str, Any]) -> dict[str, Any]:
    """Sweep the network of `given["solution"]` with the flow it has, if any, or the still `given["network"]`."""
    if "network" in given:
        return vars(sweep(given["network"], start=given["start"]))
    solution: Solution = given["solution"]
    return vars(sweep(solution.network, carried_of(solution), given.get("start")))


def apart(network: Network, seconds: float = PATIENCE) -> PeerField:
    """`sweep` of a network whose contents are still, in a process of its own.

    Raises RuntimeError if there is no answer within so many seconds.
    """
    job = Job("validation.peers.volumes.field", ("fipy",), {"network": network, "start": None})
    reply = ask({"FiPy": job}, seconds)["FiPy"]
    if reply.answer is None:
        raise RuntimeError(f"FiPy: {reply.failure}")
    return PeerField(**reply.answer)


if __name__ == "__main__":
    serve(work)
