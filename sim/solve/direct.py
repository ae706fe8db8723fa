"""The linear solver of a section: sparse LU, with self-regulating outputs met exactly in every step."""

from collections.abc import Callable
from dataclasses import dataclass, field
from time import perf_counter
from typing import ClassVar

import numpy as np
from scipy.sparse import csc_matrix, csr_matrix
from scipy.sparse.linalg import SuperLU, splu

from sim.case import Case
from sim.heat.network import Network
from sim.heat.tracer import tracer_slope, tracer_watts
from sim.section.mesh import IntArray
from sim.section.shapes import Array
from sim.solve.balance import Balance, NotConverged, step_matrix

TOLERANCE = 1e-9  # imbalance over all nodes, as a part of the heat that flows
SLOW = 0.25  # the matrix is factored anew when a step shrinks the imbalance by less than this
MOST_NEWTON = 60  # steps towards self-regulating outputs
SHORTEST = 1e-4  # part of such a step below which it is given up
EPSILON = float(np.finfo(float).eps)


def factor(matrix: csr_matrix, ordering: str = "MMD_AT_PLUS_A") -> SuperLU:
    """Factor a symmetric matrix. Raises NotConverged if it is singular."""
    try:
        # columns one by one: on plane meshes the panels of SuperLU's default cost twice the time
        return splu(
            matrix.T,  # the same, by columns
            permc_spec=ordering,
            diag_pivot_thresh=0.0,
            relax=1,
            panel_size=1,
            options={"SymmetricMode": True},
        )
    except RuntimeError as error:
        raise NotConverged(f"the heat balance has no unique solution ({error})") from error


class JointMatrices:
    """Matrices of joints between nodes a and b (k,), whose pattern and order of elimination are found once.

    from_a, from_b (k,) W/K: by how much the heat that leaves a for b rises with the temperature of a, and that which
    leaves b for a with that of b; own (nodes,) W/K: the diagonal.
    """

    def __init__(self, nodes: int, a: IntArray, b: IntArray) -> None:
        self.nodes, self.a, self.b = nodes, a, b
        self.place: IntArray | None = None  # of each node in the order of elimination
        self._lay(np.arange(nodes))

    def _lay(self, place: IntArray) -> None:
        a, b = place[self.a].astype(np.int64), place[self.b].astype(np.int64)
        key = np.concatenate([a * self.nodes + b, b * self.nodes + a, place * (self.nodes + 1)])
        found, self.slot = np.unique(key, return_inverse=True)
        column, row = np.divmod(found, self.nodes)
        self.row = row.astype(np.int32)
        self.begin = np.searchsorted(column, np.arange(self.nodes + 1)).astype(np.int32)

    def own(self, from_a: Array, from_b: Array, beyond: Array) -> Array:
        """The diagonal (nodes,), with what goes elsewhere: `beyond` (nodes,)."""
        every: Array = (
            beyond + np.bincount(self.a, from_a, self.nodes) + np.bincount(self.b, from_b, self.nodes)
        )
        return every

    def matrix(self, from_a: Array, from_b: Array, own: Array) -> csc_matrix:
        """The matrix, in the order of elimination where that has been found."""
        value = np.bincount(self.slot, np.concatenate([-from_a, -from_b, own]), len(self.row))
        matrix = csc_matrix((value, self.row, self.begin), shape=(self.nodes, self.nodes))
        matrix.has_canonical_format = True
        return matrix

    def factor(self, from_a: Array, from_b: Array, own: Array) -> Callable[[Array], Array]:
        """A function that solves with the matrix, symmetric or nearly so; right sides (n,) or (n, m)."""
        if self.place is None:
            self.place = factor(self.matrix(from_a, from_b, own).T).perm_c
            self._lay(self.place)
        place, again = self.place, factor(self.matrix(from_a, from_b, own).T, "NATURAL")

        def solve(right: Array) -> Array:
            laid = np.empty(right.shape)
            laid[place] = right
            answer: Array = again.solve(laid)[place]
            return answer

        return solve


@dataclass
class Direct:
    """A factor kept from step to step, and what a unit of each tracer's heat does; seconds spent by part."""

    tolerance: ClassVar[float] = TOLERANCE
    slow: ClassVar[float] = SLOW
    factor: SuperLU | None = None
    response: Array | None = None
    seconds: dict[str, float] = field(default_factory=lambda: {"setup": 0.0, "cycles": 0.0, "assembly": 0.0})

    def prepare(self, network: Network, balance: Balance, anew: bool) -> None:
        """Factor the matrix of the joints."""
        begin = perf_counter()
        self.factor = factor(step_matrix(network, balance))
        tracers = len(network.case.tracers)
        self.response = self.factor.solve(network.heat_share.T) if tracers else np.zeros((network.nodes, 0))
        self.seconds["setup"] += perf_counter() - begin

    def change(
        self, network: Network, balance: Balance, temperature: Array, left: Array, accuracy: float
    ) -> tuple[Array, int]:
        """The step (nodes,) K that makes up for `left`, W/m, with the outputs that it brings about."""
        assert self.factor is not None
        assert self.response is not None
        change = self.factor.solve(left)
        if any(t.output.kind == "table" for t in network.case.tracers):
            wall, answer = network.beneath @ temperature, network.beneath @ self.response
            unchanged = wall + network.beneath @ change
            change = change + self.response @ _regulated(network.case, wall, unchanged, answer, balance.watts)
        return change, 1


def _regulated(case: Case, wall: Array, unchanged: Array, answer: Array, heat: Array) -> Array:
    """Change of the outputs to those at the wall temperatures they bring about, W/m, shape (tracers,).

    wall: temperatures beneath the tracers to start from, unchanged: those after the step if the outputs stay at
    `heat`, K; answer (tracers, tracers): what a change of the outputs adds, K per W/m. Newton with halved steps: at
    the kinks of a table a whole step may jump to and fro for ever.
    """
    condition = case.conditions[0]

    def watts(w: Array) -> Array:
        return np.array([float(tracer_watts(t, condition, x)) for t, x in zip(case.tracers, w, strict=True)])

    def excess(w: Array) -> Array:
        return w - unchanged - answer @ (watts(w) - heat)

    left = excess(wall)
    for _ in range(MOST_NEWTON):
        slope = [float(tracer_slope(t, condition, x)) for t, x in zip(case.tracers, wall, strict=True)]
        step = np.linalg.solve(np.eye(len(wall)) - answer * np.array(slope), -left)
        part = 1.0
        trial = excess(wall + step)
        while np.abs(trial).max() > (1 - 0.1 * part) * np.abs(left).max() and part > SHORTEST:
            part *= 0.5
            trial = excess(wall + part * step)
        wall, left = wall + part * step, trial
        if np.abs(left).max() <= 4 * EPSILON * np.abs(wall).max() or part <= SHORTEST:
            break
    return watts(wall) - heat
