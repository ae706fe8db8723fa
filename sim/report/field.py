"""A field as a file for general viewers: the Voronoi cells as polygons, with temperature, region, conductivity."""

from __future__ import annotations

import base64
import zlib
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sim.report.words import ZERO
from sim.section.mesh import IntArray, PlanMesh
from sim.solve.steady import Solution, cell_temperature

POLYGON = 7
"""Cell type of a polygon in the VTK file formats."""

_TYPES = {"f8": "Float64", "i8": "Int64", "i4": "Int32", "u1": "UInt8"}


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


def _array(name: str, values: NDArray[np.generic], components: int = 1) -> str:
    """One compressed DataArray (zlib, one block, base64)."""
    data = np.ascontiguousarray(values)
    raw = data.astype(data.dtype.newbyteorder("<")).tobytes()
    packed = zlib.compress(raw, 1)
    head = np.array([1, len(raw), 0, len(packed)], "<u4").tobytes()
    text = (base64.b64encode(head) + base64.b64encode(packed)).decode("ascii")
    kind = _TYPES[data.dtype.str[1:]]
    head_tag = f'<DataArray type="{kind}" Name="{name}" NumberOfComponents="{components}" format="binary">'
    return f"{head_tag}{text}</DataArray>"


def write_field(solution: Solution, path: Path) -> None:
    """Write an XML unstructured grid (.vtu): one polygon a cell, in the mesh's order, points in m.

    Cell data: temperature_degC, region (its number in the layout), conductivity (W/m/K).
    """
    mesh = solution.network.mesh
    corner, end = cell_polygons(mesh)
    used, corner = np.unique(corner, return_inverse=True)
    points = np.column_stack([mesh.vertex[used], np.zeros(len(used))])
    temperature = cell_temperature(solution.network, solution.temperature) - ZERO
    lines = [
        '<?xml version="1.0"?>',
        '<VTKFile type="UnstructuredGrid" version="0.1" byte_order="LittleEndian" header_type="UInt32"'
        ' compressor="vtkZLibDataCompressor">',
        f'<UnstructuredGrid><Piece NumberOfPoints="{len(points)}" NumberOfCells="{mesh.cells}">',
        "<Points>" + _array("Points", points, 3) + "</Points>",
        "<Cells>" + _array("connectivity", corner.astype(np.int64)) + _array("offsets", end.astype(np.int64)),
        _array("types", np.full(mesh.cells, POLYGON, np.uint8)) + "</Cells>",
        '<CellData Scalars="temperature_degC">' + _array("temperature_degC", temperature),
        _array("region", mesh.cell_region.astype(np.int32)),
        _array("conductivity", solution.conductivity) + "</CellData>",
        "</Piece></UnstructuredGrid></VTKFile>",
    ]
    path.write_text("\n".join(lines) + "\n", encoding="ascii")
