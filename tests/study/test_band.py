"""Bands of studies on made-up rows, by hand."""

import numpy as np
import pytest
from frames import frame

from sim.study.answer import limit_statements
from sim.study.band import Bands, bands, choose_references, in_words, of_difference
from sim.study.verdicts import verdicts

NAN = float("nan")


def test_shared_band_is_the_worst_reference_and_a_difference_takes_both_meshes() -> None:
    """Errors 0.5, -0.2, 0.1 K against the finer answers, whose own bands are 0.1, 0.3, 0.05 K."""
    coarse = frame(values={"c": {"wall.min": [280.5, 289.8, 300.1], "wall.min_clock": [11.9, 6.0, 3.0]}})
    fine = frame(
        values={"c": {"wall.min": [280.0, 290.0, 300.0], "wall.min_clock": [0.1, 6.0, 3.0]}},
        bands={"c": {"wall.min": [0.1, 0.3, 0.05], "wall.min_clock": [0.0, 0.0, 0.0]}},
    )
    shared = bands(coarse, fine)
    assert shared.of("c", "wall.min", 1) == pytest.approx(0.6)
    assert shared.difference("c", "wall.min", 0, 1) == pytest.approx(0.7 + 0.1 + 0.3)
    assert shared.of("c", "wall.min_clock", 0) == pytest.approx(0.2)  # the short way round
    assert np.isnan(shared.of("c", "wall.max", 0))


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


def test_a_limit_missed_or_held_inside_its_band_is_too_close_to_call() -> None:
    """Margins 2, 0.3, -0.3 and -2 K with a band of 0.5 K: one holds, two are too close, one is missed."""
    made = frame(
        values={"c": {"wall.min": [282.0, 280.3, 279.7, 278.0]}},
        margins={"c": {"wall_min": [2.0, 0.3, -0.3, -2.0]}},
    )
    own = Bands({"c": {"wall.min": np.full(4, 0.5)}}, {}, {}, 0)
    (statement,) = limit_statements(made, own)
    assert "holds in 1 of 4, is missed in 1 (" in statement.text
    assert "is too close to call in 2 (" in statement.text


def test_a_variant_with_bands_of_its_own_uses_them_beside_others_that_share() -> None:
    """A bracket of 0.36 K beside variants on one mesh, of which a reference was 0.1 K off."""
    coarse = frame(
        values={"c": {"wall.min": [280.0, 281.0, 282.0]}},
        bands={"c": {"wall.min": [NAN, 0.36, NAN]}},
        margins={"c": {"wall_min": [0.2, 0.2, 0.2]}},
    )
    coarse.bracketed["c"] = np.array([False, True, False])
    coarse.verdicts["c"] = {"wall_min": np.array(["", "too close to call", ""], dtype=object)}
    coarse.meshes["c"] = np.array([1, 3, 1])
    fine = frame(
        values={"c": {"wall.min": [279.95, 281.0, 282.0]}}, bands={"c": {"wall.min": [0.05, 0.3, 0.05]}}
    )
    fine.number[:] = [0, 5, 6]
    shared = bands(coarse, fine)
    assert [shared.of("c", "wall.min", i) for i in range(3)] == pytest.approx([0.1, 0.36, 0.1])
    assert shared.difference("c", "wall.min", 0, 1) == pytest.approx(0.46)
    assert verdicts(coarse, shared, "c", "wall_min") == ["pass", "too close to call", "pass"]
    (statement,) = limit_statements(coarse, shared)
    assert "holds in 2 of 3" in statement.text
    assert "In 1 of them the contents' flow was not resolved: the result is a bracket" in statement.text
    words = in_words(coarse, shared, 1.5)
    assert "on three meshes, 1 of 3 variants (1 are brackets" in words
    assert "One mesh" not in words


def test_a_difference_is_judged_mesh_by_mesh() -> None:
    """Both fall by 0.4 and 0.1 K; their difference moves by 0.01 and 0.005 K, second order: the index of that."""
    one, other = [280.0, 279.6, 279.5], [281.0, 280.59, 280.485]
    index = 1.25 * 0.005 / (2 - 1)  # safety factor, cells smaller by sqrt 2 (Roache 1994)
    assert of_difference("wall.min", one, other, 0.02, 0.02) == pytest.approx(index, rel=0.02)
    # No narrower than a tenth of the wider band, however well two variants agree by chance on the meshes tried.
    assert of_difference("wall.min", one, [281.0, 280.6001, 280.5], 0.1, 0.2) == pytest.approx(0.02)
    # Never wider than both together.
    assert of_difference("wall.min", one, [281.0, 279.0, 283.0], 0.1, 0.2) == pytest.approx(0.3)
    # Mirror images agree on every mesh.
    assert of_difference("wall.min", one, one, 0.1, 0.1) < 1e-4
    assert of_difference("wall.min_clock", [11.9, 11.9, 11.9], [0.1, 0.1, 0.1], 0.0, 0.0) == 0.0


def test_one_reference_says_nothing_of_differences() -> None:
    coarse = frame(values={"c": {"wall.min": [280.5, 290.0]}})
    fine = frame(values={"c": {"wall.min": [280.0, 290.0]}}, bands={"c": {"wall.min": [0.1, 0.1]}})
    fine.number[1] = 9
    shared = bands(coarse, fine)
    assert shared.difference("c", "wall.min", 0, 1) == pytest.approx(2 * 0.6)
