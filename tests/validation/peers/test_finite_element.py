"""The finite-element section: a bend, what refining still moves, a foil pressed on. Exact: `peers.finite_elements`."""

import copy
from typing import Any

import pytest

pytest.importorskip("gmsh")
pytest.importorskip("skfem")

from sim.case import parse_case
from validation.checks.elbow.torus import SHELLS, shell_factor
from validation.peers.elements.section import solve_section
from validation.sketches.lines import flowing, plain_pipe

pytestmark = pytest.mark.slow


def solve(section: dict[str, Any], **options: Any) -> dict[str, Any]:
    return solve_section(parse_case(copy.deepcopy(section)), **options)


def test_a_bend_loses_the_shape_factor_of_a_torus_shell() -> None:
    inner, outer, radius = SHELLS[0]
    case = plain_pipe(2 * inner, 0.001, 1e4, [(outer - inner, 0.04)], 1e6, contents=flowing(20.0, 1e7))
    lost = solve_section(case, refine=0.5, bend=(radius, 3.0))["heat_out"]
    assert lost * radius / (0.04 * 20.0) == pytest.approx(shell_factor(inner, outer, radius), rel=2e-4)


@pytest.mark.slow
def test_foil_pressed_on_so_hard_that_it_is_bonded_is_bonded() -> None:
    """The nodes beneath the foil are its own again, radiation in the voids included; and a poor contact is none."""
    pytest.importorskip("gmsh")
    from plain_lines import FLAT, line, only

    from validation.peers.elements.field import by_elements

    def sheath(contact: str) -> float:
        foil = {"thickness": "0.1 mm", "contact_conductance": contact}
        field = by_elements(only(line(FLAT, insulation__fit="bridged", foil=foil)), 0.35, 1e-6)
        return float(field["tracers"]["T1"]["sheath_max"])

    bonded = sheath("bonded")
    assert sheath("1e7 W/m2/K") == pytest.approx(bonded, abs=0.01)
    assert sheath("400 W/m2/K") > bonded + 0.2
