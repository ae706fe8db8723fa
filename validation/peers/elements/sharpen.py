"""Finer triangles around the ends of a contact, laid where a mesh generator's own tests run out of digits.

At the end of a contact the field goes as r^p, p well below one half (pipe, tracer and insulation meet there,
and the contact shuts like a crack), so the triangles must shrink by many powers of ten.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

RATIO = 0.25  # each ring is this much nearer to the end than the one before
RINGS = 10

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Triangles:
    """A mesh before it becomes unknowns.

    `xy` (2, n_nodes); `corner` (n, 3); `middle` (2, n, 3) of the sides 0-1, 1-2, 2-0; `region` (n,);
    `lines` by label, each (m, 2) end nodes.
    """

    xy: Floats
    corner: Ints
    middle: Floats
    region: Ints
    lines: dict[str, Ints]


def _split_lines(lines: Ints, tip: int, chain: dict[int, list[int]]) -> Ints:
    touching = (lines == tip).any(axis=1)
    pieces = [lines[~touching]]
    for line in lines[touching]:
        path = [int(line[line != tip][0])]
        path += chain[path[0]]
        path.append(tip)
        pieces.append(np.array([path[:-1], path[1:]]).T)
    return np.concatenate(pieces)


def sharpen(mesh: Triangles, tip: int, rings: int = RINGS) -> Triangles:
    """Replace the triangles at node `tip` by `rings` rings around it, each RATIO as far out as the last.

    New sides are straight; the outermost keep their own middles.
    """
    at, place = np.nonzero(mesh.corner == tip)
    a = mesh.corner[at, (place + 1) % 3]
    b = mesh.corner[at, (place + 2) % 3]
    far = mesh.middle[:, at, (place + 1) % 3]
    around = np.unique(np.concatenate([a, b]))
    n = mesh.xy.shape[1]
    scale = RATIO ** np.arange(1, rings + 1)
    centre = mesh.xy[:, [tip]]
    shifted = centre[:, :, None] + scale[None, :, None] * (mesh.xy[:, around] - centre)[:, None, :]
    xy = np.concatenate([mesh.xy, shifted.reshape(2, -1)], axis=1)
    level = np.vstack([around, n + np.arange(rings * len(around)).reshape(rings, -1)])
    ia, ib = np.searchsorted(around, a), np.searchsorted(around, b)
    corners = [np.stack([level[k + 1][ia], level[k][ia], level[k][ib]], axis=1) for k in range(rings)]
    corners += [np.stack([level[k + 1][ia], level[k][ib], level[k + 1][ib]], axis=1) for k in range(rings)]
    corners.append(np.stack([np.full_like(a, tip), level[rings][ia], level[rings][ib]], axis=1))
    added = np.concatenate(corners)
    middle = 0.5 * (xy[:, added] + xy[:, np.roll(added, -1, axis=1)])
    middle[:, : len(at), 1] = far
    others = np.setdiff1d(np.arange(len(mesh.corner)), at)
    chain = {int(node): [int(i) for i in level[1:, j]] for j, node in enumerate(around)}
    return replace(
        mesh,
        xy=xy,
        corner=np.concatenate([mesh.corner[others], added]),
        middle=np.concatenate([mesh.middle[:, others], middle], axis=1),
        region=np.concatenate([mesh.region[others], np.tile(mesh.region[at], 2 * rings + 1)]),
        lines={label: _split_lines(segments, tip, chain) for label, segments in mesh.lines.items()},
    )
