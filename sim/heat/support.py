"""A section's network repeated over the layers of a support, joined along the pipe.

Node numbers are `layer * plan.nodes + plan node`. In a layer, the joints are the section's own times the layer's
thickness, with the parts' materials where they are present; along z the cells, the sheets and the lumped contents
are joined. Half of the symmetric problem is modelled (z >= 0); heat and conductances are those of the half.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.case import Case, Curve, Support
from sim.heat.conductivity import of_region
from sim.heat.fin import fin_root
from sim.heat.network import Network
from sim.heat.wedge import Wedges
from sim.section.extrude import Layers, presence
from sim.section.mesh import IntArray
from sim.section.shapes import Array
from sim.section.support import GAP, INSERT, LEG, PAD, SupportLayout

Law = Callable[[Array], Array]


@dataclass(frozen=True)
class Axial:
    """Joints along z of nodes that are not cells: plan node (s,), conductance times distance (s,), W m/K."""

    node: IntArray
    strength: Array
    cover: NDArray[np.bool_]


@dataclass(frozen=True)
class SupportNetwork:
    """One condition of a line around a support, on one extruded mesh.

    part (layers, cells): PAD, LEG, INSERT or 0; resistance (layers, faces) m2 K/W; leg_face (layers, cover faces):
    where the leg's cut face lies; bare (likewise): where no
    barrier lies; link_open (layers, links): 1, or 0 where the barrier is cut; extra (tracers,
    layers): W of allowance per W/m of output; extra_share (tracers, plan nodes): where in the plan it goes.
    """

    plan: Network
    layers: Layers
    support: Support
    part: IntArray
    resistance: Array
    leg_face: NDArray[np.bool_]
    bare: NDArray[np.bool_]
    link_open: Array
    axial: Axial
    corners: Wedges
    extra: Array
    extra_share: Array

    @property
    def case(self) -> Case:
        return self.plan.case

    @property
    def nodes(self) -> int:
        return self.layers.count * self.plan.nodes

    @property
    def cut_area(self) -> Array:
        """Area of the leg's cut face in each (layer, cover face) of the half, m2."""
        mesh = self.plan.mesh
        return self.leg_face * mesh.cover_length[None, :] * self.layers.thickness[:, None]

    def fin(self, root: float, ambient: float) -> tuple[float, float]:
        """Conductance per area of the cut face, W/m2/K, and the temperature it goes to, K, at a root temperature."""
        leg = self.support.leg
        assert leg is not None
        area = leg.width * leg.length
        k = float(self.support.material.conductivity(root))
        total, share = fin_root(
            k, area, 2 * (leg.width + leg.length), leg.exposed, leg.film_coefficient, leg.end == "held"
        )
        end = ambient if leg.end_temperature is None else leg.end_temperature
        return total / (2 * float(self.cut_area.sum())), ambient + share * (end - ambient)


class LayeredConductivity:
    """Conductivity of all cells (layers, cells), W/m/K, as a function of their temperatures."""

    def __init__(self, network: SupportNetwork) -> None:
        plan, case = network.plan, network.plan.case
        region = plan.mesh.cell_region
        laws: list[tuple[IntArray, Law, bool]] = []
        material, insert = network.support.material.conductivity, network.support.insert
        metal = np.flatnonzero((network.part == PAD) | (network.part == LEG))
        laws.append((metal, material, material.is_constant))
        if insert is not None:
            laws.append(
                (np.flatnonzero(network.part == INSERT), insert.conductivity, insert.conductivity.is_constant)
            )
        own = network.part == 0
        for number, kind in enumerate(plan.mesh.layout.regions):
            flat = np.flatnonzero(own & (region == number)[None, :])
            if len(flat):
                law = of_region(case, kind, plan.void_width[flat % plan.mesh.cells])
                fixed = law.is_constant if isinstance(law, Curve) else kind.kind == "tracer"
                laws.append((flat, law, fixed))
        self.varying = [(flat, law) for flat, law, fixed in laws if not fixed]
        self.base = np.empty(network.part.size)
        for flat, law, _ in laws:
            self.base[flat] = law(np.full(len(flat), 300.0))
        self.shape = network.part.shape

    def __call__(self, temperature: Array) -> Array:
        conductivity = self.base.copy()
        flat_temperature = temperature.ravel()
        for flat, law in self.varying:
            conductivity[flat] = law(flat_temperature[flat])
        return conductivity.reshape(self.shape)


