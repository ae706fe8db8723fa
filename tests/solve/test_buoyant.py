"""Contents that move, in a whole section: bounds, symmetry, conservation, limits of what is claimed. All invented."""

import time
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from plain_lines import FLAT, LIQUID

from sim.case import Case, case_for, parse_case, resolved
from sim.solve import buoyant, motion, section, stability
from sim.solve.at_rest import MeshStore, SectionResult
from sim.solve.bounds import with_contents
from sim.solve.bracket import bracket
from sim.solve.buoyant import Moving, grading_for, solve_buoyant
from sim.solve.motion import Work
from sim.solve.section import solve_section
from sim.solve.steady import cell_temperature, solve

OIL = LIQUID | {"conductivity": "0.13 W/m/K", "density": "950 kg/m3", "specific_heat": "1900 J/kg/K"}
FINENESS = 2.0


def line(clock: float = 5.0, fluid: Any = None, fill: float = 1.0, **more: Any) -> Case:
    """A thin stainless line full of an oil of 1 Pa s, one flat tracer."""
    changed = parse_case(
        {
            "pipe": {"outer_diameter": "60 mm", "wall": "2 mm", "material": "stainless steel"},
            "contents": {
                "state": "buoyant",
                "fluid": fluid or OIL | {"viscosity": "1 Pa s", "expansion": "7e-4 1/K"},
                "fill": fill,
            },
            "tracer": [FLAT | {"clock": clock}],
            "insulation": {"layer": [{"thickness": "30 mm", "conductivity": "0.04 W/m/K"}]},
            "outside": {"coefficient": "10 W/m2/K"},
            "condition": [{"name": "cold", "ambient": "-10 degC"}],
            **more,
        }
    )
    return case_for(changed, "cold")


STORE = MeshStore()


def solved(case: Case) -> SectionResult:
    return solve_section(case, STORE, FINENESS)


@pytest.fixture(scope="module")
def at_five() -> SectionResult:
    return solved(line())


def test_it_moves_and_says_so(at_five: SectionResult) -> None:
    assert not at_five.bracketed
    assert 1e3 < at_five.value("contents.rayleigh") < 1e6
    assert at_five.value("contents.prandtl") == pytest.approx(1.0 * 1900 / 0.13, rel=1e-6)
    assert any("Rayleigh" in note and "Boussinesq" in note for note in at_five.notes)
    still = solved(with_contents(at_five.case, state="still"))
    span = still.value("wall.max") - still.value("wall.min")
    assert at_five.value("contents.min") - still.value("contents.min") > 0.05 * span


def test_heat_is_conserved(at_five: SectionResult) -> None:
    assert at_five.value("closure") < 1e-6


def test_between_still_and_mixed(at_five: SectionResult) -> None:
    low = solved(with_contents(at_five.case, state="still")).value("contents.min")
    high = solved(with_contents(at_five.case, state="mixed")).value("contents.min")
    assert low < at_five.value("contents.min") < high


@pytest.mark.slow
def test_mirrored_tracers_give_mirrored_fields(at_five: SectionResult) -> None:
    other = solved(line(clock=7.0))
    for path in ("contents.min", "contents.max", "wall.min", "wall.max", "tracers.T1.sheath_max", "heat_out"):
        assert other.value(path) == pytest.approx(at_five.value(path), abs=1e-4)
    assert other.value("wall.min_clock") == pytest.approx(12 - at_five.value("wall.min_clock"), abs=0.2)
    flow, mirrored = (r.solution.flow.motion.state.psi for r in (at_five, other))  # type: ignore[union-attr]
    assert flow.max() == pytest.approx(-mirrored.min(), rel=1e-4)


def test_weightless_contents_are_still() -> None:
    case = line()
    moving = Moving(case, STORE.get(case, FINENESS, grading_for(1e5)))
    still = solve(moving.network)
    motion = moving.steady(moving.at_rest(still.temperature), 1e-9, 1e-9, Work())
    assert motion.state.temperature == pytest.approx(still.temperature, abs=1e-6)


def test_a_fluid_of_huge_viscosity_is_still() -> None:
    thick = line(fluid=OIL | {"viscosity": "1e6 Pa s", "expansion": "7e-4 1/K"})
    moved, still = solved(thick), solved(with_contents(thick, state="still"))
    for path in ("contents.min", "contents.mean", "contents.max", "wall.min", "wall.max", "heat_out"):
        apart = abs(moved.value(path) - still.value(path))
        assert apart <= moved.quantities[path].band + still.quantities[path].band


@pytest.mark.slow
def test_position_matters_when_contents_move(at_five: SectionResult) -> None:
    above = solved(line(clock=11.0))
    gain = at_five.value("contents.min") - above.value("contents.min")
    assert gain > at_five.quantities["contents.min"].band + above.quantities["contents.min"].band


