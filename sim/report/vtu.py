"""An unstructured grid in the open XML format of VTK (.vtu), for general field viewers; any cells, any values."""

from __future__ import annotations

import base64
import zlib
from collections.abc import Mapping, Sequence
from pathlib import Path
from xml.sax.saxutils import quoteattr

import numpy as np
from numpy.typing import NDArray

from sim.section.layout import Region
from sim.section.mesh import IntArray
from sim.section.shapes import Array

VTK_POLYGON, VTK_WEDGE = 7, 13
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
