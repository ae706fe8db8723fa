"""A field as a file for general viewers: the Voronoi cells as polygons, with temperature, region, conductivity."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.report.vtu import VTK_POLYGON, region_numbers, write_vtu
from sim.report.words import ZERO
from sim.section.mesh import IntArray, PlanMesh
from sim.solve.steady import Solution, cell_temperature


def cell_polygons(mesh: PlanMesh) -> tuple[IntArray, IntArray]:
    """The cells' outlines: corners, as vertex numbers cell after cell, and where each cell's corners end (cells,).

    A cell is convex about its site, so its corners in order are its faces' ends by angle about the site.
    """
    cell = np.concatenate([np.repeat(mesh.face_cells.ravel(), 2), np.repeat(mesh.cover_cell, 2)])
    ends = np.concatenate([np.repeat(mesh.face_ends, 2, axis=0).ravel(), mesh.cover_ends.ravel()])
    vertex = ends.astype(np.int64)
    _, first = np.unique(cell * np.int64(len(mesh.vertex)) + vertex, return_index=True)
    cell, vertex = cell[first], vertex[first]
    away = mesh.vertex[vertex] - mesh.site[cell]
    order = np.lexsort((np.arctan2(away[:, 1], away[:, 0]), cell))
    return vertex[order], np.cumsum(np.bincount(cell, minlength=mesh.cells))


def write_field(solution: Solution, path: Path) -> None:
    """Write an XML unstructured grid (.vtu): one polygon a cell, in the mesh's order, points in m.

    Cell data: temperature_degC, region (its number, named in the field data), conductivity_W_per_m_K.
    """
    mesh = solution.network.mesh
    corner, end = cell_polygons(mesh)
    used, corner = np.unique(corner, return_inverse=True)
    points = np.column_stack([mesh.vertex[used], np.zeros(len(used))])
    cells: dict[str, NDArray[Any]] = {
        "temperature_degC": cell_temperature(solution.network, solution.temperature) - ZERO,
        "region": mesh.cell_region.astype(np.int32),
        "conductivity_W_per_m_K": solution.conductivity,
    }
    write_vtu(path, points, corner, end, VTK_POLYGON, {}, cells, region_numbers(mesh.layout.regions))
