"""The outside of a bare metal pipe held at a temperature, and the weather barrier: films, radiation, wind, a sheet.

A bare pipe of a metal, its contents held: its surface has one known temperature, and the loss over area and difference
is the coefficient. Air at a film temperature is read from tables of a textbook, not from the program:
Incropera table A.4, 300 K: nu 15.89e-6, k 0.0263, Pr 0.707; 350 K: nu 20.92e-6, k 0.0300, Pr 0.700 (from memory).

A conducting sheet on the outside: a temperature of cos n a round it loses h + k t n2 / r2 per area and kelvin (a fin
wrapped round the insulation), so the Fourier series of fourier.py gives the outside's hot and cold places.
"""

from math import pi
from typing import Any

import numpy as np

from sim.solve.quantities import quantities
from validation.checks.conduction.fourier import TwoLayerAnnulus
from validation.published.rows import Row
from validation.sketches.lines import ADIABATIC, flowing, solid
from validation.sketches.sketch import DEFINED, FLAT, HELD, METAL, SIGMA, ZERO, numbers, sketch, solved

BOOK = "@incropera, table A.4 (from memory)"
STEFAN = "Stefan and Boltzmann, " + DEFINED
EVEN = "mean 1 over the circle, " + DEFINED
CHURCHILL = f"@churchillbernstein1977, @churchillchu1975, worked by hand with air of {BOOK}"
# nu, k, Pr; the table is of 100 kPa (its density at 300 K is 1.1614), the program's air of 101.325 kPa
AIR = {300.0: (15.89e-6 / 1.01325, 0.0263, 0.707), 350.0: (20.92e-6 / 1.01325, 0.0300, 0.700)}


def _bare(
    diameter: float, surface: float, ambient: float, wind: float = 0.0, emissivity: float = 0.0, **more: Any
) -> dict[str, Any]:
    """A bare metal pipe, temperatures in degC."""
    raw = sketch(
        pipe={
            "outer_diameter": f"{diameter} m",
            "wall": f"{diameter / 10} m",
            "material": solid(METAL),
        },
        contents=flowing(surface, HELD),
        insulation={"layer": []},
        outside={"emissivity": emissivity},
        condition__ambient=f"{ambient} degC",
        condition__wind=f"{wind} m/s",
    )
    raw["condition"][0] |= more
    return raw


def _coefficient(raw: dict[str, Any], diameter: float, surface: float, ambient: float) -> float:
    return numbers(raw, 1.0)["heat_out"] / (pi * diameter * (surface - ambient))


def _forced(wind: float, diameter: float, air: tuple[float, float, float]) -> float:
    nu, k, pr = air
    re = wind * diameter / nu
    nusselt = 0.3 + 0.62 * re**0.5 * pr ** (1 / 3) / (1 + (0.4 / pr) ** (2 / 3)) ** 0.25 * (
        1 + (re / 282000) ** (5 / 8)
    ) ** (4 / 5)
    return nusselt * k / diameter


def _free(difference: float, diameter: float, film: float) -> float:
    nu, k, pr = AIR[film]
    rayleigh = 9.81 / film * difference * diameter**3 * pr / nu**2
    nusselt = (0.60 + 0.387 * rayleigh ** (1 / 6) / (1 + (0.559 / pr) ** (9 / 16)) ** (8 / 27)) ** 2
    return nusselt * k / diameter


def _row(check: str, source: str, quantity: str, exact: float, computed: float, part: float, why: str) -> Row:
    reason = f"{100 * part:g} %: {why}"
    return Row(check, source, quantity, exact, computed, part * abs(exact), reason, "W/m2/K")


