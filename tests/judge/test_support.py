"""Supports judged: the rule of common practice, the safe side of each limit, the allowance against what is enough."""

import math
from types import SimpleNamespace

import pytest
from plain_lines import FLAT, mesh
from plain_lines import line as plain_line
from support_lines import line, narrowed

from sim.case import parse_case
from sim.judge import check as check_module
from sim.judge import support as module
from sim.judge.check import check
from sim.judge.support import check_support, judge_support, refuse_large
from sim.report.worst import headline
from sim.solve.convergence import Banded


def banded(value: float, band: float = 0.2) -> Banded:
    return Banded(value, band, (value, value, value), 2.0, value, True)


def made_up(values: dict[str, float], limits: dict[str, str], installed: bool) -> SimpleNamespace:
    """A support's result with made-up numbers (K, m) and the limits of a real case."""
    case = narrowed({"allowance": "0.5 m"} if installed else None, limits=limits)
    return SimpleNamespace(
        case=case,
        support=case.supports[0],
        installed=object() if installed else None,
        unreachable={},
        less_output={},
        bracketed=False,
        mesh=mesh(plain_line(FLAT), 1.0),
        quantities={path: banded(value) for path, value in values.items()},
    )


def test_as_built_decides_and_the_tracer_alone_is_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without its allowance the wall is too cold, with it too warm: the second is what is built."""
    alone = {"wall_min": 280.0, "wall_max": 300.0}
    built = {"with_allowance.wall_min": 290.0, "with_allowance.wall_max": 341.0}
    result = made_up(alone | built, {"wall_min": "12 degC", "wall_max": "63 degC"}, True)
    result.quantities["allowance_enough"] = banded(0.2)
    monkeypatch.setattr(module, "solve_support", lambda *rest, **named: result)
    judged = judge_support(result.case, result.support, None)
    assert {c.limit: c.verdict for c in judged.limits} == {"wall_min": "pass", "wall_max": "fail"}
    assert {c.limit: c.verdict for c in judged.without} == {"wall_min": "fail", "wall_max": "pass"}
    assert judged.verdict == "fail"


def test_no_pass_is_built_on_a_bracket() -> None:
    limits = {"wall_min": "0 degC", "wall_max": "60 degC"}
    result = made_up({"wall_min": 300.0, "wall_max": 400.0}, limits, False)
    result.bracketed = True
    verdicts = [c.verdict for c in check_support(result, False)]  # type: ignore[arg-type]
    assert verdicts == ["too close to call", "fail"]


@pytest.mark.parametrize(("enough", "verdict"), [(0.2, "pass"), (0.9, "fail"), (0.45, "too close to call")])
def test_allowance_against_what_is_just_enough(
    monkeypatch: pytest.MonkeyPatch, enough: float, verdict: str
) -> None:
    values = {"wall_min": 300.0, "with_allowance.wall_min": 300.0, "allowance_enough": enough}
    result = made_up(values, {}, True)
    monkeypatch.setattr(module, "solve_support", lambda *rest, **named: result)
    assert judge_support(result.case, result.support, None).allowance_verdict == verdict


def test_an_allowance_that_cannot_be_reached_is_not_close(monkeypatch: pytest.MonkeyPatch) -> None:
    result = made_up({"wall_min": 300.0, "with_allowance.wall_min": 300.0}, {}, True)
    result.quantities["allowance_enough"] = banded(math.inf, 0.0)
    result.unreachable["allowance_enough"] = "no tracer is on"
    monkeypatch.setattr(module, "solve_support", lambda *rest, **named: result)
    judged = judge_support(result.case, result.support, None)
    assert judged.allowance_verdict == "not reachable"
    assert judged.result.unreachable["allowance_enough"] == "no tracer is on"
    result.quantities["allowance_enough"] = banded(0.2, math.inf)  # reached on one mesh, not on another
    assert judge_support(result.case, result.support, None).allowance_verdict == "too close to call"


def test_a_support_that_fails_fails_the_case(monkeypatch: pytest.MonkeyPatch) -> None:
    failing = SimpleNamespace(verdict="fail", result=None)
    monkeypatch.setattr(check_module, "judge_support", lambda *rest, **named: failing)
    answer = check(narrowed(limits={"wall_min": "-50 degC"}), fineness=1.0)
    assert answer.conditions[0].verdict == "pass"
    assert (answer.verdict, answer.exit_code) == ("fail", 1)


def test_a_support_that_cannot_be_meshed_is_not_evaluated_and_the_rest_is() -> None:
    """Two round tracers under one bridged shell on a large pipe, too near each other for the coarsest mesh."""
    round_ = {"clock": 6, "shape": "round", "diameter": "9 mm", "contact_width": "1 mm", "output": "25 W/m"}
    raw = line({"family": "cradle"}, tracer=[round_ | {"name": "T1"}, round_ | {"name": "T2", "clock": 4}])
    raw["pipe"] = {"size": "DN 300", "schedule": "40", "material": "carbon steel"}
    raw["insulation"] = raw["insulation"] | {"fit": "bridged"}
    near = {"name": "near", "condition": "a", "support": "S1", "lasts": "1 h"}
    judged = check(parse_case(raw | {"limits": {"wall_min": "-30 degC"}, "episode": [near]}), fineness=1.0)
    (support,), (episode,), (section,) = judged.supports, judged.episodes, judged.conditions
    assert section.verdict == "pass"
    assert support.verdict == episode.verdict == judged.verdict == "not evaluated"
    assert support.trouble.startswith('could not be meshed: support[1] "S1": tracer[2] "T2": its mesh')
    assert "accepted: a greater fineness" in support.trouble
    assert judged.exit_code == 1
    assert any("could not be meshed" in text for text in headline(judged))
    refuse_large(judged.case, 0.25)
