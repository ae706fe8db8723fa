"""Line elements, matrix entries and a bordered sparse solution for the finite-element check."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csc_matrix
from scipy.sparse.linalg import splu

Array = NDArray[np.float64]
Depth = Callable[[Array], Array]

_x, _w = np.polynomial.legendre.leggauss(4)
_GAUSS, _GAUSS_WEIGHT = (_x + 1) / 2, _w / 2
_LINEAR = (
    np.stack([1 - _GAUSS, _GAUSS]),
    np.stack([-np.ones(4), np.ones(4)]),
)  # shapes and slopes (2 nodes: end, end; 4 points)
_QUADRATIC = (
    np.stack([(1 - _GAUSS) * (1 - 2 * _GAUSS), 4 * _GAUSS * (1 - _GAUSS), _GAUSS * (2 * _GAUSS - 1)]),
    np.stack([4 * _GAUSS - 3, 4 - 8 * _GAUSS, 4 * _GAUSS - 1]),
)  # (3 nodes: end, middle, end; 4 points)


class Lines:
    """Line elements on given nodes, linear (n, 2) or quadratic (n, 3): integrals along straight or curved lines.

    depth: of points (2, ...) in a bend, for a metre of its axis, m; 1 without it. Weights and sheets carry it.
    """

    def __init__(self, points: Array, nodes: NDArray[np.int64], depth: Depth | None = None) -> None:
        self.nodes = nodes
        self.shape, self.slope = _LINEAR if nodes.shape[1] == 2 else _QUADRATIC
        xy = points[:, nodes]
        self.at = np.einsum("dni,iq->dnq", xy, self.shape)  # (2, n, 4)
        self.speed = np.linalg.norm(np.einsum("dni,iq->dnq", xy, self.slope), axis=0)
        self.depth = np.ones_like(self.speed) if depth is None else depth(self.at)
        self.weight = self.speed * _GAUSS_WEIGHT * self.depth  # (n, 4), m2 for a metre of the axis

    @property
    def length(self) -> float:
        """Metres; in a bend m2 for a metre of the axis."""
        return float(self.weight.sum())

    def values(self, field: Array) -> Array:
        """Nodal values (n_nodes,) at the integration points (n, 4)."""
        return field[self.nodes] @ self.shape

    def mass(self, coefficient: Array | float) -> Array:
        """(n, i, i) integrals of coefficient times two shape functions."""
        return np.einsum("nq,iq,jq->nij", coefficient * self.weight, self.shape, self.shape)

    def stiffness(self, conductance: float) -> Array:
        """(n, i, i) of a thin sheet whose thickness times conductivity is `conductance`, W/K."""
        return conductance * np.einsum(
            "nq,iq,jq->nij", _GAUSS_WEIGHT * self.depth / self.speed, self.slope, self.slope
        )

    def load(self, coefficient: Array | float) -> Array:
        """(n, i) integrals of coefficient times a shape function."""
        return (coefficient * self.weight) @ self.shape.T

    def vector(self, size: int, coefficient: Array | float = 1.0) -> Array:
        """The load summed into the unknowns (size,)."""
        total = np.zeros(size)
        np.add.at(total, self.nodes, self.load(coefficient))
        return total

    def mean(self, field: Array) -> float:
        """Mean along the line."""
        return float((self.values(field) * self.weight).sum() / self.length)


class Entries:
    """Matrix entries collected in triples."""

    def __init__(self) -> None:
        self.rows: list[NDArray[np.int64]] = []
        self.columns: list[NDArray[np.int64]] = []
        self.values: list[Array] = []

    def blocks(self, rows: NDArray[np.int64], columns: NDArray[np.int64], values: Array) -> None:
        """Add element matrices values (n, i, j) at rows (n, i), columns (n, j)."""
        self.rows.append(np.broadcast_to(rows[:, :, None], values.shape).ravel())
        self.columns.append(np.broadcast_to(columns[:, None, :], values.shape).ravel())
        self.values.append(values.ravel())

    def matrix(self, size: int) -> csc_matrix:
        """The sum as a sparse matrix."""
        triples = (np.concatenate(self.values), (np.concatenate(self.rows), np.concatenate(self.columns)))
        return coo_matrix(triples, shape=(size, size)).tocsc()


def solve_bordered(
    core: csc_matrix, load: Array, columns: Array, rows: Array, corner: Array, own: Array
) -> Array:
    """Solve [[core, columns], [rows, corner]] x = [load, own]: a sparse symmetric core and a few full rows.

    Shapes (n, n), (n,), (n, m), (m, n), (m, m), (m,); returns (n + m,).
    """
    factor = splu(
        core,
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        relax=1,
        panel_size=1,
        options={"SymmetricMode": True},
    )
    inner = factor.solve(np.column_stack([load, columns]))
    few = np.linalg.solve(corner - rows @ inner[:, 1:], own - rows @ inner[:, 0])
    return np.concatenate([inner[:, 0] - inner[:, 1:] @ few, few])


def gebhart(seen: Array, area: Array, emissivity: Array) -> Array:
    """Grey exchange (m, m) in sigma (Ti^4 - Tj^4) with all reflections (Gebhart 1961). seen: area times view, m2/m."""
    share = seen / area[:, None]
    mirrors = 1.0 - np.maximum(emissivity, 1e-9)  # an enclosure of nothing else has no solution
    leaving = np.linalg.solve(np.eye(len(area)) - mirrors[:, None] * share, np.diag(emissivity))
    net = area[:, None] * (leaving - share @ leaving)
    grey: Array = -0.5 * (net + net.T)
    np.fill_diagonal(grey, 0.0)
    return grey
