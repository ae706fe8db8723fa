"""Moving contents followed in time: the cells and the operator of the steady flow, each step linear.

Second-order backward differences for what conducts and rubs, with one matrix for all steps of a length; what the flow
carries is extrapolated from the two steps before (SBDF2: Ascher, Ruuth and Wetton, SIAM J. Numer. Anal. 32 (1995)
797-823). The network's heat balance, its films and conductivities are linear about a field of reference that is set
anew now and then. Contents, wall and tracers store heat. Insulation and sheets follow without delay: what they store
does not change a long average, and their day-long memory would only delay it.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.sparse import block_array, csc_matrix, csr_matrix, diags_array
from scipy.sparse.linalg import splu

from sim.basics import IntArray
from sim.heat.convection import Convection
from sim.heat.network import Network
from sim.heat.plan_storage import line_store
from sim.section.shapes import Array
from sim.solve.direct import factor
from sim.solve.elimination import SYMMETRIC
from sim.solve.motion import Fluidity, Heat, State

Solve = Callable[[Array], Array]
COURANT = 0.5  # part of a cell that may flow through it in a step, less what diffusion makes good
FIRST_COURANT = 1e-3  # step from rest, D2 / a0 over the square of the smallest cell
FASTER, SLOWER = 1.5, 0.3  # most by which a step's length changes at once


def capacity(network: Network, temperature: Array, flow_node: IntArray, stored: Array) -> Array:
    """Heat stored per kelvin at each node (nodes,) J/m/K: of wall and tracers their own, of the flow's cells `stored`
    (n,), of insulation and sheets none."""
    store = line_store(network)
    by_node = store.capacity(store.enthalpy(temperature), temperature)
    kind, node = network.mesh.kind, network.cell_node
    stores = np.zeros(network.nodes, bool)
    stores[node[np.isin(kind, ["wall", "tracer"]) & (node >= 0)]] = True
    by_node = np.where(stores, by_node, 0.0)
    by_node[flow_node] = stored
    return by_node


def elimination_order(laplace: csr_matrix) -> IntArray:
    """Pairs of unknowns (vorticity, stream function) of the cells in the order of their elimination, (2 n,)."""
    graph = csc_matrix(diags_array(np.ones(laplace.shape[0])) - laplace)
    order = np.argsort(splu(graph, permc_spec="MMD_AT_PLUS_A", **SYMMETRIC).perm_c)
    pairs: IntArray = np.stack([order, order + len(order)], axis=1).ravel()
    return pairs


@dataclass(frozen=True)
class Linear:
    """Solvers of a step of one length; what a unit of each tracer's heat does: response (nodes, k), small (k, k)."""

    heat: Solve
    motion: Solve
    response: Array
    small: Array