def films() -> list[Row]:
    """Wind alone, still air alone, both of one size, and printed examples."""
    tables = "air read from a table"
    rows = []
    for diameter, wind, film in ((0.02, 10.0, 300.0), (0.1, 5.0, 350.0), (0.5, 15.0, 300.0)):
        surface, ambient = film - ZERO + 1.0, film - ZERO - 1.0
        exact = _forced(wind, diameter, AIR[film])
        computed = _coefficient(_bare(diameter, surface, ambient, wind), diameter, surface, ambient)
        name = f"wind {wind:g} m/s, D {diameter:g} m, film {film:g} K"
        rows.append(_row("outside film", CHURCHILL, name, exact, computed, 0.015, tables))
    for diameter, difference, film in ((0.02, 20.0, 300.0), (0.1, 60.0, 350.0), (0.6, 40.0, 300.0)):
        surface, ambient = film - ZERO + difference / 2, film - ZERO - difference / 2
        exact = _free(difference, diameter, film)
        computed = _coefficient(_bare(diameter, surface, ambient), diameter, surface, ambient)
        name = f"still air, D {diameter:g} m, {difference:g} K, film {film:g} K"
        rows.append(_row("outside film", CHURCHILL, name, exact, computed, 0.015, tables))
    diameter, difference, film = 0.3, 60.0, 300.0
    surface, ambient = film - ZERO + difference / 2, film - ZERO - difference / 2
    for wind in (0.25, 0.5, 1.0):
        forced, free = _forced(wind, diameter, AIR[film]), _free(difference, diameter, film)
        exact = (forced**4 + free**4) ** 0.25
        computed = _coefficient(_bare(diameter, surface, ambient, wind), diameter, surface, ambient)
        name = f"wind {wind:g} m/s alone {forced:.3g}, still air alone {free:.3g}: both"
        source = "Nu^4 = Nu_forced^4 + Nu_free^4 (the model's own blend); " + CHURCHILL
        rows.append(_row("outside film", source, name, exact, computed, 0.015, tables))
    # 50 km/h over a pipe of 2 cm, air at a film temperature of 40 degC: Re 1.632e4, Pr 0.7255, k 0.02662
    computed = _coefficient(_bare(0.02, 50.0, 30.0, 50 / 3.6), 0.02, 50.0, 30.0)
    source = "@cengel, problem 7-53: Nu 71.19 at Re 1.632e4, Pr 0.7255 (k 0.02662 from memory)"
    rows.append(
        _row("outside film", source, "Nu 71.19 in cross flow", 71.19 * 0.02662 / 0.02, computed, 0.02, tables)
    )
    loss = numbers(_bare(0.1, 165.0, 23.0, emissivity=0.85), 1.0)["heat_out"]
    source = "@incropera, example 9.4 (from memory)"
    why = "1.5 %: properties of air read from a table in the book"
    rows.append(
        Row("outside film", source, "bare pipe of 0.1 m, 165 to 23 degC", 763.0, loss, 11.4, why, "W/m")
    )
    return rows


def radiation() -> list[Row]:
    """What a grey surface adds to the same convection: eps sigma (Ts^4 - Ta^4), by pipe and by barrier."""
    rows = []
    for emissivity in (1.0, 0.3):
        losses = [numbers(_bare(0.1, 400.0, 20.0, emissivity=e), 1.0)["heat_out"] for e in (emissivity, 0.0)]
        exact = pi * 0.1 * emissivity * SIGMA * ((400 + ZERO) ** 4 - (20 + ZERO) ** 4)
        name = f"bare pipe, emissivity {emissivity:g}, 400 to 20 degC"
        computed, why = losses[0] - losses[1], "0.5 %: straight cell faces"
        rows.append(Row("radiation outside", STEFAN, name, exact, computed, 0.005 * exact, why, "W/m"))
    # an insulated line with a barrier, bare insulation of another emissivity beneath that must not matter
    heat = {}
    for emissivity in (0.6, 0.0):
        barrier = {"thickness": "1 mm", "conductivity": "100 W/m/K", "emissivity": emissivity}
        raw = sketch(
            contents=flowing(300.0, HELD),
            outside={"emissivity": 0.95},
            barrier=barrier,
            layer__conductivity="100 W/m/K",
        )
        line_values = numbers(raw, 1.0)
        heat[emissivity] = line_values["heat_out"]
        if emissivity:
            surface = line_values["barrier.mean"]
    exact = 2 * pi * 0.095 * 0.6 * SIGMA * (surface**4 - ZERO**4)
    name, why = (
        "weather barrier, emissivity 0.6, near 300 to 0 degC",
        "3 %: the surface is a little cooler where it radiates",
    )
    computed = heat[0.6] - heat[0.0]
    rows.append(Row("radiation outside", STEFAN, name, exact, computed, 0.03 * exact, why, "W/m"))
    given = numbers(
        sketch(outside={"coefficient": "7 W/m2/K", "emissivity": 0.9}, condition__wind="9 m/s"), 1.0
    )
    exact = 7.0 * 2 * pi * 0.095 * (given["barrier.mean"] - ZERO)
    name = "a given coefficient stands for film, wind and radiation"
    rows.append(
        Row("given coefficient", DEFINED, name, exact, given["heat_out"], 0.005 * exact, "0.5 %", "W/m")
    )
    return rows