def support_network(
    plan: Network, layers: Layers, support: Support, allowance: float = 0.0
) -> SupportNetwork:
    """Repeat a section's network over layers. allowance: extra length of each tracer laid here, m."""
    mesh = plan.mesh
    layout = mesh.layout
    assert isinstance(layout, SupportLayout)
    part = np.zeros((layers.count, mesh.cells), np.int64)
    resistance = np.zeros((layers.count, len(plan.face)))
    wall = np.array([r.kind == "wall" for r in layout.regions])[mesh.cell_region]
    pair = mesh.face_cells[plan.face]
    for bits in np.unique(layers.parts):
        of_cell = presence(layout, int(bits))[mesh.cell_region]
        here = layers.parts == bits
        part[here] = of_cell
        held = plan.resistance.copy()
        if support.pad is not None:
            on_pipe = wall[pair].any(axis=1) & (of_cell[pair] == PAD).any(axis=1)
            held[on_pipe] += 1.0 / support.pad.contact_conductance
        resistance[here] = held
    leg_face = part[:, mesh.cover_cell] == LEG
    links = plan.links
    covered = np.full(plan.nodes, -1)
    covered[plan.cover_node] = np.arange(len(plan.cover_node))
    link_open = np.ones((layers.count, len(links.a)))
    near_leg = (np.array(layout.footprints) & (LEG | GAP) > 0)[mesh.cell_region[mesh.cover_cell]]
    bare = (leg_face | (near_leg & (layers.parts & GAP > 0)[:, None])) & (not support.barrier_touches)
    for side in (links.a, links.b):
        on_cover = covered[side] >= 0
        link_open[:, on_cover] *= ~bare[:, covered[side][on_cover]]
    offset = np.arange(layers.count)[:, None] * mesh.cells
    w = plan.wedges
    corners = Wedges(
        (w.tracer_cell + offset).ravel(),
        (w.seat_cell + offset).ravel(),
        (w.wedge_cell + offset).ravel(),
        np.tile(w.angle, layers.count),
    )
    extra, share = _allowance(plan, layers, support, part, allowance)
    return SupportNetwork(
        plan,
        layers,
        support,
        part,
        resistance,
        leg_face,
        bare,
        link_open,
        _axial(plan),
        corners,
        extra,
        share,
    )


def _axial(plan: Network) -> Axial:
    """Sheets along z, and the lumped contents' own conduction (at the ambient's conductivity of the fluid)."""
    case, mesh = plan.case, plan.mesh
    node, strength, cover = [np.zeros(0, np.int64)], [np.zeros(0)], [np.zeros(0, bool)]

    def add(nodes: IntArray, values: Array, on_cover: bool) -> None:
        node.append(nodes)
        strength.append(values)
        cover.append(np.full(len(nodes), on_cover))

    if case.barrier is not None:
        sheet = case.barrier.conductivity * case.barrier.thickness
        add(plan.cover_node, sheet * mesh.cover_length, True)
    if case.foil is not None and len(plan.foil_face):
        sheet = case.foil.conductivity * case.foil.thickness
        first = int(plan.cover_node[-1]) + 1
        add(first + np.arange(len(plan.foil_face)), sheet * mesh.face_length[plan.foil_face], False)
    if plan.bore is not None:
        at = case.contents.temperature or case.conditions[0].ambient + 20.0
        kinds = np.array([r.kind for r in mesh.layout.regions])[mesh.cell_region]
        level = kinds == "gas" if case.contents.state != "empty" else np.ones(mesh.cells, bool)
        bore = np.isin(kinds, ("liquid", "gas"))
        for lump, fluid, inside in (
            (plan.bore.liquid, case.contents.fluid, bore & ~level),
            (plan.bore.gas, case.contents.gas, bore & level),
        ):
            if lump >= 0:
                area = float(mesh.cell_area[inside].sum())
                add(np.array([lump]), np.array([float(fluid.conductivity(at)) * area]), False)
    return Axial(np.concatenate(node), np.concatenate(strength), np.concatenate(cover))


def _allowance(
    plan: Network, layers: Layers, support: Support, part: IntArray, allowance: float
) -> tuple[Array, Array]:
    """Where extra tracer gives its heat: the pipe's outside beneath the tracers, or the pad."""
    mesh, count = plan.mesh, len(plan.case.tracers)
    inside = layers.centre < support.allowance_over / 2
    if support.allowance_on == "pad":
        inside &= (layers.parts & PAD) > 0
        pad = (part[0] == PAD) * mesh.cell_area
        weight = np.bincount(np.maximum(plan.cell_node, 0), pad * (plan.cell_node >= 0), plan.nodes) / max(
            pad.sum(), 1e-30
        )
        share = np.tile(weight, (count, 1))
    else:
        share = plan.footprint
    long = layers.thickness * inside
    extra = np.tile(0.5 * allowance * long / max(long.sum(), 1e-30), (count, 1))
    return extra, share


def with_allowance(network: SupportNetwork, allowance: float) -> SupportNetwork:
    """The same network with another length of extra tracer, m."""
    extra, share = _allowance(network.plan, network.layers, network.support, network.part, allowance)
    return replace(network, extra=extra, extra_share=share)
