"""Changes key by key: what they do to the raw case, and that the saved document keeps its comments."""

import copy
from typing import Any

import pytest
import tomlkit
from plain_lines import FLAT

from sim.case import CaseError, parse_case
from sim.case.settings import Setting, lay, value_of

LINE: dict[str, Any] = {
    "pipe": {"size": "DN 50", "schedule": "40", "material": "carbon steel"},
    "tracer": [FLAT | {"name": "T1", "clock": 3.0}],
    "insulation": {"layer": [{"thickness": "30 mm", "conductivity": "0.04 W/m/K"}]},
    "condition": [
        {"name": "cold", "ambient": "-10 degC"},
        {"name": "hot, dry", "ambient": "30 degC", "tracer": {"T1": {"on": False}}},
    ],
}


def laid(*settings: Setting) -> dict[str, Any]:
    raw = copy.deepcopy(LINE)
    lay(raw, settings)
    return raw


@pytest.mark.parametrize(
    ("text", "value"),
    [("4", 4), ("true", True), ("5 degC", "5 degC"), ('"5"', "5"), ("4:30", "4:30"), ("{a = 1}", {"a": 1})],
)
def test_a_text_is_toml_where_it_can_be(text: str, value: Any) -> None:
    assert value_of(text) == value


def test_two_lines_are_no_second_key() -> None:
    assert value_of("1\nother = 2") == "1\nother = 2"


def test_keys_of_tables_lists_and_conditions_are_set() -> None:
    raw = laid(
        (("tracer", "T1", "clock"), "4:30"),
        (("insulation", "layer", "1", "thickness"), "50 mm"),
        (("condition", "cold", "ambient"), "-20 degC"),
        (("condition", "hot, dry", "tracer", "T1", "on"), "true"),
        (("condition", "cold", "limits", "wall_min"), "1 degC"),
        (("pipe", "schedule"), "80"),
        (("foil", "thickness"), "0.06 mm"),
    )
    case = parse_case(raw)
    assert case.tracers[0].clock == 4.5
    assert case.insulation.layers[0].thickness == pytest.approx(0.05)
    assert case.conditions[0].ambient == pytest.approx(253.15)
    assert case.conditions[1].overrides == {"tracer": {"T1": {"on": True}}}
    assert case.conditions[0].overrides == {"limits": {"wall_min": "1 degC"}}
    assert case.pipe.schedule == "80"
    assert case.foil is not None


def test_what_is_set_comes_back_when_it_is_taken_out() -> None:
    assert laid((("barrier", "thickness"), "1 mm"), (("barrier",), "")) == LINE


def test_entries_are_added_and_taken_out() -> None:
    new = "{clock = 9, shape = 'round', diameter = '8 mm', output = '10 W/m'}"
    raw = laid((("tracer", "T2"), new), (("sensor", "S1"), "{clock = 12}"), (("condition", "cold"), ""))
    assert [t["name"] for t in raw["tracer"]] == ["T1", "T2"]
    assert raw["sensor"] == [{"name": "S1", "clock": 12}]
    assert [c["name"] for c in raw["condition"]] == ["hot, dry"]
    support = laid((("support", "S1"), "{family = 'shoe'}"), (("support", "S1", "spacing"), "3 m"))
    assert support["support"] == [{"name": "S1", "family": "shoe", "spacing": "3 m"}]
    assert laid((("fitting", "V1"), "{family = 'globe_valve'}"))["fitting"][0]["name"] == "V1"


@pytest.mark.parametrize(
    ("path", "text", "key"),
    [
        (("tracer", "T9", "clock"), "4", "tracer.T9"),
        (("tracer", "2", "clock"), "4", "tracer.2"),
        (("pipe", "size", "nominal"), "4", "pipe.size"),
        (("contents", "fill"), "", "contents.fill"),
        (("pipe", "outer_diameter"), "", "pipe.outer_diameter"),
        (("tracer", "T2"), "5", "tracer.T2"),
    ],
)
def test_a_key_that_leads_nowhere_is_told(path: tuple[str, ...], text: str, key: str) -> None:
    with pytest.raises(CaseError) as told:
        laid((path, text))
    assert told.value.key == key


def test_a_document_keeps_its_comments_and_says_the_same() -> None:
    text = """# the line's story
[pipe]
size = "DN 50" # as ordered
schedule = "40"
material = "carbon steel"

[[tracer]]
name = "T1"
clock = 3.0 # moved twice
shape = "flat"
width = "12 mm"
height = "5 mm"
output = "15 W/m"

[[condition]]
name = "cold"
ambient = "-10 degC"
"""
    settings: list[Setting] = [
        (("tracer", "T1", "clock"), "4:30"),
        (("pipe", "schedule"), "80"),
        (("insulation", "layer", "1"), "{thickness = '30 mm', conductivity = '0.04 W/m/K'}"),
        (("sensor", "S1"), "{clock = 12}"),
        (("condition", "cold", "limits", "wall_min"), "1 degC"),
    ]
    document, raw = tomlkit.parse(text), tomlkit.parse(text).unwrap()
    lay(document, settings)
    lay(raw, settings)
    saved = tomlkit.dumps(document)
    assert tomlkit.parse(saved).unwrap() == raw
    for comment in ("# the line's story", "# as ordered", 'clock = "4:30" # moved twice'):
        assert comment in saved
    parse_case(raw)
