"""The catalogue against the tables it was taken from: pipe sizes, conductivities, water and air.

Pipe sizes are checked through a case, by nominal size and schedule. Conductivities are those of the standards named;
water and air against handbook tables that the program does not use.
"""

from typing import Any

from sim.case import Case, parse_case
from sim.heat import air
from sim.heat.bore import bore_coefficient
from validation.published.rows import Row
from validation.published.sources import PRACTICE
from validation.sketches.sketch import LIQUID, ROUND, ZERO, sketch

PIPES = (  # size, schedule: outer diameter and wall, mm
    ("DN 15", "40", 21.3, 2.77),
    ("DN 25", "80", 33.4, 4.55),
    ("NPS 1-1/2", "40", 48.3, 3.68),
    ("DN 50", "40", 60.3, 3.91),
    ("DN 50", "10S", 60.3, 2.77),
    ("NPS 3", "10S", 88.9, 3.05),
    ("DN 100", "40", 114.3, 6.02),
    ("NPS 4", "160", 114.3, 13.49),
    ("DN 150", "XS", 168.3, 10.97),
    ("DN 200", "STD", 219.1, 8.18),
    ("NPS 6", "XXS", 168.3, 21.95),
    ("DN 300", "40", 323.8, 10.31),
    ("DN 600", "STD", 610.0, 9.53),
    ("DN 6", "40", 10.3, 1.73),
    ("DN 8", "40", 13.7, 2.24),
    ("DN 10", "40", 17.1, 2.31),
    ("DN 20", "40", 26.7, 2.87),
    ("DN 32", "40", 42.2, 3.56),
    ("DN 40", "80", 48.3, 5.08),
    ("DN 65", "40", 73.0, 5.16),
    ("DN 80", "40", 88.9, 5.49),
    ("DN 90", "40", 101.6, 5.74),
    ("DN 125", "40", 141.3, 6.55),
    ("DN 250", "STD", 273.0, 9.27),
    ("DN 350", "STD", 355.6, 9.53),
    ("DN 400", "STD", 406.4, 9.53),
    ("DN 500", "STD", 508.0, 9.53),
)
INSULATIONS = (  # name, degC, W/m/K, source
    ("cellular glass", -73.0, 0.0332, "@astmc552"),
    ("cellular glass", 24.0, 0.0490, "@astmc552"),
    ("cellular glass", 204.0, 0.0908, "@astmc552"),
    ("polyisocyanurate", 93.0, 0.0375, "@astmc591"),
    ("aerogel", 93.0, 0.0259, "@astmc1728"),
    ("elastomer foam", 24.0, 0.0404, "@astmc534"),
    ("glass fibre", 10.0, 0.0360, "@astmc547"),
    ("calcium silicate", 10.0, 0.0540, "@astmc533"),
    ("calcium silicate", 200.0, 0.063, "@tiasa2001"),
    ("rock wool", 50.0, 0.037, "@tiasa2001"),
    ("rock wool", 125.0, 0.0505, "@tiasa2001, half way from 50 to 200 degC"),
)
METALS = (
    ("carbon steel", 100.0, 54.0 - 3.33, "@en199312"),
    ("carbon steel", 1000.0, 54.0 - 0.0333 * 800.0, "@en199312, held above 800 degC"),
    ("carbon steel", 0.0, 54.0 - 0.0333 * 20.0, "@en199312, held below 20 degC"),
    ("stainless steel", 100.0, 14.6 + 1.27, "@en199312"),
    ("aluminium", 20.0, 160.0, "@iso10456"),
    ("HDPE", 20.0, 0.50, "@iso10456"),
    ("PVC", 20.0, 0.17, "@iso10456"),
)
WATER = (  # @incropera, table A.6: K, kg/m3, J/kg/K, Pa s, W/m/K, 1/K
    (280.0, 1000.0, 4198.0, 1422e-6, 0.582, 46.04e-6),
    (300.0, 997.0, 4179.0, 855e-6, 0.613, 276.1e-6),
    (340.0, 979.4, 4188.0, 420e-6, 0.660, 566.0e-6),
)
AIR = (  # @incropera, table A.4: K, kg/m3 at 100 kPa, J/kg/K, Pa s, W/m/K
    (250.0, 1.3947, 1006.0, 159.6e-7, 0.0223),
    (300.0, 1.1614, 1007.0, 184.6e-7, 0.0263),
    (400.0, 0.8711, 1014.0, 230.1e-7, 0.0338),
)


def _case(**changes: Any) -> Case:
    return parse_case(sketch(**changes))


def _row(
    check: str, source: str, quantity: str, exact: float, computed: float, part: float, unit: str
) -> Row:
    reason = f"{100 * part:g} %: tables differ by so much" if part > 1e-3 else "as printed"
    return Row(check, source, quantity, exact, computed, part * abs(exact), reason, unit)


