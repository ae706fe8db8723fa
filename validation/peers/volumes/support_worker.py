"""FiPy on given prisms, run as a program of its own: FiPy reads its process's arguments when imported.

python support_worker.py INPUT.npz OUTPUT.npz. The input holds the plan's polygons, the layers' edges, cell
conductivities (layers, cells), heat (layers, cells) W, conductances W/K of upright inner faces (layers, faces), of the
planes between layers (layers - 1, cells) and to the surroundings (layers, cover faces), whose temperature is given.
Output: cell temperatures, times in seconds, the linear residual over that of the start.
"""

from __future__ import annotations

import sys
from time import process_time
from typing import Any

import numpy as np

SAME = 1e-7  # m: corners nearer than this are one, for FiPy takes a face's normal from its first three


def prisms(given: Any) -> tuple[np.ndarray, np.ma.MaskedArray, np.ma.MaskedArray, int]:
    """Vertices (3, v), faces and cells of the extruded plan as FiPy wants them; number of upright faces a layer."""
    vertex, ends, cell_faces, edge = (given[n] for n in ("vertex", "face_vertex", "cell_faces", "edge"))
    levels, points, uprights, cells = len(edge), vertex.shape[1], ends.shape[1], cell_faces.shape[1]
    xyz = np.concatenate([np.tile(vertex, levels), np.repeat(edge, points)[None]])
    low = (np.arange(levels - 1) * points)[:, None]
    a, b = (ends[i][None] + low for i in (0, 1))
    quads = np.stack([a, b, b + points, a + points]).reshape(4, -1)
    count = (cell_faces >= 0).sum(axis=0)
    most = int(count.max())
    corner = np.full((most + 2, cells), -1)  # a cell at the cover may lack a sliver of a face
    centre = np.array([vertex[:, ends[:, f[f >= 0]].ravel()].mean(axis=1) for f in cell_faces.T])
    for c in range(cells):
        own = np.unique(ends[:, cell_faces[:, c][cell_faces[:, c] >= 0]])
        own = own[np.unique(np.round(vertex[:, own] / SAME), axis=1, return_index=True)[1]]
        turn = np.arctan2(*(vertex[:, own] - centre[c][:, None])[::-1])
        corner[: len(own), c] = own[np.argsort(turn)]
    flat = np.where(
        corner[:, None, :] >= 0, corner[:, None, :] + (np.arange(levels) * points)[None, :, None], -1
    )
    flat = flat.reshape(most + 2, -1)
    tall = np.full((max(most + 2, 4), quads.shape[1] + flat.shape[1]), -1)
    tall[:4, : quads.shape[1]] = quads
    tall[: most + 2, quads.shape[1] :] = flat
    layer = np.arange(levels - 1)
    side = np.where(
        cell_faces[:, None, :] >= 0, cell_faces[:, None, :] + (layer * uprights)[None, :, None], -1
    )
    plane = quads.shape[1] + np.arange(cells)[None, :] + (layer * cells)[:, None]
    whole = np.concatenate([side, plane[None], plane[None] + cells]).reshape(side.shape[0] + 2, -1)
    return xyz, np.ma.masked_equal(tall, -1), np.ma.masked_equal(whole, -1), uprights


def main(source: str, target: str) -> None:
    """Solve the steady conduction problem in `source` with FiPy's iterative solver of symmetric problems."""
    given = np.load(source)
    sys.argv = sys.argv[:1]
    from fipy import CellVariable, DiffusionTerm, FaceVariable, ImplicitSourceTerm
    from fipy.meshes.mesh import Mesh
    from fipy.solvers.scipy import LinearCGSolver

    begin = process_time()
    xyz, faces, cells, uprights = prisms(given)
    mesh = Mesh(xyz, faces, cells)
    meshed = process_time()
    # the same discrete problem: each inner face's coefficient gives the conductance between its two sites, for
    # FiPy's own distances run between centroids
    covers = given["outer"].shape[1]
    layers = len(given["edge"]) - 1
    side = np.arange(uprights)[None] + (np.arange(layers) * uprights)[:, None]
    cells_in_plan = given["conductivity"].shape[1]
    plane = (
        layers * uprights + np.arange(cells_in_plan)[None] + (np.arange(1, layers) * cells_in_plan)[:, None]
    )
    scale = mesh._cellDistances / mesh._faceAreas
    value = np.zeros(mesh.numberOfFaces)
    inner = side[:, : uprights - covers]
    value[inner] = given["upright"] * scale[inner]
    value[plane] = given["axial"] * scale[plane]
    face = FaceVariable(mesh=mesh, value=value)
    owner = mesh.faceCellIDs[0].filled(-1)[side[:, uprights - covers :].ravel()]
    film = given["outer"].ravel()
    volume = mesh.cellVolumes
    loss = np.bincount(owner, film, mesh.numberOfCells) / volume
    gain = np.bincount(owner, film * float(given["surroundings"]), mesh.numberOfCells) / volume
    temperature = CellVariable(mesh=mesh, value=float(given["start"]))
    equation = (
        DiffusionTerm(coeff=face)
        + CellVariable(mesh=mesh, value=given["heat"].ravel() / volume + gain)
        - ImplicitSourceTerm(coeff=CellVariable(mesh=mesh, value=loss))
        == 0
    )
    assembled = process_time()
    solver = LinearCGSolver(tolerance=float(given["tolerance"]), criterion="initial", iterations=200000)
    equation.cacheMatrix()
    equation.cacheRHSvector()
    equation.solve(var=temperature, solver=solver)
    solved = process_time()
    matrix, right = equation.matrix.matrix, np.asarray(equation.RHSvector)
    start = np.full(right.shape, float(given["start"]))
    left = np.linalg.norm(right - matrix @ temperature.value) / np.linalg.norm(right - matrix @ start)
    np.savez(
        target,
        temperature=temperature.value,
        seconds=np.array([meshed - begin, assembled - meshed, solved - assembled]),
        residual=left,
    )


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
