"""Keys that are given and do nothing: refused where they surely were meant to, else noted; and no others."""

import copy
from typing import Any

import numpy as np
import pytest
from plain_lines import FLAT, GAS, LIQUID, ROUND, STORE, line

from sim.case import CaseError, case_for, key_table, load_case, parse_case, resolved, with_overrides
from sim.case.notes import remarks
from sim.case.silent import RULES
from sim.heat.network import network
from sim.judge.simplified import simplified
from sim.solve.quantities import quantities
from sim.solve.steady import solve

SHEET = {"thickness": "1 mm", "conductivity": "20 W/m/K"}
WINDY = {"name": "now", "ambient": "-10 degC", "wind": "4 m/s"}
FLOW = {"state": "flowing", "fluid": LIQUID, "gas": GAS, "temperature": "30 degC"}
STATES: dict[str, dict[str, Any]] = {
    "still": line(FLAT, barrier=SHEET),
    "still, half": line(FLAT, contents__fill=0.5),
    "mixed, half, weather": line(
        ROUND, contents__state="mixed", contents__fill=0.5, outside={}, condition=[WINDY]
    ),
    "empty": line(FLAT, contents__state="empty", outside={}, barrier=SHEET),
    "flowing": line(ROUND, contents=FLOW | {"velocity": "0.5 m/s"}),
    "flowing, film": line(FLAT, contents=FLOW | {"film_coefficient": "80 W/m2/K"}),
    "bridged, no tracer": line(contents=FLOW | {"velocity": "1 m/s"}, insulation__fit="bridged"),
    "bridged": line(ROUND, insulation__fit="bridged"),
    "lifted": line(ROUND | {"standoff": "2 mm"}),
    "compound": line(FLAT, insulation__fit="bridged", insulation__void={"conductivity": "1 W/m/K"}),
    "hanging": line(FLAT, insulation__fit="oversize", insulation__bore="135 mm"),
    "low": line(FLAT | {"output": {"power": "20 W/m"}}, condition__output="low", condition__supply=0.9),
    "tolerance": line(FLAT | {"tolerance": 0.1}),
}
# Two values of a key, neither its default: (path, one, other).
VARIED: list[tuple[str, Any, Any]] = [
    ("contents.fluid", LIQUID | {"conductivity": "0.3 W/m/K"}, LIQUID | {"conductivity": "0.5 W/m/K"}),
    ("contents.gas", GAS | {"conductivity": "0.02 W/m/K"}, GAS | {"conductivity": "0.05 W/m/K"}),
    ("contents.fill", 0.3, 0.4),
    ("contents.temperature", "10 degC", "20 degC"),
    ("contents.velocity", "1 m/s", "2 m/s"),
    ("contents.film_coefficient", "50 W/m2/K", "70 W/m2/K"),
    ("contents.emissivity", 0.3, 0.5),
    ("tracer.1.tolerance", 0.1, 0.2),
    ("tracer.1.output.voltage_exponent", 1.0, 1.5),
    ("tracer.1.contact_width", "1 mm", "1.5 mm"),
    ("tracer.1.contact_conductance", "50 W/m2/K", "90 W/m2/K"),
    ("insulation.fit", "snug", "bridged"),
    ("insulation.void.emissivity", 0.3, 0.5),
    ("insulation.void.conductivity", "0.5 W/m/K", "2 W/m/K"),
    ("barrier.emissivity", 0.2, 0.5),
    ("outside.emissivity", 0.2, 0.5),
    ("condition.1.wind", "2 m/s", "8 m/s"),
    ("condition.1.wind_from", 3.0, 6.0),
    ("condition.1.supply", 0.8, 0.9),
    ("condition.1.output", "low", "high"),
    ("foil.thickness", "0.1 mm", "0.2 mm"),
]


def changed(raw: dict[str, Any], path: str, value: Any) -> dict[str, Any] | None:
    """The raw case with one key set; None where it has no place for it."""
    raw = copy.deepcopy(raw)
    *steps, last = path.split(".")
    inner: Any = raw
    for step in steps:
        if isinstance(inner, list):
            if int(step) > len(inner):
                return None
            inner = inner[int(step) - 1]
        elif step in ("void", "foil", "outside", "contents") or step in inner:
            inner = inner.setdefault(step, {})
            if isinstance(inner, str):
                return None
        else:
            return None
    inner[last] = value
    if path == "insulation.void.conductivity":
        inner.pop("filling", None)
    return raw


def numbers(raw: dict[str, Any]) -> list[float]:
    """Everything the section and the one-line method say of the only condition."""
    case = case_for(parse_case(raw, varied=True), "now")
    solution = solve(network(case, STORE.get(case, 0.75)))
    design = simplified(case)
    sheath = [t for t in design.sheath.values() if t is not None]
    values = [*quantities(solution).values(), design.heat_loss, design.pipe_temperature, *sheath]
    return [0.0 if np.isnan(v) else float(v) for v in values]


