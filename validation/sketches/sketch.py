"""A section sketched key by key, and its numbers on one mesh: the tool of the quick checks. Every size is invented.

One mesh is enough where the tolerance says so: at fineness 2 the mesh's own error is a few parts in a thousand, far
below what a broken effect does.
"""

import copy
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.case import Case, case_for, parse_case
from sim.heat.network import network
from sim.solve.at_rest import MeshStore
from sim.solve.quantities import quantities, region_mask
from sim.solve.steady import Solution, solve
from validation.sketches.lines import flowing, solid

ZERO = 273.15
SIGMA = 5.670374419e-8  # W/m2/K4, CODATA 2018
INNER, OUTER, COVER = 0.050, 0.055, 0.095  # m, radii of the sketched line
METAL = 1e4  # W/m/K, so much that a part has one temperature
HELD = 1e7  # W/m2/K, so much that a surface has the temperature beyond it
LIQUID = {
    "conductivity": "0.6 W/m/K",
    "density": "1000 kg/m3",
    "specific_heat": "4200 J/kg/K",
    "viscosity": "1e-3 Pa*s",
    "expansion": "2e-4 1/K",
}
GAS = LIQUID | {"conductivity": "0.03 W/m/K", "density": "1.2 kg/m3"}
ROUND = {"name": "T1", "clock": 3, "shape": "round", "diameter": "10 mm", "output": "20 W/m"}
FLAT = {"name": "T1", "clock": 3, "shape": "flat", "width": "12 mm", "height": "4 mm", "output": "20 W/m"}
DEFINED = "closed form, from the definition"
STORE = MeshStore()

Array = NDArray[np.float64]


def sketch(*tracers: Mapping[str, Any], **changes: Any) -> dict[str, Any]:
    """A line as a case file would hold it: metal pipe 110 mm, flowing at 100 degC, 40 mm of 0.04 W/m/K, 0 degC outside.

    changes: as in `changed`.
    """
    raw: dict[str, Any] = {
        "pipe": {"outer_diameter": "110 mm", "wall": "5 mm", "material": solid(METAL)},
        "contents": flowing(100.0, HELD),
        "tracer": [dict(t) for t in tracers],
        "insulation": {"layer": [{"thickness": "40 mm", "conductivity": "0.04 W/m/K"}]},
        "outside": {"coefficient": f"{HELD} W/m2/K"},
        "condition": [{"name": "only", "ambient": "0 degC"}],
    }
    return changed(raw, changes)


def changed(raw: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """A copy of a case with changes: `a__b=v` sets key b of table a, a plain one a whole key.

    `layer__k=v` sets a key of the only insulation layer, `condition__k=v` one of the only condition.
    """
    out: dict[str, Any] = copy.deepcopy(dict(raw))
    for path, value in changes.items():
        table, _, key = path.partition("__")
        if not key:
            out[table] = value
        elif table == "layer":
            out["insulation"]["layer"][0][key] = value
        elif table == "condition":
            out["condition"][0][key] = value
        else:
            out.setdefault(table, {})[key] = value
    return out


def case_of(raw: dict[str, Any]) -> Case:
    """The case in its first condition."""
    case = parse_case(raw)
    return case_for(case, case.conditions[0].name)


def solved(raw: dict[str, Any], fineness: float = 2.0) -> Solution:
    """The field on one mesh."""
    case = case_of(raw)
    return solve(network(case, STORE.get(case, fineness)))


def numbers(raw: dict[str, Any], fineness: float = 2.0) -> Mapping[str, float]:
    """The quantities on one mesh; temperatures in K."""
    return quantities(solved(raw, fineness))


def area_of(raw: dict[str, Any], kind: str) -> float:
    """Meshed area of the regions of a kind, m2."""
    mesh = STORE.get(case_of(raw), 2.0)
    chosen = [r.kind == kind for r in mesh.layout.regions]
    return float(mesh.cell_area[np.array(chosen)[mesh.cell_region]].sum())


def centroid_of(solution: Solution, kind: str) -> Array:
    """Centre of the regions of a kind, weighted by area, (2,) m."""
    mesh = solution.network.mesh
    inside = region_mask(solution, kind)
    return np.average(mesh.site[inside], axis=0, weights=mesh.cell_area[inside])


def hours_apart(clock: float, other: float) -> float:
    """Signed hours from `other` to `clock`, -6 to 6."""
    return float((clock - other + 6.0) % 12.0 - 6.0)
