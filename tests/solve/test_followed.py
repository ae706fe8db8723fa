"""Contents followed in time: conservation, what settles, two lengths of step, statistics, limits."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from plain_lines import FLAT, LIQUID, line, only

from sim.case import Case
from sim.judge.confidence import sensitivity, with_confidence
from sim.judge.limits import check_limits
from sim.solve import average as own
from sim.solve import track
from sim.solve.at_rest import MeshStore, SectionResult
from sim.solve.average import average
from sim.solve.buoyant import solve_buoyant
from sim.solve.estimate import estimate
from sim.solve.followed import Following
from sim.solve.moving import Moving, grading_for
from sim.solve.track import Asked, NotFollowed, Track, batch_band, begun, first_field, followed, kept_from

STORE = MeshStore()


def moving_line(viscosity: str = "0.05 Pa s", **more: Any) -> Case:
    fluid = LIQUID | {"viscosity": viscosity}
    contents = {"state": "buoyant", "fluid": fluid, **more.pop("contents", {})}
    tracer = FLAT | {"output": more.pop("output", "10 W/m")}
    return only(line(tracer, contents=contents, **more))


def on_a_mesh(case: Case, rayleigh: float = 1e5) -> Moving:
    return Moving(case, STORE.get(case, 1.0, grading_for(rayleigh)))


def flow_of(moving: Moving, film: float = 50.0) -> Following:
    start, _ = first_field(moving, moving.network.case, film)
    x, _ = moving.flow.site.T
    return begun(moving, start, 0.02 * x)


def test_what_enters_less_what_leaves_is_what_is_stored() -> None:
    """Over some hundred steps of one length: the joints of contents, wall, insulation and film, and what moves."""
    moving = on_a_mesh(moving_line())
    flow = flow_of(moving)
    for _ in range(60):
        flow.step()
        flow.fit_step()
    flow.refer(flow.state.temperature)
    before, entered = flow.state.temperature.copy(), 0.0
    for _ in range(100):
        flow.step()
        balance = flow.offset - flow.balance.matrix @ flow.state.temperature
        entered += flow.length * float(balance.sum())
    stored = float(flow.stored @ (flow.state.temperature - before))
    passed = 100 * flow.length * float(flow.balance.scale)
    assert abs(stored - entered) < 2e-3 * passed
    carried, _ = flow.what_flow_carries()
    assert abs(carried.sum()) < 1e-9 * np.abs(carried).sum()


def test_the_start_is_cut_off_where_it_shows() -> None:
    random = np.random.default_rng(3)
    series = random.normal(0.0, 0.1, 200)
    series[:40] += np.linspace(3.0, 0.0, 40)
    assert 25 <= kept_from(series, 0) <= 60
    assert kept_from(series, 70) >= 70


def test_the_band_of_stretches_holds_the_mean() -> None:
    """95 % of independent means lie within it; of 400 at least 360."""
    random = np.random.default_rng(5)
    checks = [abs(m.mean()) <= batch_band(m) for m in random.normal(0.0, 1.0, (400, 10))]
    assert 360 <= sum(checks) <= 396


@pytest.fixture(scope="module")
def averaged() -> SectionResult:
    case = moving_line("0.01 Pa s")
    patch = pytest.MonkeyPatch()
    patch.setattr(own, "MOST", 3.0)
    patch.setattr(own, "OTHER_ROUNDS", 3.0)
    try:
        return average(case, STORE, 1.5, "a test", estimate(case, STORE, 1.5))
    finally:
        patch.undo()


def test_an_average_has_its_bands_by_part(averaged: SectionResult) -> None:
    assert (averaged.basis, averaged.bracketed) == ("average", False)
    for path in ("contents.min", "wall.min", "wall.max", "tracers.T1.sheath_max"):
        parts = averaged.parts[path]
        assert set(parts) == {"mesh", "statistics", "start", "model"}
        assert averaged.quantities[path].band == pytest.approx(sum(parts.values()))
        assert min(parts["mesh"], parts["statistics"], parts["model"]) > 0
    assert averaged.value("heat_out") == pytest.approx(10.0, rel=5e-3)


@pytest.mark.slow
def test_averages_of_a_steady_flow_are_the_steady_answer() -> None:
    """A viscous fluid whose flow lasts, followed all the same: within both bands, and it does not swing."""
    case = moving_line("0.2 Pa s")
    steady = solve_buoyant(case, STORE, 1.5)
    assert steady.basis == "steady flow"
    found = average(case, STORE, 1.5, "a test", estimate(case, STORE, 1.5))
    for path in ("contents.min", "wall.min", "wall.max", "tracers.T1.sheath_max", "heat_out"):
        one, other = found.quantities[path], steady.quantities[path]
        assert abs(one.value - other.value) <= one.band + other.band, path
    low, high = found.value("contents.min_low"), found.value("contents.min")
    assert 0.0 <= high - low < 0.02


@pytest.mark.slow
def test_layers_of_the_second_start_go() -> None:
    """A plastic line with a tracer on the side: from contents in layers, which take ten rounds to go, to the same."""
    plastic = {"conductivity": "0.5 W/m/K", "density": "950 kg/m3", "specific_heat": "1900 J/kg/K"}
    pipe = {"outer_diameter": "168.3 mm", "wall": "15.3 mm", "material": plastic}
    case = only(line(FLAT | {"clock": 4.77}, pipe=pipe, contents={"state": "buoyant", "fluid": "glycol"}))
    found = average(case, STORE, 1.5, "a test", estimate(case, STORE, 1.5))
    assert found.parts["contents.min"]["start"] < 0.05


def test_limits_hold_the_moments_or_the_average(averaged: SectionResult) -> None:
    """The cautious one by default: the coldest moments lie below the average, the hottest above."""
    assert averaged.value("contents.min_low") <= averaged.value("contents.min")
    assert averaged.value("tracers.T1.sheath_max_high") >= averaged.value("tracers.T1.sheath_max")
    limits = averaged.case.limits.model_copy(update={"contents_min": 250.0, "sheath_max": 500.0})
    case = averaged.case.model_copy(update={"limits": limits})
    checks = check_limits(replace(averaged, case=case))
    assert {c.quantity for c in checks} == {"contents.min_low", "tracers.T1.sheath_max_high"}
    known = sensitivity(case, STORE, averaged, 1.5)
    for check in with_confidence(checks, known, case.limits):
        assert check.worth > 0
    plain = {p: q for p, q in averaged.quantities.items() if not p.endswith(("_low", "_high"))}
    checks = check_limits(replace(averaged, case=case, quantities=plain))
    assert {c.quantity for c in checks} == {"contents.min", "tracers.T1.sheath_max"}


class Stopped(Exception):
    """What stops a run in a test."""


def test_a_run_that_is_stopped_goes_on_as_if_it_had_not_been(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same steps, the same field to the last bit; a run that is finished is not followed again."""
    for name, value in (("SAVE_EVERY", 0.0), ("SETTLED", (0.2,)), ("LEAST", 0.6)):
        monkeypatch.setattr(track, name, value)
    moving = on_a_mesh(moving_line("0.01 Pa s"))
    start, _ = first_field(moving, moving.network.case, 50.0)
    uneven, told = 0.02 * moving.flow.site[:, 0], list[float]()

    def follow(file: Path | None, stops: bool = False) -> Track:
        def tell(rounds: float, *_: float) -> None:
            told.append(rounds)
            if stops:
                raise Stopped

        return followed(moving, start.copy(), uneven, Asked(tell, lambda *_: False, kept=file, most=0.6))

    with pytest.raises(Stopped):
        follow(tmp_path / "a.npz", stops=True)
    again, whole = follow(tmp_path / "a.npz"), follow(None)
    assert (again.steps, again.rounds) == (whole.steps, whole.rounds)
    assert np.array_equal(again.mean().temperature, whole.mean().temperature)
    assert np.array_equal(again.frames().temperature, whole.frames().temperature)
    told.clear()
    assert follow(tmp_path / "a.npz").steps == whole.steps
    assert not told


