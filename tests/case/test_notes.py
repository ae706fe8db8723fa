"""What is out of the common is remarked on, and nothing else; flanges by size and class; names that stand for more."""

import copy
from itertools import pairwise
from typing import Any

import pytest
from plain_lines import FLAT, line

from sim.case import CaseError, assumptions, case_for, load_case, parse_case, resolved
from sim.case.catalogue.flanges import FLANGES, SOURCE, flange
from sim.case.notes import remarks

RISING = {"at": [["0 degC", "20 W/m"], ["20 degC", "12 W/m"], ["40 degC", "15 W/m"], ["60 degC", "0 W/m"]]}
FALLING = {"at": [["0 degC", "20 W/m"], ["20 degC", "12 W/m"], ["40 degC", "12 W/m"]]}
PAD = {"name": "P", "family": "clamp", "leg": {"clock": 12}, "pad": {"length": "50 mm"}}
ODD = [
    (line(FLAT | {"output": RISING}), "rises from 20 to 40 degC"),
    (line(FLAT, foil__thickness="6 mm"), "a foil of 6 mm is a plate"),
    (line(FLAT, support=[PAD | {"allowance": "0.9 m"}]), "18 runs side by side: 216 mm wide on a circumference of 359"),
    (line(FLAT, barrier={"thickness": "12 mm", "conductivity": "0.2 W/m/K"}), "a barrier of 12 mm"),
    (line(FLAT, contents={"fluid": "brine"}), 'contents.fluid "brine" stands for calcium chloride brine 25 %'),
    (line(FLAT, pipe__material="PE"), 'pipe.material "PE" stands for HDPE'),
    (line(FLAT, support=[PAD | {"pad": {"material": "FRP"}}]), 'support[1].pad.material "FRP" stands for GRP'),
    (line(FLAT, layer__thickness="50 mm"), ""),
    (line(FLAT | {"output": FALLING}), ""),
    (line(FLAT, foil__thickness="0.1 mm"), ""),
    (line(FLAT, support=[PAD | {"allowance": "0.1 m"}]), ""),
    (line(FLAT, contents={"fluid": "Calcium chloride brine 25 %"}), ""),
    (line(FLAT, pipe__material="carbon steel", contents={}), ""),
]  # fmt: skip


@pytest.mark.parametrize(("raw", "words"), ODD)
def test_what_is_out_of_the_common_is_remarked_on(raw: dict[str, Any], words: str) -> None:
    raw = copy.deepcopy(raw)
    raw["contents"].pop("gas", None)
    notes = remarks(parse_case(raw))["now"]
    assert len(notes) == bool(words)
    assert all(words in sentence for sentence in notes)


def test_a_condition_is_remarked_on_alone() -> None:
    raw = line(FLAT, foil__thickness="0.1 mm", contents={})
    raw["condition"] = [
        {"name": "a", "ambient": "0 degC"},
        {"name": "b", "ambient": "0 degC", "foil": {"thickness": "6 mm"}},
    ]
    assert [len(text) for text in remarks(parse_case(raw)).values()] == [0, 1]


def test_shipped_cases_hold_nothing_out_of_the_common(cases: list[Any]) -> None:
    for path in cases:
        assert not any(remarks(load_case(path)).values()), path


def flanged(size: str = "DN 50", **keys: Any) -> dict[str, Any]:
    support = {"name": "F", "family": "flange"} | keys
    pipe = {"size": size, "schedule": "40", "material": "carbon steel"}
    return line(FLAT, pipe=pipe, layer__thickness="150 mm", support=[support])


def test_a_flange_pair_has_the_size_of_its_class() -> None:
    case = parse_case(flanged(flange_class=150))
    pad = case.supports[0].pad
    assert pad is not None
    assert case.pipe.outer_diameter + 2 * pad.thickness == pytest.approx(0.150)
    assert pad.length == pytest.approx(2 * 0.0175)
    assert case.supports[0].allowance_over == pad.length
    rows = {key: source for key, _, source in assumptions(case)}
    assert rows['support[1] "F".pad.thickness'] == rows['support[1] "F".pad.length'] == SOURCE
    assert parse_case(resolved(case)) == case
    heavy = parse_case(flanged(flange_class="300")).supports[0].pad
    assert heavy is not None
    assert heavy.thickness > pad.thickness
    assert heavy.length > pad.length


def test_what_is_given_of_a_flange_stays_given_and_conditions_may_change_the_class() -> None:
    case = parse_case(flanged(flange_class=150, pad={"length": "70 mm"}))
    assert case.supports[0].pad is not None
    assert case.supports[0].pad.length == pytest.approx(0.07)
    raw = flanged(flange_class=150)
    raw["condition"][0]["support"] = {"F": {"flange_class": 300}}
    changed = case_for(parse_case(raw), "now").supports[0].pad
    assert changed is not None
    assert changed.length == pytest.approx(2 * 0.0207)


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (
            flanged("DN 90", flange_class=150),
            r'support\[1\] "F"\.flange_class: "DN 90" is not tabled; accepted: NPS 1, NPS 1.25',
        ),
        (flanged(flange_class=600), "flange_class: .*150"),
        (flanged(flange_class=150, family="shoe"), 'flange_class: belongs to family = "flange"'),
        (line(FLAT, support=[{"name": "F", "family": "flange", "flange_class": 150}]), "needs pipe.size"),
    ],
)
def test_a_class_that_has_no_size_is_refused(raw: dict[str, Any], words: str) -> None:
    with pytest.raises(CaseError, match=words):
        parse_case(raw)


def test_flanges_grow_with_size_and_class() -> None:
    for sizes in FLANGES.values():
        rows = [sizes[nps] for nps in sorted(sizes)]
        assert all(a[0] < b[0] and a[1] <= b[1] for a, b in pairwise(rows))
    for nps in FLANGES["300"]:
        low, high = flange(nps, "150"), flange(nps, "300")
        assert low is not None
        assert high is not None
        assert low[0] < high[0]
        assert low[1] < high[1]
