"""Units at the boundary of a case: the factors of NIST SP 811, and one line written both ways.

NIST Special Publication 811 (2008), appendix B.8, the factors as printed there (from memory); degF by definition.
"""

from pathlib import Path

from sim.case.units import parse_quantity
from validation.published.rows import Row
from validation.sketches.invented import read
from validation.sketches.sketch import DEFINED, numbers

SPELLINGS = read(Path(__file__).with_name("spellings.toml"))
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
    metric, other = (numbers(raw, 1.0) for raw in SPELLINGS.values())
    source = "one line in two spellings, " + DEFINED
    for path, unit in (("heat_out", "W/m"), ("wall.min", "K"), ("tracers.T1.sheath_max", "K")):
        out.append(Row("units", source, path, metric[path], other[path], 1e-6, why, unit))
    return out
