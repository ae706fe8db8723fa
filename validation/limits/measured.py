"""What the model leaves out or holds fixed, turned on where the program can, and how far the answer moves.

Every effect is a pair of cases that differ in one thing. The lines are the shipped, invented ones.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from unittest.mock import patch

import numpy as np

from sim.case import Case, Sky, Sun, case_for, load_case, parse_case, resolved, with_overrides
from sim.heat import air, conductivity
from sim.judge.field_notes import gap_note
from sim.solve.at_rest import SectionResult
from sim.solve.paths import quantity
from sim.solve.section import solve_section

CASES = Path(__file__).parents[2] / "cases"
BRINE = "winter-brine"


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
    return compared(name, how, line, solve_section(base), solve_section(changed))


def compared(name: str, how: str, line: str, first: SectionResult, second: SectionResult) -> Effect:
    """The change from one solution to another."""
    coldest, sheath = _coldest(second) - _coldest(first), _sheath(second) - _sheath(first)
    loss, bracketed = _loss(first), first.bracketed or second.bracketed
    return Effect(name, how, line, coldest, sheath, (_loss(second) - loss) / loss, bracketed)


def on(line: str, name: str, how: str, change: dict[str, Any], base: dict[str, Any] | None = None) -> Effect:
    """Overrides of a shipped line in a condition ("file, condition"), beside the line with those of base alone."""
    file, condition = line.split(", ")
    first = base or {}
    return effect(
        name, how, line, narrowed(file, condition, **first), narrowed(file, condition, **first | change)
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
    beam, summer, night = {"irradiance": "1000 W/m2", "clock": 1}, "summer-day", "winter-night"
    painted = {"barrier": {"emissivity": 0.9}}
    for name, changes, share in (
        ("bright barrier, 30 % absorbed", {}, 0.3),
        ("painted barrier, 60 % absorbed", painted, 0.6),
    ):
        hot, how = narrowed(BRINE, summer, **changes), "1000 W/m2 from 1 o'clock against none, still air"
        lit = _outdoors(hot, sun=Sun.model_validate(beam | {"absorptivity": share}))
        yield effect(f"sun, {name}", how, f"{BRINE}, {summer}", _outdoors(hot, sun=None), lit)
    cold, line = narrowed(BRINE, night), f"{BRINE}, {night}"
    for name, case in (("bright", cold), ("painted, emissivity 0.9", narrowed(BRINE, night, **painted))):
        under = _outdoors(case, sky=Sky.model_construct(temperature=case.conditions[0].ambient - 20.0))
        yield effect(f"clear sky, {name} barrier", "a sky 20 K below the air", line, case, under)
    how = "the outer surface at the ambient temperature"
    yield effect("rain on the barrier", how, line, cold, _outdoors(cold, rain=True))


def outside_film() -> Iterator[Effect]:
    """Scatter of film correlations, on a windy night and on a still day."""
    for condition in ("winter-night", "summer-day"):
        film = _outer_film(narrowed(BRINE, condition))
        how = f"coefficient {film:.1f} W/m2/K against three quarters of it, the same all round"
        given = [{"outside": {"coefficient": f"{film * f} W/m2/K"}} for f in (1.0, 0.75)]
        yield on(f"{BRINE}, {condition}", "film correlation 25 % too high", how, given[1], given[0])
    sided = narrowed("hanging-shell", "dry-winter")
    name = "how the wind's film varies around the barrier"
    how = "wind from 9 o'clock against its mean film all round"
    yield effect(name, how, "hanging-shell, dry-winter", sided, _outdoors(sided, wind_from=None))


def stirring_gap() -> Effect:
    """The air gap's still conduction times what the judgement says that stirring air would carry at most."""
    case = narrowed("hanging-shell", "dry-winter")
    first = solve_section(case)
    words = re.search(
        r"widest is (\d+) mm .*number ([\d.e+]+)\).* ([\d.]+) times", gap_note(first.solution) or ""
    )
    assert words is not None
    width, rayleigh, factor = words.groups()
    stirred = SimpleNamespace(conductivity=lambda kelvin: float(factor) * air.conductivity(kelvin))
    with patch.object(conductivity, "air", stirred):  # of voids alone; radiation across them goes on
        second = solve_section(case)
    how = (
        f"{factor} times the conduction of still air everywhere in the gap (widest {width} mm, Ra {rayleigh})"
    )
    return compared("air stirring in a hanging shell's gap", how, "hanging-shell, dry-winter", first, second)


