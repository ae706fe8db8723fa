"""Contents below their freezing point never pass without a word of ice; one expansion of water is warned of."""

from dataclasses import replace
from typing import Any

import pytest
from plain_lines import FLAT, LIQUID, STORE, line, only

from sim.case import parse_case
from sim.judge.check import check
from sim.judge.field_notes import freezing_notes, like_water, with_ice
from sim.judge.limits import check_limits
from sim.solve.at_rest import SectionResult
from sim.solve.bracket import bracket
from sim.solve.section import solve_section

COLD = FLAT | {"output": "2 W/m"}
WATERY = LIQUID | {"viscosity": "0.0014 Pa s"}


def solved(state: str, fluid: Any = "water", output: str = "2 W/m", **more: Any) -> SectionResult:
    case = only(line(FLAT | {"output": output}, contents={"state": state, "fluid": fluid}, **more))
    return bracket(case, STORE, 1.0, "a test") if state == "buoyant" else solve_section(case, STORE, 1.0)


@pytest.mark.parametrize("state", ["still", "mixed", "buoyant"])
def test_a_limit_kept_below_freezing_is_warned_of(state: str) -> None:
    """Water at -5 degC passed a limit of -10 without a word."""
    result = solved(state, limits={"contents_min": "-20 degC"})
    assert result.value("contents.min") < 273.15
    (checks,) = with_ice(check_limits(result), result.case)
    assert "below the freezing point of the contents, 0.0 degC" in checks.note
    (note,) = freezing_notes(result)
    assert "ice" in note
    assert "burst" in note


def test_the_answer_of_a_case_carries_both() -> None:
    answer = check(
        parse_case(
            line(COLD, contents={"state": "still", "fluid": "water"}, limits={"contents_min": "-20 degC"})
        ),
        fineness=1.0,
    )
    (one,) = answer.conditions
    assert "below the freezing point" in one.limits[0].note
    assert any("this field knows no ice" in note for note in one.notes)


@pytest.mark.slow
def test_a_bracket_whose_safe_end_is_ice_passes_with_a_word_of_it() -> None:
    """DN 300 with its tracer on top: the estimate and its band may clear the freezing point, the safe end not."""
    raw = line(
        FLAT | {"clock": 12, "output": "9 W/m"},
        pipe={"size": "DN 300", "schedule": "40", "material": "carbon steel"},
        contents={"state": "buoyant", "fluid": "water"},
        limits={"contents_min": "-20 degC", "wall_min": "-20 degC"},
    )
    (one,) = check(parse_case(raw), fineness=1.0).conditions
    assert one.result is not None
    assert one.result.bracketed
    assert one.result.ends["contents.min"] < 273.15
    for checks in one.limits:
        assert checks.verdict == "pass"
        assert "safe end that passes" in checks.note
        assert "below the freezing point of the contents" in checks.note
    assert any("may reach" in note and "knows no ice" in note for note in one.notes)
    assert not any("(given in the case)" in note for note in one.notes)
    assert any("own, not given in the case" in note for note in one.notes)
    warm = {"contents.min": 275.15}
    (alone,) = with_ice(
        (replace(one.limits[0], value=280.0, band=1.0, note=""),), one.result.case, {"contents.min": 272.0}
    )
    assert "no ice is counted" in alone.note
    (alone,) = with_ice((replace(one.limits[0], value=280.0, band=1.0, note=""),), one.result.case, warm)
    assert alone.note == ""


def test_warm_water_brine_and_an_empty_bore_have_no_word_of_it() -> None:
    assert freezing_notes(solved("still", output="20 W/m")) == ()
    assert freezing_notes(solved("still", "calcium chloride brine")) == ()
    assert freezing_notes(solve_section(only(line(COLD, contents={"state": "empty"})), STORE, 1.0)) == ()


def test_one_expansion_of_a_water_like_fluid_is_warned_of_below_eight_degrees() -> None:
    assert like_water(only(line(COLD, contents={"fluid": WATERY})).contents.fluid)
    assert not like_water(
        only(line(COLD, contents={"fluid": WATERY | {"viscosity": "0.1 Pa s"}})).contents.fluid
    )
    warm = {"condition__ambient": "30 degC"}
    assert not any("one expansion" in note for note in freezing_notes(solved("buoyant", WATERY, **warm)))
    assert any("one expansion" in note for note in freezing_notes(solved("buoyant", WATERY)))
    assert not any("one expansion" in note for note in freezing_notes(solved("still", WATERY)))
    assert any("has no freezes_at" in note for note in freezing_notes(solved("still", WATERY)))
