"""results.json: the paths that others read, units, strictness."""

import json
from collections.abc import Callable
from typing import Any

import pytest

from sim.case import parse_case
from sim.judge.check import Answer, check
from sim.report.output import three_meshes
from sim.report.results import as_json, results

Small = Callable[..., dict[str, Any]]


def strict(text: str) -> Any:
    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is not JSON")

    return json.loads(text, parse_constant=refuse)


@pytest.fixture(scope="module")
def tree(answer: Answer) -> Any:
    return strict(as_json(results(answer)))


def test_paths_that_others_read(tree: Any) -> None:
    cold = tree["conditions"]["cold"]
    for part in ("contents", "wall", "barrier"):
        assert cold[part]["min"] <= cold[part]["mean"] <= cold[part]["max"]
        assert set(cold["band"][part]) >= {"min", "mean", "max"}
    assert 0 <= cold["wall"]["min_clock"] < 12
    assert 0 <= cold["contents"]["min_clock"] < 12
    tracer = cold["tracers"]["T.1"]
    assert tracer["sheath_max"] > tracer["mean"] > cold["wall"]["max"] - 1
    assert tracer["output"] == pytest.approx(15.0)
    assert cold["band"]["tracers"]["T.1"]["sheath_max"] >= 0
    assert cold["heat_in"] == pytest.approx(cold["heat_out"], rel=1e-6)
    assert cold["closure"] < 1e-6
    assert cold["sensors"]["S.1"]["reading"] == pytest.approx(cold["wall"]["mean"], abs=5)
    assert cold["sensors"]["S.1"]["keeps_distance"] is True
    assert cold["sensors"]["S2"]["keeps_distance"] is False
    assert cold["simplified"]["heat_loss"] > 0
    assert cold["simplified"]["sheath"] == cold["simplified"]["sheath_by_tracer"]["T.1"]
    assert tree["verdict"] == cold["verdict"] == "pass"
    assert tree["version"]
    assert tree["units"]["temperature"] == "degC"
    assert tree["units"]["tracers.<name>.sheath_max"] == "degC"
    assert tree["units"]["contents.rayleigh"] == "dimensionless"
    assert tree["units"]["supports.<name>.dip"] == "K"


def test_values_are_the_fields_in_celsius(answer: Answer, tree: Any) -> None:
    assert answer.conditions[0].result is not None
    values = answer.conditions[0].result.quantities
    cold = tree["conditions"]["cold"]
    assert cold["wall"]["min"] == pytest.approx(values["wall.min"].value - 273.15)
    assert cold["band"]["wall"]["min"] == pytest.approx(values["wall.min"].band)
    assert cold["heat_out"] == pytest.approx(values["heat_out"].value)


def test_limit_margins(tree: Any) -> None:
    by_name = {row["limit"]: row for row in tree["conditions"]["cold"]["limits"]}
    assert by_name["contents_min"]["margin"] == pytest.approx(by_name["contents_min"]["value"] - 5)
    assert by_name["sheath_max"]["margin"] == pytest.approx(150 - by_name["sheath_max"]["value"])


def test_adiabatic_bore_has_no_contents_temperature(small: Small) -> None:
    case = parse_case(small(contents={"state": "mixed", "film_coefficient": "0 W/m2/K"}))
    tree = strict(as_json(results(check(case, fineness=1.0))))
    contents = tree["conditions"]["cold"]["contents"]
    assert contents["min"] is None
    assert contents["mean"] is None
    assert tree["verdict"] == "not evaluated"


def test_three_mesh_table_has_every_quantity(answer: Answer) -> None:
    lines = three_meshes(answer).splitlines()
    assert answer.conditions[0].result is not None
    assert len(lines) == 1 + len(answer.conditions[0].result.quantities)
    assert lines[0].startswith("condition,quantity,unit,coarse,middle,fine,order,extrapolated,band")
