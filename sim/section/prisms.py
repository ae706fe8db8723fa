"""Cells of sites that repeat the plan in layers: prisms, whose faces need no triangulation in space."""

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix

from sim.basics import Array, IntArray
from sim.section.mesh import voronoi
from sim.section.space import SiteFaces

ABSENT, REMOVED = -1, -2  # in a table of sites: never there; taken away for a site that is of no column


def prisms(plane: Array, z: Array, edge: Array, table: IntArray) -> SiteFaces:
    """The faces of sites at columns (c, 2) m and heights (k,), with edges (k + 1,) midway between; table (k, c): the
    number of each site, or ABSENT or REMOVED."""
    vertex, pair, ends = voronoi(plane)
    length = np.hypot(*(vertex[ends[:, 0]] - vertex[ends[:, 1]]).T)
    gap = np.hypot(*(plane[pair[:, 0]] - plane[pair[:, 1]]).T)
    there = length > 1e-6 * gap
    pair, length, gap = pair[there], length[there], gap[there]
    column = np.bincount(pair.ravel(), np.repeat(0.25 * length * gap, 2), len(plane))
    thick = np.diff(edge)
    one, other = table[:, pair[:, 0]], table[:, pair[:, 1]]
    aside = np.outer(thick, length)
    here = (one >= 0) & (other >= 0)
    low, high = table[:-1], table[1:]
    both = (low >= 0) & (high >= 0)
    up = np.broadcast_to(column, both.shape)
    pairs = np.concatenate([np.stack([one[here], other[here]], 1), np.stack([low[both], high[both]], 1)])
    area = np.concatenate([aside[here], up[both]])
    apart = np.concatenate(
        [np.broadcast_to(gap, here.shape)[here], np.broadcast_to(np.diff(z)[:, None], both.shape)[both]]
    )
    return SiteFaces(np.sort(pairs, axis=1), area, apart)


def graph(faces: SiteFaces, sites: int) -> csr_matrix:
    """Which sites are neighbours, (sites, sites)."""
    i, j = faces.pair.T
    one = np.ones(2 * len(i), np.int8)
    return coo_matrix((one, (np.concatenate([i, j]), np.concatenate([j, i]))), shape=(sites, sites)).tocsr()


def beside(neighbours: csr_matrix, which: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Sites that are among some, or neighbours of one."""
    near: NDArray[np.bool_] = which | (neighbours @ which.astype(np.int32) > 0)
    return near


def bereft(table: IntArray, plane: Array, sites: int) -> NDArray[np.bool_]:
    """Sites in columns a neighbour of which was taken away."""
    _, pair, _ = voronoi(plane)
    removed = table == REMOVED
    beside_removed = np.zeros(sites, bool)
    for a, b in (pair.T, pair[:, ::-1].T):
        beside_removed[table[:, a][(table[:, a] >= 0) & removed[:, b]]] = True
    for a, b in ((table[:-1], removed[1:]), (table[1:], removed[:-1])):
        beside_removed[a[(a >= 0) & b]] = True
    return beside_removed
