"""The order of accuracy: the meshes of its check, and that a wrong mean of k is found out."""

from dataclasses import replace

import pytest

from sim.heat.joints import Faces
from validation.checks.mesh.manufactured import Result, errors_of, order, rows_of
from validation.checks.mesh.order_fields import Array
from validation.checks.mesh.order_meshes import edges, interface_broken, sites, square
from validation.checks.mesh.order_problems import PROBLEMS, _square_case, mean
from validation.checks.mesh.order_solve import Errors


@pytest.mark.parametrize("kind", ["uniform", "graded", "random"])
def test_cells_fill_the_square_and_keep_its_interface(kind: str) -> None:
    mesh = square(_square_case(), sites(kind, 16, seed=2))
    assert mesh.cell_area.sum() == pytest.approx(1.0, rel=1e-9)
    assert mesh.cell_area[mesh.cell_region == 0].sum() == pytest.approx(0.5, rel=1e-9)
    assert interface_broken(mesh) == 0.0
    assert mesh.cover_length.sum() == pytest.approx(4.0, rel=1e-9)
    assert 0.5 in edges(kind, 16)


def _shallow(number: int) -> Result:
    problem = PROBLEMS[number]
    return errors_of(replace(problem, quick=(12, 24, 48), seeds=min(problem.seeds, 4)), full=False)


@pytest.mark.parametrize("number", [0, 1, 2])
def test_arithmetic_mean_of_k_is_found_out(number: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the arithmetic mean for the series conductance the order falls to one, and every row fails."""

    def arithmetic(self: Faces, conductivity: Array, temperature: Array) -> Array:
        mean = 0.5 * (conductivity[self.cell_a] + conductivity[self.cell_b])
        return self.area / (self.half_a + self.half_b) * mean

    monkeypatch.setattr(Faces, "conductance", arithmetic)
    result = _shallow(number)
    assert order(result.size, result.l2) < 1.35
    assert not any(row.passed for row in rows_of(result, full=False))


def test_mean_of_errors_is_geometric() -> None:
    one, other = Errors(4, 0.5, 1e-2, 1e-1, 1.0), Errors(4, 0.5, 1e-4, 1e-3, 4.0)
    assert mean([one, other]).l2 == pytest.approx(1e-3)
    assert mean([one, other]).heat == pytest.approx(2.0)
