"""The linear solver of a network in layers: conjugate gradients under algebraic multigrid."""

from dataclasses import dataclass, field
from time import perf_counter
from typing import Any, ClassVar

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix, diags_array
from scipy.sparse.linalg import LinearOperator, cg, gmres

from sim.heat.network import Network
from sim.section.shapes import Array
from sim.solve.balance import Balance, step_matrix

TOLERANCE = 1e-7  # imbalance over all nodes, as a part of the heat that flows
STEP_ACCURACY = 0.05  # relative residual of one step's linear solve
SLOW = 0.5  # the multigrid is set up anew when a step shrinks the imbalance by less than this
BYTES_PER_NODE = 2500  # peak, measured on 50,000 to 500,000 cells: joints, matrix, multigrid, work arrays
# the same for a fitting's cells in space (3,450 to 4,000 measured), whose geometry is kept too
BYTES_IN_SPACE = 4000
MOST_ITERATIONS = 200  # of one solve by conjugate gradients
STRONG = 0.25  # of a row's largest coupling: what is as strong
RESTART, MOST_RESTARTS = 30, 4  # of GMRES
MEMORY_LIMIT = 3e9  # bytes; the default of what a support may take


class TooLarge(ValueError):
    """The mesh would need more memory than is allowed; the message says how much and what to change."""


def memory_needed(nodes: int, in_space: bool = False) -> float:
    """Estimate of the peak memory of one solve, bytes. in_space: of a fitting's cells, not of a plan's in layers."""
    return float(BYTES_IN_SPACE if in_space else BYTES_PER_NODE) * nodes


def refuse_too_large(nodes: int, limit: float, name: str = "the support", in_space: bool = False) -> None:
    """Raise TooLarge if a solve of so many nodes would exceed the limit in bytes."""
    need = memory_needed(nodes, in_space)
    if need > limit:
        raise TooLarge(
            f"the field around {name} needs about {need / 1e9:.2g} GB ({nodes:,} unknowns), more than the"
            f" {limit / 1e9:.2g} GB allowed; accepted: a coarser mesh (--fineness), or a higher limit (--memory)"
        )


@dataclass
class Multigrid:
    """A multigrid hierarchy kept from one solve to the next, as long as it serves; seconds spent by part."""

    tolerance: ClassVar[float] = TOLERANCE
    slow: ClassVar[float] = SLOW
    matrix: csr_matrix | None = None
    hierarchy: Any = None
    seconds: dict[str, float] = field(default_factory=lambda: {"setup": 0.0, "cycles": 0.0, "assembly": 0.0})

    def prepare(self, network: Network, balance: Balance, anew: bool) -> None:
        """Take the matrix at a balance, and the hierarchy where there is none that fits."""
        begin = perf_counter()
        self.matrix = step_matrix(network, balance)
        self.seconds["assembly"] += perf_counter() - begin
        if anew or self.hierarchy is None or self.hierarchy.levels[0].A.shape != self.matrix.shape:
            self.set_up(self.matrix if not balance.steep.any() else self.matrix + _falling(network, balance))

    def change(
        self, network: Network, balance: Balance, temperature: Array, left: Array, accuracy: float
    ) -> tuple[Array, int]:
        """The step (nodes,) K that makes up for `left`, W, to the accuracy that the next one needs, and iterations."""
        assert self.matrix is not None
        needed = max(accuracy, STEP_ACCURACY)
        if not balance.steep.any():
            return self.solve(self.matrix, left, needed)
        return self.solve_coupled(self.matrix + _following(network, balance), left, needed)

    def set_up(self, matrix: csr_matrix) -> None:
        """Build the hierarchy of a symmetric matrix."""
        import pyamg

        begin = perf_counter()
        # One sweep down and its mirror image up keep the cycle symmetric, as conjugate gradients need. Without
        # the second pass of Ruge and Stuben strongly joined fine nodes may share no coarse one: around voids and
        # part-filled bores that took 30 to 150 iterations where 5 do (the setup is twice as dear).
        self.hierarchy = pyamg.ruge_stuben_solver(
            matrix,
            strength=("classical", {"theta": STRONG}),
            CF=("RS", {"second_pass": True}),
            presmoother=("gauss_seidel", {"sweep": "forward"}),
            postsmoother=("gauss_seidel", {"sweep": "backward"}),
            max_coarse=100,
        )
        self.seconds["setup"] += perf_counter() - begin

    def solve(self, matrix: csr_matrix, right: Array, relative: float) -> tuple[Array, int]:
        """Conjugate gradients, preconditioned by one V-cycle, to a relative residual; solution and iterations."""
        begin, counted = perf_counter(), _Count()
        x, _ = cg(matrix, right, rtol=relative, maxiter=MOST_ITERATIONS, M=self.cycle(), callback=counted)
        self.seconds["cycles"] += perf_counter() - begin
        return x, counted.times

    def solve_coupled(self, matrix: csr_matrix, right: Array, relative: float) -> tuple[Array, int]:
        """As `solve` for a matrix that is not symmetric, near the one set up: GMRES under the same cycle."""
        begin, counted = perf_counter(), _Count()
        x, _ = gmres(
            matrix,
            right,
            rtol=relative,
            restart=RESTART,
            maxiter=MOST_RESTARTS,
            M=self.cycle(),
            callback=counted,
            callback_type="pr_norm",
        )
        self.seconds["cycles"] += perf_counter() - begin
        return x, counted.times

    def cycle(self) -> LinearOperator:
        """One V-cycle from zero."""
        return self.hierarchy.aspreconditioner(cycle="V")


@dataclass
class _Count:
    times: int = 0

    def __call__(self, _: Any) -> None:
        self.times += 1


def _falling(network: Network, balance: Balance) -> csr_matrix:
    """What stands in on the diagonal for outputs that fall with the wall, so that the matrix stays symmetric."""
    falling = np.maximum(-balance.steep, 0.0) * balance.laid
    steep = (falling.T @ network.beneath).ravel()
    return diags_array(np.concatenate([steep, np.zeros(network.nodes - len(steep))]), format="csr")


def _following(network: Network, balance: Balance) -> csr_matrix:
    """What the outputs' dependence on the wall adds to the matrix of the joints."""
    tracing, thickness = network.tracing, network.layers.thickness
    base = np.arange(network.layers.count) * network.plan.nodes
    rows, cols, data = [], [], []
    for t, steep in enumerate(balance.steep):
        feet = np.flatnonzero(tracing.beneath[t])
        laid = [(tracing.heat_share[t], thickness)]
        if tracing.loop is None:
            laid.append((tracing.extra_share[t], tracing.extra[t]))
        else:
            loop = tracing.loop.tocoo()
            strength = -steep[loop.row] * tracing.extra[t][loop.row] * loop.data
            rows.append(np.repeat(loop.col, len(feet)))
            cols.append((base[loop.row][:, None] + feet).ravel())
            data.append(np.outer(strength, tracing.beneath[t, feet]).ravel())
        for share, long in laid:
            heads = np.flatnonzero(share)
            rows.append(base[:, None] + np.repeat(heads, len(feet)))
            cols.append(base[:, None] + np.tile(feet, len(heads)))
            data.append(-(steep * long)[:, None] * np.outer(share[heads], tracing.beneath[t, feet]).ravel())
    row, col, value = (np.concatenate([p.ravel() for p in parts]) for parts in (rows, cols, data))
    return coo_matrix((value, (row, col)), shape=(network.nodes, network.nodes)).tocsr()
