"""Graded layers along the pipe, from the middle of a support (z = 0, a symmetry plane) to the far end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from sim.section.mesh import IntArray
from sim.section.shapes import Array
from sim.section.support_plan import CLEARANCE, INSERT, LEG, PAD, SupportLayout

EDGE_CELLS = 11.0  # layers per insulation thickness beside a part's end, at fineness 1
RING_LAYERS = 3.0  # layers over half a high ring's length at the least, at fineness 1
GROWTH = 0.4  # layer thickness per distance from a part's end, at fineness 1
NEAR_REACH, FAR_REACH = 7.0, 0.10  # thickest layer: reach / NEAR_REACH + FAR_REACH z, at fineness 1


@dataclass(frozen=True)
class Layers:
    """Layers of the extruded plan. edge (n+1,) m from 0; parts (n,): bits of the parts present in each layer.

    site (n,): z of the layers' sites, where that is not their middle: edges lie midway between sites then, m.
    """

    edge: Array
    parts: IntArray
    site: Array | None = None

    @cached_property
    def thickness(self) -> Array:
        return np.diff(self.edge)

    @property
    def centre(self) -> Array:
        return self.site if self.site is not None else 0.5 * (self.edge[1:] + self.edge[:-1])

    @property
    def count(self) -> int:
        return len(self.parts)


def z_layers(
    layout: SupportLayout, length: float, reach: float, fineness: float, breaks: tuple[float, ...] = ()
) -> Layers:
    """Layers over 0..length, m, with edges at the ends of the parts and at `breaks`.

    reach: distance over which the pipe's temperature decays, m. Thickness falls as 1 / fineness.
    """
    half = {
        bit: part.half_length
        for bit, part in (
            (PAD, layout.pad),
            (LEG, layout.leg),
            (INSERT, layout.insert),
            (CLEARANCE, layout.clearance),
        )
        if part is not None
    }
    ends = sorted({0.0, length, *(z for z in (*half.values(), *breaks) if 0.0 < z < length)})
    corners = np.array([z for bit, z in half.items() if bit != CLEARANCE and z < length])
    insulation = layout.cover_radius - layout.layer_radii[0]
    smallest = insulation / EDGE_CELLS
    if layout.pad is not None:
        smallest = min(
            smallest, layout.pad.outer - layout.pad.inner, 0.4 * (layout.cover_radius - layout.pad.outer)
        )

        if layout.high_ring:
            gap, half_ring = layout.cover_radius - layout.pad.outer, layout.pad.half_length
            smallest = min(insulation / (2 * EDGE_CELLS), 0.2 * gap, half_ring / RING_LAYERS, smallest)

    def size(z: Array) -> Array:
        apart = np.abs(z[:, None] - corners).min(axis=1) if len(corners) else z
        return np.minimum(smallest + GROWTH * apart, reach / NEAR_REACH + FAR_REACH * z)

    edge = graded(ends, size, fineness)
    centre = 0.5 * (edge[1:] + edge[:-1])
    parts = np.zeros(len(centre), np.int64)
    for bit, end in half.items():
        parts[centre < end] += bit
    return Layers(edge, parts)


def graded(ends: list[float], size: Callable[[Array], Array], fineness: float) -> Array:
    """Edges of layers from the first of the ends to the last, one at each of them; size: thickness at z, fineness 1."""
    edges = [np.zeros(1)]
    for low, high in pairwise(ends):
        z = np.linspace(low, high, 400)
        density = 1.0 / size(z)
        steps = 0.5 * (density[1:] + density[:-1]) * np.diff(z)
        total = np.concatenate([[0.0], np.cumsum(steps)])
        count = max(1, round(fineness * total[-1]))
        edges.append(np.interp(np.linspace(0.0, total[-1], count + 1)[1:], total, z))
    edge = np.concatenate(edges)
    edge[-1] = ends[-1]
    return edge


def presence(layout: SupportLayout, parts: int) -> IntArray:
    """Which part each region is made of where `parts` are present: PAD, LEG, INSERT, or 0 for its own, (n_regions,).

    A pad comes before a leg, a leg before an insert.
    """
    bits = np.array(layout.footprints) & parts
    part = np.zeros(len(bits), np.int64)
    for bit in (INSERT, LEG, PAD):
        part[(bits & bit) > 0] = bit
    return part
