"""One coupled solution for temperature, vorticity and stream function: pseudo-time steps that end as Newton's."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy.sparse import block_array, csc_matrix, csr_matrix, diags_array

from sim.basics import IntArray
from sim.heat.convection import Convection, FlowLaw, Thickness
from sim.section.flow import FlowMesh
from sim.section.shapes import Array
from sim.solve.elimination import Elimination

# Pseudo-transient continuation (Kelley and Keyes 1998, SIAM J. Numer. Anal. 35, 508-523, from memory): steps of
# pseudo-time that lengthen into Newton's. The numbers below steer how many steps it takes and have no source; what
# comes out is decided by TOLERANCE alone, for a step of any length ends in the same steady balances.
TOLERANCE = 1e-7  # of each of the three balances, as a part of what it moves: far below the error of any mesh
MAX_STEPS = 150  # flows that settle take some tens
# pseudo-time of the first step, D2 / a0: heat has gone a tenth of its way across the bore by then
FIRST_STEP = 0.1
BOLD, TIMID = (
    0.25,
    0.6,
)  # changes of temperature, as a part of its span, below which steps grow, above which they are redone
GROWTH, SHRINK = (
    3.0,
    0.2,
)  # of a step: a few good ones reach Newton's, one that is redone is sure to be shorter
TRANSIENT = 0.01  # pseudo-time down to which a step that makes the balances worse is shortened


class NoSteadyFlow(RuntimeError):
    """No steady flow was reached; the message says how far it came."""


class Work:
    """What a search for a flow may cost, in cells times coupled steps, so that every machine ends it alike."""

    def __init__(self, most: float = np.inf) -> None:
        self.most, self.left = most, most

    @property
    def spent(self) -> bool:
        """Whether nothing is left."""
        return self.left <= 0

    def take(self, cells: int) -> None:
        """Pay for a step of so many moving cells. Raises NoSteadyFlow where nothing is left."""
        if self.spent:
            raise NoSteadyFlow(
                f"the search for it reached its work limit ({self.most:.2g} cells times steps)"
            )
        self.left -= cells


@dataclass(frozen=True)
class HeatBalance:
    """What conducts, at given node temperatures: residual (nodes,) W/m, matrix of -d residual / d T,
    sources (nodes, k) and gains (k, nodes) of heat that depends on temperature, scale W/m,
    rim (b, nodes) and rim_offset (b,): temperature of the flow's rim from the nodes'."""

    residual: Array
    matrix: csr_matrix
    sources: Array
    gains: Array
    scale: float
    rim: csr_matrix
    rim_offset: Array


class Heat(Protocol):
    """The conducting part of the problem, of which the flow's cells are some of the nodes."""

    @property
    def nodes(self) -> int:
        """How many."""
        ...

    @property
    def flow_node(self) -> IntArray:
        """Node of each cell of the flow, shape (cells,)."""
        ...

    def balance(self, temperature: Array) -> HeatBalance:
        """Evaluate at node temperatures (nodes,) K."""
        ...


@dataclass(frozen=True)
class Fluidity:
    """A fluid at work: law(T of cells) gives the FlowLaw; density and its slope at temperatures, kg/m3(/K);
    thickness and its slope: viscosity over that of reference, None where it is one value."""

    law: Callable[[Array], FlowLaw]
    density: Callable[[Array], Array]
    density_slope: Callable[[Array], Array]
    thickness: Callable[[Array], Array] | None = None
    thickness_slope: Callable[[Array], Array] | None = None


@dataclass(frozen=True)
class State:
    """temperature (nodes,) K; vorticity, psi (n,) in units of a0 / D2 and a0."""

    temperature: Array
    vorticity: Array
    psi: Array


@dataclass(frozen=True)
class Motion:
    """A steady flow: the state, the law it obeys, relative residuals (heat, vorticity, stream), steps."""

    state: State
    law: FlowLaw
    residual: tuple[float, float, float]
    steps: int


@dataclass(frozen=True)
class Frames:
    """A flow at some moments: second (k,), temperature (k, n) K, psi (k, n) in units of a0; swing (n,) K: 5th to 95th
    percentile of the temperature in time."""

    second: Array
    temperature: Array
    psi: Array
    swing: Array


@dataclass(frozen=True)
class Flow:
    """A flow and where it is: the cells that move, their steady or average motion, frames where it was followed."""

    mesh: FlowMesh
    motion: Motion
    frames: Frames | None = None


Residual = tuple[HeatBalance, FlowLaw, tuple[Array, Array, Array], tuple[float, float, float]]


