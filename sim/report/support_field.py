"""The field around a support as a file for general viewers: wedges between the sites of the plan, over the layers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from scipy.spatial import Delaunay

from sim.heat.support import LEG
from sim.report.words import ZERO
from sim.solve.support import SupportResult


def write_support_field(result: SupportResult, path: Path) -> None:
    """Write a .vtu of the half z >= 0: point data temperature_degC (tracer alone), with_allowance_degC, region, leg.

    Points are the cells' sites at the layers' centres; the wedges are those of the plan's Delaunay triangulation.
    """
    import meshio

    mesh, layers = result.mesh, result.layers
    triangle = Delaunay(mesh.site).simplices.astype(np.int64)
    count, cells = layers.count, mesh.cells
    points = np.column_stack([np.tile(mesh.site, (count, 1)), np.repeat(layers.centre, cells)])
    low = triangle[None] + (np.arange(count - 1) * cells)[:, None, None]
    wedge = np.concatenate([low, low + cells], axis=2).reshape(-1, 6)
    in_leg = np.array(mesh.layout.footprints)[mesh.cell_region] & LEG  # type: ignore[attr-defined]
    here = (in_leg[None, :] & layers.parts[:, None]) > 0
    data = {
        "temperature_degC": result.alone.cells.ravel() - ZERO,
        "region": np.tile(mesh.cell_region.astype(np.int32), count),
        "leg": here.ravel().astype(np.int32),
    }
    if result.installed is not None:
        data["with_allowance_degC"] = result.installed.cells.ravel() - ZERO
    meshio.write(path, meshio.Mesh(points, [("wedge", wedge)], point_data=data), file_format="vtu")
