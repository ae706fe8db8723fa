"""The terminal's first screen: what decides, where, and nothing cut at any width."""

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from rich.console import Console
from support_lines import line

from sim.case import parse_case
from sim.judge.check import Answer, check
from sim.judge.limits import LimitCheck
from sim.report.summary import beside, condition_row, stated_for
from sim.report.terminal import _remarks, screen
from sim.report.worst import all_checks, condition_verdict, decisive
from sim.solve.convergence import rounded_margin

Small = Callable[..., dict[str, Any]]
CONDITIONS = [
    {"name": "winter-night", "ambient": "-10 degC", "wind": "3 m/s"},
    {"name": "summer-day", "ambient": "30 degC"},
    {"name": "standby", "ambient": "-10 degC", "supply": 0.9},
]
LIMITS = {"contents_min": "5 degC", "wall_min": "5 degC", "wall_max": "90 degC"}
LIMITS |= {"sheath_max": "150 degC", "barrier_max": "60 degC"}


def text(answer: Answer, width: int, *, verbose: bool = False) -> str:
    return screen(answer, Console(width=width, force_terminal=False, no_color=True), verbose=verbose)


@pytest.fixture(scope="module")
def three(small: Small) -> Answer:
    return check(parse_case(small(condition=CONDITIONS, limits=LIMITS)), fineness=1.0)


@pytest.fixture(scope="module")
def missed_at_a_support() -> Answer:
    """A line that is warm enough but for its bare shoe, where no allowance is installed."""
    return check(parse_case(line(limits={"wall_min": "50 degC", "sheath_max": "150 degC"})), fineness=0.75)


@pytest.mark.parametrize("width", [80, 100, 120])
def test_three_conditions_are_one_screen(three: Answer, width: int) -> None:
    lines = text(three, width).splitlines()
    assert len(lines) <= 24  # and one that says where the files are
    assert max(len(one) for one in lines) <= width
    assert lines[1].startswith("Verdict: pass (all 15 limits met)")
    assert lines[2].startswith("nearest: ")
    shown = "\n".join(lines)
    for name in ("winter-night", "summer-day", "standby", "coldest contents", "hottest sheath", "--verbose"):
        assert name in shown


@pytest.mark.parametrize("width", [40, 60, 80, 120])
@pytest.mark.parametrize("verbose", [False, True])
def test_nothing_is_cut_at_any_width(three: Answer, width: int, verbose: bool) -> None:
    shown = text(three, width, verbose=verbose)
    assert "…" not in shown
    assert max(len(one) for one in shown.splitlines()) <= width
    wide = text(three, 200, verbose=verbose)
    for number in (word for word in wide.split() if word.replace(".", "").replace("-", "").isdigit()):
        assert number in shown, number


def test_the_worst_place_is_named_with_its_support(missed_at_a_support: Answer) -> None:
    answer = missed_at_a_support
    assert answer.conditions[0].verdict == "pass"
    assert answer.verdict == "fail"
    assert condition_verdict(answer, "a") == "fail"
    one = decisive(all_checks(answer))
    assert one is not None
    assert one.place.startswith("support S1")
    assert one.check.limit == "wall_min"
    shown = " ".join(text(answer, 120).split())
    assert "Verdict: fail (1 of 4 limits missed)" in shown
    miss = answer.supports[0].limits[0]
    assert (
        f"worst: wall not below 50.0 degC, missed by {rounded_margin(miss.margin, miss.band) * -1:g} K: support S1"
        in shown
    )
    assert "o'clock, z = " in shown
    assert " h," not in shown


def test_design_numbers_stand_beside_the_condition_they_are_for(small: Small) -> None:
    design = {"maintain": "5 degC", "heat_loss": "6 W/m", "margin": 0.2, "sheath": "60 degC"}
    answer = check(parse_case(small(condition=CONDITIONS, design=design)), fineness=1.0)
    stated = stated_for(answer)
    assert stated["winter-night"] >= {"heat_loss", "margin", "output"}
    assert stated["summer-day"] == {"sheath"}
    assert stated["standby"] == frozenset()
    rows = {c.name: {r.quantity: r for r in beside(c, stated[c.name])} for c in answer.conditions}
    assert rows["summer-day"]["sheath, tracers on, degC"].stated == "60.0"
    assert rows["winter-night"]["sheath, tracers on, degC"].stated == "–"
    assert rows["winter-night"]["sheath, tracers on, degC"].from_stated == "–"
    assert "heat loss at 5.0 degC, W/m" in rows["winter-night"]
    # 30 degC outside a pipe at 5 degC is no loss, and no number of the design is for that
    assert not any("at 5.0 degC" in name for name in rows["summer-day"])


def test_a_pipe_below_ambient_has_no_loss_beside_it(small: Small) -> None:
    answer = check(parse_case(small(condition=CONDITIONS[:2])), fineness=1.0)
    cold, hot = (condition_row(c, "pass") for c in answer.conditions)
    assert cold.design_loss[0] != "–"
    assert hot.design_loss == ("–", "none: pipe at 5.0, ambient above")


@pytest.mark.parametrize(("note", "told"), [("it is not warm at the end of the episode", True), ("", False)])
def test_a_time_that_is_the_end_of_the_episode_is_said_to_be(note: str, told: bool) -> None:
    never = LimitCheck("warm_up", "", 21600.0, 0.0, 18000.0, -3600.0, "fail", note)
    one = SimpleNamespace(place="episode again", condition="cold", limits=(never,))
    answer: Any = SimpleNamespace(judged=(one,), conditions=(), episodes=())
    words = [str(line) for line in _remarks(answer)]
    assert any("at episode again, fail: it is not warm at the end of the episode" in w for w in words) == told
