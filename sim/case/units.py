"""Quantities as text with units: "50 mm", "-20 degF", "0.3 Btu*in/h/ft2/degF" become SI floats.

The unit algebra is pint's, on a small registry of the units met in this work, so that a slip such as
"5 mmol" is an error and not a surprise. Each unit text is analysed once and remembered.
"""

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

DEFINITIONS = """
milli- = 1e-3 = m-
centi- = 1e-2 = c-
kilo- = 1e3 = k-
mega- = 1e6 = M-
micro- = 1e-6 = u-
meter = [length] = m = metre = meters = metres
second = [time] = s = sec = seconds
gram = 1e-3 * kilogram = g
kilogram = [mass] = kg
kelvin = [temperature]; offset: 0 = K
degree_Celsius = kelvin; offset: 273.15 = degC
degree_Rankine = 5 / 9 * kelvin; offset: 0 = degR
degree_Fahrenheit = 5 / 9 * kelvin; offset: 233.15 + 200 / 9 = degF
radian = [] = rad
degree = 0.017453292519943295 * radian = deg = degrees
percent = 0.01 = percent
inch = 0.0254 * meter = in = inches
foot = 0.3048 * meter = ft = feet
mil = 2.54e-5 * meter = mil = mils
minute = 60 * second = min
hour = 3600 * second = h = hr = hours
day = 86400 * second = d = days
pound = 0.45359237 * kilogram = lb = lbm
newton = kilogram * meter / second ** 2 = N
pascal = newton / meter ** 2 = Pa
bar = 1e5 * pascal = bar
poise = 0.1 * pascal * second = P
joule = newton * meter = J
watt = joule / second = W
Btu = 1055.05585262 * joule = Btu = BTU = btu
calorie = 4.1868 * joule = cal
mph = 0.44704 * meter / second = mph
knot = 0.5144444444444445 * meter / second = kn = knots
fps = 0.3048 * meter / second = fps
"""


@dataclass(frozen=True)
class Kind:
    """A kind of quantity: its name, its SI unit, and the units named when a text is not understood."""

    name: str
    si: str
    accepted: tuple[str, ...]
    example: str

    @property
    def unit(self) -> str:
        """The SI unit as a person writes it."""
        return self.si.replace("**", "")


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("length", "m", ("mm", "cm", "m", "in", "ft"), "50 mm"),
        Kind("temperature", "K", ("degC", "degF", "K"), "-29 degC"),
        Kind("temperature difference", "K", ("K", "delta_degC", "delta_degF"), "5 K"),
        Kind("power per length", "W/m", ("W/m", "W/ft"), "25 W/m"),
        Kind("conductivity", "W/m/K", ("W/m/K", "Btu/h/ft/degF", "Btu*in/h/ft2/degF"), "0.04 W/m/K"),
        Kind("heat transfer coefficient", "W/m**2/K", ("W/m2/K", "Btu/h/ft2/degF"), "400 W/m2/K"),
        Kind("speed", "m/s", ("m/s", "km/h", "mph", "ft/s"), "9 m/s"),
        Kind("density", "kg/m**3", ("kg/m3", "g/cm3", "lb/ft3"), "7850 kg/m3"),
        Kind("specific heat", "J/kg/K", ("J/kg/K", "kJ/kg/K", "Btu/lb/degF"), "480 J/kg/K"),
        Kind("viscosity", "Pa*s", ("Pa*s", "mPa*s", "cP"), "1.2 mPa*s"),
        Kind("expansion", "1/K", ("1/K", "1/degC", "1/degF"), "2.1e-4 1/K"),
        Kind("angle", "rad", ("deg", "rad"), "90 deg"),
        Kind("time", "s", ("s", "min", "h", "day"), "48 h"),
        Kind("irradiance", "W/m**2", ("W/m2", "kW/m2", "Btu/h/ft2"), "900 W/m2"),
        Kind("latent heat", "J/kg", ("kJ/kg", "J/kg", "Btu/lb"), "333.6 kJ/kg"),
    )
}

