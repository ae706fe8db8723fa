"""Episodes, controls and freezing data that make no sense: one message each, with its key."""

from typing import Any

import pytest
from plain_lines import FLAT, line

from sim.case import CaseError, parse_case
from sim.case.notes import remarks

EPISODE = {"name": "E", "condition": "now", "lasts": "8 h"}
CONTROL = {"name": "C1", "sensor": "S1", "on_below": "8 degC", "off_above": "12 degC"}
BRINE = {
    "conductivity": "0.5 W/m/K",
    "density": "1100 kg/m3",
    "specific_heat": "3500 J/kg/K",
    "viscosity": "2 mPa*s",
    "expansion": "3e-4 1/K",
    "freezes_at": "-2 degC",
    "latent_heat": "250 kJ/kg",
    "frozen": {"conductivity": "2 W/m/K", "specific_heat": "2000 J/kg/K"},
}
SUN = {"absorptivity": 0.6, "irradiance": "300 W/m2", "clock": 2}


def case(**changes: Any) -> Any:
    raw = line(FLAT, outside={})
    raw["sensor"] = [{"name": "S1", "clock": 6}]
    raw["episode"] = changes.pop("episode", [EPISODE])
    raw |= {"control": changes.pop("control", [CONTROL])}
    raw["condition"][0] |= changes.pop("condition", {})
    raw["contents"] |= changes.pop("contents", {})
    assert not changes
    return parse_case(raw)


def episode(**more: Any) -> dict[str, Any]:
    return {"episode": [EPISODE | more]}


def change(**more: Any) -> dict[str, Any]:
    return episode(change=[{"at": "2 h"} | more])


E, C = 'episode[1] "E"', 'control[1] "C1"'
SPOILT: list[tuple[dict[str, Any], str, str]] = [
    (change(at="9 h", supply=0), f"{E}.change[1].at", "not within the episode"),
    (change(at="8 h", supply=0), f"{E}.change[1].at", "not within the episode"),
    (
        episode(change=[{"at": "2 h", "supply": 0}, {"at": "1 h", "supply": 1}]),
        f"{E}.change[2].at",
        "not after the change before it",
    ),
    (change(), f"{E}.change[1].at", "changes nothing"),
    (change(sun={k: v for k, v in SUN.items() if k != "clock"}), f"{E}.change[1].sun.clock", "missing"),
    ({"control": [{k: v for k, v in CONTROL.items() if k != "sensor"}]}, f"{C}.sensor", "missing"),
    ({"control": [CONTROL | {"sensor": "S9"}]}, f"{C}.sensor", "no sensor"),
    ({"control": [CONTROL | {"on_below": "13 degC"}]}, f"{C}.on_below", "is not below off_above"),
    ({"control": [CONTROL | {"on_below": "12 degC"}]}, f"{C}.on_below", "is not below off_above"),
    (
        {"control": [{"name": "C1", "sensor": "S1", "full_below": "13 degC", "off_above": "12 degC"}]},
        f"{C}.full_below",
        "is not below off_above",
    ),
    ({"control": [CONTROL | {"full_below": "2 degC"}]}, f"{C}.on_below", "exactly one of"),
    ({"control": [CONTROL | {"tracers": ["T7"]}]}, f"{C}.tracers", "no tracer"),
    (episode(control=["C9"]), f"{E}.control", "no control"),
    (
        {"control": [CONTROL, CONTROL | {"name": "C2"}], **episode(control=["C1", "C2"])},
        f"{E}.control",
        "is switched by",
    ),
    (episode(start="E"), f"{E}.start", "is the episode itself"),
    (episode(start="F"), f"{E}.start", "no earlier episode"),
    (episode(condition="then"), f"{E}.condition", "no condition"),
    (episode(support="P1"), f"{E}.support", "no support"),
    (episode(lasts="0 h"), f"{E}.lasts", "no time at all"),
    (episode(every="9 h"), f"{E}.every", "part of the episode"),
    (episode(weather_from="01-01 00:00"), f"{E}.weather_from", "without weather"),
    (episode(ambient={"at": [["1 h", "2 degC"], ["1 h", "3 degC"]]}), f"{E}.ambient.at", "not after the row"),
    (episode(ambient={"at": [["1 h"]]}), f"{E}.ambient.at", "row 1 is not a pair"),
    (episode(rain={"at": [["1 h", 0.5]]}), f"{E}.rain.at", "true or false"),
    (episode(sun={"absorptivity": 0.5, "irradiance": "9 W/m2"}), f"{E}.sun.clock", "missing"),
    (episode(sky={}), f"{E}.sky.temperature", "exactly one of"),
    (episode(sky={"temperature": "-40 degC", "cloud": 0.5}), f"{E}.sky.cloud", "does not belong beside temperature"),
    (episode(sky={"dew_point": "-5 degC"}), f"{E}.sky.dew_point", "above the ambient at 0"),
    (
        episode(sky={"dew_point": "-15 degC"}, ambient={"at": [["0 h", "0 degC"], ["4 h", "-20 degC"]]}),
        f"{E}.sky.dew_point",
        "above the ambient at 4",
    ),
    (change(sky={"dew_point": "-5 degC"}), f"{E}.change[1].sky.dew_point", "above the ambient at 2"),
    ({"condition": {"rain": True}, **episode(sun=SUN)}, f"{E}.sun", "no effect beside rain"),
    (episode(rain=True, sky={"temperature": "-40 degC"}), f"{E}.sky", "no effect beside rain"),
    (episode(contents_temperature="20 degC"), 'episode "E".contents_temperature', "has no effect"),
    (change(contents_temperature="20 degC"), 'episode "E".change[1].contents_temperature', "has no effect"),
    (
        {"contents": {"fluid": BRINE | {"frozen_share": {"at": [["-9 degC", 0.2], ["-5 degC", 0.4]]}}}},
        "contents.fluid.frozen_share",
        "rises with the temperature",
    ),
    (
        {"contents": {"fluid": BRINE | {"frozen_share": {"at": [["-5 degC", 0.2], ["-5 degC", 0.4]]}}}},
        "contents.fluid.frozen_share",
        "two shares at one temperature",
    ),
    ({"contents": {"fluid": BRINE | {"latent_heat": "-1 kJ/kg"}}}, "contents.fluid.latent_heat", "outside"),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "key", "words"), SPOILT)
def test_one_message_with_its_key(changes: dict[str, Any], key: str, words: str) -> None:
    with pytest.raises(CaseError, match=words) as caught:
        case(**changes)
    assert caught.value.key is not None
    assert caught.value.key.removeprefix("case.") == key
    assert not caught.value.others


def test_the_line_that_is_spoilt_is_sound() -> None:
    assert case(**episode(control=["C1"], sun=SUN, rain={"at": [["0 h", True], ["1 h", False]]})).episodes


def test_what_does_nothing_over_time_is_noted() -> None:
    """A control that no episode names, a wind beside a given film, a supply that no output depends on."""
    raw = line(FLAT)
    raw["sensor"] = [{"name": "S1", "clock": 6}]
    raw["control"] = [CONTROL]
    raw["episode"] = [EPISODE | {"wind": "3 m/s", "supply": 0.9}]
    notes = "; ".join(remarks(parse_case(raw))["now"])
    for key in ('control "C1".sensor', 'episode "E".wind', 'episode "E".supply'):
        assert f"{key} has no effect" in notes
    raw["episode"][0] |= {"control": ["C1"], "supply": {"at": [["0 h", 1], ["2 h", 0]]}}
    del raw["episode"][0]["wind"], raw["outside"]
    assert "has no effect" not in "; ".join(remarks(parse_case(raw))["now"])
