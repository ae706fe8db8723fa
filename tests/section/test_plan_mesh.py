"""The plan mesh: admissible for two-point fluxes, closed, and its regions as large as they should be."""

import numpy as np
import pytest
from plain_lines import FLAT, ROUND, layout, line, mesh
from random_cases import random_case
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import spsolve

from sim.case import case_for
from sim.section.gaps import void_width
from sim.section.layout import place
from sim.section.mesh import PlanMesh, plan_mesh
from sim.section.pieces import exact_areas

RO, RI = 57.15e-3, 51.15e-3

LINES = {
    "plain": line(),
    "round": line(ROUND),
    "flat": line(FLAT),
    "bridged": line(ROUND, FLAT | {"name": "T2", "clock": 9.0}, insulation__fit="bridged"),
    "oversize": line(ROUND, insulation__fit="oversize", insulation__bore="140 mm"),
    "wet and part full": line(
        FLAT, contents__fill=0.3, layer__wet={"from_clock": 4.0, "to_clock": 8.0, "factor": 2.0}
    ),
    "foil": line(ROUND, foil={"thickness": "0.1 mm"}),
}
everywhere = pytest.mark.parametrize("raw", LINES.values(), ids=LINES)


@everywhere
def test_faces_are_perpendicular_to_the_line_between_their_sites_and_midway(raw: dict) -> None:
    plan = mesh(raw)
    ends = plan.vertex[plan.face_ends]
    a, b = (plan.site[plan.face_cells[:, i]] for i in (0, 1))
    along = ends[:, 1] - ends[:, 0]
    across = b - a
    cosine = (along * across).sum(1) / np.hypot(*along.T) / np.hypot(*across.T)
    long = plan.face_length > 1e-3 * plan.face_distance  # the direction of a point is rounding
    assert np.abs(cosine[long]).max() < 1e-6
    middle = ends.mean(1)
    off = np.hypot(*(middle - a).T) - np.hypot(*(middle - b).T)
    assert np.abs(off).max() < 1e-6 * plan.face_distance.max()
    assert plan.face_distance == pytest.approx(np.hypot(*across.T))
    assert plan.face_length == pytest.approx(np.hypot(*along.T))


@everywhere
def test_every_cell_is_the_polygon_of_its_faces(raw: dict) -> None:
    """Gauss: over a closed cell the outward normals times lengths add up to nothing."""
    plan = mesh(raw)
    a, b = plan.face_cells.T
    normal = (plan.site[b] - plan.site[a]) / plan.face_distance[:, None] * plan.face_length[:, None]
    total = np.zeros((plan.cells, 2))
    for i in (0, 1):
        total[:, i] = np.bincount(a, normal[:, i], plan.cells) - np.bincount(b, normal[:, i], plan.cells)
    inner = np.ones(plan.cells, bool)
    inner[plan.cover_cell] = False
    size = np.sqrt(plan.cell_area)
    # in the corners of a contact, cells of a millionth of the radius are at the triangulation's own rounding
    inner &= size > 1e-5 * plan.layout.cover_radius
    assert (np.hypot(*total.T)[inner] / size[inner]).max() < 1e-4


@everywhere
def test_areas_fill_the_cover(raw: dict) -> None:
    plan = mesh(raw, 3.0)
    radius = plan.layout.cover_radius
    assert plan.cell_area.min() > 0
    assert plan.cell_area.sum() == pytest.approx(np.pi * radius**2, rel=1e-5)
    # each face stands for the arc between its ends, however it lies
    assert plan.cover_length.sum() == pytest.approx(2 * np.pi * radius, rel=1e-7)
    centre = np.array([0.0, -plan.layout.drop])
    assert np.hypot(*(plan.cover_point - centre).T) == pytest.approx(radius, rel=2e-3)


@everywhere
def test_regions_have_their_areas(raw: dict) -> None:
    """To 1 % on the default's finest mesh; on its coarsest the thin end of a void may be missed, but little area."""
    assert np.abs(mesh(raw, 3.0).area_error).max() < 0.01
    coarse = mesh(raw, 1.5)
    missed = np.abs(coarse.area_error) * exact_areas(coarse.layout, coarse.pieces)
    assert missed.sum() < 2e-3 * np.pi * coarse.layout.cover_radius**2


def test_area_errors_shrink_with_the_cells() -> None:
    worst = [max(np.abs(mesh(raw, f).area_error).sum() for raw in LINES.values()) for f in (1.0, 3.0)]
    assert worst[1] < 0.5 * worst[0]
    cells = [mesh(LINES["round"], f).cells for f in (1.0, 1.5, 3.0)]
    assert cells[0] < cells[1] < cells[2]


@everywhere
def test_joined_pairs_are_all_different_and_the_mesh_is_one(raw: dict) -> None:
    plan = mesh(raw)
    pairs = np.sort(plan.face_cells, axis=1)
    assert (pairs[:, 0] != pairs[:, 1]).all()
    assert len(np.unique(pairs, axis=0)) == len(pairs)
    graph = coo_matrix((np.ones(len(pairs)), pairs.T), (plan.cells, plan.cells))
    assert connected_components(graph, directed=False)[0] == 1
    assert len(np.unique(plan.cover_cell)) == len(plan.cover_cell)
    assert (plan.layout.region_of(*plan.site.T) == plan.cell_region).all()


