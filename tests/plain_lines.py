"""Plain lines to test on, built key by key, and the shortest way to their numbers. Every size is invented."""

from collections.abc import Mapping
from typing import Any

from sim.section.layout import Layout, place
from sim.section.mesh import PlanMesh
from sim.solve.quantities import quantities
from sim.solve.steady import Solution
from validation.sketches.sketch import GAS, LIQUID, STORE, changed, solved
from validation.sketches.sketch import case_of as only

ROUND = {"name": "T1", "clock": 5.0, "shape": "round", "diameter": "10 mm", "output": "20 W/m"}
FLAT = {"name": "T1", "clock": 5.0, "shape": "flat", "width": "12 mm", "height": "5 mm", "output": "20 W/m"}
OIL = LIQUID | {"conductivity": "0.13 W/m/K", "density": "950 kg/m3", "specific_heat": "1900 J/kg/K"}
OIL |= {"viscosity": "1 Pa s", "expansion": "7e-4 1/K"}
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
    """The base line with tracers and changes, as `changed` takes them."""
    return changed(BASE | {"tracer": [dict(t) for t in tracers]}, changes)


def layout(raw: dict[str, Any]) -> Layout:
    return place(only(raw))


def mesh(raw: dict[str, Any], fineness: float = 1.5) -> PlanMesh:
    return STORE.get(only(raw), fineness)


def solution(raw: dict[str, Any], fineness: float = 1.5) -> Solution:
    return solved(raw, fineness)


def numbers(raw: dict[str, Any], fineness: float = 1.5) -> Mapping[str, float]:
    """The quantities on one mesh."""
    return quantities(solution(raw, fineness))
