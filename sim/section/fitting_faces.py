"""The faces around a fitting: what is left of those of the plan's layers, and the further ones."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from sim.basics import Array, IntArray
from sim.section.bodies import CONTENTS, FIRST_BODY
from sim.section.fitting_cells import BORE, NONE, OUTSIDE, Cells, Sites
from sim.section.mesh import PlanMesh
from sim.section.prisms import bereft, beside, graph, prisms
from sim.section.space import SiteFaces, space

SAME = 1e-3  # a face in space as large as the plan's to this part is the plan's own
NEAR = 3.0  # of the widest spacing about an axis across: sites so near are taken for its neighbours
BENT = 0.04  # the same of a cover face, of which the plan takes the arc


@dataclass(frozen=True)
class Further:
    """Faces (k,): a: cells; b: the cell on the other side, or OUTSIDE or BORE; area m2; half the sites' distance m;
    normal (k, 3) from a; point (k, 3) m; one, other: numbers of the two sites."""

    a: IntArray
    b: IntArray
    area: Array
    half: Array
    normal: Array
    point: Array
    one: IntArray
    other: IntArray


@dataclass(frozen=True)
class FittingFaces:
    """What is left of the plan's own faces around a fitting, as shares: of its faces (count, faces), of its cover
    faces (count, cover faces), of the cells' faces to the next layer (count, cells). Further joints of two cells, faces
    to the outside, faces to contents that are no cells. volume (all cells,): of those in space, m3, 0 elsewhere.
    hollow (sites,): m3 of contents in hollows that are no cells, 0 elsewhere."""

    face_share: Array
    cover_share: Array
    along_share: Array
    between: Further
    film: Further
    wet: Further
    volume: Array
    hollow: Array
    every: SiteFaces
    sites: Sites


def fitting_faces(mesh: PlanMesh, cells: Cells, sites: Sites, lumped: bool) -> FittingFaces:
    """Make the faces. lumped: contents are no cells."""
    every = _all_faces(cells, sites)
    i, j = every.pair.T
    inner = _inner(mesh, cells, sites)
    here = inner[i] | inner[j]
    i, j, area, distance = i[here], j[here], every.area[here], every.distance[here]
    face, face_share = _in_plan(mesh, cells, sites, i, j, area, lumped)
    along, along_share = _along(mesh, cells, sites, i, j, area)
    cover, cover_share = _on_cover(mesh, cells, sites, i, j, area)
    taken = face | along | cover
    ci, cj = sites.cell[i], sites.cell[j]
    flip = ci < cj  # the cell with the higher number is `a`: what is no cell is `b`
    one, other = np.where(flip, j, i), np.where(flip, i, j)
    a, b = sites.cell[one], sites.cell[other]
    normal = (sites.point[other] - sites.point[one]) / distance[:, None]
    middle = 0.5 * (sites.point[other] + sites.point[one])

    def further(which: NDArray[np.bool_]) -> Further:
        w = which & ~taken
        return Further(a[w], b[w], area[w], 0.5 * distance[w], normal[w], middle[w], one[w], other[w])

    return FittingFaces(
        face_share,
        cover_share,
        along_share,
        further((a >= 0) & (b >= 0)),
        further((a >= 0) & (b == OUTSIDE)),
        further((a >= 0) & (b == BORE)),
        *_volumes(mesh, cells, sites, every),
        every,
        sites,
    )


def _all_faces(cells: Cells, sites: Sites) -> SiteFaces:
    """Faces between all sites: prisms, but where bodies across reach, in space."""
    levels, columns = sites.table.shape
    layers, total = cells.layers, len(sites.point)
    upright = prisms(sites.plane, layers.centre[:levels], layers.edge[: levels + 1], sites.table)
    standing = levels * columns
    if total == standing:
        return upright
    across = np.arange(total) >= standing
    tree = cKDTree(sites.point[standing:])
    apart, _ = tree.query(sites.point[:standing])
    spacing = tree.query(sites.point[standing:], k=2)[0][:, 1]
    near = np.zeros(total, bool)
    near[:standing] = (apart < NEAR * float(spacing.max())) & (sites.table.ravel() >= 0)
    neighbours = graph(upright, total)
    core = beside(neighbours, near | bereft(sites.table, sites.plane, total)) | across
    first = beside(neighbours, core)  # closed by what is beside it in turn
    wanted = np.flatnonzero(beside(neighbours, first))
    low = wanted[across[wanted] | (sites.point[wanted, 2] < layers.centre[0] * 1.01)]
    image = sites.point[low] * [1.0, 1.0, -1.0]
    meshed = space(np.concatenate([sites.point[wanted], image]))
    real = (meshed.pair < len(wanted)).all(axis=1)
    pair = wanted[meshed.pair[real]]
    inside = core[pair].any(axis=1) & first[pair].all(axis=1)
    outside = ~core[upright.pair].any(axis=1)
    pair, area, distance = pair[inside], meshed.area[real][inside], meshed.distance[real][inside]
    return SiteFaces(
        np.concatenate([upright.pair[outside], np.sort(pair, axis=1)]),
        np.concatenate([upright.area[outside], area]),
        np.concatenate([upright.distance[outside], distance]),
    )


def _inner(mesh: PlanMesh, cells: Cells, sites: Sites) -> NDArray[np.bool_]:
    """Sites whose cells are made in space."""
    plan, ghost = sites.plan, sites.ghost
    standing = (plan != NONE) & (plan < cells.count * mesh.cells)
    images = (ghost != NONE) & (ghost < cells.count * len(mesh.cover_cell))
    inner: NDArray[np.bool_] = standing | images | ((plan == NONE) & (ghost == NONE))
    return inner


def _in_plan(
    mesh: PlanMesh, cells: Cells, sites: Sites, i: IntArray, j: IntArray, area: Array, lumped: bool
) -> tuple[NDArray[np.bool_], Array]:
    """Which faces are those of the plan between two cells of a layer, and their shares."""
    n, count = mesh.cells, cells.count
    pi, pj = sites.plan[i], sites.plan[j]
    key = np.sort(mesh.face_cells, axis=1) @ np.array([n, 1])
    order = np.argsort(key)
    wanted = np.minimum(pi % n, pj % n) * n + np.maximum(pi % n, pj % n)
    at = order[np.minimum(np.searchsorted(key[order], wanted), len(key) - 1)]
    layer = np.clip(pi // n, 0, count - 1)
    known = (pi != NONE) & (pj != NONE) & (pi // n == pj // n) & (key[at] == wanted) & (pi // n < count)
    # a face between a cell and contents is the plan's own only at the bore
    idle = mesh.of_kind("liquid", "gas") if lumped else np.zeros(n, bool)
    usable = cells.there[:count] | idle
    pair = mesh.face_cells
    known &= usable[layer, pair[at, 0]] & usable[layer, pair[at, 1]]
    share = np.zeros((count, len(key)))
    full = mesh.face_length[at] * cells.layers.thickness[layer]
    np.add.at(share, (layer[known], at[known]), area[known] / full[known])
    share[np.abs(share - 1) < SAME] = 1.0
    return known, share


def _along(
    mesh: PlanMesh, cells: Cells, sites: Sites, i: IntArray, j: IntArray, area: Array
) -> tuple[NDArray[np.bool_], Array]:
    """Which faces are those of a cell of the plan and its next along the pipe, and their shares."""
    n, count = mesh.cells, cells.count
    pi, pj = sites.plan[i], sites.plan[j]
    low = np.minimum(pi, pj)
    layer, cell = np.clip(low // n, 0, count - 1), low % n
    next_ = np.minimum(layer + 1, cells.layers.count - 1)
    known = (low != NONE) & (np.abs(pi - pj) == n) & (low // n < count)
    known &= cells.there[layer, cell] & cells.there[next_, cell]
    share = np.zeros((count, n))
    share[layer[known], cell[known]] = area[known] / mesh.cell_area[cell[known]]
    share[np.abs(share - 1) < SAME] = 1.0
    bore = mesh.of_kind("liquid", "gas")
    share[:, bore] = 1.0
    return known, share


def _on_cover(
    mesh: PlanMesh, cells: Cells, sites: Sites, i: IntArray, j: IntArray, area: Array
) -> tuple[NDArray[np.bool_], Array]:
    """Which faces are those of the plan's outside that still are outside, and their shares."""
    n, count, across = mesh.cells, cells.count, len(mesh.cover_cell)
    plan, ghost = np.maximum(sites.plan[i], sites.plan[j]), np.maximum(sites.ghost[i], sites.ghost[j])
    face = np.full(n, NONE)
    face[mesh.cover_cell] = np.arange(across)
    at, layer = face[plan % n], np.clip(plan // n, 0, count - 1)
    pair = (plan != NONE) & (ghost != NONE) & (plan // n == ghost // across) & (plan // n < count) & (at >= 0)
    pair &= (sites.plan[i] == NONE) | (sites.plan[j] == NONE)
    free = pair & (np.minimum(sites.cell[i], sites.cell[j]) == OUTSIDE) & cells.there[layer, plan % n]
    free &= cells.material[layer, plan % n] < FIRST_BODY  # bare metal has a film of its own
    whole, left = np.zeros((count, across)), np.zeros((count, across))
    np.add.at(whole, (layer[pair], at[pair]), area[pair])
    np.add.at(left, (layer[free], at[free]), area[free])
    full = mesh.cover_length * cells.layers.thickness[:count, None]
    whole = np.where(whole > (1 - BENT) * full, whole, full)
    share = np.minimum(left / whole, 1.0)
    share[share > 1 - SAME] = 1.0
    return free, share


def _volumes(mesh: PlanMesh, cells: Cells, sites: Sites, faces: SiteFaces) -> tuple[Array, Array]:
    """Volumes of the cells in space, m3, 0 for the others; of sites for contents of hollows that are no cells.

    Pyramids from each site to its faces. The face in the plane of symmetry is no pair: its area is what the normals
    of the others lack to close.
    """
    part = faces.area * faces.distance / 6
    by_site = np.bincount(faces.pair.ravel(), np.repeat(part, 2), len(sites.cell))
    i, j = faces.pair.T
    up = faces.area * (sites.point[j, 2] - sites.point[i, 2]) / faces.distance
    open_below = np.bincount(i, up, len(sites.cell)) - np.bincount(j, up, len(sites.cell))
    volume = np.zeros(cells.layers.count * mesh.cells + len(cells.point))
    inner = _inner(mesh, cells, sites)
    is_cell = (sites.cell >= 0) & inner
    of_site = by_site + open_below * sites.point[:, 2] / 3
    volume[sites.cell[is_cell]] = of_site[is_cell]
    return volume, np.where((sites.cell == BORE) & (sites.code == CONTENTS) & inner, of_site, 0.0)
