"""Lumped contents in the finite-element check: films, one temperature of liquid and of gas, radiation across the bore.

The bore's lines are wet below the level and dry above it. Dry lines and the liquid's surface exchange heat as grey,
diffuse bodies. On a circle of radius R two patches dl, dl' at the angle a from each other about its centre see

    dF = cos(phi) cos(phi') / (2 s) dl' = sin(a / 2) / (4 R) dl',    s = 2 R sin(a / 2), phi = phi' = (pi - a) / 2

of one another, and the liquid's surface takes from a patch what the wetted arc behind it would: (cos(a1 / 2) -
cos(a2 / 2)) / 2 with a1, a2 the angles to the arc's two ends. The surface is one patch.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.constants import Stefan_Boltzmann
from scipy.sparse import csr_matrix

from validation.peers.elements.lines import Array, Depth, Entries, Lines, gebhart
from validation.peers.elements.mesh import FieldMesh

SURFACE_EMISSIVITY = 0.95  # of a liquid's free surface, from memory


@dataclass
class Bore:
    """`lumps`: names of the unknowns liquid, gas, surface in their order; `films`: W/m2/K on the wet and the dry lines;
    `width`: of the liquid's surface, m; `given`: temperature of flowing contents, K; `exchange` (m + 1, m + 1): see
    `_exchange`; `patch` (m, nodes): mean temperature of each dry line."""

    wet: Lines | None
    dry: Lines | None
    films: tuple[float, float]
    width: float
    given: float | None
    lumps: list[str]
    exchange: Array | None
    patch: csr_matrix | None


def bore_of(case: Any, grid: FieldMesh, films: tuple[float, float], depth: Depth | None = None) -> Bore:
    """The bore's surface. `films`: coefficients of liquid and gas, W/m2/K."""
    contents, radius = case.contents, case.pipe.inner_radius
    nodes, points = grid.lines["bore"], grid.points
    level = -np.inf
    if contents.state != "empty" and contents.fill > 0:
        level = radius * (2 * contents.fill - 1) if contents.fill < 1 else np.inf
    below = points[1, nodes[:, 1]] < level
    wet = Lines(points, nodes[below], depth) if below.any() else None
    dry = Lines(points, nodes[~below], depth) if (~below).any() else None
    given = float(contents.temperature) if contents.state == "flowing" else None
    lumps = (["liquid"] if wet and given is None else []) + (["gas"] if dry else [])
    if contents.film_coefficient == 0:
        return Bore(wet, dry, (0.0, 0.0), 0.0, given, [], None, None)
    if dry and depth is not None:
        raise ValueError("gas in the bore of a bend is not in the finite-element solution")
    if not dry:
        return Bore(wet, None, films, 0.0, given, lumps, None, None)
    width = 0.0
    if wet:
        lumps.append("surface")
        width = 2 * float(np.sqrt(radius**2 - level**2))
    patch = dry.load(1.0) / dry.weight.sum(axis=1)[:, None]
    rows = np.repeat(np.arange(len(dry.nodes)), 3)
    mean = csr_matrix((patch.ravel(), (rows, dry.nodes.ravel())), (len(dry.nodes), points.shape[1]))
    edge = float(np.arccos(np.clip(level / radius, -1.0, 1.0))) if wet else np.pi
    exchange = _exchange(mean @ points.T, dry.weight.sum(axis=1), radius, edge, float(contents.emissivity))
    return Bore(wet, dry, films, width, given, lumps, exchange, mean)


