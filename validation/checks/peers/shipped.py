"""Two shipped cases by an independent body-fitted finite-element solution (scikit-fem on gmsh).

The finite elements share the case, the films and the property tables with the field, nothing else: other mesh,
other discretisation, other solver, written from the model's definition alone.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.case import Case, case_for, load_case
from sim.heat.film import outside_coefficient
from sim.solve.at_rest import SectionResult
from sim.solve.section import solve_section
from validation.peers.elements.section import solve_section as by_elements
from validation.published.rows import NotRun, Row

SHIPPED = (("stainless-thin.toml", "cold-night"), ("half-filled-drain.toml", "frost"))
SOURCE = "curved quadratic elements by scikit-fem (@scikitfem2020) on a mesh by gmsh (@gmsh2009)"


def _folder() -> Path:
    """Where the shipped cases are: they are no part of the package. Raises NotRun where there are none."""
    for root in (Path(__file__).parents[3], Path.cwd()):
        if all((root / "cases" / file).is_file() for file, _ in SHIPPED):
            return root / "cases"
    raise NotRun("the shipped case files are not part of the package: run it from a checkout's own folder")


def _by_elements(case: Case) -> dict[str, Any]:
    condition = case.conditions[0]
    radius = case.pipe.outer_radius + sum(layer.thickness for layer in case.insulation.layers)
    emissivity = case.barrier.emissivity if case.barrier is not None else case.outside.emissivity

    def film(surface: NDArray[np.float64], angle: NDArray[np.float64]) -> NDArray[np.float64]:
        return outside_coefficient(
            surface,
            angle,
            ambient=condition.ambient,
            wind=condition.wind,
            wind_from_clock=condition.wind_from,
            diameter=2 * radius,
            emissivity=emissivity if emissivity is not None else case.outside.emissivity,
            coefficient=case.outside.coefficient,
        )

    return by_elements(case, outside=film)


def _row(name: str, path: str, reference: float, result: SectionResult, scale: float, share: float) -> Row:
    computed = result.quantities[path]
    heat = path == "heat_out"
    shift = 0.0 if heat else 273.15
    return Row(
        name,
        SOURCE,
        path,
        reference - shift,
        computed.value - shift,
        share * scale,
        f"{100 * share:g} % of the {'loss' if heat else 'span'}",
        "W/m" if heat else "degC",
        computed.band,
    )


def shipped_cases() -> list[Row]:
    """Two shipped cases by finite elements: extremes of wall, contents and sheath, and the loss."""
    folder = _folder()
    out = []
    for file, condition in SHIPPED:
        case = case_for(load_case(folder / file), condition)
        reference, result = _by_elements(case), solve_section(case)
        tracer = case.tracers[0].name
        sheath = reference["tracers"][tracer]["sheath_max"]
        span = sheath - case.conditions[0].ambient
        name = f"{file}, {condition}"
        for path in ("wall.min", "wall.mean", "wall.max", "contents.max", "barrier.min", "barrier.max"):
            group, which = path.split(".")
            out.append(_row(name, path, reference[group][which], result, span, 0.005))
        out.append(_row(name, f"tracers.{tracer}.sheath_max", sheath, result, span, 0.015))
        out.append(_row(name, "heat_out", reference["heat_out"], result, reference["heat_out"], 0.002))
    return out


GROUPS = (shipped_cases,)
