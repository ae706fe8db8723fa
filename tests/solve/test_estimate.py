"""Moving contents that are estimated: the coldest wall, a band that grows with what is not known, and where it ends."""

from typing import Any

import numpy as np
import pytest
from plain_lines import FLAT, LIQUID, line, only

from sim.case import Case
from sim.judge.limits import check_limits
from sim.solve import estimate as own
from sim.solve.at_rest import MeshStore, SectionResult, solve_at_rest
from sim.solve.bounds import insulated, touching, with_contents
from sim.solve.bracket import unresolved
from sim.solve.estimate import estimate

STORE = MeshStore()


def water(clock: float = 5.0, output: str = "20 W/m", **more: Any) -> Case:
    contents = {"state": "buoyant", "fluid": "water", **more.pop("contents", {})}
    return only(line(FLAT | {"clock": clock, "output": output}, contents=contents, **more))


def answer(case: Case) -> SectionResult:
    return unresolved(case, STORE, 1.0, "a test")


@pytest.fixture(scope="module")
def low() -> SectionResult:
    return answer(water())


def test_its_coldest_contents_are_at_the_coldest_wall(low: SectionResult) -> None:
    """Not the bulk; and the outside of a conducting wall is a little colder than its inside."""
    coldest = low.value("contents.min")
    assert low.value("wall.min") < coldest < low.value("wall.mean")
    assert coldest < low.value("contents.mean")
    assert low.value("contents.max") > low.value("contents.mean")


def test_its_band_is_of_mesh_and_model_and_it_stands_between_its_bounds(low: SectionResult) -> None:
    assert (low.basis, low.bracketed) == ("estimate", False)
    parts = low.parts["contents.min"]
    assert low.quantities["contents.min"].band == pytest.approx(parts["mesh"] + parts["model"])
    assert parts["model"] > 0
    stirred = with_contents(low.case, state="mixed", film_coefficient=1e4)
    highest = solve_at_rest(stirred, STORE, 1.0, None, touching).value("contents.min")
    assert low.ends["contents.min"] <= low.value("contents.min") <= highest


def test_its_band_reaches_fields_behind_a_film_within_the_doubt(low: SectionResult) -> None:
    result = estimate(low.case, STORE, 1.0)
    for part in (1 / result.doubt, 0.8, 1.3, result.doubt):
        changed = with_contents(low.case, state="mixed", film_coefficient=part * result.film)
        other = solve_at_rest(changed, STORE, 1.0, None, touching)
        for path in ("contents.min", "wall.min"):
            one = low.quantities[path]
            assert abs(other.value(path) - one.value) <= one.band + other.quantities[path].band


def test_the_hottest_is_behind_the_whole_film() -> None:
    """Contents beneath a tracer on the side are in layers; where the tracer is, its film is whole."""
    found = estimate(water(4.0, contents={"fluid": "water"}), STORE, 1.0)
    assert found.part < 1.0
    whole = with_contents(found.result.case, state="mixed", film_coefficient=found.film / found.part)
    hot = solve_at_rest(whole, STORE, 1.0, None, touching)
    for path in ("wall.max", "tracers.T1.sheath_max"):
        assert found.hottest[path].value == pytest.approx(hot.value(path), abs=1e-6)


@pytest.mark.parametrize(
    ("clock", "conductivity", "wall"),
    [(4.0, 400.0, 6e-3), (4.0, 1.0, 4e-3), (4.0, 4.0, 4e-3), (8.0, 1.0, 4e-3), (5.0, 1.0, 4e-3)],
)
def test_what_the_film_is_beneath_a_tracer_by_hand(clock: float, conductivity: float, wall: float) -> None:
    """What comes down along the wall and through the contents, over the tracer's height above the bottom."""
    metal = {"conductivity": f"{conductivity} W/m/K", "density": "8000 kg/m3", "specific_heat": "500 J/kg/K"}
    case = water(clock, pipe={"outer_diameter": "114.3 mm", "wall": f"{wall} m", "material": metal})
    found = {"contents.mean": 300.0, "tracers.T1.output": 20.0}
    height = {4.0: 0.5, 8.0: 0.5, 5.0: 1 - 3**0.5 / 2}[clock] * (0.05715 - wall)
    along, through = (conductivity * wall / 100) ** 0.5, 0.6103 / 100  # water's conductivity at 300 K: IAPWS
    down = (own.ALONG * along + own.THROUGH * through) / height
    assert own.left_below(case, 100.0, found) == pytest.approx(down / (1 + down**2) ** 0.5, rel=1e-3)


def test_nothing_lies_beneath_a_tracer_at_the_bottom() -> None:
    found = {"contents.mean": 300.0, "tracers.T1.output": 20.0}
    assert own.left_below(water(6.0), 100.0, found) == pytest.approx(1.0)


def test_tracers_apart_or_an_uneven_loss_may_stir_what_lies_beneath(low: SectionResult) -> None:
    """The band then reaches up to the whole film; the value stays the cautious one."""
    half = FLAT | {"output": "10 W/m"}
    raw = line(half | {"clock": 4.0}, half | {"name": "T2", "clock": 8.0})
    plastic = {"conductivity": "0.4 W/m/K", "density": "950 kg/m3", "specific_heat": "1900 J/kg/K"}
    raw["contents"], raw["pipe"]["material"] = {"state": "buoyant", "fluid": "water"}, plastic
    found = estimate(only(raw), STORE, 1.0)
    assert found.part < 0.5
    whole = with_contents(found.result.case, state="mixed", film_coefficient=found.film / found.part)
    stirred = solve_at_rest(whole, STORE, 1.0, None, touching)
    value = found.result.quantities["contents.min"]
    reach = value.value + value.band + found.model["contents.min"]
    assert reach >= stirred.value("contents.min") - stirred.quantities["contents.min"].band
    assert "up to the whole" in found.words
    assert "up to the whole" not in estimate(low.case, STORE, 1.0).words


