"""Overrides: a list replaces the list, a table keyed by name or position changes entries; and what changed is named."""

import copy
from typing import Any

import pytest

from sim.case import Case, CaseError, case_for, parse_case, resolved, with_overrides
from sim.case.changes import changes
from sim.case.overrides import acts_under
from sim.study.edit import edited, path_of

ROUND = {"name": "R", "clock": 2.0, "shape": "round", "diameter": "6 mm", "output": "9 W/m"}
TABLE = [["0 degC", "30 W/m"], ["80 degC", "5 W/m"]]
WET = {"from_clock": 4, "to_clock": 8, "factor": 5}
SHOE = {"name": "B", "family": "clamp", "leg": {"clock": 12.0}}
RAW: dict[str, Any] = {
    "pipe": {"outer_diameter": "114.3 mm", "wall": "6 mm", "material": "carbon steel"},
    "tracer": [
        {"name": n, "clock": c, "shape": "flat", "width": "9 mm", "height": "4 mm", "output": {"at": TABLE}}
        for n, c in (("T1", 4.0), ("T2", 8.0))
    ],
    "insulation": {
        "layer": [
            {"material": "rock wool", "thickness": "40 mm", "wet": WET},
            {"conductivity": "0.05 W/m/K", "thickness": "20 mm"},
        ]
    },
    "sensor": [{"name": "S1", "clock": 12}, {"name": "S2", "clock": 6}],
    "support": [{"name": "A", "leg": {"film_coefficient": "9 W/m2/K"}}],
    "condition": [{"name": "now", "ambient": "-10 degC"}],
}


def in_condition(**overrides: Any) -> Case:
    raw = copy.deepcopy(RAW)
    raw["condition"][0] |= overrides
    return parse_case(raw)


def by_library(**overrides: Any) -> Case:
    return with_overrides(parse_case(RAW), overrides)


def by_study(**overrides: Any) -> Case:
    def flat(nested: dict[str, Any], before: str = "") -> list[tuple[tuple[str, ...], Any]]:
        gathered = []
        for key, value in nested.items():
            deep = isinstance(value, dict) and not before.endswith(("layer.1", "layer.2")) and key != "output"
            gathered += flat(value, f"{before}{key}.") if deep else [(path_of(before + key), value)]
        return gathered

    return parse_case(edited(RAW, flat(overrides)))


WAYS = {"condition": in_condition, "library": by_library, "study": by_study}
DRY = [{"material": "rock wool", "thickness": "40 mm"}]


def wet_of(case: Case) -> Any:
    return case.insulation.layers[0].wet


TABLED: list[tuple[dict[str, Any], Any, Any]] = [
    # overrides, what is read off the case, what it must be
    ({"insulation": {"layer": DRY}}, lambda c: [lay.wet for lay in c.insulation.layers], [None]),
    ({"insulation": {"layer": {"2": {"wet": WET}}}}, lambda c: [bool(x.wet) for x in c.insulation.layers], [1, 1]),
    (
        {"insulation": {"layer": {"1": {"wet": {"factor": 2}}}}},
        lambda c: (wet_of(c).factor, wet_of(c).to_clock),
        (2.0, 8.0),
    ),
    ({"insulation": {"layer": {"1": {"wet": {"conductivity": "0.2 W/m/K"}}}}}, lambda c: wet_of(c).factor, None),
    ({"insulation": {"void": {"conductivity": "1 W/m/K"}}}, lambda c: c.insulation.void.filling, None),
    ({"tracer": [ROUND]}, lambda c: [t.name for t in c.tracers], ["R"]),
    ({"tracer": {"T2": {"on": False}}}, lambda c: [t.on for t in c.tracers], [True, False]),
    ({"tracer": {"2": {"on": False}}}, lambda c: [t.on for t in c.tracers], [True, False]),
    (
        {"tracer": {"T1": {"output": {"at": [*TABLE[:1], ["50 degC", "1 W/m"]]}}}},
        lambda c: [t.output.powers for t in c.tracers],
        [(30.0, 1.0), (30.0, 5.0)],
    ),
    ({"tracer": []}, lambda c: c.tracers, ()),
    ({"sensor": [{"name": "S3", "clock": 3}]}, lambda c: [(s.name, s.clock) for s in c.sensors], [("S3", 3.0)]),
    ({"sensor": []}, lambda c: c.sensors, ()),
    ({"sensor": {"S2": {"clock": 5}}}, lambda c: [s.clock for s in c.sensors], [12.0, 5.0]),
    ({"support": []}, lambda c: c.supports, ()),
    ({"support": [SHOE]}, lambda c: [(s.name, s.leg.film_coefficient) for s in c.supports], [("B", None)]),
    (
        {"support": {"A": {"spacing": "4 m"}}},
        lambda c: [(s.spacing, s.leg.film_coefficient) for s in c.supports],
        [(4.0, 9.0)],
    ),
    ({"tracer": [], "support": [], "insulation": {"layer": []}}, lambda c: c.insulation.layers, ()),
]  # fmt: skip


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize(("overrides", "read", "expected"), TABLED)
def test_a_list_replaces_and_an_address_changes_one(
    way: str, overrides: Any, read: Any, expected: Any
) -> None:
    case = WAYS[way](**copy.deepcopy(overrides))
    read_back = read(case_for(case, "now"))
    assert read_back == expected
    assert parse_case(resolved(case)) == case


