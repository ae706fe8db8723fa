"""The free passage of a bore with ice in it: the diameter of the largest circle clear of the ice."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from sim.heat.network import Network
from sim.section.shapes import Array

ICE, ANY_ICE = 0.5, 1e-3  # share from which a cell counts as ice: a pure fluid's, a brine's
GRID = 61  # centres tried across the bore
FINER, PASSES = 17, 5  # then across two of its spacings about the best, and again
AROUND = 360  # points of a ring of ice


def passage(network: Network, share: Array) -> float:
    """Diameter of the largest circle in the bore without ice, m; 0 where it is all ice. share: frozen (nodes,)."""
    radius = network.mesh.layout.inner_radius
    front = _ring(network, share) if network.bore is not None else _front(network, share)
    if front is None:
        return 0.0
    if not len(front):
        return 2 * radius
    if network.bore is not None and network.mesh.layout.level >= radius:  # a ring all round
        return 2 * float(np.hypot(*front[0]))
    free, tree = _is_free(network, share), cKDTree(front)
    best, reach, middle = 0.0, radius, np.zeros(2)
    for count in (GRID, *(FINER,) * PASSES):
        line = np.linspace(-reach, reach, count)
        centre = middle + np.stack(np.meshgrid(line, line), axis=-1).reshape(-1, 2)
        room = np.minimum(tree.query(centre)[0], radius - np.hypot(*centre.T))
        room[~free(centre)] = 0.0
        at = int(np.argmax(room))
        if room[at] > best:
            best, middle = float(room[at]), centre[at]
        reach *= 4.0 / (count - 1)
    return 2 * best


def _front(network: Network, share: Array) -> Array | None:
    """Points on the front between ice and what is free (n, 2) m, between cells; None where all is ice."""
    mesh = network.mesh
    liquid = np.flatnonzero((mesh.kind == "liquid") & (network.cell_node >= 0))
    fluid = network.case.contents.fluid
    limit = ICE if fluid.frozen_share is None else ANY_ICE
    part = np.zeros(mesh.cells)
    part[liquid] = share[network.cell_node[liquid]]
    ice = part >= limit
    if ice[liquid].all() and not (mesh.kind == "gas").any():
        return None
    inside = np.isin(mesh.kind, ("liquid", "gas"))
    a, b = mesh.face_cells.T
    across = (ice[a] != ice[b]) & inside[a] & inside[b]
    a, b = a[across], b[across]
    along = np.clip((limit - part[a]) / (part[b] - part[a]), 0.0, 1.0)[:, None]
    edge = mesh.site[a] + along * (mesh.site[b] - mesh.site[a])
    return np.concatenate([edge, mesh.site[ice]])


def _ring(network: Network, share: Array) -> Array | None:
    """Points on the front of a ring of ice on the wet part of the bore."""
    bore = network.bore
    assert bore is not None
    part = float(share[bore.liquid])
    layout = network.mesh.layout
    if part >= 1.0 and layout.level >= layout.inner_radius:
        return None
    if part <= 0.0:
        return np.zeros((0, 2))
    angle = np.linspace(0.0, 2 * np.pi, AROUND, endpoint=False)
    point = np.stack([np.sin(angle), np.cos(angle)], axis=-1)
    wet = layout.inner_radius * point[:, 1] <= layout.level
    front: Array = layout.inner_radius * np.sqrt(max(1.0 - part, 0.0)) * point[wet]
    return front


def _is_free(network: Network, share: Array) -> Callable[[Array], NDArray[np.bool_]]:
    """Whether points (n, 2) lie in no ice."""
    if network.bore is not None:
        bore, layout = network.bore, network.mesh.layout
        inner = layout.inner_radius * np.sqrt(max(1.0 - float(share[bore.liquid]), 0.0))
        return lambda point: (np.hypot(*point.T) < inner) | (point[:, 1] > layout.level)
    mesh = network.mesh
    inside = np.flatnonzero(np.isin(mesh.kind, ("liquid", "gas")))
    part = np.where(network.cell_node[inside] >= 0, share[np.maximum(network.cell_node[inside], 0)], 0.0)
    limit = ICE if network.case.contents.fluid.frozen_share is None else ANY_ICE
    nearest = cKDTree(mesh.site[inside])
    return lambda point: (part < limit)[nearest.query(point)[1]]
