"""Limits and sensors: margins and verdicts where the temperatures are known, readings against the Fourier series."""

from math import log, pi
from typing import Any

import numpy as np

from sim.case import parse_case
from sim.judge.check import Answer, check
from sim.judge.limits import verdict_of
from validation.checks.conduction.fourier import TwoLayerAnnulus
from validation.published.rows import Row, Table
from validation.published.sources import PRACTICE
from validation.sketches.lines import flowing, solid
from validation.sketches.sketch import COVER, DEFINED, FLAT, GAS, LIQUID, OUTER, ZERO, sketch

LINE = 2 * pi * 0.04 / log(COVER / OUTER)  # W/m/K of the sketched line's insulation


# degC, against a field that is uneven
ALLOWED = {"contents_min": 10.0, "wall_min": 10.0, "wall_max": 20.0, "barrier_max": 12.0, "sheath_max": 14.0}


def _answer(**changes: Any) -> Answer:
    return check(parse_case(sketch(**changes)), fineness=1.0)


def several() -> list[Row]:
    """The worst of several limits decides; a limit on the contents is held against the liquid below a gas."""
    both = _answer(limits={"wall_min": "90 degC", "wall_max": "95 degC"})
    other = _answer(limits={"wall_min": "105 degC", "wall_max": "110 degC"})
    flow = flowing(100.0, 20.0) | {"fill": 0.5, "fluid": LIQUID, "gas": GAS}
    filled = _answer(contents=flow, layer__conductivity="1 W/m/K", limits={"contents_min": "90 degC"})
    margin = filled.conditions[0].limits[0].margin
    close = _answer(
        tracer=[FLAT], sensor=[{"name": "near", "clock": 4.5}, {"name": "far", "clock": 7}]
    ).conditions[0]
    keeps = {reading.name: float(reading.keeps_distance) for reading in close.sensors}
    words = {"fail": -1.0, "too close to call": 0.0, "pass": 1.0}
    calls = ((1.5, 1.0, 1.0), (0.5, 1.0, 0.0), (-0.5, 1.0, 0.0), (-1.5, 1.0, -1.0), (float("nan"), 1.0, 0.0))
    source = "a margin within the band decides nothing, " + DEFINED
    table = Table("limits", DEFINED, unit="-", why="exact")
    for margin_k, band, exact in calls:
        name = f"margin {margin_k:g} K, band {band:g} K: pass 1, too close 0, fail -1"
        table.within(name, exact, words[verdict_of(margin_k, band)], 0.0, source=source)
    table.within("one held, one missed: exit code", 1.0, both.exit_code, 0.0)
    table.within("one missed, one held: exit code", 1.0, other.exit_code, 0.0)
    table.within("liquid at 100 degC below cooler gas: margin", 10.0, margin, 1e-6, "given", "K")
    sensors = Table("sensors", PRACTICE, table.rows, "-", "exact")
    sensors.within("1.5 hours from the tracer: kept", 0.0, keeps["near"], 0.0)
    sensors.within("4 hours from the tracer: kept", 1.0, keeps["far"], 0.0)
    return table.rows


def limits() -> list[Row]:
    """Margins of a line whose temperatures are known: wall at 100 degC, outside by resistances in series."""
    film = 10.0
    outside = 100.0 / (1 / LINE + 1 / (2 * pi * COVER * film)) / (2 * pi * COVER * film)
    stories = (  # limit, its value in degC, exact margin in K (positive is safe), exit code
        ("wall_min", 90.0, 10.0, 0),
        ("wall_min", 105.0, -5.0, 1),
        ("wall_max", 110.0, 10.0, 0),
        ("wall_max", 95.0, -5.0, 1),
        ("barrier_max", 30.0, 30.0 - outside, 0),
        ("barrier_max", 5.0, 5.0 - outside, 1),
        ("contents_min", 90.0, 10.0, 0),
        ("contents_min", 101.0, -1.0, 1),
    )
    table = Table("limits", DEFINED, unit="K", why="0.05 K")
    for limit, allowed, margin, code in stories:
        answer = _answer(limits={limit: f"{allowed} degC"}, outside__coefficient=f"{film} W/m2/K")
        name = f"{limit} {allowed:g} degC"
        table.within(f"{name}: margin", margin, answer.conditions[0].limits[0].margin, 0.05)
        table.within(f"{name}: exit code", code, answer.exit_code, 0.0, "exact", "-")
    return table.rows


