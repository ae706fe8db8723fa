"""The part of a Voronoi mesh in which a fluid moves: its faces, its rim, and flows from a stream function.

A face's flow is the difference of the stream function between its two ends, so what enters a cell leaves it, to
rounding. The values at the ends (Voronoi vertices) come from the sites around them by a linear rule; on the rim
they are zero.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix, diags_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from sim.basics import IntArray
from sim.section.mesh import PlanMesh
from sim.section.shapes import Array

SHORT = 1e-3  # a face shorter than this part of its gap counts as so long where slopes along it are taken
MERGED = 1e-3  # vertices nearer than this part of the smallest gap between sites are one


@dataclass(frozen=True)
class FlowMesh:
    """Cells of a moving fluid, lengths in units of `scale` (m).

    cell (n,): their numbers in the mesh; area (n,); face (m, 2): both sites, numbered within the flow; shape (m,):
    length over gap; push (m,): length times the x part of the normal from the first to the second site; rim: cell
    (b,), gap from site to rim, shape, push (outward), slips (b,) True on a free surface, face (b,) its number in the
    mesh; flow (m, n): the flow through each face, first to second site, from the stream function at the sites;
    turns: changes of both velocities along each face, 90 degrees left of first to second site, from the stream
    function, (m, n) each; slopes: both parts of a gradient at each face from values at the sites, (m, n) each.
    """

    scale: float
    cell: IntArray
    site: Array
    area: Array
    face: IntArray
    shape: Array
    push: Array
    rim_cell: IntArray
    rim_gap: Array
    rim_shape: Array
    rim_push: Array
    rim_slips: NDArray[np.bool_]
    rim_face: IntArray
    flow: csr_matrix
    turns: tuple[csr_matrix, csr_matrix]
    slopes: tuple[csr_matrix, csr_matrix]

    @property
    def cells(self) -> int:
        return len(self.cell)

    def incidence(self) -> csr_matrix:
        """Faces by cells (m, n): 1 at the second site, -1 at the first."""
        return _by_face(self.face, (-1.0, 1.0), self.cells)

    def mean(self) -> csr_matrix:
        """Faces by cells (m, n): the mean of both sites, which is the value where their line meets the face."""
        return _by_face(self.face, (0.5, 0.5), self.cells)


def _by_face(face: IntArray, weights: tuple[float, float], cells: int) -> csr_matrix:
    """Faces by cells (m, n), with a weight at the first and at the second site."""
    rows = np.repeat(np.arange(len(face)), 2)
    return csr_matrix((np.tile(weights, len(face)), (rows, face.ravel())), (len(face), cells))


def _merged(vertex: Array, used: IntArray, reach: float) -> tuple[IntArray, Array]:
    """Number of each vertex (v,) with coinciding ones joined (-1 if unused), and their places (k, 2)."""
    near = cKDTree(vertex[used]).query_pairs(reach, output_type="ndarray")
    graph = coo_matrix((np.ones(len(near)), (near[:, 0], near[:, 1])), (len(used), len(used)))
    count, label = connected_components(graph, directed=False)
    number = np.full(len(vertex), -1, np.int64)
    number[used] = label
    weight = np.bincount(label, minlength=count)
    place = np.stack([np.bincount(label, vertex[used, i], count) / weight for i in (0, 1)], axis=-1)
    return number, place


def _interpolation(
    place: Array, fixed: NDArray[np.bool_], site: Array, pairs: IntArray
) -> tuple[csr_matrix, csr_matrix, csr_matrix]:
    """Value and both parts of the gradient at vertices from sites: the weights of least norm that reproduce a linear
    field; rows of fixed vertices are empty.

    pairs (p, 2): (vertex, site) that belong together, without repeats.
    """
    pairs = pairs[~fixed[pairs[:, 0]]]
    v, s = pairs.T
    apart = site[s] - place[v]
    count = np.maximum(np.bincount(v, minlength=len(place)), 1)
    size = np.sqrt(np.bincount(v, (apart**2).sum(axis=1), len(place)) / count)
    base = np.stack([np.ones(len(v)), apart[:, 0] / size[v], apart[:, 1] / size[v]], axis=-1)
    normal = np.zeros((len(place), 3, 3))
    for i in range(3):
        for j in range(3):
            normal[:, i, j] = np.bincount(v, base[:, i] * base[:, j], len(place))
    normal[np.bincount(v, minlength=len(place)) == 0] = np.eye(3)
    inverse = np.linalg.inv(normal)
    of = [(base * inverse[v][:, :, k]).sum(axis=1) for k in range(3)]
    scale = (1.0, 1.0 / size[v], 1.0 / size[v])
    value, x, y = (
        csr_matrix((w * c, (v, s)), (len(place), len(site))) for w, c in zip(of, scale, strict=True)
    )
    return value, x, y


def _with_rim(weight: csr_matrix, fixed: NDArray[np.bool_], pairs: IntArray) -> csr_matrix:
    """Weights of a value at vertices where those on the rim take the mean of their sites."""
    v, s = pairs[fixed[pairs[:, 0]]].T
    count = np.maximum(np.bincount(v, minlength=len(fixed)), 1)
    return (weight + csr_matrix((1.0 / count[v], (v, s)), weight.shape)).tocsr()


def _slopes(value: csr_matrix, step: Array, length: Array, face: IntArray) -> tuple[csr_matrix, csr_matrix]:
    """Both parts of a gradient at faces: across from the sites (step (m, 2)), along from the ends' values (m, n)."""
    gap = np.hypot(*step.T)
    normal = step / gap[:, None]
    across = _by_face(face, (-1.0, 1.0), value.shape[1])
    along = diags_array(1.0 / np.maximum(length, SHORT * gap)) @ value
    x = diags_array(normal[:, 0] / gap) @ across - diags_array(normal[:, 1]) @ along
    y = diags_array(normal[:, 1] / gap) @ across + diags_array(normal[:, 0]) @ along
    return x.tocsr(), y.tocsr()