def test_an_override_is_not_beaten_by_what_the_case_gives_beside_it() -> None:
    """A material named in a condition brings its own properties, and a flow its own film."""
    raw = copy.deepcopy(RAW)
    raw["barrier"] = {"thickness": "1 mm", "conductivity": "20 W/m/K", "emissivity": 0.3}
    raw["contents"] = {"state": "flowing", "temperature": "40 degC", "film_coefficient": "50 W/m2/K"}
    raw["condition"][0] |= {
        "insulation": {"layer": {"2": {"material": "aerogel"}}},
        "barrier": {"material": "aluminium"},
        "contents": {"velocity": "1 m/s"},
    }
    case = case_for(parse_case(raw), "now")
    assert case.insulation.layers[1].conductivity != parse_case(raw).insulation.layers[1].conductivity
    assert case.barrier is not None
    assert (case.barrier.conductivity, case.barrier.emissivity) != (20.0, 0.3)
    assert case.contents.film_coefficient is None


def test_a_list_of_partial_tables_says_what_a_list_does() -> None:
    with pytest.raises(
        CaseError, match=r'tracer\[1\] "T1"\.\w+: is missing.*replaces the whole list.*tracer\.NAME\.KEY'
    ):
        in_condition(tracer=[{"name": "T1", "on": False}])
    with pytest.raises(CaseError, match=r"thickness: is missing.*insulation\.layer\.1\.KEY"):
        in_condition(insulation={"layer": [{"wet": WET}]})


def test_a_study_changes_an_entry_of_a_conditions_own_list() -> None:
    raw = copy.deepcopy(RAW)
    raw["condition"][0]["tracer"] = [ROUND]
    case = parse_case(edited(raw, [(path_of("condition.now.tracer.R.clock"), 3.0)]))
    assert [(t.name, t.clock) for t in case_for(case, "now").tracers] == [("R", 3.0)]
    with pytest.raises(CaseError, match="no such tracer"):
        edited(raw, [(path_of("condition.now.tracer.T1.clock"), 3.0)])


@pytest.mark.parametrize(
    ("overrides", "key", "acts"),
    [
        ({"tracer": [ROUND]}, "tracer.T1.clock", False),
        ({"tracer": {"T2": {"clock": 7.0}}}, "tracer.T1.clock", True),
        ({"tracer": {"T1": {"clock": 3.0}}}, "tracer.1.clock", False),
        ({"tracer": {"1": {"on": False}}}, "tracer.T1.clock", True),
        ({"tracer": {"T1": {"output": "5 W/m"}}}, "tracer.T1.output", False),
        ({"insulation": {"layer": DRY}}, "insulation.layer.2.thickness", False),
        ({"insulation": {"layer": {"2": {"material": "aerogel"}}}}, "insulation.layer.2.conductivity", False),
        ({"limits": {"wall_min": "5 degC"}}, "limits.wall_max", True),
    ],
)
def test_whether_a_studys_change_acts_under_a_condition(overrides: Any, key: str, acts: bool) -> None:
    assert acts_under(RAW, overrides, path_of(key)) is acts


def test_changes_are_named() -> None:
    case = in_condition(
        insulation={"layer": DRY},
        tracer={"T1": {"output": {"at": [["0 degC", "20 W/m"], ["80 degC", "5 W/m"]]}, "on": False}},
        sensor=[{"name": "S1", "clock": 12}],
        limits={"wall_min": "5 degC"},
    )
    assert set(changes(case, "now")) == {
        'tracer "T1".output: at a table of 2 rows, voltage_exponent 2 -> another at a table of 2 rows, voltage_exponent 2',  # noqa: E501
        'tracer "T1".on: true -> false',
        "insulation.layer[1].wet: from_clock 4, to_clock 8, factor 5 -> none",
        "insulation.layer[2]: taken out",
        'sensor "S2": taken out',
        "limits.wall_min: none -> 5 degC",
    }
    assert changes(parse_case(RAW), "now") == ()
    with pytest.raises(CaseError):
        changes(parse_case(RAW), "later")


def test_episodes_and_controls_are_no_change_of_a_condition() -> None:
    control = {"name": "C1", "sensor": "ambient", "on_below": "5 degC", "off_above": "8 degC"}
    episode = {"name": "night", "condition": "now", "lasts": "1 h", "control": ["C1"]}
    raw = copy.deepcopy(RAW) | {"control": [control], "episode": [episode]}
    raw["condition"][0]["limits"] = {"wall_min": "5 degC"}
    assert changes(parse_case(raw), "now") == ("limits.wall_min: none -> 5 degC",)


def test_every_change_of_a_condition_is_named() -> None:
    """Of the table above: no override leaves the case as it was without a word, or changes it without one."""
    for overrides, _, _ in TABLED:
        case = in_condition(**copy.deepcopy(overrides))
        assert changes(case, "now"), overrides


def test_a_spoilt_case_is_not_blamed_on_its_episodes() -> None:
    """A condition with overrides is looked at by itself: that an episode is of another one is no fault."""
    empty = {"name": "b", "ambient": "-20 degC", "contents": {"state": "empty"}}
    wide = {"name": "T", "clock": 3, "shape": "round", "diameter": "60 mm", "output": "9 W/m"}
    raw = RAW | {"tracer": [wide], "condition": [*RAW["condition"], empty]}
    raw |= {"episode": [{"name": "e", "condition": "now", "lasts": "1 h"}]}
    with pytest.raises(CaseError) as error:
        parse_case(raw)
    keys = [str(one.key) for one in (error.value, *error.value.others)]
    assert any("tracer" in key for key in keys)
    assert not any("episode" in key for key in keys)
