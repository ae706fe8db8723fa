"""The heat balance of a line around a support at given temperatures: all joints of the layered network."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from sim.heat.conductivity import SIGMA
from sim.heat.film import outside_coefficient, outside_slope
from sim.heat.network import film_terms
from sim.heat.support import LayeredConductivity, SupportNetwork
from sim.heat.tracer import tracer_slope, tracer_watts
from sim.section.mesh import IntArray
from sim.section.shapes import Array


@dataclass(frozen=True)
class LayeredBalance:
    """Joints and sources of the half: as `steady.Balance`, in W/K and W.

    fin: joints to the fin's temperature are the last `fin` of `to_*`; output (tracers, layers) W/m,
    steep its slope, W/m/K;
    source, source_slope (nodes,): heat given to each node, W, and the part of its derivative kept on the diagonal.
    """

    a: IntArray
    b: IntArray
    conductance: Array
    to_node: IntArray
    to_conductance: Array
    to_temperature: Array
    slope: Array
    fin: int
    output: Array
    steep: Array
    source: Array
    source_slope: Array
    face_conductance: Array
    conductivity: Array


def layered_cells(network: SupportNetwork, temperature: Array) -> Array:
    """Temperatures of all cells (layers, cells), K; lumped contents take their lump's."""
    plan = network.plan
    each = temperature.reshape(network.layers.count, plan.nodes)
    cells = each[:, np.maximum(plan.cell_node, 0)]
    absent = plan.cell_node < 0
    if absent.any() and plan.bore is not None:
        bore = plan.bore
        default = each[:, bore.face_node] @ (bore.face_area / bore.face_area.sum())
        kinds = np.array([r.kind for r in plan.mesh.layout.regions])[plan.mesh.cell_region]
        liquid = each[:, bore.liquid] if bore.liquid >= 0 else default
        if bore.liquid < 0 and bore.liquid_at is not None:
            liquid = np.full(len(each), bore.liquid_at)
        gas = each[:, bore.gas] if bore.gas >= 0 else default
        wet = (kinds == "liquid") & (plan.case.contents.state != "empty")
        cells[:, absent] = np.where(wet[absent], liquid[:, None], gas[:, None])
    return cells


def layered_balance(network: SupportNetwork, temperature: Array, law: LayeredConductivity) -> LayeredBalance:
    """Evaluate all joints at node temperatures (nodes,) K."""
    plan, mesh, case = network.plan, network.plan.mesh, network.plan.case
    condition, count, width = case.conditions[0], network.layers.count, network.layers.thickness
    each = temperature.reshape(count, plan.nodes)
    base = np.arange(count)[:, None] * plan.nodes
    k = law(layered_cells(network, temperature))
    first, second = mesh.face_cells[plan.face].T
    half = 0.5 * mesh.face_gap[plan.face]
    face = (mesh.face_length[plan.face] * width[:, None]) / (
        half / k[:, first] + half / k[:, second] + network.resistance
    )
    halves, links = plan.halves, plan.links
    flat = k.ravel()
    corner_layer = np.repeat(np.arange(count), len(plan.wedges.angle))
    corner = network.corners.conductance(flat) * width[corner_layer]
    node_of = plan.cell_node
    a = [
        node_of[first] + base,
        node_of[halves.cell] + base,
        links.a + base,
        node_of[plan.wedges.seat_cell] + base,
    ]
    b = [node_of[second] + base, halves.node + base, links.b + base, node_of[plan.wedges.tracer_cell] + base]
    g = [
        face,
        k[:, halves.cell] * (halves.area / halves.gap) * width[:, None],
        links.conductance * network.link_open * width[:, None],
        corner,
    ]
    _add_axial(network, k, (a, b, g))
    to_node, to_g, to_t, slope, fin = _outside(network, each, base)
    if plan.bore is not None:
        _add_bore(network, each, base, (a, b, g), (to_node, to_g, to_t))
    wall = plan.beneath @ each.T
    output = np.array([tracer_watts(t, condition, x) for t, x in zip(case.tracers, wall, strict=True)])
    steep = np.array([tracer_slope(t, condition, x) for t, x in zip(case.tracers, wall, strict=True)])
    output, steep = output.reshape(len(case.tracers), count), steep.reshape(len(case.tracers), count)
    source = np.einsum("tl,tn->ln", output * width, plan.heat_share)
    source += np.einsum("tl,tn->ln", output * network.extra, network.extra_share)
    falling = np.maximum(-steep, 0.0) * (width + network.extra)
    source_slope = np.einsum("tl,tn->ln", falling, plan.beneath)
    first_node, second_node, conductance, node, film, surroundings = (
        np.concatenate([np.ravel(p) for p in x]) for x in (a, b, g, to_node, to_g, to_t)
    )
    return LayeredBalance(
        first_node,
        second_node,
        conductance,
        node,
        film,
        surroundings,
        slope,
        fin,
        output,
        steep,
        source.ravel(),
        source_slope.ravel(),
        face,
        k,
    )


