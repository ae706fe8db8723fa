"""Units at the boundary of a case: the factors of NIST SP 811, and one line written both ways.

NIST Special Publication 811 (2008), appendix B.8, the factors as printed there (from memory); degF by definition.
"""

from typing import Any

from sim.case.units import parse_quantity
from validation.published.rows import Row
from validation.sketches.sketch import DEFINED, LIQUID, numbers

NIST = "@nistsp811, appendix B.8 (from memory)"
FACTORS = (  # text, kind, SI value as printed, SI unit
    ("1 in", "length", 2.54e-2, "m"),
    ("1-1/2 in", "length", 3.81e-2, "m"),
    ("1 ft", "length", 3.048e-1, "m"),
    ("1 mil", "length", 2.54e-5, "m"),
    ("1 mph", "speed", 4.4704e-1, "m/s"),
    ("1 km/h", "speed", 2.777778e-1, "m/s"),
    ("1 ft/s", "speed", 3.048e-1, "m/s"),
    ("1 W/ft", "power per length", 3.280840, "W/m"),
    ("1 Btu/h/ft/degF", "conductivity", 1.730735, "W/m/K"),
    ("1 Btu*in/h/ft2/degF", "conductivity", 1.442279e-1, "W/m/K"),
    ("1 Btu/h/ft2/degF", "heat transfer coefficient", 5.678263, "W/m2/K"),
    ("1 lb/ft3", "density", 1.601846e1, "kg/m3"),
    ("1 g/cm3", "density", 1e3, "kg/m3"),
    ("1 Btu/lb/degF", "specific heat", 4.1868e3, "J/kg/K"),
    ("1 cP", "viscosity", 1e-3, "Pa s"),
    ("1 1/degF", "expansion", 1.8, "1/K"),
    ("9 delta_degF", "temperature difference", 5.0, "K"),
)
POINTS = (  # readings of one temperature, K
    ("-40 degF", 233.15),
    ("32 degF", 273.15),
    ("212 degF", 373.15),
    ("0 degF", 255.372222),
    ("-20 degC", 253.15),
    ("459.67 degR", 255.372222),
    ("300 K", 300.0),
    ("-12 1/2 degC", 260.65),
)


def _line(metric: bool) -> dict[str, Any]:
    def one(si: str, other: str) -> str:
        return si if metric else other

    wall = {
        "conductivity": one("17.30734666 W/m/K", "10 Btu/h/ft/degF"),
        "density": one("8009.2317 kg/m3", "500 lb/ft3"),
        "specific_heat": one("460.548 J/kg/K", "0.11 Btu/lb/degF"),
    }
    return {
        "pipe": {
            "outer_diameter": one("114.3 mm", "4.5 in"),
            "wall": one("6.35 mm", "1/4 in"),
            "material": wall,
        },
        "contents": {"state": "still", "fluid": LIQUID},
        "tracer": [
            {
                "name": "T1",
                "clock": 4,
                "shape": "flat",
                "width": one("12.7 mm", "0.5 in"),
                "height": one("5.08 mm", "200 mil"),
                "contact_conductance": one("567.8263341 W/m2/K", "100 Btu/h/ft2/degF"),
                "output": {
                    "at": [
                        [one("0 degC", "32 degF"), one("26.24671916 W/m", "8 W/ft")],
                        [one("100 degC", "212 degF"), one("6.56167979 W/m", "2 W/ft")],
                    ]
                },
            }
        ],
        "insulation": {
            "layer": [
                {
                    "thickness": one("50.8 mm", "2 in"),
                    "conductivity": [
                        [one("0 degC", "32 degF"), one("0.03605697221 W/m/K", "0.25 Btu*in/h/ft2/degF")],
                        [one("100 degC", "212 degF"), one("0.05769115556 W/m/K", "0.4 Btu*in/h/ft2/degF")],
                    ],
                }
            ]
        },
        "outside": {"emissivity": 0.5 if metric else "50 %"},
        "condition": [
            {
                "name": "only",
                "ambient": one("-28.8888888888889 degC", "-20 degF"),
                "wind": one("6.7056 m/s", "15 mph"),
            }
        ],
    }


def rows() -> list[Row]:
    """Factors of units, thermometer readings, and one line in two spellings."""
    why, seven = "ten digits are written", "seven digits are printed"
    out = [
        Row("units", NIST, text, exact, parse_quantity(text, kind), 1e-6 * exact, seven, unit)
        for text, kind, exact, unit in FACTORS
    ]
    scales = "the scales themselves, from the definition"
    for text, exact in POINTS:
        computed = parse_quantity(text, "temperature")
        out.append(Row("units", scales, text, exact, computed, 1e-6, "six decimals", "K"))
    metric, other = numbers(_line(True), 1.0), numbers(_line(False), 1.0)
    source = "one line in two spellings, " + DEFINED
    for path, unit in (("heat_out", "W/m"), ("wall.min", "K"), ("tracers.T1.sheath_max", "K")):
        out.append(Row("units", source, path, metric[path], other[path], 1e-6, why, unit))
    return out
