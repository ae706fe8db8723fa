"""Random supports: no crash, balances that close, chi that is positive and grows with the leg."""

from typing import Any

import pytest
import support_lines
from random_cases import _Draw
from random_whole import _support

from sim.case import Case, CaseError, case_for, parse_case
from sim.solve.support_level import solve_level

STATES: tuple[dict[str, Any], ...] = (
    {"state": "still"},
    {"state": "empty"},
    {"state": "mixed"},
    {"state": "mixed", "fill": 0.6},
    {"state": "flowing", "temperature": "45 degC", "velocity": "0.5 m/s"},
)


def random_line(seed: int) -> dict[str, Any]:
    """A line with one support of metal; every number is invented."""
    d = _Draw(seed)
    outputs = f"{d.even(10.0, 60.0)} W/m", {"at": [["-20 degC", "50 W/m"], ["120 degC", "8 W/m"]]}
    tracer = {"name": "T1", "clock": d.clock(), "shape": "flat", "width": "8 mm", "height": "4 mm"}
    support = _support(d, "S") | {"material": d.one(("carbon steel", "stainless steel"))}
    raw = support_lines.line(
        pipe={
            "size": f"DN {d.one((25, 50, 80, 100, 150, 200, 300))}",
            "schedule": "40",
            "material": d.one(("carbon steel", "HDPE")),
        },
        contents=d.one(STATES),
        tracer=[tracer | {"output": d.one(outputs)}],
        insulation={
            "fit": d.one(("snug", "snug", "bridged")),
            "layer": [{"material": "rock wool", "thickness": d.mm(25.0, 80.0)}],
        },
        outside={},
        condition=[{"name": "a", "ambient": d.celsius(-40.0, 10.0), "wind": f"{d.even(0.0, 9.0)} m/s"}],
        design={"maintain": "40 degC"},
    )
    return (
        raw
        | {"support": [support]}
        | ({"barrier": {"material": "aluminium", "thickness": "0.6 mm"}} if d.chance(0.6) else {})
    )


def narrowed(raw: dict[str, Any]) -> Case:
    return case_for(parse_case(raw), "a")


def values(case: Case) -> dict[str, float]:
    return solve_level(case, case.supports[0], 0.7).values


@pytest.mark.slow
def test_some_random_supports() -> None:
    solved = shoes = 0
    for seed in range(3000, 3024):
        raw = random_line(seed)
        family, leg = raw["support"][0]["family"], raw["support"][0].get("leg", {})
        try:
            case = narrowed(raw)
            computed = values(case)
        except (CaseError, ValueError):
            continue  # an overlap that the case refuses, a part too thin for this mesh
        solved += 1
        assert computed["closure"] < 1e-6, seed
        if family not in ("cradle", "parts"):  # an insert may be the better insulation
            assert computed["chi"] > 0, seed
        stem = case.supports[0].leg
        if family == "shoe" and stem is not None and shoes < 2:
            shoes += 1
            wider = {"family": family, "leg": leg | {"width": f"{1.4 * stem.width} m"}}
            grown = narrowed(raw | {"support": [raw["support"][0] | wider]})
            assert values(grown)["chi"] > computed["chi"], seed
    assert solved >= 12
    assert shoes == 2
