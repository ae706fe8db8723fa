"""What the model leaves out or holds fixed, turned on where the program can, and how far the answer moves.

Every effect is a pair of cases that differ in one thing. The lines are the shipped, invented ones.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sim.case import Case, Sky, Sun, case_for, load_case, resolved, with_overrides
from sim.heat import air
from sim.judge.field_notes import GRAVITY
from sim.section.gaps import void_width
from sim.solve.at_rest import SectionResult
from sim.solve.paths import quantity
from sim.solve.quantities import region_mask
from sim.solve.section import solve_section
from sim.solve.steady import cell_temperature

CASES = Path(__file__).parents[2] / "cases"


@dataclass(frozen=True)
class Effect:
    """One thing turned on: how, on which line, and the change of coldest contents (or wall), of the hottest sheath
    (K) and of the loss (part of it); NaN where the line has no such number."""

    name: str
    how: str
    line: str
    coldest: float
    sheath: float
    loss: float
    bracketed: bool = False


def narrowed(file: str, condition: str, **overrides: Any) -> Case:
    case = load_case(CASES / f"{file}.toml")
    return case_for(with_overrides(case, overrides) if overrides else case, condition)


def _coldest(result: SectionResult) -> float:
    contents = result.quantities.get("contents.min")
    if contents is not None and np.isfinite(contents.value):
        return contents.value
    return result.value("wall.min")


def _sheath(result: SectionResult) -> float:
    sheaths = [b.value for path, b in result.quantities.items() if quantity(path).limit == "sheath_max"]
    return max(sheaths) if sheaths else float("nan")


def _loss(result: SectionResult) -> float:
    """Heat out less what the sun brings, W/m."""
    sun = result.quantities.get("from_sun")
    return result.value("heat_out") - (sun.value if sun is not None else 0.0)


def effect(name: str, how: str, line: str, base: Case, changed: Case) -> Effect:
    """Solve both and compare."""
    first, second = solve_section(base), solve_section(changed)
    loss = _loss(first)
    return Effect(
        name,
        how,
        line,
        _coldest(second) - _coldest(first),
        _sheath(second) - _sheath(first),
        (_loss(second) - loss) / loss,
        first.bracketed or second.bracketed,
    )


def _outdoors(case: Case, **more: Any) -> Case:
    """The case in other weather: keys of its condition, as values of the schema."""
    return case.model_copy(update={"conditions": (case.conditions[0].model_copy(update=more),)})


def _outer_film(case: Case) -> float:
    """Mean outside coefficient of a case, W/m2/K."""
    result = solve_section(case)
    radius = result.solution.network.mesh.layout.cover_radius
    rise = result.value("barrier.mean") - case.conditions[0].ambient
    return result.value("heat_out") / (2 * np.pi * radius * rise)


def sun_and_sky() -> Iterator[Effect]:
    """The summer's sun taken away and put on, a clear sky, and rain."""
    beam = {"irradiance": "1000 W/m2", "clock": 1}
    for name, changes, share in (
        ("bright barrier, 30 % absorbed", {}, 0.3),
        ("painted barrier, 60 % absorbed", {"barrier": {"emissivity": 0.9}}, 0.6),
    ):
        hot = narrowed("winter-brine", "summer-day", **changes)
        yield effect(
            f"sun, {name}",
            "1000 W/m2 from 1 o'clock against none, still air",
            "winter-brine, summer-day",
            _outdoors(hot, sun=None),
            _outdoors(hot, sun=Sun.model_validate(beam | {"absorptivity": share})),
        )
    cold = narrowed("winter-brine", "winter-night")
    grey = narrowed("winter-brine", "winter-night", barrier={"emissivity": 0.9})
    for name, case in (("bright", cold), ("painted, emissivity 0.9", grey)):
        yield effect(
            f"clear sky, {name} barrier",
            "a sky 20 K below the air",
            "winter-brine, winter-night",
            case,
            _outdoors(case, sky=Sky.model_construct(temperature=case.conditions[0].ambient - 20.0)),
        )
    yield effect(
        "rain on the barrier",
        "the outer surface at the ambient temperature",
        "winter-brine, winter-night",
        cold,
        _outdoors(cold, rain=True),
    )


