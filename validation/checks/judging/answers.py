"""What an answer carries: the band of three meshes, the balance of heat, the one-line method beside it.

Band: Roache (1994), J. Fluids Eng. 116, 405-413, safety factor 1.25 on three meshes; 3 where the order is not to be
trusted. On a sequence 1 + c h^p the error of the finest mesh is known exactly, and the band is that many times it.
A printed example: the pressure recovery of an inlet (NPARC Alliance, Examining Spatial (Grid) Convergence).
"""

from dataclasses import replace
from math import log, pi, sqrt

import numpy as np

from sim.judge.simplified import simplified
from sim.solve.at_rest import bands_of
from sim.solve.convergence import banded
from sim.solve.quantities import quantities
from validation.published.rows import Row, Table
from validation.sketches.lines import flowing, solid
from validation.sketches.sketch import (
    COVER,
    DEFINED,
    FLAT,
    HELD,
    LIQUID,
    OUTER,
    ROUND,
    ZERO,
    case_of,
    sketch,
    solved,
)

ROACHE = "@roache1994 (from memory), " + DEFINED
LINE = 2 * pi * 0.04 / log(COVER / OUTER)  # W/m/K of the sketched line's insulation


def bands() -> list[Row]:
    """Order, extrapolation and band on sequences of known error."""
    ratio = sqrt(2.0)
    table = Table("band of three meshes", ROACHE, unit="-", why="rounding")
    for order, asymptotic in ((2.0, 1.0), (1.9, 1.0), (1.0, 0.0), (0.6, 0.0)):
        values = tuple(5.0 + 0.1 * h**order for h in (2.0, ratio, 1.0))
        band = banded((values[0], values[1], values[2]), ratio)
        story = f"5 + 0.1 h^{order:g}"
        table.within(f"{story}: order", order, band.order, 1e-9)
        table.within(f"{story}: band", 1.25 * 0.1, band.band, 1e-9)
        table.within(f"{story}: trusted", asymptotic, float(band.asymptotic), 0.0)
        if asymptotic:
            table.within(f"{story}: extrapolated", 5.0, band.extrapolated, 1e-9)
    error = 3.0 * max(0.3, 0.4 / 2) / (2 - 1)
    table.within("1, 1.4, 1.1: band", error, banded((1.0, 1.4, 1.1), ratio).band, 1e-9)
    # the bands of a run: meshes refined by the square root of 2, a clock that passes 12
    coldest, clock = (5.4, 5.2, 5.1), (11.9, 0.1, 0.05)
    meshes = [{"wall.min": t, "wall.min_clock": at} for t, at in zip(coldest, clock, strict=True)]
    run = bands_of(meshes)
    table.within("of a run", 0.125, run["wall.min"].band, 1e-6, unit="K")
    table.within("of a run's clock", 0.15, run["wall.min_clock"].band, 1e-9, unit="h")
    inlet = banded((0.96178, 0.96854, 0.97050), 2.0)
    source = "@nparc, pressure recovery (from memory)"
    table.within(".96178 .96854 .97050: order", 1.786170, inlet.order, 1e-5, source=source)
    return table.rows


def balance() -> list[Row]:
    """Heat in and out of a line with everything in it; the contents' share counted positive into the line."""
    raw = sketch(
        ROUND | {"clock": 5},
        FLAT | {"name": "T2", "clock": 9},
        contents=flowing(40.0, 50.0) | {"fluid": LIQUID, "fill": 0.7},
        insulation__fit="bridged",
        foil={"thickness": "0.1 mm"},
        barrier={"thickness": "0.6 mm", "material": "aluminium"},
        outside={},
        condition__wind="5 m/s",
        condition__wind_from=3.0,
    )
    solution = solved(raw, 1.0)
    at, values = solution.balance, quantities(solution)
    outside, contents = (at.through(way, solution.temperature) for way in ("cover", "contents"))
    source = "conservation of energy, from the definition"
    table = Table("balance of heat", source, unit="W/m", why="rounding")
    table.within("outside and contents", 40.0, outside + contents, 1e-5, "the solver's tolerance")
    table.within("heat_out", outside, values["heat_out"], 1e-9)
    table.within("from_contents", -contents, values["from_contents"], 1e-9)
    table.within("closure", 0.0, values["closure"], 1e-8, "the solver's tolerance", "-")
    warm = replace(solution, temperature=solution.temperature + 1.0)
    out, taken = at.through("cover", warm.temperature), -at.through("contents", warm.temperature)
    given = float(at.heat.sum()) + taken
    passed = float(np.abs(at.leaving(warm.temperature)).sum()) / 2
    exact = abs(given - out) / max(abs(given), abs(out), passed)
    table.within("closure of a field 1 K too warm", exact, quantities(warm)["closure"], 1e-9, unit="-")
    return table.rows


