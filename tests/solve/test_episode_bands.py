"""Bands over time: at equal phase of switchings, a moment's by its value's; a lagging sensor; matrices from others."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.sparse import diags_array

from sim.solve.course import course, times
from sim.solve.direct import JointMatrices
from sim.solve.drive import Thermostat
from sim.solve.episode import Track
from sim.solve.episode_result import EpisodeResult, Run, Series, at_phase
from sim.solve.nearby import WORTH, Nearby


def _switched(*moments: float) -> Track:
    return Track(switchings={"C1": [(at, i % 2 == 1) for i, at in enumerate(moments)]})


def test_moments_at_equal_phase() -> None:
    """Switchings go to switchings, a change stays where it is, and what is between them keeps its part; what comes
    after the last is as long after it, up to the other's next switching."""
    episode = SimpleNamespace(lasts=100.0, changes=[SimpleNamespace(at=50.0)])
    there = at_phase(_switched(10.0, 30.0, 60.0), _switched(12.0, 33.0, 62.0, 95.0), episode)  # type: ignore[arg-type]
    moments = np.array([0.0, 10.0, 20.0, 30.0, 50.0, 60.0, 80.0, 100.0])
    assert there(moments) == pytest.approx([0.0, 12.0, 22.5, 33.0, 50.0, 62.0, 82.0, 95.0])
    assert (np.diff(there(np.linspace(0.0, 100.0, 1001))) >= 0).all()


def _result(values: np.ndarray, at: np.ndarray, band: float) -> EpisodeResult:
    run = Run(SimpleNamespace(), Track(), {"wall.min": course(times(at), values)})  # type: ignore[arg-type]
    written = Series(values, np.full(len(at), band), band)
    episode = SimpleNamespace(lasts=at[-1], changes=[])
    nothing = SimpleNamespace()
    return EpisodeResult(nothing, episode, (), (run, run, run), run, at, {"wall.min": written})  # type: ignore[arg-type]


@pytest.mark.parametrize("slope", [2.0, 0.5])
def test_a_moments_band_is_its_values_over_the_slope(slope: float) -> None:
    """And without an end where the band of the value holds all that is left of the fall."""
    at = np.linspace(0.0, 10.0, 41)
    falls = _result(20.0 - slope * at, at, 0.3)
    moment = falls.moment(lambda run: run.course("wall.min").first(1, 19.0)[0])
    assert (moment.value, moment.band) == (pytest.approx(1.0 / slope), pytest.approx(0.3 / slope, rel=1e-6))
    levels = _result(18.9 + 1.1 * np.exp(-at), at, 0.3)
    found = levels.moment(lambda run: run.course("wall.min").first(1, 19.0)[0])
    assert np.isinf(found.band)
    soonest = levels.earliest(found, lambda run: run.course("wall.min").first(1, 19.0)[0])
    assert soonest == pytest.approx(np.log(1.1 / 0.4), rel=1e-3)
    sure = replace(levels, series={"wall.min": Series(levels.series["wall.min"].value, np.zeros(41), 0.0)})
    assert sure.moment(lambda run: run.course("wall.min").first(1, 19.0)[0]).band < 1e-5


def test_two_meshes_and_a_moment_at_which_a_course_stays() -> None:
    """The change between the meshes thrice over (ratio sqrt 2, order 2) and 1.7 times the steps'; what stays at a value
    has the band of its way there, though no warmer course comes; what no mesh passes, but a colder course does, may."""
    at = np.linspace(0.0, 10.0, 41)
    falls = [np.maximum(20.0 + shift - 2.0 * at, 12.0) for shift in (0.2, 0.0, 0.23)]
    coarse, fine, tight = (replace(_result(v, at, 0.3).fine) for v in falls)
    two = replace(_result(falls[1], at, 0.9), runs=(coarse, fine), tight=tight, least={"wall.min": 0.9})
    early = two.moment(lambda run: run.course("wall.min").first(1, 16.0)[0])
    assert early.band == pytest.approx(0.45, rel=1e-3)  # 0.9 K at 2 K/s, more than 3 * 0.1 s + 1.7 * 0.015 s
    value = two.number(lambda run: run.course("wall.min").extreme("max")[0])
    alone = replace(two, least={}).number(lambda run: run.course("wall.min").extreme("max")[0])
    assert (value.band, alone.band) == (pytest.approx(0.9), pytest.approx(3 * 0.2 + 1.7 * 0.03, rel=1e-3))
    ice, both = (
        two.moment(lambda run: run.course("wall.min").first(1, 12.5)[0], stays=stays)
        for stays in (True, False)
    )
    assert ice.band == pytest.approx(0.45, rel=1e-3)
    assert np.isinf(both.band)
    never = two.moment(lambda run: run.course("wall.min").first(1, 11.5)[0])
    assert np.isnan(never.value)
    assert np.isinf(never.band)


def test_a_lagging_reading_within_a_step() -> None:
    """dy/dt = (x - y) / tau behind a surface that goes straight: y = x - b tau + (y0 - x0 + b tau) e^(-t / tau)."""
    thermostat = Thermostat(SimpleNamespace(), np.ones(1), 600.0)  # type: ignore[arg-type]
    thermostat.read(280.0, 283.0, 1000.0)
    rate, span = 2e-3, 900.0
    exact = 283.0 + rate * (span - 600.0) + (280.0 - 283.0 + rate * 600.0) * np.exp(-span / 600.0)
    assert thermostat.reading_at(1000.0 + span, 283.0 + rate * span) == pytest.approx(exact)
    assert thermostat.reading_at(1000.0, 283.0) == 280.0
    assert replace(thermostat, time_constant=0.0).reading_at(1500.0, 281.0) == 281.0


def test_matrices_solved_from_the_factor_of_another() -> None:
    """A line of nodes some of which take in a million times more from one matrix to the next, with one-sided joints."""
    nodes, rng = 200, np.random.default_rng(7)
    matrices = JointMatrices(nodes, np.arange(nodes - 1), np.arange(1, nodes))
    nearby = Nearby(matrices, np.arange(60, 90))
    plain = rng.uniform(0.5, 2.0, nodes - 1)
    whole: list[int] = []
    for turn in range(6):
        from_a, beyond = plain.copy(), np.full(nodes, 0.1)
        from_a[60:89] *= rng.uniform(1.0, 4.0, 29)
        beyond[rng.choice(np.arange(60, 90), 12)] = 1e5
        own = matrices.own(from_a, plain, beyond)
        exact = diags_array([-from_a, own, -plain], offsets=[-1, 0, 1]).toarray()
        anew = partial(_factored, matrices, from_a, plain, own, whole)
        right = rng.normal(size=nodes)
        solve = nearby.factor(from_a, plain, own, anew, np.zeros_like)
        assert np.abs(exact @ solve(right) - right).sum() <= 3e-3 * np.abs(right).sum(), turn
    assert len(whole) < 6
    before = len(whole)
    for _ in range(2 * WORTH):  # one that serves often is factored itself, once, and is exact from then on
        left = np.abs(exact @ solve(right) - right).sum()
    assert left <= 1e-9 * np.abs(right).sum()
    assert len(whole) <= before + 1


def _factored(
    matrices: JointMatrices, from_a: np.ndarray, from_b: np.ndarray, own: np.ndarray, whole: list[int]
) -> Callable[[np.ndarray], np.ndarray]:
    whole.append(1)
    return matrices.factor(from_a, from_b, own)