THIN = {"height": "0.4 mm", "body_conductivity": "0.04 W/m/K", "contact_conductance": "1e7 W/m2/K"}
HEATED = {
    "tracer": [FLAT | THIN | {"output": "10 W/m"}],
    "pipe__material": solid(1.0),
    "outside__coefficient": "10 W/m2/K",
}
SERIES = "Fourier series of the two-layer annulus (written out in fourier.py)"
SHIFT = (
    10.0 * log((OUTER + 2e-4) / OUTER) / (2 * pi * 0.04)
)  # K, what the heat does not pass of the insulation


def _beneath(exact: TwoLayerAnnulus, hours: float) -> float:
    """Rise of the pipe's outside so many hours from the tracer's middle, K."""
    return float(exact.outside_of_pipe(np.array([hours * pi / 6]), 2000)[0]) - SHIFT


def sheath_and_sensor() -> list[Row]:
    """A sheath's margin, a sensor's reading and distance, on a plastic pipe whose series is known."""
    answer = _answer(
        **HEATED,
        contents={"state": "mixed", "fluid": LIQUID, "film_coefficient": "20 W/m2/K"},
        sensor=[{"name": "A", "clock": 7.5}, {"name": "B", "clock": 11.0}],
        limits={"sheath_max": "30 degC"},
    ).conditions[0]
    exact = TwoLayerAnnulus(0.05, OUTER, COVER, 1.0, 0.04, 10.0, 10.0, 0.012, "mixed", film_inside=20.0)
    table = Table("sensors", SERIES, unit="K", why="0.1 K")
    for reading, hours in zip(answer.sensors, (4.5, 4.0), strict=True):
        value, read = _beneath(exact, hours), reading.reading.value - ZERO
        name = f"sensor at {reading.clock:g}, tracer at 3 o'clock"
        table.row(f"{name}: reading", value, read, 0.01, "coarse mesh", "degC")
        table.within(f"{name}: hours away", hours, reading.hours_away, 1e-9, "rounding", "h", DEFINED)
    above = _beneath(exact, 4.5) - (exact.mean - SHIFT)
    table.within("reading above the contents", above, answer.sensors[0].above_contents, 0.1)
    # the body's face stands above the pipe beneath it by no more than its own slab, q' H / (2 w k)
    most, slab = 30.0 - _beneath(exact, 0.0), 10.0 * 4e-4 / (2 * 0.012 * 0.04)
    why = "between the pipe's and that of a slab that loses nothing outwards"
    table = Table("limits", SERIES + "; slab with a source", table.rows, "K", why)
    table.within("sheath_max 30 degC: margin", most - slab / 2, answer.limits[0].margin, slab / 2)
    return table.rows


def uneven() -> list[Row]:
    """Margins and a sensor over still contents, whose field is uneven, on the same pipe."""
    still = _answer(
        **HEATED,
        contents={"state": "still", "fluid": LIQUID},
        sensor=[{"name": "A", "clock": 7.5}],
        limits={name: f"{celsius} degC" for name, celsius in ALLOWED.items()},
    ).conditions[0]
    assert still.result is not None
    layered = TwoLayerAnnulus(0.05, OUTER, COVER, 1.0, 0.04, 10.0, 10.0, 0.012, "still", k_contents=0.6)
    inside = float(layered.bore(np.array([pi]), 2000)[0])
    table = Table("limits", SERIES, unit="K", why="0.15 K")
    table.within("coldest of still contents: margin", inside - SHIFT - 10.0, still.limits[0].margin, 0.15)
    margins = {limit.limit: limit.margin for limit in still.limits}
    # the wall is coldest opposite the tracer on its outside, the contents in the bore there
    for name, known, part in (
        ("wall_min", _beneath(layered, 6.0), 0.15),
        ("wall_max", _beneath(layered, 0.0), 0.6),
        ("barrier_max", float(layered.surface(np.array([0.0]))[0]), 0.15),
        ("sheath_max", still.result.value("tracers.T1.sheath_max") - ZERO, 1e-9),
    ):
        exact = known - ALLOWED[name] if name.endswith("min") else ALLOWED[name] - known
        quantity = f"{name} {ALLOWED[name]:g} degC, uneven field: margin"
        table.within(quantity, exact, margins[name], part, f"{part:g} K: coarse mesh")
    above, name = _beneath(layered, 4.5) + SHIFT - inside, "reading above the coldest of still contents"
    table = Table("sensors", SERIES, table.rows, "K", "0.02 K: coarse mesh")
    table.within(name, above, still.sensors[0].above_contents, 0.02)
    return table.rows


GROUPS = (limits, several, sheath_and_sensor, uneven)
