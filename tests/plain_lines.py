"""Plain lines to test on, built key by key, and the shortest way to their numbers. Every size is invented."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

from sim.case import Case, case_for, parse_case
from sim.heat.network import network
from sim.section.layout import Layout, place
from sim.section.mesh import PlanMesh
from sim.solve.at_rest import MeshStore
from sim.solve.quantities import quantities
from sim.solve.steady import Solution, solve

STORE = MeshStore()
LIQUID = {
    "conductivity": "0.6 W/m/K",
    "density": "1000 kg/m3",
    "specific_heat": "4200 J/kg/K",
    "viscosity": "0.001 Pa s",
    "expansion": "2e-4 1/K",
}
GAS = LIQUID | {"conductivity": "0.03 W/m/K", "density": "1.2 kg/m3"}
ROUND = {"name": "T1", "clock": 5.0, "shape": "round", "diameter": "10 mm", "output": "20 W/m"}
FLAT = {"name": "T1", "clock": 5.0, "shape": "flat", "width": "12 mm", "height": "5 mm", "output": "20 W/m"}
BASE: dict[str, Any] = {
    "pipe": {
        "outer_diameter": "114.3 mm",
        "wall": "6 mm",
        "material": {"conductivity": "50 W/m/K", "density": "7850 kg/m3", "specific_heat": "470 J/kg/K"},
    },
    "contents": {"state": "still", "fluid": LIQUID, "gas": GAS},
    "insulation": {"fit": "snug", "layer": [{"thickness": "50 mm", "conductivity": "0.04 W/m/K"}]},
    "outside": {"coefficient": "10 W/m2/K"},
    "condition": [{"name": "now", "ambient": "-10 degC"}],
}


def line(*tracers: Mapping[str, Any], **changes: Any) -> dict[str, Any]:
    """The base line with tracers; a change `a__b=v` sets key b of table a, a plain one a whole key.

    `layer__k=v` sets a key of the only insulation layer, `condition__k=v` one of the only condition.
    """
    raw = copy.deepcopy(BASE)
    raw["tracer"] = [dict(t) for t in tracers]
    for path, value in changes.items():
        table, _, key = path.partition("__")
        if not key:
            raw[table] = value
        elif table == "layer":
            raw["insulation"]["layer"][0][key] = value
        elif table == "condition":
            raw["condition"][0][key] = value
        else:
            raw.setdefault(table, {})[key] = value
    return raw


def only(raw: dict[str, Any]) -> Case:
    """The case narrowed to its first condition."""
    case = parse_case(raw)
    return case_for(case, case.conditions[0].name)


def layout(raw: dict[str, Any]) -> Layout:
    return place(only(raw))


def mesh(raw: dict[str, Any], fineness: float = 1.5) -> PlanMesh:
    return STORE.get(only(raw), fineness)


def solution(raw: dict[str, Any], fineness: float = 1.5) -> Solution:
    case = only(raw)
    return solve(network(case, STORE.get(case, fineness)))


def numbers(raw: dict[str, Any], fineness: float = 1.5) -> Mapping[str, float]:
    """The quantities on one mesh."""
    return quantities(solution(raw, fineness))