@everywhere
def test_faces_between_wall_and_outside_lie_on_the_pipe(raw: dict) -> None:
    plan = mesh(raw)
    wall = plan.cell_region == plan.layout.number("wall")
    pair = wall[plan.face_cells]
    edge = pair[:, 0] != pair[:, 1]
    r = np.hypot(*plan.face_point[edge].T)
    on = np.minimum(np.abs(r - RO), np.abs(r - RI))
    share = plan.face_length[edge][on < 2e-3 * RO].sum() / plan.face_length[edge].sum()
    assert share > 0.98
    assert plan.face_length[edge].sum() == pytest.approx(2 * np.pi * (RO + RI), rel=0.01)


def ring_conductance(plan: PlanMesh) -> float:
    """Conduction once around the meshed wall over its exact value, from the potential that gains 2 pi a turn.

    A wall broken by a foreign cell shows here long before it shows in an area.
    """
    layout = plan.layout
    wall = plan.cell_region == layout.number("wall")
    number = np.cumsum(wall) - 1
    inner = wall[plan.face_cells].all(1)
    a, b = number[plan.face_cells[inner]].T
    g = plan.face_length[inner] / plan.face_distance[inner]
    angle, n = np.arctan2(*plan.site[wall].T), int(wall.sum())
    step = np.mod(angle[b] - angle[a] + np.pi, 2 * np.pi) - np.pi
    ground = np.full(n, 1e-12 * g.max())
    both = np.concatenate([a, b, a, b, np.arange(n)])
    matrix = coo_matrix(
        (np.concatenate([g, g, -g, -g, ground]), (both, np.concatenate([a, b, b, a, np.arange(n)]))), (n, n)
    )
    u = spsolve(matrix.tocsc(), np.bincount(a, g * step, n) - np.bincount(b, g * step, n))
    energy = (g * (step + u[b] - u[a]) ** 2).sum()
    return float(energy / (2 * np.pi * np.log(layout.outer_radius / layout.inner_radius)))


@pytest.mark.parametrize(
    "size", [("114.3 mm", "6 mm"), ("323.9 mm", "3.96 mm"), ("200 mm", "1 mm"), ("21.3 mm", "4 mm")]
)
@pytest.mark.parametrize("tracer", [ROUND, FLAT])
def test_the_wall_conducts_once_around(size: tuple[str, str], tracer: dict) -> None:
    outer, wall = size
    plan = mesh(line(tracer | {"clock": 5.37}, pipe__outer_diameter=outer, pipe__wall=wall), 1.5)
    assert ring_conductance(plan) == pytest.approx(1.0, abs=2e-3)


def test_a_bare_pipe_is_meshed() -> None:
    plan = mesh(line(insulation={"fit": "snug"}))
    assert set(plan.cell_region[plan.cover_cell]) == {plan.layout.number("wall")}
    assert plan.cell_area.sum() == pytest.approx(np.pi * RO**2, rel=1e-5)


def test_a_wall_too_thin_to_mesh_is_refused() -> None:
    with pytest.raises(ValueError, match=r"pipe\.wall"):
        mesh(line(ROUND, pipe__wall="0.02 mm"))


def test_a_layer_too_thin_to_mesh_is_left_out_quickly() -> None:
    plan = mesh(
        line(insulation={"fit": "snug", "layer": [{"thickness": "0.001 mm", "conductivity": "0.04 W/m/K"}]})
    )
    assert plan.cells < 10_000


def test_same_layout_same_mesh_and_turned_layout_as_many_cells() -> None:
    a, b = (plan_mesh(layout(LINES["flat"]), 1.0) for _ in range(2))
    assert (a.site == b.site).all()
    quarter = mesh(line(FLAT | {"clock": 8.0}), 1.0)
    assert quarter.cells == pytest.approx(a.cells, rel=0.05)


def test_width_of_an_annular_void_is_the_gap() -> None:
    """A wide bore: under the pipe the void is twice the slack, at the top nothing."""
    plan = mesh(line(insulation__fit="oversize", insulation__bore="134.3 mm"))
    at = np.array([[0.0, -RO - 4e-3], [0.0, -RO - 15e-3]])
    width = void_width(plan.layout, plan.pieces, at)
    assert width == pytest.approx([20e-3, 20e-3], rel=1e-6)


@pytest.mark.parametrize("seed", range(0, 60, 3))
def test_random_sections_close(seed: int) -> None:
    plan = plan_mesh(place(case_for(random_case(seed), "now")), 1.0)
    assert plan.cell_area.min() > 0
    assert plan.cell_area.sum() == pytest.approx(np.pi * plan.layout.cover_radius**2, rel=0.01)


def test_sites_that_coincide_are_one() -> None:
    """A hanging shell's mesh had two sites 1e-16 m apart: a face without width, whose conductance hid an imbalance."""
    from sim.section.mesh import _apart

    spread = np.random.default_rng(3).uniform(-0.1, 0.1, (500, 2))
    twice = np.concatenate([spread, spread[::7] + 1e-16, spread[::11]])
    stored = _apart(twice, 1e-13)
    assert len(stored) == 500
    assert np.array_equal(stored, spread)
