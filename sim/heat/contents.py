"""Contents that are lumped: films on the bore, one temperature for the liquid and one for the gas, radiation."""

from dataclasses import dataclass, replace

import numpy as np

from sim.basics import IntArray
from sim.case import Case
from sim.heat.bore import bore_coefficient, exchange_factors
from sim.heat.joints import Joints, Links, Radiation, no_links, together
from sim.heat.outlets import Given
from sim.section.mesh import PlanMesh
from sim.section.shapes import Array

LIQUID_EMISSIVITY = 0.95  # free surface of a liquid, from memory
SLIVER = 0.01  # a bore face shorter than this part of the mean takes no part in the radiation


@dataclass(frozen=True)
class Bore:
    """The bore's surface where the contents are lumped.

    face_node, face_area, face_point (n, 2), film (n,): one per bore face, film conductance in W/m/K;
    radiation: node, node, exchange area (m2/m) of all pairs of dry faces; liquid, gas, surface: nodes or -1 (the
    liquid's free surface); surface_film, surface_gas_film: its conductance to either side, W/m/K;
    liquid_at: given temperature of flowing contents, K, or None.
    """

    face_node: IntArray
    face_area: Array
    face_point: Array
    radiation: tuple[IntArray, IntArray, Array]
    liquid: int
    gas: int
    liquid_at: float | None
    surface: int
    surface_film: float
    surface_gas_film: float
    film: Array
    source: tuple[str, ...]


def lumped_contents(case: Case, mesh: PlanMesh, faces: IntArray, node: IntArray, free: int) -> Bore:
    """Films, radiation and lumped bodies of contents that are flowing, mixed or empty.

    faces, node: of the bore; free: the first unused node number. A given film coefficient of 0
    leaves the bore adiabatic.
    """
    contents, layout = case.contents, mesh.layout
    area, length, point = mesh.face_area[faces], mesh.face_length[faces], mesh.face_point[faces]
    level = -np.inf if contents.state == "empty" else layout.level
    wet = point[:, 1] < level
    # a level need not fall between two faces: what they pass is held to the true wetted and dry lengths
    wetted = 2 * layout.inner_radius * float(np.arccos(np.clip(-level / layout.inner_radius, -1.0, 1.0)))
    given = contents.temperature if contents.state == "flowing" else None
    film = np.zeros(len(node))
    none = (np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0))
    bore = Bore(node, area, point, none, -1, -1, given, -1, 0.0, 0.0, film, ())
    if contents.film_coefficient == 0:
        return replace(bore, source=("the bore is adiabatic: a film coefficient of 0 is given",))
    sources, liquid, gas, surface, on_liquid, on_gas = [], -1, -1, -1, 0.0, 0.0
    if wet.any():
        on_liquid, source = bore_coefficient(contents, 2 * layout.inner_radius, "liquid")
        film[wet] = on_liquid * area[wet] * (wetted / length[wet].sum())
        sources.append(f"bore film, liquid: {on_liquid:.4g} W/m2/K ({source})")
        if contents.state == "mixed":
            liquid, free = free, free + 1
    dry = np.flatnonzero(~wet)
    pair, width = none, 0.0
    if len(dry):
        on_gas, source = bore_coefficient(contents, 2 * layout.inner_radius, "gas")
        film[dry] = on_gas * area[dry] * ((2 * np.pi * layout.inner_radius - wetted) / length[dry].sum())
        sources.append(f"bore film, gas: {on_gas:.4g} W/m2/K ({source})")
        gas, free = free, free + 1
        if wet.any():
            width = 2 * float(np.sqrt(max(layout.inner_radius**2 - level**2, 0.0)))
            width *= float(mesh.depth(np.array([0.0, level])))
            surface, free = free, free + 1
        seen = dry[length[dry] > SLIVER * length[dry].mean()]
        pair = _radiation(mesh, level, contents.emissivity, node[seen], point[seen], surface)
    return Bore(
        node,
        area,
        point,
        pair,
        liquid,
        gas,
        given,
        surface,
        width * on_liquid,
        width * on_gas,
        film,
        tuple(sources),
    )


def bore_joints(bore: Bore, level: float) -> tuple[dict[str, Joints], Given]:
    """What passes heat inside the bore: films and radiation, and what goes to contents of a given temperature.

    level: height below which the bore's faces are wet, m.
    """
    wet = bore.face_point[:, 1] < level
    films, given, at = [no_links()], [], bore.liquid_at
    free = np.array([bore.surface] if bore.surface >= 0 else [], np.int64)
    below, above = np.full(len(free), bore.surface_film), np.full(len(free), bore.surface_gas_film)
    for node, lump, film in (
        (bore.face_node[wet], bore.liquid, bore.film[wet]),
        (bore.face_node[~wet], bore.gas, bore.film[~wet]),
        (free, bore.liquid, below),
        (free, bore.gas, above),
    ):
        if lump >= 0:
            films.append(Links(node, np.full(len(node), lump), film))
    if bore.liquid < 0 and at is not None:
        given = [(bore.face_node[wet], bore.film[wet]), (free, below)]
    given_joints = [np.concatenate([np.zeros(0), *(g[i] for g in given)]) for i in (0, 1)]
    outlet = Given(
        given_joints[0].astype(np.int64), given_joints[1], np.full(len(given_joints[0]), at or 0.0)
    )
    return {"bore": together(films), "radiation": Radiation(*bore.radiation)}, outlet


def _radiation(
    mesh: PlanMesh, level: float, emissivity: float, node: IntArray, point: Array, surface: int
) -> tuple[IntArray, IntArray, Array]:
    """Exchange areas between all pairs of dry bore faces (and the liquid's surface): node, node, m2/m."""
    layout = mesh.layout
    turn = np.arctan2(point[:, 0], point[:, 1])
    order = np.argsort(turn)
    turn, number, depth = turn[order], node[order], mesh.depth(point[order])
    if surface >= 0:
        edge = float(np.arccos(np.clip(level / layout.inner_radius, -1.0, 1.0)))
        bounds = _shared_out(turn, edge)
        wide = np.diff(bounds) > SLIVER * np.diff(bounds).mean()
        number, depth, bounds = number[wide], depth[wide], _shared_out(turn[wide], edge)
    else:
        seam = 0.5 * (turn[-1] + turn[0] + 2 * np.pi)
        bounds = np.concatenate([[seam - 2 * np.pi], 0.5 * (turn[1:] + turn[:-1]), [seam]])
    corner = layout.inner_radius * np.stack([np.sin(bounds), np.cos(bounds)], axis=-1)
    start, stop, grey = corner[:-1], corner[1:], np.full(len(number), emissivity)
    if surface >= 0:
        start, stop = np.concatenate([start, corner[-1:]]), np.concatenate([stop, corner[:1]])
        number, grey = np.append(number, surface), np.append(grey, LIQUID_EMISSIVITY)
        depth = np.append(depth, mesh.depth(np.array([0.0, level])))
    exchange = (
        exchange_factors(start, stop, grey) * 0.5 * (depth[:, None] + depth)
    )  # as `sim.heat.radiation.swept`
    i, j = np.triu_indices(len(number), 1)
    return number[i], number[j], exchange[i, j]


def _shared_out(turn: Array, edge: float) -> Array:
    """Bounds (n + 1,) of faces at increasing angles (n,) that share the arc from -edge to edge."""
    between = np.clip(0.5 * (turn[1:] + turn[:-1]), -edge, edge)
    return np.concatenate([[-edge], between, [edge]])