class System:
    """Assembles and solves the coupled step; the order of elimination is found once."""

    def __init__(self, heat: Heat, convection: Convection, fluid: Fluidity) -> None:
        self.heat, self.convection, self.fluid = heat, convection, fluid
        n, nodes = convection.mesh.cells, heat.nodes
        self.pick = csr_matrix((np.ones(n), (np.arange(n), heat.flow_node)), (n, nodes))
        self.elimination = Elimination(nodes, heat.flow_node)

    def residual(self, state: State) -> Residual:
        """Heat balance, law, the three residuals and their relative sizes at a state."""
        t = self.pick @ state.temperature
        law = self.fluid.law(t)
        balance = self.heat.balance(state.temperature)
        carried = self.convection.heat(law, state.psi, t - t.mean())
        warm = balance.residual + self.pick.T @ carried
        rim = balance.rim @ state.temperature + balance.rim_offset
        middle = float(np.average(self.fluid.density(t), weights=self.convection.mesh.area))
        density, rim_density = self.fluid.density(t) - middle, self.fluid.density(rim) - middle
        thick = self._thick(t, rim)
        turn = self.convection.vorticity(law, state.psi, state.vorticity, (density, rim_density), thick)
        stream = self.convection.stream(state.psi, state.vorticity)
        swirl = float(np.abs(self.convection.mesh.area * state.vorticity).sum())
        sizes = (
            float(np.abs(warm).sum()) / balance.scale,
            float(np.abs(turn).sum()) / max(law.lift * float(np.ptp(density)), 1.0),
            float(np.abs(stream).sum()) / max(swirl, 1.0),
        )
        return balance, law, (warm, turn, stream), sizes

    def _thick(self, cells: Array, rim: Array) -> Thickness:
        law = self.fluid.thickness
        return None if law is None else (law(cells), law(rim))

    def jacobian(self, state: State, balance: HeatBalance, law: FlowLaw, pseudo_time: float) -> csc_matrix:
        """Derivatives of the three balances (heat over `law.carries`), less the storage of a step of pseudo-time."""
        conv = self.convection
        t = self.pick @ state.temperature
        by_t, by_psi = conv.heat_slopes(law, state.psi, t - t.mean())
        rim = balance.rim @ state.temperature + balance.rim_offset
        by_w, w_by_psi = conv.vorticity_slopes(law, state.psi, state.vorticity, self._thick(t, rim))
        w_by_t = -law.lift * (
            conv.weigh @ diags_array(self.fluid.density_slope(t)) @ self.pick
            + conv.weigh_rim @ diags_array(self.fluid.density_slope(rim)) @ balance.rim
        )
        if self.fluid.thickness_slope is not None:
            by_inner, by_rim = conv.thickness_slopes(state.psi, state.vorticity)
            w_by_t = w_by_t + by_inner @ diags_array(self.fluid.thickness_slope(t)) @ self.pick
            w_by_t = w_by_t + by_rim @ diags_array(self.fluid.thickness_slope(rim)) @ balance.rim
        store = conv.mesh.area / pseudo_time
        scale = 1.0 / law.carries
        storing = by_t - diags_array(law.carries * store)
        return block_array(
            [
                [
                    scale * (-balance.matrix + self.pick.T @ storing @ self.pick),
                    None,
                    scale * self.pick.T @ by_psi,
                ],
                [w_by_t, by_w - diags_array(store / law.prandtl), w_by_psi],
                [None, diags_array(conv.mesh.area), conv.laplace],
            ],
            format="csc",
        )

    def step(self, state: State, imbalance: Residual, pseudo_time: float) -> State:
        """One linearised step of pseudo-time (inf: Newton's)."""
        balance, law, (warm, turn, stream), _ = imbalance
        scale = 1.0 / law.carries
        solve = self.elimination.factor(self.jacobian(state, balance, law, pseudo_time))
        right = -np.concatenate([scale * warm, turn, stream])
        change = solve(right)
        nodes, n = self.heat.nodes, self.convection.mesh.cells
        if balance.gains.any():
            columns = np.zeros((len(right), balance.sources.shape[1]))
            columns[:nodes] = -scale * balance.sources
            response = np.stack([solve(c) for c in columns.T], axis=1)
            small = np.eye(response.shape[1]) - balance.gains @ response[:nodes]
            change = change + response @ np.linalg.solve(small, balance.gains @ change[:nodes])
        return State(
            state.temperature + change[:nodes],
            state.vorticity + change[nodes : nodes + n],
            state.psi + change[nodes + n :],
        )


def steady(
    heat: Heat,
    convection: Convection,
    fluid: Fluidity,
    start: State,
    *,
    pseudo_time: float = FIRST_STEP,
    work: Work | None = None,
    tolerance: float = TOLERANCE,
    most: int = MAX_STEPS,
) -> Motion:
    """Steady flow from a start, by steps of pseudo-time that lengthen into Newton's.

    pseudo_time: of the first step, in D2 / a0; work: what the steps are paid from.
    Raises NoSteadyFlow.
    """
    system = System(heat, convection, fluid)
    tau = pseudo_time
    state = start
    imbalance = system.residual(state)
    for step in range(most):
        sizes = imbalance[3]
        if max(sizes) < tolerance and step:
            return Motion(state, imbalance[1], sizes, step)
        if work is not None:
            work.take(convection.mesh.cells)
        new = system.step(state, imbalance, tau)
        t_old, t_new = system.pick @ state.temperature, system.pick @ new.temperature
        span = max(float(np.ptp(t_old)), float(np.ptp(t_new)) * 0.5, 1e-9)
        moved = float(np.abs(t_new - t_old).max()) / span
        swing = float(np.abs(new.psi - state.psi).max()) / max(float(np.abs(new.psi).max()), 3.0)
        moved = max(moved, 0.5 * swing)
        if moved > TIMID or not np.isfinite(moved):
            tau *= SHRINK
            continue
        fresh = system.residual(new)
        worse = max(fresh[3][:2]) / max(sizes[:2]) if step else 0.0
        if worse > 1.5 and tau > TRANSIENT:
            tau = max(tau * 0.1, TRANSIENT)
            continue
        if moved < BOLD:
            if worse < 0.3:
                tau *= 10 * GROWTH
            elif worse < 1.0 or tau < TRANSIENT:
                tau *= GROWTH
        tau = min(tau, 1e9)
        state, imbalance = new, fresh
    raise NoSteadyFlow(
        f"no steady flow was reached in {most} steps: heat and momentum were still out of balance, by "
        f"{100 * max(imbalance[3]):.3g} % of what moves in them"
    )