def acts_and_is_said(state: str, path: str) -> tuple[bool, bool] | None:
    """Whether two values of a key differ in any answer, and whether the key is refused or noted; None if invalid."""
    _, one, other = next(entry for entry in VARIED if entry[0] == path)
    both = [changed(STATES[state], path, value) for value in (one, other)]
    if None in both:
        return None
    try:
        for raw in both:
            parse_case(raw, varied=True)  # type: ignore[arg-type]
    except CaseError:
        return None
    first, second = (numbers(raw) for raw in both)  # type: ignore[arg-type]
    acts = len(first) != len(second) or bool(np.abs(np.subtract(first, second)).max() > 1e-9)
    key = path.replace("condition.1", 'condition "now"').replace("tracer.1", 'tracer "T1"')
    try:
        notes = remarks(parse_case(both[1]))["now"]  # type: ignore[arg-type]
    except CaseError as error:
        return acts, "has no effect" in str(error)
    table = key.rsplit(".", 1)[0]
    return acts, any(note.startswith((f"{key} has no effect", f"{table} has no effect")) for note in notes)


QUICK = ("mixed, half, weather", "flowing, film", "lifted", "low")


@pytest.mark.parametrize(
    "state", [s if s in QUICK else pytest.param(s, marks=pytest.mark.slow) for s in STATES]
)
def test_a_key_is_said_to_do_nothing_where_it_changes_nothing(state: str) -> None:
    tried = {path: acts_and_is_said(state, path) for path, *_ in VARIED}
    assert sum(computed is not None for computed in tried.values()) > 8
    if state == "empty":  # the level of an empty bore is still drawn into the mesh
        del tried["contents.fill"]
    wrong = {
        path: computed
        for path, computed in tried.items()
        if computed is not None and computed[0] == computed[1]
    }
    assert not wrong, "(acts, is said to do nothing)"


def test_the_rules_are_about_keys_of_the_schema() -> None:
    known = {key.replace("[]", "") for key, *_ in key_table()}
    assert {rule.key for rule in RULES} <= known


REFUSED = [
    (line(FLAT, contents__temperature="40 degC"), "contents.temperature"),
    (line(FLAT, contents__velocity="1 m/s"), "contents.velocity"),
    (line(FLAT, contents__film_coefficient="50 W/m2/K"), "contents.film_coefficient"),
    (line(limits__sheath_max="90 degC"), "limits.sheath_max"),
    (line(foil__thickness="0.1 mm"), "foil"),
    (line(FLAT, condition__contents={"velocity": "1 m/s"}), 'condition "now".contents.velocity'),
]


@pytest.mark.parametrize(("raw", "key"), REFUSED)
def test_what_was_surely_meant_to_act_is_refused(raw: dict[str, Any], key: str) -> None:
    with pytest.raises(CaseError, match="has no effect: it acts only") as caught:
        parse_case(raw)
    assert caught.value.key == key


def test_a_key_that_acts_in_one_condition_is_let_through_and_studies_may_take_it_away() -> None:
    flows = {"name": "flows", "ambient": "0 degC", "contents": {"state": "flowing"}}
    raw = line(
        FLAT, contents__temperature="40 degC", contents__velocity="1 m/s", limits__sheath_max="90 degC"
    )
    raw["condition"] = [{"name": "stands", "ambient": "0 degC", "tracer": []}, flows]
    del raw["contents"]["gas"]
    case = parse_case(raw)
    assert remarks(case) == {"stands": (), "flows": ()}
    still = with_overrides(case, {"condition": [{"name": "stands", "ambient": "0 degC"}]})
    assert remarks(still)["stands"][0].startswith("contents.temperature has no effect")


def test_a_key_set_in_a_condition_is_noted_there_alone() -> None:
    raw = line(FLAT | {"tolerance": 0.1}, outside={}, contents={})
    raw["condition"] = [
        {"name": "a", "ambient": "0 degC", "output": "low", "wind": "2 m/s", "supply": 0.9},
        {"name": "b", "ambient": "0 degC", "wind": "2 m/s", "outside": {"coefficient": "9 W/m2/K"}},
    ]
    notes = remarks(parse_case(raw))
    assert [note.split(" has")[0] for note in notes["a"]] == ['condition "a".supply']
    assert [note.split(" has")[0] for note in notes["b"]] == ['condition "b".wind']


def test_a_case_written_out_with_every_default_gets_no_remark(cases: list[Any]) -> None:
    for path in cases:
        case = load_case(path)
        assert remarks(parse_case(resolved(case), str(path))) == remarks(case), path


def test_sheets_can_be_taken_out_in_a_condition() -> None:
    wet = {"from_clock": 4, "to_clock": 8, "factor": 5}
    raw = line(FLAT, barrier=SHEET, foil__thickness="0.1 mm", layer__wet=wet)
    raw["condition"][0] |= {"barrier": False, "foil": False, "insulation": {"layer": {"1": {"wet": False}}}}
    case = case_for(parse_case(raw), "now")
    assert (case.barrier, case.foil, case.insulation.layers[0].wet) == (None, None, None)
    bare = line(FLAT, barrier=SHEET, foil__thickness="0.1 mm")
    bare["condition"].append(
        {"name": "bare", "ambient": "0 degC", "tracer": [], "barrier": False, "insulation": {"layer": []}}
    )
    assert numbers(bare | {"condition": [bare["condition"][1] | {"name": "now"}]})


def test_lumped_contents_act_over_time() -> None:
    """The fluid of mixed contents does nothing in a steady state; in an episode it stores heat."""
    raw = line(FLAT, contents={"state": "mixed", "fluid": "ethylene glycol", "film_coefficient": "80 W/m2/K"})
    episode = {"name": "cut", "condition": raw["condition"][0]["name"], "lasts": "1 h"}
    cases = [parse_case(r) for r in (raw, raw | {"episode": [episode]})]
    values = [any("contents.fluid" in note for notes in remarks(c).values() for note in notes) for c in cases]
    assert values == [True, False]
