"""Small cases for the closed forms: sizes in metres, conductivities in W/m/K, as the case file would hold them."""

from typing import Any

from sim.case import Case, case_for, parse_case

ADIABATIC = {"state": "empty", "film_coefficient": "0 W/m2/K"}


def solid(conductivity: float) -> dict[str, str]:
    """Inline material; density and specific heat do not matter in a steady state."""
    return {"conductivity": f"{conductivity} W/m/K", "density": "1000 kg/m3", "specific_heat": "1000 J/kg/K"}


def plain_pipe(
    outer_diameter: float,
    wall: float,
    wall_conductivity: float,
    layers: list[tuple[float, float]],
    coefficient: float,
    contents: dict[str, Any] | None = None,
    insulation: dict[str, Any] | None = None,
    barrier: tuple[float, float] | None = None,
    ambient: float = 0.0,
    tracers: list[dict[str, Any]] | None = None,
) -> Case:
    """A pipe, by default without a tracer; layers and barrier are (thickness, conductivity), temperatures degC."""
    case: dict[str, Any] = {
        "title": "closed form",
        "pipe": {
            "outer_diameter": f"{outer_diameter} m",
            "wall": f"{wall} m",
            "material": solid(wall_conductivity),
        },
        "contents": contents or ADIABATIC,
        "insulation": {
            **(insulation or {}),
            "layer": [{"thickness": f"{t} m", "conductivity": f"{k} W/m/K"} for t, k in layers],
        },
        "outside": {"coefficient": f"{coefficient} W/m2/K"},
        "condition": [{"name": "only", "ambient": f"{ambient} degC"}],
    }
    if tracers is not None:
        case["tracer"] = tracers
    if barrier is not None:
        case["barrier"] = {
            "thickness": f"{barrier[0]} m",
            "conductivity": f"{barrier[1]} W/m/K",
            "emissivity": 0.5,
        }
    return case_for(parse_case(case), "only")


def flowing(temperature: float, film: float) -> dict[str, Any]:
    """Contents at a given temperature in degC behind a film."""
    return {"state": "flowing", "temperature": f"{temperature} degC", "film_coefficient": f"{film} W/m2/K"}
