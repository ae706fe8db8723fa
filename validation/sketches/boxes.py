"""Conduction on boxes of cells through the program's own Voronoi faces and joints, for checks that are not pipes."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.section.mesh import voronoi
from sim.solve.balance import joint_matrix
from sim.solve.direct import factor

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Box:
    """Cells of a rectangle between given grid lines: site (n, 2), conductivity (n,); inner faces: pair (m, 2), length,
    gap, point (m, 2); outer faces: cell (b,), length, gap (to the face), point (b, 2)."""

    site: Array
    conductivity: Array
    pair: IntArray
    length: Array
    gap: Array
    point: Array
    outer_cell: IntArray
    outer_length: Array
    outer_gap: Array
    outer_point: Array


def box(x: Array, y: Array, conductivity: Callable[[Array, Array], Array]) -> Box:
    """Cells between the grid lines x and y (increasing, m), mirrored outside to close them."""
    mid_x, mid_y = 0.5 * (x[1:] + x[:-1]), 0.5 * (y[1:] + y[:-1])
    wide_x = np.concatenate([[2 * x[0] - mid_x[0]], mid_x, [2 * x[-1] - mid_x[-1]]])
    wide_y = np.concatenate([[2 * y[0] - mid_y[0]], mid_y, [2 * y[-1] - mid_y[-1]]])
    points = np.stack(np.meshgrid(wide_x, wide_y, indexing="ij"), axis=-1).reshape(-1, 2)
    low, high = np.array([x[0], y[0]]), np.array([x[-1], y[-1]])
    inside = np.asarray(((points > low) & (points < high)).all(axis=1))
    vertex, pair, ends = voronoi(points)
    length = np.hypot(*(vertex[ends[:, 0]] - vertex[ends[:, 1]]).T)
    gap = np.hypot(*(points[pair[:, 0]] - points[pair[:, 1]]).T)
    count = inside[pair].sum(axis=1)
    real = length > 1e-6 * gap
    inner, outer = real & (count == 2), real & (count == 1)
    number = np.cumsum(inside) - 1
    cell = np.where(inside[pair[outer, 0]], pair[outer, 0], pair[outer, 1])
    middle = 0.5 * (points[pair[:, 0]] + points[pair[:, 1]])
    site = points[inside]
    return Box(
        site,
        conductivity(site[:, 0], site[:, 1]),
        number[pair[inner]],
        length[inner],
        gap[inner],
        middle[inner],
        number[cell],
        length[outer],
        0.5 * gap[outer],
        middle[outer],
    )


@dataclass(frozen=True)
class Field:
    """Cell temperatures (n,), temperatures of the outer faces (b,) and heat leaving through them (b,), W/m."""

    box: Box
    temperature: Array
    surface: Array
    leaving: Array

    def at(self, x: float, y: float) -> float:
        """Temperature at a point: the mean of the faces nearest to it, weighted by their cells' conductivity.

        Face temperatures hold where conductivities jump, unlike a line between cells; adiabatic faces are left out.
        At a corner of a good conductor the temperature is the conductor's.
        """
        open_face = np.abs(self.leaving) > 0
        points = np.concatenate([self.box.point, self.box.outer_point[open_face]])
        values = np.concatenate([self.faces(), self.surface[open_face]])
        apart = np.hypot(points[:, 0] - x, points[:, 1] - y)
        k = self.box.conductivity
        weight = np.concatenate([k[self.box.pair].sum(axis=1), k[self.box.outer_cell[open_face]]])
        near = apart < apart.min() * (1 + 1e-6) + 1e-12
        return float(np.average(values[near], weights=weight[near]))

    def faces(self) -> Array:
        """Temperatures of the inner faces from the two half conductances, shape (m,)."""
        a, b = self.box.pair.T
        k = self.box.conductivity
        return (k[a] * self.temperature[a] + k[b] * self.temperature[b]) / (k[a] + k[b])


def solve_box(cells: Box, coefficient: Array, outside: Array) -> Field:
    """Steady field; per outer face a film (W/m2/K; 0 adiabatic, inf a given temperature) and a temperature outside."""
    k = cells.conductivity
    a, b = cells.pair.T
    half = 0.5 * cells.gap
    joint = cells.length / (half / k[a] + half / k[b])
    with np.errstate(divide="ignore"):
        film = cells.outer_length / (1.0 / coefficient + cells.outer_gap / k[cells.outer_cell])
    count = len(cells.site)
    source = np.bincount(cells.outer_cell, film * outside, count)
    matrix = joint_matrix(count, a, b, joint, np.bincount(cells.outer_cell, film, count).astype(float))
    temperature = factor(matrix).solve(source)
    leaving = film * (temperature[cells.outer_cell] - outside)
    surface = temperature[cells.outer_cell] - leaving * cells.outer_gap / (
        k[cells.outer_cell] * cells.outer_length
    )
    return Field(cells, temperature, surface, leaving)
