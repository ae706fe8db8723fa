"""Arcs and segments against plane geometry."""

import numpy as np
import pytest

from sim.section.shapes import Arc, Segment, crossings, split

LINE = Segment(0.0, 0.0, 3.0, 4.0)
QUARTER = Arc(1.0, 2.0, 2.0, 0.0, np.pi / 2)
CIRCLE = Arc(0.0, 0.0, 1.0, np.pi / 2, -2 * np.pi)


def test_lengths() -> None:
    assert LINE.length == pytest.approx(5.0)
    assert QUARTER.length == pytest.approx(np.pi)
    assert CIRCLE.closed
    assert not QUARTER.closed


@pytest.mark.parametrize("curve", [LINE, QUARTER, CIRCLE, Arc(1.0, 0.0, 0.5, 2.0, -1.0)])
def test_normals_are_unit_and_to_the_left(curve: Segment | Arc) -> None:
    t = np.linspace(0.05, 0.95, 7)
    along = (curve.point(t + 1e-6) - curve.point(t - 1e-6)) / 2e-6 / curve.length
    normal = curve.normal(t)
    assert np.hypot(*normal.T) == pytest.approx(np.ones(7))
    assert along[:, 0] * normal[:, 1] - along[:, 1] * normal[:, 0] == pytest.approx(np.ones(7), abs=1e-8)


@pytest.mark.parametrize("curve", [LINE, QUARTER, CIRCLE, Arc(1.0, 0.0, 0.5, 2.0, -1.0)])
def test_parameter_undoes_point(curve: Segment | Arc) -> None:
    t = np.linspace(0.01, 0.99, 23)
    assert curve.parameter(*curve.point(t).T) == pytest.approx(t)


def test_distance_counts_the_ends() -> None:
    points = np.array([[-3.0, -4.0], [1.5 - 0.8, 2.0 + 0.6], [6.0, 8.0]])
    assert LINE.distance(points) == pytest.approx([5.0, 1.0, 5.0])
    # a quarter circle: beside it, at its centre, and beyond an end
    points = np.array([[1.0 + 3 / np.sqrt(2), 2.0 + 3 / np.sqrt(2)], [1.0, 2.0], [1.0 - 1.5, 4.0 - 2.0]])
    assert QUARTER.distance(points) == pytest.approx([1.0, 2.0, np.hypot(1.5, 2.0)])


def test_circles_apart_or_one_in_the_other_do_not_cross() -> None:
    assert crossings(CIRCLE, Arc(3.0, 0.0, 1.0, 0.0, 2 * np.pi)) == []
    assert crossings(CIRCLE, Arc(0.1, 0.0, 0.5, 0.0, 2 * np.pi)) == []
    assert crossings(CIRCLE, Arc(0.0, 0.0, 1.5, 0.0, 2 * np.pi)) == []


def test_a_line_crosses_only_the_part_of_the_arc_that_is_there() -> None:
    across = Segment(-2.0, 0.5, 2.0, 0.5)
    assert len(crossings(across, CIRCLE)) == 2
    right_half = Arc(0.0, 0.0, 1.0, -np.pi / 2, np.pi)
    assert crossings(across, right_half) == [pytest.approx((np.sqrt(0.75), 0.5))]
    assert crossings(Segment(-2.0, 0.5, 0.0, 0.5), right_half) == []


def test_segments_cross_once_or_never() -> None:
    assert crossings(LINE, Segment(0.0, 4.0, 3.0, 0.0)) == [pytest.approx((1.5, 2.0))]
    assert crossings(LINE, Segment(0.0, 4.0, 1.0, 4.0 - 4 / 3)) == []
    assert crossings(LINE, Segment(1.0, 0.0, 4.0, 4.0)) == []  # parallel


def test_split_keeps_length_and_ends() -> None:
    parts = split(LINE, [(1.5, 2.0), (0.0, 0.0), (1.5, 2.0), (0.6, 0.8)])
    assert [p.length for p in parts] == pytest.approx([1.0, 1.5, 2.5])
    assert sum(p.moment() for p in parts) == pytest.approx(LINE.moment())


def test_a_circle_split_twice_gives_two_arcs_and_unsplit_stays_whole() -> None:
    parts = split(CIRCLE, [(1.0, 0.0), (0.0, -1.0)])
    assert sorted(p.length for p in parts) == pytest.approx([np.pi / 2, 3 * np.pi / 2])
    assert split(CIRCLE, []) == [CIRCLE]