def outside_film() -> Iterator[Effect]:
    """Scatter of film correlations, on a windy night and on a still day."""
    for condition in ("winter-night", "summer-day"):
        case = narrowed("winter-brine", condition)
        film = _outer_film(case)
        given = [
            narrowed("winter-brine", condition, outside={"coefficient": f"{film * f} W/m2/K"})
            for f in (1.0, 0.75)
        ]
        yield effect(
            "film correlation 25 % too high",
            f"coefficient {film:.1f} W/m2/K against three quarters of it, the same all round",
            f"winter-brine, {condition}",
            given[0],
            given[1],
        )
    sided = narrowed("hanging-shell", "dry-winter")
    all_round = sided.conditions[0].model_copy(update={"wind_from": None})
    yield effect(
        "how the wind's film varies around the barrier",
        "wind from 9 o'clock against its mean film all round",
        "hanging-shell, dry-winter",
        sided,
        sided.model_copy(update={"conditions": (all_round,)}),
    )


def stirring_gap() -> Effect:
    """The air gap's still conduction against the same with Raithby and Hollands' factor on its conducting part."""
    case = narrowed("hanging-shell", "dry-winter")
    result = solve_section(case)
    solution = result.solution
    network = solution.network
    inside = region_mask(solution, "void")
    temperature = cell_temperature(network, solution.temperature)[inside]
    area = network.mesh.cell_area[inside]
    mean = float(np.average(temperature, weights=area))
    mesh = network.mesh
    width = float(void_width(mesh.layout, mesh.pieces, mesh.site[inside]).max())
    still = float(np.average(solution.conductivity[inside], weights=area))
    lift = GRAVITY * float(air.expansion(mean)) * float(np.ptp(temperature)) * width**3
    rayleigh = lift / float(air.kinematic_viscosity(mean) * air.diffusivity(mean))
    prandtl = float(air.prandtl(mean))
    factor = max(1.0, 0.386 * (prandtl / (0.861 + prandtl)) ** 0.25 * rayleigh**0.25)
    stirred = still + (factor - 1.0) * float(air.conductivity(mean))
    made = [
        narrowed("hanging-shell", "dry-winter", insulation={"void": {"conductivity": f"{k} W/m/K"}})
        for k in (still, stirred)
    ]
    return effect(
        "air stirring in a hanging shell's gap",
        f"{factor:.1f} times the conduction of still air everywhere in the gap "
        f"(widest {1e3 * width:.0f} mm, Ra {rayleigh:.1g}): the most it can be",
        "hanging-shell, dry-winter",
        *made,
    )


def contents() -> Iterator[Effect]:
    """The states of the contents against each other."""
    for condition, where in (("tracer-at-5", "low"), ("tracer-at-11", "high")):
        still, moving, mixed = (
            narrowed("stirred-water", condition, contents={"state": s}) for s in ("still", "buoyant", "mixed")
        )
        for name, changed in (("moving freely", moving), ("mixed", mixed)):
            yield effect(
                f"water {name} instead of still, tracer {where}",
                f"contents.state {changed.contents.state} against still",
                f"stirred-water, {condition}",
                still,
                changed,
            )


