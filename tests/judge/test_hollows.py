"""Limits at a fitting: what is in a hollow is no part of the bore, and no pass is built on the bore alone."""

from types import SimpleNamespace
from typing import Any

import pytest
from fitting_lines import across, along, narrowed

from sim.case.operation import Limits
from sim.judge.limits import LimitCheck
from sim.judge.support import hollow_metal, of_fitting
from sim.solve.convergence import Banded


def result(coldest: float, filled: str = "contents", **contents: Any) -> Any:
    """What is asked of a solved fitting: its coldest metal, K, with a band of 1 K."""
    rod = across(60, 250, hollow={"diameter": "40 mm", "to": "200 mm", "filled": filled})
    case = narrowed(along(180, 90, cover="40 mm"), rod, contents={"fluid": "water"} | contents)
    band = Banded(coldest, 1.0, (coldest,) * 3, 2.0, coldest, True)
    return SimpleNamespace(
        support=case.fittings[0], case=case, quantities={"bodies.2.min": band}, less_output={}
    )


def judged(check: LimitCheck, one: Any) -> LimitCheck:
    return of_fitting(check, one.case, one.support, hollow_metal(one, False))


def check(limit: str = "contents_min") -> LimitCheck:
    return LimitCheck(limit, limit, 290.0, 0.5, 278.0, 12.0, "pass", "tracer alone")


@pytest.mark.parametrize(
    ("coldest", "verdict"), [(270.0, "not evaluated"), (278.5, "not evaluated"), (280.0, "pass")]
)
def test_still_contents_pass_where_the_metal_of_their_hollow_does(coldest: float, verdict: str) -> None:
    one = judged(check(), result(coldest, state="still"))
    assert one.verdict == verdict
    assert "hollow" in one.note


def test_the_metal_clears_the_margins_that_are_asked_for_too() -> None:
    """Metal 2 K above the limit is enough for none and a margin of 1 K, not for one of 3 K; less output alike."""
    for margin, less, verdict in (
        (0.0, 0.0, "pass"),
        (1.0, 0.0, "pass"),
        (3.0, 0.0, "not evaluated"),
        (0.0, -3.0, "not evaluated"),
    ):
        one = result(281.0, state="still")
        limits = Limits.model_validate({"contents_min": "5 degC", "margin": f"{margin} K"})
        one.case = one.case.model_copy(update={"limits": limits})
        one.less_output = {"contents_min": less}
        assert judged(check(), one).verdict == verdict


def test_what_is_stirred_or_no_contents_is_the_bores_alone() -> None:
    stirred = judged(check(), result(270.0, state="mixed"))
    assert (stirred.verdict, "hollows" in stirred.note) == ("pass", True)
    still = check()
    assert judged(still, result(270.0, "gas", state="still")) is still


def test_no_limit_is_held_on_bodies_and_that_is_said() -> None:
    assert "bodies" in judged(check("wall_min"), result(270.0, state="still")).note
    sheath = check("sheath_max")
    assert judged(sheath, result(270.0, state="still")) is sheath
