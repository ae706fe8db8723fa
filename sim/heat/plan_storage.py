"""What each node of a network stores: its cells, its sheets, its lumped contents, a ring of ice in them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.case import Support
from sim.heat.ice import Ring, freezing_fluid, ring_of
from sim.heat.network import Network
from sim.heat.storage import EnthalpyCurve, Group, Storage, constant_store, fluid_store, of_region
from sim.section.mesh import IntArray
from sim.section.shapes import Array
from sim.section.support_plan import INSERT, LEG, PAD


@dataclass(frozen=True)
class LineStore:
    """Heat stored in a network: that of its materials, and the ring of ice in mixed contents."""

    plain: Storage
    ring: Ring | None

    def temperature(self, enthalpy: Array, free: Array) -> Array:
        """Temperatures (nodes,) K; nodes that store nothing keep those of `free`."""
        result = self.plain.temperature(enthalpy, free)
        if self.ring is not None:
            result[self.ring.node] = self.ring.temperature(enthalpy, self.ring.share(enthalpy, result))
        return result

    def capacity(self, enthalpy: Array, temperature: Array) -> Array:
        """dH/dT (nodes,), 0 for nodes that store nothing."""
        result = self.plain.capacity(enthalpy, temperature)
        if self.ring is not None:
            result[self.ring.node] = self.ring.capacity(enthalpy, self.ring.share(enthalpy, temperature))
        return result

    def enthalpy(self, temperature: Array) -> Array:
        """Enthalpy (nodes,) at given temperatures; a fluid at its freezing point is liquid."""
        return self.plain.enthalpy(temperature)

    def frozen(self, enthalpy: Array, temperature: Array) -> Array:
        """Share frozen of each node that can freeze, 0 for the others (nodes,)."""
        result = self.plain.frozen(enthalpy)
        if self.ring is not None:
            result[self.ring.node] = self.ring.share(enthalpy, temperature)
        return result


def line_store(network: Network) -> LineStore:
    """Storage of a network: J/K of a section per metre."""
    plan, case, mesh, layers = network.plan, network.case, network.mesh, network.layers
    base, thickness = np.arange(layers.count)[:, None], layers.thickness[:, None]
    groups: list[Group] = []

    def add(node: IntArray, amount: Array, curve: EnthalpyCurve, freezes: bool = False) -> None:
        """Nodes of the plan in every layer, over an amount of each a metre."""
        if len(node):
            every = (node + base * plan.nodes).ravel()
            groups.append(Group(every, (amount * thickness).ravel(), curve, freezes))

    made_of = np.zeros((1, mesh.cells), np.int64) if network.part is None else network.part
    freezes = freezing_fluid(case) is not None
    for number, region in enumerate(mesh.layout.regions):
        layer, cell = np.nonzero((made_of == 0) & (mesh.cell_region == number) & (plan.cell_node >= 0))
        if len(cell):
            node = plan.cell_node[cell] + layer * plan.nodes
            amount = mesh.cell_area[cell] * layers.thickness[layer]
            groups.append(Group(node, amount, of_region(case, region), freezes and region.kind == "liquid"))
    if isinstance(network.support, Support):
        groups += _parts(network, network.support, made_of)
    if case.barrier is not None:
        sheet = constant_store(case.barrier.density, case.barrier.specific_heat)
        add(plan.cover_node, case.barrier.thickness * mesh.cover_length, sheet)
    if case.foil is not None and len(plan.foil_face):
        foil = constant_store(case.foil.density, case.foil.specific_heat)
        add(plan.foil_node, case.foil.thickness * mesh.face_length[plan.foil_face], foil)
    if plan.bore is not None:
        wet = (mesh.kind == "liquid") & (case.contents.state != "empty")
        dry = np.isin(mesh.kind, ("liquid", "gas")) & ~wet
        for lump, fluid, inside in (
            (plan.bore.liquid, case.contents.fluid, wet),
            (plan.bore.gas, case.contents.gas, dry),
        ):
            if lump >= 0:
                area = np.array([float(mesh.cell_area[inside].sum())])
                add(np.array([lump]), area, fluid_store(fluid), freezes and lump == plan.bore.liquid)
    return LineStore(Storage(network.nodes, tuple(groups)), ring_of(network))


def _parts(network: Network, support: Support, made_of: IntArray) -> list[Group]:
    """Pad, leg and insert of a support."""
    plan, mesh, groups = network.plan, network.mesh, []
    metal = constant_store(support.material.density, support.material.specific_heat)
    curves: list[tuple[NDArray[np.bool_], EnthalpyCurve]] = [((made_of == PAD) | (made_of == LEG), metal)]
    if support.insert is not None:
        curves.append(
            (made_of == INSERT, constant_store(support.insert.density, support.insert.specific_heat))
        )
    for mine, curve in curves:
        layer, cell = np.nonzero(mine & (plan.cell_node >= 0))
        node = plan.cell_node[cell] + layer * plan.nodes
        groups.append(Group(node, mesh.cell_area[cell] * network.layers.thickness[layer], curve, False))
    return groups
