"""Sites in a bore whose contents move: rows that grow from the wall, a square lattice in the middle."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sim.section.shapes import Array

if TYPE_CHECKING:
    from sim.section.grid import Grid

MIDDLE = 0.45  # radius, as a part of the bore's, within which the lattice replaces the rows
NARROW = 0.6  # a row whose cells are narrower than this part of their height gets half as many


def bore_rows(grid: Grid) -> Array:
    """Heights of the rows of cells from the wall inwards, m."""
    grading, radius = grid.size.grading, grid.circles[0].radius
    assert grading is not None
    return np.diff(grading.rows(grid.size.fineness, 1 - MIDDLE)) * radius


def graded_sites(grid: Grid) -> tuple[Array, Array]:
    """Sites (n, 2), m, and the smaller side of each one's cell (n,), m. The wall's own pairs are not among them."""
    radius = grid.circles[0].radius
    rows = bore_rows(grid)
    depth = np.cumsum(rows) - rows / 2
    parts: list[tuple[Array, Array]] = []
    count = grid.roots
    for height, r in zip(rows[1:], radius - depth[1:], strict=True):
        if 2 * np.pi * r / grid.roots > NARROW * height:
            least = NARROW * height / r
            bounds = grid.halved(lambda a, least=least: np.maximum(grid.spacing(0, a), least))  # type: ignore[misc]
            angle, width = 0.5 * (bounds[1:] + bounds[:-1]), np.diff(bounds)
        else:
            while 2 * np.pi * r / count < NARROW * height and count >= 16:
                count = round(count / 2)
            width = np.full(count, 2 * np.pi / count)
            angle = (np.arange(count) + 0.5) * width
        site = r * np.stack([np.sin(angle), np.cos(angle)], axis=-1)
        parts.append((site, np.minimum(r * width, height)))
    size, inner = float(rows[-1]), radius - float(rows.sum())
    across = (np.arange(-np.ceil(inner / size) - 1, np.ceil(inner / size) + 1) + 0.5) * size
    lattice = np.stack(np.meshgrid(across, across), axis=-1).reshape(-1, 2)
    lattice = lattice[np.hypot(*lattice.T) < inner - 0.2 * size]
    parts.append((lattice, np.full(len(lattice), size)))
    return np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts])
