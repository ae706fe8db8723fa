"""The width of a void at any point of it in the finite-element check: distances to the two nearest bodies, summed.

Bodies are the pipe, each tracer and the insulation, each where it bounds a void. Distances are to the mesh's own
curved sides, taken as short straight pieces.
"""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from sim.verify.elements.lines import Array
from sim.verify.elements.mesh import FieldMesh

PIECES = 4  # straight pieces a side
NEAREST = 6  # pieces whose true distance is taken


def void_width(grid: FieldMesh, points: Array) -> Array:
    """Width (m) at points (2, n): the void's own bounds are found in the mesh."""
    apart = [_distance(points, *pieces) for pieces in _bounds(grid).values()]
    if len(apart) < 2:
        return 2 * apart[0]
    return np.sort(np.stack(apart), axis=0)[:2].sum(axis=0)


def _bounds(grid: FieldMesh) -> dict[str, tuple[Array, Array]]:
    """Straight pieces, start and stop (2, k) each, of the sides between a void and each body."""
    mesh, code = grid.mesh, grid.names.index("void")
    kind = ["pipe" if n == "wall" else n if n.startswith("tracer") else "insulation" for n in grid.names]
    inner = np.flatnonzero(mesh.f2t[1] >= 0)
    sides = grid.region[mesh.f2t[:, inner]]
    rim = (sides == code).sum(axis=0) == 1
    facet, other = inner[rim], np.where(sides[0, rim] == code, sides[1, rim], sides[0, rim])
    a, b = (grid.points[:, mesh.facets[i, facet]] for i in (0, 1))
    middle = grid.points[:, mesh.dofs.facet_dofs[0, facet]]
    t = np.linspace(0.0, 1.0, PIECES + 1)
    along = [a * ((1 - s) * (1 - 2 * s)) + middle * (4 * s * (1 - s)) + b * (s * (2 * s - 1)) for s in t]
    curve = np.stack(along)  # (PIECES + 1, 2, k)
    found = {}
    for body in sorted({kind[i] for i in other}):
        mine = np.array([kind[i] == body for i in other])
        start, stop = curve[:-1][:, :, mine], curve[1:][:, :, mine]
        found[body] = tuple(np.moveaxis(c, 1, 0).reshape(2, -1) for c in (start, stop))
    return found  # type: ignore[return-value]


def _distance(points: Array, start: Array, stop: Array) -> Array:
    """Distance (n,) of points (2, n) from the nearest of many straight pieces."""
    pieces = min(NEAREST, start.shape[1])
    near = cKDTree(0.5 * (start + stop).T).query(points.T, pieces)[1].reshape(points.shape[1], pieces)
    a, along = start[:, near], (stop - start)[:, near]
    t = ((points[:, :, None] - a) * along).sum(axis=0) / (along**2).sum(axis=0)
    foot = a + np.clip(t, 0.0, 1.0) * along
    return np.linalg.norm(points[:, :, None] - foot, axis=0).min(axis=1)
