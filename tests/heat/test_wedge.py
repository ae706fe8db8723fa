"""The corner beside a round tracer's contact: its exponent against the equation and its limits."""

import numpy as np
import pytest
from plain_lines import FLAT, ROUND, line, solution

from sim.heat.network import network
from sim.heat.wedge import Wedges, exponent, wedges
from sim.section import sizing
from sim.section.mesh import plan_mesh
from sim.solve.quantities import quantities
from sim.solve.steady import solve

ANGLE = np.array([0.2, 0.4, 0.8, 1.2])


def one(k: float, angle: float, k1: float, b1: float, k2: float) -> float:
    return float(
        exponent(np.array([k]), np.array([angle]), np.array([k1]), np.array([b1]), np.array([k2]))[0]
    )


@pytest.mark.parametrize(("k", "k1", "k2"), [(0.04, 0.3, 50.0), (0.04, 15.0, 15.0), (0.03, 0.3, 0.2)])
def test_the_exponent_solves_its_equation(k: float, k1: float, k2: float) -> None:
    full = np.ones_like(ANGLE)
    p = exponent(k * full, ANGLE, k1 * full, np.pi - ANGLE, k2 * full)
    series = 1 / (k1 * p * np.tan(p * (np.pi - ANGLE))) + 1 / (k2 * p * np.tan(p * np.pi))
    assert series == pytest.approx(ANGLE / k, rel=1e-9)
    assert ((p > 0) & (p < 0.5)).all()


def test_more_conductive_wedges_have_larger_exponents() -> None:
    p = [one(k, 0.4, 0.3, np.pi - 0.4, 50.0) for k in (0.01, 0.04, 0.2, 1.0)]
    assert p == sorted(p)
    # a wedge that conducts better than the bodies: capped where the closed form has nothing to add
    assert one(2.0, 0.4, 0.3, np.pi - 0.4, 50.0) == pytest.approx(0.5, abs=1e-6)
    assert one(1e6, 0.4, 0.3, np.pi - 0.4, 0.3) == pytest.approx(0.5, abs=1e-3)


def test_corners_are_found_at_the_ends_of_contacts() -> None:
    network = solution(line(ROUND | {"contact_width": "3 mm"})).network
    corners, mesh = network.wedges, network.mesh
    assert len(corners.angle) == 2
    # tangent of the circle and of the pipe at the chord's end meet under the sum of the two half angles
    angle = np.arcsin(1.5e-3 / 5e-3) + np.arcsin(1.5e-3 / 57.15e-3)
    assert corners.angle == pytest.approx([angle, angle])
    kind = mesh.kind
    assert set(kind[corners.tracer_cell]) == {"tracer"}
    assert set(kind[corners.seat_cell]) == {"wall"}
    assert set(kind[corners.wedge_cell]) == {"layer"}
    apart = np.hypot(*(mesh.site[corners.tracer_cell] - mesh.site[corners.seat_cell]).T)
    assert (apart < 1e-3 * 3e-3).all()


def test_flat_and_lifted_tracers_have_no_corners() -> None:
    for tracer in (FLAT, ROUND | {"standoff": "1 mm"}):
        corners = wedges(solution(line(tracer)).network.mesh)
        assert len(corners.angle) == 0
        assert corners.conductance(np.zeros(0), np.zeros(0)).shape == (0,)


def test_closed_form_makes_up_for_cells_that_are_not_there() -> None:
    """The heat the tracer loses into the pipe must hardly depend on how far down the mesh resolves its corners."""
    raw = line(ROUND | {"contact_conductance": "1 W/m2/K"})  # so that the corners carry much of it
    case = solution(raw).network.case
    sheath = []
    for depth in (1e-2, 1e-3, 1e-4):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(sizing, "WEDGE", depth)
            mesh = plan_mesh(solution(raw).network.mesh.layout, 2.0)
        sheath.append(quantities(solve(network(case, mesh)))["tracers.T1.mean"] - 263.15)
    assert max(sheath) - min(sheath) < 2e-3 * sheath[-1]


@pytest.mark.parametrize(("k_tracer", "k_seat", "corner"), [(1e6, 0.5, 310.0), (0.5, 1e6, 290.0)])
def test_corner_takes_the_temperature_of_the_better_conductor(
    k_tracer: float, k_seat: float, corner: float
) -> None:
    """The fall is spent in the body that resists; the other has its own temperature up to the corner."""
    corners = Wedges(np.array([0]), np.array([1]), np.array([2]), np.array([0.4]), np.ones(1))
    conductivity, temperature = np.array([k_tracer, k_seat, 0.04]), np.array([310.0, 290.0, 300.0])
    assert corners.corner_temperature(conductivity, temperature)[0] == pytest.approx(corner, abs=1e-3)
