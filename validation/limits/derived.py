"""Sizes of what cannot be turned on, from the solved field: time, the tracer's own temperature, the pipe's length."""

import numpy as np

from sim.solve.at_rest import SectionResult
from sim.solve.quantities import region_mask
from sim.solve.section import solve_section
from sim.solve.steady import cell_temperature
from validation.limits.measured import narrowed


def time_constant(result: SectionResult) -> float:
    """Heat held by wall and contents per kelvin over the loss per kelvin, s: how long the line takes to follow."""
    case, mesh = result.case, result.solution.network.mesh
    mean = result.value("wall.mean")
    stored = 0.0
    for kind, material in (("wall", case.pipe.material), ("liquid", case.contents.fluid)):
        inside = region_mask(result.solution, kind)
        density, heat = material.density, material.specific_heat
        rho = density(mean) if callable(density) else density
        c = heat(mean) if callable(heat) else heat
        stored += float(mesh.cell_area[inside].sum()) * float(rho) * float(c)
    return stored * (mean - case.conditions[0].ambient) / result.value("heat_out")


def regulated_by_its_body(result: SectionResult) -> tuple[float, float]:
    """Body's mean less the wall beneath it (K), and the part of the output that the table's slope makes of it."""
    solution, case = result.solution, result.case
    temperature = cell_temperature(solution.network, solution.temperature)
    body = region_mask(solution, "tracer", index=0)
    mean = float(np.average(temperature[body], weights=solution.network.mesh.cell_area[body]))
    beneath = float((solution.network.beneath @ solution.temperature)[0])
    output = case.tracers[0].output
    supply = case.conditions[0].supply
    change = float(output.slope(beneath, supply)) * (mean - beneath) / float(output.watts(beneath, supply))
    return mean - beneath, change


def numbers() -> dict[str, float]:
    """By name, for the page."""
    brine = solve_section(narrowed("winter-brine", "winter-night"))
    small = solve_section(narrowed("stainless-thin", "cold-night"))
    hotter, less = regulated_by_its_body(brine)
    return {
        "brine_hours": time_constant(brine) / 3600,
        "small_hours": time_constant(small) / 3600,
        "body_hotter": hotter,
        "body_output": less,
    }
