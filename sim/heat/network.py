"""A line as a thermal network: nodes, what joins them, what heats them; a section, or a section in layers.

Nodes are the cells that conduct, one node per sheet or surface face, and one per lumped body of contents. All that
passes heat is a group of joints (`sim.heat.joints`) or of outlets to given temperatures (`sim.heat.outlets`). A section
is one layer of one metre; `sim.heat.layers` repeats it along the pipe.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.case import Case, Support
from sim.heat.conductivity import CellConductivity
from sim.heat.contents import Bore, bore_joints, lumped_contents
from sim.heat.joints import (
    Faces,
    Halves,
    Joined,
    Links,
    Nodes,
    Radiation,
    Same,
    joined,
    no_links,
    no_radiation,
    together,
)
from sim.heat.outlets import Film, Outlet
from sim.heat.sheets import chain, foil_faces, foot_of, sides_of_foil, strip_links, touches_foil
from sim.heat.thin import ThinLayer, gap_resistance, put_back, thin_cover, thin_layers
from sim.heat.tracing import Tracing, tracing
from sim.heat.voids import across, states
from sim.heat.wedge import Wedges, wedges
from sim.section.extrude import Layers
from sim.section.layout import angle_to_clock
from sim.section.mesh import IntArray, PlanMesh
from sim.section.shapes import Array

ONE_METRE = Layers(np.array([0.0, 1.0]), np.zeros(1, np.int64))
NO_CELL = -1  # node of a cell that takes no part
IDLE = 1e-3  # m2 per metre: by what a node that has no part in the radiation rests on another


@dataclass(frozen=True)
class Along:
    """What conducts along the pipe in nodes that are no cells: node (s,), conductance times distance (s,) W m/K."""

    node: Nodes
    strength: Same


@dataclass(frozen=True)
class Network:
    """One condition's network on one mesh, over one or more layers.

    Node numbers are `layer * plan.nodes + node of the section`, cell numbers likewise. `cell_node` (cells of all
    layers,) is NO_CELL for cells that take no part; face: the plan's inner faces that conduct, in the order of the
    group of joints "faces" in each layer. cover_node, cover_angle, foil_face, foil_node, void_face, void_node, bore,
    bore_face: of the section; void_radiation: of the section, by the bits of a support's parts present. along: what
    else conducts from layer to layer. section: the network that was repeated, None for a section itself. support: what
    stands here; part (layers, cells of the section): PAD, LEG, INSERT where a cell is made of that part of it, 0 for
    the line's own material.
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
    support: Support | None = None

    def __repr__(self) -> str:
        return f"<network of {self.nodes} nodes on {self.mesh!r}>"

    @property
    def plan(self) -> Network:
        """The section that is repeated; a section's own network is its plan."""
        return self if self.section is None else self.section

    @property
    def faces(self) -> Faces:
        """Joints of two cells across the plan's faces."""
        return self.joints.groups["faces"]

    @property
    def halves(self) -> Halves:
        """Joints of a cell and a surface node on one of its faces."""
        return self.joints.groups["halves"]

    @property
    def links(self) -> Links:
        """Joints along sheets, in the plan."""
        return self.joints.groups["links"]

    @property
    def wedges(self) -> Wedges:
        """Joints of the innermost wedges beside round tracers."""
        return self.joints.groups["wedges"]

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
        return self.layers.thickness + self.tracing.extra

    def law(self) -> CellConductivity:
        """Conductivity of the cells as a function of their temperatures."""
        return CellConductivity(self.case, self.mesh, self.part, self.support)


def _contact_resistance(case: Case, mesh: PlanMesh, cells: IntArray) -> Array:
    """Resistance on faces between a tracer and what it is pressed on, m2 K/W, shape (m,)."""
    kind, index, resistance = mesh.kind, mesh.index, np.zeros(len(cells))
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
            resistance[mine] = gap_resistance(case, i) if t.standoff else 1.0 / t.contact_conductance
    return resistance


@dataclass
class _Surfaces:
    """Surface nodes of a section as they are added: number of nodes so far, joints to cells, sheets."""

    nodes: int
    halves: list[Halves] = field(default_factory=list)
    links: list[Links] = field(default_factory=lambda: [no_links()])
    along: list[Along] = field(default_factory=lambda: [Along(np.zeros(0, np.int64), np.zeros(0))])

    def new(self, count: int) -> IntArray:
        """Numbers of further nodes."""
        self.nodes += count
        return self.nodes - count + np.arange(count)

    def conducts_along(self, node: IntArray, strength: Array) -> None:
        """Nodes conduct along the pipe: conductance times distance, W m/K."""
        self.along.append(Along(node, strength))


