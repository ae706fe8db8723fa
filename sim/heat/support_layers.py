"""A line in layers around a support: the parts' materials, the leg as a fin, the cut barrier, the allowance.

Half of the symmetric problem is modelled (z >= 0); heat and conductances are those of the half.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.case import Case, Support
from sim.heat.conductivity import Law
from sim.heat.fin import Exposed, Root, exposed_root
from sim.heat.joints import Nodes, PerMetre, Radiation, chosen, joined, together
from sim.heat.layers import layered
from sim.heat.network import Network
from sim.heat.outlets import Leaving
from sim.heat.tracing import Tracing
from sim.heat.voids import PARTS
from sim.section.extrude import Layers, presence
from sim.section.mesh import IntArray
from sim.section.shapes import Array
from sim.section.support_plan import CLEARANCE, INSERT, LEG, PAD, SupportLayout


@dataclass(frozen=True)
class LegFin:
    """The leg beyond the cover, from its cut face: area (k,) m2 of the half's face at each node."""

    node: Nodes
    area: PerMetre
    support: Support

    def root(self, root: float, case: Case) -> tuple[float, float]:
        """Conductance per area of the cut face, W/m2/K, and the temperature it goes to, K, at a root temperature."""
        root_there = self.at(root, case)
        return root_there.conductance / (2 * float(self.area.sum())), root_there.sink

    def at(self, root: float, case: Case) -> Root:
        """The exposed part as a fin, at a root temperature, K."""
        condition, material = case.conditions[0], self.support.leg_material
        part = exposed_part(self.support, condition.ambient)
        return exposed_root(
            part, lambda at: float(material.conductivity(at)), root, condition.ambient, condition.wind
        )

    def mean(self, temperature: Array) -> float:
        """Mean temperature of the cut face, K."""
        return float(np.average(temperature[self.node], weights=self.area))

    def leaving(self, case: Case, temperature: Array) -> Leaving:
        """At the mean temperature of the cut face."""
        per_area, end = self.root(self.mean(temperature), case)
        conductance = per_area * self.area
        return Leaving(conductance, np.full(len(conductance), end), conductance)


def exposed_part(support: Support, ambient: float) -> Exposed:
    """A leg's part beyond the insulation; a held end of no given temperature is at the ambient, K."""
    leg = support.leg
    assert leg is not None
    end = ambient if leg.end_temperature is None else leg.end_temperature
    return Exposed(
        leg.width * leg.length,
        2 * (leg.width + leg.length),
        leg.exposed,
        leg.end == "held",
        end,
        leg.film_coefficient,
        leg.emissivity or 0.0,
    )


def support_network(plan: Network, layers: Layers, support: Support, allowance: float = 0.0) -> Network:
    """A section's network in layers, with a support. allowance: extra length of each tracer laid here, m."""
    mesh = plan.mesh
    net = layered(plan, layers)
    part, contact = _parts(plan, layers, support)
    leg = part[:, mesh.cover_cell] == LEG
    bare = np.zeros((layers.count, plan.nodes), bool)
    bare[:, plan.cover_node] = bare_cover(plan, layers, support, leg)
    groups, faces = dict(net.joints.groups), net.faces
    groups["faces"] = replace(faces, resistance=faces.resistance + contact[:, plan.face].ravel())
    groups["halves"] = replace(
        net.halves, resistance=net.halves.resistance + _on_halves(plan, contact).ravel()
    )
    groups["void radiation"] = _void_radiation(plan, layers)
    for name in ("links", "sheets along"):  # the barrier, cut clear of the leg
        sheet = groups[name]
        groups[name] = chosen(sheet, ~(bare.ravel()[sheet.a] | bare.ravel()[sheet.b]))
    cover: Any = net.outlets["cover"]
    outlets = net.outlets | {"cover": replace(cover, area=np.where(leg.ravel(), 0.0, cover.area))}
    if leg.any():
        outlets["fin"] = LegFin(cover.node[leg.ravel()], cover.area[leg.ravel()], support)
    net = replace(
        net,
        joints=joined(groups, net.cell_node),
        outlets=outlets,
        support=support,
        part=part,
        laws=_laws(support),
    )
    return with_allowance(net, allowance)


