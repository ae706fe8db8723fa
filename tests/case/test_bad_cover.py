"""Bad insulation, weather, operation: one CaseError on one line, with file, key and what is accepted."""

import math
from collections.abc import Callable
from typing import Any

import pytest

MISSING = object()
L, C, D = "insulation/layer/0/", "condition/0/", "condition/1/"
T1, T2 = 'tracer[1] "T1"', 'tracer[2] "T2"'
LAYER = "insulation.layer[1]"
SHELL = [{"material": "rock wool", "thickness": "50 mm"}]
WINTER, SUMMER = 'condition[1] "winter-night"', 'condition[2] "summer-day"'

# place in the raw case, value there, key the message names, words in the message
TABLE: list[tuple[str, Any, str, str]] = [
    (L + "thicknes", "5 mm", LAYER + ".thicknes", "thickness"),
    (D + "ambiant", "5 degC", SUMMER + ".ambiant", 'did you mean "ambient"'),
    (D + "contents", {"stat": "still"}, SUMMER + ".contents.stat", "state"),
    (D + "title", "x", SUMMER + ".title", "cannot be overridden"),
    (D + "condition", [], SUMMER + ".condition", "cannot be overridden"),
    (D + "overrides", {}, SUMMER + ".overrides", "cannot be overridden"),
    (D + "tracer", {"T3": {"on": False}}, SUMMER + ".tracer.T3", "T1, T2"),
    (D + "tracer", {"9": {"on": False}}, SUMMER + ".tracer.9", "T1, T2"),
    (D + "tracer", {"T1": False}, SUMMER + ".tracer.T1", "table"),
    (D + "tracer", 5, SUMMER + ".tracer", "table"),
    (D + "tracer", {"T1": {"on": "no"}}, SUMMER + '.tracer[1] "T1".on', "true or false"),
    (D + "contents", {"fill": 1.5}, SUMMER + ".contents.fill", "0 to 1"),
    (D + "tracer", {"T1": {"clock": 8}}, SUMMER + '.tracer[2] "T2".clock', "overlaps"),
    ("limits/wall_maximum", "5 degC", "limits.wall_maximum", "wall_max"),
    ("insulation/fit", "loose", "insulation.fit", '"snug"'),
    ("insulation/bore", "150 mm", "insulation.bore", "oversize"),
    ("insulation/fit", "oversize", "insulation.bore", "is missing"),
    ("insulation", {"fit": "oversize", "bore": "110 mm", "layer": SHELL}, "insulation.bore", "110"),
    ("insulation", {"fit": "oversize", "bore": "112 mm", "layer": SHELL}, "insulation.bore", "least"),
    ("insulation/void", {"filling": "water"}, "insulation.void.filling", '"air"'),
    (
        "insulation/void",
        {"filling": "air", "conductivity": "1 W/m/K"},
        "insulation.void.conductivity",
        "one of",
    ),
    ("insulation/layer", [], "insulation.layer", "at least one"),
    (L + "thickness", "-1 mm", LAYER + ".thickness", "outside"),
    (L + "thickness", MISSING, LAYER + ".thickness", "is missing"),
    (L + "thickness", "5 mm", T1 + ".height", "at most 4 mm"),
    (L + "material", "rok wool", LAYER + ".material", 'did you mean "rock wool"'),
    (L + "material", MISSING, LAYER + ".conductivity", "is missing"),
    (L + "conductivity", 0.04, LAYER + ".conductivity", "bare number"),
    (L + "conductivity", "0.04 W/m2/K", LAYER + ".conductivity", "W/m/K"),
    (L + "conductivity", "-0.04 W/m/K", LAYER + ".conductivity", "outside"),
    (L + "conductivity", {"polynomal": [1]}, LAYER + ".conductivity.polynomal", "polynomial"),
    (L + "conductivity", {"polynomial": ["a"]}, LAYER + ".conductivity.polynomial", "numbers"),
    (L + "conductivity", {"polynomial": [math.nan]}, LAYER + ".conductivity", "finite"),
    (L + "conductivity", {"polynomial": [0.04, -1]}, LAYER + ".conductivity", "outside"),
    (
        L + "conductivity",
        {"polynomial": [0.04], "range": ["9 degC", "0 degC"]},
        LAYER + ".conductivity.range",
        "lower to a higher",
    ),
    (
        L + "conductivity",
        [["0 degC", "0.04 W/m/K"], ["0 degC", "0.05 W/m/K"]],
        LAYER + ".conductivity",
        "strictly increase",
    ),
    (L + "wet", {"from_clock": 4, "to_clock": 4, "factor": 2}, LAYER + ".wet.to_clock", "4"),
    (L + "wet", {"from_clock": 0, "to_clock": 12, "factor": 2}, LAYER + ".wet.to_clock", "12"),
    (L + "wet", {"from_clock": 4, "to_clock": 8}, LAYER + ".wet.factor", "exactly one"),
    (L + "wet", {"from_clock": 4, "to_clock": 8, "factor": 0}, LAYER + ".wet.factor", "outside"),
    ("foil/thickness", "0.1", "foil.thickness", "no unit"),
    ("foil", "aluminium", "foil", "not a table"),
    ("barrier", {"thickness": "1 mm"}, "barrier.material", "is missing"),
    ("barrier/material", "aluminum foil sheet", "barrier.material", "known"),
    ("barrier/emissivity", -0.1, "barrier.emissivity", "0 to 1"),
    ("barrier/thickness", MISSING, "barrier.thickness", "is missing"),
    ("outside", {"coefficient": "10 W/m/K"}, "outside.coefficient", "W/m2/K"),
    ("outside", {"emissivity": 1.5}, "outside.emissivity", "0 to 1"),
    ("condition", [], "condition", "is missing"),
    ("condition", MISSING, "condition", "is missing"),
    (C + "name", "summer-day", SUMMER + ".name", "already"),
    (C + "name", "a/b", 'condition[1] "a/b".name', "file names"),
    (C + "ambient", MISSING, WINTER + ".ambient", "is missing"),
    (C + "ambient", -29, WINTER + ".ambient", "bare number"),
    (C + "ambient", "-29", WINTER + ".ambient", "degC, degF, K"),
    (C + "ambient", "-29 delta_degC", WINTER + ".ambient", "degC"),
    (C + "ambient", "-300 degC", WINTER + ".ambient", "outside"),
    (C + "ambient", "3000 degC", WINTER + ".ambient", "outside"),
    (C + "wind", "-1 m/s", WINTER + ".wind", "0 to 100"),
    (C + "wind", "400 mph", WINTER + ".wind", "0 to 223.69 mph"),
    (C + "wind_from", 13, WINTER + ".wind_from", "0 to 12"),
    (C + "supply", 1.6, WINTER + ".supply", "0 to 1.5"),
    (C + "supply", "230 V", WINTER + ".supply", "fraction"),
    (C + "output", "max", WINTER + ".output", '"high"'),
    ("sensor/0/name", "S2", 'sensor[2] "S2".name', "already"),
    ("sensor/0/clock", MISSING, 'sensor[1] "S1".clock', "is missing"),
    ("limits/wall_min", "80 degC", "limits.wall_max", "wall_min"),
    ("limits/sheath_max", 80, "limits.sheath_max", "bare number"),
    ("design/margin", "much", "design.margin", "10 %"),
    ("design/heat_loss", "15 W", "design.heat_loss", "W/m"),
    ("title", 5, "title", "not text"),
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
