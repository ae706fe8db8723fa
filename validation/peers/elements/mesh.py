"""A body-fitted mesh of curved quadratic triangles on a drawn section, split where tracer and pipe touch."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from validation.peers.elements.curves import SAME_POINT, Arc, Piece
from validation.peers.elements.geometry import Section
from validation.peers.elements.sharpen import Triangles, sharpen

MILLI = 1e-3  # gmsh works in millimetres, far above its own tolerance


@dataclass
class FieldMesh:
    """Quadratic triangles and the lines on them.

    `mesh` is a skfem MeshTri2 whose `doflocs` (2, n_nodes) number the unknowns; `region` (n_triangles,)
    indexes `names`. `lines[label]` holds (n_lines, 3) nodes: end, middle, end. A contact has `contact:i` on
    the pipe's side and `body:i` on the tracer's, line by line the same places, of two nodes each.
    """

    mesh: Any
    region: NDArray[np.int64]
    names: list[str]
    lines: dict[str, NDArray[np.int64]]

    @property
    def points(self) -> NDArray[np.float64]:
        """Node coordinates (2, n_nodes), m."""
        return self.mesh.doflocs

    def triangles_of(self, *prefixes: str) -> NDArray[np.int64]:
        """Indices of the triangles in the regions whose name starts with one of the prefixes."""
        chosen = [i for i, name in enumerate(self.names) if name.startswith(prefixes)]
        return np.flatnonzero(np.isin(self.region, chosen))

    def nodes_of(self, triangles: NDArray[np.int64]) -> NDArray[np.int64]:
        """Unknowns (6, n) of triangles: three corners, three middles."""
        return self.mesh.dofs.element_dofs[:, triangles]


class _Points:
    """Gives gmsh each point once."""

    def __init__(self, geo: Any) -> None:
        self.geo = geo
        self.known: dict[tuple[int, int], int] = {}

    def tag(self, z: complex) -> int:
        cell = (round(z.real / SAME_POINT / 50), round(z.imag / SAME_POINT / 50))
        for dx in (0, -1, 1):
            for dy in (0, -1, 1):
                if (known := self.known.get((cell[0] + dx, cell[1] + dy))) is not None:
                    return known
        self.known[cell] = self.geo.addPoint(z.real / MILLI, z.imag / MILLI, 0.0)
        return self.known[cell]


def _add_curves(geo: Any, points: _Points, pieces: list[Piece]) -> list[int]:
    tags: list[int] = []
    for piece in pieces:
        a, b = points.tag(piece.at(0.0)), points.tag(piece.at(1.0))
        if isinstance(piece, Arc):
            tags.append(geo.addCircleArc(a, points.tag(piece.centre), b))
        else:
            tags.append(geo.addLine(a, b))
    return tags


def _generate(
    section: Section, refine: float
) -> tuple[NDArray[np.float64], NDArray[np.int64], list[NDArray[np.int64]]]:
    """Run gmsh: coordinates (2, n), its triangles (n, 6), lines (n, 3) of inner, then outer pieces."""
    import gmsh

    gmsh.initialize(interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        for name in ("MeshSizeExtendFromBoundary", "MeshSizeFromPoints", "MeshSizeFromCurvature"):
            gmsh.option.setNumber(f"Mesh.{name}", 0)
        gmsh.option.setNumber("Mesh.Algorithm", 5)
        gmsh.option.setNumber("Mesh.LcIntegrationPrecision", 1e-4)
        geo, points = gmsh.model.geo, _Points(gmsh.model.geo)
        inner = _add_curves(geo, points, section.inner)
        outer = _add_curves(geo, points, section.outer)
        surface = geo.addPlaneSurface([geo.addCurveLoop(outer)])
        geo.synchronize()
        gmsh.model.mesh.embed(1, inner, 2, surface)

        def size(dim: int, tag: int, x: float, y: float, z: float, lc: float) -> float:
            return section.size(complex(x * MILLI, y * MILLI)) / (refine * MILLI)

        gmsh.model.mesh.setSizeCallback(size)
        gmsh.model.mesh.generate(2)
        gmsh.model.mesh.setOrder(2)
        tags, xyz, _ = gmsh.model.mesh.getNodes()
        number = np.zeros(int(tags.max()) + 1, dtype=np.int64)
        number[tags] = np.arange(len(tags))
        _, nodes = gmsh.model.mesh.getElementsByType(9)
        lines = []
        for curve in inner + outer:
            _, _, node = gmsh.model.mesh.getElements(1, curve)
            lines.append(number[node[0]].reshape(-1, 3))
        return xyz.reshape(-1, 3).T[:2] * MILLI, number[nodes].reshape(-1, 6), lines
    finally:
        gmsh.finalize()


def _pair_key(a: NDArray[np.int64], b: NDArray[np.int64], n: int) -> NDArray[np.int64]:
    return np.minimum(a, b).astype(np.int64) * n + np.maximum(a, b)


def _regions(
    section: Section, xy: NDArray[np.float64], t6: NDArray[np.int64], line_keys: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Region of each triangle: parts of the plane between curves, named at the largest triangle's middle."""
    n = xy.shape[1]
    keys = np.stack([_pair_key(t6[:, i], t6[:, (i + 1) % 3], n) for i in range(3)], axis=1)
    owner = np.repeat(np.arange(len(t6)), 3)
    flat = keys.ravel()
    order = np.argsort(flat, kind="stable")
    same = flat[order][1:] == flat[order][:-1]
    a, b, key = owner[order][:-1][same], owner[order][1:][same], flat[order][1:][same]
    free = ~np.isin(key, line_keys)
    if not np.isin(line_keys, flat).all():
        raise RuntimeError("an interface is not made of triangle sides")
    graph = coo_matrix((np.ones(free.sum()), (a[free], b[free])), shape=(len(t6), len(t6)))
    count, part = connected_components(graph, directed=False)
    corners = xy[:, t6[:, :3]]
    u, v = corners[:, :, 1] - corners[:, :, 0], corners[:, :, 2] - corners[:, :, 0]
    area = abs(u[0] * v[1] - u[1] * v[0])
    largest = np.lexsort((area, part))
    last = np.append(np.flatnonzero(np.diff(part[largest])), len(t6) - 1)
    chosen = largest[last]
    weights = np.array([-1.0, -1.0, -1.0, 4.0, 4.0, 4.0]) / 9
    middle = xy[:, t6[chosen]] @ weights
    return section.region_of(middle[0] + 1j * middle[1])[np.arange(count)[part]]