@pytest.mark.slow
def test_half_full_surface_is_free_of_shear() -> None:
    result = solved(line(fill=0.5))
    assert not result.bracketed
    assert result.value("closure") < 1e-6
    flow = result.solution.flow
    assert flow is not None
    assert flow.mesh.site[:, 1].max() < 1e-3
    assert flow.mesh.rim_slips.any()
    assert any("free of shear" in note for note in result.notes)
    still = solved(with_contents(result.case, state="still"))
    mixed = solved(with_contents(result.case, state="mixed"))
    assert still.value("liquid.min") < result.value("liquid.min") < mixed.value("liquid.min")


@pytest.mark.slow
def test_water_around_four_degrees() -> None:
    """Water whose density is greatest within the bore: resolved, conserved, and it still warms the coldest spot."""
    case = line(fluid="water", tracer=[FLAT | {"output": "4.9 W/m"}])
    result = solved(case)
    cells = cell_temperature(result.solution.network, result.solution.temperature)
    liquid = cells[result.solution.network.mesh.cell_region == 0]
    assert liquid.min() < 277.13 < liquid.max()
    assert not result.bracketed
    assert result.value("closure") < 1e-6


@pytest.mark.slow
def test_out_of_work_is_a_bracket_that_says_so() -> None:
    case = line()
    result = solve_buoyant(case, STORE, FINENESS, None, most=0.0)
    assert result.bracketed
    assert any("not resolved" in note and "work limit" in note for note in result.notes)
    resolved = solved(case)
    for state in ("still", "mixed"):
        bound = solved(with_contents(case, state=state))
        for path in ("contents.min", "wall.min", "wall.max", "tracers.T1.sheath_max"):
            computed = result.quantities[path]
            assert abs(computed.value - bound.value(path)) <= computed.band
            assert abs(computed.value - resolved.value(path)) <= computed.band
            assert not computed.asymptotic


@pytest.mark.slow
def test_no_clock_decides(at_five: SectionResult, monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine that stands still for a day between any two looks at a clock gives the same numbers."""
    now = iter(range(0, 10**12, 86400))
    for clock in ("perf_counter", "monotonic", "process_time", "time"):
        monkeypatch.setattr(time, clock, lambda: float(next(now)))
        for module in (motion, buoyant, stability, section):
            if hasattr(module, clock):
                monkeypatch.setattr(module, clock, lambda: float(next(now)))
    slow = solved(line())
    assert slow.bracketed == at_five.bracketed
    for path, one in at_five.quantities.items():
        assert (slow.value(path), slow.quantities[path].band) == (one.value, one.band)


def test_no_pass_is_built_on_a_bracket_without_an_end() -> None:
    from sim.judge.limits import check_limits

    case = line(limits={"contents_min": "-150 degC", "sheath_max": "-100 degC"})
    computed = replace(bracket(case, STORE, FINENESS, "a test"), ends={})
    by_name = {c.limit: c.verdict for c in check_limits(computed)}
    assert by_name == {"contents_min": "too close to call", "sheath_max": "fail"}


@pytest.mark.slow
def test_a_study_of_variants_does_not_take_moving_contents_for_still(at_five: SectionResult) -> None:
    """One coarse mesh is asked for; the row is the three-mesh answer all the same, with its band."""
    from sim.study.run import run_variant
    from sim.study.variants import Base, Variant

    base = Base(resolved(line()), "a test", ("cold",), 1, FINENESS)
    row = run_variant(base, Variant(0, {}, {}, (), "key"))
    assert row.status == "done", row.reason
    computed = row.results["cold"]
    assert computed["mesh"]["bracketed"] == 0.0
    value, band = computed["values"]["contents.min"], computed["bands"]["contents.min"]
    assert value is not None
    assert band is not None
    assert abs(value - at_five.value("contents.min")) < band + at_five.quantities["contents.min"].band
    assert "contents.rayleigh" in computed["values"]


def test_rim_of_the_flow_takes_the_temperature_of_the_metal() -> None:
    """Between an oil of 0.13 W/m/K and steel the face is as warm as the steel, but for their ratio."""
    case = line()
    moving = Moving(case, STORE.get(case, 1.0))
    network = moving.network
    temperature = np.full(network.nodes, 300.0)
    temperature[moving.heat.flow_node] = 310.0
    steel = case.pipe.material.conductivity(300.0)
    rim = moving.heat.balance(temperature).rim @ temperature
    assert rim == pytest.approx(300.0 + 10.0 * 0.13 / (0.13 + steel), abs=0.01)
