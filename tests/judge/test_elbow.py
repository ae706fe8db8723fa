"""The bend as an answer: outside against inside, both against straight pipe, its limits, and what a radian is."""

from functools import cache
from math import pi
from typing import Any

import pytest
from support_lines import line

from sim.case import case_for, parse_case
from sim.judge.check import Answer, check
from sim.judge.elbow import ElbowAnswer, judge_elbow
from sim.report.results import results
from sim.report.worst import all_checks
from sim.solve.at_rest import MeshStore
from sim.solve.paths import quantity

RADIUS = 0.1524


def raw(**changes: Any) -> dict[str, Any]:
    changes = {
        "elbow": {"radius": "1.5 D"},
        "limits": {"wall_min": "5 degC", "sheath_max": "200 degC"},
    } | changes
    return {key: value for key, value in line(**changes).items() if key != "support"}


@cache
def checked() -> Answer:
    return check(parse_case(raw()), fineness=1.0)


def elbow() -> ElbowAnswer:
    return checked().elbows[0]


def test_outside_is_warmer_than_straight_and_straight_than_inside() -> None:
    bend = elbow()
    assert bend.straight is not None
    straight = bend.straight.quantities
    for path in ("contents.min", "wall.min", "tracers.T1.sheath_max", "per_radian.heat_out"):
        outside, inside = (
            bend.quantities[f"{side}.{path}"].value for side in ("tracers_outside", "tracers_inside")
        )
        between = RADIUS * straight["heat_out"].value if path.startswith("per") else straight[path].value
        assert outside > between > inside


def test_a_radian_loses_what_its_tracer_gives() -> None:
    bend = elbow().quantities
    x = (bend["per_radian.tracer.T1"].value - RADIUS) / 1.0
    assert 0.1143 / 2 < x < 0.1143 / 2 + 0.005  # the centroid of a flat body on the pipe
    assert bend["per_radian.heat_out"].value == pytest.approx(25.0 * (RADIUS + x), rel=1e-6)
    assert bend["per_radian.heat_out"].value == pytest.approx(RADIUS * bend["heat_out"].value, rel=1e-12)
    assert bend["tracers.T1.output"].value == 25.0


def test_the_limits_hold_in_the_bend_and_count() -> None:
    checked_limits = [one for one in all_checks(checked()) if one.place == "elbow"]
    assert {one.check.limit for one in checked_limits} == {"wall_min", "sheath_max"}
    assert all(one.check.inputs for one in checked_limits)
    sheath = elbow().quantities["tracers.T1.sheath_max"].value
    straight = elbow().straight
    assert straight is not None
    between = 0.5 * (sheath + straight.value("tracers.T1.sheath_max"))
    answer = check(parse_case(raw(limits={"sheath_max": f"{between!r} K"})), fineness=1.0)
    assert answer.conditions[0].verdict == "pass"
    assert answer.verdict == answer.elbows[0].verdict == "fail"


def test_results_have_every_number_where_its_path_says() -> None:
    tree = results(checked())["elbow"]
    assert (tree["radius"], tree["outside"]) == (pytest.approx(RADIUS), 3.0)
    entry = tree["conditions"]["a"]
    for path, bend in elbow().quantities.items():
        row = quantity(f"elbow.{path}")
        value: Any = entry
        for key in row.keys[1:]:
            value = value[key]
        assert value == pytest.approx(row.measure.shown(bend.value), nan_ok=True) or value is None
        assert "in the elbow" in row.words


def test_a_bend_without_tracers_has_no_sides() -> None:
    bare = raw(
        tracer=[],
        contents={"state": "flowing", "temperature": "60 degC", "film_coefficient": "500 W/m2/K"},
        limits={},
    )
    case = parse_case(bare)
    bend = judge_elbow(case_for(case, "a"), None, MeshStore(), 1.0)
    assert bend.sides == {}
    assert bend.verdict == "no limits"


def test_contents_that_move_are_a_bracket_without_a_pass() -> None:
    case = parse_case(raw(contents={"state": "buoyant", "fluid": "water"}))
    bend = judge_elbow(case_for(case, "a"), None, MeshStore(), 0.7, sides=False, inputs=False)
    assert bend.result is not None
    assert bend.result.bracketed
    assert all(one.verdict != "pass" for one in bend.limits)
    assert any("not resolved in a bend" in note for note in bend.notes)


def test_the_inside_of_a_tracer_is_the_outside_of_the_bend_turned_round() -> None:
    turned = judge_elbow(
        case_for(parse_case(raw(elbow={"radius": "1.5 D", "outside": 9})), "a"),
        None,
        MeshStore(),
        1.0,
        sides=False,
    )
    assert turned.result is not None
    inside = elbow().sides["tracers_inside"].result
    assert inside is not None
    assert turned.result.value("wall.mean") == pytest.approx(inside.value("wall.mean"), abs=0.02)
    assert turned.radius * pi / 2 == pytest.approx(0.2394, abs=1e-4)