def wind_from_one_side() -> list[Row]:
    """Local coefficients round a bare pipe, wind from 3 o'clock: stagnation line, back to front, and their mean."""
    diameter, wind = 0.1, 8.0
    solution = solved(_bare(diameter, 28.85, 24.85, wind, wind_from=3.0), 1.0)
    mesh = solution.network.mesh
    count = len(mesh.cover_cell)
    local = solution.balance.to_conductance[:count] / mesh.cover_length
    clock = np.mod(np.arctan2(*mesh.cover_point.T) * 6 / pi, 12.0)

    def mean_near(middle: float, reach: float) -> float:
        near = np.abs((clock - middle + 6) % 12 - 6) < reach
        return float(np.average(local[near], weights=mesh.cover_length[near]))

    nu, _, pr = AIR[300.0]
    re = wind * diameter / nu
    richardson = 0.37 * re**0.5 + 0.057 * re ** (2 / 3)
    stagnation = 1.15 * re**0.5 * pr ** (1 / 3) / richardson
    one_sided = quantities(solution)["heat_out"]
    even = numbers(_bare(diameter, 28.85, 24.85, wind), 1.0)["heat_out"]
    ratio = 0.057 * re ** (2 / 3) / (0.37 * re**0.5)
    side = min(range(count), key=lambda i: local[i])
    front = "@incropera, equation 7.49, Nu = 1.15 Re^1/2 Pr^1/3 in front, over the mean, @richardson1963 (from memory)"
    halves = "@richardson1963: Nu = 0.37 Re^1/2 (front) + 0.057 Re^2/3 (wake) (from memory)"
    least = "@giedt1949, @schmidt1941: least near 80 to 90 degrees from the stagnation line (from memory)"
    joined = "10 %: textbooks have 1.14 Pr^0.4 or 1.15 Pr^1/3; joining front and wake lifts the mean by 4 %"
    lifted = "12 %: front and wake are joined as fourth powers, which lifts the front by a tenth"
    turned = "a quarter of the turn less 0 to 20 degrees"
    at_front, away = mean_near(3.0, 0.3) / mean_near(0.0, 7.0), abs((clock[side] - 3.0 + 6) % 12 - 6)
    back = mean_near(9.0, 3.0) / mean_near(3.0, 3.0)
    listed = (
        (
            front,
            "coefficient at 3 o'clock over the mean",
            stagnation,
            at_front,
            0.1 * stagnation,
            joined,
            "-",
        ),
        (halves, "back half over front half", ratio, back, 0.12 * ratio, lifted, "-"),
        (least, "hours from 3 o'clock to the least coefficient", 2.85, float(away), 0.4, turned, "h"),
        (EVEN, "loss over that in a wind from nowhere", 1.0, one_sided / even, 0.01, "1 %: one mesh", "-"),
    )
    return [Row("wind from 3 o'clock", *row) for row in listed]


def sheet() -> list[Row]:
    """The outside's warm place over a tracer and the cold one opposite, under sheets that conduct more and less."""
    rows = []
    for conductivity in (0.1, 100.0, 400.0):
        thickness = 1e-3
        raw = sketch(
            FLAT
            | {
                "height": "0.4 mm",
                "output": "20 W/m",
                "body_conductivity": "0.5 W/m/K",
                "contact_conductance": f"{HELD} W/m2/K",
            },
            pipe__material=solid(0.5),
            contents=dict(ADIABATIC),
            insulation={"layer": [{"thickness": "10 mm", "conductivity": "0.5 W/m/K"}]},
            outside__coefficient="10 W/m2/K",
            barrier={
                "thickness": f"{thickness} m",
                "conductivity": f"{conductivity} W/m/K",
                "emissivity": 0.5,
            },
        )
        exact = TwoLayerAnnulus(
            0.05, 0.0552, 0.065, 0.5, 0.5, 10.0, 20.0, 0.012 * 0.0552 / 0.055, sheet=thickness * conductivity
        )
        hot, cold = exact.surface(np.array([0.0, pi]))
        values = numbers(raw)
        for name, value, ours in (
            ("warmest", hot, values["barrier.max"]),
            ("mean", 20.0 / (2 * pi * 0.065 * 10.0), values["barrier.mean"]),
            ("coldest", cold, values["barrier.min"]),
        ):
            check = "weather barrier that conducts"
            source = "Fourier series of the annulus under a sheet (written out in fourier.py)"
            place, why = (
                f"1 mm of {conductivity:g} W/m/K: {name} place",
                "2 %: the heat is within a tracer of 0.4 mm",
            )
            rows.append(Row(check, source, place, float(value), ours - ZERO, 0.02 * float(value), why, "K"))
    return rows


GROUPS = (films, radiation, wind_from_one_side, sheet)
