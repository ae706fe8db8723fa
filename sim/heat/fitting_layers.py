"""A line in layers around a fitting: cells in space, what its bodies and covers are made of, its films, its tracer.

Half of the symmetric problem is modelled (z >= 0); heat and conductances are those of the half.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from sim.case import Case, Fitting, Solid
from sim.heat.conductivity import Law, of_region
from sim.heat.contents import Bore
from sim.heat.joints import Faces, Halves, Joints, Links, joined
from sim.heat.layers import layered
from sim.heat.network import Further, Network
from sim.heat.outlets import Film, Given
from sim.section.bodies import AIR, CONTENTS, COVER, FIRST_BODY, GAS, LINE
from sim.section.body_measures import Measure
from sim.section.extrude import Layers
from sim.section.fitting_cells import Cells
from sim.section.fitting_faces import FittingFaces
from sim.section.fitting_faces import Further as FurtherFaces
from sim.section.layout import Region
from sim.section.mesh import IntArray, PlanMesh
from sim.section.shapes import Array

REST = 1e-3  # W/K by which a node that has no part rests on another
BARRIERED = ("fitting cover", "fitting line")  # outlets whose nodes are the line's barrier


@dataclass(frozen=True)
class Geometry:
    """The cells and faces around a fitting on one mesh; true: how large its bodies are, whatever the mesh."""

    mesh: PlanMesh
    layers: Layers
    cells: Cells
    faces: FittingFaces
    true: tuple[Measure, ...]


def fitting_network(plan: Network, geometry: Geometry, fitting: Fitting, allowance: float = 0.0) -> Network:
    """A section's network in layers, with a fitting. allowance: extra length of each tracer looped over it, m."""
    cells, faces, layers = geometry.cells, geometry.faces, geometry.layers
    net = layered(plan, layers)
    first, e = layers.count * plan.nodes, len(cells.point)
    film = first + e + np.arange(len(faces.film.a))
    wet = first + e + len(film) + np.arange(len(faces.wet.a))
    cell_node = np.concatenate([net.cell_node, first + np.arange(e)])
    share = _node_shares(plan, cells, faces)
    groups = _left(plan, net, cells, faces, share)
    groups["fitting"] = _between(faces.between)
    groups["fitting film"] = _half(faces.film, film)
    groups["fitting bore"] = _half(faces.wet, wet)
    outlets = dict(net.outlets)
    cover: Any = outlets["cover"]
    outlets["cover"] = replace(cover, area=cover.area * share[:, plan.cover_node].ravel())
    given: Any = outlets.get("contents")
    if given is not None:
        outlets["contents"] = replace(given, strength=given.strength * share.ravel()[given.node])
    if plan.bore is not None:
        groups["fitting contents"], outlets["fitting contents"] = _wetted(
            plan, plan.bore, faces.wet, wet, layers
        )
    outlets |= _films(plan.case, fitting, geometry, film)
    further, (volume, hollow) = _further(geometry, plan, film, wet), _volumes(geometry)
    nodes = first + e + len(film) + len(wet)
    groups["rest"] = _resting(groups, outlets, cell_node, nodes, plan.nodes, layers.count)
    net = replace(
        net,
        nodes=nodes,
        cell_node=cell_node,
        joints=joined(groups, cell_node),
        outlets=outlets,
        part=cells.material,
        laws=_laws(plan.case, fitting),
        support=fitting,
        further=further,
        there=cells.there,
        volume=volume,
        left=share,
        hollow=hollow,
        lumped=None if plan.bore is None else _lumped(plan, plan.bore, geometry),
    )
    return looped(replace(net, tracing=replace(net.tracing, **_loop(net, geometry, fitting))), allowance)


def in_hollows(case: Case) -> Region:
    """What a hollow full of contents holds."""
    return Region("gas" if case.contents.state == "empty" or case.contents.fill == 0.0 else "liquid")


def metal_of(fitting: Fitting) -> dict[int, Solid]:
    """The material of each body, by its code."""
    return {FIRST_BODY + n: body.material or fitting.material for n, body in enumerate(fitting.body)}


def _laws(case: Case, fitting: Fitting) -> dict[int, Law]:
    """Conductivity of what is not the line's own, by its code."""
    laws: dict[int, Law] = {
        COVER: of_region(case, Region("layer", 0)),
        CONTENTS: of_region(case, in_hollows(case)),
        GAS: case.contents.gas.conductivity,
    }
    return laws | {code: metal.conductivity for code, metal in metal_of(fitting).items()}


