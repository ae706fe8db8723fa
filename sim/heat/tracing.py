"""Where in the section the tracers' heat goes, and which temperature of the wall it follows."""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix

from sim.case import Case
from sim.section.layout import RoundBody
from sim.section.mesh import IntArray, PlanMesh
from sim.section.shapes import Array


@dataclass(frozen=True)
class Tracing:
    """Where the tracers' heat goes in a layer, and which temperature it follows; arrays (tracers, nodes of a layer).

    length (tracers,): m of tracer for a metre of the line's axis; heat_share: where its heat goes, rows summing to that
    length; footprint: weights whose sum is 1, the outermost wall cells
    beneath each tracer, where an allowance gives its heat; beneath: weights whose sum is 1, the temperature of the
    wall's surface there, which a self-regulating output follows.
    extra (tracers, layers): m of tracer laid in a layer beyond the layer's own thickness; extra_share: where its heat
    goes. loop (layers, all nodes): where the extra tracer of each layer gives its heat instead, rows summing to 1.
    """

    length: Array
    heat_share: Array
    footprint: Array
    beneath: Array
    extra: Array
    extra_share: Array
    loop: csr_matrix | None = None
    loop_share: Array | None = None


def tracing(
    case: Case, mesh: PlanMesh, cell_node: IntArray, resistance: Array, conductivity: Array, nodes: int
) -> Tracing:
    """resistance (faces,) m2 K/W and conductivity (cells,) W/m/K: at the ambient, for the wall's surface."""
    shape = (len(case.tracers), nodes)
    share, footprint, beneath = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    length = np.ones(len(case.tracers))
    for i in range(len(case.tracers)):
        in_tracer = mesh.of_kind("tracer") & (mesh.index == i)
        share[i, cell_node[in_tracer]] = mesh.cell_volume[in_tracer] / mesh.cell_area[in_tracer].sum()
        if mesh.bend is not None:
            length[i] = share[i].sum()
        under = _faces_under(mesh, i)
        wall, _ = _wall_and_other(mesh, under)
        weight = np.bincount(cell_node[wall], mesh.face_area[under], nodes)
        footprint[i] = weight / weight.sum()
        beneath[i] = _surface_weights(mesh, cell_node, under, resistance, conductivity, nodes)
    return Tracing(length, share, footprint, beneath, np.zeros((len(case.tracers), 1)), footprint)


def _faces_under(mesh: PlanMesh, tracer: int) -> IntArray:
    """Faces of the wall's outside beneath a tracer: over its contact, or its width if it does not touch."""
    layout = mesh.layout
    body = next(b for b in layout.bodies if b.index == tracer)
    if isinstance(body, RoundBody):
        reach = float(np.hypot(body.cx, body.cy))
        inside = (reach**2 + layout.outer_radius**2 - body.radius**2) / (2 * reach * layout.outer_radius)
        half = float(np.arccos(inside)) if inside < 1 else body.radius / layout.outer_radius / 4
    else:
        half = body.half_angle
    wall = mesh.of_kind("wall")[mesh.face_cells]
    outside = np.hypot(*mesh.face_point.T) > 0.5 * (layout.inner_radius + layout.outer_radius)
    faces = np.flatnonzero((wall[:, 0] != wall[:, 1]) & outside)
    x, y = mesh.face_point[faces].T
    turn = np.abs(np.mod(np.arctan2(x, y) - body.clock_angle + np.pi, 2 * np.pi) - np.pi)
    return faces[turn <= half] if (turn <= half).any() else faces[[np.argmin(turn)]]


def _wall_and_other(mesh: PlanMesh, faces: IntArray) -> tuple[IntArray, IntArray]:
    """The wall's cell of each face, and the cell on its other side."""
    cells = mesh.face_cells[faces]
    wall = np.where(mesh.kind[cells[:, 0]] == "wall", cells[:, 0], cells[:, 1])
    return wall, cells.sum(axis=1) - wall


def _surface_weights(
    mesh: PlanMesh,
    cell_node: IntArray,
    faces: IntArray,
    resistance: Array,
    conductivity: Array,
    nodes: int,
) -> Array:
    """Weights (nodes,) of the mean temperature on the wall's side of faces.

    Between two cells the temperature falls as the resistances lie in series: half a cell, the contact, half a cell.
    The outermost cells' own temperature would be off by half a cell's fall, which is much in a wall of plastic.
    Conductivities (cells,) are those at the ambient; only their ratio counts. resistance (faces,): m2 K/W.
    """
    wall, other = _wall_and_other(mesh, faces)
    half = 0.5 * mesh.face_distance[faces]
    inside, beyond = half / conductivity[wall], resistance[faces] + half / conductivity[other]
    share = inside / (inside + beyond)
    part = mesh.face_area[faces] / mesh.face_area[faces].sum()
    weights = np.bincount(cell_node[wall], part * (1 - share), nodes).astype(float)
    weights += np.bincount(cell_node[other], part * share, nodes)
    return weights
