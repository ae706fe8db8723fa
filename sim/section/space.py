"""Voronoi cells in space: areas of the faces between sites, from the triangles and tetrahedra between them.

A face is the dual of an edge: it is cut by the tetrahedra around the edge into kites, from the edge's middle over the
centres of two triangles to that of the tetrahedron. The signed sum of the kites is the face's area, in whatever order
they come, so that no face is ever walked around.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.spatial import Delaunay

from sim.basics import Array, IntArray

SHAKE = 1e-7  # of the nearest neighbour's distance, by which sites are moved: prisms stand on one sphere all together
NO_FACE = 1e-5  # of the sites' distance squared: a face smaller than this is none
EDGES = tuple(combinations(range(4), 2))
TRIANGLES = tuple(combinations(range(4), 3))


@dataclass(frozen=True)
class SiteFaces:
    """Faces between sites: pair (m, 2) of site numbers, smaller first, area (m,) m2; distance (m,) m of their sites."""

    pair: IntArray
    area: Array
    distance: Array


def _sphere(p: Array) -> Array:
    """Centres of the spheres through four points each (n, 4, 3), less the first point, m."""
    edge = p[:, 1:] - p[:, :1]
    square = (edge**2).sum(axis=2)
    a, b, c = edge[:, 0], edge[:, 1], edge[:, 2]
    bc, ca, ab = np.cross(b, c), np.cross(c, a), np.cross(a, b)
    centre: Array = (square[:, :1] * bc + square[:, 1:2] * ca + square[:, 2:] * ab) / (
        2 * (a * bc).sum(axis=1)[:, None]
    )
    return centre


def _circle(u: Array, v: Array) -> Array:
    """Centres of the circles through 0, u and v, (n, 3)."""
    cross = np.cross(u, v)
    uu, vv = (u**2).sum(axis=1)[:, None], (v**2).sum(axis=1)[:, None]
    centre: Array = np.cross(uu * v - vv * u, cross) / (2 * (cross**2).sum(axis=1)[:, None])
    return centre


def space(site: Array) -> SiteFaces:
    """The faces between sites (n, 3), m. Faces of cells that are not closed are too small: their neighbours are to be
    sites of no interest."""
    from scipy.spatial import cKDTree

    near = cKDTree(site).query(site, k=2)[0][:, 1]
    shake = np.random.default_rng(0).uniform(-1.0, 1.0, site.shape)
    moved = site + SHAKE * near[:, None] * shake
    corner = Delaunay(moved).simplices.astype(np.int64)
    p = moved[corner]
    centre = _sphere(p)
    edge = p - p[:, :1]
    sense = np.sign((edge[:, 1] * np.cross(edge[:, 2], edge[:, 3])).sum(axis=1))
    circle = {}
    for t in TRIANGLES:
        i, j, k = t
        circle[t] = edge[:, i] + _circle(edge[:, j] - edge[:, i], edge[:, k] - edge[:, i])
    first, second, part = [], [], []
    for i, j in EDGES:
        k, other = (n for n in range(4) if n not in (i, j))
        middle = 0.5 * (edge[:, i] + edge[:, j])
        along = edge[:, j] - edge[:, i]
        along = along / np.sqrt((along**2).sum(axis=1))[:, None]
        one = circle[tuple(sorted((i, j, k)))] - middle  # type: ignore[index]
        two = circle[tuple(sorted((i, j, other)))] - middle  # type: ignore[index]
        out = centre - middle
        turn = 1.0 if (i, j, k, other) in EVEN else -1.0
        kite = (along * (np.cross(one, out) + np.cross(out, two))).sum(axis=1)
        first.append(corner[:, i])
        second.append(corner[:, j])
        part.append(0.5 * turn * sense * kite)
    a, b = np.concatenate(first), np.concatenate(second)
    low, high = np.minimum(a, b), np.maximum(a, b)
    key, inverse = np.unique(low * len(site) + high, return_inverse=True)
    area = np.bincount(inverse, np.concatenate(part))
    pair = np.stack([key // len(site), key % len(site)], axis=1)
    distance = np.sqrt(((site[pair[:, 0]] - site[pair[:, 1]]) ** 2).sum(axis=1))
    there = area > NO_FACE * distance**2
    return SiteFaces(pair[there], area[there], distance[there])


def _even(order: tuple[int, ...]) -> bool:
    return sum(order[a] > order[b] for a, b in EDGES) % 2 == 0


EVEN = {
    (i, j, *(n for n in range(4) if n not in (i, j)))
    for i, j in EDGES
    if _even((i, j, *(n for n in range(4) if n not in (i, j))))
}
