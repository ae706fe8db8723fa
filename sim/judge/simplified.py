"""The design's one-line method, computed from the same case as the field it is set beside.

Heat loss: the concentric-cylinder relation of IEC/IEEE 60079-30-2 and IEEE 515 (formulas from memory),

    q' = (T_p - T_a) / (1/(pi D1 h_i) + sum ln(D_outer/D_inner)/(2 pi k) + 1/(pi D h_o)),

each layer's k at its own mean temperature, h_o the film of ISO 12241 (`sim.heat.iso_film`) at the outside of
the barrier, or the coefficient given in the case. Sheath: T_s = W/(C U) + T_p. One pipe temperature is
taken all round.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import log, pi
from typing import TYPE_CHECKING

from sim.heat import iso_film
from sim.heat.bore import bore_coefficient
from sim.heat.tracer import tracer_watts

if TYPE_CHECKING:
    from sim.case import Case, Tracer

ROUND_CONTACT = 0.2
"""Contact width of a round tracer over its diameter where the case gives none: assumed."""

HOTTEST = 2000.0
"""Pipe temperature above ambient at which the search for a balance gives up, K."""

NEAR = 1e-7
"""To which the balance is found by halving, K."""

LEAST_FILM = 1e-9
"""Keeps the network finite where nothing carries heat off the surface, W/(m2 K)."""

TOLERANCE = 1e-10
"""Relative change of the heat loss at which the iteration on k and the film stops."""


@dataclass(frozen=True)
class Simplified:
    """What the one-line method says of one condition. Temperatures in K, heat in W/m.

    pipe_temperature is the one the heat loss is taken at; pipe_temperature_uncontrolled balances the network
    with the tracers left on, None where no balance exists. sheath: by tracer name, None where it cannot be
    said. terms: thermal resistance of each part, m K/W, in the order the heat meets them.
    """

    condition: str
    heat_loss: float
    pipe_temperature: float
    pipe_temperature_uncontrolled: float | None
    surface_temperature: float
    tracer_output: float
    sheath: dict[str, float | None]
    terms: dict[str, float]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Shell:
    """One cylinder of the network: label, diameters in m, conductivity over temperature in W/(m K)."""

    label: str
    inner: float
    outer: float
    conductivity: Callable[[float], float]


@dataclass(frozen=True)
class _Balance:
    heat_loss: float
    surface: float
    terms: dict[str, float]
    converged: bool


def simplified(case: "Case") -> Simplified:
    """The one-line method for the first condition of `case`.

    The pipe temperature is design.maintain, else the temperature of flowing contents (then the film in the
    bore and the wall are part of the network), else limits.contents_min, else limits.wall_min, else the one
    at which the network loses what the tracers give. Raises ValueError where flowing contents lack what their
    film needs.
    """
    condition, notes = case.conditions[0], []
    heated = [t for t in case.tracers if t.on]

    def output(wall: float) -> float:
        return sum(float(tracer_watts(t, condition, wall)) for t in heated)

    balanced = _uncontrolled(case, output)
    if balanced is None:
        notes.append(f"no pipe temperature below ambient + {HOTTEST:.0f} K balances the tracers' output")
    temperature, origin, inside = _pipe_temperature(case)
    if temperature is None:
        temperature, origin = condition.ambient + HOTTEST, "the end of the search"
        if balanced is not None:
            temperature = balanced
            origin = "the balance of loss and tracer output, so that the loss is the output"
    notes.append(f"pipe temperature from {origin}")
    loss = _loss(case, temperature, _shells(case, inside=inside))
    settled = balanced is None or _loss(case, balanced, _shells(case, inside=False)).converged
    if not (settled and loss.converged):
        notes.append("the iteration on insulation conductivity and film did not converge")

    flowing = case.contents.state == "flowing" and case.contents.temperature is not None
    beneath = case.contents.temperature if flowing else balanced
    sheath = {t.name: _sheath(t, case, beneath) for t in case.tracers}
    if case.tracers:
        notes += _sheath_notes(case, flowing)
    notes += _ignored(case)
    return Simplified(
        condition=condition.name,
        heat_loss=loss.heat_loss,
        pipe_temperature=temperature,
        pipe_temperature_uncontrolled=balanced,
        surface_temperature=loss.surface,
        tracer_output=output(temperature),
        sheath=sheath,
        terms=loss.terms,
        notes=tuple(notes),
    )


def contact_circumference(tracer: "Tracer") -> float | None:
    """C of the sheath relation, m: the width of a flat tracer, the contact width of a round one."""
    if tracer.shape == "flat":
        return tracer.width
    if tracer.contact_width is not None:
        return tracer.contact_width
    return None if tracer.diameter is None else ROUND_CONTACT * tracer.diameter


def _pipe_temperature(case: "Case") -> tuple[float | None, str, bool]:
    """Temperature the loss is taken at, where it comes from, and whether it is the contents' own."""
    if case.design.maintain is not None:
        return case.design.maintain, "design.maintain", False
    if case.contents.state == "flowing" and case.contents.temperature is not None:
        origin = "the flowing contents, through the film in the bore and the wall"
        return case.contents.temperature, origin, True
    limits = case.limits
    if limits.contents_min is not None:
        return limits.contents_min, "limits.contents_min", False
    if limits.wall_min is not None:
        return limits.wall_min, "limits.wall_min", False
    return None, "", False


