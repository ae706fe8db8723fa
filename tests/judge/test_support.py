"""Supports judged: the rule of common practice, the safe side of each limit, the allowance against what is enough."""

import math
from types import SimpleNamespace

import pytest
from support_lines import narrowed

from sim.judge import check as check_module
from sim.judge import support as module
from sim.judge.check import check
from sim.judge.support import check_support, common_practice, judge_support
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
        quantities={path: banded(value) for path, value in values.items()},
    )


def test_common_practice_by_hand() -> None:
    """Twice the length plus 0.4 m through the insulation, none where insulated, nothing said of a flange."""
    shoe = narrowed({"pad": {"length": "300 mm"}}).supports[0]
    assert common_practice(shoe) == pytest.approx(2 * 0.3 + 0.4)
    assert common_practice(narrowed({"family": "cradle"}).supports[0]) == 0.0
    assert common_practice(narrowed({"family": "flange"}).supports[0]) is None


@pytest.mark.parametrize("installed", [False, True])
def test_cold_and_hot_limits_have_their_safe_sides(installed: bool) -> None:
    values = {"contents_min": 281.0, "wall_min": 280.0, "sheath_max": 350.0}
    other = dict.fromkeys(values, 300.0)
    given = {f"with_allowance.{k}": v for k, v in values.items()} | other if installed else values
    limits = {"contents_min": "6.85 degC", "wall_min": "7.85 degC", "sheath_max": "78.85 degC"}
    found = {c.limit: c for c in check_support(made_up(given, limits, installed))}  # type: ignore[arg-type]
    assert found["contents_min"].margin == pytest.approx(1.0)
    assert found["wall_min"].margin == pytest.approx(-1.0)
    assert found["sheath_max"].margin == pytest.approx(2.0)
    assert [found[k].verdict for k in ("contents_min", "wall_min", "sheath_max")] == ["pass", "fail", "pass"]


@pytest.mark.parametrize(("enough", "verdict"), [(0.2, "pass"), (0.9, "fail"), (0.45, "too close to call")])
def test_allowance_against_what_is_just_enough(
    monkeypatch: pytest.MonkeyPatch, enough: float, verdict: str
) -> None:
    result = made_up(
        {"wall_min": 300.0, "with_allowance.wall_min": 300.0, "allowance_enough": enough}, {}, True
    )
    monkeypatch.setattr(module, "solve_support", lambda *rest, **named: result)
    assert judge_support(result.case, result.support, None).allowance_verdict == verdict


def test_an_allowance_that_cannot_be_reached_is_not_close(monkeypatch: pytest.MonkeyPatch) -> None:
    result = made_up({"wall_min": 300.0, "with_allowance.wall_min": 300.0}, {}, True)
    result.quantities["allowance_enough"] = banded(math.inf, 0.0)
    result.unreachable["allowance_enough"] = "no tracer is on"
    monkeypatch.setattr(module, "solve_support", lambda *rest, **named: result)
    found = judge_support(result.case, result.support, None)
    assert (found.allowance_verdict, found.allowance_reason) == ("not reachable", "no tracer is on")
    result.quantities["allowance_enough"] = banded(0.2, math.inf)  # reached on one mesh, not on another
    assert judge_support(result.case, result.support, None).allowance_verdict == "too close to call"


def test_a_support_that_fails_fails_the_case(monkeypatch: pytest.MonkeyPatch) -> None:
    failing = SimpleNamespace(verdict="fail")
    monkeypatch.setattr(check_module, "judge_support", lambda *rest, **named: failing)
    found = check(narrowed(limits={"wall_min": "-50 degC"}), fineness=1.0)
    assert found.conditions[0].verdict == "pass"
    assert (found.verdict, found.exit_code) == ("fail", 1)
