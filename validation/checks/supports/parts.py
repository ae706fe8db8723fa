"""The parts of a support as drawn on the mesh: arcs, lengths, clock, volume and mass, family by family."""

from math import atan2, pi, sqrt
from typing import Any

import numpy as np

from sim.case import Support
from sim.section.extrude import Layers, presence, z_layers
from sim.section.mesh import PlanMesh, plan_mesh
from sim.section.support_plan import INSERT, LEG, PAD, SupportLayout, place_support
from validation.published.rows import Row, Table
from validation.sketches.stretch import R_COVER, R_O, line

FORMULA = "geometry of the case's own lengths and arcs, from the definition"
FINENESS, CELLS = 1.4, "cells along curved edges"
STEEL = 7850.0  # kg/m3
NAMES = {PAD: "pad", LEG: "leg", INSERT: "insert"}
FAMILIES = ("shoe", "clamp", "hanger", "trunnion", "cradle", "flange")
# what each family is made of, and its full lengths along the pipe, m: the invented defaults of the schema
LENGTHS: dict[str, dict[int, float]] = {
    "shoe": {PAD: 0.150, LEG: 0.120},
    "clamp": {PAD: 0.050, LEG: 0.050},
    "hanger": {PAD: 0.040, LEG: 0.0094},
    "trunnion": {LEG: 0.100},
    "cradle": {INSERT: 0.300},
    "flange": {PAD: 0.050},
}
CLOCKS = {"hanger": 12.0}


def drawn(support: Support, mesh: PlanMesh, layers: Layers) -> dict[int, np.ndarray]:
    """Volume of each part in each cell of the plan, both halves, m3 (cells,)."""
    layout = mesh.layout
    assert isinstance(layout, SupportLayout)
    volume = {bit: np.zeros(mesh.cells) for bit in NAMES}
    for bits in np.unique(layers.parts):
        long = 2 * layers.thickness[layers.parts == bits].sum()
        own = presence(layout, int(bits))[mesh.cell_region]
        for bit in NAMES:
            volume[bit] += np.where(own == bit, mesh.cell_area * long, 0.0)
    return volume


def _sector(inner: float, outer: float, arc: float) -> float:
    return 0.5 * arc * (outer**2 - inner**2)


def _strip(width: float, inner: float, outer: float) -> float:
    """Area of a strip between two circles about a point on its middle line, m2."""
    half = width / 2

    def below(radius: float) -> float:
        return half * sqrt(radius**2 - half**2) + radius**2 * np.arcsin(half / radius)

    return float(below(outer) - below(inner))


def _volumes(support: Support) -> dict[int, float]:
    """What the case's numbers say, m3. A leg begins at the pipe where no pad is, else at the pad's outside."""
    pad, leg, insert = support.pad, support.leg, support.insert
    exact: dict[int, float] = {}
    if pad is not None:
        exact[PAD] = _sector(R_O, R_O + pad.thickness, pad.arc) * pad.length
    if leg is not None:
        rim = R_O + (pad.thickness if pad is not None else 0.0)
        under = min(leg.length, pad.length) if pad is not None else 0.0
        exact[LEG] = _strip(leg.width, rim, R_COVER) * under
        exact[LEG] += _strip(leg.width, R_O, R_COVER) * (leg.length - under)
    if insert is not None:
        exact[INSERT] = _sector(R_O, R_COVER, insert.arc) * insert.length
    return exact


def _clock(mesh: PlanMesh, volume: np.ndarray) -> float:
    """Clock position of a part's centroid, hours: 12 is +y, 3 is +x."""
    x, y = volume @ mesh.site
    return float(atan2(x, y) * 6 / pi % 12)


def _made(support: dict[str, Any]) -> tuple[Support, PlanMesh, Layers]:
    case = line(50.0, support)
    layout = place_support(case, case.supports[0])
    return (
        case.supports[0],
        plan_mesh(layout, FINENESS),
        z_layers(layout, 2.0, 0.5, FINENESS, (case.supports[0].allowance_over / 2,)),
    )


def families() -> list[Row]:
    """Families as they come: volumes, metal's mass, clock, full lengths as the layers have them."""
    rows: list[Row] = []
    for family in FAMILIES:
        table = Table("parts drawn", FORMULA, rows)
        support, mesh, layers = _made({"family": family})
        have, exact = drawn(support, mesh, layers), _volumes(support)
        same = float(exact.keys() == LENGTHS[family].keys())
        table.within(f"{family}: of the parts it should have (1: yes)", 1.0, same, 0.0, "a yes or no", "-")
        for bit, volume in exact.items():
            name = f"{family}: {NAMES[bit]}"
            table.row(f"{name}, volume", volume, have[bit].sum(), 0.015, CELLS, "m3")
            long = 2 * layers.thickness[(layers.parts & bit) > 0].sum()
            whole, why = LENGTHS[family].get(bit, 0.0), "layers end where parts do"
            table.within(f"{name}, full length", whole, long, 1e-9, why, "m")
            if bit in (INSERT, LEG) or support.pad is None or support.pad.arc < 6:
                away = (_clock(mesh, have[bit]) - CLOCKS.get(family, 6.0) + 6) % 12 - 6
                table.within(f"{name}, clock less its own", 0.0, away, 0.05, CELLS, "h")
        metal = have[PAD].sum() + have[LEG].sum()
        if metal > 0:
            mass = STEEL * (exact.get(PAD, 0.0) + exact.get(LEG, 0.0))
            name = f"{family}: mass of metal within the insulation"
            table.row(name, mass, STEEL * metal, 0.015, CELLS, "kg")
        table.within(f"{family}: layers fill the half", 2.0, layers.thickness.sum(), 1e-9, "a sum", "m")
    return rows


def turned() -> list[Row]:
    """Parts at clock positions of their own; a leg longer than its pad begins at the pipe beyond it."""
    rows: list[Row] = []
    table = Table("parts drawn", FORMULA, rows)
    parts = {
        "pad": {"clock": 4, "arc": "70 deg", "thickness": "8 mm", "length": "80 mm"},
        "leg": {"clock": 4.5, "width": "14 mm", "length": "140 mm"},
        "insert": {"clock": 9, "arc": "100 deg", "length": "220 mm"},
    }
    support, mesh, layers = _made(parts)
    have, exact = drawn(support, mesh, layers), _volumes(support)
    for bit, clock in ((PAD, 4.0), (LEG, 4.5), (INSERT, 9.0)):
        name = f"pad at 4, leg at 4.5, insert at 9: {NAMES[bit]}"
        table.row(f"{name}, volume", exact[bit], have[bit].sum(), 0.015, CELLS, "m3")
        table.within(f"{name}, clock", clock, _clock(mesh, have[bit]), 0.05, CELLS, "h")
    return rows


GROUPS = (families, turned)
