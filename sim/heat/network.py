"""A section as a thermal network: nodes, what joins them, what heats them.

Nodes are the cells that conduct, one node per sheet or surface face, and one per lumped body of contents. All
joints are `(node, node, conductance)`; a face's conductance is area over the series of its two half resistances
and the contact between them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.case import Case
from sim.heat.conductivity import CellConductivity
from sim.heat.contents import Bore, lumped_contents
from sim.heat.sheets import Links, beneath_foil, chain, foil_faces, foot_links, join
from sim.heat.wedge import Wedges, wedges
from sim.section.gaps import void_width
from sim.section.layout import RoundBody, angle_to_clock
from sim.section.mesh import PlanMesh
from sim.section.shapes import Array

IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Halves:
    """Joints between a cell and a node on one of its faces: cell, node, area (m2/m), gap to the face (m)."""

    cell: IntArray
    node: IntArray
    area: Array
    gap: Array


@dataclass(frozen=True)
class Network:
    """One condition's network on one mesh.

    Node numbers: `cell_node` (cells,) is -1 for cells that take no part. Inner faces: cells a, b, area, gap and
    contact resistance (m2 K/W). heat_share (tracers, nodes): where a tracer's heat goes, rows summing to 1;
    footprint (tracers, nodes): weights whose sum is 1, the outermost wall cells beneath each tracer, where an allowance
    gives its heat; beneath (tracers, nodes): weights whose sum is 1, the temperature of the wall's surface there, which
    a self-regulating output follows.
    """

    case: Case
    mesh: PlanMesh
    nodes: int
    cell_node: IntArray
    face: IntArray
    resistance: Array
    halves: Halves
    links: Links
    cover_node: IntArray
    cover_angle: Array
    foil_face: IntArray
    bore: Bore | None
    bore_face: IntArray
    heat_share: Array
    footprint: Array
    beneath: Array
    void_width: Array
    wedges: Wedges
    notes: tuple[str, ...]

    def face_conductance(self, conductivity: Array) -> Array:
        """Conductance of the inner faces, W/m/K, for given cell conductivities (cells,)."""
        a, b = self.mesh.face_cells[self.face].T
        half = 0.5 * self.mesh.face_gap[self.face]
        return self.mesh.face_length[self.face] / (
            half / conductivity[a] + half / conductivity[b] + self.resistance
        )


def _kind_of_cells(mesh: PlanMesh) -> tuple[NDArray[np.str_], IntArray]:
    kinds = np.array([r.kind for r in mesh.layout.regions])
    index = np.array([r.index for r in mesh.layout.regions])
    return kinds[mesh.cell_region], index[mesh.cell_region]


def _contact_resistance(case: Case, kind: NDArray[np.str_], index: IntArray, cells: IntArray) -> Array:
    """Resistance on faces between a tracer and what it is pressed on, m2 K/W, shape (m,)."""
    resistance = np.zeros(len(cells))
    tracer = kind[cells] == "tracer"
    solid = tracer | (kind[cells] == "wall")
    pressed = (
        solid.all(axis=1)
        & tracer.any(axis=1)
        & ~(tracer.all(axis=1) & (index[cells[:, 0]] == index[cells[:, 1]]))
    )
    if pressed.any():
        upper = np.where(tracer, index[cells], -1).max(axis=1)
        stacked = tracer.all(axis=1)
        for i, t in enumerate(case.tracers):
            over = [j for j, other in enumerate(case.tracers) if other.name == t.over]
            mine = pressed & (upper == i) & ~stacked
            if over:
                pair = np.sort(index[cells], axis=1)
                mine |= pressed & stacked & (pair == sorted((i, over[0]))).all(axis=1)
            resistance[mine] = 1.0 / t.contact_conductance
    return resistance


def network(case: Case, mesh: PlanMesh) -> Network:
    """Build the network of a case narrowed to one condition, on a mesh of its layout."""
    layout = mesh.layout
    kind, index = _kind_of_cells(mesh)
    in_bore = np.isin(kind, ("liquid", "gas"))
    lumped = case.contents.state not in ("still", "buoyant")
    active = ~in_bore if lumped else np.ones(mesh.cells, bool)
    cell_node = np.where(active, np.cumsum(active) - 1, -1)
    nodes = int(active.sum())
    foil_face, runs = foil_faces(mesh, kind) if case.foil else (np.zeros(0, np.int64), [])
    pair_in_bore = in_bore[mesh.face_cells]
    bore_face = np.flatnonzero(pair_in_bore[:, 0] != pair_in_bore[:, 1])
    plain = np.asarray(active[mesh.face_cells].all(axis=1))
    plain[foil_face] = False
    face = np.flatnonzero(plain)
    halves: list[Halves] = []
    links: list[Links] = []

    cover_node = nodes + np.arange(len(mesh.cover_cell))
    nodes += len(cover_node)
    halves.append(Halves(mesh.cover_cell, cover_node, mesh.cover_length, mesh.cover_gap))
    centre = np.array([0.0, -layout.drop])
    cover_angle = np.arctan2(*(mesh.cover_point - centre).T)
    if case.barrier is not None:
        assert case.barrier.conductivity is not None
        around = np.argsort(cover_angle)
        around = np.append(around, around[0])
        sheet = case.barrier.conductivity * case.barrier.thickness
        links.append(chain(cover_node[around], mesh.cover_point[around], sheet))

    if case.foil is not None and len(foil_face):
        foil_node = nodes + np.arange(len(foil_face))
        nodes += len(foil_face)
        for side in (0, 1):
            halves.append(
                Halves(
                    mesh.face_cells[foil_face, side],
                    foil_node,
                    mesh.face_length[foil_face],
                    0.5 * mesh.face_gap[foil_face],
                )
            )
        sheet = case.foil.conductivity * case.foil.thickness
        point = mesh.face_point[foil_face]
        for run, feet in runs:
            if len(run) > 1:
                links.append(chain(foil_node[run], point[run], sheet))
                bonds = foot_links(mesh, foil_node[run], point[run], feet, sheet, beneath_foil(case))
                links += [Links(f.a, cell_node[f.b], f.conductance) for f in bonds]

    bore = None
    if lumped:
        cells = mesh.face_cells[bore_face]
        wall_cell = np.where(pair_in_bore[bore_face, 0], cells[:, 1], cells[:, 0])
        node = nodes + np.arange(len(bore_face))
        nodes += len(bore_face)
        halves.append(Halves(wall_cell, node, mesh.face_length[bore_face], 0.5 * mesh.face_gap[bore_face]))
        point, area = mesh.face_point[bore_face], mesh.face_length[bore_face]
        bore = lumped_contents(case, layout, node, area, point, nodes)
        nodes = max(nodes - 1, bore.liquid, bore.gas, bore.surface) + 1

    joined = Halves(
        *(np.concatenate([getattr(h, n) for h in halves]) for n in ("cell", "node", "area", "gap"))
    )
    share = np.zeros((len(case.tracers), nodes))
    under = [_faces_under(mesh, kind, i) for i in range(len(case.tracers))]
    footprint = np.zeros((len(case.tracers), nodes))
    for i in range(len(case.tracers)):
        mine = (kind == "tracer") & (index == i)
        share[i, cell_node[mine]] = mesh.cell_area[mine] / mesh.cell_area[mine].sum()
        wall_cell, _ = _wall_and_other(mesh, kind, under[i])
        weight = np.bincount(cell_node[wall_cell], mesh.face_length[under[i]], nodes)
        footprint[i] = weight / weight.sum()
    in_void = kind == "void"
    width = np.zeros(mesh.cells)
    if in_void.any():
        width[in_void] = void_width(layout, mesh.pieces, mesh.site[in_void])
    resistance = _contact_resistance(case, kind, index, mesh.face_cells[face])
    on_face = np.zeros(len(mesh.face_cells))
    on_face[face] = resistance
    conductivity = CellConductivity(case, mesh, width)(np.full(mesh.cells, case.conditions[0].ambient))
    beneath = np.zeros((len(case.tracers), nodes))
    for i in range(len(case.tracers)):
        beneath[i] = _surface_weights(mesh, kind, cell_node, under[i], on_face, conductivity, nodes)
    return Network(
        case,
        mesh,
        nodes,
        cell_node,
        face,
        resistance,
        joined,
        join(links),
        cover_node,
        cover_angle,
        foil_face,
        bore,
        bore_face,
        share,
        footprint,
        beneath,
        width,
        wedges(mesh),
        bore.source if bore else (),
    )


def _faces_under(mesh: PlanMesh, kind: NDArray[np.str_], tracer: int) -> IntArray:
    """Faces of the wall's outside beneath a tracer: over its contact, or its width if it does not touch."""
    layout = mesh.layout
    body = next(b for b in layout.bodies if b.index == tracer)
    if isinstance(body, RoundBody):
        reach = float(np.hypot(body.cx, body.cy))
        inside = (reach**2 + layout.outer_radius**2 - body.radius**2) / (2 * reach * layout.outer_radius)
        half = float(np.arccos(inside)) if inside < 1 else body.radius / layout.outer_radius / 4
    else:
        half = body.half_angle
    wall_side = np.sort(
        np.array([kind[mesh.face_cells[:, 0]] == "wall", kind[mesh.face_cells[:, 1]] == "wall"]), axis=0
    )
    outer = (wall_side[0] != wall_side[1]) & (
        np.hypot(*mesh.face_point.T) > 0.5 * (layout.inner_radius + layout.outer_radius)
    )
    faces = np.flatnonzero(outer)
    x, y = mesh.face_point[faces].T
    turn = np.abs(np.mod(np.arctan2(x, y) - body.clock_angle + np.pi, 2 * np.pi) - np.pi)
    return faces[turn <= half] if (turn <= half).any() else faces[[np.argmin(turn)]]


