"""Radiation across air voids in the finite-element check: grey, diffuse patches of the void's own bounds in the mesh.

Patches are runs of element sides, seen from each other as straight lines: Hottel's crossed strings, times the part of
sight lines between them that meet no third patch and leave both towards the void. What is missing of a patch's
view is scaled in evenly, what is left then is its view of itself. All reflections: Gebhart (1961).
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.constants import Stefan_Boltzmann
from scipy.sparse import csr_matrix

from validation.peers.elements.lines import Array, Entries, Lines, gebhart
from validation.peers.elements.mesh import FieldMesh

IntArray = NDArray[np.int64]
OUTLINE = 48  # patches around a tracer at the least
LONGEST = 1 / 100  # of a patch over all bounds of the voids
NEAR = 0.2  # growth of a patch's length with its distance from the next tracer
SCALINGS = 50
EYES = (0.25, 0.75)  # points of a patch, as parts of its length, between which sight lines run
OVER_FOIL = -1  # what a void's side has beyond it there
CHUNK = 4000  # sight lines looked along together


@dataclass
class VoidBounds:
    """lines: sides of a void; number (k,): the patch of each; mean (m, nodes): a patch's temperature; grey (m, m): m2
    per metre of sigma (Ti^4 - Tj^4) between patches; area (m,) m."""

    lines: Lines
    number: IntArray
    mean: csr_matrix
    grey: Array
    area: Array


def bounds_of(case: Any, grid: FieldMesh) -> VoidBounds | None:
    """The voids' bounds; None where there is no void of air, or nothing in it emits."""
    void = case.insulation.void
    code = grid.names.index("void")
    mesh = grid.mesh
    sides = np.where(
        mesh.f2t >= 0, grid.region[mesh.f2t], OVER_FOIL
    )  # a void ends alone where foil is pressed on it
    rim = (sides == code).sum(axis=0) == 1
    if not rim.any() or void.conductivity is not None:
        return None
    facet = np.flatnonzero(rim)
    other = np.where(sides[0, rim] == code, sides[1, rim], sides[0, rim])
    air = mesh.f2t[np.where(sides[0, rim] == code, 0, 1), facet]
    body = np.array(
        ["pipe" if n == "wall" else n if n.startswith("tracer") else "insulation" for n in grid.names]
        + ["insulation"]
    )[other]
    nodes = np.stack([mesh.facets[0, facet], mesh.dofs.facet_dofs[0, facet], mesh.facets[1, facet]], axis=1)
    if "beneath" in grid.lines:  # the foil itself sees the void
        over = np.arange(grid.points.shape[1])
        over[grid.lines["beneath"]] = grid.lines["foil"]
        nodes[other == OVER_FOIL] = over[nodes[other == OVER_FOIL]]
    along = (grid.points[:, nodes[:, 2]] - grid.points[:, nodes[:, 0]]).T
    towards = grid.points[:, mesh.t[:, air]].mean(axis=1).T - grid.points[:, nodes[:, 1]].T
    into = np.stack([-along[:, 1], along[:, 0]], axis=-1)
    into *= np.sign((into * towards).sum(axis=1))[:, None]
    lines = Lines(grid.points, nodes)
    length = lines.weight.sum(axis=1)
    number, ends = _patches(grid.points, nodes, body, length)
    m = len(ends)
    first = np.unique(number, return_index=True)[1]
    emits = {"pipe": void.pipe_emissivity, "insulation": void.insulation_emissivity}
    grey_of = np.array([float(emits.get(b, void.tracer_emissivity)) for b in body[first]])
    area = np.bincount(number, length, m).astype(float)
    share = lines.load(1.0) / area[number][:, None]
    mean = csr_matrix((share.ravel(), (np.repeat(number, 3), nodes.ravel())), (m, grid.points.shape[1]))
    view = _exchange_areas(ends, into[first], area)
    return VoidBounds(lines, number, mean, gebhart(view, area, grey_of), area)


def add_radiation(bounds: VoidBounds, entries: Entries, field: Array, nodes: int) -> Array:
    """Radiation about the temperatures of the last round, field (nodes + ...,) K: what a side loses by its own
    temperature goes into the entries, what the patches' means (m unknowns) give to it is returned, (nodes, m)."""
    warm = bounds.mean @ field[:nodes]
    square = warm**2
    joint = bounds.grey * Stefan_Boltzmann * (square[:, None] + square) * (warm[:, None] + warm)
    local = joint.sum(axis=1) / bounds.area
    entries.blocks(bounds.lines.nodes, bounds.lines.nodes, bounds.lines.mass(local[bounds.number][:, None]))
    return -(bounds.mean.T @ joint)