def network(case: Case, mesh: PlanMesh) -> Network:
    """Build the network of a case narrowed to one condition, on a mesh of its layout."""
    in_bore = np.isin(mesh.kind, ("liquid", "gas"))
    lumped = case.contents.state not in ("still", "buoyant")
    active = ~in_bore if lumped else np.ones(mesh.cells, bool)
    cell_node = np.where(active, np.cumsum(active) - 1, NO_CELL)
    across_bore = in_bore[mesh.face_cells]
    bore_face = np.flatnonzero(across_bore[:, 0] != across_bore[:, 1])
    made = _Surfaces(int(active.sum()))
    conductivity = CellConductivity(case, mesh)(np.full(mesh.cells, case.conditions[0].ambient))
    thin = thin_layers(case, mesh, conductivity)
    cover_node, cover_angle = _cover(case, mesh, made, conductivity)
    foil_face, foil_node = _foil(case, mesh, made, cell_node)
    plain = np.asarray(active[mesh.face_cells].all(axis=1))
    plain[foil_face] = False
    plain[_thin_sheets(mesh, made, thin)] = False
    void_face, void_node, void_radiation = _voids(case, mesh, made, plain, foil_face, foil_node)
    plain[void_face] = False
    bore = _bore(case, mesh, made, bore_face) if lumped else None
    face = np.flatnonzero(plain)
    half, (first, second) = 0.5 * mesh.face_gap[face], mesh.face_cells[face].T
    resistance = _contact_resistance(case, mesh, mesh.face_cells[face])
    for layer in thin:
        if not layer.sheet:
            resistance[np.searchsorted(face, layer.face)] += layer.resistance
    joints: dict[str, Any] = {
        "faces": Faces(first, second, mesh.face_length[face], half, half, resistance),
        "halves": together(made.halves),
        "links": together(made.links),
        "wedges": wedges(mesh),
        "void radiation": void_radiation[0],
    }
    outlets: dict[str, Outlet] = {
        "cover": Film(cover_node, cover_angle, mesh.cover_length, mesh.layout.cover_radius)
    }
    if bore is not None:
        level = -np.inf if case.contents.state == "empty" else mesh.layout.level
        inside, outlets["contents"] = bore_joints(bore, level)
        joints |= inside
    on_face = np.zeros(len(mesh.face_cells))
    on_face[face] = resistance
    return Network(
        case=case,
        mesh=mesh,
        layers=ONE_METRE,
        nodes=made.nodes,
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
        tracing=tracing(case, mesh, cell_node, on_face, conductivity, made.nodes),
        along=together(made.along),
        part=np.zeros((1, mesh.cells), np.int64),
        notes=(*(bore.source if bore else ()), *put_back(case, mesh)),
    )


def _cover(case: Case, mesh: PlanMesh, made: _Surfaces, conductivity: Array) -> tuple[IntArray, Array]:
    """The outside: a node on each cover face, and its angle about the cover's centre; the weather barrier in them."""
    node = made.new(len(mesh.cover_cell))
    gap, outermost = thin_cover(case, mesh, conductivity)
    bare = np.zeros(len(node))
    made.halves.append(Halves(mesh.cover_cell, node, mesh.cover_length, gap, mesh.cover_point, bare))
    angle = np.arctan2(*(mesh.cover_point - np.array([0.0, -mesh.layout.drop])).T)
    sheet = outermost
    if case.barrier is not None:
        assert case.barrier.conductivity is not None
        sheet += case.barrier.conductivity * case.barrier.thickness
    if sheet:
        around = np.argsort(angle)
        around = np.append(around, around[0])
        made.links.append(chain(node[around], mesh.cover_point[around], sheet))
        made.conducts_along(node, sheet * mesh.cover_length)
    return node, angle


def _on_side(mesh: PlanMesh, faces: IntArray, side: int | IntArray, node: IntArray) -> Halves:
    """Joints of nodes on faces and the cells on one side of them."""
    cell = mesh.face_cells[faces, side]
    half, point = 0.5 * mesh.face_gap[faces], mesh.face_point[faces]
    return Halves(cell, node, mesh.face_length[faces], half, point, np.zeros(len(faces)))


def _foil(case: Case, mesh: PlanMesh, made: _Surfaces, cell_node: IntArray) -> tuple[IntArray, IntArray]:
    """The foil: a node on each face on which it lies, joined to the cells on both sides. Returns faces and nodes.

    Where its contact has a resistance, the surface beneath has nodes of its own, joined to the foil's.
    """
    if case.foil is None:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    foot = foot_of(case)
    faces, resistance, runs = foil_faces(mesh, foot)
    node = made.new(len(faces))
    point, area, half = mesh.face_point[faces], mesh.face_length[faces], 0.5 * mesh.face_gap[faces]
    under, over = sides_of_foil(mesh, faces)
    beneath, touched = node.copy(), touches_foil(case, mesh, under)
    beneath[touched] = made.new(int(touched.sum()))
    strength = case.foil.contact_conductance * area[touched]
    made.links.append(Links(node[touched], beneath[touched], strength))
    bare = np.zeros(len(faces))
    made.halves += [
        Halves(under, beneath, area, half, point, resistance),
        Halves(over, node, area, half, point, bare),
    ]
    sheet = case.foil.conductivity * case.foil.thickness
    for run in runs:
        if len(run.faces) > 1:
            made.links.append(chain(node[run.faces], point[run.faces], sheet))
            if run.ends:
                strip = strip_links(mesh, run.faces, node, under, sheet, foot)
                made.links.append(Links(strip.a, cell_node[strip.b], strip.strength))
    made.conducts_along(node, sheet * area)
    return faces, node