def pipes() -> list[Row]:
    """Outer diameter and wall by nominal size and schedule."""
    rows = []
    for size, schedule, outer, wall in PIPES:
        pipe = _case(pipe={"size": size, "schedule": schedule, "material": "carbon steel"}).pipe
        source = "@asmeb3619" if schedule.endswith("S") and schedule[0].isdigit() else "@asmeb3610"
        source += " (from memory)" if (size, schedule) != ("DN 100", "40") else ""
        for name, exact, computed in (
            ("outer diameter", outer, pipe.outer_diameter),
            ("wall", wall, pipe.wall),
        ):
            why = "half a unit of the last digit; editions differ by 0.1 mm in the outer diameter of NPS 12"
            what = f"{size}, {schedule}: {name}"
            rows.append(Row("pipe sizes", source, what, exact, 1e3 * computed, _half(name), why, "mm"))
    return rows


def _half(name: str) -> float:
    return 0.1001 if name == "outer diameter" else 0.005


def conductivities() -> list[Row]:
    """Insulations and metals at a temperature in degC, by name in a case."""
    rows = []
    for name, celsius, exact, source in INSULATIONS:
        law = _case(insulation={"layer": [{"thickness": "40 mm", "material": name}]}).insulation.layers[0]
        computed = float(law.conductivity(celsius + ZERO))
        rows.append(
            _row("conductivity", source, f"{name} at {celsius:g} degC", exact, computed, 1e-6, "W/m/K")
        )
    for name, celsius, exact, source in METALS:
        computed = float(_case(pipe__material=name).pipe.material.conductivity(celsius + ZERO))
        rows.append(
            _row("conductivity", source, f"{name} at {celsius:g} degC", exact, computed, 1e-6, "W/m/K")
        )
    barrier = _case(barrier={"thickness": "0.6 mm", "material": "aluminium"}).barrier
    assert barrier is not None
    rows.append(_row("barrier", "@iso10456", "aluminium", 160.0, barrier.conductivity, 1e-6, "W/m/K"))
    source = PRACTICE
    rows.append(_row("barrier", source, "emissivity of aluminium", 0.13, barrier.emissivity, 1e-6, "-"))
    return rows


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
    rows = []
    book = "@incropera, table A.6 (from memory)"
    laws = (
        ("density", fluid.density, 0.003, "kg/m3"),
        ("specific heat", fluid.specific_heat, 0.005, "J/kg/K"),
        ("viscosity", fluid.viscosity, 0.02, "Pa s"),
        ("conductivity", fluid.conductivity, 0.03, "W/m/K"),
        ("expansion", fluid.expansion, 0.05, "1/K"),
    )
    for kelvin, *values in WATER:
        for (name, law, part, unit), exact in zip(laws, values, strict=True):
            if (name, kelvin) == ("expansion", 280.0):
                continue  # near the density's maximum it changes by a third in a kelvin
            rows.append(_row("water", book, f"{name} at {kelvin:g} K", exact, law(kelvin), part, unit))
    # Tanaka, Girard, Davis, Peuto and Bignell (2001), Metrologia 38, 301-309
    for celsius in (0.5, 4.0, 10.0, 25.0, 40.0):
        below = 522528.9 * (celsius + 69.34881)
        exact = 999.97495 * (1 - (celsius - 3.983035) ** 2 * (celsius + 301.797) / below)
        source = "@tanaka2001"
        why = "0.03 kg/m3: linear between the program's table points"
        computed = fluid.density(celsius + ZERO)
        rows.append(Row("water", source, f"density at {celsius:g} degC", exact, computed, 0.03, why, "kg/m3"))
    return rows


def gas() -> list[Row]:
    """Air as contents, and the air of the outside films and of voids."""
    inside = _case().contents.gas
    laws: tuple[tuple[str, Any, Any, float, str], ...] = (
        ("density", inside.density, air.density, 0.01, "kg/m3"),
        ("specific heat", inside.specific_heat, air.specific_heat, 0.01, "J/kg/K"),
        ("viscosity", inside.viscosity, air.viscosity, 0.01, "Pa s"),
        ("conductivity", inside.conductivity, air.conductivity, 0.015, "W/m/K"),
    )
    rows = []
    for kelvin, at_100_kpa, *others in AIR:
        values = [1.01325 * at_100_kpa, *others]
        for (name, *pair, part, unit), exact in zip(laws, values, strict=True):
            for where, law in zip(("contents", "films"), pair, strict=True):
                quantity = f"{name} at {kelvin:g} K, of the {where}"
                book = "@incropera, table A.4 (from memory)"
                rows.append(_row("air", book, quantity, exact, float(law(kelvin)), part, unit))
    hot = float(air.specific_heat(600.0))
    rows.append(_row("air", book, "specific heat at 600 K, of the films", 1051.0, hot, 0.01, "J/kg/K"))
    return rows


GROUPS = (pipes, conductivities, assumed, water, gas)
