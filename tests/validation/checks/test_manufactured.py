"""The order of accuracy: the meshes of its check, and that a wrong mean of k is found out."""

from dataclasses import replace

import pytest

from sim.heat.joints import Faces
from validation.checks.mesh.manufactured import Result, errors_of, order, rows_of
from validation.checks.mesh.order_fields import Array
from validation.checks.mesh.order_problems import PROBLEMS


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
