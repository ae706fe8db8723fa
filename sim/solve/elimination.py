"""Direct solution of the coupled step: cells are eliminated whole, in an order found once on their graph."""

from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.sparse import csc_matrix, csr_matrix, diags_array
from scipy.sparse.linalg import splu

from sim.basics import IntArray
from sim.section.shapes import Array

FINE = 1e-13  # residual at which refinement stops, as a part of the right side's largest; the balances' sizes differ
REFINED = 1e-9  # residual with which it may end where it comes no further
REFINEMENTS = 8
# no pivoting, and columns one by one: on plane meshes SuperLU's panels cost more than they save
SYMMETRIC: dict[str, Any] = {
    "diag_pivot_thresh": 0.0,
    "relax": 1,
    "panel_size": 1,
    "options": {"SymmetricMode": True},
}


class Elimination:
    """Solves steps whose unknowns are (temperature (nodes,), vorticity (n,), stream function (n,)).

    Without pivoting the blocks of a cell fill in three times less than by column order; the rounding this leaves is
    removed by refinement, and where that does not settle, the step is factored by column order with pivoting.
    """

    def __init__(self, nodes: int, flow_node: IntArray) -> None:
        self.nodes, self.flow_node = nodes, flow_node
        self.order: IntArray | None = None

    def _ordered(self, matrix: csc_matrix) -> IntArray:
        nodes, n = self.nodes, len(self.flow_node)
        owner = np.concatenate([np.arange(nodes), self.flow_node, self.flow_node])
        gather = csr_matrix((np.ones(len(owner)), (owner, np.arange(len(owner)))))
        pattern = csc_matrix((np.ones(matrix.nnz), matrix.indices, matrix.indptr), matrix.shape)
        graph = gather @ pattern @ gather.T
        graph = csc_matrix(graph + graph.T)
        graph.data[:] = -1.0
        graph = csc_matrix(graph + diags_array(2.0 - np.asarray(graph.sum(axis=0)).ravel()))
        first = splu(graph, permc_spec="MMD_AT_PLUS_A", **SYMMETRIC)
        order = np.argsort(first.perm_c)
        inside = np.full(nodes, -1, np.int64)
        inside[self.flow_node] = np.arange(n)
        flow = inside[order]
        rows = np.stack(
            [order, np.where(flow < 0, -1, nodes + flow), np.where(flow < 0, -1, nodes + n + flow)], 1
        )
        return rows[rows >= 0]

    def factor(self, matrix: csc_matrix, fine: float = FINE) -> Callable[[Array], Array]:
        """A function that solves for right sides, refined to a residual `fine`. Raises RuntimeError if singular."""
        if self.order is None:
            self.order = self._ordered(matrix)
        order = self.order
        place = np.argsort(order)
        try:
            lu = splu(
                csc_matrix(matrix[order][:, order]),
                permc_spec="NATURAL",
                **SYMMETRIC,
            )
        except RuntimeError:
            by_columns: Callable[[Array], Array] = splu(matrix).solve
            return by_columns

        pivoted: list[Any] = []  # factored anew, once, where refinement does not settle

        def solve(right: Array) -> Array:
            solved: Array = lu.solve(right[order])[place]
            size = float(np.abs(right).max())
            before = off = np.inf
            for _ in range(REFINEMENTS):
                left = right - matrix @ solved
                off = float(np.abs(left).max())
                if off <= fine * size:
                    return solved
                if not off < 0.5 * before:
                    break
                before = off
                solved = solved + lu.solve(left[order])[place]
            if off > max(REFINED, fine) * size:
                if not pivoted:
                    pivoted.append(splu(matrix))
                solved = pivoted[0].solve(right)
            return solved

        return solve
