"""The outside of a bare metal pipe held at a temperature, and the weather barrier: films, radiation, wind, a sheet.

A bare pipe of a metal, its contents held: its surface has one known temperature, and the loss over area and difference
is the coefficient. Air at a film temperature is read from tables of a textbook, not from the program:
Incropera table A.4, 300 K: nu 15.89e-6, k 0.0263, Pr 0.707; 350 K: nu 20.92e-6, k 0.0300, Pr 0.700 (from memory).

A conducting sheet on the outside: a temperature of cos n a round it loses h + k t n2 / r2 per area and kelvin (a fin
wrapped round the insulation), so the Fourier series of fourier.py gives the outside's hot and cold places.
"""

from collections.abc import Mapping
from math import pi
from typing import Any

import numpy as np

from sim.solve.quantities import quantities
from validation.checks.conduction.fourier import TwoLayerAnnulus
from validation.published.rows import Row, Table
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


def films() -> list[Row]:
    """Wind alone, still air alone, both of one size, and printed examples."""
    table = Table("outside film", CHURCHILL, unit="W/m2/K", why="air read from a table")
    for diameter, wind, film in ((0.02, 10.0, 300.0), (0.1, 5.0, 350.0), (0.5, 15.0, 300.0)):
        surface, ambient = film - ZERO + 1.0, film - ZERO - 1.0
        computed = _coefficient(_bare(diameter, surface, ambient, wind), diameter, surface, ambient)
        name = f"wind {wind:g} m/s, D {diameter:g} m, film {film:g} K"
        table.row(name, _forced(wind, diameter, AIR[film]), computed, 0.015)
    for diameter, difference, film in ((0.02, 20.0, 300.0), (0.1, 60.0, 350.0), (0.6, 40.0, 300.0)):
        surface, ambient = film - ZERO + difference / 2, film - ZERO - difference / 2
        computed = _coefficient(_bare(diameter, surface, ambient), diameter, surface, ambient)
        name = f"still air, D {diameter:g} m, {difference:g} K, film {film:g} K"
        table.row(name, _free(difference, diameter, film), computed, 0.015)
    diameter, difference, film = 0.3, 60.0, 300.0
    surface, ambient = film - ZERO + difference / 2, film - ZERO - difference / 2
    source = "Nu^4 = Nu_forced^4 + Nu_free^4 (the model's own blend); " + CHURCHILL
    for wind in (0.25, 0.5, 1.0):
        forced, free = _forced(wind, diameter, AIR[film]), _free(difference, diameter, film)
        computed = _coefficient(_bare(diameter, surface, ambient, wind), diameter, surface, ambient)
        name = f"wind {wind:g} m/s alone {forced:.3g}, still air alone {free:.3g}: both"
        table.row(name, (forced**4 + free**4) ** 0.25, computed, 0.015, source=source)
    # 50 km/h over a pipe of 2 cm, air at a film temperature of 40 degC: Re 1.632e4, Pr 0.7255, k 0.02662
    computed = _coefficient(_bare(0.02, 50.0, 30.0, 50 / 3.6), 0.02, 50.0, 30.0)
    source = "@cengel, problem 7-53: Nu 71.19 at Re 1.632e4, Pr 0.7255 (k 0.02662 from memory)"
    table.row("Nu 71.19 in cross flow", 71.19 * 0.02662 / 0.02, computed, 0.02, source=source)
    loss = numbers(_bare(0.1, 165.0, 23.0, emissivity=0.85), 1.0)["heat_out"]
    source, why = (
        "@incropera, example 9.4 (from memory)",
        "1.5 %: properties of air read from a table in the book",
    )
    table.within("bare pipe of 0.1 m, 165 to 23 degC", 763.0, loss, 11.4, why, "W/m", source)
    return table.rows