def _voids(
    case: Case,
    mesh: PlanMesh,
    made: _Surfaces,
    plain: NDArray[np.bool_],
    foil_face: IntArray,
    foil_node: IntArray,
) -> tuple[IntArray, IntArray, dict[int, Radiation]]:
    """Voids of air: a node on each face that bounds one, and the radiation between these by the parts present.

    Of the plain faces; foil has its own nodes. Returns faces, nodes and joints, all from one set of further nodes.
    """
    found = states(case, mesh)
    rims = {bits: state.rim(mesh) for bits, state in found.items()}
    bounding = np.zeros(len(plain), bool)
    for rim in rims.values():
        bounding |= rim & plain
    face = np.flatnonzero(bounding)
    node = made.new(len(face))
    for side in (0, 1):
        made.halves.append(_on_side(mesh, face, side, node))
    every, number = np.concatenate([face, foil_face]), np.concatenate([node, foil_node])
    joints, counts, free = {0: no_radiation()}, [0], made.nodes
    for bits, state in found.items():
        here = state.sides(mesh, every).any(axis=1) & (
            rims[bits][every] | (np.arange(len(every)) >= len(face))
        )
        if here.any():
            joints[bits], count = across(case, mesh, found[bits], every[here], number[here], free)
            counts.append(count)
    made.new(max(counts))
    for bits in found:  # a node without a part in it rests on a surface
        idle = np.setdiff1d(free + np.arange(max(counts)), joints.get(bits, joints[0]).b)
        rest = Radiation(np.full(len(idle), number[0] if len(number) else 0), idle, np.full(len(idle), IDLE))
        joints[bits] = together([joints.get(bits, no_radiation()), rest])
    return face, node, joints


def _thin_sheets(mesh: PlanMesh, made: _Surfaces, thin: list[ThinLayer]) -> IntArray:
    """Layers thinner than the mesh that conduct well: a node on each face, joined along the layer; the faces."""
    for layer in thin:
        if not layer.sheet:
            continue
        node, area, point = (
            made.new(len(layer.face)),
            mesh.face_length[layer.face],
            mesh.face_point[layer.face],
        )
        for cell, gap in zip((layer.inside, layer.outside), layer.gaps, strict=True):
            made.halves.append(Halves(cell, node, area, gap, point, np.zeros(len(node))))
        around = np.argsort(layer.angle)
        around = np.append(around, around[0])
        made.links.append(chain(node[around], point[around], layer.sheet))
        made.conducts_along(node, layer.sheet * area)
    return np.concatenate([np.zeros(0, np.int64), *(layer.face for layer in thin if layer.sheet)])


def _bore(case: Case, mesh: PlanMesh, made: _Surfaces, faces: IntArray) -> Bore:
    """Lumped contents: a node on each face of the bore, and those of the lumps."""
    cells, point, area = mesh.face_cells[faces], mesh.face_point[faces], mesh.face_length[faces]
    side = np.where(np.isin(mesh.kind[cells[:, 0]], ("liquid", "gas")), 1, 0)
    node = made.new(len(faces))
    made.halves.append(_on_side(mesh, faces, side, node))
    bore = lumped_contents(case, mesh.layout, node, area, point, made.nodes)
    made.nodes = max(made.nodes - 1, bore.liquid, bore.gas, bore.surface) + 1
    at = case.contents.temperature or case.conditions[0].ambient + 20.0
    dry = mesh.kind == "gas"
    if case.contents.state == "empty":
        dry = np.isin(mesh.kind, ("liquid", "gas"))
    wet = (mesh.kind == "liquid") & ~dry
    for lump, fluid, inside in (
        (bore.liquid, case.contents.fluid, wet),
        (bore.gas, case.contents.gas, dry),
    ):
        if lump >= 0:
            section = float(fluid.conductivity(at)) * float(mesh.cell_area[inside].sum())
            made.conducts_along(np.array([lump]), np.array([section]))
    return bore


def clocks(points: Array) -> Array:
    """Clock positions of points about the pipe's axis, hours."""
    return angle_to_clock(np.arctan2(points[:, 0], points[:, 1]))
