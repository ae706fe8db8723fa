"""Faces in space against scipy's own Voronoi cells, and of repeated plans against prisms."""

import numpy as np
from scipy.spatial import ConvexHull, Voronoi

from sim.section.space import space


def test_faces_have_the_areas_of_the_voronoi_cells() -> None:
    """Areas by kites, against polygons of the library's vertices, of all faces that are closed."""
    site = np.random.default_rng(5).random((150, 3))
    faces = space(site)
    mine = {(int(a), int(b)): x for (a, b), x in zip(faces.pair, faces.area, strict=True)}
    made = Voronoi(site)
    compared = 0
    for (a, b), corner in zip(made.ridge_points, made.ridge_vertices, strict=True):
        if -1 in corner or np.abs(made.vertices[corner] - 0.5).max() > 0.6:
            continue
        p = made.vertices[corner]
        plane = np.linalg.svd(p - p.mean(axis=0))[2][:2]
        area = ConvexHull((p - p.mean(axis=0)) @ plane.T).volume
        if area > 1e-3:
            compared += 1
            assert abs(mine[min(a, b), max(a, b)] / area - 1) < 1e-4
    assert compared > 300


def test_a_repeated_plan_gives_prisms() -> None:
    """Sites repeated along z have faces to their next ones and to neighbours in the plan, as large as the plan's."""
    rng = np.random.default_rng(2)
    plan, z = rng.random((200, 2)), (np.arange(5) + 0.5) * 0.08
    site = np.concatenate([np.c_[plan, np.full(len(plan), at)] for at in z])
    faces = space(site)
    layer, cell = faces.pair // len(plan), faces.pair % len(plan)
    middle = (np.hypot(*(plan[cell[:, 0]] - 0.5).T) < 0.25) & (layer == 2).any(axis=1)
    upright = middle & (cell[:, 0] == cell[:, 1])
    aside = middle & (layer[:, 0] == layer[:, 1])
    slanting = middle & ~upright & ~aside
    assert not slanting.any() or faces.area[slanting].max() < 1e-6
    flat = Voronoi(plan)
    length = {
        (min(a, b), max(a, b)): np.hypot(*np.diff(flat.vertices[v], axis=0)[0])
        for (a, b), v in zip(flat.ridge_points, flat.ridge_vertices, strict=True)
        if -1 not in v
    }
    for (a, b), area in zip(np.sort(cell[aside], axis=1), faces.area[aside], strict=True):
        assert abs(area - 0.08 * length[a, b]) < 1e-6