def _volumes(geometry: Geometry) -> tuple[Array, IntArray]:
    """Volumes of all cells, m3, and the body in whose hollow full of contents each lies, numbered from 1, else 0.

    What bodies and hollows store goes by their true volumes: those of the cells are scaled to them.
    """
    cells, faces, layers, site = geometry.cells, geometry.faces, geometry.layers, geometry.mesh.site
    volume, code = faces.volume.copy(), code_of(geometry, np.arange(len(faces.volume)))
    block, every = cells.count * geometry.mesh.cells, layers.count * geometry.mesh.cells
    volume[block:every] = (geometry.mesh.cell_area * layers.thickness[cells.count :, None]).ravel()
    hollow = np.zeros(len(volume), np.int64)
    full = np.flatnonzero((code == CONTENTS) & (volume > 0.0))
    standing = full[full < every]
    in_layers = np.column_stack([site[standing % len(site)], layers.centre[standing // len(site)]])
    point = np.concatenate([in_layers, cells.point[full[full >= every] - every]]).T
    for number, (body, true) in enumerate(zip(cells.bodies.bodies, geometry.true, strict=True), 1):
        if body.hollow is not None:
            hollow[full[body.hollow.inside(*point)]] = number
        for of_body, whole in (
            (code == FIRST_BODY + number - 1, true.volume),
            (hollow == number, true.hollow),
        ):
            meshed = float(volume[of_body].sum())
            if meshed > 0.0 and whole > 0.0:
                volume[of_body] *= 0.5 * whole / meshed
    return volume, hollow


def _lumped(plan: Network, bore: Bore, geometry: Geometry) -> Array:
    """Contents in hollows that are no cells, at the lump of their layer, m3 (layers, nodes of the plan)."""
    volume, point = geometry.faces.hollow, geometry.faces.sites.point
    here = np.flatnonzero(volume > 0.0)
    contents = np.zeros((geometry.layers.count, plan.nodes))
    layer, lump = _lumps(plan, bore, point[here], geometry.layers)
    true = sum(0.5 * measure.hollow for measure in geometry.true)
    scale = true / float(volume.sum()) if len(here) and true > 0.0 else 1.0
    np.add.at(contents, (layer[lump >= 0], lump[lump >= 0]), scale * volume[here][lump >= 0])
    return contents


def _node_shares(plan: Network, cells: Cells, faces: FittingFaces) -> Array:
    """How much of its face is left to each node of the layers (layers, nodes of the plan)."""
    share = np.ones((cells.layers.count, plan.nodes))
    block = share[: cells.count]
    block[:, plan.cover_node] = faces.cover_share
    for face, node in (
        (plan.foil_face, plan.foil_node),
        (plan.void_face, plan.void_node),
        *([] if plan.bore is None else [(plan.bore_face, plan.bore.face_node)]),
    ):
        block[:, node] = faces.face_share[:, face]
    return share


def _left(plan: Network, net: Network, cells: Cells, faces: FittingFaces, share: Array) -> dict[str, Joints]:
    """What is left of the joints of the layers."""
    groups: dict[str, Any] = dict(net.joints.groups)
    count, flat = cells.count, share.ravel()
    face_share = np.ones((cells.layers.count, len(plan.face)))
    face_share[:count] = faces.face_share[:, plan.face]
    groups["faces"] = replace(net.faces, area=net.faces.area * face_share.ravel())
    groups["halves"] = replace(net.halves, area=net.halves.area * flat[net.halves.node])
    along = np.ones((cells.layers.count - 1, plan.mesh.cells))
    along[:count] = faces.along_share
    joint = groups["cells along"]
    groups["cells along"] = replace(joint, area=joint.area * along.ravel()[joint.cell_a])
    for name in ("links", "sheets along", "bore"):
        if name in groups:
            link = groups[name]
            groups[name] = replace(link, strength=link.strength * np.minimum(flat[link.a], flat[link.b]))
    airy = share.copy()
    if len(plan.void_node):
        of = plan.mesh.face_cells[plan.void_face]
        void = plan.mesh.of_kind("void")[of]
        air = (cells.material[:, of] == LINE) & void & cells.there[:, of]
        airy[:, plan.void_node] *= air.any(axis=2)
    for name, left in (("radiation", flat), ("void radiation", airy.ravel())):
        if name in groups:
            seen = groups[name]
            groups[name] = replace(seen, exchange=seen.exchange * np.minimum(left[seen.a], left[seen.b]))
    return groups


def _between(faces: FurtherFaces) -> Faces:
    return Faces(faces.a, faces.b, faces.area, faces.half, faces.half, np.zeros(len(faces.a)))


def _half(faces: FurtherFaces, node: IntArray) -> Halves:
    return Halves(faces.a, node, faces.area, faces.half, faces.point[:, :2], np.zeros(len(node)))


def _under(plan: Network, bore: Bore, point: Array) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which faces of the bore, and which points (n, 3) in hollows open to it, are under the liquid's level."""
    level = -np.inf if plan.case.contents.state == "empty" else plan.mesh.layout.level
    below: NDArray[np.bool_] = bore.face_point[:, 1] < level
    partly = below.any() and (~below).any()
    return below, (point[:, 1] < level) if partly else np.full(len(point), below.any())


def _lumps(plan: Network, bore: Bore, point: Array, layers: Layers) -> tuple[IntArray, IntArray]:
    """Layer of each point (n, 3) of a hollow, and the lump of its contents, -1 where they have none."""
    layer = np.clip(np.searchsorted(layers.edge, point[:, 2]) - 1, 0, layers.count - 1)
    return layer, np.where(_under(plan, bore, point)[1], bore.liquid, bore.gas)


def _wetted(
    plan: Network, bore: Bore, faces: FurtherFaces, node: IntArray, layers: Layers
) -> tuple[Links, Given]:
    """The film of the bore on the surfaces of hollows that contents fill, which are no cells."""
    per_area = bore.film / bore.face_area
    below, under = _under(plan, bore, faces.point)
    liquid, gas = (float(per_area[side].mean()) if side.any() else 0.0 for side in (below, ~below))
    strength = faces.area * np.where(under, liquid, gas)
    layer, lump = _lumps(plan, bore, faces.point, layers)
    linked, given = lump >= 0, (lump < 0) & (bore.liquid_at is not None) & under
    links = Links(node[linked], (lump + layer * plan.nodes)[linked], strength[linked])
    at = bore.liquid_at if bore.liquid_at is not None else 0.0
    return links, Given(node[given], strength[given], np.full(int(given.sum()), at))


def _films(case: Case, fitting: Fitting, geometry: Geometry, node: IntArray) -> dict[str, Film]:
    """The outside's film on all further faces: by body where it is bare metal, on covers, on cut insulation.

    Bare metal loses by its area: that of the faces of each body is made the true one.
    """
    faces, mesh, cells = geometry.faces.film, geometry.mesh, geometry.cells
    code = code_of(geometry, faces.a)
    n = faces.normal
    angle = np.arctan2(n[:, 0], n[:, 1])
    in_plane = np.hypot(n[:, 0], n[:, 1])
    upright = in_plane < 0.3
    angle[upright] = np.arctan2(faces.point[upright, 0], faces.point[upright, 1] + 1e-12)
    films = {}
    for number in range(len(fitting.body)):
        metal = code == FIRST_BODY + number
        radius = cells.bodies.bodies[number].metal.radius
        films[f"bare body {number + 1}"] = (metal, radius, fitting.emissivity)
    cut = cut_faces(geometry) & (fitting.ends == "open")
    for number, body in enumerate(cells.bodies.bodies):
        for cover in body.covers:
            off, _ = cover.frame(*faces.point.T)
            films[f"cover {number + 1}"] = ((code == COVER) & (off < cover.radius * 1.02), cover.radius, None)
    films["cut"] = ((code == LINE) & cut, mesh.layout.cover_radius, case.outside.emissivity)
    films["line"] = (np.ones(len(code), bool), mesh.layout.cover_radius, None)
    true = {f"bare body {n}": m.bare / 2 for n, m in enumerate(geometry.true, 1) if m.bare > 0.0}
    made, free = {}, np.ones(len(code), bool)
    for name, (which, radius, emissivity) in films.items():
        of_surface = which & free
        free &= ~of_surface
        if of_surface.any():
            area = faces.area[of_surface]
            if name in true:
                area = area * (true[name] / float(area.sum()))
            made[f"fitting {name}"] = Film(
                node[of_surface], angle[of_surface], area, radius, emissivity, in_plane[of_surface]
            )
    return made


def code_of(geometry: Geometry, cell: IntArray) -> IntArray:
    """What cells (k,) are made of, as in `sim.section.bodies`."""
    return np.concatenate([geometry.cells.material.ravel(), geometry.cells.code])[cell]


def cut_faces(geometry: Geometry) -> NDArray[np.bool_]:
    """Faces to the outside (film,) at which the line's own insulation is cut, beside a bare body along."""
    faces = geometry.faces.film
    flush: NDArray[np.bool_] = (code_of(geometry, faces.a) == LINE) & (np.abs(faces.normal[:, 2]) > 0.7)
    return flush


def _further(geometry: Geometry, plan: Network, film: IntArray, wet: IntArray) -> Further:
    from scipy.spatial import cKDTree

    cells, faces = geometry.cells, geometry.faces
    point = np.concatenate([cells.point, faces.film.point, faces.wet.point])
    layer = np.clip(np.searchsorted(cells.layers.edge, point[:, 2]) - 1, 0, cells.layers.count - 1)
    node = (
        plan.cell_node[cKDTree(plan.mesh.site).query(point[:, :2])[1]]
        if len(point)
        else np.zeros(0, np.int64)
    )
    any_wall = plan.cell_node[np.flatnonzero(plan.mesh.of_kind("wall"))[0]]
    return Further(cells.code, cells.region, layer, np.where(node < 0, any_wall, node))


def _ends(
    groups: dict[str, Any], cell_node: IntArray
) -> Iterator[tuple[IntArray, IntArray, NDArray[np.bool_]]]:
    """The ends of every joint and whether it conducts."""
    for group in groups.values():
        a, b = group.ends(cell_node)
        strength = next(
            (getattr(group, name) for name in ("area", "strength", "exchange") if hasattr(group, name)),
            np.ones(len(a)),
        )
        yield a, b, np.asarray(strength) != 0.0


def _resting(
    groups: dict[str, Any],
    outlets: dict[str, Any],
    cell_node: IntArray,
    nodes: int,
    plan_nodes: int,
    layers: int,
) -> Links:
    """Nodes that are joined to nothing any more each rest on the next along the pipe that has a part."""
    ends = list(_ends(groups, cell_node))
    a = np.concatenate([x[on] for x, _, on in ends])
    b = np.concatenate([y[on] for _, y, on in ends])
    graph = coo_matrix((np.ones(len(a)), (a, b)), shape=(nodes, nodes))
    _, label = connected_components(graph, directed=False)
    whole = label == np.bincount(label).argmax()
    loose = np.flatnonzero(~whole)
    last = (layers - 1) * plan_nodes
    onto = loose.copy()
    for _ in range(layers):
        step = ~whole[onto] & (onto < last)
        if not step.any():
            break
        onto[step] += plan_nodes
    onto = np.where(whole[onto], onto, np.flatnonzero(whole)[-1])
    return Links(loose, onto, np.full(len(loose), REST))


def outer_area(geometry: Geometry, bodies: tuple[int, ...]) -> tuple[IntArray, Array, NDArray[np.bool_]]:
    """Cells (k,) of bodies that have outer faces, towards insulation or air, the area of those, m2, and whether it is
    air."""
    sites, faces = geometry.faces.sites, geometry.faces.every
    wanted = np.isin(sites.code, [FIRST_BODY + n for n in bodies]) & (sites.cell >= 0)
    i, j = faces.pair.T
    cell, area, bare = [], [], []
    for one, other in ((i, j), (j, i)):
        outward = wanted[one] & sites.soft[other]
        cell.append(sites.cell[one[outward]])
        area.append(faces.area[outward])
        bare.append(sites.code[other[outward]] == AIR)
    return np.concatenate(cell), np.concatenate(area), np.concatenate(bare)


def _loop(network: Network, geometry: Geometry, fitting: Fitting) -> dict[str, Any]:
    """Where looped tracer gives its heat: evenly over the outer faces of its bodies, by the layers they lie in."""
    cell, area, _ = outer_area(geometry, fitting.heated)
    layers, node = network.layers, network.cell_node[cell]
    assert network.further is not None
    of_node = np.repeat(np.arange(layers.count), network.plan.nodes)
    layer = np.concatenate([of_node, network.further.layer])[node]
    total = np.bincount(layer, area, layers.count)
    loop = coo_matrix((area / total[layer], (layer, node)), shape=(layers.count, network.nodes))
    return {"loop": loop.tocsr(), "loop_share": total / float(total.sum())}


def looped(network: Network, allowance: float) -> Network:
    """The same network with another length of extra tracer, m, spread evenly over the outer faces of its bodies."""
    tracing = network.tracing
    assert tracing.loop_share is not None
    extra = np.tile(0.5 * allowance * tracing.loop_share, (len(network.case.tracers), 1))
    return replace(network, tracing=replace(tracing, extra=extra))
