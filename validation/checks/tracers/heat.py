"""What a tracer gives: fixed, scaled with the voltage, self-regulating; tolerance; off; two of them.

Self-regulating on a line of one temperature (metal pipe, contents that take up no heat): the wall settles where the
table's output is what the line loses, q'(T) = (T - T_a) / R, R = ln(r_3 / r_2) / (2 pi k) + 1 / (2 pi r_3 h), r_2
at half the tracer's small height. On a plastic pipe the output follows the wall beneath the tracer: T_a + q' times the
rise there for a watt, which is the Fourier series of fourier.py averaged over the tracer's width.
"""

from math import log, pi
from typing import Any

import numpy as np
from scipy.optimize import brentq

from validation.checks.conduction.fourier import TwoLayerAnnulus
from validation.published.rows import Row, Table
from validation.sketches.lines import solid
from validation.sketches.sketch import COVER, DEFINED, FLAT, LIQUID, OUTER, ZERO, numbers, sketch

FILM = 10.0
RESISTANCE = log(COVER / OUTER) / (2 * pi * 0.04) + 1 / (2 * pi * COVER * FILM)
THIN = FLAT | {"height": "0.4 mm", "body_conductivity": "0.04 W/m/K", "contact_conductance": "1e7 W/m2/K"}
SHIFT = log((OUTER + 2e-4) / OUTER) / (2 * pi * 0.04)  # the heat sits half the tracer's height off the pipe
TABLE = ((0.0, 30.0), (20.0, 22.0), (60.0, 2.0))  # degC of the wall, W/m
AT = [[f"{t} degC", f"{q} W/m"] for t, q in TABLE]


def _line(*tracers: dict[str, Any], **changes: Any) -> dict[str, Any]:
    stirred = {"state": "mixed", "fluid": LIQUID, "film_coefficient": "100 W/m2/K"}
    return sketch(*tracers, contents=stirred, outside__coefficient=f"{FILM} W/m2/K", **changes)


def _by_table(wall: float) -> float:
    at, watts = np.array(TABLE).T
    return float(np.interp(wall, at, watts))


def outputs() -> list[Row]:
    """What is given at a supply and an end of the tolerance, and that the line loses exactly that."""
    scaled = {"power": "20 W/m", "voltage_exponent": 2.0}
    stories: dict[str, tuple[dict[str, Any], dict[str, Any], float]] = {
        "fixed, supply 0.9": ({"output": "20 W/m"}, {"condition__supply": 0.9}, 20.0),
        "fixed, no supply": ({"output": "20 W/m"}, {"condition__supply": 0.0}, 0.0),
        "scaled with V2, supply 0.9": ({"output": scaled}, {"condition__supply": 0.9}, 20.0 * 0.81),
        "scaled with V2, supply 1.1": ({"output": scaled}, {"condition__supply": 1.1}, 20.0 * 1.21),
        "power as a table, which scales with V2": (
            {"output": {"power": "20 W/m"}},
            {"condition__supply": 0.9},
            16.2,
        ),
        "tolerance 10 %, low": ({"tolerance": 0.1}, {"condition__output": "low"}, 18.0),
        "tolerance 10 %, nominal": ({"tolerance": 0.1}, {"condition__output": "nominal"}, 20.0),
        "tolerance 10 %, high": ({"tolerance": 0.1}, {"condition__output": "high"}, 22.0),
        "switched off": ({"on": False}, {}, 0.0),
    }
    table = Table("tracer's output", DEFINED, unit="W/m", why="the solver's tolerance")
    for name, (tracer, condition, exact) in stories.items():
        values = numbers(_line(THIN | tracer, **condition), 1.0)
        table.within(f"{name}: output", exact, values["tracers.T1.output"], 1e-5)
        table.within(f"{name}: loss", exact, values["heat_out"], 1e-5)
    both = numbers(_line(THIN, THIN | {"name": "T2", "clock": 9, "output": "7 W/m"}), 1.0)
    table.within("two tracers: loss", 27.0, both["heat_out"], 1e-5)
    mean = 27.0 * (RESISTANCE - SHIFT)
    table.row("two tracers: contents", mean, both["contents.mean"] - ZERO, 0.01, "coarse mesh", "K")
    return table.rows


def regulated() -> list[Row]:
    """Where a self-regulating tracer and the loss meet: metal pipe at three supplies, plastic pipe."""
    table = Table(
        "self-regulating tracer", "root of q'(T) = (T - T_a)/R, " + DEFINED, unit="W/m", why="one mesh"
    )
    for supply, ambient in ((1.0, 0.0), (1.1, 0.0), (0.8, -40.0)):
        factor = supply**1.4

        def surplus(wall: float, factor: float = factor, ambient: float = ambient) -> float:
            return factor * _by_table(wall) - (wall - ambient) / (RESISTANCE - SHIFT)

        wall = brentq(surplus, -60.0, 60.0)
        condition = {"condition__supply": supply, "condition__ambient": f"{ambient} degC"}
        values = numbers(_line(THIN | {"output": {"at": AT, "voltage_exponent": 1.4}}, **condition))
        name = f"metal pipe, supply {supply:g}, {ambient:g} degC"
        table.within(f"{name}: wall", wall, values["wall.mean"] - ZERO, 0.15, "0.15 K", "degC")
        table.row(f"{name}: output", factor * _by_table(wall), values["tracers.T1.output"], 0.005)
    half = 0.006 / OUTER
    exact = TwoLayerAnnulus(0.05, OUTER, COVER, 0.5, 0.04, FILM, 1.0, 0.012, "mixed", film_inside=100.0)
    beneath = float(exact.outside_of_pipe(np.linspace(-half, half, 401), 2000).mean()) - SHIFT
    wall = brentq(lambda t: _by_table(t) - t / beneath, 0.0, 60.0)
    values = numbers(_line(THIN | {"output": {"at": AT}}, pipe__material=solid(0.5)))
    quantity = f"plastic pipe, wall beneath at {wall:.3g} degC: output"
    source = "Fourier series of the two-layer annulus (written out in fourier.py), " + DEFINED
    why = "the wall beneath is taken in its outermost cells"
    table.row(quantity, _by_table(wall), values["tracers.T1.output"], 0.02, why, source=source)
    return table.rows


GROUPS = (outputs, regulated)