_NUMBER = re.compile(
    r"\s*(?P<sign>[+-]?)\s*(?:(?P<whole>[0-9]+)[ -])?(?P<top>[0-9]+)/(?P<bottom>[0-9]+)(?=\s*[^0-9\s./])"
    r"|\s*(?P<number>[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)"
)
# Names with an optional one-digit power, and the signs that join them: anything else never reaches pint.
_UNIT_GRAMMAR = re.compile(r"(?:[A-Za-z_]+(?:\*\*-?\d)?|1(?=/)|[*/()])+")
_TEMPERATURES = {
    "degC": "degC",
    "degF": "degF",
    "C": "degC",
    "F": "degF",
    "K": "K",
    "kelvin": "K",
    "degR": "degR",
}
_DIFFERENCES = {
    "degC": "delta_degree_Celsius",
    "C": "delta_degree_Celsius",
    "delta_degC": "delta_degree_Celsius",
    "degF": "delta_degree_Fahrenheit",
    "F": "delta_degree_Fahrenheit",
    "delta_degF": "delta_degree_Fahrenheit",
    "degR": "delta_degree_Fahrenheit",
}


def rounded(value: float) -> float:
    """The value to 15 significant digits: -29 degC is 244.15 K, and what is written reads back the same."""
    return float(f"{value:.15g}")


# What pint gives for the spellings that nearly every case holds (None: it is none), so that most cases are read without
# importing it, which takes longer than meshing a section. A test holds each entry against pint.
COMMON: dict[tuple[str, str], float | None] = {
    ("m", "m"): 1.0,
    ("mm", "m"): 1e-3,
    ("cm", "m"): 1e-2,
    ("in", "m"): 0.0254,
    ("ft", "m"): 0.3048,
    ("K", "K"): 1.0,
    ("W/m", "W/m"): 1.0,
    ("W/m/K", "W/m/K"): 1.0,
    ("W/m*K", "W/m/K"): None,
    ("W/(m*K)", "W/m/K"): 1.0,
    ("W/m**2/K", "W/m**2/K"): 1.0,
    ("W/m**2*K", "W/m**2/K"): None,
    ("W/(m**2*K)", "W/m**2/K"): 1.0,
    ("W/m**2", "W/m**2"): 1.0,
    ("kW/m**2", "W/m**2"): 1e3,
    ("m/s", "m/s"): 1.0,
    ("s", "s"): 1.0,
    ("min", "s"): 60.0,
    ("h", "s"): 3600.0,
    ("day", "s"): 86400.0,
    ("kg/m**3", "kg/m**3"): 1.0,
    ("J/kg/K", "J/kg/K"): 1.0,
    ("J/kg*K", "J/kg/K"): None,
    ("J/(kg*K)", "J/kg/K"): 1.0,
    ("kJ/kg/K", "J/kg/K"): 1e3,
    ("J/kg", "J/kg"): 1.0,
    ("kJ/kg", "J/kg"): 1e3,
    ("Pa*s", "Pa*s"): 1.0,
    ("mPa*s", "Pa*s"): 1e-3,
    ("1/K", "1/K"): 1.0,
    ("deg", "rad"): rounded(math.pi / 180),
    ("rad", "rad"): 1.0,
}
OFFSETS = {"degC": 273.15, "K": 0.0}
"""0 of a scale of temperature, K, likewise."""


@lru_cache(maxsize=1)
def registry() -> Any:
    """The one pint registry of the program, built on first use (pint is imported only then)."""
    import pint

    return pint.UnitRegistry(DEFINITIONS.strip().splitlines())


def accepted(kind: str) -> str:
    """How to write a quantity of this kind, for messages: 'a length such as "50 mm" (mm, cm, m, in, ft)'."""
    entry = KINDS[kind]
    article = "an" if entry.name[0] in "aeiou" else "a"
    units = ", ".join(entry.accepted)
    return f'{article} {entry.name} as text with its unit, such as "{entry.example}" ({units})'


