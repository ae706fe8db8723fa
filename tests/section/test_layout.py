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


def test_bridged_void_beside_a_round_tracer_lies_under_the_tangent() -> None:
    bridged = line(ROUND | {"clock": 12.0}, insulation__fit="bridged")
    geometry = layout(bridged)
    ray = 0.19  # hours: 5.7 mm aside, beyond the tracer's radius
    assert kind_at(geometry, ray, RO + 0.3e-3) == "void"
    assert kind_at(geometry, 12.0 - ray, RO + 0.3e-3) == "void"
    assert kind_at(layout(line(ROUND | {"clock": 12.0})), ray, RO + 0.3e-3) == "layer"
    # the tangent leaves the pipe at arccos((ro - r)/c) from the tracer
    hull = geometry.hulls[0]
    foot = np.arccos((RO - 5e-3) / np.hypot(geometry.bodies[0].cx, geometry.bodies[0].cy))
    assert np.abs(np.arctan2(*np.array(hull.feet).T)) == pytest.approx([foot, foot])
    # both ends of a tangent lie in the same direction from their centres
    foot_point, shoulder = np.array(hull.feet[0]), np.array(hull.shoulders[0])
    centre = np.array([geometry.bodies[0].cx, geometry.bodies[0].cy])
    assert foot_point / RO == pytest.approx((shoulder - centre) / 5e-3)


def test_bridged_void_beside_a_flat_tracer_starts_at_its_outer_corner() -> None:
    geometry = layout(line(FLAT | {"clock": 0.0}, insulation__fit="bridged"))
    top = RO + 5e-3
    foot = 6e-3 / RO + np.arccos(RO / top)
    assert np.abs(np.arctan2(*np.array(geometry.hulls[0].feet).T)) == pytest.approx([foot, foot])
    assert np.hypot(*np.array(geometry.hulls[0].shoulders).T) == pytest.approx([top, top])


def test_lifted_tracers_have_air_beneath() -> None:
    for tracer in (ROUND, FLAT):
        geometry = layout(line(tracer | {"standoff": "2 mm"}))
        assert kind_at(geometry, 5.0, RO + 1e-3) == "void"
        assert kind_at(geometry, 5.0, RO + 3e-3) == "tracer"


def test_stacked_tracers_stand_on_each_other() -> None:
    flat_on_flat = layout(line(FLAT, FLAT | {"name": "T2", "width": "8 mm", "height": "3 mm", "over": "T1"}))
    assert flat_on_flat.region_of(np.array([0.0]), np.array([0.0]))[0] == flat_on_flat.number("liquid")
    angle = clock_to_angle(5.0)
    r = np.array([RO + 2.5e-3, RO + 6.5e-3, RO + 8.5e-3])
    names = [
        flat_on_flat.regions[n].name for n in flat_on_flat.region_of(r * np.sin(angle), r * np.cos(angle))
    ]
    assert names[:2] == ["T1", "T2"]
    upper = ROUND | {"name": "T2", "diameter": "6 mm", "contact_width": "1 mm", "over": "T1"}
    round_on_round = layout(line(ROUND | {"contact_width": "2 mm"}, upper))
    lower, top = (np.hypot(b.cx, b.cy) for b in round_on_round.bodies)
    assert top - lower == pytest.approx(np.sqrt(5e-3**2 - 0.5e-3**2) + np.sqrt(3e-3**2 - 0.5e-3**2))
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


def oversize(*tracers: dict, bore: str = "141.3 mm") -> Layout:
    return layout(line(*tracers, insulation__fit="oversize", insulation__bore=bore))


def test_shell_touches_what_holds_it_and_nothing_sinks_in() -> None:
    """A tracer at 1 o'clock under a bore hardly wider: pipe and tracer within the bore, one of them touching."""
    geometry = oversize(ROUND | {"clock": 1.0}, bore="126 mm")
    reach = [abs(geometry.drop) + RO] + [b.farthest(0.0, -geometry.drop) for b in geometry.bodies]
    assert max(reach) == pytest.approx(63e-3, abs=1e-9)
    assert geometry.drop < 63e-3 - RO


def test_wet_sector_is_clockwise_and_may_pass_twelve() -> None:
    geometry = layout(line(layer__wet={"from_clock": 11.0, "to_clock": 1.0, "factor": 3.0}))
    middle = RO + 25e-3
    assert [kind_at(geometry, c, middle) for c in (10.9, 11.1, 12.0, 0.9, 1.1, 6.0)] == [
        "layer", "wet", "wet", "wet", "layer", "layer",
    ]  # fmt: skip


def test_fill_is_a_share_of_the_bores_height() -> None:
    geometry = layout(line(contents__fill=0.25))
    assert geometry.level == pytest.approx(-RI / 2)
    assert kind_at(geometry, 6.0, 0.51 * RI) == "liquid"
    assert kind_at(geometry, 6.0, 0.49 * RI) == "gas"
    assert kind_at(layout(line(contents__fill=0.0)), 6.0, 0.9 * RI) == "gas"
    assert kind_at(layout(line(contents__fill=1.0)), 12.0, 0.99 * RI) == "liquid"


def test_a_region_that_is_not_there_is_named() -> None:
    with pytest.raises(KeyError, match="void"):
        layout(line()).number("void")
