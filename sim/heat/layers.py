"""A section's network repeated in layers along the pipe, and joined from layer to layer."""

from dataclasses import replace
from typing import Any

import numpy as np

from sim.heat.joints import Faces, Joints, Links, joined, repeated
from sim.heat.network import Network
from sim.section.extrude import Layers


def layered(plan: Network, layers: Layers) -> Network:
    """Repeat a section over layers, of its own materials.

    In a layer, the joints are the section's own, times the layer's thickness; along the pipe the cells, the sheets and
    the lumped contents are joined, which are the groups "cells along" and "sheets along".
    """
    thick, cells = layers.thickness, plan.mesh.cells

    def every(group: Any) -> Any:
        return repeated(group, thick, plan.nodes, cells)

    numbers = np.arange(layers.count)[:, None] * plan.nodes
    cell_node = np.where(plan.cell_node < 0, plan.cell_node, plan.cell_node + numbers).ravel()
    groups: dict[str, Joints] = {name: every(group) for name, group in plan.joints.groups.items()}
    groups |= {"cells along": _cells_along(plan, layers), "sheets along": _sheets_along(plan, layers)}
    return replace(
        plan,
        layers=layers,
        nodes=layers.count * plan.nodes,
        cell_node=cell_node,
        joints=joined(groups, cell_node),
        outlets={name: every(outlet) for name, outlet in plan.outlets.items()},
        tracing=replace(plan.tracing, extra=np.zeros((len(plan.case.tracers), layers.count))),
        part=np.zeros((layers.count, cells), np.int64),
        section=plan,
    )


def _cells_along(plan: Network, layers: Layers) -> Faces:
    """Each cell with its next along the pipe."""
    cell = np.flatnonzero(plan.cell_node >= 0)
    first = (cell + np.arange(layers.count - 1)[:, None] * plan.mesh.cells).ravel()
    before, after = 0.5 * layers.thickness[:-1], 0.5 * layers.thickness[1:]
    if layers.site is not None:
        before = after = 0.5 * np.diff(layers.site)
    area = np.tile(plan.mesh.cell_area[cell], layers.count - 1)
    perfect = np.broadcast_to(0.0, area.shape)
    one, other = (np.repeat(half, len(cell)) for half in (before, after))
    return Faces(first, first + plan.mesh.cells, area, one, other, perfect)


def _sheets_along(plan: Network, layers: Layers) -> Links:
    """Sheets and lumped contents, each with its next along the pipe."""
    along, centre = plan.along, layers.centre
    first = (along.node + np.arange(layers.count - 1)[:, None] * plan.nodes).ravel()
    return Links(first, first + plan.nodes, (along.strength / np.diff(centre)[:, None]).ravel())
