"""Units against their definitions (NIST SP 811 appendix B for the inch-pound units)."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.case.units import KINDS, parse_fraction, parse_quantity, write_quantity

FOOT, POUND, BTU, HOUR = 0.3048, 0.45359237, 1055.05585262, 3600.0
PER_FAHRENHEIT = 9.0 / 5.0

KNOWN = [
    ("50 mm", "length", 0.05),
    ("2 in", "length", 0.0508),
    ('2"', "length", 0.0508),
    ("1/2 in", "length", 0.0127),
    ("1-1/2 in", "length", 0.0381),
    ("1 1/2 in", "length", 0.0381),
    ("3 µm", "length", 3e-6),
    ("-29 degC", "temperature", 244.15),
    ("−29 °C", "temperature", 244.15),
    ("-20 degF", "temperature", (-20 - 32) * 5 / 9 + 273.15),
    ("32 °F", "temperature", 273.15),
    ("300 K", "temperature", 300.0),
    ("5 K", "temperature difference", 5.0),
    ("9 delta_degF", "temperature difference", 5.0),
    ("25 W/m", "power per length", 25.0),
    ("8 W/ft", "power per length", 8 / FOOT),
    ("0.04 W/m/degC", "conductivity", 0.04),
    ("0.3 Btu*in/h/ft2/degF", "conductivity", 0.3 * BTU * (FOOT / 12) / HOUR / FOOT**2 * PER_FAHRENHEIT),
    ("0.3 BTU in/hr ft² °F", "conductivity", 0.3 * BTU * (FOOT / 12) / HOUR / FOOT**2 * PER_FAHRENHEIT),
    ("1 Btu/(h ft degF)", "conductivity", BTU / HOUR / FOOT * PER_FAHRENHEIT),
    ("9 m/s", "speed", 9.0),
    ("20 mph", "speed", 20 * 5280 * FOOT / HOUR),
    ("36 km/h", "speed", 10.0),
    ("10 knots", "speed", 10 * 1852 / HOUR),
    ("60 m/min", "speed", 1.0),
    ("40 mil", "length", 40e-3 * FOOT / 12),
    ("-1/2 degC", "temperature", 272.65),
    ("-1 1/2 degF", "temperature", (-1.5 - 32) * 5 / 9 + 273.15),
    ("491.67 degR", "temperature", 273.15),
    ("1 cal/g/degC", "specific heat", 4186.8),
    ("62.4 lb/ft3", "density", 62.4 * POUND / FOOT**3),
    ("1 g/cm3", "density", 1000.0),
    ("1 Btu/lb/degF", "specific heat", BTU / POUND * PER_FAHRENHEIT),
    ("4.2 kJ/kg/K", "specific heat", 4200.0),
    ("1 cP", "viscosity", 1e-3),
    ("1.2 mPa s", "viscosity", 1.2e-3),
    ("1e-3 1/degF", "expansion", 1.8e-3),
    ("2e-4 K-1", "expansion", 2e-4),
    ("90 deg", "angle", math.pi / 2),
]
SAME_CONDUCTIVITY = ["W/m/K", "W/(m K)", "W/(m·K)", "W/mK", "W/m K", "W/m-K", "W m-1 K-1", "W/m/°C", "W/m°C"]
SAME_COEFFICIENT = ["W/m2/K", "W/m²K", "W/m²/K", "W/m^2/K", "W/(m2*K)", "W/m2 K", "W/(m² K)", "W/m**2/K"]


@pytest.mark.parametrize(("text", "kind", "value"), KNOWN)
def test_known_values(text: str, kind: str, value: float) -> None:
    assert parse_quantity(text, kind) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("unit", SAME_CONDUCTIVITY)
def test_spellings_of_conductivity(unit: str) -> None:
    assert parse_quantity(f"0.04 {unit}", "conductivity") == 0.04


@pytest.mark.parametrize("unit", SAME_COEFFICIENT)
def test_spellings_of_a_coefficient(unit: str) -> None:
    assert parse_quantity(f"400 {unit}", "heat transfer coefficient") == 400.0


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("5 degC", "temperature difference"),
        ("5 delta_degC", "temperature"),
        ("5 K/m", "temperature"),
        ("25 W", "power per length"),
        ("5 mK", "length"),
        ("5 m2", "length"),
        ("5", "length"),
        ("mm", "length"),
        ("1/0 mm", "length"),
        ("9**9**9 mm", "length"),
        ("1 m**9**9**9", "length"),
        ("1 __import__", "length"),
        ("1e400 mm", "length"),
        ("nan mm", "length"),
    ],
)
def test_refused_with_what_is_accepted(text: str, kind: str) -> None:
    with pytest.raises(ValueError, match=r"accepted: an? " + kind):
        parse_quantity(text, kind)


@pytest.mark.parametrize("value", [50, 5.0, True, None, ["50 mm"], {"mm": 50}, math.nan])
def test_only_text_is_a_quantity(value: object) -> None:
    with pytest.raises(ValueError, match="accepted: a length"):
        parse_quantity(value, "length")


def test_fractions() -> None:
    assert parse_fraction("10 %") == pytest.approx(0.1)
    assert parse_fraction(1) == 1.0
    for wrong in ("10", True, math.inf, None):
        with pytest.raises(ValueError, match=r"fraction|finite"):
            parse_fraction(wrong)


@given(st.floats(1e-6, 1e6), st.sampled_from(sorted(KINDS)))
def test_what_is_written_reads_back_exactly(value: float, kind: str) -> None:
    unit = KINDS[kind].si.replace("**", "")
    si = parse_quantity(f"{value!r} {unit}", kind)
    assert si == pytest.approx(value, rel=1e-14)
    assert parse_quantity(write_quantity(si, kind), kind) == si


@given(st.text(max_size=30), st.sampled_from(sorted(KINDS)))
def test_any_text_is_read_or_refused(text: str, kind: str) -> None:
    for candidate in (text, f"1 {text}"):
        try:
            value = parse_quantity(candidate, kind)
        except ValueError:
            continue
        assert math.isfinite(value)
