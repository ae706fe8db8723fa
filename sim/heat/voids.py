"""Air voids beside tracers and under a hanging shell: nodes on what bounds them, and the radiation between these.

Air in a void conducts; what bounds it exchanges grey, diffuse radiation (`sim.heat.radiation`), each void an enclosure
of its own with all that hides one surface from another. Where a part of a support stands in a void, it bounds it, layer
by layer: radiation along the pipe is left out. Free convection is left out (`sim.judge.field_notes` tells its size).
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sim.case import Case
from sim.heat.joints import Radiation
from sim.heat.radiation import View, radiation, swept, view
from sim.section.enclosure import Wall, fraction, walls
from sim.section.extrude import presence
from sim.section.mesh import IntArray, PlanMesh
from sim.section.support_plan import INSERT, LEG, PAD, SupportLayout

PARTS = PAD | LEG | INSERT


@dataclass(frozen=True)
class State:
    """Voids while some parts of a support are present, (n_regions,): what is void (inside), what is a pad or leg."""

    inside: NDArray[np.bool_]
    metal: NDArray[np.bool_]

    def rim(self, mesh: PlanMesh) -> NDArray[np.bool_]:
        """Faces of the mesh between a void and something else, (faces,)."""
        side = self.sides(mesh, np.arange(len(mesh.face_cells)))
        return np.asarray(side[:, 0] != side[:, 1])

    def sides(self, mesh: PlanMesh, face: IntArray) -> NDArray[np.bool_]:
        """Whether a void lies on either side of faces (k,), (k, 2)."""
        return np.asarray(self.inside[mesh.cell_region[mesh.face_cells[face]]])


def states(case: Case, mesh: PlanMesh) -> dict[int, State]:
    """The voids of air by the bits of the parts present; empty where there are none."""
    layout = mesh.layout
    void = np.array([region.kind == "void" for region in layout.regions])
    if not void.any() or case.insulation.void.conductivity is not None:
        return {}
    if not isinstance(layout, SupportLayout):
        return {0: State(void, np.zeros_like(void))}
    used = np.bitwise_or.reduce(np.array(layout.footprints)) & PARTS
    parts = {bits: presence(layout, bits) for bits in range(PARTS + 1) if bits & used == bits}
    return {bits: State(void & (of == 0), np.isin(of, (PAD, LEG))) for bits, of in parts.items()}


@dataclass(frozen=True)
class Seen:
    """Walls of the voids; the surfaces (s,) that bound them, which of the given faces each is on; what they see."""

    bounds: list[Wall]
    which: IntArray
    view: View


@lru_cache(maxsize=16)
def _seen(mesh: PlanMesh, inside: bytes, faces: bytes) -> Seen:
    """What the faces of a mesh see across the voids `inside` (n_regions,), whatever the case: conditions share it."""
    regions, face = mesh.layout.regions, np.frombuffer(faces, np.int64)
    void = np.frombuffer(inside, bool)
    bounds = walls(mesh.pieces, void)
    tracer = [regions[w.region].index if regions[w.region].kind == "tracer" else -1 for w in bounds]
    which, side = np.nonzero(void[mesh.cell_region[mesh.face_cells[face]]])
    cells, point = mesh.face_cells[face[which]], mesh.face_point[face[which]]
    every = np.arange(len(which))
    towards = mesh.site[cells[every, side]] - point
    behind = mesh.cell_region[cells[every, 1 - side]]
    far = 4 * mesh.layout.cover_radius  # a wall that faces away, or has something else behind it, comes last
    apart = []
    for wall in bounds:
        averted = (wall.curve.normal(fraction(wall.curve, point)) * towards).sum(axis=1) < 0
        apart.append(wall.curve.distance(point) + far * (behind != wall.region) + 2 * far * averted)
    nearest = np.argmin(np.stack(apart), axis=0)
    seen = view([w.curve for w in bounds], tracer, mesh.fineness, nearest, point)
    return Seen(bounds, which, seen if mesh.bend is None else swept(seen, mesh.depth(point)))


def across(
    case: Case, mesh: PlanMesh, state: State, face: IntArray, node: IntArray, free: int
) -> tuple[Radiation, int]:
    """Radiation between nodes on faces (k,) with a void on one side or both, and how many further nodes it takes from
    `free` on."""
    regions, void = mesh.layout.regions, case.insulation.void
    seen = _seen(mesh, state.inside.tobytes(), face.tobytes())

    def emissivity(wall: Wall) -> float:
        kind = regions[wall.region].kind
        if wall.foil:
            return float(void.insulation_emissivity)
        if state.metal[wall.region] or kind == "wall":
            return float(void.pipe_emissivity)
        return float(void.tracer_emissivity if kind == "tracer" else void.insulation_emissivity)

    grey = np.array([emissivity(wall) for wall in seen.bounds])
    area = mesh.face_area[face[seen.which]]
    joints, count = radiation(seen.view, grey, node[seen.which], area, free)
    return Radiation(*joints), count