class Following:
    """A flow on its way. length: of its steps, D2 / a0; time passed, likewise; stored (nodes,): heat stored per kelvin
    over D2 / a0, W/m/K."""

    def __init__(
        self,
        heat: Heat,
        convection: Convection,
        fluid: Fluidity,
        stored: Array,
        state: State,
        courant: float = COURANT,
    ) -> None:
        self.heat, self.convection, self.fluid, self.stored = heat, convection, fluid, stored
        self.courant_wanted = courant
        self.order = elimination_order(convection.laplace)
        self.state = self.before = state
        self.carried: tuple[Array, Array] | None = None
        self.time, self.steps = 0.0, 0
        self.length = FIRST_COURANT * float(convection.mesh.area.min())
        self.refer(state.temperature)

    def refer(self, temperature: Array) -> None:
        """Take heat balance, fluid and viscosity as linear about node temperatures; factor for the step's length."""
        conv, n = self.convection, self.convection.mesh.cells
        self.referred = temperature
        self.balance = self.heat.balance(temperature)
        cells = temperature[self.heat.flow_node]
        self.law = self.fluid.law(cells)
        thick = self.fluid.thickness
        viscosity = None if thick is None else (thick(cells), thick(self.rim(temperature)))
        matrix, gains = self.balance.matrix, self.balance.gains
        self.offset = (
            self.balance.residual + matrix @ temperature - self.balance.sources @ (gains @ temperature)
        )
        now = (1.5 if self.steps else 1.0) / self.length  # the first step is of first order
        warm = factor(csr_matrix(matrix + diags_array(now * self.stored)))
        rest = np.zeros(n)
        by_w, by_psi = conv.vorticity_slopes(self.law, rest, rest, viscosity)
        store = diags_array(now / self.law.prandtl * conv.mesh.area)
        turning = block_array(
            [[store - by_w, -by_psi], [diags_array(conv.mesh.area), conv.laplace]], format="csc"
        )
        order, place = self.order, np.argsort(self.order)
        lu = splu(csc_matrix(turning[order][:, order]), permc_spec="NATURAL", **SYMMETRIC)

        def turn(right: Array) -> Array:
            change: Array = lu.solve(right[order])[place]
            return change

        response = warm.solve(self.balance.sources)
        self.linear = Linear(warm.solve, turn, response, np.eye(response.shape[1]) - gains @ response)

    def rim(self, temperature: Array) -> Array:
        """Temperature of the flow's rim, (b,) K."""
        rim: Array = self.balance.rim @ temperature + self.balance.rim_offset
        return rim

    def courant(self) -> float:
        """Largest part of a cell that flows through it in a step, less what diffusion in that step makes good."""
        mesh = self.convection.mesh
        flow, face = np.abs(mesh.flow @ self.state.psi), mesh.face.ravel()
        through = 0.5 * np.bincount(face, np.repeat(flow, 2), mesh.cells) / mesh.area
        spread = np.bincount(face, np.repeat(mesh.shape, 2), mesh.cells) / mesh.area
        return float((through * self.length / (1.0 + spread * self.length)).max())

    def fit_step(self) -> bool:
        """Change the step's length where the flow asks for it; whether it did. The step before is taken as linear."""
        there = self.courant()
        if 0.5 * self.courant_wanted < there < 1.1 * self.courant_wanted:
            return False
        ratio = min(max(0.85 * self.courant_wanted / max(there, 1e-12), SLOWER), FASTER)
        self.length *= ratio
        new, old = self.state, self.before
        self.before = State(
            *(
                a - ratio * (a - b)
                for a, b in (
                    (new.temperature, old.temperature),
                    (new.vorticity, old.vorticity),
                    (new.psi, old.psi),
                )
            )
        )
        if self.carried is not None:
            there_now = self.what_flow_carries()
            heat, turning = (n - ratio * (n - o) for n, o in zip(there_now, self.carried, strict=True))
            self.carried = (heat, turning)
        self.refer(new.temperature)
        return True

    def shift(self, change: Array) -> None:
        """Move all temperatures, now and a step before, by (nodes,) K."""
        new, old = self.state, self.before
        self.state = State(new.temperature + change, new.vorticity, new.psi)
        self.before = State(old.temperature + change, old.vorticity, old.psi)
        self.refer(self.state.temperature)

    def what_flow_carries(self) -> tuple[Array, Array]:
        """Heat (n,) W/m and vorticity (n,) carried into each cell."""
        conv, state = self.convection, self.state
        flow = conv.mesh.flow @ state.psi
        t = state.temperature[self.heat.flow_node]
        heat = self.law.carries * (conv.gather @ (flow * (conv.mean @ (t - t.mean()))))
        return heat, conv.gather @ (flow * (conv.mean @ state.vorticity)) / self.law.prandtl

    def step(self) -> None:
        """One step."""
        conv, n, now, old = self.convection, self.convection.mesh.cells, self.state, self.before
        carried = self.what_flow_carries()
        heat, turning = (2 * a - b for a, b in zip(carried, self.carried or carried, strict=True))
        a, b = (2.0, 0.5) if self.steps else (1.0, 0.0)
        right = self.offset + self.stored / self.length * (a * now.temperature - b * old.temperature)
        right[self.heat.flow_node] += heat
        linear, gains = self.linear, self.balance.gains
        warm = linear.heat(right)
        if gains.any():
            warm = warm + linear.response @ np.linalg.solve(linear.small, gains @ warm)
        cells, area = warm[self.heat.flow_node], conv.mesh.area
        density = self.fluid.density(cells)
        middle = float(np.average(density, weights=area))
        weight = conv.weigh @ (density - middle)
        weight = weight + conv.weigh_rim @ (self.fluid.density(self.rim(warm)) - middle)
        past = (a * now.vorticity - b * old.vorticity) * area / (self.law.prandtl * self.length)
        moved = linear.motion(np.concatenate([past + turning - self.law.lift * weight, np.zeros(n)]))
        self.before, self.carried = now, carried
        self.state = State(warm, moved[:n], moved[n:])
        self.time += self.length
        self.steps += 1
        if self.steps == 1:
            self.refer(warm)
