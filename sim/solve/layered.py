"""The steady state around a support: inexact chord steps, each by conjugate gradients under algebraic multigrid."""

from __future__ import annotations

from dataclasses import dataclass, field
from time import perf_counter
from typing import Any

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.linalg import LinearOperator, gmres

from sim.heat.support import LayeredConductivity, SupportNetwork
from sim.section.mesh import IntArray
from sim.section.shapes import Array
from sim.solve.steady import NotConverged
from sim.solve.support_balance import LayeredBalance, layered_balance

TOLERANCE = 1e-7  # imbalance over all nodes, as a part of the heat that flows
MAX_STEPS = 40
STEP_ACCURACY = 0.05  # relative residual of one step's linear solve
SLOW = 0.5  # the multigrid is set up anew when a step shrinks the imbalance by less than this
BYTES_PER_NODE = 2500  # peak, measured on 50,000 to 500,000 cells: joints, matrix, multigrid, work arrays
MEMORY_LIMIT = 3e9  # bytes; the default of what a support may take


class TooLarge(ValueError):
    """The mesh would need more memory than is allowed; the message says how much and what to change."""


def memory_needed(nodes: int) -> float:
    """Estimate of the peak memory of one solve, bytes."""
    return float(BYTES_PER_NODE) * nodes


def refuse_too_large(nodes: int, limit: float) -> None:
    """Raise TooLarge if a solve of so many nodes would exceed the limit in bytes."""
    need = memory_needed(nodes)
    if need > limit:
        raise TooLarge(
            f"the field around the support needs about {need / 1e9:.2g} GB ({nodes:,} unknowns), more than the"
            f" {limit / 1e9:.2g} GB allowed; accepted: a coarser mesh (fineness), or a higher memory limit"
        )


@dataclass(frozen=True)
class LayeredSolution:
    """Node temperatures (nodes,) K of the half, its balance, imbalance (W, and as a part of the heat), steps."""

    network: SupportNetwork
    temperature: Array
    balance: LayeredBalance
    imbalance: float
    relative: float
    steps: int
    iterations: int


@dataclass
class Multigrid:
    """A multigrid hierarchy kept from one solve to the next, as long as it serves; seconds spent by part."""

    hierarchy: Any = None
    seconds: dict[str, float] = field(default_factory=lambda: {"setup": 0.0, "cycles": 0.0, "assembly": 0.0})

    def prepare(self, matrix: csr_matrix) -> None:
        import pyamg

        begin = perf_counter()
        # one sweep down and its mirror image up keep the cycle symmetric, as conjugate gradients need
        self.hierarchy = pyamg.ruge_stuben_solver(
            matrix,
            strength=("classical", {"theta": 0.25}),
            presmoother=("gauss_seidel", {"sweep": "forward"}),
            postsmoother=("gauss_seidel", {"sweep": "backward"}),
            max_coarse=100,
        )
        self.seconds["setup"] += perf_counter() - begin

    def _cycle(self, level: int, right: Array) -> Array:
        """One V-cycle from zero."""
        here = self.hierarchy.levels[level]
        if level == len(self.hierarchy.levels) - 1:
            coarsest: Array = self.hierarchy.coarse_solver(here.A, right)
            return coarsest
        x = np.zeros_like(right)
        here.presmoother(here.A, x, right)
        x += here.P @ self._cycle(level + 1, here.R @ (right - here.A @ x))
        here.postsmoother(here.A, x, right)
        return x

    def solve_coupled(self, matrix: csr_matrix, right: Array, relative: float) -> tuple[Array, int]:
        """As `solve` for a matrix that is not symmetric, near the one prepared: GMRES under the same cycle."""
        begin = perf_counter()
        count = 0

        def told(_: float) -> None:
            nonlocal count
            count += 1

        cycle = LinearOperator(matrix.shape, matvec=lambda rest: self._cycle(0, rest), dtype=float)
        x, _ = gmres(
            matrix,
            right,
            rtol=relative,
            restart=30,
            maxiter=4,
            M=cycle,
            callback=told,
            callback_type="pr_norm",
        )
        self.seconds["cycles"] += perf_counter() - begin
        return x, count

    def solve(self, matrix: csr_matrix, right: Array, relative: float) -> tuple[Array, int]:
        """Conjugate gradients, preconditioned by one V-cycle, to a relative residual; solution and iterations."""
        begin = perf_counter()
        x = np.zeros_like(right)
        rest = right.copy()
        target = relative * float(np.linalg.norm(right))
        direction, before, count = np.zeros_like(right), 1.0, 0
        while float(np.linalg.norm(rest)) > target and count < 200:
            better = self._cycle(0, rest)
            product = float(rest @ better)
            direction = better + (product / before) * direction if count else better
            image = matrix @ direction
            step = product / float(direction @ image)
            x += step * direction
            rest -= step * image
            before, count = product, count + 1
        self.seconds["cycles"] += perf_counter() - begin
        return x, count


def residual(network: SupportNetwork, balance: LayeredBalance, temperature: Array) -> Array:
    """Heat arriving at each node less heat leaving it, W, shape (nodes,)."""
    n = network.nodes
    flow = balance.conductance * (temperature[balance.a] - temperature[balance.b])
    out = balance.to_conductance * (temperature[balance.to_node] - balance.to_temperature)
    return (
        np.bincount(balance.b, flow, n)
        - np.bincount(balance.a, flow, n)
        - np.bincount(balance.to_node, out, n)
        + balance.source
    )