def _spelling(text: str) -> str:
    """Unit text in plain spelling: powers as **, products as *, no blanks."""
    for old, new in (("°C", "degC"), ("°F", "degF"), ("℃", "degC"), ("℉", "degF"), ("²", "2"), ("³", "3")):
        text = text.replace(old, new)
    for old, new in (
        ("·", "*"),
        ("⋅", "*"),
        ("µ", "u"),
        ("μ", "u"),
        ("%", "percent"),
        ("^", "**"),
        ('"', "in"),
    ):
        text = text.replace(old, new)
    text = re.sub(r"\bΔ(?=deg)", "delta_", text.strip())
    text = re.sub(r"\s*([*/()]+)\s*", r"\1", text)
    text = re.sub(r"(?<=[A-Za-z])(-?\d)", r"**\1", text)
    text = re.sub(r"\b(m|ft)((?:\*\*\d)?)(?=(?:K|degC|degF|F)\b)", r"\1\2*", text)
    text = re.sub(r"(?<=[A-Za-z0-9])-(?=[A-Za-z])", "*", text)
    return re.sub(r"(?<=[\w)])\s+(?=[\w(])", "*", text)


def _scale(expression: str, si: str) -> float | None:
    """Factor from a unit expression to an SI unit, or None where it is no unit of that dimension."""
    if (expression, si) in COMMON:
        return COMMON[expression, si]
    return scale_by_pint(expression, si)


def scale_by_pint(expression: str, si: str) -> float | None:
    """The same, asked of pint."""
    if len(expression) > 60 or not _UNIT_GRAMMAR.fullmatch(expression):
        return None
    names = re.sub(r"[A-Za-z_]+", lambda name: _DIFFERENCES.get(name[0], name[0]), expression)
    try:
        return rounded(float(registry().Quantity(1.0, names).to(si).magnitude))
    except Exception:  # pint raises its own, tokenizer and arithmetic errors: each means "no such unit"
        return None


def offset_by_pint(name: str) -> float:
    """0 of a scale of temperature, K."""
    return float(registry().Quantity(0.0, name).to("K").magnitude)


@lru_cache(maxsize=512)
def unit_conversion(unit: str, kind: str) -> tuple[float, float] | None:
    """(factor, offset) with SI = value * factor + offset, or None where `unit` does not measure `kind`."""
    spelled = _spelling(unit)
    if kind == "temperature":
        name = _TEMPERATURES.get(spelled)
        if name is None:
            return None
        offset = OFFSETS[name] if name in OFFSETS else offset_by_pint(name)
        factor = _scale("degF" if name in ("degF", "degR") else "K", "K")
        return (factor, offset) if factor is not None else None
    if kind == "temperature difference" and spelled not in ("K", "kelvin", "delta_degC", "delta_degF"):
        return None
    si = KINDS[kind].si
    factor = _scale(spelled, si)
    if factor is None and spelled.count("/") == 1 and "(" not in spelled:
        # "W/m2 K" and "Btu in/h ft2 F" are read as engineers mean them: all behind the stroke divides.
        above, below = spelled.split("/")
        factor = _scale(f"{above}/({below})", si)
    return None if factor is None else (factor, 0.0)