def test_a_tracer_of_hardly_any_heat_makes_no_difference_to_the_film() -> None:
    """Heights are weighted by heat: 20 W/m at 4 and hardly any at 6 are 20 W/m at 4; as much at 6 halves the height."""
    case = only(line(FLAT | {"clock": 4.0}, FLAT | {"name": "T2", "clock": 6.0}))
    heat = {"contents.mean": 300.0, "tracers.T1.output": 20.0}
    one = own.left_below(case, 5000.0, heat | {"tracers.T2.output": 1e-6})
    alone = own.left_below(only(line(FLAT | {"clock": 4.0})), 5000.0, heat)
    assert one == pytest.approx(alone, rel=1e-6)
    both = own.left_below(case, 5000.0, heat | {"tracers.T2.output": 20.0})
    one, half = (part / (1 - part**2) ** 0.5 for part in (alone, both))
    assert half == pytest.approx(2 * one)


def test_water_below_four_degrees_is_not_taken_as_stirred() -> None:
    """Heated from below it grows heavier as it warms and rests: no estimate, and the bracket takes in the bare bore."""
    cold, warm = water(6.0, "4.6 W/m"), water(6.0)
    found = estimate(cold, STORE, 1.0)
    assert 273.2 < found.result.value("contents.min") < 277.0
    assert found.turns
    assert not estimate(warm, STORE, 1.0).turns
    bracketed = answer(cold)
    assert (bracketed.basis, bracketed.bracketed) == ("bracket", True)
    least = bracketed.value("contents.min") - bracketed.quantities["contents.min"].band
    assert least <= insulated(cold, STORE, 1.0).value("contents.min")


def test_cold_water_is_less_known() -> None:
    """At 5 degC it expands less than half as much as at 9; at 40 hardly less than at 45."""
    cold, warm = (estimate(water(condition__ambient=a), STORE, 1.0) for a in ("-46 degC", "-10 degC"))
    assert 277.2 < cold.result.value("contents.min") < 282.0
    assert not cold.turns
    assert cold.doubt == pytest.approx(own.FITTED_SLACK * own.PLANE)
    assert warm.doubt in (pytest.approx(own.FITTED * own.PLANE), pytest.approx(own.FITTED * own.PLANE_LOW))


def test_a_low_prandtl_number_is_less_known(monkeypatch: pytest.MonkeyPatch) -> None:
    """Plane flow leaves out more below a Prandtl number of about 4."""
    case = water()
    sure = estimate(case, STORE, 1.0)
    assert sure.prandtl > own.LOW_PRANDTL
    monkeypatch.setattr(own, "LOW_PRANDTL", sure.prandtl + 1)
    unsure = estimate(case, STORE, 1.0)
    assert unsure.doubt > sure.doubt
    assert unsure.model["contents.min"] > sure.model["contents.min"]


@pytest.mark.parametrize(
    ("case", "words"),
    [
        (water(clock=11.0), "settle in layers"),
        (water(contents={"fill": 0.6}), "partly filled"),
        (water(contents={"fluid": LIQUID | {"viscosity": "10 Pa s"}}), "Rayleigh"),
        (water(contents={"fluid": "heavy fuel oil"}), "Prandtl"),
    ],
)
def test_where_its_doubt_is_not_known_the_answer_is_the_bracket(case: Case, words: str) -> None:
    result = answer(case)
    assert (result.basis, result.bracketed) == ("bracket", True)
    assert any(words in note for note in result.notes)


def test_a_limit_is_held_against_value_and_band(low: SectionResult) -> None:
    """Clear of the band it passes; within it is too close, unless no flow could break it."""
    value, band = low.value("contents.min"), low.quantities["contents.min"].band
    end = low.ends["contents.min"]
    for allowed, verdict in (
        (value - 1.5 * band, "pass"),
        (value + 1.5 * band, "fail"),
        (value + 0.1 * band, "too close to call"),
        (end - 0.05, "pass"),
    ):
        limits = low.case.limits.model_copy(update={"contents_min": float(np.round(allowed, 6))})
        case = low.case.model_copy(update={"limits": limits})
        checks = check_limits(SectionResult(**{**low.__dict__, "case": case}))
        assert {c.verdict for c in checks if c.limit == "contents_min"} == {verdict}
        assert all("estimated" in c.note for c in checks)


def test_a_run_that_may_decide_is_named_where_it_is_too_close(low: SectionResult) -> None:
    """Not where the averages were run, nor where the verdict is clear."""
    from sim.judge.limits import WOULD_DECIDE

    for away, basis, named in ((0.0, "estimate", True), (0.0, "average", False), (20.0, "estimate", False)):
        limits = low.case.limits.model_copy(update={"contents_min": low.value("contents.min") + away})
        case = low.case.model_copy(update={"limits": limits})
        checks = check_limits(SectionResult(**{**low.__dict__, "case": case, "basis": basis, "ends": {}}))
        assert any(WOULD_DECIDE in c.note for c in checks) is named