def test_a_stated_time_ends_it_with_what_it_has(monkeypatch: pytest.MonkeyPatch) -> None:
    """Before the least of rounds there is nothing to give; after it the band is that of what was reached."""
    moving = on_a_mesh(moving_line("0.01 Pa s"))
    start, _ = first_field(moving, moving.network.case, 50.0)
    uneven = 0.02 * moving.flow.site[:, 0]

    def follow(tell: Any, until: float) -> Track:
        return followed(moving, start.copy(), uneven, Asked(tell, lambda *_: False, until))

    with pytest.raises(NotFollowed, match=r"its time ended after 0\.0 rounds"):
        follow(lambda *_: None, 0.0)
    monkeypatch.setattr(track, "LEAST", 0.3)
    moments = iter([1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 5.0, 5.0, 5.0])
    monkeypatch.setattr(track, "perf_counter", lambda: next(moments))
    late = follow(lambda *_: None, 2.0)
    assert late.late
    assert 0.3 <= late.rounds < 0.6


def test_what_is_not_followed_says_why(monkeypatch: pytest.MonkeyPatch) -> None:
    case = moving_line("0.01 Pa s", contents={"average": True})
    monkeypatch.setattr(own, "MOST_RAYLEIGH", 1.0)
    with pytest.raises(NotFollowed, match="Rayleigh number"):
        average(case, STORE, 1.0, "a test", estimate(case, STORE, 1.0))
    result = solve_buoyant(case, STORE, 1.0, None, most=0.0)
    assert result.basis in ("estimate", "bracket")
    assert any("averages were asked for, but the flow was not followed" in note for note in result.notes)
    half = moving_line("0.01 Pa s", contents={"fill": 0.5})
    with pytest.raises(NotFollowed, match="partly filled"):
        average(half, STORE, 1.0, "a test", estimate(half, STORE, 1.0))
