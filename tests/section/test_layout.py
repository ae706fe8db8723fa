"""Where things lie: points placed by hand, the hanging shell, stacked tracers."""

import numpy as np
import pytest
from plain_lines import FLAT, ROUND, layout, line

from sim.case.clock_face import angle_to_clock, clock_to_angle
from sim.section.layout import OUTSIDE, Layout

RO, RI = 57.15e-3, 51.15e-3  # m, pipe of the base line


def kind_at(geometry: Layout, clock: float, radius: float) -> str:
    """Kind of the region at a clock position and a distance from the pipe's axis (m)."""
    angle = clock_to_angle(clock)
    number = int(
        geometry.region_of(np.array([radius * np.sin(angle)]), np.array([radius * np.cos(angle)]))[0]
    )
    return "outside" if number == OUTSIDE else geometry.regions[number].kind


def test_clock_and_angle() -> None:
    assert clock_to_angle(3.0) == pytest.approx(np.pi / 2)
    assert clock_to_angle(12.0) == 0.0
    assert angle_to_clock(np.array([-np.pi / 2, 2 * np.pi])) == pytest.approx([9.0, 0.0])


def test_regions_outwards_past_a_flat_tracer() -> None:
    geometry = layout(line(FLAT))
    radii = [
        0.0,
        RI - 1e-4,
        RI + 1e-4,
        RO - 1e-4,
        RO + 1e-4,
        RO + 4.9e-3,
        RO + 5.1e-3,
        RO + 49e-3,
        RO + 51e-3,
    ]
    kinds = [kind_at(geometry, 5.0, r) for r in radii]
    assert kinds == ["liquid", "liquid", "wall", "wall", "tracer", "tracer", "layer", "layer", "outside"]
    # half its width of 6 mm on the pipe's surface is 0.1 rad
    half_hours = 6e-3 / RO / (2 * np.pi) * 12
    assert kind_at(geometry, 5.0 + 0.98 * half_hours, RO + 1e-3) == "tracer"
    assert kind_at(geometry, 5.0 - 1.02 * half_hours, RO + 1e-3) == "layer"


def test_lifted_tracers_have_air_beneath() -> None:
    for tracer in (ROUND, FLAT):
        geometry = layout(line(tracer | {"standoff": "2 mm"}))
        assert kind_at(geometry, 5.0, RO + 1e-3) == "void"
        assert kind_at(geometry, 5.0, RO + 3e-3) == "tracer"


def test_stacked_tracers_stand_on_each_other() -> None:
    angle = clock_to_angle(5.0)
    upper = ROUND | {"name": "T2", "diameter": "6 mm", "contact_width": "1 mm", "over": "T1"}
    round_on_round = layout(line(ROUND | {"contact_width": "2 mm"}, upper))
    lower, top = (np.hypot(b.cx, b.cy) for b in round_on_round.bodies)
    # pressed on each other they overlap in a lens, from the top of the lower to the foot of the upper: the lower's own
    middle = np.array([0.5 * ((lower + 5e-3) + (top - 3e-3))])
    (number,) = round_on_round.region_of(middle * np.sin(angle), middle * np.cos(angle))
    assert round_on_round.regions[number].name == "T1"


def test_stack_written_upside_down_is_placed_the_same() -> None:
    lower, upper = ROUND, FLAT | {"name": "T0", "clock": 2.0}
    top = ROUND | {"name": "T2", "diameter": "5 mm", "over": "T1"}
    a, b = layout(line(lower, upper, top)), layout(line(top, upper, lower))
    assert {type(x).__name__ + f"{x.farthest(0, 0):.9f}" for x in a.bodies} == {
        type(x).__name__ + f"{x.farthest(0, 0):.9f}" for x in b.bodies
    }


def test_wet_sector_is_clockwise_and_may_pass_twelve() -> None:
    geometry = layout(line(layer__wet={"from_clock": 11.0, "to_clock": 1.0, "factor": 3.0}))
    middle = RO + 25e-3
    assert [kind_at(geometry, c, middle) for c in (10.9, 11.1, 12.0, 0.9, 1.1, 6.0)] == [
        "layer", "wet", "wet", "wet", "layer", "layer",
    ]  # fmt: skip


def test_a_region_that_is_not_there_is_named() -> None:
    with pytest.raises(KeyError, match="void"):
        layout(line()).number("void")
