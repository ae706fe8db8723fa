"""The cells of a network as vertices, faces and cells that FiPy takes, and one small square for every other node."""

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
    """vertex (2 or 3, v) m; face_vertex (most, f), cell_faces (most, n): -1 where there are fewer; centre (2 or 3, n)
    m: the sites of the Voronoi cells; middle (2 or 3, f) m: where the line between two sites goes through their face;
    conducting (i,): the faces across which FiPy conducts, in the order of the network's groups "faces" and "cells
    along". It conducts nothing across the others (the rim's, and those in which nodes of foil or of a void's bounds
    lie).

    Cell numbers are the network's node numbers. Nodes that are no cells (sheets, surfaces, lumped contents) are
    squares of their own that touch nothing, in layers the boxes upon them.
    """

    vertex: NDArray[np.float64]
    face_vertex: IntArray
    cell_faces: IntArray
    centre: NDArray[np.float64]
    middle: NDArray[np.float64]
    conducting: IntArray


def cells_of(network: Network) -> Cells:
    """Faces, vertices and cells of a network: polygons of a section, prisms of one in layers."""
    plan = _polygons(network.plan)
    if network.section is None:
        return plan
    return _prisms(plan, network.layers.edge, np.flatnonzero(network.plan.cell_node >= 0).size)


def _polygons(network: Network) -> Cells:
    """A section: its conducting faces, those with a node of their own, the rim's, the cover's, the squares'."""
    mesh, node = network.mesh, network.cell_node
    split = np.concatenate([network.foil_face, network.void_face])
    inner = np.concatenate([network.face, split])
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
    face_vertex = np.concatenate([face_vertex, len(used) + sides])
    centre = np.concatenate([mesh.site[node >= 0], middle])
    owner = np.concatenate([cell[:faces], cell[faces + len(inner) :]])
    start = vertex[face_vertex[:, 0]]
    along = vertex[face_vertex[:, 1]] - start
    share = ((centre[owner] - start) * along).sum(axis=1) / (along**2).sum(axis=1)
    return Cells(
        vertex.T.copy(),
        face_vertex.T.copy(),
        _by_cell(cell, face, network.nodes),
        centre.T.copy(),
        (start + share[:, None] * along).T.copy(),
        np.arange(len(network.face)),
    )


def _prisms(plan: Cells, edge: NDArray[np.float64], real: int) -> Cells:
    """The plan's cells extruded between edges (layers + 1,) m: upright faces by layer, then the planes between layers,
    from end to end. real: the plan's cells that are no squares."""
    points, uprights, columns = plan.vertex.shape[1], plan.face_vertex.shape[1], plan.cell_faces.shape[1]
    layers = np.arange(len(edge) - 1)[:, None]
    levels = np.arange(len(edge))[:, None]
    a, b = (end + layers * points for end in plan.face_vertex)
    quads = np.stack([a, b, b + points, a + points]).reshape(4, -1)
    corner = _corners(plan)
    flats = np.where(corner[:, None] >= 0, corner[:, None] + levels * points, -1).reshape(len(corner), -1)
    face_vertex = np.full((max(4, len(corner)), quads.shape[1] + flats.shape[1]), -1, dtype=np.int64)
    face_vertex[:4, : quads.shape[1]] = quads
    face_vertex[: len(corner), quads.shape[1] :] = flats
    sides = np.where(plan.cell_faces[:, None] >= 0, plan.cell_faces[:, None] + layers * uprights, -1)
    below = quads.shape[1] + np.arange(columns) + layers * columns
    upright = plan.conducting + layers * uprights
    along = below[1:, :real]
    height = 0.5 * (edge[1:] + edge[:-1])
    return Cells(
        _raised(plan.vertex, edge),
        face_vertex,
        np.concatenate([sides, below[None], below[None] + columns]).reshape(len(sides) + 2, -1),
        _raised(plan.centre, height),
        np.concatenate([_raised(plan.middle, height), _raised(plan.centre, edge)], axis=1),
        np.concatenate([upright.ravel(), along.ravel()]),
    )


def _raised(point: NDArray[np.float64], height: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points (2, k) of the plan at each height (h,): (3, h k)."""
    return np.concatenate([np.tile(point, len(height)), np.repeat(height, point.shape[1])[None]])


def _corners(plan: Cells) -> IntArray:
    """Vertices of each cell of the plan (most, n), in turn about its site; -1 where it has fewer."""
    slot, cell = np.nonzero(plan.cell_faces >= 0)
    ends = plan.face_vertex[:, plan.cell_faces[slot, cell]]
    cell, corner = np.unique(np.stack([np.tile(cell, 2), ends.ravel()]), axis=1)
    turn = np.arctan2(*(plan.vertex[:, corner] - plan.centre[:, cell])[::-1])
    order = np.argsort(turn)
    return _by_cell(cell[order], corner[order], plan.cell_faces.shape[1])


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
