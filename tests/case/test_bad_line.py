"""Bad pipe, contents, tracers: one CaseError on one line, with file, key and what is accepted."""

import math
from collections.abc import Callable
from typing import Any

import pytest

MISSING = object()
T = "tracer/0/"
T1, T2 = 'tracer[1] "T1"', 'tracer[2] "T2"'

# place in the raw case, value there, key the message names, words in the message
TABLE: list[tuple[str, Any, str, str]] = [
    ("pip", {}, "pip", 'did you mean "pipe"'),
    ("pipe/wal", "1 mm", "pipe.wal", 'did you mean "wall"'),
    ("contents/fil", 0.5, "contents.fil", 'did you mean "fill"'),
    ("tracer/1/hight", "5 mm", T2 + ".hight", 'did you mean "height"'),
    (T + "output/voltage_exponnent", 1, T1 + ".output.voltage_exponnent", "voltage_exponent"),
    ("pipe/wall", 10, "pipe.wall", "bare number"),
    ("pipe/wall", "10", "pipe.wall", "no unit"),
    ("pipe/wall", "10 mmm", "pipe.wall", "mm, cm, m, in, ft"),
    ("pipe/wall", "10 degC", "pipe.wall", "not a unit of length"),
    ("pipe/wall", "0,5 mm", "pipe.wall", "decimal point"),
    ("pipe/wall", "nan mm", "pipe.wall", "finite"),
    ("pipe/wall", "inf mm", "pipe.wall", "finite"),
    ("pipe/wall", "1e999 mm", "pipe.wall", "finite"),
    ("pipe/wall", math.nan, "pipe.wall", "bare number"),
    ("pipe/wall", True, "pipe.wall", "true"),
    ("pipe/wall", ["10 mm"], "pipe.wall", "a list"),
    ("pipe/wall", {"mm": 10}, "pipe.wall", "a table"),
    ("pipe/wall", "", "pipe.wall", "number"),
    ("pipe/wall", "-10 mm", "pipe.wall", "outside what is accepted"),
    ("pipe/wall", "0 mm", "pipe.wall", "outside what is accepted"),
    ("pipe/wall", "55 mm", "pipe.wall", "less than 55 mm"),
    ("pipe/wall", "9**9**9**9 mm", "pipe.wall", "not a unit"),
    ("pipe/wall", "1 " + "m*" * 500 + "m", "pipe.wall", "not a unit"),
    ("pipe/wall", MISSING, "pipe.wall", "is missing"),
    ("pipe/outer_diameter", "11 km", "pipe.outer_diameter", "outside what is accepted"),
    ("pipe/outer_diameter", MISSING, "pipe.outer_diameter", "is missing"),
    ("pipe/size", "DN 100", "pipe.outer_diameter", "beside size"),
    ("pipe", {"size": "DN 101", "schedule": "40", "material": "PP"}, "pipe.size", "DN 6, 8, 10"),
    ("pipe", {"size": "four inch", "schedule": "40", "material": "PP"}, "pipe.size", "NPS"),
    ("pipe", {"size": 100, "schedule": "40", "material": "PP"}, "pipe.size", "not text"),
    ("pipe", {"size": "DN 100", "material": "PP"}, "pipe.schedule", "10S"),
    ("pipe", {"size": "DN 100", "schedule": "41", "material": "PP"}, "pipe.schedule", "XXS"),
    ("pipe", {"schedule": "40", "material": "PP"}, "pipe.schedule", "size"),
    ("pipe/material", "carbn steel", "pipe.material", 'did you mean "carbon steel"'),
    ("pipe/material", 5, "pipe.material", "catalogue"),
    ("pipe/material", MISSING, "pipe.material", "is missing"),
    (
        "pipe/material",
        {"conductivity": "50 W/m/K", "density": "1 kg/m3"},
        "pipe.material.specific_heat",
        "is missing",
    ),
    ("pipe", 5, "pipe", "is not a table"),
    ("pipe", MISSING, "pipe", "is missing"),
    ("contents/state", "frozen", "contents.state", '"flowing"'),
    ("contents/state", "stil", "contents.state", 'did you mean "still"'),
    ("contents/state", 3, "contents.state", '"still"'),
    ("contents/fill", 1.01, "contents.fill", "0 to 1"),
    ("contents/fill", -0.01, "contents.fill", "0 to 1"),
    ("contents/fill", math.nan, "contents.fill", "finite"),
    ("contents/fill", "half", "contents.fill", "fraction"),
    ("contents/fill", True, "contents.fill", "true"),
    ("contents/fluid", "watr", "contents.fluid", 'did you mean "water"'),
    ("contents/fluid", ["water"], "contents.fluid", "catalogue"),
    ("contents/gas", "water", "contents.gas", "not a gas"),
    ("contents/state", "flowing", "contents.temperature", "is missing"),
    ("contents", {"state": "flowing", "temperature": "20 degC"}, "contents.velocity", "is missing"),
    (
        "contents",
        {"state": "flowing", "temperature": "20 degC", "velocity": "0 m/s"},
        "contents.velocity",
        "above 0",
    ),
    (
        "contents",
        {"state": "flowing", "temperature": "20 K/m", "velocity": "1 m/s"},
        "contents.temperature",
        "degC",
    ),
    ("contents", {"film_coefficient": "-1 W/m2/K"}, "contents.film_coefficient", "outside"),
    ("contents/emissivity", 2, "contents.emissivity", "0 to 1"),
    (T + "clock", 12.5, T1 + ".clock", "0 to 12"),
    (T + "clock", "five", T1 + ".clock", "a number from 0 to 12"),
    (T + "clock", math.inf, T1 + ".clock", "finite"),
    (T + "clock", 10**400, T1 + ".clock", "finite"),
    (T + "clock", 7.9, T2 + ".clock", "overlaps"),
    (T + "shape", "square", T1 + ".shape", '"round"'),
    (T + "shape", "round", T1 + ".diameter", "is missing"),
    (T + "diameter", "5 mm", T1 + ".diameter", "does not belong"),
    (T + "width", MISSING, T1 + ".width", "is missing"),
    (T + "width", "346 mm", T1 + ".width", "whole pipe"),
    (T + "height", "-5 mm", T1 + ".height", "outside"),
    (T + "height", "49.5 mm", T1 + ".height", "at most 49 mm"),
    (T + "standoff", "45 mm", T1 + ".height", "at most 49 mm"),
    (T + "name", "T2", T2 + ".name", "already"),
    (T + "name", "../T1", 'tracer[1] "../T1".name', "file names"),
    (T + "name", "", "tracer[1]", "empty"),
    (T + "name", 5, "tracer[1].name", "not text"),
    (T + "name", "a\nb", "tracer[1]", "control"),
    (T + "name", MISSING, "tracer[1].name", "is missing"),
    (T + "over", "T9", T1 + ".over", "is no tracer"),
    (T + "over", "T1", T1 + ".over", "has no lowest"),
    (T + "over", "T2", T1 + ".clock", "accepted: 8"),
    (T + "output", "25 bananas", T1 + ".output", "W/m"),
    (T + "output", 25, T1 + ".output", "25 W/m"),
    (T + "output", "-25 W/m", T1 + ".output", "outside"),
    (T + "output", {}, T1 + ".output", "exactly one"),
    (
        T + "output",
        {"power": "5 W/m", "at": [["0 degC", "1 W/m"], ["5 degC", "0 W/m"]]},
        T1 + ".output",
        "exactly one",
    ),
    (T + "output/at", [["0 degC", "1 W/m"], ["0 degC", "0 W/m"]], T1 + ".output.at", "strictly increase"),
    (T + "output/at", [["5 degC", "1 W/m"], ["0 degC", "0 W/m"]], T1 + ".output.at", "row 2"),
    (T + "output/at", [["5 degC", "1 W/m"]], T1 + ".output.at", "two rows"),
    (T + "output/at", [["5 degC"], ["6 degC"]], T1 + ".output.at", "row 1"),
    (T + "output/at", [[5, 6], [7, 8]], T1 + ".output.at", "row 1"),
    (T + "output/at", [["0 degC", "1 W/m"], ["5 degC", "-1 W/m"]], T1 + ".output.at", "row 2"),
    (T + "output/at", "5 W/m", T1 + ".output.at", "pairs"),
    (T + "output/voltage_exponent", -1, T1 + ".output.voltage_exponent", "0 to 4"),
    (T + "tolerance", 1.0, T1 + ".tolerance", "0 to 0.999"),
    (T + "tolerance", "10 K", T1 + ".tolerance", "10 %"),
    (T + "on", 1, T1 + ".on", "true or false"),
    (T + "contact_conductance", "0 W/m2/K", T1 + ".contact_conductance", "outside"),
    (T + "body_conductivity", "0 W/m/K", T1 + ".body_conductivity", "outside"),
    ("tracer", {"name": "T1"}, "tracer", "[[tracer]]"),
    ("tracer", "T1", "tracer", "[[tracer]]"),
    ("tracer/0", 7, "tracer[1]", "not a table"),
]


@pytest.mark.parametrize(
    ("place", "value", "key", "words"), TABLE, ids=[f"{n}-{r[0]}" for n, r in enumerate(TABLE)]
)
def test_one_message_names_the_key(
    refusal: Callable[..., str], place: str, value: Any, key: str, words: str
) -> None:
    message = refusal(place) if value is MISSING else refusal(place, value)
    assert message.startswith(f"line.toml: {key}"), message
    assert words in message, message
    assert "\n" not in message
