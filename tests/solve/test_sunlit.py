"""Sun, sky and rain in the section and around a support: what must follow whatever the line."""

from typing import Any

import pytest
from plain_lines import FLAT, line

from sim.case import Case, case_for, parse_case
from sim.judge.check import check
from sim.solve.at_rest import MeshStore
from sim.solve.section import solve_section

STORE = MeshStore()
BEAM = {"irradiance": "600 W/m2", "clock": 3, "absorptivity": 0.5}


def case(*tracers: dict[str, Any], contents: dict[str, Any] | None = None, **more: Any) -> Case:
    raw = line(*tracers, outside={}, barrier={"thickness": "1e-3 mm", "conductivity": "0.1 W/m/K"})
    raw["barrier"] |= {"emissivity": more.pop("emissivity", 0.9)}
    raw["contents"] = contents or raw["contents"]
    raw["condition"] = [{"name": "now", "ambient": "-10 degC", "wind": "3 m/s"} | more]
    return case_for(parse_case(raw), "now")


def values(*tracers: dict[str, Any], **more: Any) -> dict[str, float]:
    result = solve_section(case(*tracers, **more), STORE, 1.0)
    return {path: banded.value for path, banded in result.quantities.items()}


def test_sun_is_counted_in_and_out() -> None:
    field_values = values(FLAT, sun=BEAM)
    across = 2 * (0.05715 + 0.05)
    assert field_values["from_sun"] == pytest.approx(0.5 * 600 * across, rel=5e-3)
    assert field_values["heat_in"] == pytest.approx(20.0 + field_values["from_sun"], rel=1e-9)
    assert field_values["closure"] < 1e-9
    assert "from_sun" not in values(FLAT)


def test_a_line_in_the_sun_is_warmer_and_one_under_a_clear_sky_colder() -> None:
    plain = values(FLAT)
    lit, clear = values(FLAT, sun=BEAM), values(FLAT, sky={"temperature": "-50 degC"})
    same = values(FLAT, sky={"temperature": "-10 degC"})
    for path in ("contents.min", "wall.max", "tracers.T1.sheath_max", "barrier.max"):
        assert clear[path] < plain[path] < lit[path]
        assert same[path] == pytest.approx(plain[path], abs=1e-7)


def test_sun_warms_the_side_it_shines_on() -> None:
    for clock in (3, 9):
        field_values = solve_section(case(sun=BEAM | {"clock": clock}), STORE, 1.0).quantities
        assert field_values["barrier.max_clock"].value == pytest.approx(clock, abs=0.5)


def test_turning_sun_and_tracer_together_changes_nothing_but_where() -> None:
    first = values(FLAT | {"clock": 6.0}, sun=BEAM | {"clock": 6})
    for clock in (3.0, 9.0):
        turned = values(FLAT | {"clock": clock}, sun=BEAM | {"clock": clock})
        assert turned["tracers.T1.sheath_max"] == pytest.approx(first["tracers.T1.sheath_max"], abs=0.02)


def test_rain_is_the_ambient_on_the_surface() -> None:
    field_values = values(FLAT, rain=True)
    assert field_values["barrier.max"] == pytest.approx(263.15, abs=2e-3)
    dry = values(FLAT)
    assert field_values["contents.min"] < dry["contents.min"]


@pytest.mark.slow
def test_sun_around_a_support_counts_and_leaves_the_drain() -> None:
    """Far from the shoe the sun warms the line, and what the shoe drains at a given temperature stays: all is linear
    here, and the sun's heat on the far side comes in with the shoe as without it."""
    raw = line(
        FLAT | {"clock": 3.0}, support=[{"name": "S", "family": "shoe"}], design={"maintain": "10 degC"}
    )
    gathered = []
    for more in ({}, {"sun": BEAM | {"clock": 12}}):
        raw["condition"] = [raw["condition"][0] | more]
        answer = check(parse_case(raw), fineness=1.0)
        result, section = answer.supports[0].result, answer.conditions[0].result
        assert result is not None
        assert section is not None
        values = {path: banded.value for path, banded in result.quantities.items()}
        assert values["closure"] < 1e-6
        assert values["wall_min"] + values["dip"] == pytest.approx(section.value("wall.min"), abs=0.3)
        gathered.append(values)
    assert gathered[1]["heat_sink"] == pytest.approx(gathered[0]["heat_sink"], rel=2e-3)
    assert gathered[1]["wall_min"] > gathered[0]["wall_min"] + 3.0


def test_answer_names_what_the_simplified_method_leaves_out() -> None:
    answer = check(parse_case(line(FLAT, condition__sun=BEAM)), fineness=1.0).conditions[0]
    assert any("the sun" in note for note in answer.simplified.notes)
    assert any("sun" in words for words in answer.asymmetries)
    assert any("sun" in words for words in answer.reasons)