def one_line_method() -> list[Row]:
    """The simplified method with a tracer: pipe temperature left to itself, and the sheath W/(C U) above it."""
    case = case_of(
        sketch(
            FLAT | {"contact_conductance": "100 W/m2/K"},
            ROUND | {"name": "T2", "clock": 9, "output": "5 W/m", "contact_width": "2 mm"},
            contents={"state": "mixed", "fluid": LIQUID},
            outside__coefficient="10 W/m2/K",
        )
    )
    computed = simplified(case)
    source = "@iec60079302 and @ieee515, relations (from memory), worked by hand"
    table = Table("simplified method", source, unit="degC", why="rounding")
    pipe = 25.0 * (1 / LINE + 1 / (2 * pi * COVER * 10.0))
    table.within("pipe left to itself", pipe, _celsius(computed.pipe_temperature_uncontrolled), 1e-3)
    for name, rise in (("T1", 20.0 / (0.012 * 100.0)), ("T2", 5.0 / (0.002 * 400.0))):
        table.within(f"sheath of {name}", pipe + rise, _celsius(computed.sheath[name]), 1e-3)
    exact, sheath = 100.0 + 20.0 / (0.012 * 400.0), simplified(case_of(sketch(FLAT))).sheath["T1"]
    table.within("sheath over contents that flow at 100 degC", exact, _celsius(sheath), 1e-6)
    falls = FLAT | {"output": {"at": [["0 degC", "40 W/m"], ["100 degC", "0 W/m"]]}}
    mixed = {"state": "mixed", "fluid": LIQUID}
    itself = simplified(case_of(sketch(falls, contents=mixed, outside__coefficient="10 W/m2/K")))
    # 40 - 0.4 T = T/R
    pipe = 40.0 / (0.4 + 1 / (1 / LINE + 1 / (2 * pi * COVER * 10.0)))
    left = _celsius(itself.pipe_temperature_uncontrolled)
    table.within("self-regulating, pipe left to itself", pipe, left, 1e-3)
    # k = 0.03 + 0.0002 T: at the mean of 0 and 100 degC 0.04, which is exact for a straight line
    linear = sketch(contents=flowing(100.0, HELD), layer__conductivity={"polynomial": [0.03, 2e-4]})
    # a film of 20 W/m2/K in the bore, a wall and a barrier of 0.5 W/m/K, 3 W/m2/K outside
    poor = sketch(
        contents=flowing(100.0, 20.0),
        pipe__material=solid(0.5),
        barrier={"thickness": "5 mm", "conductivity": "0.5 W/m/K", "emissivity": 0.5},
        outside__coefficient="3 W/m2/K",
    )
    series = [1 / (20.0 * 0.05), log(0.055 / 0.05) / 0.5, log(COVER / OUTER) / 0.04]
    series += [log(0.1 / COVER) / 0.5, 1 / (3.0 * 0.1)]
    for name, raw, exact in (
        ("conductivity over temperature", linear, 100.0 * LINE),
        ("bore, wall, insulation, barrier, outside", poor, 2 * pi * 100.0 / sum(series)),
    ):
        loss = simplified(case_of(raw)).heat_loss
        table.within(name, exact, loss, 1e-4 * exact, "0.01 %: held surfaces", "W/m")
    return table.rows


def _celsius(kelvin: float | None) -> float:
    return (kelvin or np.nan) - ZERO


GROUPS = (bands, balance, one_line_method)
