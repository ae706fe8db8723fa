"""Bands of studies on made-up rows, by hand."""

import numpy as np
import pytest
from frames import frame

from sim.study.answer import limit_statements
from sim.study.band import Bands, bands, choose_references

NAN = float("nan")


def test_shared_band_is_the_worst_reference_and_a_difference_takes_both_meshes() -> None:
    """Errors 0.5, -0.2, 0.1 K against the finer answers, whose own bands are 0.1, 0.3, 0.05 K."""
    coarse = frame(values={"c": {"wall.min": [280.5, 289.8, 300.1], "wall.min_clock": [11.9, 6.0, 3.0]}})
    fine = frame(
        values={"c": {"wall.min": [280.0, 290.0, 300.0], "wall.min_clock": [0.1, 6.0, 3.0]}},
        bands={"c": {"wall.min": [0.1, 0.3, 0.05], "wall.min_clock": [0.0, 0.0, 0.0]}},
    )
    found = bands(coarse, fine)
    assert found.of("c", "wall.min", 1) == pytest.approx(0.6)
    assert found.difference("c", "wall.min", 0, 1) == pytest.approx(0.7 + 0.1 + 0.3)
    assert found.of("c", "wall.min_clock", 0) == pytest.approx(0.2)  # the short way round
    assert np.isnan(found.of("c", "wall.max", 0))


def test_own_bands_of_two_variants_add_up() -> None:
    own = Bands({"c": {"wall.min": np.array([0.1, 0.3])}}, {}, {}, 0)
    assert own.difference("c", "wall.min", 0, 1) == pytest.approx(0.4)


def test_the_variant_of_least_margin_is_a_reference() -> None:
    n = 9
    margin = np.full(n, 8.0)
    margin[5] = 0.2
    other = np.full(n, 9.0)
    other[2] = 0.9
    made = frame(
        values={"c": {"wall.min": np.arange(n) + 280.0}},
        margins={"c": {"wall_min": margin, "wall_max": other}},
    )
    assert made.least_margin() == pytest.approx(np.minimum(margin, other))
    assert choose_references(made, ["wall.min"], 3)[0] == 5


def test_no_margin_where_there_is_none() -> None:
    made = frame(values={"c": {"wall.min": [1.0, 2.0]}}, margins={"c": {"wall_min": [NAN, 3.0]}})
    assert np.isnan(made.least_margin()[0])
    assert made.least_margin()[1] == 3.0


def test_a_limit_missed_or_held_inside_its_band_is_too_close_to_call() -> None:
    """Margins 2, 0.3, -0.3 and -2 K with a band of 0.5 K: one holds, two are too close, one is missed."""
    made = frame(
        values={"c": {"wall.min": [282.0, 280.3, 279.7, 278.0]}},
        margins={"c": {"wall_min": [2.0, 0.3, -0.3, -2.0]}},
    )
    own = Bands({"c": {"wall.min": np.full(4, 0.5)}}, {}, {}, 0)
    (said,) = limit_statements(made, own)
    assert "holds in 1 of 4, is missed in 1 (" in said.text
    assert "is too close to call in 2 (" in said.text
