"""The field file: cells as polygons, readable by an independent reader."""

from pathlib import Path

import numpy as np
import pytest

from sim.judge.check import Answer
from sim.report.field import VTK_POLYGON, cell_polygons, write_field, write_vtu
from sim.solve.steady import Solution, cell_temperature


@pytest.fixture(scope="module")
def solution(answer: Answer) -> Solution:
    assert answer.conditions[0].result is not None
    return answer.conditions[0].result.solution


def test_polygons_have_the_cells_areas(solution: Solution) -> None:
    mesh = solution.network.mesh
    corner, end = cell_polygons(mesh)
    start = np.concatenate([[0], end[:-1]])
    x, y = mesh.vertex[corner].T
    following = np.arange(len(corner)) + 1
    following[end - 1] = start
    cross = x * y[following] - x[following] * y
    area = 0.5 * np.add.reduceat(cross, start)
    assert len(end) == mesh.cells
    assert np.abs(area - mesh.cell_area).sum() < 1e-3 * mesh.cell_area.sum()
    assert area.sum() == pytest.approx(np.pi * mesh.layout.cover_radius**2, rel=5e-3)


def test_another_reader_opens_the_file(solution: Solution, tmp_path: Path) -> None:
    meshio = pytest.importorskip("meshio")
    write_field(solution, tmp_path / "field.vtu")
    read = meshio.read(tmp_path / "field.vtu")
    mesh = solution.network.mesh
    assert sum(len(block.data) for block in read.cells) == mesh.cells
    assert {block.type for block in read.cells} <= {"polygon", "triangle", "quad"} | {
        f"polygon{k}" for k in range(99)
    }
    stored = np.sort(np.concatenate([np.ravel(part) for part in read.cell_data["temperature_degC"]]))
    cells = np.sort(cell_temperature(solution.network, solution.temperature) - 273.15)
    assert stored == pytest.approx(cells)
    assert set(read.cell_data) == {"temperature_degC", "region", "conductivity_W_per_m_K"}
    assert read.field_data["region 2: wall"] == [2]
    assert len(read.field_data) == len(mesh.layout.regions)
    reach = np.hypot(*read.points[:, :2].T).max()
    assert reach == pytest.approx(mesh.layout.cover_radius, rel=1e-2)


def test_names_of_any_letters_and_many_blocks_survive(tmp_path: Path) -> None:
    """Region names are the user's own: marks of XML, letters beyond ASCII; large arrays come in several blocks."""
    meshio = pytest.importorskip("meshio")
    point = np.random.default_rng(1).random((60_000, 3))
    name = 'region 3: tracer "Ø & <1>"'
    write_vtu(
        tmp_path / "a.vtu",
        point,
        np.arange(60_000),
        np.arange(3, 60_001, 3),
        VTK_POLYGON,
        {"v": point[:, 0]},
        {},
        {name: 3},
    )
    read = meshio.read(tmp_path / "a.vtu")
    assert read.field_data[name] == [3]
    assert read.points == pytest.approx(point)
    assert read.point_data["v"] == pytest.approx(point[:, 0])
