"""A sensor's own reading against the interpolation of the pipe's whole surface."""

import numpy as np
import pytest

from sim.case import case_for, parse_case
from sim.heat.network import network
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.solve.quantities import at_clock, wall_surface
from sim.solve.sensor import reading_at
from sim.solve.steady import solve


@pytest.mark.parametrize("fit", ["snug", "bridged"])
def test_a_reading_is_that_of_the_whole_surface(fit: str) -> None:
    """At places on the insulation, beneath the tracer, beside a void, and where the clock begins anew."""
    case = parse_case(
        {
            "pipe": {"size": "DN 50", "schedule": "40", "material": "carbon steel"},
            "contents": {"fluid": "water", "state": "still"},
            "tracer": [{"name": "T1", "clock": 5, "shape": "round", "diameter": "9 mm", "output": "20 W/m"}],
            "insulation": {"fit": fit, "layer": [{"thickness": "30 mm", "material": "rock wool"}]},
            "condition": [{"name": "cold", "ambient": "-20 degC", "wind": "4 m/s"}],
        }
    )
    narrowed = case_for(case, "cold")
    net = network(narrowed, plan_mesh(place(narrowed), 0.7))
    solution = solve(net)
    for clock in (0.001, 3.0, 4.6, 5.0, 5.3, 11.99, 12.0):
        whole = at_clock(*wall_surface(solution), clock)
        own = reading_at(net, clock).at(solution.temperature, solution.balance)
        assert own == pytest.approx(whole, abs=1e-9)
    assert np.ptp(wall_surface(solution)[1]) > 1.0
