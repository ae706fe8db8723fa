"""What uncertain inputs are worth beside a margin, against closed forms and whole answers; margins asked for."""

from math import log, pi
from types import SimpleNamespace

import pytest
from plain_lines import FLAT, STORE, line, only

from sim.case import CaseError, case_for, parse_case
from sim.judge.check import check
from sim.judge.confidence import SEVERAL, Sensitivity, sensitivity, support_with_inputs
from sim.judge.limits import LimitCheck
from sim.judge.support import SupportAnswer
from sim.solve.allowance import Enough, Trials
from sim.solve.measures import LIMITS
from sim.solve.quantities import quantities
from sim.solve.section import solve_section
from sim.solve.support_level import Level, solve_level
from sim.study.row import condition_row
from sim.study.run import _one_mesh

EVERY = {
    "contents_min": "-40 degC",
    "wall_min": "-40 degC",
    "wall_max": "200 degC",
    "sheath_max": "300 degC",
    "barrier_max": "90 degC",
}


def worths(raw: dict, limit: str = "wall_min") -> dict[str, float]:
    answer = check(parse_case(raw), fineness=1.5).conditions[0]
    return dict(next(one.inputs for one in answer.limits if one.limit == limit))


def test_each_input_against_resistances_in_series() -> None:
    """A well-stirred line with a tracer all of whose heat goes out through film and insulation in series.

    rise = q (ln(r3/r2)/(2 pi k) + 1/(2 pi r3 h)): k up a fifth, h up 0.3, q down a tenth, by hand. The wall's coldest
    point follows the mean, for the wall is of copper and the contents are stirred.
    """
    raw = line(
        FLAT | {"height": "0.3 mm"},
        contents__state="mixed",
        pipe__material={"conductivity": "4000 W/m/K", "density": "8900 kg/m3", "specific_heat": "390 J/kg/K"},
        limits={"wall_min": "-5 degC"},
    )
    insulation, film = log(107.15 / 57.15) / (2 * pi * 0.04), 1 / (2 * pi * 0.10715 * 10)
    computed = worths(raw)
    assert computed["insulation conductivity 20 %"] == pytest.approx(
        20 * insulation * (1 - 1 / 1.2), rel=0.02
    )
    assert computed["outside coefficient 30 %"] == pytest.approx(20 * film * (1 - 1 / 1.3), rel=0.02)
    assert computed["output 10 % (assumed)"] == pytest.approx(0.1 * 20 * (insulation + film), rel=0.02)
    assert computed["tracer contact halved"] < 0.3
    assert "film in the bore halved" in computed


def test_a_margin_smaller_than_the_inputs_are_worth_is_said() -> None:
    """18.6 against 18.55 passes by the numbers of the field alone; a fifth more conductivity misses it by far."""
    plain = check(parse_case(line(FLAT)), fineness=1.5).conditions[0].result
    assert plain is not None
    allowed = plain.value("wall.min") - 273.15 - 2.0
    close = check(
        parse_case(line(FLAT, limits={"wall_min": f"{allowed:.3f} degC"})), fineness=1.5
    ).conditions[0]
    (checks,) = close.limits
    assert checks.verdict == "pass"
    assert checks.worth > 3 * checks.margin
    assert any("usual uncertainty of the inputs" in note and "conductivity" in note for note in close.notes)
    wet = line(FLAT, layer__conductivity="0.048 W/m/K", limits={"wall_min": f"{allowed:.3f} degC"})
    worse = check(parse_case(wet), fineness=1.5).conditions[0].limits[0]
    assert worse.verdict == "fail"
    by = dict(checks.inputs)["insulation conductivity 20 %"]
    assert checks.margin - worse.margin == pytest.approx(by, rel=0.01)


@pytest.mark.parametrize("state", ["still", "mixed", "empty", "flowing"])
def test_every_limit_in_every_state_has_its_inputs(state: str) -> None:
    flow = {"contents__temperature": "20 degC", "contents__velocity": "0.5 m/s"} if state == "flowing" else {}
    raw = line(FLAT | {"tolerance": 0.05}, contents__state=state, outside={}, limits=EVERY, **flow)
    answer = check(parse_case(raw), fineness=1.0).conditions[0]
    assert {one.limit for one in answer.limits} == set(LIMITS) == set(EVERY)
    for one in answer.limits:
        words = [word for word, _ in one.inputs]
        assert "output 5 % (its tolerance)" in words
        assert "1 m/s of wind in still air" in words
        assert all(worth >= 0 for _, worth in one.inputs)
        assert (one.worth > 0) or (state == "flowing" and one.limit == "contents_min")


def test_an_output_at_its_low_end_is_not_lowered_again() -> None:
    raw = line(FLAT | {"tolerance": 0.1}, condition__output="low", limits={"wall_min": "-5 degC"})
    assert not any("output" in words for words in worths(raw))


