"""FiPy on the prisms of a line around a support: the same field as ours, with all that the case has."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

pytest.importorskip("fipy")

from sim.case import case_for, load_case, with_overrides
from sim.heat.joints import joined
from sim.heat.network import Network, network
from sim.heat.support_layers import support_network
from sim.section.extrude import z_layers
from sim.section.mesh import plan_mesh
from sim.section.support_plan import place_support
from sim.solve.multigrid import Multigrid
from sim.solve.steady import solve
from validation.peers.volumes.field import apart

pytestmark = pytest.mark.slow
CASE = Path(__file__).parents[3] / "cases" / "shoe-and-cradle.toml"
ANSWERS = {"T1": {"output": {"at": [["0 degC", "35 W/m"], ["60 degC", "15 W/m"]]}}}


def line(which: int, overrides: dict[str, Any]) -> Network:
    """Wind on a barrier, mixed contents, a leg or a cradle, an allowance: on a coarse mesh."""
    case = case_for(with_overrides(load_case(CASE), overrides), "cold-night")
    support = case.supports[which]
    plan = network(case, plan_mesh(place_support(case, support), 0.5))
    layers = z_layers(plan.mesh.layout, 0.6, 0.5, 0.5)  # type: ignore[arg-type]
    return support_network(plan, layers, support, 0.2)


@pytest.mark.parametrize("which", [0, 1], ids=["shoe", "cradle"])
@pytest.mark.parametrize(
    "overrides", [{}, {"tracer": ANSWERS}, {"contents": {"state": "still"}}], ids=["", "regulating", "still"]
)
def test_the_same_field(which: int, overrides: dict[str, Any]) -> None:
    net = line(which, overrides)
    ours = solve(net, np.full(net.nodes, 273.15), Multigrid()).temperature
    computed = apart(net)
    assert computed.shape_error < 1e-9
    assert np.abs(computed.temperature - ours).max() < 1e-5 * np.ptp(ours)


def test_joints_along_the_pipe_that_conduct_too_well_are_seen() -> None:
    """Ours with 2 % more area between the layers is another problem than FiPy's, whose areas are its own."""
    net = line(0, {})
    along: Any = net.joints.groups["cells along"]
    wrong = replace(along, area=1.02 * along.area)
    groups = dict(net.joints.groups) | {"cells along": wrong}
    broken = replace(net, joints=joined(groups, net.cell_node))
    ours = solve(broken, np.full(net.nodes, 273.15), Multigrid()).temperature
    computed = apart(broken)
    assert computed.shape_error > 0.01
    assert np.abs(computed.temperature - ours).max() > 1e-4 * np.ptp(ours)
