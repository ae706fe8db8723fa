"""The search on rules whose answer is known."""

import pytest

from sim.study.axes import Point
from sim.study.search import Space, Step, bisect


def number_space(low: float, high: float, within: float) -> Space:
    return Space("x", "mm", (), low, high, within, lambda v: Point(f"{v:g} mm", v, ()))


def rule(met):
    return lambda point: Step(point, met(point.number), 0.0, "")


@pytest.mark.parametrize("threshold", [10.0, 10.3, 28.6, 77.7, 119.9])
def test_least_number_within_the_tolerance(threshold: float) -> None:
    found = bisect(number_space(10.0, 120.0, 0.5), rule(lambda v: v >= threshold), "it")
    assert found.least is not None
    assert threshold <= found.least.number <= threshold + 0.5
    assert found.below is None or found.below.number < threshold
    assert len(found.path) <= 11


def test_limit_met_only_in_the_middle_of_the_bracket() -> None:
    found = bisect(number_space(0.0, 100.0, 1.0), rule(lambda v: 35.0 <= v <= 70.0), "it")
    assert found.least is not None
    assert 35.0 <= found.least.number <= 36.0


def test_nothing_meets_it() -> None:
    found = bisect(number_space(0.0, 100.0, 1.0), rule(lambda v: False), "it")
    assert found.least is None
    assert "No value of x" in found.in_words()


@pytest.mark.parametrize("threshold", [1, 2, 3, 4])
def test_least_of_a_list(threshold: int) -> None:
    points = tuple(Point(str(n), float(n), ()) for n in (1, 2, 3, 4))
    found = bisect(Space("n", "", points), rule(lambda v: v >= threshold), "it")
    assert found.least == points[threshold - 1]
    tried = [step.point.number for step in found.path]
    assert len(tried) == len(set(tried))
