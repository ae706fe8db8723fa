"""Grey radiation between the surfaces of an enclosure, as joints of the network.

Patches of an enclosure (`sim.section.enclosure`) exchange G_pq sigma (T_p^4 - T_q^4), all reflections counted, the
T^4 of a patch being the mean over its surfaces: Gebhart's method (Gebhart 1961, Int. J. Heat Mass Transfer 3, 341-346;
from memory), with the exchange areas of the view factors. The network has far more surface nodes than patches, so each
patch gets a node of its own, whose T^4 is no surface's but a means to join all surfaces of a patch to all the others.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sim.section import enclosure
from sim.section.mesh import IntArray
from sim.section.shapes import Array, PlaneCurve

MIRROR = 1e-9  # emissivity below which an enclosure of mirrors has no solution
STIFF = 3.0  # joints of a patch's surfaces to its node over what the patch exchanges; above 2 for M to exist

Joints = tuple[IntArray, IntArray, Array]
"""Node, node, area (m2 per metre of pipe) of sigma (Ta^4 - Tb^4) from a to b."""


def gebhart(exchange: Array, emissivity: Array) -> Array:
    """Grey exchange G (n, n), m, of patches with exchange areas A F (n, n), m, and emissivities (n,).

    G_ij = A_i e_i B_ij, B = (I - F (1 - e))^-1 F e; symmetric, diagonal zero. A row of A F sums to the patch's area.
    """
    area = exchange.sum(axis=1)
    view = exchange / area[:, None]
    reflected = 1.0 - np.maximum(emissivity, MIRROR)
    absorbed = np.linalg.solve(np.eye(len(area)) - view * reflected, view * emissivity)
    grey: Array = (area * emissivity)[:, None] * absorbed
    grey = 0.5 * (grey + grey.T)
    np.fill_diagonal(grey, 0.0)
    return grey


def spread(grey: Array, patch: IntArray, node: IntArray, area: Array, free: int) -> tuple[Joints, int]:
    """Joints that exchange `grey` (n, n) between the means of patches, and how many nodes they take from `free` on.

    Surfaces: the patch, node and area (k,) of each. With S = diag(row sums), L = S - G and D = STIFF S, surfaces are
    joined to their patch's node by their share of D, and patch nodes to each other by the off-diagonal of
    -M, M = L (I - D^-1 L)^-1, so that the two in series are L exactly. M exists while D > 2 S; the smaller D, the less
    surfaces of one patch exchange through its node what they do not see. Some joints of M are slightly negative;
    together with D they are L, which is not. Patches without a surface take part as they do not gain or lose heat.
    """
    count = len(grey)
    total = grey.sum(axis=1)
    alive = np.flatnonzero(total > 0)
    if not len(alive) or not len(patch):
        return (np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0)), 0
    strong = STIFF * total[alive]
    laplace = np.diag(total[alive]) - grey[np.ix_(alive, alive)]
    joined = laplace @ np.linalg.inv(np.eye(len(alive)) - laplace / strong[:, None])
    joined = -0.5 * (joined + joined.T)
    number = np.full(count, -1)
    number[alive] = free + np.arange(len(alive))
    shines = number[patch] >= 0
    patch, node, area = patch[shines], node[shines], area[shines]
    share = area / np.bincount(patch, area, count)[patch]
    i, j = np.nonzero(np.triu(joined, 1))
    a = np.concatenate([node, number[alive[i]]])
    b = np.concatenate([number[patch], number[alive[j]]])
    return (a, b, np.concatenate([STIFF * total[patch] * share, joined[i, j]])), len(alive)


@dataclass(frozen=True)
class View:
    """What surfaces of an enclosure see: patch (k,) of each, wall (n,) of each patch, exchange areas (n, n), m."""

    patch: IntArray
    wall: IntArray
    exchange: Array


def view(
    bounds: Sequence[PlaneCurve],
    tracer: Sequence[int],
    fineness: float,
    curve_of: IntArray,
    point: Array,
) -> View:
    """What surfaces see from their points (k, 2), m; own (k,): the curve on which each lies.

    tracer (n_curves,): the tracer whose outline a curve is, or -1.
    """
    place = np.empty(len(curve_of))
    for k, curve in enumerate(bounds):
        place[curve_of == k] = enclosure.fraction(curve, point[curve_of == k])
    cuts = []
    for k, longest in enumerate(enclosure.wanted_length(bounds, tracer, fineness)):
        at = np.sort(place[curve_of == k])
        cuts.append(enclosure.cut(bounds[k], longest, 0.5 * (at[1:] + at[:-1])))
    patches = enclosure.patches(bounds, cuts)
    first = np.concatenate([[0], np.cumsum([len(c) - 1 for c in cuts])])
    patch = np.empty(len(curve_of), np.int64)
    for k, c in enumerate(cuts):
        patch[curve_of == k] = first[k] + np.clip(
            np.searchsorted(c, place[curve_of == k], side="right") - 1, 0, len(c) - 2
        )
    return View(patch, patches.wall, enclosure.exchange_areas(bounds, patches))


def swept(seen: View, depth: Array) -> View:
    """What surfaces of a depth (k,) see of each other around a bend: each pair's exchange times its mean depth.

    View factors stay the straight section's, which is right where the enclosure is small beside the bend.
    """
    count = len(seen.wall)
    met = np.bincount(seen.patch, minlength=count)
    each = np.where(met > 0, np.bincount(seen.patch, depth, count) / np.maximum(met, 1), 1.0)
    return replace(seen, exchange=seen.exchange * 0.5 * (each[:, None] + each))


def radiation(seen: View, emissivity: Array, node: IntArray, area: Array, free: int) -> tuple[Joints, int]:
    """Joints of grey exchange between surface nodes, and how many further nodes they take from `free` on.

    emissivity: of each wall; surfaces (k,): node and area, m2 per metre.
    """
    grey = gebhart(seen.exchange, emissivity[seen.wall])
    faces = np.zeros(len(grey), bool)  # patches that some surface sees: others would hang in the air
    faces[seen.patch] = True
    for _ in range(int(seen.wall.max()) + 1):
        faces = faces | (grey[:, faces] > 0).any(axis=1)
    grey[~faces] = 0.0
    grey[:, ~faces] = 0.0
    return spread(grey, seen.patch, node, area, free)
