"""The helpers of the speed page; nothing here is timed."""

import numpy as np
import pytest

from validation.speed.curves import Point, power, reached


def line(series: str, *rows: tuple[float, float, float]) -> list[Point]:
    return [Point("one", series, 0.0, unknowns, seconds, seconds, error) for unknowns, seconds, error in rows]


def test_the_time_is_interpolated_where_error_is_a_power_of_time() -> None:
    points = line("a", *((n, 1e-3 * n, 100.0 / n) for n in (50.0, 100.0, 400.0)))
    computed = reached(points, 0.5)
    assert computed.seconds == pytest.approx(0.2)
    assert not computed.bound


def test_a_coarse_mesh_that_is_right_by_luck_does_not_count() -> None:
    lucky = line("a", (10, 0.01, 0.0), (100, 0.1, 2.0), (1000, 1.0, -0.1))
    assert 0.1 < reached(lucky, 0.5).seconds < 1.0


def test_the_quickest_series_counts_and_a_coarsest_mesh_is_a_bound() -> None:
    slow, quick = line("slow", (10, 2.0, 0.1)), line("quick", (10, 1.0, 0.4), (20, 1.5, 0.2))
    computed = reached(slow + quick, 0.5)
    assert (computed.series, computed.seconds, computed.bound) == ("quick", 1.0, True)


def test_an_error_never_reached_has_no_time() -> None:
    assert np.isnan(reached(line("a", (10, 1.0, 3.0)), 0.5).seconds)


def test_the_exponent_of_a_power_law() -> None:
    assert power([10, 100, 1000], [3 * n**1.2 for n in (10, 100, 1000)]) == pytest.approx(1.2)
