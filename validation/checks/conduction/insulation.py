"""Insulation: conductivity over temperature, and a wet sector, against closed forms.

k over temperature. With theta = integral of k dT (Kirchhoff), a cylinder between two temperatures loses
2 pi (theta_1 - theta_2) / ln(r_3 / r_2), whatever the law (Carslaw and Jaeger, section 1.6, from memory).

Wet sector. Between two isothermal concentric cylinders the temperature depends on the radius alone in a dry and in a
wet sector alike, so no heat crosses their border and the two are in parallel, exactly:
q' = 2 pi dT (s k_wet + (1 - s) k_dry) / ln(r_3 / r_2), s the sector's share of the turn.
"""

from math import log, pi
from typing import Any

from validation.published.rows import Row, Table
from validation.sketches.lines import flowing
from validation.sketches.sketch import (
    COVER,
    DEFINED,
    HELD,
    METAL,
    OUTER,
    hours_apart,
    numbers,
    sketch,
)

KIRCHHOFF = "Kirchhoff's transformation, @carslaw1959, section 1.6 (from memory)"
PARALLEL = "two sectors in parallel between isothermal cylinders, " + DEFINED
MESH = "one mesh, its own error about 0.2 %"
EVEN = "half an hour: the outside is nearly even near the middle"
WET = {"from_clock": 2.0, "to_clock": 4.0}


def over_temperature() -> list[Row]:
    """A linear law, a parabola and a table with a kink, from 200 to 0 degC."""
    span = 2 * pi / log(COVER / OUTER)
    laws: dict[str, tuple[Any, float]] = {
        # integral of a + b T and of a + b T + c T2 over 0 to 200 degC
        "k = 0.03 + 0.0002 T": ({"polynomial": [0.03, 2e-4]}, 0.03 * 200 + 2e-4 * 200**2 / 2),
        "k = 0.03 + 0.0001 T + 1e-6 T2": (
            {"polynomial": [0.03, 1e-4, 1e-6]},
            0.03 * 200 + 1e-4 * 200**2 / 2 + 1e-6 * 200**3 / 3,
        ),
        # trapezia: (0.03 + 0.04) / 2 x 50 and (0.04 + 0.10) / 2 x 150
        "table .03 at 0, .04 at 50, .10 at 200 degC": (
            [["0 degC", "0.03 W/m/K"], ["50 degC", "0.04 W/m/K"], ["200 degC", "0.10 W/m/K"]],
            0.035 * 50 + 0.07 * 150,
        ),
    }
    table = Table("conductivity over temperature", KIRCHHOFF, unit="W/m", why=MESH)
    for name, (law, integral) in laws.items():
        loss = numbers(sketch(contents=flowing(200.0, HELD), layer__conductivity=law))["heat_out"]
        table.row(name, span * integral, loss, 0.005)
    return table.rows


def wet_sector() -> list[Row]:
    """Two hours of the clock wet, by a factor and by a given conductivity; where the outside is then warmest."""
    shape = 2 * pi / log(COVER / OUTER)
    share = 2.0 / 12.0
    table = Table("wet sector", PARALLEL, unit="W/m", why=MESH)
    for name, wet, k_wet in (
        ("factor 5", WET | {"factor": 5.0}, 0.2),
        ("given 0.3 W/m/K", WET | {"conductivity": "0.3 W/m/K"}, 0.3),
    ):
        exact = 100.0 * shape * (share * k_wet + (1 - share) * 0.04)
        loss = numbers(sketch(layer__wet=wet))["heat_out"]
        table.row(f"loss, 2 to 4 o'clock wet, {name}", exact, loss, 0.01)
    mean = [["0 degC", "0.02 W/m/K"], ["100 degC", "0.06 W/m/K"]]  # 0.04
    loss = numbers(sketch(layer__wet=WET | {"factor": 5.0}, layer__conductivity=mean))["heat_out"]
    exact = 100.0 * shape * 0.04 * (5 * share + 1 - share)
    name = "loss, 2 to 4 o'clock wet, factor 5 on a law over temperature"
    table.row(name, exact, loss, 0.01, source=PARALLEL + "; " + KIRCHHOFF)
    source = "symmetry, from the definition: warmest at the sector's middle; hours run clockwise from 12"
    for start, stop, middle in ((2.0, 4.0, 3.0), (11.0, 3.0, 1.0)):
        wet = {"from_clock": start, "to_clock": stop, "factor": 5.0}
        clock = numbers(sketch(layer__wet=wet, outside__coefficient="10 W/m2/K"))["barrier.max_clock"]
        name = f"warmest clock position, {start:g} to {stop:g} o'clock wet"
        table.within(name, middle, middle + hours_apart(clock, middle), 0.5, EVEN, "h", source)
    return table.rows


def about_its_own_centre() -> list[Row]:
    """A hanging shell with a wet lower half, its bore held at one temperature by a metal filling.

    The shell hangs 25 mm low, and its wet sector from 3 to 9 o'clock is half of it about the layer's own centre;
    about the pipe's axis it would be 0.67 of the inner circle's turn.
    """
    shell = {"fit": "oversize", "bore": "160 mm", "void": {"conductivity": f"{METAL} W/m/K"}}

    def line(start: float, stop: float, **more: Any) -> dict[str, Any]:
        wet = {"from_clock": start, "to_clock": stop, "factor": 5.0}
        layer = {"thickness": "20 mm", "conductivity": "0.04 W/m/K", "wet": wet}
        return sketch(insulation=shell | {"layer": [layer]}, **more)

    exact = 100.0 * 2 * pi / log(100 / 80) * 0.04 * 3.0
    loss = numbers(line(3.0, 9.0))["heat_out"]
    clock = numbers(line(2.0, 4.0, outside__coefficient="10 W/m2/K"))["barrier.max_clock"]
    table = Table("wet sector", PARALLEL, unit="W/m", why=MESH)
    table.row("loss, lower half of a hanging shell wet", exact, loss, 0.01)
    name = "warmest clock position of a hanging shell, 2 to 4 o'clock wet"
    source = "symmetry about the layer's own centre, from the definition"
    table.within(name, 3.0, 3.0 + hours_apart(clock, 3.0), 0.5, EVEN, "h", source)
    return table.rows


GROUPS = (over_temperature, wet_sector, about_its_own_centre)
