"""A plan mesh as lists of faces and vertices, the form general solvers want."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.section.mesh import PlanMesh

IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Polygons:
    """vertex (2, v) m; face_vertex (2, f): inner faces in the mesh's order, then cover faces; cell_faces (most,
    cells), -1 where a cell has fewer."""

    vertex: NDArray[np.float64]
    face_vertex: IntArray
    cell_faces: IntArray


def polygons(mesh: PlanMesh) -> Polygons:
    """Faces, vertices and cells of a plan mesh."""
    ends = np.concatenate([mesh.face_ends, mesh.cover_ends])
    used, inverse = np.unique(ends, return_inverse=True)
    faces = len(ends)
    cell = np.concatenate([mesh.face_cells[:, 0], mesh.cover_cell, mesh.face_cells[:, 1]])
    face = np.concatenate([np.arange(faces), np.arange(len(mesh.face_cells))])
    order = np.argsort(cell, kind="stable")
    cell, face = cell[order], face[order]
    count = np.bincount(cell, minlength=mesh.cells)
    slot = np.arange(len(cell)) - np.concatenate([[0], np.cumsum(count)[:-1]])[cell]
    cell_faces = np.full((int(count.max()), mesh.cells), -1, dtype=np.int64)
    cell_faces[slot, cell] = face
    return Polygons(mesh.vertex[used].T.copy(), inverse.reshape(-1, 2).T.copy(), cell_faces)
