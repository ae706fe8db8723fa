"""The sites around a fitting: the plan's own in layers and more in space, and what each of them stands for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from sim.basics import Array, IntArray
from sim.section.bodies import AIR, CONTENTS, COVER, LINE, Bodies
from sim.section.extrude import Layers
from sim.section.fitting_plan import FittingLayout, block
from sim.section.fitting_sites import across_sites, ring_sites, staying
from sim.section.mesh import PlanMesh
from sim.section.support_plan import SOFT

OUTSIDE, BORE, MIRROR = -1, -2, -3  # what a site stands for that is no cell
NONE = -1


@dataclass(frozen=True)
class Sites:
    """Sites in space (n, 3), m. cell (n,): the number of the cell that each stands for, or OUTSIDE, BORE, MIRROR;
    plan (n,): layer * cells of the plan + cell where it is one of the plan's, ghost (n,): layer * cover faces + face
    where it is a cover face's mirror image; else NONE. code (n,): what it is made of; soft (n,): insulation or air."""

    point: Array
    cell: IntArray
    plan: IntArray
    ghost: IntArray
    code: IntArray
    soft: NDArray[np.bool_]


@dataclass(frozen=True)
class Cells:
    """Cells around a fitting, numbered layer * cells of the plan + cell, then the further ones.

    count: layers whose cells are made in space. made (layers, cells): what each of the plan's is made of, as in
    `sim.section.bodies`; there (layers, cells): whether it takes part. Of the further cells: point (e, 3) m, code, as
    made; region of the plan, where it is the line's own; layer.
    """

    bodies: Bodies
    layers: Layers
    count: int
    made: IntArray
    there: NDArray[np.bool_]
    point: Array
    code: IntArray
    region: IntArray
    layer: IntArray


def fitting_cells(mesh: PlanMesh, layers: Layers, lumped: bool) -> tuple[Cells, Sites]:
    """The cells around the fitting of a mesh's layout, and their sites. lumped: contents are no cells."""
    layout = mesh.layout
    assert isinstance(layout, FittingLayout)
    bodies, cells, count = layout.around, mesh.cells, block(layout, layers)
    bore, tracer = mesh.of_kind("liquid", "gas"), mesh.of_kind("tracer")
    own = _in_layers(mesh.site, layers.centre[: count + 1])
    ghosts = _in_layers(2 * mesh.cover_point - mesh.site[mesh.cover_cell], layers.centre[: count + 1])
    across, reach = across_sites(bodies, mesh.fineness)
    rings = ring_sites(bodies, mesh, layers, count, mesh.fineness)
    tree, guard = (cKDTree(across) if len(across) else None), bodies.outer * (1 + 1e-6)
    stays = staying(own, tree, reach, guard) | np.tile(tracer, count + 1)
    stays[count * cells :] = True
    ghost = np.flatnonzero(staying(ghosts, tree, reach, guard))
    rings = rings[staying(rings, tree, reach, guard)]
    made = bodies.made_of(*own.T)
    made[np.tile(tracer | bore, count + 1)] = LINE
    made[count * cells :] = LINE
    further = np.concatenate([ghosts[ghost], rings, across])
    code = bodies.made_of(*further.T)
    code[: len(ghost)] = np.where(code[: len(ghost)] == LINE, AIR, code[: len(ghost)])
    code[: len(ghost)][ghost >= count * len(mesh.cover_cell)] = AIR
    idle = (code == AIR) | (lumped & (code == CONTENTS))
    first = layers.count * cells
    number = np.where(idle, np.where(code == AIR, OUTSIDE, BORE), first + np.cumsum(~idle) - 1)
    area = layout.region_of(further[:, 0], further[:, 1])
    area = np.where(area < 0, layout.number("layer", len(layout.layer_radii) - 2), area)
    contents = (made == CONTENTS) | np.tile(bore, count + 1)
    plain = np.where(made == AIR, OUTSIDE, np.where(lumped & contents, BORE, np.arange(len(own))))
    there = np.ones((layers.count, cells), bool)
    there[:count] = (stays & (made != AIR) & ~(lumped & (made == CONTENTS)))[: count * cells].reshape(
        count, -1
    )
    whole = np.full((layers.count, cells), LINE)
    whole[:count] = made[: count * cells].reshape(count, cells)
    none = np.full(len(further), NONE)
    of_ghost = none.copy()
    of_ghost[: len(ghost)] = ghost
    sites = Sites(
        np.concatenate([own[stays], further]),
        np.concatenate([plain[stays], number]),
        np.concatenate([np.flatnonzero(stays), none]),
        np.concatenate([np.full(int(stays.sum()), NONE), of_ghost]),
        np.concatenate([made[stays], code]),
        np.concatenate(
            [_soft(made, np.tile(mesh.cell_region, count + 1), layout)[stays], _soft(code, area, layout)]
        ),
    )
    point, region = further[~idle], area[~idle]
    layer = np.clip(np.searchsorted(layers.edge, point[:, 2]) - 1, 0, layers.count - 1)
    found = Cells(bodies, layers, count, whole, there, point, code[~idle], region, layer)
    return found, _mirrored(sites, layers)


def _soft(code: IntArray, region: IntArray, layout: FittingLayout) -> NDArray[np.bool_]:
    """Whether what is made of a code, or of a region of the line's own, is insulation or air."""
    line = np.array([r.kind in SOFT for r in layout.regions])[region]
    found: NDArray[np.bool_] = (code == AIR) | (code == COVER) | ((code == LINE) & line)
    return found


def _in_layers(plane: Array, z: Array) -> Array:
    """Points of the plan (n, 2) at each z, (z * n, 3)."""
    return np.concatenate([np.tile(plane, (len(z), 1)), np.repeat(z, len(plane))[:, None]], axis=1)


def _mirrored(sites: Sites, layers: Layers) -> Sites:
    """With the mirror images beyond the plane z = 0 of what may touch it."""
    low = (sites.point[:, 2] < layers.centre[0] * 1.01) | ((sites.plan == NONE) & (sites.ghost == NONE))
    image = sites.point[low] * [1.0, 1.0, -1.0]
    none = np.full(len(image), NONE)
    return Sites(
        np.concatenate([sites.point, image]),
        np.concatenate([sites.cell, np.full(len(image), MIRROR)]),
        np.concatenate([sites.plan, none]),
        np.concatenate([sites.ghost, none]),
        np.concatenate([sites.code, sites.code[low]]),
        np.concatenate([sites.soft, sites.soft[low]]),
    )
