"""A stretch of a line with one support, for closed forms: the case, its field on one mesh, rows of what is compared."""

from typing import Any

from sim.case import Case, case_for, parse_case
from sim.solve.support_level import Level, solve_level

R_I, R_O, R_COVER = 0.05113, 0.05715, 0.10715
IDLE = 1e-4  # W/m/K, insulation that hardly conducts
ISOTHERMAL = 9000.0  # W/m/K, a wall of one temperature
COLD = {"coefficient": "1000000 W/m2/K"}  # an outside at the ambient's temperature


def raw_line(
    conductivity: float, support: dict[str, Any], layer: float = 0.04, **changes: Any
) -> dict[str, Any]:
    """A bare DN 100 line of a metal of given conductivity with one support; invented. Metres, W/m/K."""
    metal = {"conductivity": f"{conductivity} W/m/K", "density": "7850 kg/m3", "specific_heat": "500 J/kg/K"}
    raw: dict[str, Any] = {
        "pipe": {"outer_diameter": "114.3 mm", "wall": "6.02 mm", "material": metal},
        "contents": {"state": "flowing", "temperature": "60 degC", "film_coefficient": "100000 W/m2/K"},
        "insulation": {"layer": [{"conductivity": f"{layer} W/m/K", "thickness": "50 mm"}]},
        "outside": {"coefficient": "10 W/m2/K"},
        "condition": [{"name": "a", "ambient": "0 degC"}],
        "design": {"maintain": "60 degC"},
        "support": [{"name": "S", "family": "parts"} | support],
    }
    return raw | changes


def only(raw: dict[str, Any]) -> Case:
    """The case of its one condition, "a"."""
    return case_for(parse_case(raw), "a")


def line(conductivity: float, support: dict[str, Any], layer: float = 0.04, **changes: Any) -> Case:
    """The same as a case."""
    return only(raw_line(conductivity, support, layer, **changes))


def level(case: Case, fineness: float = 0.8) -> Level:
    """Its only support on one mesh."""
    return solve_level(case, case.supports[0], fineness)