def _shells(case: "Case", *, inside: bool) -> list[_Shell]:
    pipe, shells = case.pipe, []
    diameter = pipe.outer_diameter
    if inside:
        shells.append(_Shell("pipe wall", 2.0 * pipe.inner_radius, diameter, pipe.material.conductivity))
    if case.insulation.fit == "oversize" and case.insulation.bore is not None:
        diameter = case.insulation.bore
    for number, layer in enumerate(case.insulation.layers, start=1):
        outer = diameter + 2.0 * layer.thickness
        shells.append(_Shell(f"insulation layer {number}", diameter, outer, layer.conductivity))
        diameter = outer
    if case.barrier is not None:
        barrier = float(case.barrier.conductivity)
        outer = diameter + 2.0 * case.barrier.thickness
        shells.append(_Shell("barrier", diameter, outer, lambda _: barrier))
    return shells


def _loss(case: "Case", temperature: float, shells: list[_Shell]) -> _Balance:
    """Heat loss of the network at one inside temperature, by iteration on the temperatures between."""
    condition = case.conditions[0]
    fall = temperature - condition.ambient
    diameter = shells[-1].outer if shells else case.pipe.outer_diameter
    emissivity = (case.barrier or case.outside).emissivity
    terms: dict[str, float] = {}
    if shells and shells[0].label == "pipe wall":
        coefficient, _ = bore_coefficient(case.contents, shells[0].inner, "liquid")
        if coefficient <= 0.0:
            return _Balance(0.0, condition.ambient, {"film in the bore": float("inf")}, True)
        terms["film in the bore"] = 1.0 / (pi * shells[0].inner * coefficient)
    means, surface = [temperature - 0.5 * fall] * len(shells), condition.ambient + 0.1 * fall
    heat, converged = 0.0, False
    for count in range(200):
        for shell, mean in zip(shells, means, strict=True):
            terms[shell.label] = log(shell.outer / shell.inner) / (2.0 * pi * float(shell.conductivity(mean)))
        film = case.outside.coefficient
        if film is None:
            film = iso_film.outside(
                surface,
                ambient=condition.ambient,
                wind=condition.wind,
                diameter=diameter,
                emissivity=emissivity,
            )
        terms["outside film"] = 1.0 / (pi * diameter * max(film, LEAST_FILM))
        previous, heat = heat, fall / sum(terms.values())
        converged = abs(heat - previous) <= TOLERANCE * abs(heat)
        if converged:
            break
        # A law with a jump can make the plain iteration hop; half steps damp it.
        share = 1.0 if count < 30 else 0.5
        inner = temperature - heat * terms.get("film in the bore", 0.0)
        for index, shell in enumerate(shells):
            outer = inner - heat * terms[shell.label]
            means[index] += share * (0.5 * (inner + outer) - means[index])
            inner = outer
        surface += share * (inner - surface)
    return _Balance(heat, condition.ambient + heat * terms["outside film"], terms, converged)


def _uncontrolled(case: "Case", output: Callable[[float], float]) -> float | None:
    """Lowest pipe temperature at which the network loses the tracers' output, None if none is found."""
    ambient, shells = case.conditions[0].ambient, _shells(case, inside=False)

    def excess(temperature: float) -> float:
        return _loss(case, temperature, shells).heat_loss - output(temperature)

    if output(ambient) <= 0.0:
        return ambient
    low, step = ambient, 10.0
    while low - ambient < HOTTEST:
        high = low + step
        if excess(high) >= 0.0:
            while high - low > NEAR:
                middle = 0.5 * (low + high)
                low, high = (middle, high) if excess(middle) < 0.0 else (low, middle)
            return 0.5 * (low + high)
        low, step = high, 1.5 * step
    return None


def _sheath(tracer: "Tracer", case: "Case", pipe_temperature: float | None) -> float | None:
    contact = contact_circumference(tracer)
    if pipe_temperature is None or not contact or tracer.standoff > 0.0 or tracer.over is not None:
        return None
    watts = float(tracer_watts(tracer, case.conditions[0], pipe_temperature))
    return pipe_temperature + watts / (contact * tracer.contact_conductance)


def _sheath_notes(case: "Case", flowing: bool) -> list[str]:
    at = "the flowing contents' temperature" if flowing else "the uncontrolled pipe temperature"
    notes = [
        f"sheath = W/(C U) + T_p at {at}, C the width of a flat tracer or the contact width of a round one, "
        "U the contact conductance"
    ]
    apart = [t.name for t in case.tracers if t.standoff > 0.0 or t.over is not None]
    if apart:
        notes.append(f"no simplified sheath for {', '.join(apart)}: not in contact with the pipe")
    if flowing:
        notes.append("the uncontrolled pipe temperature is without the flow")
    return notes


def _ignored(case: "Case") -> list[str]:
    """What of this case the one-line method leaves out, in words."""
    condition, fit = case.conditions[0], case.insulation.fit
    parts = {
        "the gap between pipe and shell and the hang of the shell (h_i taken as infinite)": fit == "oversize",
        "the voids beside the tracers": fit == "bridged",
        "wet insulation": any(layer.wet is not None for layer in case.insulation.layers),
        "clock position, and the tracer's heat that leaves without reaching the pipe": case.tracers,
        "the foil": case.foil is not None,
        "the fill level": case.contents.fill < 1.0,
        "the side the wind comes from": condition.wind > 0.0 and condition.wind_from is not None,
        "the sun": condition.sun,
        "the sky's own temperature": condition.sky,
        "rain": condition.rain,
    }
    left = [words for words, there in parts.items() if there]
    return ["left out by the simplified method: " + "; ".join(left)] if left else []
