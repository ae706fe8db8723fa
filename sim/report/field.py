"""A field as a file for general viewers: the Voronoi cells as polygons, with temperature, region, conductivity."""

import base64
import zlib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any
from xml.sax.saxutils import quoteattr

import numpy as np
from numpy.typing import NDArray

from sim.case import Fitting
from sim.report.words import ZERO
from sim.section.bodies import bodies_of
from sim.section.extrude import presence
from sim.section.layout import Region
from sim.section.mesh import IntArray, PlanMesh
from sim.section.shapes import Array
from sim.section.support_plan import INSERT, LEG, PAD, SupportLayout
from sim.section.triangles import triangulation
from sim.solve.fitting_space import sites_in_space
from sim.solve.steady import Solution, cell_temperature
from sim.solve.support_meshes import SupportResult


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


VTK_VERTEX, VTK_POLYGON, VTK_WEDGE = 1, 7, 13
"""Cell types of the VTK file formats."""

Values = Mapping[str, NDArray[np.generic]]
_TYPES = {"f8": "Float64", "i8": "Int64", "i4": "Int32", "u1": "UInt8"}
_BLOCK = 1 << 20


def _array(name: str, values: NDArray[np.generic], more: str = "") -> str:
    """One DataArray: compressed by zlib in blocks, in base64."""
    data = np.ascontiguousarray(values)
    raw = data.astype(data.dtype.newbyteorder("<")).tobytes()
    packed = [zlib.compress(raw[at : at + _BLOCK], 1) for at in range(0, len(raw), _BLOCK)]
    head = np.array([len(packed), _BLOCK, len(raw) % _BLOCK, *map(len, packed)], "<u4").tobytes()
    text = (base64.b64encode(head) + base64.b64encode(b"".join(packed))).decode("ascii")
    parts = f' NumberOfComponents="{data.shape[1]}"' if data.ndim == 2 else ""
    return (
        f'<DataArray type="{_TYPES[data.dtype.str[1:]]}" Name={quoteattr(name)}{parts}'
        f' format="binary"{more}>{text}</DataArray>'
    )


def write_vtu(
    path: Path,
    points: Array,
    corner: IntArray,
    end: IntArray,
    kind: int,
    point_data: Values,
    cell_data: Values,
    constants: Mapping[str, int],
) -> None:
    """Write one grid. Raises OSError if it cannot be written.

    points (n, 3) m; corner: point numbers cell after cell; end (cells,): where each cell's corners end; kind: the type
    of all cells; point_data, cell_data: values by name, the unit in the name; constants: numbers of the whole field,
    here the name of each region with its number.
    """
    shown = next(iter([*point_data, *cell_data]))
    scalars = f" Scalars={quoteattr(shown)}"
    lines = [
        '<?xml version="1.0"?>',
        '<VTKFile type="UnstructuredGrid" version="0.1" byte_order="LittleEndian" header_type="UInt32"'
        ' compressor="vtkZLibDataCompressor">',
        "<UnstructuredGrid><FieldData>",
        *(
            _array(name, np.array([number], np.int32), ' NumberOfTuples="1"')
            for name, number in constants.items()
        ),
        f'</FieldData><Piece NumberOfPoints="{len(points)}" NumberOfCells="{len(end)}">',
        "<Points>" + _array("Points", points) + "</Points>",
        "<Cells>" + _array("connectivity", corner.astype(np.int64)) + _array("offsets", end.astype(np.int64)),
        _array("types", np.full(len(end), kind, np.uint8)) + "</Cells>",
    ]
    for tag, data in (("PointData", point_data), ("CellData", cell_data)):
        arrays = "".join(_array(name, values) for name, values in data.items())
        lines.append(f"<{tag}{scalars if shown in data else ''}>{arrays}</{tag}>")
    lines.append("</Piece></UnstructuredGrid></VTKFile>")
    path.write_bytes(("\n".join(lines) + "\n").encode("ascii", "xmlcharrefreplace"))


def region_numbers(regions: Sequence[Region]) -> dict[str, int]:
    """`region 3: tracer T1` and the like, each with its number, in the order of the layout."""
    return {
        f"region {number}: {region.kind} {region.name}".rstrip(): number
        for number, region in enumerate(regions)
    }


def write_support_field(result: SupportResult, path: Path) -> None:
    """Write a .vtu of the half z >= 0, points in m: the cells' sites at z = 0 and at the layers' centres.

    Point data: temperature_degC (tracer alone), with_allowance_degC, region (of the plain section) and part (of the
    support; 0 where there is none), both named in the field data. At z = 0, a plane of symmetry, the values are those
    of the first layer. The prisms are those of the plan's Delaunay triangulation.
    """
    mesh, layers, layout = result.mesh, result.layers, result.mesh.layout
    assert isinstance(layout, SupportLayout)
    triangle, _ = triangulation(mesh.site)
    count, cells = layers.count + 1, mesh.cells
    height = np.concatenate([[0.0], layers.centre])
    points = np.column_stack([np.tile(mesh.site, (count, 1)), np.repeat(height, cells)])
    low = triangle[None] + (np.arange(count - 1) * cells)[:, None, None]
    prism = np.concatenate([low, low + cells], axis=2).reshape(-1, 6)
    part = np.stack([presence(layout, int(bits))[mesh.cell_region] for bits in layers.parts])
    plain = np.zeros(len(layout.regions), np.int32)  # number in the plain section of each region of the plan
    for number, row in enumerate(layout.lookup):
        plain[list(row)] = number

    def on_points(layered: NDArray[Any]) -> NDArray[Any]:
        return np.concatenate([layered[:1], layered]).ravel()

    data: dict[str, NDArray[Any]] = {
        "temperature_degC": on_points(result.alone.cells) - ZERO,
        "region": np.tile(plain[mesh.cell_region], count),
        "part": on_points(part).astype(np.int32),
    }
    if result.installed is not None:
        data["with_allowance_degC"] = on_points(result.installed.cells) - ZERO
    names = region_numbers(layout.regions[: len(layout.lookup)]) | {
        f"part {bit}: {what}": bit for bit, what in ((PAD, "pad"), (LEG, "leg"), (INSERT, "insert"))
    }
    end = 6 * np.arange(1, len(prism) + 1)
    write_vtu(path, points, prism.ravel(), end, VTK_WEDGE, data, {}, names)


def write_fitting_field(result: SupportResult, path: Path) -> None:
    """Write a .vtu of the half z >= 0 of a fitting: the cells' sites as vertices, m, with their temperatures.

    Point data: temperature_degC (tracer alone), with_allowance_degC, and made_of: -1 contents, 0 the line's own, 1
    cover, 2 gas, from 3 on the bodies.
    """
    assert isinstance(result.support, Fitting)
    site, alone = sites_in_space(result, result.alone)
    data: dict[str, NDArray[Any]] = {
        "temperature_degC": alone - ZERO,
        "made_of": bodies_of(result.case, result.support).made_of(*site.T).astype(np.int32),
    }
    if result.installed is not None:
        data["with_allowance_degC"] = sites_in_space(result, result.installed)[1] - ZERO
    number = np.arange(len(site))
    write_vtu(path, site, number, number + 1, VTK_VERTEX, data, {}, {})