@pytest.mark.parametrize(("requested", "verdict"), [("1.5 K", "pass"), ("2.5 K", "fail")])
def test_a_margin_in_kelvin_can_be_asked_for(requested: str, verdict: str) -> None:
    plain = solve_section(only(line(FLAT)), STORE, 1.5)
    allowed = f"{plain.value('wall.min') - 273.15 - 2.0:.4f} degC"
    case = parse_case(line(FLAT, limits={"wall_min": allowed, "margin": requested}))
    (checks,) = check(case, fineness=1.5).conditions[0].limits
    assert checks.verdict == verdict
    assert checks.margin == pytest.approx(2.0, abs=1e-3)
    assert ("is asked for" in checks.note) == (verdict == "fail")
    row = condition_row(_one_mesh(case_for(case, "now"), STORE, 1.5), {}, banded=False)
    assert row["margins"]["wall_min"] == pytest.approx(2.0 - float(requested.split()[0]), abs=0.1)


@pytest.mark.parametrize(("share", "verdict"), [(0.04, "pass"), (0.2, "fail")])
def test_a_margin_of_the_output_can_be_asked_for(share: float, verdict: str) -> None:
    """A tenth of a rise of 48 K is 4.8 K: the limit stands a tenth of the rise below, so 4 % can be lost, not 20 %."""
    plain = solve_section(only(line(FLAT)), STORE, 1.5)
    rise = plain.value("wall.min") - 263.15
    limits = {"wall_min": f"{-10 + 0.9 * rise:.3f} degC", "wall_max": "200 degC", "output_margin": share}
    answer = check(parse_case(line(FLAT, limits=limits)), fineness=1.5).conditions[0]
    low, high = answer.limits
    assert (low.verdict, high.verdict) == (verdict, "pass")
    assert low.spare == pytest.approx((0.1 - share) * rise, abs=0.02 * rise)
    assert f"with {100 * share:g} % less output" in low.note
    case = only(line(FLAT, limits=limits))
    result = _one_mesh(case, STORE, 1.5)
    row = condition_row(result, {}, banded=False, known=sensitivity(case, STORE, result, 1.5, inputs=False))
    assert row["margins"]["wall_min"] == pytest.approx(low.spare, abs=0.1)


def test_an_output_margin_without_an_answer_is_no_pass() -> None:
    table = [["-20 degC", "3 W/m"], ["5 degC", "4 W/m"], ["25 degC", "15 W/m"], ["100 degC", "38 W/m"]]
    raw = line(FLAT | {"output": {"at": table}}, limits={"wall_min": "-30 degC", "output_margin": 0.1})
    answer = check(parse_case(raw), fineness=1.0).conditions[0]
    assert [one.verdict for one in answer.limits] == ["not evaluated", "not evaluated"]
    assert all(SEVERAL in one.note for one in answer.limits)


@pytest.mark.parametrize("wrong", ["-1 K", "5 degC", 2])
def test_a_margin_is_a_difference_of_temperatures(wrong: object) -> None:
    with pytest.raises(CaseError, match=r"limits\.margin"):
        parse_case(line(FLAT, limits={"wall_min": "5 degC", "margin": wrong}))


def test_at_a_support_less_output_takes_what_its_own_field_loses(monkeypatch: pytest.MonkeyPatch) -> None:
    """Self-regulating: the section lies where the output falls steeply and hardly notices, the cold support does.

    The output margin at the support is what the same support loses with every output of the table smaller by as much.
    """
    monkeypatch.setattr(Trials, "enough", lambda *given: Enough(0.0))
    table = [[-20.0, 20.0], [30.0, 18.0], [40.0, 2.0], [60.0, 0.0]]
    support = {"family": "shoe", "spacing": "0.6 m", "allowance": "0.1 m", "name": "S1"}

    def level(share: float) -> Level:
        output = {"at": [[f"{at} degC", f"{share * watts} W/m"] for at, watts in table]}
        limits = {"wall_min": "-20 degC", "output_margin": 0.1}
        case = only(line(FLAT | {"clock": 2.0, "output": output}, limits=limits) | {"support": [support]})
        return solve_level(case, case.supports[0], 0.5)

    full, less = level(1.0), level(0.9)
    path = "with_allowance.wall_min"
    loses = full.less_output[path]
    assert loses == pytest.approx(less.values[path] - full.values[path], rel=0.01)
    section = quantities(less.section)["wall.min"] - quantities(full.section)["wall.min"]
    assert loses < 1.2 * section < 0.0
    case = full.section.network.case
    check = LimitCheck("wall_min", path, 280.0, 0.1, 279.0, 1.0, "pass", spare=1.0)
    known = Sensitivity(less_output={"wall.min": -0.01})
    result = SimpleNamespace(less_output={path: -2.0})
    answer = SupportAnswer("now", "support S1", result, "", (check,), support=case.supports[0])
    judged = support_with_inputs(answer, case.limits, known)
    assert (judged.verdict, judged.limits[0].left) == ("fail", -1.0)