def build(
    section: Section, refine: float = 1.0, with_contents: bool = True, foil_apart: bool = False
) -> FieldMesh:
    """Mesh a section. `refine` divides every element size; without contents the bore is left out.

    foil_apart: what lies beneath foil (tracer, void, pipe) has nodes of its own there, the lines "beneath".

    RuntimeError if a curved triangle folds over.
    """
    xy, t6, pieces = _generate(section, refine)
    n = xy.shape[1]
    everything = np.concatenate(pieces)
    region = _regions(section, xy, t6, _pair_key(everything[:, 0], everything[:, 1], n))
    if not with_contents:
        bore = [section.names.index("liquid"), section.names.index("gas")]
        keep = ~np.isin(region, bore)
        t6, region = t6[keep], region[keep]

    lines: dict[str, list[NDArray[np.int64]]] = {}
    for piece, nodes in zip([*section.inner, *section.outer], pieces, strict=True):
        if piece.label:
            lines.setdefault(piece.label, []).append(nodes[:, :2])
    joined = {label: np.concatenate(parts) for label, parts in lines.items()}
    triangles = Triangles(xy, t6[:, :3], xy[:, t6[:, 3:]], region, joined)
    for label in [name for name in joined if name.startswith("contact:")]:
        for tip in _ends(joined[label]):
            triangles = sharpen(triangles, tip)
    return _as_field_mesh(section, triangles, foil_apart)


