"""A leg's exposed part as a fin, four end conditions; Incropera, table 3.4; numbers from the closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from sim.heat.fin import fin_root

STEEL = {"conductivity": 50.0, "area": 20e-4, "perimeter": 0.40, "film": 15.0}


def integrated(length: float, held: bool, root: float, end: float, film: float, cells: int = 4000) -> float:
    """Heat from the root by finite differences, W; air at 0."""
    k, area, perimeter = STEEL["conductivity"], STEEL["area"], STEEL["perimeter"]
    step = length / cells
    side, along = film * perimeter * step, k * area / step
    diagonal = np.full(cells, 2 * along + side)
    diagonal[0] += along
    diagonal[-1] += along if held else -along
    right = np.zeros(cells)
    right[0] = 2 * along * root
    right[-1] += 2 * along * end if held else 0.0
    from scipy.linalg import solveh_banded

    bands = np.stack([np.append(0.0, np.full(cells - 1, -along)), diagonal])
    t = solveh_banded(bands, right)
    return float(2 * along * (root - t[0]))


@pytest.mark.parametrize(
    ("length", "held", "end", "film"),
    [(0.3, False, 0.0, 15.0), (0.3, True, 0.0, 15.0), (0.3, True, 25.0, 15.0), (5.0, False, 0.0, 15.0)],
)
def test_fin_against_its_differential_equation(length: float, held: bool, end: float, film: float) -> None:
    total, share = fin_root(STEEL["conductivity"], STEEL["area"], STEEL["perimeter"], length, film, held)
    assert total * (60.0 - share * end) == pytest.approx(integrated(length, held, 60.0, end, film), rel=2e-5)


def test_known_fin() -> None:
    args = (STEEL["conductivity"], STEEL["area"], STEEL["perimeter"], 0.30, STEEL["film"])
    assert fin_root(*args, held=False)[0] == pytest.approx(0.7599, abs=5e-5)
    assert fin_root(*args, held=True)[0] == pytest.approx(0.7896, abs=5e-5)


def test_without_a_film_it_is_a_rod() -> None:
    total, share = fin_root(50.0, 1e-4, 0.04, 0.1, 0.0, held=True)
    assert (total, share) == (pytest.approx(0.05), 1.0)
    assert fin_root(50.0, 1e-4, 0.04, 0.1, 0.0, held=False) == (0.0, 0.0)
    near, _ = fin_root(50.0, 1e-4, 0.04, 0.1, 1e-6, held=True)
    assert near == pytest.approx(0.05, rel=1e-4)
