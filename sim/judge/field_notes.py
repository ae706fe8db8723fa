"""Property tables and output tables used beyond their ends, where the value at the end is held."""

from collections.abc import Mapping
from dataclasses import replace
from math import inf

import numpy as np

from sim.basics import ZERO_CELSIUS
from sim.case import Case, Curve, Fluid
from sim.heat import air
from sim.judge.limits import LimitCheck, both
from sim.section.gaps import void_width
from sim.section.shapes import Array
from sim.solve.at_rest import SectionResult
from sim.solve.paths import coldest_contents
from sim.solve.quantities import region_mask
from sim.solve.steady import Solution, cell_temperature

# of the value at the end: less than this, going on in a straight line would not be worth a note
MATTERS = 0.02
# of contents; those at rest use the first
PROPERTIES = ("conductivity", "density", "specific_heat", "viscosity")
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


GRAVITY = 9.80665
QUIET = 1000.0  # Rayleigh number below which still air is a fair picture


def gap_note(solution: Solution) -> str | None:
    """A sentence if air in a gap would stir, else None.

    Rayleigh number on the widest gap and the largest difference within the void; what stirring would multiply the
    conduction by is Raithby and Hollands (1975) for an annulus, 0.386 (Pr / (0.861 + Pr))^(1/4) (F Ra)^(1/4), with
    the geometry factor F taken as 1 (its largest value).
    """
    network = solution.network
    if network.case.insulation.void.conductivity is not None:
        return None
    void = region_mask(solution, "void")
    if not void.any():
        return None
    temperature = cell_temperature(network, solution.temperature)[void]
    mesh = network.mesh
    width = float(void_width(mesh.layout, mesh.pieces, mesh.site[void]).max())
    film = float(temperature.mean())
    spread = float(np.ptp(temperature))
    rayleigh = (
        GRAVITY
        * float(air.expansion(film))
        * spread
        * width**3
        / float(air.kinematic_viscosity(film) * air.diffusivity(film))
    )
    if rayleigh < QUIET:
        return None
    prandtl = float(air.prandtl(film))
    stirred = max(1.0, 0.386 * (prandtl / (0.861 + prandtl)) ** 0.25 * rayleigh**0.25)
    return (
        f"free convection in the air gaps is left out: the widest is {1e3 * width:.0f} mm (Rayleigh number "
        f"{rayleigh:.2g}), where stirring air would carry up to {stirred:.1f} times what still air conducts"
    )


TURNS = 281.15  # K, twice water's temperature of greatest density in degC: below it the expansion's change matters
WATERY = {  # SI, at `TURNS`; common practice, no source
    "conductivity": (0.5, 0.7),
    "density": (970.0, 1030.0),
    "specific_heat": (3900.0, 4400.0),
    "viscosity": (8e-4, 2e-3),
}


def like_water(fluid: Fluid) -> bool:
    """Whether a liquid has water's properties at 8 degC, to what a case would write of it."""
    return fluid.phase == "liquid" and all(
        low <= float(getattr(fluid, name)(TURNS)) <= high for name, (low, high) in WATERY.items()
    )


def freezing_notes(result: SectionResult) -> tuple[str, ...]:
    """What a reader must know where the liquid is, or within its band may be, colder than it can be without ice."""
    contents = result.case.contents
    if contents.state == "empty" or contents.fill <= 0:
        return ()
    path = coldest_contents(result.quantities)
    lowest, fluid = result.quantities[path], contents.fluid
    coldest = min(lowest.value - lowest.band, result.ends.get(path, inf))
    notes = []
    if fluid.freezes_at is not None and coldest < fluid.freezes_at:
        notes.append(
            f"the contents {_reach(coldest, lowest.band)}, below the freezing point of {fluid.name} "
            f"({fluid.freezes_at - ZERO_CELSIUS:.1f} degC): this field knows no ice, its numbers are those of a "
            "liquid, and closed-in ice may burst a pipe; an episode follows the freezing"
        )
    if fluid.freezes_at is None and like_water(fluid) and coldest < ZERO_CELSIUS:
        notes.append(
            f"the contents {_reach(coldest, lowest.band)}; {fluid.name} is like water but has no freezes_at, and "
            "nothing here knows of ice"
        )
    one = fluid.density.is_constant and fluid.expansion.is_constant
    if contents.state == "buoyant" and one and like_water(fluid) and coldest < TURNS:
        notes.append(
            f"{fluid.name} is like water but has one expansion at every temperature; water is heaviest at 4 degC, and "
            "below about 8 degC its flow is another (up to 0.6 K at the coldest place): give its density over "
            'temperature, or fluid = "water"'
        )
    return tuple(notes)


def with_ice(
    checks: tuple[LimitCheck, ...], case: Case, ends: Mapping[str, float] | None = None
) -> tuple[LimitCheck, ...]:
    """Cold limits of the contents and of the wall that they touch, with a warning beside one that is kept only below
    the contents' freezing point. ends: of a bracket, as of `SectionResult`."""
    at = case.contents.fluid.freezes_at if case.contents.state != "empty" and case.contents.fill > 0 else None
    if at is None:
        return checks
    words = (
        f"may be below the freezing point of the contents, {at - ZERO_CELSIUS:.1f} degC; no ice is counted"
    )
    return tuple(
        replace(check, note=both(check.note, words))
        if check.limit in ("contents_min", "wall_min")
        and min(check.value - check.band, (ends or {}).get(check.quantity, inf)) < at
        else check
        for check in checks
    )


def _reach(coldest: float, band: float) -> str:
    return f"{'reach' if band < 0.1 else 'may reach'} {coldest - ZERO_CELSIUS:.1f} degC"