@lru_cache(maxsize=4096)
def _parse_text(text: str, kind: str) -> float:
    plain = text.replace("−", "-").strip()
    match = _NUMBER.match(plain)
    if match is None:
        if re.match(r"[+-]?(nan|inf)", plain, re.IGNORECASE):
            raise ValueError(f'"{text}" is not a finite number; accepted: {accepted(kind)}')
        raise ValueError(f'"{text}" does not begin with a number; accepted: {accepted(kind)}')
    unit = plain[match.end() :].strip()
    if unit.startswith(","):
        raise ValueError(f'"{text}" has a decimal comma: write a decimal point; accepted: {accepted(kind)}')
    if not unit:
        raise ValueError(f'"{text}" has no unit; accepted: {accepted(kind)}')
    if match["number"] is not None:
        value = float(match["number"])
    else:
        if int(match["bottom"]) == 0:
            raise ValueError(f'"{text}" divides by zero; accepted: {accepted(kind)}')
        value = int(match["whole"] or 0) + int(match["top"]) / int(match["bottom"])
        value = -value if match["sign"] == "-" else value
    conversion = unit_conversion(unit, kind)
    if conversion is None:
        raise ValueError(f'"{text}": "{unit}" is not a unit of {kind}; accepted: {accepted(kind)}')
    result = value * conversion[0] + conversion[1]
    if not math.isfinite(result):
        raise ValueError(f'"{text}" is not a finite number; accepted: {accepted(kind)}')
    return rounded(result)


def parse_quantity(value: object, kind: str) -> float:
    """SI value (kelvin for a temperature) of a quantity written as text with its unit.

    Raises ValueError with a message that says what is accepted, for a bare number, a missing or foreign unit,
    a value that is not finite, or anything that is not text.
    """
    if isinstance(value, str):
        return _parse_text(value[:200], kind)
    if isinstance(value, int | float) and not isinstance(value, bool):
        raise ValueError(f"{value!r} is a bare number without a unit; accepted: {accepted(kind)}")
    raise ValueError(f"{shown(value)} is not a quantity; accepted: {accepted(kind)}")


def range_as_written(text: str, kind: str, low: float, high: float) -> str:
    """An SI range in the unit that a quantity is written in, to 5 digits: beside "400 mph" it is "0 to 223.69 mph"."""
    match = _NUMBER.match(text.replace("−", "-").strip())
    unit = text.replace("−", "-").strip()[match.end() :].strip() if match is not None else KINDS[kind].si
    factor, offset = unit_conversion(unit, kind) or (1.0, 0.0)
    return f"{(low - offset) / factor:.5g} to {(high - offset) / factor:.5g} {unit}"


def parse_fraction(value: object) -> float:
    """A plain number, or a percentage as text ("10 %" is 0.1). Raises ValueError with a clear message."""
    if isinstance(value, str):
        match = re.fullmatch(
            r"\s*([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)\s*(?:%|percent)\s*", value
        )
        if match is None:
            raise ValueError(
                f'{shown(value)} is not a fraction; accepted: a plain number such as 0.1, or "10 %"'
            )
        value = float(match[1]) / 100.0
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f'{shown(value)} is not a fraction; accepted: a plain number such as 0.1, or "10 %"')
    return finite(value)


def parse_number(value: object) -> float:
    """A plain finite number. Raises ValueError with a clear message."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"{shown(value)} is not a plain number")
    return finite(value)


def finite(value: float) -> float:
    """The value as a float; ValueError where it is NaN, infinite or too large for one."""
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise ValueError(f"{shown(value)} is not a finite number")
    return number


def shown(value: object) -> str:
    """A value as it appears in a message: TOML spelling, cut short."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value[:60]}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    return repr(value)[:60]


_WRITTEN = {
    "time": ("h", 1.0),
    "length": ("mm", 1e-3),
    "temperature": ("degC", None),
    "heat transfer coefficient": ("W/m2/K", 1.0),
    "density": ("kg/m3", 1.0),
}


def write_quantity(value: float, kind: str) -> str:
    """Text that `parse_quantity` turns back into exactly this SI value, in the unit a reader expects."""
    unit = _WRITTEN.get(kind, (KINDS[kind].si, 1.0))[0]
    factor, offset = unit_conversion(unit, kind) or (1.0, 0.0)
    guess = (value - offset) / factor
    for digits in range(13):
        text = f"{round(guess, digits):.{digits}f} {unit}"
        if parse_quantity(text, kind) == value:
            return text
    return f"{value!r} {KINDS[kind].si}"
