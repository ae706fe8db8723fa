"""Growing modes are found wherever on the axis of frequencies they lie, and on the mesh that answers."""

from typing import Any

import numpy as np
import pytest
from plain_lines import FLAT, LIQUID, line, only
from scipy.sparse import block_diag, csc_matrix
from scipy.sparse.linalg import splu

from sim.solve import buoyant, stability
from sim.solve.motion import NoSteadyFlow
from sim.solve.section import solve_section

OIL = LIQUID | {"viscosity": "10 Pa s", "conductivity": "0.13 W/m/K"}


def spectrum(*modes: complex) -> csc_matrix:
    """A real matrix with these modes and their mirror images."""
    return csc_matrix(block_diag([[[m.real, -m.imag], [m.imag, m.real]] for m in modes]))


def searched(matrix: csc_matrix, highest: float) -> complex:
    return stability.fastest(matrix, np.ones(matrix.shape[0]), lambda m: splu(csc_matrix(m)).solve, highest)


@pytest.mark.parametrize("frequency", [0.0, 7.0, 25.0, 60.0, 93.0, 129.0])
def test_a_growing_mode_is_found_at_any_frequency(frequency: float) -> None:
    """Among decaying ones that crowd about 0, 12 and 35 rounds, where alone it was once looked for."""
    rng = np.random.default_rng(1)
    crowd = [
        complex(-rng.uniform(0.5, 4.0), at + rng.uniform(-3, 3))
        for at in (0.0, 12.0, 35.0, 80.0)
        for _ in range(8)
    ]
    apart = [complex(-rng.uniform(2.0, 40.0), rng.uniform(0.0, 170.0)) for _ in range(30)]
    computed = searched(spectrum(*crowd, *apart, complex(0.4, frequency)), 160.0)
    assert computed.real == pytest.approx(0.4, rel=1e-3)
    assert abs(computed.imag) == pytest.approx(frequency, abs=1e-2)


def test_decaying_modes_alone_are_found_to_decay() -> None:
    assert searched(spectrum(*(complex(-1.0 - k, 5.0 * k) for k in range(40))), 160.0).real == pytest.approx(
        -1.0
    )


def test_a_crowd_that_cannot_be_searched_through_is_no_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stability, "SEARCHES", 2)
    with pytest.raises(NoSteadyFlow, match="not settled"):
        searched(spectrum(*(complex(-1.0, 0.5 * k) for k in range(300))), 160.0)


def test_a_flow_that_only_the_finest_mesh_finds_growing_is_no_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    """The growth is asked on the mesh whose numbers are given."""
    cells: list[int] = []

    def growth(heat: Any, convection: Any, *_: Any) -> complex:
        cells.append(convection.mesh.cells)
        return complex(-1.0 if len(set(cells)) == 1 else 5.0)

    monkeypatch.setattr(buoyant, "growth", growth)
    result = solve_section(only(line(FLAT, contents={"state": "buoyant", "fluid": OIL})), fineness=1.0)
    assert result.bracketed
    assert any("would not last" in note for note in result.notes)
    assert len(cells) == 2
    assert cells[1] == result.solution.flow.mesh.cells  # type: ignore[union-attr]
    assert cells[1] > cells[0]