def joint_matrix(nodes: int, a: IntArray, b: IntArray, conductance: Array, diagonal: Array) -> csr_matrix:
    """Symmetric matrix of joints (a, b, conductance), W/K, with `diagonal` (nodes,) added."""
    diagonal = diagonal + np.bincount(a, conductance, nodes) + np.bincount(b, conductance, nodes)
    every = np.arange(nodes)
    rows = np.concatenate([a, b, every])
    cols = np.concatenate([b, a, every])
    data = np.concatenate([-conductance, -conductance, diagonal])
    matrix = coo_matrix((data, (rows.astype(np.int32), cols.astype(np.int32))), shape=(nodes, nodes)).tocsr()
    matrix.eliminate_zeros()
    return matrix


def step_matrix(network: SupportNetwork, balance: LayeredBalance) -> csr_matrix:
    outside = balance.to_conductance.copy()
    outside[: balance.slope.size] = balance.slope.ravel()
    diagonal = balance.source_slope + np.bincount(balance.to_node, outside, network.nodes)
    return joint_matrix(network.nodes, balance.a, balance.b, balance.conductance, diagonal)


def _self_regulating(network: SupportNetwork, balance: LayeredBalance) -> csr_matrix | None:
    """What the output's dependence on the wall adds to the matrix, less the diagonal that stands in for it there.

    None if no output falls or rises with the wall.
    """
    if not balance.steep.any():
        return None
    plan, count = network.plan, network.layers.count
    base = np.arange(count) * plan.nodes
    rows, cols, data = [], [], []
    for t, steep in enumerate(balance.steep):
        feet = np.flatnonzero(plan.beneath[t])
        for share, long in (
            (plan.heat_share[t], network.layers.thickness),
            (network.extra_share[t], network.extra[t]),
        ):
            heads = np.flatnonzero(share)
            block = np.outer(share[heads], plan.beneath[t, feet]).ravel()
            rows.append(base[:, None] + np.repeat(heads, len(feet)))
            cols.append(base[:, None] + np.tile(feet, len(heads)))
            data.append(-(steep * long)[:, None] * block)
    every = np.flatnonzero(balance.source_slope)
    flat = [np.concatenate([p.ravel() for p in parts]) for parts in (rows, cols, data)]
    flat = [
        np.concatenate([f, extra])
        for f, extra in zip(flat, (every, every, -balance.source_slope[every]), strict=True)
    ]
    return coo_matrix((flat[2], (flat[0], flat[1])), shape=(network.nodes, network.nodes)).tocsr()


def solve_layered(
    network: SupportNetwork,
    start: Array,
    multigrid: Multigrid | None = None,
    tolerance: float = TOLERANCE,
) -> LayeredSolution:
    """Solve a layered network. start: (nodes,) K.

    Laws are taken at the last temperatures; each step solves for the change to the accuracy the next one needs.
    Raises NotConverged.
    """
    law = LayeredConductivity(network)
    grid = multigrid or Multigrid()
    temperature = start.copy()
    matrix: csr_matrix | None = None
    before, iterations, imbalance, scale = np.inf, 0, np.inf, 1.0
    for step in range(MAX_STEPS):
        begin = perf_counter()
        balance = layered_balance(network, temperature, law)
        left = residual(network, balance, temperature)
        imbalance = float(np.abs(left).sum())
        exchanged = balance.to_conductance * (temperature[balance.to_node] - balance.to_temperature)
        scale = max(float(balance.source.sum()), float(np.abs(exchanged).sum()) / 2, 1e-6)
        rounding = 2.2e-16 * float(balance.conductance @ np.abs(temperature[balance.a]))
        grid.seconds["assembly"] += perf_counter() - begin
        if imbalance <= max(tolerance * scale, rounding):
            return LayeredSolution(
                network, temperature, balance, imbalance, imbalance / scale, step, iterations
            )
        if not np.isfinite(imbalance):
            break
        if matrix is None or imbalance > SLOW * before:
            begin = perf_counter()
            matrix = step_matrix(network, balance)
            grid.seconds["assembly"] += perf_counter() - begin
            if grid.hierarchy is None or grid.hierarchy.levels[0].A.shape != matrix.shape or step > 0:
                grid.prepare(matrix)
        needed = 0.3 * tolerance * scale / imbalance
        coupled = _self_regulating(network, balance)
        if coupled is None:
            change, count = grid.solve(matrix, left, max(needed, STEP_ACCURACY))
        else:
            change, count = grid.solve_coupled(matrix + coupled, left, max(needed, STEP_ACCURACY))
        iterations += count
        limit = 0.3 * float(temperature.min())
        temperature = temperature + change * min(1.0, limit / max(float(np.abs(change).max()), 1e-30))
        before = imbalance
    raise NotConverged(
        f"the heat balance around the support did not settle: {imbalance:.3g} W left after {MAX_STEPS} steps"
        f" ({imbalance / scale:.1e} of the heat)"
    )
