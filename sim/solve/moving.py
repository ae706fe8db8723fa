"""One mesh of a condition whose contents move, and how a flow goes from one mesh to another."""

from dataclasses import replace

import numpy as np
from scipy.spatial import cKDTree

from sim.case import Case
from sim.heat.convection import Convection, FlowLaw
from sim.heat.fluid import Buoyancy
from sim.heat.network import network
from sim.section.flow import FlowMesh, bore_flow
from sim.section.mesh import PlanMesh
from sim.section.shapes import Array
from sim.section.sizing import BoreGrading
from sim.solve.at_rest import carried
from sim.solve.balance import evaluate
from sim.solve.conjugate import SectionHeat, fluidity
from sim.solve.motion import Flow, Motion, State, Work, steady
from sim.solve.steady import Solution

VERIFIED = 1e8  # Rayleigh number up to which the flow is held against published solutions
LAYER_CELLS = 8  # size of the cells at the wall: the boundary layer's thickness over this, at fineness 1
SEED = 0.02  # unevenness of the temperature at the start, as a part of its span
NEIGHBOURS = 4  # sites from which a flow is carried over to another mesh


class Moving:
    """One mesh of a condition with its flow: everything a step needs."""

    def __init__(self, case: Case, mesh: PlanMesh) -> None:
        self.network = network(case, mesh)
        kind = "liquid" if mesh.layout.level > -mesh.layout.inner_radius else "gas"
        fluid = case.contents.fluid if kind == "liquid" else case.contents.gas
        self.flow = bore_flow(mesh, kind)
        self.heat = SectionHeat(self.network, self.flow)
        self.convection = Convection(self.flow)
        self.buoyancy = Buoyancy(fluid, 2 * mesh.layout.inner_radius)
        self.fluid = fluidity(self.buoyancy, self.flow)

    def contents(self, temperature: Array) -> tuple[Array, float]:
        """Temperatures of the moving cells (n,) and their mean, K, from the nodes'."""
        cells = temperature[self.heat.flow_node]
        return cells, float(np.average(cells, weights=self.flow.area))

    def rayleigh(self, temperature: Array) -> float:
        """Rayleigh number of the moving contents at node temperatures, see `Buoyancy.rayleigh`."""
        return self.buoyancy.rayleigh(*self.contents(temperature))

    def steady(self, start: State, weight: float, tolerance: float, work: Work) -> Motion:
        """The flow with its weight multiplied by a number. Raises NoSteadyFlow."""

        def law(temperature: Array) -> FlowLaw:
            law_there = self.fluid.law(temperature)
            return replace(law_there, lift=law_there.lift * weight)

        fluid = replace(self.fluid, law=law)
        return steady(self.heat, self.convection, fluid, start, work=work, tolerance=tolerance)

    def at_rest(self, temperature: Array) -> State:
        """No motion, at node temperatures that are slightly uneven.

        The unevenness keeps a mirror-symmetric case from standing on a symmetric flow that would not last.
        """
        rest = np.zeros(self.flow.cells)
        return self.uneven(State(temperature, rest, rest))

    def uneven(self, state: State) -> State:
        """A state with its temperatures disturbed, a little warmer on one side."""
        x, y = self.flow.site.T
        temperature = state.temperature.copy()
        span = float(np.ptp(temperature[self.heat.flow_node]))
        temperature[self.heat.flow_node] += SEED * span * (1 - 4 * (x**2 + y**2)) * x
        return State(temperature, state.vorticity, state.psi)

    def solution(self, motion: Motion) -> Solution:
        """The section's solution with the flow in it."""
        temperature = motion.state.temperature
        balance = evaluate(self.network, temperature, self.heat.law)
        imbalance = motion.residual[0] * max(float(balance.heat.sum()), 1e-3)
        return Solution(
            self.network,
            temperature,
            balance,
            imbalance,
            motion.residual[0],
            motion.steps,
            flow=Flow(self.flow, motion),
        )


def carried_over(old: Moving, state: State, new: Moving) -> State:
    """A flow on another mesh: means of the nearest sites, weighted by the inverse of their distance."""
    rest = carried(old.network, state.temperature, new.network)
    apart, near = cKDTree(old.flow.site).query(new.flow.site, NEIGHBOURS)
    weight = 1.0 / np.maximum(apart, 1e-9)
    weight /= weight.sum(axis=1, keepdims=True)
    cells = state.temperature[old.heat.flow_node]
    rest[new.heat.flow_node] = (weight * cells[near]).sum(axis=1)
    return State(rest, (weight * state.vorticity[near]).sum(axis=1), (weight * state.psi[near]).sum(axis=1))


def grading_for(rayleigh: float, most: float = VERIFIED) -> BoreGrading:
    """Cells of the bore for a Rayleigh number (in steps of a quarter decade, so that conditions share meshes).

    The boundary layer is taken as D Ra^(-1/4) thick.
    """
    decade = np.ceil(4 * np.log10(np.clip(rayleigh, 1e3, most))) / 4
    return BoreGrading(2 * 10 ** (-decade / 4) / LAYER_CELLS)


def layer_cells(flow: FlowMesh, rayleigh: float, grading: BoreGrading, fineness: float) -> int:
    """Rows of cells within the boundary layer D Ra^(-1/4)."""
    depth = grading.rows(fineness, 0.5)
    return int(np.searchsorted(depth, 2 * max(rayleigh, 1.0) ** -0.25))