def _ends(lines: NDArray[np.int64]) -> list[int]:
    """Nodes in which a chain of lines begins or ends."""
    nodes, uses = np.unique(lines, return_counts=True)
    return [int(node) for node in nodes[uses == 1]]


def _as_field_mesh(section: Section, triangles: Triangles, foil_apart: bool) -> FieldMesh:
    """Double the nodes along contacts (and foil) and number the unknowns.

    The ends are doubled, too: two good conductors that share one node there would leak through it. What lies beside
    the contact keeps the pipe's node, so it parts from the tracer over the last side, ten rings down.
    """
    from skfem import MeshTri1, MeshTri2

    xy, corner, region, joined = triangles.xy, triangles.corner.copy(), triangles.region, triangles.lines
    n = xy.shape[1]
    doubles: dict[str, NDArray[np.int64]] = {}
    if foil_apart:
        doubled = np.unique(joined["foil"])
        copy = np.arange(n)
        copy[doubled] = n + np.arange(len(doubled))
        xy = np.concatenate([xy, xy[:, doubled]], axis=1)
        under = [i for i, name in enumerate(section.names) if name.startswith(("wall", "tracer", "void"))]
        corner[np.isin(region, under)] = copy[corner[np.isin(region, under)]]
        doubles["beneath"] = copy
    for label in [name for name in joined if name.startswith("contact:")]:
        doubled = np.unique(joined[label])
        copy = np.arange(n)
        copy[doubled] = xy.shape[1] + np.arange(len(doubled))
        xy = np.concatenate([xy, xy[:, doubled]], axis=1)
        body = region == section.names.index(label.replace("contact", "tracer"))
        corner[body] = np.where(corner[body] < n, copy[np.minimum(corner[body], n - 1)], corner[body])
        doubles[label.replace("contact", "body")] = copy

    used, compact = np.unique(corner, return_inverse=True)
    new = np.full(xy.shape[1], -1)
    new[used] = np.arange(len(used))
    plain = MeshTri1(xy[:, used], compact.reshape(corner.shape).T, sort_t=False, validate=False)
    mesh = MeshTri2.from_mesh(plain)
    total = len(used)
    doflocs = mesh.doflocs.copy()
    for side in range(3):  # scikit-fem's sides, too, are 0-1, 1-2, 2-0
        doflocs[:, mesh.dofs.element_dofs[3 + side]] = triangles.middle[:, :, side]
    mesh = MeshTri2(doflocs, mesh.t, sort_t=False)
    if (mesh.mapping().detDF(np.array([[0, 1, 0, 0.5, 0, 0.5], [0, 0, 1, 0, 0.5, 0.5]])) <= 0).any():
        raise RuntimeError("a curved triangle folds over: refine the mesh")

    facet_key = _pair_key(mesh.facets[0], mesh.facets[1], total)
    sorter = np.argsort(facet_key)

    def as_unknowns(nodes: NDArray[np.int64]) -> NDArray[np.int64]:
        a, b = new[nodes[:, 0]], new[nodes[:, 1]]
        facet = sorter[np.searchsorted(facet_key, _pair_key(a, b, total), sorter=sorter)]
        return np.stack([a, mesh.dofs.facet_dofs[0, facet], b], axis=1)

    on_pipe = doubles.get("beneath", np.arange(n))  # the pipe's surface ends in nodes beneath foil
    result = {label: as_unknowns(on_pipe[v] if label == "pipe" else v) for label, v in joined.items()}
    for label, copy in doubles.items():
        of = "foil" if label == "beneath" else label.replace("body", "contact")
        result[label] = as_unknowns(copy[joined[of]])
    return FieldMesh(mesh, region, section.names, result)