def tracer_and_wall() -> Iterator[Effect]:
    """What the model holds uniform in the tracer, and how the tracer lies on the pipe."""
    flat, at = "winter-brine", "winter-night"
    round_, hot = "stainless-thin", "drained-hot-day"
    base = load_case(CASES / f"{flat}.toml").tracers[0]
    seat = base.contact_conductance
    for factor, word in ((1 / 3, "a third of"), (3.0, "three times")):
        yield effect(
            f"contact conductance {word} the assumed",
            f"{seat:.0f} W/m2/K against {seat * factor:.0f}",
            f"{flat}, {at}",
            narrowed(flat, at),
            narrowed(flat, at, tracer={"T1": {"contact_conductance": f"{seat * factor} W/m2/K"}}),
        )
    soda, night = "plastic-two-tracers", "winter-night"
    for other, word in (("bonded", "without resistance"), ("100 W/m2/K", "a quarter of the assumed")):
        yield effect(
            f"foil's contact with sheath and pipe {word}",
            f"foil.contact_conductance 400 W/m2/K against {other}",
            f"{soda}, {night}",
            narrowed(soda, night, foil={"contact_conductance": "400 W/m2/K"}),
            narrowed(soda, night, foil={"contact_conductance": other}),
        )
    yield effect(
        "a flat tracer that stands off by 1 mm",
        "an air gap of 1 mm instead of contact",
        f"{flat}, summer-day",
        narrowed(flat, "summer-day"),
        narrowed(flat, "summer-day", tracer={"T1": {"standoff": "1 mm"}}),
    )
    yield effect(
        "a round tracer that touches on half the width",
        "contact width 0.75 mm against 1.5 mm",
        f"{round_}, {hot}",
        narrowed(round_, hot),
        narrowed(round_, hot, tracer={"T1": {"contact_width": "0.75 mm"}}),
    )
    yield effect(
        "the same, voids of air beside it",
        "contact width 0.75 mm against 1.5 mm, insulation bridging",
        f"{round_}, {hot}",
        narrowed(round_, hot, insulation={"fit": "bridged"}),
        narrowed(round_, hot, insulation={"fit": "bridged"}, tracer={"T1": {"contact_width": "0.75 mm"}}),
    )
    yield effect(
        "body of the tracer conducts half as well",
        "body conductivity halved: a measure of what heat made in its conductors alone may do",
        f"{flat}, summer-day",
        narrowed(flat, "summer-day"),
        narrowed(
            flat, "summer-day", tracer={"T1": {"body_conductivity": f"{base.body_conductivity / 2} W/m/K"}}
        ),
    )
    pipe = load_case(CASES / f"{round_}.toml").pipe
    outer = {"outer_diameter": f"{2 * pipe.outer_radius} m", "material": "stainless steel"}
    wall = pipe.outer_radius - pipe.inner_radius
    thick, thin = (_free_pipe(round_, "cold-night", outer | {"wall": f"{w} m"}) for w in (wall, 0.875 * wall))
    yield effect(
        "pipe wall 12.5 % thinner",
        "the mill tolerance of ASME B36.10M (from memory)",
        f"{round_}, cold-night",
        thick,
        thin,
    )


def _free_pipe(file: str, condition: str, pipe: dict[str, Any]) -> Case:
    from sim.case import parse_case

    raw = resolved(load_case(CASES / f"{file}.toml"))
    raw["pipe"] = pipe
    return case_for(parse_case(raw), condition)


def insulation() -> Iterator[Effect]:
    """Conductivity in service, and joints and compression, as one factor."""
    at = "winter-night"
    case = load_case(CASES / "winter-brine.toml")
    curve = case.insulation.layers[0].conductivity
    assert curve is not None
    celsius = np.array([-50.0, 10.0, 50.0, 100.0, 200.0])
    tables = [[[f"{t} degC", f"{f * float(curve(t + 273.15))} W/m/K"] for t in celsius] for f in (1.0, 1.2)]
    pair = [
        narrowed("winter-brine", at, insulation={"layer": {"1": {"material": None, "conductivity": t}}})
        for t in tables
    ]
    yield effect(
        "insulation conducts 20 % more than its table",
        "joints, ageing, compression (common practice, no source)",
        f"winter-brine, {at}",
        *pair,
    )
    yield effect(
        "a shell one size too large",
        "a bore of 125 mm hanging on the pipe of 114.3 mm, against a concentric shell with voids bridged",
        f"winter-brine, {at}",
        narrowed("winter-brine", at),
        narrowed("winter-brine", at, insulation={"fit": "oversize", "bore": "125 mm"}),
    )


def all_effects() -> list[Effect]:
    """Every effect, in the order of the page."""
    return [
        *sun_and_sky(),
        *outside_film(),
        stirring_gap(),
        *contents(),
        *tracer_and_wall(),
        *insulation(),
    ]