def radiation() -> list[Row]:
    """What a grey surface adds to the same convection: eps sigma (Ts^4 - Ta^4), by pipe and by barrier."""
    table = Table("radiation outside", STEFAN, unit="W/m", why="straight cell faces")
    for emissivity in (1.0, 0.3):
        losses = [numbers(_bare(0.1, 400.0, 20.0, emissivity=e), 1.0)["heat_out"] for e in (emissivity, 0.0)]
        exact = pi * 0.1 * emissivity * SIGMA * ((400 + ZERO) ** 4 - (20 + ZERO) ** 4)
        name = f"bare pipe, emissivity {emissivity:g}, 400 to 20 degC"
        table.row(name, exact, losses[0] - losses[1], 0.005)

    # an insulated line with a barrier, bare insulation of another emissivity beneath that must not matter
    def covered(emissivity: float) -> Mapping[str, float]:
        barrier = {"thickness": "1 mm", "conductivity": "100 W/m/K", "emissivity": emissivity}
        hot, outside = flowing(300.0, HELD), {"emissivity": 0.95}
        raw = sketch(contents=hot, outside=outside, barrier=barrier, layer__conductivity="100 W/m/K")
        return numbers(raw, 1.0)

    grey, mirror = covered(0.6), covered(0.0)
    exact = 2 * pi * 0.095 * 0.6 * SIGMA * (grey["barrier.mean"] ** 4 - ZERO**4)
    name, why = (
        "weather barrier, emissivity 0.6, near 300 to 0 degC",
        "the surface is a little cooler where it radiates",
    )
    table.row(name, exact, grey["heat_out"] - mirror["heat_out"], 0.03, why)
    outside = {"coefficient": "7 W/m2/K", "emissivity": 0.9}
    given = numbers(sketch(outside=outside, condition__wind="9 m/s"), 1.0)
    exact = 7.0 * 2 * pi * 0.095 * (given["barrier.mean"] - ZERO)
    table = Table("given coefficient", DEFINED, table.rows, "W/m", "one mesh")
    name = "a given coefficient stands for film, wind and radiation"
    table.row(name, exact, given["heat_out"], 0.005)
    return table.rows


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
    table = Table("wind from 3 o'clock", halves, unit="-")
    name = "coefficient at 3 o'clock over the mean"
    table.within(name, stagnation, at_front, 0.1 * stagnation, joined, source=front)
    table.within("back half over front half", ratio, back, 0.12 * ratio, lifted)
    name = "hours from 3 o'clock to the least coefficient"
    table.within(name, 2.85, float(away), 0.4, turned, "h", least)
    name = "loss over that in a wind from nowhere"
    table.within(name, 1.0, one_sided / even, 0.01, "1 %: one mesh", source=EVEN)
    return table.rows


def sheet() -> list[Row]:
    """The outside's warm place over a tracer and the cold one opposite, under sheets that conduct more and less."""
    source = "Fourier series of the annulus under a sheet (written out in fourier.py)"
    why = "the heat is within a tracer of 0.4 mm"
    table = Table("weather barrier that conducts", source, unit="K", why=why)
    strip = {"height": "0.4 mm", "body_conductivity": "0.5 W/m/K", "contact_conductance": f"{HELD} W/m2/K"}
    for conductivity in (0.1, 100.0, 400.0):
        raw = sketch(
            FLAT | strip,
            pipe__material=solid(0.5),
            contents=ADIABATIC,
            insulation={"layer": [{"thickness": "10 mm", "conductivity": "0.5 W/m/K"}]},
            outside__coefficient="10 W/m2/K",
            barrier={"thickness": "1 mm", "conductivity": f"{conductivity} W/m/K", "emissivity": 0.5},
        )
        arc, along = 0.012 * 0.0552 / 0.055, 1e-3 * conductivity
        exact = TwoLayerAnnulus(0.05, 0.0552, 0.065, 0.5, 0.5, 10.0, 20.0, arc, sheet=along)
        (hot, cold), values = exact.surface(np.array([0.0, pi])), numbers(raw)
        mean = 20.0 / (2 * pi * 0.065 * 10.0)
        for name, value, which in (("warmest", hot, "max"), ("mean", mean, "mean"), ("coldest", cold, "min")):
            place = f"1 mm of {conductivity:g} W/m/K: {name} place"
            table.row(place, float(value), values[f"barrier.{which}"] - ZERO, 0.02)
    return table.rows


GROUPS = (films, radiation, wind_from_one_side, sheet)
