"""A tracer that lifts between bands: the section where it never does, the lifted one on a long span, a fin between."""

from functools import cache

import numpy as np
import pytest
from support_lines import line as raw

from sim.case import Case, case_for, parse_case
from sim.solve.lift import Lift, banded, on_one_mesh, on_plan, refused
from sim.solve.quantities import quantities
from sim.solve.steady import solve

HEIGHT, BAND, BODY = 1.5e-3, 0.02, 40.0  # m, m, W/m/K
SHEATH = "tracers.T1.sheath_max"


@cache
def case() -> Case:
    given = raw({})
    del given["support"]
    given["tracer"][0]["body_conductivity"] = f"{BODY} W/m/K"
    return case_for(parse_case(given), "a")


@cache
def changed(spacing: float, height: float = HEIGHT) -> dict[str, float]:
    return on_one_mesh(case(), Lift("T1", height, spacing, BAND), 1.0)


@cache
def sections() -> tuple[dict[str, float], dict[str, float]]:
    """In contact all along, and lifted all along, on the mesh of the lift."""
    lift = Lift("T1", HEIGHT, 1.0, BAND)
    plan, gap = on_plan(case(), lift, 1.0)
    contact = solve(banded(plan, gap, lift, np.ones(1, bool)))
    return dict(quantities(contact)), dict(quantities(solve(plan)))


def test_a_tracer_held_by_a_band_all_along_is_the_section() -> None:
    near = changed(BAND * 1.0001)
    assert all(abs(near[path]) < 0.02 for path in near)
    assert near["closure"] < 1e-6


def test_a_long_span_is_the_section_with_the_tracer_lifted() -> None:
    contact, lifted = sections()
    assert changed(1.0)["sheath_rise"] == pytest.approx(lifted[SHEATH] - contact[SHEATH], rel=0.01)


def test_the_contact_that_fills_the_gap_is_the_contact_of_the_section() -> None:
    """The filled gap stands the tracer off by its height, which the section does not: two per cent of the rise."""
    from sim.heat.network import network
    from sim.section.layout import place
    from sim.section.mesh import plan_mesh

    own = dict(quantities(solve(network(case(), plan_mesh(place(case()), 1.0)))))
    contact, _ = sections()
    rise = own[SHEATH] - own["wall.mean"]
    assert contact[SHEATH] - contact["wall.mean"] == pytest.approx(rise, abs=0.05 * rise)


@pytest.mark.parametrize("spacing", [0.2, 0.3])
def test_between_the_two_the_tracer_is_a_fin(spacing: float) -> None:
    """The tracer's mid-span rise above the wall is that of a fin from a band, the wall taken at one temperature."""
    contact, lifted = sections()
    tracer = case().tracers[0]
    assert tracer.width
    assert tracer.height
    low, high = (one[SHEATH] - one["wall.mean"] for one in (contact, lifted))
    heat = float(tracer.output.power or 0.0)
    reach = [np.sqrt(BODY * tracer.width * tracer.height * rise / heat) for rise in (low, high)]
    a, b = BAND / 2 / reach[0], (spacing - BAND) / 2 / reach[1]
    joint = np.array([[np.cosh(a), np.cosh(b)], [np.sinh(a) / reach[0], -np.sinh(b) / reach[1]]])
    _, fall = np.linalg.solve(joint, [high - low, 0.0])
    found = changed(spacing)
    above_the_wall = found["sheath_rise"] + 0.5 * (found["dip"] - found["wall_rise"])
    assert above_the_wall == pytest.approx(high - fall - low, rel=0.08)


def test_a_longer_span_and_a_higher_lift_are_hotter() -> None:
    assert changed(0.2)["sheath_rise"] < changed(0.3)["sheath_rise"] < changed(1.0)["sheath_rise"]
    assert changed(0.3)["sheath_rise"] < changed(0.3, 2 * HEIGHT)["sheath_rise"]


def test_what_cannot_be_solved_is_said() -> None:
    assert "known: T1" in refused(case(), Lift("T2", HEIGHT, 0.3, BAND))
    assert "thinner than the mesh" in refused(case(), Lift("T1", 5e-5, 0.3, BAND))
    assert "narrower" in refused(case(), Lift("T1", HEIGHT, 0.3, 0.3))
    assert refused(case(), Lift("T1", HEIGHT, 0.3, BAND)) == ""
