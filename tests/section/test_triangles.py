"""Triangles: empty circles, neighbours across their edges, points that coincide, against an independent library."""

import numpy as np
from scipy.spatial import Delaunay

from sim.section.triangles import triangulation

POINTS = np.random.default_rng(3).random((2_000, 2))


def area(corner: np.ndarray, points: np.ndarray) -> np.ndarray:
    a, b, c = (points[corner[:, i]] for i in range(3))
    return 0.5 * ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])


def test_same_triangles_as_qhull() -> None:
    corner, _ = triangulation(POINTS)
    expected = Delaunay(POINTS).simplices
    assert (area(corner, POINTS) > 0).all()
    by_name = {tuple(row) for row in np.sort(corner, axis=1)}
    lost = {tuple(row) for row in np.sort(expected, axis=1)} ^ by_name
    # slivers along the hull may differ, nothing else
    assert np.abs(area(np.array(sorted(lost), int).reshape(-1, 3), POINTS)).sum() < 1e-3


def test_a_neighbour_shares_the_edge_it_is_named_for() -> None:
    corner, beyond = triangulation(POINTS)
    for i in range(3):
        own = np.flatnonzero(beyond[:, i] >= 0)
        edge = corner[own][:, [i, (i + 1) % 3]]
        other = corner[beyond[own, i]]
        assert (edge[:, :, None] == other[:, None, :]).any(axis=2).all()
        assert (beyond[beyond[own, i]] == own[:, None]).any(axis=1).all()


def test_points_that_coincide_are_one_corner() -> None:
    corner, _ = triangulation(np.concatenate([POINTS, POINTS[:50]]))
    assert len(np.unique(corner)) == len(POINTS)
    assert area(corner, np.concatenate([POINTS, POINTS[:50]])).sum() > 0.98
