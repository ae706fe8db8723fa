"""A field as a file for general viewers: the Voronoi cells as polygons, with temperature, region, conductivity."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sim.report.words import ZERO
from sim.section.mesh import IntArray, PlanMesh
from sim.solve.steady import Solution, cell_temperature


def cell_polygons(mesh: PlanMesh) -> list[tuple[IntArray, IntArray]]:
    """The cells' outlines, grouped by number of corners: [(cell numbers (m,), vertex numbers (m, k)), ...].

    A cell is convex about its site, so its corners in order are its faces' ends by angle about the site.
    """
    cell = np.concatenate([np.repeat(mesh.face_cells.ravel(), 2), np.repeat(mesh.cover_cell, 2)])
    vertex = np.concatenate(
        [np.repeat(mesh.face_ends, 2, axis=0).ravel(), mesh.cover_ends.astype(int).ravel()]
    )
    _, first = np.unique(cell * np.int64(len(mesh.vertex)) + vertex, return_index=True)
    cell, vertex = cell[first], vertex[first]
    away = mesh.vertex[vertex] - mesh.site[cell]
    order = np.lexsort((np.arctan2(away[:, 1], away[:, 0]), cell))
    cell, vertex = cell[order], vertex[order]
    corners = np.bincount(cell, minlength=mesh.cells)
    start = np.concatenate([[0], np.cumsum(corners)[:-1]])
    groups = []
    for count in np.unique(corners):
        if count >= 3:
            cells = np.flatnonzero(corners == count)
            groups.append((cells, vertex[start[cells][:, None] + np.arange(count)]))
    return groups


def write_field(solution: Solution, path: Path) -> None:
    """Write a .vtu of a solution: cell data temperature_degC, region (its number), conductivity (W/m/K)."""
    import meshio

    mesh = solution.network.mesh
    groups = cell_polygons(mesh)
    temperature = cell_temperature(solution.network, solution.temperature) - ZERO
    data: dict[str, list[NDArray[np.generic]]] = {
        "temperature_degC": [temperature[cells] for cells, _ in groups],
        "region": [mesh.cell_region[cells].astype(np.int32) for cells, _ in groups],
        "conductivity": [solution.conductivity[cells] for cells, _ in groups],
    }
    used = np.unique(np.concatenate([corner.ravel() for _, corner in groups]))
    number = np.zeros(len(mesh.vertex), np.int64)
    number[used] = np.arange(len(used))
    points = np.column_stack([mesh.vertex[used], np.zeros(len(used))])
    blocks = [("polygon", number[corner]) for _, corner in groups]
    meshio.write(path, meshio.Mesh(points, blocks, cell_data=data), file_format="vtu")
