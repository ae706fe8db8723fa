"""What each node of a network stores: its cells, its sheets, its lumped contents, a ring of ice in them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.case import Fitting, Insert, Solid, Support
from sim.heat.fitting_layers import BARRIERED, in_hollows, metal_of
from sim.heat.ice import Ring, freezing_fluid, ring_of
from sim.heat.network import Network
from sim.heat.outlets import Film
from sim.heat.storage import EnthalpyCurve, Group, Storage, constant_store, fluid_store, of_region
from sim.section.bodies import CONTENTS, COVER, GAS
from sim.section.layout import Region
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
            result[self.ring.node] = self.ring.temperature(
                enthalpy, self.ring.share(enthalpy, result), result
            )
        return result

    def capacity(self, enthalpy: Array, temperature: Array) -> Array:
        """dH/dT (nodes,), 0 for nodes that store nothing."""
        result = self.plain.capacity(enthalpy, temperature)
        if self.ring is not None:
            result[self.ring.node] = self.ring.capacity(
                enthalpy, self.ring.share(enthalpy, temperature), temperature
            )
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
    of_cells, groups = network.made, list[Group]()
    there = (network.cell_node >= 0) & (of_cells.volume > 0.0)

    def add(node: IntArray, amount: Array, curve: EnthalpyCurve, freezes: bool = False) -> None:
        some = amount > 0.0
        if some.any():
            groups.append(Group(node[some], amount[some], curve, freezes))

    def cells(which: NDArray[np.bool_], curve: EnthalpyCurve, freezes: bool = False) -> None:
        storing = np.flatnonzero(which & there)
        add(network.cell_node[storing], of_cells.volume[storing], curve, freezes)

    def sheets(node: IntArray, amount: Array, curve: EnthalpyCurve) -> None:
        """Nodes of the plan in every layer, over an amount of each a metre."""
        left = 1.0 if network.left is None else network.left[:, node]
        add((node + base * plan.nodes).ravel(), (amount * thickness * left).ravel(), curve)

    freezes = freezing_fluid(case) is not None
    for number, region in enumerate(mesh.layout.regions):
        which = (of_cells.code == 0) & (of_cells.region == number)
        if which.any():
            cells(which, of_region(case, region), freezes and region.kind == "liquid")
    for code, (curve, liquid) in _further_materials(network).items():
        cells(of_cells.code == code, curve, freezes and liquid)
    if case.barrier is not None:
        sheet, thick = (
            constant_store(case.barrier.density, case.barrier.specific_heat),
            case.barrier.thickness,
        )
        sheets(plan.cover_node, thick * mesh.cover_length, sheet)
        for name, outlet in network.outlets.items():
            if name.startswith(BARRIERED):
                assert isinstance(outlet, Film)
                add(outlet.node, thick * outlet.area, sheet)
    if case.foil is not None and len(plan.foil_face):
        foil = constant_store(case.foil.density, case.foil.specific_heat)
        sheets(plan.foil_node, case.foil.thickness * mesh.face_length[plan.foil_face], foil)
    if plan.bore is not None:
        wet = (mesh.kind == "liquid") & (case.contents.state != "empty")
        dry = np.isin(mesh.kind, ("liquid", "gas")) & ~wet
        for lump, fluid, inside in (
            (plan.bore.liquid, case.contents.fluid, wet),
            (plan.bore.gas, case.contents.gas, dry),
        ):
            if lump >= 0:
                amount = float(mesh.cell_area[inside].sum()) * layers.thickness
                if network.lumped is not None:
                    amount = amount + network.lumped[:, lump]
                every = lump + plan.nodes * np.arange(layers.count)
                add(every, amount, fluid_store(fluid), freezes and lump == plan.bore.liquid)
    return LineStore(Storage(network.nodes, tuple(groups)), ring_of(network))


def _further_materials(network: Network) -> dict[int, tuple[EnthalpyCurve, bool]]:
    """What is not the line's own: by its code what it stores, and whether it is liquid."""
    case, what = network.case, network.support

    def solid(material: Solid | Insert) -> tuple[EnthalpyCurve, bool]:
        return constant_store(material.density, material.specific_heat), False

    if isinstance(what, Support):
        parts = {PAD: solid(what.material), LEG: solid(what.material)}
        return parts if what.insert is None else parts | {INSERT: solid(what.insert)}
    if isinstance(what, Fitting):
        inside = in_hollows(case)
        return {
            COVER: (of_region(case, Region("layer", 0)), False),
            CONTENTS: (of_region(case, inside), inside.kind == "liquid"),
            GAS: (fluid_store(case.contents.gas), False),
        } | {code: solid(metal) for code, metal in metal_of(what).items()}
    return {}