def _exchange(middle: Array, length: Array, radius: float, edge: float, emissivity: float) -> Array:
    """Grey exchange (m + 1, m + 1), m2 per metre, between patches at `middle` (m, 2) and, last, the liquid's surface.

    Heat from i to j: exchange sigma (Ti^4 - Tj^4). edge: angle from 12 o'clock at which the level meets the wall
    (pi: no liquid). What rounding and the size of the patches leave of each row is a patch's view of itself.
    """
    angle = np.arctan2(middle[:, 0], middle[:, 1])
    apart = np.abs(np.subtract.outer(angle, angle))
    m = len(length)
    area = np.append(length, 2 * radius * np.sin(edge))
    seen = np.zeros((m + 1, m + 1))
    seen[:m, :m] = np.outer(length, length) * np.sin(0.5 * apart) / (4 * radius)
    to_surface = 0.5 * (np.cos(0.5 * (edge - angle)) + np.cos(0.5 * (edge + angle)))
    seen[:m, m] = seen[m, :m] = length * to_surface
    if edge == np.pi:
        area[m], seen[m], seen[:, m] = 1.0, 0.0, 0.0
    seen[np.diag_indices(m + 1)] = area - seen.sum(axis=1)
    return gebhart(seen, area, np.append(np.full(m, emissivity), SURFACE_EMISSIVITY))


@dataclass
class BoreSystem:
    """What the bore adds: entries between nodes, load (nodes,), columns (nodes, m), corner (m, m), right (m,)."""

    entries: Entries
    load: Array
    columns: Array
    corner: Array
    right: Array


def bore_system(bore: Bore, nodes: int, field: Array) -> BoreSystem:
    """Films, and radiation about the temperatures of the last round: nodes first, then the lumps (nodes + m,)."""
    m = len(bore.lumps)
    out = BoreSystem(Entries(), np.zeros(nodes), np.zeros((nodes, m)), np.zeros((m, m)), np.zeros(m))
    at = {name: i for i, name in enumerate(bore.lumps)}
    for lines, film, lump in ((bore.wet, bore.films[0], "liquid"), (bore.dry, bore.films[1], "gas")):
        if lines is None or film == 0:
            continue
        out.entries.blocks(lines.nodes, lines.nodes, lines.mass(film))
        pull = lines.vector(nodes, film)
        if lump in at:
            out.columns[:, at[lump]] -= pull
            out.corner[at[lump], at[lump]] += pull.sum()
        elif bore.given is not None:
            out.load += bore.given * pull
    if "surface" in at:
        s, g = at["surface"], at["gas"]
        on_liquid, on_gas = (bore.width * film for film in bore.films)
        _join(out.corner, s, g, on_gas)
        if "liquid" in at:
            _join(out.corner, s, at["liquid"], on_liquid)
        elif bore.given is not None:
            out.corner[s, s] += on_liquid
            out.right[s] += on_liquid * bore.given
    if bore.exchange is not None and bore.patch is not None:
        _radiation(bore, out, field, nodes, at.get("surface"))
    return out


def _join(corner: Array, a: int, b: int, conductance: float) -> None:
    corner[a, a] += conductance
    corner[b, b] += conductance
    corner[a, b] -= conductance
    corner[b, a] -= conductance


def _radiation(bore: Bore, out: BoreSystem, field: Array, nodes: int, surface: int | None) -> None:
    assert bore.exchange is not None
    assert bore.patch is not None
    warm = np.append(bore.patch @ field[:nodes], 0.0 if surface is None else field[nodes + surface])
    square = warm**2
    joint = bore.exchange * Stefan_Boltzmann * (square[:, None] + square) * (warm[:, None] + warm)
    between = joint[:-1, :-1]
    own = np.diag(joint[:-1].sum(axis=1)) - between
    used = np.unique(bore.patch.indices)
    patch = bore.patch[:, used].toarray()
    block = patch.T @ own @ patch
    out.entries.blocks(used[None], used[None], block[None])
    if surface is not None:
        out.columns[used, surface] -= patch.T @ joint[:-1, -1]
        out.corner[surface, surface] += joint[-1, :-1].sum()


def from_contents(bore: Bore, field: Array, nodes: int) -> float:
    """Heat that flowing contents of a given temperature give off, W/m."""
    if bore.given is None or bore.wet is None:
        return 0.0
    heat = bore.films[0] * bore.wet.length * (bore.given - bore.wet.mean(field))
    if "surface" in bore.lumps:
        heat += bore.width * bore.films[0] * (bore.given - float(field[nodes + bore.lumps.index("surface")]))
    return heat
