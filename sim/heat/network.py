"""A line as a thermal network: nodes, what joins them, what heats them; a section, or a section in layers.

Nodes are the cells that conduct, one node per sheet or surface face, and one per lumped body of contents. All that
passes heat is a group of joints (`sim.heat.joints`) or of outlets to given temperatures (`sim.heat.outlets`). A section
is one layer of one metre; `sim.heat.layers` repeats it along the pipe.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.case import Case, Fitting, Support
from sim.case.clock_face import angle_to_clock
from sim.heat import surfaces
from sim.heat.conductivity import CellConductivity, Law
from sim.heat.contents import Bore, bore_joints
from sim.heat.joints import Faces, Halves, Joined, Links, Radiation, joined, together
from sim.heat.outlets import Film, Outlet
from sim.heat.surfaces import Along
from sim.heat.thin import ThinLayer, gap_resistance, put_back, thin_layers
from sim.heat.tracing import Tracing, tracing
from sim.heat.wedge import Wedges, wedges
from sim.section.extrude import Layers
from sim.section.mesh import IntArray, PlanMesh
from sim.section.shapes import Array

ONE_METRE = Layers(np.array([0.0, 1.0]), np.zeros(1, np.int64))
NO_CELL = -1  # node of a cell that takes no part


@dataclass(frozen=True)
class Further:
    """Cells and nodes beyond those of the layers: code and region (e,) of the cells, as `part` and of the plan; layer
    (n,) that each node lies in; like (n,): node of the section whose temperature it may start from."""

    code: IntArray
    region: IntArray
    layer: IntArray
    like: IntArray


@dataclass(frozen=True)
class Made:
    """Every cell of a network (cells of all,): code of what it is made of, as `Network.part`; region of the plan, where
    that is 0; volume, m3 (of a section m2)."""

    code: IntArray
    region: IntArray
    volume: Array


@dataclass(frozen=True)
class Network:
    """One condition's network on one mesh, over one or more layers.

    Node numbers are `layer * plan.nodes + node of the section`, cell numbers likewise. `cell_node` (cells of all
    layers,) is NO_CELL for cells that take no part; face: the plan's inner faces that conduct, in the order of the
    group of joints "faces" in each layer. cover_node, cover_angle, foil_face, foil_node, void_face, void_node, bore,
    bore_face: of the section; void_radiation: of the section, by the bits of a support's parts present. along: what
    else conducts from layer to layer. section: the network that was repeated, None for a section itself. support: what
    stands here; part (layers, cells of the section): what a cell is made of, by `laws`, 0 for the line's own material.
    further: cells and nodes beyond those of the layers, where a fitting stands; there (layers, cells of the section):
    the cells that still take part then; volume (cells of all,): m3 then; left (layers, nodes of the section): share of
    each node's face left; hollow (cells of all,): number of the body in whose hollow full of contents a cell lies,
    0 elsewhere; lumped (layers, nodes of the section): m3 of contents in hollows that are no cells, at their lump.
    """

    case: Case
    mesh: PlanMesh
    layers: Layers
    nodes: int
    cell_node: IntArray
    face: IntArray
    joints: Joined
    outlets: dict[str, Outlet]
    cover_node: IntArray
    cover_angle: Array
    foil_face: IntArray
    foil_node: IntArray
    bore: Bore | None
    bore_face: IntArray
    void_face: IntArray
    void_node: IntArray
    void_radiation: Mapping[int, Radiation]
    tracing: Tracing
    along: Along
    part: IntArray
    notes: tuple[str, ...]
    section: Network | None = None
    support: Support | Fitting | None = None
    laws: Mapping[int, Law] = field(default_factory=dict)
    further: Further | None = None
    there: NDArray[np.bool_] | None = None
    volume: Array | None = None
    left: Array | None = None
    hollow: IntArray | None = None
    lumped: Array | None = None

    def __repr__(self) -> str:
        return f"<network of {self.nodes} nodes on {self.mesh!r}>"

    @property
    def plan(self) -> Network:
        """The section that is repeated; a section's own network is its plan."""
        return self if self.section is None else self.section

    @property
    def faces(self) -> Faces:
        """Joints of two cells across the plan's faces."""
        faces: Faces = self.joints.groups["faces"]
        return faces

    @property
    def halves(self) -> Halves:
        """Joints of a cell and a surface node on one of its faces."""
        halves: Halves = self.joints.groups["halves"]
        return halves

    @property
    def links(self) -> Links:
        """Joints along sheets, in the plan."""
        links: Links = self.joints.groups["links"]
        return links

    @property
    def wedges(self) -> Wedges:
        """Joints of the innermost wedges beside round tracers."""
        wedges: Wedges = self.joints.groups["wedges"]
        return wedges

    @property
    def heat_share(self) -> Array:
        """As in `Tracing`."""
        return self.tracing.heat_share

    @property
    def footprint(self) -> Array:
        """As in `Tracing`."""
        return self.tracing.footprint

    @property
    def beneath(self) -> Array:
        """As in `Tracing`."""
        return self.tracing.beneath

    @property
    def laid(self) -> Array:
        """Length of tracer in each layer, m, shape (tracers, layers)."""
        return self.tracing.length[:, None] * self.layers.thickness + self.tracing.extra

    @cached_property
    def made(self) -> Made:
        """What every cell is made of."""
        code, region = self.part.ravel(), np.tile(self.mesh.cell_region, self.layers.count)
        if self.further is not None:
            code = np.concatenate([code, self.further.code])
            region = np.concatenate([region, self.further.region])
        volume = self.volume
        if volume is None:
            volume = (self.mesh.cell_area * self.layers.thickness[:, None]).ravel()
        return Made(code, region, volume)

    def law(self) -> CellConductivity:
        """Conductivity of the cells as a function of their temperatures."""
        further = None if self.further is None else (self.further.code, self.further.region)
        return CellConductivity(self.case, self.mesh, self.part, self.laws, further)

    def by_layer(self, value: Array) -> Array:
        """What is given for all nodes, or all cells, as an array of a row a layer, without what is beyond those."""
        here = self.further
        if here is not None:
            size = self.plan.nodes if len(value) == self.nodes else self.mesh.cells
            value = value[: self.layers.count * size]
        return value.reshape(self.layers.count, -1)

    def spread(self, section: Array) -> Array:
        """Temperatures of a section's nodes (nodes of the plan,) in every layer, and to the nodes beyond those."""
        every = np.tile(section, self.layers.count)
        return every if self.further is None else np.concatenate([every, section[self.further.like]])


