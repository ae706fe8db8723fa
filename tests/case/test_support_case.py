"""Supports in a case: families, defaults that are shown, and what is refused."""

from typing import Any

import pytest
from support_lines import line

from sim.case import CaseError, assumptions, parse_case, resolved

FAMILIES = ("shoe", "clamp", "hanger", "trunnion", "cradle", "flange")


@pytest.mark.parametrize("family", FAMILIES)
def test_a_family_is_complete_and_reads_back(family: str) -> None:
    case = parse_case(line({"family": family}))
    assert parse_case(resolved(case)) == case
    parts = [
        p for p in (case.supports[0].pad, case.supports[0].leg, case.supports[0].insert) if p is not None
    ]
    assert parts
    assert all(part.length > 0 for part in parts)
    shown = {key for key, _, _ in assumptions(case) if key.startswith("support")}
    assert any("clock" in key for key in shown)


def test_parts_have_only_what_is_given() -> None:
    support = parse_case(line({"family": "parts", "leg": {"width": "8 mm"}})).supports[0]
    assert support.pad is None
    assert support.insert is None
    assert support.leg is not None
    assert support.leg.width == pytest.approx(0.008)


BAD: list[tuple[dict[str, Any], str]] = [
    ({"pad": {"clock": 4}}, "overlaps with tracer"),
    ({"leg": {"clock": 3}}, "overlaps with tracer"),
    ({"pad": {"thickness": "60 mm"}}, "leaves the insulation"),
    ({"leg": {"width": "0.1 mm"}}, "thinner than can be meshed"),
    ({"leg": {"width": "110 mm"}, "pad": {"arc": "60 deg"}}, "as wide as the pipe"),
    ({"spacing": "0.15 m"}, "not longer than the support"),
    ({"spacing": "1 m", "allowance_over": "2 m"}, "longer than the spacing"),
    ({"leg": {"end_temperature": "5 degC"}}, "end"),
    ({"family": "parts"}, "has no parts"),
    ({"family": "cradle", "allowance_on": "pad"}, "needs a pad"),
    ({"pad": {"arc": "400 deg"}}, "to 360 deg"),
    ({"spacing": "31 m"}, "to 30 m"),
    ({"leg": {"film_coefficient": "10 W/m2/K", "emissivity": 0.5}}, "one of the two"),
    ({"allowence": "1 m"}, "allowance"),
]


@pytest.mark.parametrize(("change", "message"), BAD)
def test_bad_supports_are_refused_by_name(change: dict[str, Any], message: str) -> None:
    with pytest.raises(CaseError, match=message) as caught:
        parse_case(line(change))
    assert "support[1]" in str(caught.value)


def test_two_supports_need_two_names() -> None:
    raw = line()
    with pytest.raises(CaseError, match="already"):
        parse_case(raw | {"support": [{"name": "A"}, {"name": "a"}]})


def test_a_condition_may_change_a_support() -> None:
    raw = line() | {
        "condition": [{"name": "a", "ambient": "0 degC", "support": {"S1": {"allowance": "0.5 m"}}}]
    }
    from sim.case import case_for

    assert case_for(parse_case(raw), "a").supports[0].allowance == pytest.approx(0.5)
