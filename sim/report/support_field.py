"""The field around a support as a file for general viewers: prisms between the sites of the plan, over the layers."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.report.vtu import VTK_WEDGE, region_numbers, write_vtu
from sim.report.words import ZERO
from sim.section.extrude import presence
from sim.section.support_plan import INSERT, LEG, PAD, SupportLayout
from sim.section.triangles import triangulation
from sim.solve.support_meshes import SupportResult


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
