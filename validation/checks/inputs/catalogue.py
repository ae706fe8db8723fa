"""The catalogue against the tables it was taken from (`printed.toml`): pipe sizes, conductivities, water and air.

Pipe sizes are checked through a case, by nominal size and schedule. Conductivities are those of the standards named;
water and air against handbook tables that the program does not use.
"""

from pathlib import Path
from typing import Any

from sim.case import Case, parse_case
from sim.heat import air
from sim.heat.bore import bore_coefficient
from validation.published.rows import Row, Table
from validation.published.sources import PRACTICE
from validation.sketches.invented import read
from validation.sketches.sketch import LIQUID, ROUND, ZERO, sketch

PRINTED = read(Path(__file__).with_name("printed.toml"))


def _case(**changes: Any) -> Case:
    return parse_case(sketch(**changes))


def _law(table: Table, source: str, name: str, exact: float, computed: float, part: float, unit: str) -> None:
    why = f"{100 * part:g} %: tables differ by so much" if part > 1e-3 else "as printed"
    table.within(name, exact, computed, part * abs(exact), why, unit, source)


def pipes() -> list[Row]:
    """Outer diameter and wall by nominal size and schedule."""
    why = "half a unit of the last digit; editions differ by 0.1 mm in the outer diameter of NPS 12"
    table = Table("pipe sizes", "@asmeb3610", unit="mm", why=why)
    for size, schedule, outer, wall in PRINTED["pipes"]:
        pipe = _case(pipe={"size": size, "schedule": schedule, "material": "carbon steel"}).pipe
        source = "@asmeb3619" if schedule.endswith("S") and schedule[0].isdigit() else "@asmeb3610"
        source += " (from memory)" if (size, schedule) != ("DN 100", "40") else ""
        name, across = f"{size}, {schedule}: outer diameter", 1e3 * pipe.outer_diameter
        table.within(name, outer, across, 0.1001, source=source)
        table.within(f"{size}, {schedule}: wall", wall, 1e3 * pipe.wall, 0.005, source=source)
    return table.rows


def conductivities() -> list[Row]:
    """Insulations and metals at a temperature in degC, by name in a case."""
    table = Table("conductivity", "@iso10456")
    for name, celsius, exact, source in PRINTED["insulations"]:
        layer = _case(insulation={"layer": [{"thickness": "40 mm", "material": name}]}).insulation.layers[0]
        computed = float(layer.conductivity(celsius + ZERO))
        _law(table, source, f"{name} at {celsius:g} degC", exact, computed, 1e-6, "W/m/K")
    for name, celsius, exact, source in PRINTED["metals"]:
        computed = float(_case(pipe__material=name).pipe.material.conductivity(celsius + ZERO))
        _law(table, source, f"{name} at {celsius:g} degC", exact, computed, 1e-6, "W/m/K")
    barrier = _case(barrier={"thickness": "0.6 mm", "material": "aluminium"}).barrier
    assert barrier is not None
    table = Table("barrier", "@iso10456", table.rows)
    _law(table, "@iso10456", "aluminium", 160.0, barrier.conductivity, 1e-6, "W/m/K")
    _law(table, PRACTICE, "emissivity of aluminium", 0.13, barrier.emissivity, 1e-6, "-")
    return table.rows


def assumed() -> list[Row]:
    """What stands where a case says nothing, as the key table has it."""
    case = parse_case(sketch(ROUND, insulation__fit="bridged", foil={"thickness": "0.1 mm"}))
    tracer, foil, stirred = case.tracers[0], case.foil, _case(contents={"state": "mixed", "fluid": LIQUID})
    assert foil is not None
    values = {
        "chord of a round tracer's contact over its diameter": (0.2, (tracer.contact_width or 0.0) / 0.01),
        "contact conductance, W/m2/K": (400.0, tracer.contact_conductance),
        "conductivity of a tracer's body, W/m/K": (0.3, tracer.body_conductivity),
        "film of stirred liquid, W/m2/K": (100.0, bore_coefficient(stirred.contents, 0.1, "liquid")[0]),
        "emissivity of a void's walls": (0.9, case.insulation.void.emissivity),
        "emissivity of the bore": (0.8, case.contents.emissivity),
        "emissivity of a bare surface": (0.9, case.outside.emissivity),
        "conductivity of a foil, aluminium of EN ISO 10456": (160.0, foil.conductivity),
    }
    source = PRACTICE
    return [
        Row("assumed values", source, name, exact, computed, 1e-9, "exact", "-")
        for name, (exact, computed) in values.items()
    ]


def water() -> list[Row]:
    """Water as contents."""
    fluid = _case().contents.fluid
    book = "@incropera, table A.6 (from memory)"
    table = Table(
        "water", "@tanaka2001", unit="kg/m3", why="0.03 kg/m3: linear between the program's table points"
    )
    laws = (
        ("density", fluid.density, 0.003, "kg/m3"),
        ("specific heat", fluid.specific_heat, 0.005, "J/kg/K"),
        ("viscosity", fluid.viscosity, 0.02, "Pa s"),
        ("conductivity", fluid.conductivity, 0.03, "W/m/K"),
        ("expansion", fluid.expansion, 0.05, "1/K"),
    )
    for kelvin, *values in PRINTED["water"]:
        for (name, law, part, unit), exact in zip(laws, values, strict=True):
            if (name, kelvin) == ("expansion", 280.0):
                continue  # near the density's maximum it changes by a third in a kelvin
            _law(table, book, f"{name} at {kelvin:g} K", exact, law(kelvin), part, unit)
    # Tanaka, Girard, Davis, Peuto and Bignell (2001), Metrologia 38, 301-309
    for celsius in (0.5, 4.0, 10.0, 25.0, 40.0):
        below = 522528.9 * (celsius + 69.34881)
        exact = 999.97495 * (1 - (celsius - 3.983035) ** 2 * (celsius + 301.797) / below)
        table.within(f"density at {celsius:g} degC", exact, fluid.density(celsius + ZERO), 0.03)
    return table.rows


def gas() -> list[Row]:
    """Air as contents, and the air of the outside films and of voids."""
    inside = _case().contents.gas
    laws: tuple[tuple[str, Any, Any, float, str], ...] = (
        ("density", inside.density, air.density, 0.01, "kg/m3"),
        ("specific heat", inside.specific_heat, air.specific_heat, 0.01, "J/kg/K"),
        ("viscosity", inside.viscosity, air.viscosity, 0.01, "Pa s"),
        ("conductivity", inside.conductivity, air.conductivity, 0.015, "W/m/K"),
    )
    book = "@incropera, table A.4 (from memory)"
    table = Table("air", book)
    for kelvin, at_100_kpa, *others in PRINTED["air"]:
        values = [1.01325 * at_100_kpa, *others]
        for (name, *pair, part, unit), exact in zip(laws, values, strict=True):
            for where, law in zip(("contents", "films"), pair, strict=True):
                quantity = f"{name} at {kelvin:g} K, of the {where}"
                _law(table, book, quantity, exact, float(law(kelvin)), part, unit)
    hot = float(air.specific_heat(600.0))
    _law(table, book, "specific heat at 600 K, of the films", 1051.0, hot, 0.01, "J/kg/K")
    return table.rows


GROUPS = (pipes, conductivities, assumed, water, gas)
