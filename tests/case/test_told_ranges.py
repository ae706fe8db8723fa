"""Ranges are told in the unit the user wrote; slips of kelvin for degC and names that nobody can read are refused."""

import copy
from collections.abc import Callable
from typing import Any

import pytest

from sim.case import CaseError, parse_case

FLAT_PAD = {"name": "P", "pad": {"arc": "361 deg"}}
C = "condition/0/ambient"
TOLD = [
    ("support", [FLAT_PAD], '"361 deg" is outside what is accepted: 0.57296 to 360 deg'),
    ("support", [{"name": "P", "pad": {"arc": "7 rad"}}], "0.01 to 6.2832 rad"),
    ("pipe/wall", "400 in", "3.937e-05 to 393.7 in"),
    ("condition/0/wind", "400 mph", "0 to 223.69 mph"),
    (C, "-400 degF", "-279.67 to 3140.3 degF"),
    (C, "4000 degC", "-173.15 to 1726.8 degC"),
    ("tracer/0/contact_conductance", "0 Btu/h/ft2/degF", "0.00017611 to 1.7611e+06 Btu/h/ft2/degF"),
    ("tracer/0/output", {"at": [["0 degC", "9 W/m"], ["9 degC", "1e9 W/ft"]]}, 'row 2: "1e9 W/ft" is outside'),
    ("tracer/0/output", {"at": [["0 degC", "9 W/m"], ["9 degC", "-1 W/ft"]]}, "0 to 30480 W/ft"),
    ("insulation/layer/0/conductivity", [["0 degC", "0 W/m/K"], ["9 degC", "1 W/m/K"]], 'row 1: "0 W/m/K" is out'),
    ("limits/contents_min", "5 K", '"5 K" is outside what is accepted: 100 to 2000 K; did you mean "5 degC"?'),
    ("limits/wall_max", "60 K", 'did you mean "60 degC"?'),
    (C, "20 K", 'did you mean "20 degC"?'),
    ("design/maintain", "10 K", 'did you mean "10 degC"?'),
]  # fmt: skip


@pytest.mark.parametrize(("place", "value", "words"), TOLD)
def test_a_range_is_told_in_the_users_own_unit(
    refusal: Callable[..., str], place: str, value: Any, words: str
) -> None:
    assert words in refusal(place, value)


@pytest.mark.parametrize(
    "law",
    [
        {"polynomial": [0.04, -1e-3], "range": ["0 degC", "100 degC"]},
        # 0.04 at both ends and at all whole degrees but one: the dip between is narrower than a hundredth of the range
        {"polynomial": [0.04 - 0.05, 0.0], "range": ["0 degC", "1 degC"]},
        {
            "polynomial": [200.0 * 50.55**2 - 0.001, -2 * 200.0 * 50.55, 200.0],
            "range": ["0 degC", "100 degC"],
        },
        [["0 degC", "0.04 W/m/K"], ["90 degC", "-0.01 W/m/K"]],
        "0 W/m/K",
    ],
)
@pytest.mark.parametrize("place", ["insulation/layer/0/conductivity", "pipe/material/conductivity"])
def test_a_conductivity_that_is_not_above_zero_is_refused_in_every_form(
    refusal: Callable[..., str], place: str, law: Any
) -> None:
    if place.startswith("pipe"):
        solid = {"conductivity": law, "density": "900 kg/m3", "specific_heat": "900 J/kg/K"}
        message = refusal("pipe/material", solid)
    else:
        message = refusal(place, law)
    assert "is outside what is accepted" in message
    assert "conductivity" in message


@pytest.mark.parametrize(
    "name",
    ["\u200b", "\u200b\u2060", "T\u200b1", "\u3164", "\u2800", "\ufeffT1", "\u00ad", "\U000e0041", "\u115f"],
)
@pytest.mark.parametrize("table", ["tracer", "sensor", "condition"])
def test_a_name_that_is_not_seen_is_refused(refusal: Callable[..., str], table: str, name: str) -> None:
    message = refusal(f"{table}/0/name", name)
    assert "cannot be a name" in message or "is empty" in message


def test_two_names_that_look_alike_are_one_name(plastic: dict[str, Any]) -> None:
    raw = copy.deepcopy(plastic)
    for other in ("t1", "T1\u200d", "T1\ufe0f"):
        raw["tracer"][1]["name"] = other
        with pytest.raises(CaseError, match=r"is the name of tracer\[1\] already"):
            parse_case({key: value for key, value in raw.items() if key != "condition"} | CONDITION)


CONDITION = {"condition": [{"name": "now", "ambient": "0 degC"}]}


def test_words_that_are_written_with_joiners_are_names(plastic: dict[str, Any]) -> None:
    raw = copy.deepcopy(plastic)
    for name in ("\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645", "\u0915\u094d\u200d\u0937", "S 1"):
        raw["sensor"][0]["name"] = name
        assert parse_case(raw).sensors[0].name == name
