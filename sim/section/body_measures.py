"""How large a fitting's bodies are: outer area and volume by dense sampling of their surfaces, not of any mesh."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.basics import Array, IntArray
from sim.section.bodies import AIR, CONTENTS, COVER, FIRST_BODY, LINE, Bodies, Cylinder
from sim.section.fitting_plan import FittingLayout
from sim.section.support_plan import SOFT

POINTS = 60000  # on a surface, or in a volume
OFFSET = 1e-6  # of a radius, to either side of a surface


@dataclass(frozen=True)
class Measure:
    """Of a body, both halves: outer area towards insulation or air, m2; volume less hollows and what it shares, m3;
    bare: its area towards air, m2; hollow: volume of the contents in its hollow, m3."""

    area: float
    volume: float
    bare: float
    hollow: float = 0.0


def measures(layout: FittingLayout) -> tuple[Measure, ...]:
    """The true measures of the bodies of a layout, in their order; errors of the sampling are below 1e-3."""
    by_body = []
    for number, body in enumerate(layout.around.bodies):
        metal = body.metal
        area, bare = np.sum([_outer(layout, number, metal, face) for face in ("side", "low", "high")], axis=0)
        u, v, w = _spread(3)
        at = metal.low + w * (metal.high - metal.low)
        place = _place(metal, metal.radius * np.sqrt(u), v, at)
        code, _ = _material(layout, place)
        whole = np.pi * metal.radius**2 * (metal.high - metal.low)
        # half a cylinder across has z > 0; one along has the half of its length
        scale = 2.0 if metal.along else 1.0
        share = float(np.mean(code == FIRST_BODY + number))
        full = 0.0
        if body.hollow is not None:
            full = scale * whole * float(np.mean((code == CONTENTS) & body.hollow.inside(*place)))
        by_body.append(Measure(2.0 * float(area), scale * whole * share, 2.0 * float(bare), full))
    return tuple(by_body)


def _spread(dimensions: int) -> Array:
    """Points (dimensions, POINTS) spread evenly over the unit cube: multiples of irrational steps, the powers of the
    root of x**(dimensions + 1) = x + 1, modulo 1 (an additive recurrence, from memory)."""
    root = 1.5
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (dimensions + 1))
    step = root ** -np.arange(1.0, dimensions + 1)
    share: Array = (0.5 + np.outer(step, np.arange(POINTS))) % 1.0
    return share


def _outer(layout: FittingLayout, number: int, metal: Cylinder, face: str) -> tuple[float, float]:
    """Area of one face of a cylinder for z > 0 that is metal on one side and insulation or air on the other, and
    what of it is towards air, m2."""
    u, v = _spread(2)
    step, turns = OFFSET * metal.radius, 1.0 if metal.along else 0.5
    if face == "side":
        at = metal.low + u * (metal.high - metal.low)
        inner, outer = (_place(metal, np.full(len(u), metal.radius + d), v, at) for d in (-step, step))
        whole = turns * 2 * np.pi * metal.radius * (metal.high - metal.low)
    else:
        if metal.along and face == "low" and metal.low <= 0.0:  # the plane of symmetry
            return 0.0, 0.0
        end, out = (metal.low, -step) if face == "low" else (metal.high, step)
        radius = metal.radius * np.sqrt(u)
        inner, outer = (_place(metal, radius, v, np.full(len(u), end + d)) for d in (-out, out))
        whole = turns * np.pi * metal.radius**2
    (within, _), (beyond, soft) = _material(layout, inner), _material(layout, outer)
    in_body = within == FIRST_BODY + number
    return whole * float(np.mean(in_body & soft)), whole * float(np.mean(in_body & (beyond == AIR)))


def _place(metal: Cylinder, radius: Array, turn: Array, at: Array) -> Array:
    """Points (3, n), m, at radii, shares of the turn (across: of its half with z > 0) and places along the axis."""
    if metal.along:
        return np.stack([radius * np.sin(2 * np.pi * turn), radius * np.cos(2 * np.pi * turn), at])
    ux, uy = np.sin(metal.clock_angle), np.cos(metal.clock_angle)
    aside, z = radius * np.cos(np.pi * turn), radius * np.sin(np.pi * turn)
    return np.stack([at * ux + aside * uy, at * uy - aside * ux, z])


def _material(layout: FittingLayout, point: Array) -> tuple[IntArray, NDArray[np.bool_]]:
    """What points (3, n) are made of, the line's own where a tracer lies, and whether that is insulation or air."""
    bodies: Bodies = layout.around
    code = bodies.made_of(*point)
    region = layout.region_of(point[0], point[1])
    inside = region >= 0
    kinds = np.array([r.kind for r in layout.regions])[np.maximum(region, 0)]
    code[inside & (kinds == "tracer")] = LINE
    soft: NDArray[np.bool_] = (
        (code == AIR) | (code == COVER) | ((code == LINE) & inside & np.isin(kinds, SOFT))
    )
    return code, soft
