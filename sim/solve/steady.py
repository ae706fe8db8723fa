"""The steady state of a network: a chord iteration on its heat balance, residual in watts."""

from dataclasses import dataclass
from time import perf_counter
from typing import Protocol

import numpy as np

from sim.heat.network import Network
from sim.section.shapes import Array
from sim.solve.balance import Balance, NotConverged, cell_temperature, evaluate, residual
from sim.solve.direct import EPSILON, Direct
from sim.solve.motion import Flow
from sim.solve.multigrid import Multigrid

__all__ = ["NO_HEAT", "NotConverged", "Solution", "Solver", "cell_temperature", "solve"]
NO_HEAT = 1e-3  # W/m: less than this counts as none where an imbalance is set beside the heat that flows
MAX_STEPS = 60
MOST_ROUNDING = 1e-6  # of the heat that flows: what rounding may leave of a balance that counts as met
# K over the ambient from which an iteration starts, where the contents' temperature is not given
FIRST_RISE = 20.0
BOLDEST = 0.3  # a step's largest change, as a part of the lowest temperature, K over K


class Solver(Protocol):
    """A linear solver of the chord's steps.

    tolerance: imbalance over all nodes, as a part of the heat that flows, to which it can solve; slow: it is prepared
    anew when a step shrinks the imbalance by less than this; seconds: by part.
    """

    @property
    def tolerance(self) -> float: ...
    @property
    def slow(self) -> float: ...
    @property
    def seconds(self) -> dict[str, float]: ...

    def prepare(self, network: Network, balance: Balance, anew: bool) -> None:
        """Take the matrix at a balance; anew: what was kept of an earlier one no longer serves."""
        ...

    def change(
        self, network: Network, balance: Balance, temperature: Array, left: Array, accuracy: float
    ) -> tuple[Array, int]:
        """The step (nodes,) K that makes up for `left` (nodes,) to a relative accuracy at least, and iterations."""
        ...


@dataclass(frozen=True)
class Solution:
    """Node temperatures (nodes,) K, the balance there, the imbalance (W; of a section W/m) and as a part of the heat,
    steps, iterations of the linear solver in all of them.

    flow: the contents' motion, where they move.
    """

    network: Network
    temperature: Array
    balance: Balance
    imbalance: float
    relative: float
    steps: int
    iterations: int = 0
    flow: Flow | None = None

    def __repr__(self) -> str:
        return (
            f"<solution at {len(self.temperature)} nodes, K, {self.relative:.1g} of the heat out of balance>"
        )

    @property
    def conductivity(self) -> Array:
        """Of the cells of all layers, W/m/K."""
        return self.balance.conductivity


def solve(network: Network, start: Array | None = None, solver: Solver | None = None) -> Solution:
    """Solve a network to its solver's tolerance: `Direct` for a section, `Multigrid` for layers.

    start: node temperatures to begin from, K. Conductivities, films and radiation are taken at the last temperatures;
    the matrix is kept while it serves. Raises NotConverged.
    """
    if solver is None:
        solver = Direct() if network.section is None else Multigrid()
    case, law = network.case, network.law()
    ambient, length = case.conditions[0].ambient, float(network.layers.thickness.sum())
    given = case.contents.temperature if case.contents.state == "flowing" else None
    first = FIRST_RISE if given is None else given - ambient
    rise = np.full(network.nodes, first) if start is None else start - ambient
    before, iterations = np.inf, 0
    for step in range(MAX_STEPS):
        begin = perf_counter()
        temperature = ambient + rise
        balance = evaluate(network, temperature, law)
        left = residual(network, balance, rise, ambient)
        imbalance = float(np.abs(left).sum())
        exchanged = float(np.abs(balance.leaving(temperature)).sum()) / 2
        scale = max(float(balance.source.sum()), exchanged, NO_HEAT * length)
        rounding = EPSILON * float(balance.conductance @ np.abs(rise[balance.a]))
        solver.seconds["assembly"] += perf_counter() - begin
        if imbalance <= max(solver.tolerance * scale, min(rounding, MOST_ROUNDING * scale)):
            return Solution(network, temperature, balance, imbalance, imbalance / scale, step, iterations)
        if not np.isfinite(imbalance):
            break
        if step == 0 or imbalance > solver.slow * before:
            solver.prepare(network, balance, anew=step > 0)
        accuracy = 0.3 * solver.tolerance * scale / imbalance
        change, count = solver.change(network, balance, temperature, left, accuracy)
        limit = BOLDEST * float(temperature.min())
        rise = rise + change * min(1.0, limit / max(float(np.abs(change).max()), 1e-30))
        before, iterations = imbalance, iterations + count
    where, unit = ("", "W/m") if network.section is None else (" around the support", "W")
    raise NotConverged(
        f"the heat balance{where} did not settle: {imbalance:.3g} {unit} left after {MAX_STEPS} steps "
        f"({imbalance / scale:.1e} of the heat)"
    )
