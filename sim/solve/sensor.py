"""What a sensor on the pipe reads, without asking for the whole surface."""

from dataclasses import dataclass

import numpy as np

from sim.case.clock_face import clock_to_angle
from sim.heat.network import Network
from sim.section.mesh import IntArray
from sim.section.shapes import Array
from sim.solve.balance import Balance
from sim.solve.quantities import group_places, region_cells


@dataclass(frozen=True)
class Reading:
    """Temperature of the pipe's outside at a clock position in the last layer, from the places on either side of it.

    As `at_clock` of `wall_surface`: own, other, cell (k,): nodes on either side of the wall's face and the cell within;
    joint: of the face, in "faces"; resistance: from cell to face at 1 W/m/K, K m/W; part: weights; node, rest: of
    surface nodes.
    """

    own: IntArray
    other: IntArray
    cell: IntArray
    joint: IntArray
    resistance: Array
    part: Array
    node: IntArray
    rest: Array

    def at(self, temperature: Array, balance: Balance) -> float:
        """Of node temperatures (nodes,) K, with the conductances of a balance at or near them."""
        conductance = balance.conductance[balance.parts["faces"].start + self.joint]
        own = temperature[self.own]
        leaving = conductance * (own - temperature[self.other])
        rim = own - leaving * self.resistance / balance.conductivity[self.cell]
        return float(self.part @ rim + self.rest @ temperature[self.node])


def reading_at(network: Network, clock: float) -> Reading:
    """The reading at a clock position; around a support at the far end, where the line does not feel it."""
    layout, mesh, last = network.mesh.layout, network.mesh, network.layers.count - 1
    wall = group_places(network, region_cells(mesh, "wall"))
    outer = np.flatnonzero(wall.outer)
    outer = outer[np.hypot(*wall.point[outer].T) > 0.5 * (layout.inner_radius + layout.outer_radius)]
    angle = np.mod(np.arctan2(*wall.point[outer].T), 2 * np.pi)
    order = np.argsort(angle)
    at, around = clock_to_angle(clock), np.eye(len(order))
    weight = np.array([np.interp(at, angle[order], one, period=2 * np.pi) for one in around])
    beside = np.flatnonzero(weight)
    place, weight = outer[order[beside]] - int(wall.inside.sum()), weight[beside]
    faces = len(wall.own)
    on_face = place < faces
    face, cell = place[on_face], wall.own[place[on_face]] + last * mesh.cells
    return Reading(
        own=network.cell_node[cell],
        other=network.cell_node[wall.other[face] + last * mesh.cells],
        cell=cell,
        joint=wall.joint[face] + last * len(network.face),
        resistance=wall.half_over_area[face] / float(network.layers.thickness[-1]),
        part=weight[on_face],
        node=wall.node[place[~on_face] - faces] + last * network.plan.nodes,
        rest=weight[~on_face],
    )
