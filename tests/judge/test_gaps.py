"""The note on stirring air, and what makes a clock position matter."""

import copy

import pytest

from sim.case import case_for, parse_case
from sim.heat.network import network
from sim.judge.field_notes import gap_note
from sim.judge.reasons import asymmetries, reasons
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.solve.steady import solve

LINE = {
    "title": "invented",
    "pipe": {"size": "DN 80", "schedule": "40", "material": "carbon steel"},
    "contents": {"state": "empty", "film_coefficient": "0 W/m2/K"},
    "tracer": [
        {"name": "T1", "clock": 6, "shape": "flat", "width": "12 mm", "height": "5 mm", "output": "20 W/m"}
    ],
    "insulation": {"layer": [{"thickness": "40 mm", "conductivity": "0.04 W/m/K"}]},
    "outside": {"coefficient": "10 W/m2/K"},
    "condition": [{"name": "only", "ambient": "-10 degC"}],
}


def line(**changes):
    case = copy.deepcopy(LINE)
    for key, value in changes.items():
        case[key] = {**case[key], **value} if isinstance(case.get(key), dict) else value
    return case_for(parse_case(case, varied=True), "only")


def note(case):
    return gap_note(solve(network(case, plan_mesh(place(case), 1.0))))


def test_wide_air_gap_is_told_and_a_given_conductivity_is_not():
    bore = {"fit": "oversize", "bore": "125 mm"}
    messages = note(line(insulation=bore | {"void": {"filling": "air"}}))
    assert messages is not None
    assert "Rayleigh" in messages
    assert note(line(insulation=bore | {"void": {"conductivity": "0.03 W/m/K"}})) is None


def test_narrow_or_no_gap_is_silent():
    assert note(line()) is None
    assert note(line(insulation={"fit": "bridged"})) is None


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"insulation": {"fit": "oversize", "bore": "125 mm"}}, "hangs"),
        ({"contents": {"state": "still", "fill": 0.5}}, "partly filled"),
        ({"condition": [{"name": "only", "ambient": "-10 degC", "wind": "5 m/s", "wind_from": 3}]}, None),
    ],
)
def test_asymmetries(changes, word):
    """Wind from one side does not act where the outside coefficient is given."""
    computed = asymmetries(line(**changes))
    assert (computed == ()) if word is None else any(word in f for f in computed)
    assert asymmetries(line()) == ()


def test_reasons_name_what_the_simple_method_leaves_out():
    assert any("contact" in r for r in reasons(line()))
    assert any("hangs" in r for r in reasons(line(insulation={"fit": "oversize", "bore": "125 mm"})))
