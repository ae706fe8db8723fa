"""Every limit times every place where its quantity exists, times each state of the contents: none is left out."""

from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from support_lines import line as support_line
from support_lines import narrowed

from sim.case import case_for, parse_case
from sim.case.operation import Limits
from sim.judge.limits import LimitCheck, check_limits
from sim.judge.support import check_support
from sim.solve.at_rest import SectionResult
from sim.solve.elbow import solve_elbow
from sim.solve.section import solve_section
from sim.solve.support_meshes import SupportResult, solve_support

NAMES = ("contents_min", "wall_min", "wall_max", "sheath_max", "barrier_max")
COLD = ("contents_min", "wall_min")
STATES: dict[str, dict[str, Any]] = {
    "mixed": {},
    "half full": {"contents": {"state": "mixed", "fill": 0.5}},
    "flowing": {"contents": {"state": "flowing", "temperature": "60 degC", "velocity": "0.2 m/s"}},
    "still": {"contents": {"state": "still"}},
    "empty": {"contents": {"state": "empty"}},
    "adiabatic bore": {"contents": {"state": "empty", "film_coefficient": "0 W/m2/K"}},
    "no tracer": {
        "contents": {"state": "flowing", "temperature": "60 degC", "velocity": "0.2 m/s"},
        "tracer": [],
    },
}  # fmt: skip
QUICK = ("mixed", "half full", "adiabatic bore", "no tracer")
FITTED = ("fitting", "fitting with its allowance")
CELLS = [
    pytest.param(state, place, marks=() if state in QUICK else pytest.mark.slow)
    for state in STATES
    for place in ("section", "elbow", "support", "support with its allowance")
] + [pytest.param(state, place, marks=pytest.mark.slow) for state in STATES for place in FITTED]
NONE_THERE = {
    ("adiabatic bore", "contents_min"): "not evaluated",
    ("no tracer", "sheath_max"): "nothing to hold",
}


def kelvin(**limits: float) -> Limits:
    return Limits.model_validate({name: f"{value!r} K" for name, value in limits.items()})


@dataclass(frozen=True)
class Solved:
    section: SectionResult
    elbow: SectionResult
    support: SupportResult


@cache
def solved(state: str) -> Solved:
    bend = {"radius": "3 D"}
    case = narrowed({"family": "clamp", "allowance": "0.1 m"}, elbow=bend, **STATES[state])
    section = solve_section(case, fineness=1.0)
    elbow = solve_elbow(case, fineness=1.0)
    return Solved(section, elbow, solve_support(case, case.supports[0], 0.5, section=section))


@cache
def fitted(state: str) -> Solved:
    body = {"axis": "along", "diameter": "180 mm", "from": "-40 mm", "to": "40 mm", "cover": "20 mm"}
    raw = support_line(**STATES[state]) | {"fitting": [{"name": "V1", "body": [body], "allowance": "0.1 m"}]}
    del raw["support"]
    case = case_for(parse_case(raw), "a")
    section = solve_section(case, fineness=1.0)
    return Solved(section, section, solve_support(case, case.fittings[0], 0.7, section=section))


def checks(state: str, place: str, limits: Limits) -> dict[str, LimitCheck]:
    """What is held at a place, with other limits than it was solved with."""
    fields = fitted(state) if place in FITTED else solved(state)
    case = fields.section.case.model_copy(update={"limits": limits})
    if place in ("section", "elbow"):
        limit_checks = check_limits(replace(getattr(fields, place), case=case))
    else:
        installed = place not in ("support", "fitting") and fields.support.installed is not None
        limit_checks = check_support(replace(fields.support, case=case), installed)
    assert len({c.limit for c in limit_checks}) == len(limit_checks)
    return {c.limit: c for c in limit_checks}


@pytest.mark.parametrize(("state", "place"), CELLS)
def test_every_limit_is_held_or_said_not_to_be(state: str, place: str) -> None:
    """Each limit has an answer at each place; set on either side of what is there, it passes and fails."""
    anything = checks(state, place, kelvin(**dict.fromkeys(NAMES, 300.0)))
    assert tuple(anything) == NAMES
    for name, check in anything.items():
        expected = NONE_THERE.get((state, name))
        if expected is not None:
            assert (check.verdict, np.isnan(check.value)) == (expected, True)
            assert check.note
            continue
        clear = check.band + 1.0
        for sign, verdict in ((1, "pass"), (-1, "fail")):
            allowed = check.value - sign * clear if name in COLD else check.value + sign * clear
            (again,) = checks(state, place, kelvin(**{name: allowed})).values()
            assert again.verdict == verdict, (name, again)


@pytest.mark.parametrize("state", ["mixed", "half full"])
def test_what_is_held_is_the_fields_own(state: str) -> None:
    """Extremes of the drawn field; the section's own numbers carry over, and only the change is the support's."""
    fields = solved(state)
    for installed, field in ((False, fields.support.alone), (True, fields.support.installed)):
        assert field is not None
        wall = field.wall.value
        prefix = "with_allowance." if installed else ""
        q = fields.support.quantities
        low, high = fields.support.section_wall
        assert q[prefix + "dip"].value == pytest.approx(low - wall.min(), abs=1e-9)
        assert q[prefix + "wall_rise"].value == pytest.approx(wall.max() - high, abs=1e-9)
        assert q[prefix + "fall_max"].value >= q[prefix + "dip"].value
    path = "liquid.min" if state == "half full" else "contents.min"
    limit_checks = checks(state, "support", kelvin(contents_min=300.0))["contents_min"]
    assert limit_checks.value < fields.section.value(path)


def test_a_hot_day_at_a_flange_with_too_much_tracer() -> None:
    """Section and flange alone keep to the limit on the wall; with 0.9 m of extra tracer the flange does not."""
    case = narrowed(
        {"family": "flange", "allowance": "0.9 m"}, condition=[{"name": "hot day", "ambient": "35 degC"}]
    )
    section = solve_section(case, fineness=1.0)
    result = solve_support(case, case.supports[0], 0.5, section=section)
    assert result.installed is not None
    drawn = float(result.installed.wall.value.max())
    between = 0.5 * (section.value("wall.max") + drawn)
    hot = case.model_copy(update={"limits": kelvin(wall_max=between)})
    assert drawn > section.value("wall.max") + 5.0
    assert [c.verdict for c in check_limits(replace(section, case=hot))] == ["pass"]
    judged = replace(result, case=hot)
    assert [c.verdict for c in check_support(judged, False)] == ["pass"]
    assert [c.verdict for c in check_support(judged, True)] == ["fail"]
