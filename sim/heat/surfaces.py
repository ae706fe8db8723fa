"""The surfaces of a section that have nodes of their own: outside, foil, thin layers, voids, lumped bore."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sim.case import Case
from sim.heat.contents import Bore, lumped_contents
from sim.heat.joints import Halves, Links, Nodes, Radiation, Same, no_links, no_radiation, together
from sim.heat.sheets import chain, foil_faces, foot_of, ring, sides_of_foil, strip_links, touches_foil
from sim.heat.thin import ThinLayer, thin_cover
from sim.heat.voids import across, states
from sim.section.mesh import IntArray, PlanMesh
from sim.section.shapes import Array

IDLE = 1e-3  # m2 per metre: by what a node that has no part in the radiation rests on another


@dataclass(frozen=True)
class Along:
    """What conducts along the pipe in nodes that are no cells: node (s,), conductance times distance (s,) W m/K."""

    node: Nodes
    strength: Same


@dataclass
class Surfaces:
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


def cover(case: Case, mesh: PlanMesh, added: Surfaces, conductivity: Array) -> tuple[IntArray, Array]:
    """The outside: a node on each cover face, and its angle about the cover's centre; the weather barrier in them."""
    node = added.new(len(mesh.cover_cell))
    gap, outermost = thin_cover(case, mesh, conductivity)
    bare = np.zeros(len(node))
    added.halves.append(Halves(mesh.cover_cell, node, mesh.cover_area, gap, mesh.cover_point, bare))
    angle = np.arctan2(*(mesh.cover_point - np.array([0.0, -mesh.layout.drop])).T)
    sheet = outermost
    if case.barrier is not None:
        assert case.barrier.conductivity is not None
        sheet += case.barrier.conductivity * case.barrier.thickness
    if sheet:
        added.links.append(ring(mesh, node, angle, mesh.cover_point, sheet))
        added.conducts_along(node, sheet * mesh.cover_length)
    return node, angle


def _on_side(mesh: PlanMesh, faces: IntArray, side: int | IntArray, node: IntArray) -> Halves:
    """Joints of nodes on faces and the cells on one side of them."""
    cell = mesh.face_cells[faces, side]
    half, point = 0.5 * mesh.face_distance[faces], mesh.face_point[faces]
    return Halves(cell, node, mesh.face_area[faces], half, point, np.zeros(len(faces)))


def foil(case: Case, mesh: PlanMesh, added: Surfaces, cell_node: IntArray) -> tuple[IntArray, IntArray]:
    """The foil: a node on each face on which it lies, joined to the cells on both sides. Returns faces and nodes.

    Where its contact has a resistance, the surface beneath has nodes of its own, joined to the foil's.
    """
    if case.foil is None or not case.tracers:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    foot = foot_of(case)
    faces, resistance, runs = foil_faces(mesh, foot)
    node = added.new(len(faces))
    point, area, half = mesh.face_point[faces], mesh.face_area[faces], 0.5 * mesh.face_distance[faces]
    under, over = sides_of_foil(mesh, faces)
    beneath, touched = node.copy(), touches_foil(case, mesh, under)
    beneath[touched] = added.new(int(touched.sum()))
    strength = case.foil.contact_conductance * area[touched]
    added.links.append(Links(node[touched], beneath[touched], strength))
    bare = np.zeros(len(faces))
    added.halves += [
        Halves(under, beneath, area, half, point, resistance),
        Halves(over, node, area, half, point, bare),
    ]
    sheet = case.foil.conductivity * case.foil.thickness
    for run in runs:
        if len(run.faces) > 1:
            added.links.append(chain(mesh, node[run.faces], point[run.faces], sheet))
            strip = strip_links(mesh, run, node, faces, sheet, foot)
            added.links.append(Links(strip.a, cell_node[strip.b], strip.strength))
    added.conducts_along(node, sheet * area)
    return faces, node


def voids(
    case: Case,
    mesh: PlanMesh,
    added: Surfaces,
    plain: NDArray[np.bool_],
    foil_face: IntArray,
    foil_node: IntArray,
) -> tuple[IntArray, IntArray, dict[int, Radiation]]:
    """Voids of air: a node on each face that bounds one, and the radiation between these by the parts present.

    Of the plain faces; foil has its own nodes. Returns faces, nodes and joints, all from one set of further nodes.
    """
    void_states = states(case, mesh)
    rims = {bits: state.rim(mesh) for bits, state in void_states.items()}
    bounding = np.zeros(len(plain), bool)
    for rim in rims.values():
        bounding |= rim & plain
    face = np.flatnonzero(bounding)
    node = added.new(len(face))
    for side in (0, 1):
        added.halves.append(_on_side(mesh, face, side, node))
    every, number = np.concatenate([face, foil_face]), np.concatenate([node, foil_node])
    joints, counts, free = {0: no_radiation()}, [0], added.nodes
    for bits, state in void_states.items():
        here = state.sides(mesh, every).any(axis=1) & (
            rims[bits][every] | (np.arange(len(every)) >= len(face))
        )
        if here.any():
            joints[bits], count = across(case, mesh, void_states[bits], every[here], number[here], free)
            counts.append(count)
    added.new(max(counts))
    for bits in void_states:  # a node without a part in it rests on a surface
        idle = np.setdiff1d(free + np.arange(max(counts)), joints.get(bits, joints[0]).b)
        rest = Radiation(np.full(len(idle), number[0] if len(number) else 0), idle, np.full(len(idle), IDLE))
        joints[bits] = together([joints.get(bits, no_radiation()), rest])
    return face, node, joints


def thin_sheets(mesh: PlanMesh, added: Surfaces, thin: list[ThinLayer]) -> IntArray:
    """Layers thinner than the mesh that conduct well: a node on each face, joined along the layer; the faces."""
    for layer in thin:
        if not layer.sheet:
            continue
        node, area, point = (
            added.new(len(layer.face)),
            mesh.face_area[layer.face],
            mesh.face_point[layer.face],
        )
        for cell, gap in zip((layer.inside, layer.outside), layer.gaps, strict=True):
            added.halves.append(Halves(cell, node, area, gap, point, np.zeros(len(node))))
        added.links.append(ring(mesh, node, layer.angle, point, layer.sheet))
        added.conducts_along(node, layer.sheet * area)
    return np.concatenate([np.zeros(0, np.int64), *(layer.face for layer in thin if layer.sheet)])


def bore(case: Case, mesh: PlanMesh, added: Surfaces, faces: IntArray) -> Bore:
    """Lumped contents: a node on each face of the bore, and those of the lumps."""
    cells = mesh.face_cells[faces]
    side = np.where(mesh.of_kind("liquid", "gas")[cells[:, 0]], 1, 0)
    node = added.new(len(faces))
    added.halves.append(_on_side(mesh, faces, side, node))
    bore = lumped_contents(case, mesh, faces, node, added.nodes)
    added.nodes = max(added.nodes - 1, bore.liquid, bore.gas, bore.surface) + 1
    at = case.contents.temperature or case.conditions[0].ambient + 20.0
    dry = mesh.of_kind("gas")
    if case.contents.state == "empty":
        dry = mesh.of_kind("liquid", "gas")
    wet = mesh.of_kind("liquid") & ~dry
    for lump, fluid, inside in ((bore.liquid, case.contents.fluid, wet), (bore.gas, case.contents.gas, dry)):
        if lump >= 0:
            section = float(fluid.conductivity(at)) * float(mesh.cell_area[inside].sum())
            added.conducts_along(np.array([lump]), np.array([section]))
    return bore
