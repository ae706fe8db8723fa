"""The cells of a network as vertices, faces and cells that FiPy takes, and one small square for every other node."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.heat.network import Network

IntArray = NDArray[np.int64]
APART = (
    3.0  # squares stand this many of their sides apart, and so far from the section, in units of its radius
)


@dataclass(frozen=True)
class Cells:
    """vertex (2, v) m; face_vertex (2, f); cell_faces (most, n), -1 where a cell has fewer; centre (2, n) m: the sites
    of the Voronoi cells; apart (c,): faces across which FiPy conducts nothing (nodes of foil or of a void's
    bounds lie in them); pair (i, 2): the
    network's conducting faces come first, their two cells.

    Cell numbers are the network's node numbers. Nodes that are no cells (sheets, surfaces, lumped contents) are
    squares of their own that touch nothing.
    """

    vertex: NDArray[np.float64]
    face_vertex: IntArray
    cell_faces: IntArray
    centre: NDArray[np.float64]
    apart: IntArray
    pair: IntArray


def cells_of(network: Network) -> Cells:
    """Faces, vertices and cells of a network: its conducting faces, those with a node of their own, the rim's."""
    mesh, node = network.mesh, network.cell_node
    split = np.concatenate([network.foil_face, network.void_face])
    inner = np.concatenate([network.face, split])
    apart = len(network.face) + np.arange(len(split))
    pair = node[mesh.face_cells]
    rim = np.flatnonzero((pair >= 0).sum(axis=1) == 1)
    real = int((node >= 0).sum())
    squares = network.nodes - real
    ends = np.concatenate([mesh.face_ends[inner], mesh.face_ends[rim], mesh.cover_ends])
    used, inverse = np.unique(ends, return_inverse=True)
    face_vertex = inverse.reshape(-1, 2)
    faces = len(face_vertex)
    corner = np.arange(4 * squares).reshape(squares, 4)
    sides = np.stack([corner, np.roll(corner, -1, axis=1)], axis=-1).reshape(-1, 2)
    cell = np.concatenate(
        [
            pair[inner, 0],
            pair[rim].max(axis=1),
            node[mesh.cover_cell],
            pair[inner, 1],
            np.repeat(real + np.arange(squares), 4),
        ]
    )
    face = np.concatenate([np.arange(faces), np.arange(len(inner)), faces + np.arange(4 * squares)])
    middle = _middles(squares, mesh.layout.cover_radius)
    side = middle[:1, 0] / APART if squares else np.zeros(1)
    box = 0.5 * side * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    vertex = np.concatenate([mesh.vertex[used], (middle[:, None, :] + box).reshape(-1, 2)])
    return Cells(
        vertex.T.copy(),
        np.concatenate([face_vertex, len(used) + sides]).T.copy(),
        _by_cell(cell, face, network.nodes),
        np.concatenate([mesh.site[node >= 0], middle]).T.copy(),
        apart,
        pair[network.face],
    )


def _middles(count: int, radius: float) -> NDArray[np.float64]:
    """Middles (count, 2) of squares in a row beside the section, m."""
    return np.stack([APART * radius * (1 + np.arange(count)), np.zeros(count)], axis=-1)


def _by_cell(cell: IntArray, face: IntArray, count: int) -> IntArray:
    order = np.argsort(cell, kind="stable")
    cell, face = cell[order], face[order]
    faces = np.bincount(cell, minlength=count)
    slot = np.arange(len(cell)) - np.concatenate([[0], np.cumsum(faces)[:-1]])[cell]
    cell_faces = np.full((int(faces.max()), count), -1, dtype=np.int64)
    cell_faces[slot, cell] = face
    return cell_faces