def _wall_and_other(mesh: PlanMesh, kind: NDArray[np.str_], faces: IntArray) -> tuple[IntArray, IntArray]:
    """The wall's cell of each face, and the cell on its other side."""
    cells = mesh.face_cells[faces]
    wall = np.where(kind[cells[:, 0]] == "wall", cells[:, 0], cells[:, 1])
    return wall, cells.sum(axis=1) - wall


def _surface_weights(
    mesh: PlanMesh,
    kind: NDArray[np.str_],
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
    wall, other = _wall_and_other(mesh, kind, faces)
    half = 0.5 * mesh.face_gap[faces]
    inside, beyond = half / conductivity[wall], resistance[faces] + half / conductivity[other]
    share = inside / (inside + beyond)
    length = mesh.face_length[faces] / mesh.face_length[faces].sum()
    weights = np.bincount(cell_node[wall], length * (1 - share), nodes).astype(float)
    weights += np.bincount(cell_node[other], length * share, nodes)
    return weights


def film_terms(case: Case, cover_radius: float) -> dict[str, Any]:
    """What the outside films take of a case narrowed to one condition: keywords of `sim.heat.film`."""
    condition = case.conditions[0]
    emissivity = case.barrier.emissivity if case.barrier is not None else None
    return {
        "ambient": condition.ambient,
        "wind": condition.wind,
        "wind_from_clock": condition.wind_from,
        "diameter": 2 * cover_radius,
        "emissivity": case.outside.emissivity if emissivity is None else emissivity,
        "coefficient": case.outside.coefficient,
    }


def clocks(points: Array) -> Array:
    """Clock positions of points about the pipe's axis, hours."""
    return angle_to_clock(np.arctan2(points[:, 0], points[:, 1]))
