"""The sites around a fitting: the plan's own in layers and more in space, and what each of them stands for."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from sim.basics import Array, IntArray
from sim.section.bodies import AIR, CONTENTS, COVER, LINE, Bodies
from sim.section.extrude import Layers
from sim.section.fitting_plan import FittingLayout, block
from sim.section.fitting_sites import across_sites, rings, staying
from sim.section.mesh import PlanMesh
from sim.section.prisms import REMOVED
from sim.section.support_plan import SOFT

OUTSIDE, BORE = -1, -2  # what a site stands for that is no cell
NONE = -1
COINCIDENT = 1e-7  # of the outside's radius: images nearer than this are one


@dataclass(frozen=True)
class Sites:
    """Sites in space (n, 3), m: those in columns, level by level, then those about axes across.

    plane (c, 2): the columns, of the plan's cells, of its cover faces' mirror images, of rings beyond them; table
    (levels, c): their sites' numbers, or REMOVED. cell (n,): the cell that each stands for, or OUTSIDE, BORE. plan
    (n,): layer * cells of the plan + cell where it is one of the plan's, ghost (n,): layer * cover faces + face where
    it is a cover face's mirror image; else NONE. code (n,): what it is made of; soft (n,): insulation or air.
    """

    point: Array
    plane: Array
    table: IntArray
    cell: IntArray
    plan: IntArray
    ghost: IntArray
    code: IntArray
    soft: NDArray[np.bool_]


@dataclass(frozen=True)
class Cells:
    """Cells around a fitting, numbered layer * cells of the plan + cell, then the further ones.

    count: layers whose cells are made in space. material (layers, cells): what each of the plan's is made of, as in
    `sim.section.bodies`; there (layers, cells): whether it takes part. Of the further cells: point (e, 3) m, code, as
    material; region of the plan, where it is the line's own.
    """

    bodies: Bodies
    layers: Layers
    count: int
    material: IntArray
    there: NDArray[np.bool_]
    point: Array
    code: IntArray
    region: IntArray


def fitting_cells(mesh: PlanMesh, layers: Layers, lumped: bool) -> tuple[Cells, Sites]:
    """The cells around the fitting of a mesh's layout, and their sites. lumped: contents are no cells."""
    layout = mesh.layout
    assert isinstance(layout, FittingLayout)
    bodies, count = layout.on_grid, block(layout, layers)
    cells, levels = mesh.cells, count + 1
    images = 2 * mesh.cover_point - mesh.site[mesh.cover_cell]
    # where cells crowd two of them may have one image
    of_image = np.sort(
        np.unique(np.round(images / (COINCIDENT * bodies.cover)), axis=0, return_index=True)[1]
    )
    images = images[of_image]
    plane = np.concatenate([mesh.site, images, rings(bodies, images, mesh.fineness)])
    across, reach = across_sites(bodies, mesh.fineness)
    point = np.concatenate([_in_layers(plane, layers.centre[:levels]), across])
    column = np.tile(np.arange(len(plane)), levels)
    level = np.repeat(np.arange(levels), len(plane))
    bore, tracer = (np.append(mesh.of_kind(*k), False) for k in (("liquid", "gas"), ("tracer",)))
    of_plan = np.minimum(column, cells)  # the last: none of the plan's
    tree = cKDTree(across) if len(across) else None
    standing = len(column)
    stays = (
        staying(point[:standing], tree, reach, bodies.outer * (1 + 1e-6)) | tracer[of_plan] | (level == count)
    )
    code, area = bodies.made_of(*point.T), _regions(mesh, point[:, :2], column)
    of_line = (tracer | bore)[of_plan] | ((level == count) & (column < cells))
    code[:standing][of_line] = LINE
    image = (column >= cells) & (column < cells + len(images))
    code[:standing][(image & (code[:standing] == LINE)) | ((level == count) & (column >= cells))] = AIR
    idle = np.append(bore[of_plan], np.zeros(len(across), bool)) | (code == CONTENTS)
    what = np.where(code == AIR, OUTSIDE, np.where(lumped & idle, BORE, 0))
    plan = np.full(len(point), NONE)
    plan[:standing] = np.where(column < cells, level * cells + column, NONE)
    further = (what == 0) & (plan == NONE) & np.append(stays, np.ones(len(across), bool))
    number = np.where(
        further, layers.count * cells + np.cumsum(further) - 1, np.where(plan != NONE, plan, OUTSIDE)
    )
    ghost = np.full(len(point), NONE)
    ghost[:standing][image] = level[image] * len(mesh.cover_cell) + of_image[column[image] - cells]
    table = np.where(stays, np.arange(standing), REMOVED).reshape(levels, -1)
    material, there = np.full((layers.count, cells), LINE), np.ones((layers.count, cells), bool)
    material[:count] = code[:standing].reshape(levels, -1)[:count, :cells]
    absent = ~stays | (code[:standing] == AIR) | (lumped & (code[:standing] == CONTENTS))
    there[:count] = ~absent.reshape(levels, -1)[:count, :cells]
    sites = Sites(
        point, plane, table, np.where(what == 0, number, what), plan, ghost, code, _soft(code, area, layout)
    )
    return Cells(bodies, layers, count, material, there, point[further], code[further], area[further]), sites


def _regions(mesh: PlanMesh, point: Array, column: IntArray) -> IntArray:
    """The plan's region at points (n, 2), those in columns first; the outermost layer's beyond the insulation."""
    layout = mesh.layout
    region = layout.region_of(point[:, 0], point[:, 1])
    region[region < 0] = layout.number("layer", len(layout.layer_radii) - 2)
    in_plan = np.flatnonzero(column < mesh.cells)
    region[in_plan] = mesh.cell_region[column[in_plan]]
    return region


def _soft(code: IntArray, region: IntArray, layout: FittingLayout) -> NDArray[np.bool_]:
    """Whether what is made of a code, or of a region of the line's own, is insulation or air."""
    line = np.array([r.kind in SOFT for r in layout.regions])[region]
    soft: NDArray[np.bool_] = (code == AIR) | (code == COVER) | ((code == LINE) & line)
    return soft


def _in_layers(plane: Array, z: Array) -> Array:
    """Points of the plan (n, 2) at each z, (z * n, 3)."""
    return np.concatenate([np.tile(plane, (len(z), 1)), np.repeat(z, len(plane))[:, None]], axis=1)