def flow_mesh(
    site: Array,
    area: Array,
    pair: IntArray,
    length: Array,
    gap: Array,
    ends: IntArray,
    vertex: Array,
    fluid: NDArray[np.bool_],
    slips: NDArray[np.bool_],
    scale: float,
) -> FlowMesh:
    """Cut the fluid's cells out of a Voronoi mesh.

    site (N, 2) m, area (N,) m2, pair (M, 2) sites of each face, length, gap (M,) m, ends (M, 2) and vertex (V, 2) m;
    fluid (N,): which cells move; slips (M,): faces that are a free surface where they bound the fluid; scale: m.
    """
    cell = np.flatnonzero(fluid)
    number = np.cumsum(fluid) - 1
    both = fluid[pair].all(axis=1)
    rim = fluid[pair].sum(axis=1) == 1
    touched = np.flatnonzero(both | rim)
    used = np.unique(ends[touched])
    label, place = _merged(vertex, used, MERGED * float(gap[touched].min()))
    fixed = np.zeros(len(place), bool)
    fixed[label[ends[rim]].ravel()] = True
    face, at = number[pair[both]], label[ends[both]]
    belongs = np.stack([np.repeat(at.ravel(), 2), np.stack([face, face], axis=1).reshape(-1)], axis=-1)
    belongs = np.unique(belongs, axis=0)
    weight, by_x, by_y = _interpolation(place, fixed, site[cell], belongs)
    known = _with_rim(weight, fixed, belongs)
    step = site[pair[both, 1]] - site[pair[both, 0]]
    along = place[at[:, 1]] - place[at[:, 0]]
    # flow to the right of the direction of travel is positive for u = d psi / dy, v = - d psi / dx
    turned = step[:, 0] * along[:, 1] - step[:, 1] * along[:, 0] > 0
    start, stop = np.where(turned, at[:, 0], at[:, 1]), np.where(turned, at[:, 1], at[:, 0])
    flow = (weight[stop] - weight[start]).tocsr()
    turns = (scale * (by_y[stop] - by_y[start]).tocsr(), -scale * (by_x[stop] - by_x[start]).tocsr())
    slopes = _slopes((known[stop] - known[start]).tocsr(), step / scale, length[both] / scale, face)
    own_first = fluid[pair[rim, 0]]
    inner = np.where(own_first, pair[rim, 0], pair[rim, 1])
    outward = np.where(own_first, 1.0, -1.0) * (site[pair[rim, 1], 0] - site[pair[rim, 0], 0]) / gap[rim]
    return FlowMesh(
        scale,
        cell,
        site[cell] / scale,
        area[cell] / scale**2,
        face,
        length[both] / gap[both],
        length[both] * step[:, 0] / gap[both] / scale,
        number[inner],
        0.5 * gap[rim] / scale,
        2 * length[rim] / gap[rim],
        length[rim] * outward / scale,
        slips[rim],
        np.flatnonzero(rim),
        flow,
        turns,
        slopes,
    )


def bore_flow(mesh: PlanMesh, kind: str) -> FlowMesh:
    """The liquid (or gas) in the bore of a plan mesh; the face towards the other one of them is free of shear."""
    other = {"liquid": "gas", "gas": "liquid"}[kind]
    return flow_mesh(
        mesh.site,
        mesh.cell_area,
        mesh.face_cells,
        mesh.face_length,
        mesh.face_distance,
        mesh.face_ends,
        mesh.vertex,
        mesh.kind == kind,
        (mesh.kind[mesh.face_cells] == other).any(axis=1),
        2 * mesh.layout.inner_radius,
    )
