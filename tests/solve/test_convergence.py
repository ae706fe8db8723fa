"""Bands on made-up sequences whose exact value is known."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plain_lines import FLAT

from sim.case import case_for, parse_case
from sim.solve.at_rest import bands_of, levels_of
from sim.solve.convergence import SAFETY_UNSURE, banded
from sim.solve.section import solve_section

RATIO = math.sqrt(2.0)


def sequence(order: float, factor: float = 1.0, exact: float = 10.0) -> tuple[float, float, float]:
    return tuple(exact + factor * h**order for h in (2.0, 2.0 / RATIO, 1.0))  # type: ignore[return-value]


def test_the_lesser_of_observed_and_theoretical_order_is_used() -> None:
    """ASME V&V 20-2009: the band is 1.25 times the last change over r^p - 1, p no more than the theoretical order."""
    for order, used in ((1.9, 1.9), (2.2, 2.0)):
        band = banded(sequence(order), RATIO)
        older, newer = band.values[0] - band.values[1], band.values[1] - band.values[2]
        gain = RATIO**used
        assert band.band == pytest.approx(1.25 * max(newer, older / gain) / (gain - 1))
        assert band.extrapolated == pytest.approx(band.value - newer / (gain - 1))


def test_a_swing_has_no_order_even_where_it_shrinks_by_the_right_ratio() -> None:
    swing = banded((10.0, 10.4, 10.2), RATIO)
    assert math.isnan(swing.order)
    assert not swing.asymptotic


def test_the_three_meshes_are_apart_by_the_ratio_that_the_bands_rest_on() -> None:
    coarse, middle, fine = levels_of(3.0)
    assert middle / coarse == pytest.approx(RATIO)
    assert fine / middle == pytest.approx(RATIO)
    exact = [{"wall.min": 280.0 + 1.0 / f**2} for f in (coarse, middle, fine)]
    computed = bands_of(exact)["wall.min"]
    assert computed.order == pytest.approx(2.0)
    assert computed.extrapolated == pytest.approx(280.0)


@pytest.mark.parametrize("order", [2.3, 3.0])
def test_an_order_above_a_tenth_over_the_theoretical_one_is_not_trusted(order: float) -> None:
    band = banded(sequence(order), RATIO)
    assert not band.asymptotic
    assert band.band >= SAFETY_UNSURE * abs(band.values[1] - band.values[2]) * (1 - 1e-12)


@given(st.lists(st.floats(-1.0, 1.0), min_size=3, max_size=3))
def test_no_band_is_below_a_share_of_the_change_between_meshes(values: list[float]) -> None:
    """Two meshes that agree by chance make no narrow band."""
    assert banded(tuple(values), RATIO).band >= 0.4 * np.ptp(values)  # type: ignore[arg-type]


def test_oscillation_rests_on_the_larger_change() -> None:
    band = banded((10.0, 10.4, 10.1), RATIO)
    assert math.isnan(band.order)
    assert not band.asymptotic
    assert band.band == pytest.approx(SAFETY_UNSURE * 0.3)
    wild = banded((9.0, 10.1, 10.0), RATIO)
    assert wild.band == pytest.approx(SAFETY_UNSURE * 1.1 / RATIO**2)


def test_divergence_is_not_called_asymptotic() -> None:
    band = banded((10.0, 10.1, 10.4), RATIO)
    assert not band.asymptotic
    assert band.band >= 0.3 * SAFETY_UNSURE * (1 - 1e-12)


def test_equal_values_are_left_to_rounding() -> None:
    band = banded((5.0, 5.0, 5.0), RATIO, rounding=1e-7)
    assert band.band == pytest.approx(1e-7)
    assert band.asymptotic


def test_rounding_is_added() -> None:
    assert banded(sequence(2.0), RATIO, 0.5).band == pytest.approx(banded(sequence(2.0), RATIO).band + 0.5)


@pytest.mark.parametrize("where", [0, 1, 2])
def test_not_a_number_stays_one(where: int) -> None:
    values = [10.0, 10.1, 10.2]
    values[where] = float("nan")
    band = banded(tuple(values), RATIO)  # type: ignore[arg-type]
    assert math.isnan(band.band)
    assert not band.asymptotic


def test_scattered_second_order_is_mostly_inside() -> None:
    """Second order with scatter of a tenth of the finest error, as on meshes that are not similar."""
    rng = np.random.default_rng(5)
    hits = []
    for _ in range(400):
        noise = 1 + 0.1 * rng.standard_normal(3)
        values = tuple(10.0 + h**2 * n for h, n in zip((2.0, 2.0 / RATIO, 1.0), noise, strict=True))
        band = banded(values, RATIO)
        hits.append(abs(band.value - 10.0) <= band.band)
    assert np.mean(hits) > 0.9


def test_a_layer_too_thin_for_the_coarse_mesh_has_a_wide_band() -> None:
    """A bore filled to 0.03 %: liquid cells on finer meshes only; the contents stand in, and the band says it."""
    raw = {
        "pipe": {"outer_diameter": "141.6 mm", "wall": "2.6 mm", "material": "carbon steel"},
        "contents": {"state": "still", "fill": 0.0003},
        "tracer": [FLAT],
        "insulation": {"layer": [{"thickness": "30 mm", "conductivity": "0.04 W/m/K"}]},
        "condition": [{"name": "cold", "ambient": "-10 degC"}],
    }
    case = case_for(parse_case(raw), "cold")
    coarse, fine = (solve_section(case, fineness=f).quantities for f in (0.75, 3.0))
    assert coarse["liquid.min"].values[0] == coarse["contents.min"].values[0]
    assert abs(coarse["liquid.min"].value - fine["liquid.min"].value) <= coarse["liquid.min"].band
    assert coarse["liquid.min"].band > fine["liquid.min"].band


def test_under_foil_errors_that_cancel_are_told_of() -> None:
    """A wall that warms and a rise that falls with the cells' size, both of first order: their sum hardly moves."""
    errors = (0.2, 0.2 / RATIO, 0.1)
    levels = [{"wall.mean": 330.0 - e, "tracers.T1.mean": 345.0 - e + (0.1 + e)} for e in errors]
    assert bands_of(levels)["tracers.T1.mean"].band < 1e-6
    computed = bands_of(levels, foil=True)["tracers.T1.mean"]
    assert computed.band >= computed.value - 345.0 > 0.0
