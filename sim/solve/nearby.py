"""Solutions with matrices that differ much in a patch of nodes and little elsewhere, from factors of earlier ones.

While contents freeze the matrix of a section changes in every iteration, but only in the cells where the front is. Each
new one is solved with by turns: in the patch with its own factor, everywhere with an earlier one's (the multiplicative
Schwarz method; Smith, Bjorstad and Gropp, Domain Decomposition, 1996).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sim.section.mesh import IntArray
from sim.section.shapes import Array
from sim.solve.direct import JointMatrices

Solve = Callable[[Array], Array]

KEPT = 8  # factors
FURTHEST = 0.5  # by which the diagonal outside the patch may differ from a factor's, as a part of it
ACCURACY = 3e-3  # residual of a solution, as a part of the right side
WORTH = 12  # solutions that cost as much as a factor does: a matrix that needed them is factored itself
SLOW = 0.5  # a turn that shrinks the residual by less is the last: the matrix itself is factored
OVERLAP = 2  # layers of nodes about the changing ones that belong to the patch


@dataclass(frozen=True, eq=False)
class _Known:
    diagonal: Array
    solve: Solve


class Nearby:
    """Solves with matrices of joints of which those at `changing` (n,) nodes change from one to the next."""

    def __init__(self, matrices: JointMatrices, changing: IntArray) -> None:
        self.matrices = matrices
        inside = np.zeros(matrices.nodes, bool)
        inside[changing] = True
        for _ in range(OVERLAP):
            inside[np.concatenate([matrices.b[inside[matrices.a]], matrices.a[inside[matrices.b]]])] = True
        self.patch, self.beyond = np.flatnonzero(inside), np.flatnonzero(~inside)
        self.joint = np.flatnonzero(inside[matrices.a] & inside[matrices.b])
        number = np.cumsum(inside) - 1
        a, b = number[matrices.a[self.joint]], number[matrices.b[self.joint]]
        self.within = JointMatrices(len(self.patch), a, b)
        self.known: list[_Known] = []

    def factor(
        self,
        from_a: Array,
        from_b: Array,
        diagonal: Array,
        whole: Callable[[], Solve],
        further: Callable[[Array], Array | float],
    ) -> Solve:
        """A function that solves with a matrix of right sides (n,); the matrix as in `JointMatrices`.

        whole: factors it; further: what it is times a vector beyond the joints and the diagonal, (nodes,) W.
        """
        apart = [float(np.abs(diagonal[self.beyond] / known.diagonal - 1.0).max()) for known in self.known]
        if not apart or min(apart) > FURTHEST:
            return self._anew(diagonal, whole)
        known = self.known.pop(int(np.argmin(apart)))
        self.known.insert(0, known)
        nodes, patch, joint, a, b = (
            self.matrices.nodes,
            self.patch,
            self.joint,
            self.matrices.a,
            self.matrices.b,
        )
        within = self.within.factor(from_a[joint], from_b[joint], diagonal[patch])
        exact: list[Solve] = []
        turns = 0

        def times(x: Array) -> Array:
            passed = np.bincount(b, from_a * x[a], nodes) + np.bincount(a, from_b * x[b], nodes)
            product: Array = diagonal * x - passed + further(x)
            return product

        def solve(right: Array) -> Array:
            nonlocal turns
            if not exact and turns < WORTH:
                x = np.zeros(nodes)
                x[patch] = within(right[patch])
                left = right - times(x)
                size = before = float(np.abs(right).sum())
                while size > 0.0:
                    turns += 1
                    x += known.solve(left)
                    x[patch] += within((right - times(x))[patch])
                    left = right - times(x)
                    size, last = float(np.abs(left).sum()), size
                    if size <= ACCURACY * before:
                        return x
                    if size > SLOW * last:
                        break
                self.known = [other for other in self.known if other is not known]
            if not exact:
                exact.append(self._anew(diagonal, whole))
            return exact[0](right)

        return solve

    def _anew(self, diagonal: Array, whole: Callable[[], Solve]) -> Solve:
        solve = whole()
        self.known = [_Known(diagonal[self.beyond], solve), *self.known[: KEPT - 1]]
        return solve
