"""The checks of a bend pass, and the finite elements with the weight meet the shell of a torus by themselves."""

from __future__ import annotations

import numpy as np
import pytest

from validation.checks.elbow.torus import SHELLS, areas_and_balance, shell_factor, shells
from validation.sketches.lines import flowing, plain_pipe


def test_the_shells_factor_tends_to_that_of_a_straight_one() -> None:
    straight = 2 * np.pi / np.log(2.0)
    assert shell_factor(0.1, 0.2, 500.0) / 500.0 == pytest.approx(straight, rel=2e-6)


@pytest.mark.parametrize("check", [shells, areas_and_balance])
def test_every_row_passes(check) -> None:  # type: ignore[no-untyped-def]
    rows = check()
    assert rows
    assert [row for row in rows if not row.passed] == []


def test_finite_elements_lose_the_shells_factor() -> None:
    pytest.importorskip("skfem")
    pytest.importorskip("gmsh")
    from validation.peers.elements.section import solve_section

    inner, outer, radius = SHELLS[0]
    case = plain_pipe(
        2 * inner, 0.001, 1e4, [(outer - inner, 0.04)], 1e6, contents=flowing(20.0, 1e7), ambient=0.0
    )
    lost = solve_section(case, refine=0.5, bend=(radius, 3.0))["heat_out"]
    assert lost * radius / (0.04 * 20.0) == pytest.approx(shell_factor(inner, outer, radius), rel=2e-4)