def _outside(
    network: SupportNetwork, each: Array, base: IntArray
) -> tuple[list[Array], list[Array], list[Array], Array, int]:
    """Film on the cover, and the leg's fin on its cut face: node, conductance, temperature; the film's true slope."""
    plan, mesh, case = network.plan, network.plan.mesh, network.plan.case
    condition = case.conditions[0]
    film = film_terms(case, mesh.layout.cover_radius)
    surface = each[:, plan.cover_node]
    area = mesh.cover_length * network.layers.thickness[:, None]
    open_area = np.where(network.leg_face, 0.0, area)
    g = outside_coefficient(surface, plan.cover_angle[None, :], **film) * open_area
    slope = outside_slope(surface, plan.cover_angle[None, :], **film) * open_area
    nodes = plan.cover_node + base
    to: tuple[list[Any], list[Any], list[Any]] = ([nodes], [g], [np.full(g.shape, condition.ambient)])
    fin = 0
    if network.leg_face.any():
        cut = network.cut_area[network.leg_face]
        root = float(np.average(surface[network.leg_face], weights=cut))
        each_area, end = network.fin(root, condition.ambient)
        to[0].append(nodes[network.leg_face])
        to[1].append(each_area * cut)
        to[2].append(np.full(len(cut), end))
        fin = len(cut)
    return (
        [np.ravel(x) for x in to[0]],
        [np.ravel(x) for x in to[1]],
        [np.ravel(x) for x in to[2]],
        slope,
        fin,
    )


def _add_axial(network: SupportNetwork, k: Array, inner: tuple[list, list, list]) -> None:
    plan, width, count = network.plan, network.layers.thickness, network.layers.count
    active = np.flatnonzero(plan.cell_node >= 0)
    half = 0.5 * width[:, None] / k[:, active]
    base = np.arange(count - 1)[:, None] * plan.nodes
    inner[0].append(plan.cell_node[active] + base)
    inner[1].append(plan.cell_node[active] + base + plan.nodes)
    inner[2].append(plan.mesh.cell_area[active] / (half[1:] + half[:-1]))
    axial = network.axial
    if len(axial.node):
        open_link = np.ones((count - 1, len(axial.node)))
        if axial.cover.any():
            open_link[:, axial.cover] = ~(network.bare[1:] | network.bare[:-1])
        apart = 0.5 * (width[1:] + width[:-1])
        inner[0].append(axial.node + base)
        inner[1].append(axial.node + base + plan.nodes)
        inner[2].append(axial.strength / apart[:, None] * open_link)


def _add_bore(
    network: SupportNetwork,
    each: Array,
    base: IntArray,
    inner: tuple[list, list, list],
    outer: tuple[list, list, list],
) -> None:
    """Films, radiation and lumps of the bore in every layer, as in a section."""
    bore, width = network.plan.bore, network.layers.thickness[:, None]
    assert bore is not None
    empty = network.case.contents.state == "empty"
    wet = bore.face_point[:, 1] < (-np.inf if empty else network.plan.mesh.layout.level)

    def join(a: IntArray, b: IntArray, g: Array) -> None:
        shape = np.broadcast_shapes(np.shape(a), np.shape(b), base.shape)
        for part, value in zip(inner, (a + base, b + base, g * width), strict=True):
            part.append(np.broadcast_to(value, shape))

    def hold(node: IntArray, g: Array, at: float) -> None:
        nodes = node + base
        outer[0].append(nodes.ravel())
        outer[1].append(np.broadcast_to(g * width, nodes.shape).ravel())
        outer[2].append(np.full(nodes.size, at))

    for mask, lump in ((wet, bore.liquid), (~wet, bore.gas)):
        if not mask.any():
            continue
        if lump >= 0:
            join(bore.face_node[mask], np.array([lump]), bore.film[mask])
        elif bore.liquid_at is not None and mask is wet:
            hold(bore.face_node[mask], bore.film[mask], bore.liquid_at)
    i, j, exchange = bore.radiation
    if len(i):
        ti, tj = each[:, i], each[:, j]
        join(i, j, exchange * SIGMA * (ti**2 + tj**2) * (ti + tj))
    if bore.surface >= 0:
        surface = np.array([bore.surface])
        if bore.liquid >= 0:
            join(surface, np.array([bore.liquid]), np.array([bore.surface_film]))
        else:
            assert bore.liquid_at is not None
            hold(surface, np.array([bore.surface_film]), bore.liquid_at)
        join(surface, np.array([bore.gas]), np.array([bore.surface_gas_film]))