def _laws(support: Support) -> dict[int, Law]:
    """Conductivity of each part."""
    laws: dict[int, Law] = {PAD: support.pad_material.conductivity, LEG: support.leg_material.conductivity}
    if support.insert is not None:
        assert support.insert.conductivity is not None
        laws[INSERT] = support.insert.conductivity
    return laws


def _parts(plan: Network, layers: Layers, support: Support) -> tuple[IntArray, Array]:
    """Which part each cell is made of (layers, cells), and the pad's contact on the mesh's faces (likewise), m2 K/W."""
    mesh, layout = plan.mesh, plan.mesh.layout
    assert isinstance(layout, SupportLayout)
    part = np.zeros((layers.count, mesh.cells), np.int64)
    contact = np.zeros((layers.count, len(mesh.face_cells)))
    pair = mesh.face_cells
    at_wall = mesh.of_kind("wall")[pair].any(axis=1)
    for bits in np.unique(layers.parts):
        of_cell = presence(layout, int(bits))[mesh.cell_region]
        here = layers.parts == bits
        part[here] = of_cell
        if support.pad is not None:
            on_pipe = at_wall & (of_cell[pair] == PAD).any(axis=1)
            contact[here] = on_pipe / support.pad.contact_conductance
    return part, contact


def _on_halves(plan: Network, contact: Array) -> Array:
    """The pad's contact (layers, faces of the mesh) where a void's or a foil's face has a node, (layers, halves).

    On the pad's side of it: the node then has the temperature of the pipe's own surface.
    """
    halves, mesh = plan.halves, plan.mesh
    resistance = np.zeros((len(contact), len(halves.node)))
    for faces, nodes in ((plan.void_face, plan.void_node), (plan.foil_face, plan.foil_node)):
        if len(nodes):
            number = halves.node - nodes[0]
            at_contact = np.flatnonzero(
                (number >= 0) & (number < len(nodes)) & (mesh.kind[halves.cell] != "wall")
            )
            resistance[:, at_contact] = contact[:, faces[number[at_contact]]]
    return resistance


def _void_radiation(plan: Network, layers: Layers) -> Radiation:
    """Radiation across voids in every layer, among what bounds them there."""
    by_layers = []
    for layer, (bits, thick) in enumerate(zip(layers.parts & PARTS, layers.thickness, strict=True)):
        here = plan.void_radiation.get(int(bits), plan.void_radiation[0])
        by_layers.append(
            Radiation(here.a + layer * plan.nodes, here.b + layer * plan.nodes, here.exchange * thick)
        )
    return together(by_layers)


def bare_cover(plan: Network, layers: Layers, support: Support, leg: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Where no barrier lies, (layers, cover faces); leg, likewise: where its cut face lies."""
    layout = plan.mesh.layout
    assert isinstance(layout, SupportLayout)
    if support.barrier_touches:
        return np.zeros_like(leg)
    beside = (np.array(layout.footprints) & (LEG | CLEARANCE) > 0)[
        plan.mesh.cell_region[plan.mesh.cover_cell]
    ]
    return np.asarray(leg | (beside & (layers.parts & CLEARANCE > 0)[:, None]))


def with_allowance(network: Network, allowance: float) -> Network:
    """The same network with another length of extra tracer, m, beneath the tracers or on the pad."""
    plan, layers, support, part = network.plan, network.layers, network.support, network.part
    assert isinstance(support, Support)
    share, inside = plan.footprint, layers.centre < support.allowance_over / 2
    if support.allowance_on == "pad":
        inside &= (layers.parts & PAD) > 0
        conducts = np.flatnonzero((part[0] == PAD) & (plan.cell_node >= 0))
        area = plan.mesh.cell_area[conducts]
        weight = np.bincount(plan.cell_node[conducts], area, plan.nodes) / max(float(area.sum()), 1e-30)
        share = np.tile(weight, (len(share), 1))
    long = layers.thickness * inside
    extra = np.tile(0.5 * allowance * long / max(float(long.sum()), 1e-30), (len(share), 1))
    tracing: Tracing = replace(network.tracing, extra=extra, extra_share=share)
    return replace(network, tracing=tracing)
