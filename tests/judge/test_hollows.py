"""Limits at a fitting: what is in a hollow is no part of the bore, and no pass is built on the bore alone."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from fitting_lines import across, along, narrowed

from sim.judge.limits import LimitCheck
from sim.judge.support import _of_fitting
from sim.solve.convergence import Banded


def result(coldest: float, filled: str = "contents", **contents: Any) -> Any:
    """What is asked of a solved fitting: its coldest metal, K, with a band of 1 K."""
    rod = across(60, 250, hollow={"diameter": "40 mm", "to": "200 mm", "filled": filled})
    case = narrowed(along(180, 90, cover="40 mm"), rod, contents={"fluid": "water"} | contents)
    band = Banded(coldest, 1.0, (coldest,) * 3, 2.0, coldest, True)
    return SimpleNamespace(support=case.fittings[0], case=case, quantities={"bodies.2.min": band})


def check(limit: str = "contents_min") -> LimitCheck:
    return LimitCheck(limit, limit, 290.0, 0.5, 278.0, 12.0, "pass", "tracer alone")


@pytest.mark.parametrize(
    ("coldest", "verdict"), [(270.0, "not evaluated"), (278.5, "not evaluated"), (280.0, "pass")]
)
def test_still_contents_pass_where_the_metal_of_their_hollow_does(coldest: float, verdict: str) -> None:
    judged = _of_fitting(check(), result(coldest, state="still"), False)
    assert judged.verdict == verdict
    assert "hollow" in judged.note


def test_what_is_stirred_or_no_contents_is_the_bores_alone() -> None:
    stirred = _of_fitting(check(), result(270.0, state="mixed"), False)
    assert (stirred.verdict, "hollows" in stirred.note) == ("pass", True)
    assert _of_fitting(check(), result(270.0, "gas", state="still"), False) == check()


def test_no_limit_is_held_on_bodies_and_that_is_said() -> None:
    assert "bodies" in _of_fitting(check("wall_min"), result(270.0, state="still"), False).note
    assert _of_fitting(check("sheath_max"), result(270.0, state="still"), False) == check("sheath_max")