def contents() -> Iterator[Effect]:
    """The states of the contents against each other."""
    for condition, where in (("tracer-at-5", "low"), ("tracer-at-11", "high")):
        for name, state in (("moving freely", "buoyant"), ("mixed", "mixed")):
            title, how = (
                f"water {name} instead of still, tracer {where}",
                f"contents.state {state} against still",
            )
            still, changed = ({"contents": {"state": s}} for s in ("still", state))
            yield on(f"stirred-water, {condition}", title, how, changed, still)


def tracer_and_wall() -> Iterator[Effect]:
    """What the model holds uniform in the tracer, and how the tracer lies on the pipe."""
    night, day, hot = f"{BRINE}, winter-night", f"{BRINE}, summer-day", "stainless-thin, drained-hot-day"
    base = load_case(CASES / f"{BRINE}.toml").tracers[0]
    seat = base.contact_conductance
    for factor, word in ((1 / 3, "a third of"), (3.0, "three times")):
        how = f"{seat:.0f} W/m2/K against {seat * factor:.0f}"
        pressed = {"tracer": {"T1": {"contact_conductance": f"{seat * factor} W/m2/K"}}}
        yield on(night, f"contact conductance {word} the assumed", how, pressed)
    for other, word in (("bonded", "without resistance"), ("100 W/m2/K", "a quarter of the assumed")):
        name, how = (
            f"foil's contact with sheath and pipe {word}",
            f"foil.contact_conductance 400 W/m2/K against {other}",
        )
        given, changed = ({"foil": {"contact_conductance": c}} for c in ("400 W/m2/K", other))
        yield on("plastic-two-tracers, winter-night", name, how, changed, given)
    lifted = {"tracer": {"T1": {"standoff": "1 mm"}}}
    yield on(day, "a flat tracer that stands off by 1 mm", "an air gap of 1 mm instead of contact", lifted)
    narrow, how = {"tracer": {"T1": {"contact_width": "0.75 mm"}}}, "contact width 0.75 mm against 1.5 mm"
    yield on(hot, "a round tracer that touches on half the width", how, narrow)
    bridged = {"insulation": {"fit": "bridged"}}
    yield on(hot, "the same, voids of air beside it", f"{how}, insulation bridging", narrow, bridged)
    how = "body conductivity halved: a measure of what heat made in its conductors alone may do"
    half = {"tracer": {"T1": {"body_conductivity": f"{base.body_conductivity / 2} W/m/K"}}}
    yield on(day, "body of the tracer conducts half as well", how, half)
    raw = resolved(load_case(CASES / "stainless-thin.toml"))
    pipe = load_case(CASES / "stainless-thin.toml").pipe
    outer = {"outer_diameter": f"{2 * pipe.outer_radius} m", "material": "stainless steel"}
    wall, how = pipe.outer_radius - pipe.inner_radius, "the mill tolerance of ASME B36.10M (from memory)"
    walls = [raw | {"pipe": outer | {"wall": f"{part * wall} m"}} for part in (1.0, 0.875)]
    thick, thin = (case_for(parse_case(one), "cold-night") for one in walls)
    yield effect("pipe wall 12.5 % thinner", how, "stainless-thin, cold-night", thick, thin)


def insulation() -> Iterator[Effect]:
    """Conductivity in service, and joints and compression, as one factor."""
    curve = load_case(CASES / f"{BRINE}.toml").insulation.layers[0].conductivity
    assert curve is not None
    celsius = np.array([-50.0, 10.0, 50.0, 100.0, 200.0])
    tables = [[[f"{t} degC", f"{f * float(curve(t + 273.15))} W/m/K"] for t in celsius] for f in (1.0, 1.2)]
    dry, aged = ({"insulation": {"layer": {"1": {"material": None, "conductivity": t}}}} for t in tables)
    line, how = f"{BRINE}, winter-night", "joints, ageing, compression (common practice, no source)"
    yield on(line, "insulation conducts 20 % more than its table", how, aged, dry)
    how = "a bore of 125 mm hanging on the pipe of 114.3 mm, against a concentric shell with voids bridged"
    yield on(line, "a shell one size too large", how, {"insulation": {"fit": "oversize", "bore": "125 mm"}})


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
