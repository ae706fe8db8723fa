"""Where tracers sit and what fits, against plain geometry."""

from math import cos, hypot, pi, sin
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.case import Case, CaseError, parse_case
from sim.case.placement import bodies, clear_distance, hanging_offset, smallest_bore

ROUND = {"shape": "round", "diameter": "10 mm", "contact_width": "2 mm", "output": "20 W/m"}
FLAT = {"shape": "flat", "width": "12 mm", "height": "5 mm", "output": "20 W/m"}


def line(*tracers: dict[str, Any], **insulation: Any) -> Case:
    named = [{"name": f"T{n}", **tracer} for n, tracer in enumerate(tracers, start=1)]
    return parse_case(
        {
            "pipe": {"outer_diameter": "100 mm", "wall": "5 mm", "material": "PP"},
            "tracer": named,
            "insulation": {"layer": [{"material": "rock wool", "thickness": "50 mm"}], **insulation},
            "condition": [{"name": "cold", "ambient": "-10 degC"}],
        }
    )


def shell(bore: float, *tracers: dict[str, Any]) -> Case:
    return line(*tracers, fit="oversize", bore=f"{bore} mm")


def test_gap_of_two_round_tracers_is_the_distance_of_circles() -> None:
    placed = bodies(line({**ROUND, "clock": 3}, {**ROUND, "clock": 4}))
    chord = 2 * placed["T1"].centre * sin(pi / 12)
    assert clear_distance(placed["T1"], placed["T2"]) == pytest.approx(chord - 0.01)


def test_gap_of_two_flat_tracers_is_measured_on_the_pipe() -> None:
    placed = bodies(line({**FLAT, "clock": 11.5}, {**FLAT, "clock": 0.5}))
    assert clear_distance(placed["T1"], placed["T2"]) == pytest.approx(0.05 * pi / 6 - 0.012)


def test_overlap_across_twelve_is_seen() -> None:
    with pytest.raises(CaseError, match="overlaps"):
        line({**FLAT, "clock": 11.9}, {**ROUND, "clock": 0.1})


def test_stacks() -> None:
    with pytest.raises(CaseError, match="cannot lie on the round"):
        line({**ROUND, "clock": 6}, {**FLAT, "clock": 6, "over": "T1"})
    with pytest.raises(CaseError, match="has no lowest tracer"):
        line({**ROUND, "clock": 6, "over": "T2"}, {**ROUND, "clock": 6, "over": "T1"})
    with pytest.raises(CaseError, match="wider"):
        line({**FLAT, "clock": 6}, {**FLAT, "clock": 6, "over": "T1", "width": "14 mm"})
    with pytest.raises(CaseError, match="overlaps"):
        line({**FLAT, "clock": 6}, *[{**ROUND, "clock": 6, "over": "T1"}] * 2)


def test_bore_too_small_names_one_that_fits() -> None:
    """The bore touches the pipe at 6 and the tracer's outer corners: x^2 + (y - e)^2 = (r_o + e)^2."""
    half = 0.012 / 2 / 0.05
    x, y = 0.055 * sin(half), 0.055 * cos(half)
    rise = (x**2 + y**2 - 0.05**2) / (0.1 + 2 * y)
    with pytest.raises(CaseError, match=r"accepted: at least 105\.\d+ mm"):
        shell(104, {**FLAT, "clock": 12})
    wide = shell(140, {**FLAT, "clock": 12})
    assert smallest_bore(wide) == pytest.approx(2 * (0.05 + rise), abs=1e-9)


@given(st.floats(0, 12), st.floats(112, 150), st.sampled_from([ROUND, FLAT]))
def test_everything_lies_inside_the_hanging_bore(clock: float, bore: float, shape: dict[str, Any]) -> None:
    try:
        case = shell(bore, {**shape, "clock": clock})
    except CaseError:
        return
    offset = hanging_offset(case)
    assert offset is not None
    radius = case.insulation.bore / 2 if case.insulation.bore else 0.0
    assert offset <= radius - 0.05 + 1e-12
    body = bodies(case)["T1"]
    for step in range(-40, 41):
        if body.is_round:
            angle = step / 40 * pi
            x = body.centre * sin(body.angle) + body.radius * sin(angle)
            y = body.centre * sin(body.angle + pi / 2) + body.radius * sin(angle + pi / 2)
        else:
            angle = body.angle + step / 40 * body.half_angle
            x, y = body.top * sin(angle), body.top * sin(angle + pi / 2)
        assert hypot(x, y + offset) <= radius + 1e-9


def test_bare_pipe_only_without_tracers() -> None:
    raw = {
        "pipe": {"outer_diameter": "100 mm", "wall": "5 mm", "material": "PP"},
        "condition": [{"name": "cold", "ambient": "-10 degC"}],
    }
    assert parse_case(raw).insulation.layers == ()
    with pytest.raises(CaseError, match=r"insulation\.layer"):
        parse_case({**raw, "tracer": [{"name": "T", "clock": 3, **FLAT}]})
    with pytest.raises(CaseError, match=r"insulation\.layer"):
        parse_case({**raw, "barrier": {"thickness": "1 mm", "material": "aluminium"}})
