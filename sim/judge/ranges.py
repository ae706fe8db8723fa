"""Property tables and output tables used beyond their ends, where the value at the end is held."""

from __future__ import annotations

import numpy as np

from sim.basics import ZERO_CELSIUS
from sim.case import Case, Curve
from sim.section.shapes import Array
from sim.solve.quantities import region_mask
from sim.solve.steady import Solution, cell_temperature

MATTERS = (
    0.02  # of the value at the end: less than this, going on in a straight line would not be worth a note
)
PROPERTIES = (
    "conductivity",
    "density",
    "specific_heat",
    "viscosity",
)  # of contents; those at rest use the first
STEP = 0.5  # K, over which the slope at an end is taken


def range_notes(solution: Solution) -> tuple[str, ...]:
    """A sentence for every table of the case that its temperatures leave by more than matters."""
    network, case = solution.network, solution.network.case
    cells = cell_temperature(network, solution.temperature)
    notes = []
    for number, layer in enumerate(case.insulation.layers):
        inside = region_mask(solution, "layer", "wet", index=number)
        assert layer.conductivity is not None
        notes.append(_of_curve(f"conductivity of layer {number + 1}", layer.conductivity, cells[inside]))
    notes += _contents(solution, cells)
    beneath = network.beneath @ solution.temperature
    notes += [_of_output(case, number, float(wall)) for number, wall in enumerate(beneath)]
    return tuple(note for note in notes if note)


def _contents(solution: Solution, cells: Array) -> list[str]:
    """Of every property that the state of the contents uses."""
    contents = solution.network.case.contents
    if contents.state == "flowing":
        if contents.temperature is None or contents.film_coefficient is not None:
            return []
        at, count = np.array([contents.temperature]), len(PROPERTIES)
    elif contents.state in ("still", "buoyant"):
        at = cells[region_mask(solution, "liquid")]
        count = len(PROPERTIES) if contents.state == "buoyant" else 1
    else:
        return []
    return [
        _of_curve(f"{p} of {contents.fluid.name}", getattr(contents.fluid, p), at) for p in PROPERTIES[:count]
    ]


def _of_curve(what: str, curve: Curve, temperature: Array) -> str:
    """The sentence for one curve at the temperatures (n,) K that use it; "" where there is nothing to say."""
    if curve.is_constant or not len(temperature):
        return ""
    excess = {
        "above": (float(temperature.max()) - curve.high, curve.high, -STEP),
        "below": (curve.low - float(temperature.min()), curve.low, STEP),
    }
    for side, (beyond, end, inward) in excess.items():
        if beyond <= 0.0:
            continue
        slope = (curve(end + inward) - curve(end)) / STEP
        missed = abs(slope) * beyond / curve(end)
        if missed > MATTERS:
            return (
                f"the {what.replace('_', ' ')} is known only {'up' if side == 'above' else 'down'} to "
                f"{end - ZERO_CELSIUS:.0f} degC; its value there is used to {beyond:.0f} K {side}, where its trend "
                f"would change it by up to {100 * missed:.0f} %"
            )
    return ""


def _of_output(case: Case, number: int, wall: float) -> str:
    tracer = case.tracers[number]
    if tracer.output.kind != "table" or not tracer.on:
        return ""
    known = tracer.output.temperatures
    low, high = known[0], known[-1]
    if low <= wall <= high or (wall > high and tracer.output.powers[-1] == 0.0):
        return ""
    end, side = (low, "below") if wall < low else (high, "above")
    return (
        f"the output of {tracer.name} is given to {end - ZERO_CELSIUS:.0f} degC of the wall beneath it, which is "
        f"{abs(wall - end):.0f} K {side} that; the last value of the table is used"
    )