def _contact_resistance(case: Case, mesh: PlanMesh, cells: IntArray) -> Array:
    """Resistance on faces between a tracer and what it is pressed on, m2 K/W, shape (m,)."""
    index, resistance = mesh.index, np.zeros(len(cells))
    tracer = mesh.of_kind("tracer")[cells]
    solid = mesh.of_kind("tracer", "wall")[cells].T
    stacked, one = tracer[:, 0] & tracer[:, 1], index[cells[:, 0]] == index[cells[:, 1]]
    pressed = solid[0] & solid[1] & (tracer[:, 0] | tracer[:, 1]) & ~(stacked & one)
    if pressed.any():
        upper = np.where(tracer, index[cells], -1).max(axis=1)
        for i, t in enumerate(case.tracers):
            over = [j for j, other in enumerate(case.tracers) if other.name == t.over]
            of_tracer = pressed & (upper == i) & ~stacked
            if over:
                pair = np.sort(index[cells], axis=1)
                of_tracer |= pressed & stacked & (pair == sorted((i, over[0]))).all(axis=1)
            resistance[of_tracer] = gap_resistance(case, i) if t.standoff else 1.0 / t.contact_conductance
    return resistance


def _faces(case: Case, mesh: PlanMesh, face: IntArray, thin: list[ThinLayer]) -> Faces:
    """Joints across the plan's faces that conduct, with contacts, and layers too thin to mesh, in series."""
    cells, half = mesh.face_cells[face], 0.5 * mesh.face_distance[face]
    first, second = cells.T
    resistance = _contact_resistance(case, mesh, cells)
    for layer in thin:
        if not layer.sheet:
            resistance[np.searchsorted(face, layer.face)] += layer.resistance
    return Faces(first, second, mesh.face_area[face], half, half, resistance)


def network(case: Case, mesh: PlanMesh) -> Network:
    """Build the network of a case narrowed to one condition, on a mesh of its layout."""
    in_bore = mesh.of_kind("liquid", "gas")
    lumped = case.contents.state not in ("still", "buoyant")
    active = ~in_bore if lumped else np.ones(mesh.cells, bool)
    cell_node = np.where(active, np.cumsum(active) - 1, NO_CELL)
    bore_face = np.flatnonzero(in_bore[mesh.face_cells].sum(axis=1) == 1)
    added = surfaces.Surfaces(int(active.sum()))
    conductivity = CellConductivity(case, mesh)(np.full(mesh.cells, case.conditions[0].ambient))
    thin = thin_layers(case, mesh, conductivity)
    cover_node, cover_angle = surfaces.cover(case, mesh, added, conductivity)
    foil_face, foil_node = surfaces.foil(case, mesh, added, cell_node)
    first, second = mesh.face_cells.T
    plain = np.asarray(active[first] & active[second])
    plain[foil_face] = False
    plain[surfaces.thin_sheets(mesh, added, thin)] = False
    void_face, void_node, void_radiation = surfaces.voids(case, mesh, added, plain, foil_face, foil_node)
    plain[void_face] = False
    bore = surfaces.bore(case, mesh, added, bore_face) if lumped else None
    face = np.flatnonzero(plain)
    faces = _faces(case, mesh, face, thin)
    joints: dict[str, Any] = {
        "faces": faces,
        "halves": together(added.halves),
        "links": together(added.links),
        "wedges": wedges(mesh),
        "void radiation": void_radiation[0],
    }
    outlets: dict[str, Outlet] = {
        "cover": Film(cover_node, cover_angle, mesh.cover_area, mesh.layout.cover_radius)
    }
    if bore is not None:
        level = -np.inf if case.contents.state == "empty" else mesh.layout.level
        inside, outlets["contents"] = bore_joints(bore, level)
        joints |= inside
    on_face = np.zeros(len(mesh.face_cells))
    on_face[face] = faces.resistance
    return Network(
        case=case,
        mesh=mesh,
        layers=ONE_METRE,
        nodes=added.nodes,
        cell_node=cell_node,
        face=face,
        joints=joined(joints, cell_node),
        outlets=outlets,
        cover_node=cover_node,
        cover_angle=cover_angle,
        foil_face=foil_face,
        foil_node=foil_node,
        bore=bore,
        bore_face=bore_face,
        void_face=void_face,
        void_node=void_node,
        void_radiation=void_radiation,
        tracing=tracing(case, mesh, cell_node, on_face, conductivity, added.nodes),
        along=together(added.along),
        part=np.zeros((1, mesh.cells), np.int64),
        notes=(*(bore.source if bore else ()), *put_back(case, mesh)),
    )


def clocks(points: Array) -> Array:
    """Clock positions of points about the pipe's axis, hours."""
    return angle_to_clock(np.arctan2(points[:, 0], points[:, 1]))