def _patches(points: Array, nodes: IntArray, body: NDArray[np.str_], length: Array) -> tuple[IntArray, Array]:
    """Runs of sides of one body: the run of each side (k,), and the two ends of each run (m, 2, 2) m."""
    middle = points[:, nodes[:, 1]].T
    longest = np.full(len(nodes), LONGEST * length.sum())
    for name in np.unique(body):
        mine = body == name
        if name.startswith("tracer"):
            finest = length[mine].sum() / OUTLINE
            longest[mine] = np.minimum(longest[mine], finest)
            apart = np.linalg.norm(middle[~mine][:, None] - middle[mine][None], axis=-1).min(axis=1)
            longest[~mine] = np.minimum(longest[~mine], finest + NEAR * apart)
    number, ends = np.full(len(nodes), -1), list[Array]()
    at: dict[tuple[str, int], list[int]] = {}
    for side, (a, _, b) in enumerate(nodes):
        for tip in (int(a), int(b)):
            at.setdefault((body[side], tip), []).append(side)
    tips = [k for k in range(len(nodes)) if min(len(at[body[k], int(nodes[k, i])]) for i in (0, 2)) == 1]
    for start in [*tips, *range(len(nodes))]:
        if number[start] >= 0:
            continue
        k: int | None = start
        tip, other = int(nodes[start, 0]), int(nodes[start, 2])
        if len(at[body[start], tip]) > 1 and len(at[body[start], other]) == 1:
            tip = other
        run, begin = 0.0, tip
        while k is not None:
            run += length[k]
            number[k] = len(ends)
            tip = int(nodes[k, 0] + nodes[k, 2] - tip)
            following = [j for j in at[body[k], tip] if number[j] < 0]
            full = run > longest[k] - 0.5 * length[k]
            if full or not following:
                ends.append(points[:, [begin, tip]].T)
                run, begin = 0.0, tip
            k = following[0] if following else None
    return number, np.array(ends)


def _exchange_areas(ends: Array, into: Array, area: Array) -> Array:
    """Area times view factor (m, m), m: ends (m, 2, 2) of patches, into (m, 2) a direction towards their void."""
    a, b = ends[:, 0], ends[:, 1]
    apart = np.linalg.norm

    def every(p: Array, q: Array) -> Array:
        return apart(p[:, None] - q[None], axis=-1)

    strings = 0.5 * np.abs(every(a, a) + every(b, b) - every(a, b) - every(b, a))
    normal = np.stack([-(b - a)[:, 1], (b - a)[:, 0]], axis=-1)
    normal *= np.sign((normal * into).sum(axis=1))[:, None]
    i, j = np.triu_indices(len(ends), 1)
    seen = np.zeros(len(i))
    for s in EYES:
        for t in EYES:
            p, q = a + s * (b - a), a + t * (b - a)
            for part in range(0, len(i), CHUNK):
                k = slice(part, part + CHUNK)
                seen[k] += _sees(p[i[k]], q[j[k]], normal[i[k]], normal[j[k]], i[k], j[k], a, b)
    exchange = np.zeros_like(strings)
    exchange[i, j] = exchange[j, i] = strings[i, j] * seen / len(EYES) ** 2
    for _ in range(SCALINGS):
        total = exchange.sum(axis=1)  # 0 at the tip of a cusp
        scale = np.sqrt(np.where(total > 0, area / np.maximum(total, 1e-30), 1.0))
        exchange *= scale[:, None] * scale
    exchange[np.diag_indices(len(area))] += area - exchange.sum(axis=1)
    return exchange


def _sees(
    p: Array, q: Array, at_p: Array, at_q: Array, i: IntArray, j: IntArray, a: Array, b: Array
) -> NDArray[np.bool_]:
    """Whether p and q (n, 2) on patches i, j (n,) see each other past all patches from a to b (m, 2)."""
    way = q - p
    clear = ((way * at_p).sum(axis=1) > 0) & ((way * at_q).sum(axis=1) < 0)
    left = np.flatnonzero(clear)
    d, e = way[left, None], (b - a)[None]
    f = a[None] - p[left, None]
    cross = d[..., 0] * e[..., 1] - d[..., 1] * e[..., 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        along = (f[..., 0] * e[..., 1] - f[..., 1] * e[..., 0]) / cross
        at = (f[..., 0] * d[..., 1] - f[..., 1] * d[..., 0]) / cross
    met = (along > 0) & (along < 1) & (at > 0) & (at < 1)
    met[np.arange(len(left)), i[left]] = False
    met[np.arange(len(left)), j[left]] = False
    clear[left] = ~met.any(axis=1)
    return clear
