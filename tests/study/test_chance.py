"""Intervals and indices against closed forms."""

import numpy as np
import pytest
from frames import frame
from scipy import stats

from sim.study import chance
from sim.study.band import Bands
from sim.study.schema import Sampling


def test_clopper_pearson_against_its_closed_form() -> None:
    """With no failure in n, the lower bound is (alpha/2)^(1/n) (Clopper and Pearson 1934)."""
    for n in (10, 59, 256):
        low, high = chance.interval(n, n, 0.95)
        assert low == pytest.approx(0.025 ** (1 / n), rel=1e-9)
        assert high == 1.0
    low, high = chance.interval(0, 30, 0.9)
    assert (low, high) == (0.0, pytest.approx(1 - 0.05 ** (1 / 30), rel=1e-9))


def test_total_sobol_indices_of_the_ishigami_function() -> None:
    """Ishigami and Homma (1990): for a = 7, b = 0.1 the total indices are 0.5576, 0.4424, 0.2437."""
    pytest.importorskip("SALib")
    from sim.study.sampling import problem, salib

    names = ("x1", "x2", "x3")
    points = salib().sample.sobol.sample(problem(names), 2048, calc_second_order=False, seed=3)
    x = np.pi * (2 * points - 1)
    y = np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])
    computed = chance._sobol("c", "p", names, y, Sampling(method="saltelli", samples=2048))
    for driver, total, first in zip(computed, (0.5576, 0.4424, 0.2437), (0.3139, 0.4424, 0.0), strict=True):
        assert driver.value == pytest.approx(total, abs=0.03)
        assert driver.first == pytest.approx(first, abs=0.03)


def test_of_the_pairs_for_indices_only_plain_samples_are_counted() -> None:
    numbers = np.arange(40)
    rows = chance.independent(np.arange(40), numbers, Sampling(method="saltelli", samples=8), 3, 40)
    assert rows.tolist() == [0, 4, 5, 9, 10, 14, 15, 19, 20, 24, 25, 29, 30, 34, 35, 39]


def known(n: int, margins: dict[str, list[float]], band: float = 1.0) -> list[chance.Chance]:
    """Chances from made-up margins of one condition, every path with the same band."""
    paths = {limit: "wall.min" if limit == "wall_min" else "contents.min" for limit in margins}
    made = frame(values={"cold": {p: [280.0] * n for p in paths.values()}}, margins={"cold": margins})
    bands = Bands({}, {"cold": dict.fromkeys(paths.values(), band)}, {}, 1)
    return chance.chances(made, bands, np.arange(n), 0.9)


def test_a_sample_holds_only_beyond_its_band_and_a_close_one_counts_for_both() -> None:
    """Clopper and Pearson (1934): 20 of 30 hold, 8 are too close; the ends are those of 20 and of 28 of 30."""
    (computed,) = known(30, {"wall_min": [5.0] * 20 + [0.4] * 5 + [-0.4] * 3 + [-4.0] * 2})
    assert (computed.holds, computed.close, computed.n) == (20, 8, 30)
    assert computed.probability == pytest.approx(25 / 30)
    assert computed.low == pytest.approx(stats.beta.ppf(0.05, 20, 11))
    assert computed.high == pytest.approx(stats.beta.ppf(0.95, 29, 2))


def test_all_limits_hold_where_each_does() -> None:
    wall, contents = [5.0, 5.0, -5.0, 0.5, -5.0], [5.0, -5.0, 5.0, 5.0, 0.5]
    *_, every = known(5, {"wall_min": wall, "contents_min": contents})
    assert every.limit == chance.ALL
    # the first holds; the fourth is open; the fifth is open in one limit but missed in the other
    assert (every.holds, every.close) == (1, 1)
    assert every.probability == pytest.approx(2 / 5)


def test_rank_correlation_sees_any_monotone_law_and_its_interval_is_fishers() -> None:
    """Spearman's is 1 for any rising law; else atanh(r) +- 1.03 z / sqrt(n - 3) (Fieller, Hartley, Pearson 1957)."""
    x = np.linspace(0.0, 1.0, 40)
    noisy = x + 0.5 * np.sin(37.0 * x)
    made = frame(values={"c": {"wall.min": x}}, inputs={"x": x})
    (rising,) = chance._ranked("c", "wall.min", ("x",), made, np.arange(40), np.exp(9.0 * x), 0.95)
    assert rising.value == pytest.approx(1.0)
    (computed,) = chance._ranked("c", "wall.min", ("x",), made, np.arange(40), noisy, 0.95)
    ranks = np.argsort(np.argsort(noisy))
    r = np.corrcoef(np.arange(40), ranks)[0, 1]
    assert 0.3 < r < 0.95
    assert computed.value == pytest.approx(r)
    width = 1.03 * 1.959964 / np.sqrt(37.0)
    assert computed.band == pytest.approx(
        (np.tanh(np.arctanh(r) + width) - np.tanh(np.arctanh(r) - width)) / 2
    )


def test_spread_of_known_values() -> None:
    """0 to 100 evenly: the percentiles are themselves; the sample's variance is n (n + 1) / 12."""
    made = frame(values={"c": {"wall.min": 273.15 + np.arange(101.0), "heat_out": np.full(101, np.nan)}})
    (computed,) = chance.spreads(made, Bands({}, {}, {}, 0), np.arange(101), ["wall.min", "heat_out"])
    assert computed.percentiles == pytest.approx((5.0, 50.0, 95.0))
    assert computed.mean == pytest.approx(50.0)
    assert computed.deviation == pytest.approx(np.sqrt(101 * 102 / 12))
