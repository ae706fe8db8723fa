"""A section's network as the conducting part of a flow in its bore."""

import numpy as np
from scipy.sparse import csr_matrix

from sim.heat.convection import FlowLaw
from sim.heat.fluid import Buoyancy
from sim.heat.network import Network
from sim.section.flow import FlowMesh
from sim.section.shapes import Array
from sim.solve.balance import evaluate, residual, step_matrix
from sim.solve.motion import Fluidity, HeatBalance


class SectionHeat:
    """Wall, tracers, insulation, outside and the conduction of the contents: see `sim.solve.motion.Heat`."""

    def __init__(self, network: Network, flow: FlowMesh) -> None:
        self.network = network
        self.nodes = network.nodes
        self.flow_node = network.cell_node[flow.cell]
        self.law = network.law()
        self.pairs = network.mesh.face_cells[flow.rim_face]

    def balance(self, temperature: Array) -> HeatBalance:
        """Evaluate the network at node temperatures (nodes,) K."""
        network = self.network
        ambient = network.case.conditions[0].ambient
        balance = evaluate(network, temperature, self.law)
        outward = balance.leaving(temperature)
        k = balance.conductivity[self.pairs]
        share = k / k.sum(axis=1, keepdims=True)
        b = len(share)
        rows = np.repeat(np.arange(b), 2)
        rim = csr_matrix((share.ravel(), (rows, network.cell_node[self.pairs].ravel())), (b, self.nodes))
        return HeatBalance(
            residual(network, balance, temperature - ambient, ambient),
            step_matrix(network, balance),
            network.heat_share.T,
            balance.heat_slope[:, None] * network.beneath,
            max(float(balance.heat.sum()), float(np.abs(outward).sum()) / 2, 1e-6),
            rim,
            np.zeros(b),
        )


def fluidity(buoyancy: Buoyancy, flow: FlowMesh) -> Fluidity:
    """The fluid's law, density and viscosity, with properties of reference at the mean temperature of the flow's cells.

    Under a free surface the viscosity is that at the mean temperature.
    """
    area = flow.area / flow.area.sum()
    middle = [0.0]

    def law(temperature: Array) -> FlowLaw:
        middle[0] = float(area @ temperature)
        return buoyancy.law(middle[0])

    uneven = not buoyancy.fluid.viscosity.is_constant and not flow.rim_slips.any()
    return Fluidity(
        law,
        lambda temperature: buoyancy.density(temperature, middle[0]),
        lambda temperature: buoyancy.slope(temperature, middle[0]),
        (lambda temperature: buoyancy.thickness(temperature, middle[0])) if uneven else None,
        (lambda temperature: buoyancy.thickness_slope(temperature, middle[0])) if uneven else None,
    )
