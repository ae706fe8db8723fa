"""A whole case: every condition answered for, and what the exit code says."""

import io

import pytest
from plain_lines import FLAT, line

from sim.case import parse_case
from sim.judge import check as module
from sim.judge.check import Answer, check
from sim.report.results import results
from sim.report.terminal import show
from sim.solve.steady import NotConverged

CONDITIONS = [
    {"name": "cold", "ambient": "-20 degC"},
    {"name": "mild", "ambient": "5 degC", "contents": {"state": "mixed"}},
]


def answer(**changes: object) -> Answer:
    return check(parse_case(line(FLAT, condition=CONDITIONS, **changes)), fineness=1.2)


@pytest.mark.parametrize(
    ("limits", "verdict", "code"),
    [
        ({"contents_min": "-19 degC"}, "pass", 0),
        ({"contents_min": "150 degC"}, "fail", 1),
        ({}, "no limits", 0),
    ],
)
def test_verdict_and_exit_code(limits: dict, verdict: str, code: int) -> None:
    judged = answer(limits=limits)
    assert judged.verdict == verdict
    assert judged.exit_code == code
    assert [c.name for c in judged.conditions] == ["cold", "mild"]


def test_too_close_to_call_is_not_a_pass() -> None:
    cold = answer().conditions[0].result
    assert cold is not None
    celsius = cold.value("contents.min") - 273.15
    judged = answer(limits={"contents_min": f"{celsius:.6f} degC"})
    assert judged.conditions[0].verdict == "too close to call"
    assert judged.exit_code == 1


def test_one_condition_that_does_not_settle_fails_the_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    real = module.solve_section

    def stubborn(case, *rest, **named):  # type: ignore[no-untyped-def]
        if case.conditions[0].name == "cold":
            raise NotConverged("the heat balance did not settle: 3 W/m left")
        return real(case, *rest, **named)

    monkeypatch.setattr(module, "solve_section", stubborn)
    judged = answer(limits={"contents_min": "-19 degC"})
    assert judged.verdict == "not converged"
    assert judged.exit_code == 3
    failed, solved = judged.conditions
    assert failed.result is None
    assert "3 W/m left" in failed.failure
    assert failed.limits == ()
    assert failed.sensors == ()
    assert solved.verdict == "pass"


@pytest.mark.parametrize(
    "changes",
    [
        {"layer__wet": {"from_clock": 5.0, "to_clock": 7.0, "factor": 2.0}},
        {"insulation__fit": "oversize", "insulation__bore": "140 mm"},
        {"contents__fill": 0.4, "pipe__material": "HDPE"},  # a steel wall would hardly show it
    ],
)
def test_what_is_said_to_break_the_symmetry_does(changes: dict) -> None:
    """Turning the tracer changes the wall where the program says it may, here by more than 0.1 K."""
    wall = []
    for clock in (1.0, 6.0):
        raw = line(FLAT | {"clock": clock}, condition=CONDITIONS[:1], **changes)
        judged = check(parse_case(raw), fineness=1.2).conditions[0]
        assert judged.asymmetries
        assert judged.result is not None
        wall.append([judged.result.value(f"wall.{v}") for v in ("min", "max")])
    assert max(abs(a - b) for a, b in zip(*wall, strict=True)) > 0.1


def test_dry_layers_in_a_condition_are_dry_and_the_terminal_says_so() -> None:
    """Layers given as a list replace the case's wet ones: the loss falls to that of a dry line."""
    dry = {"thickness": "50 mm", "conductivity": "0.04 W/m/K"}
    wet = dry | {"wet": {"from_clock": 3, "to_clock": 9, "factor": 6}}
    cold = {"name": "wet", "ambient": "-20 degC"}
    conditions = [cold, cold | {"name": "dry", "insulation": {"layer": [dry]}}]
    raw = line(FLAT, insulation={"layer": [wet]}, condition=conditions)
    judged = check(parse_case(raw), fineness=1.2)
    never = check(parse_case(raw | {"insulation": {"layer": [dry]}}), fineness=1.2)
    walls = [c.result.value("wall.min") for c in (*judged.conditions, never.conditions[0]) if c.result]
    assert walls[1] == pytest.approx(walls[2], abs=1e-9)
    assert walls[1] > walls[0] + 5.0
    stream = io.StringIO()
    show(judged, stream)
    assert "dry changes insulation.layer[1].wet: from_clock 3" in stream.getvalue()
    assert results(judged)["conditions"]["dry"]["changes"] == list(judged.conditions[1].changes)
