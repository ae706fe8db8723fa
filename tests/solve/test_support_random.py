"""A hundred random supports: no crash, balances that close, chi that is positive and grows with the leg."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from sim.case import Case, CaseError, case_for, parse_case
from sim.solve.support_level import solve_level

FAMILIES = ("shoe", "clamp", "hanger", "trunnion", "cradle", "flange")


def random_line(rng: np.random.Generator) -> dict[str, Any]:
    """A line with one support, drawn at random; every number is invented."""

    def mm(low: float, high: float) -> str:
        return f"{rng.uniform(low, high):.2f} mm"

    thickness = rng.uniform(25, 100)
    state = str(rng.choice(["mixed", "mixed", "still", "empty", "flowing"]))
    fit = str(rng.choice(["snug", "snug", "bridged", "oversize"]))
    size = int(rng.choice([25, 50, 80, 100, 150, 200, 300]))
    outer = {25: 33.4, 50: 60.3, 80: 88.9, 100: 114.3, 150: 168.3, 200: 219.1, 300: 323.8}[size]
    tracer: dict[str, Any] = {"name": "T1", "clock": round(float(rng.choice([2.6, 3.0, 9.0, 9.4])), 2)}
    tracer |= (
        {"shape": "flat", "width": mm(6, 9), "height": mm(3, 6)}
        if rng.random() < 0.5
        else {"shape": "round", "diameter": mm(4, 9)}
    )
    tracer["output"] = (
        f"{rng.uniform(8, 40):.1f} W/m"
        if rng.random() < 0.6
        else {"at": [["-40 degC", f"{rng.uniform(30, 50):.1f} W/m"], ["90 degC", "0 W/m"]]}
    )
    family = str(rng.choice(FAMILIES))
    support: dict[str, Any] = {
        "name": "S",
        "family": family,
        "material": str(rng.choice(["carbon steel", "stainless steel"])),
        "allowance": f"{rng.uniform(0, 1):.3f} m",
        "barrier_touches": bool(rng.random() < 0.3),
    }
    if family == "shoe":
        support["pad"] = {
            "length": mm(80, 300),
            "arc": f"{rng.uniform(40, 90):.1f} deg",
            "thickness": mm(3, 12),
        }
    if family == "flange":
        support["pad"] = {"thickness": f"{rng.uniform(8, thickness - 4):.2f} mm"}
    if family in ("shoe", "clamp", "trunnion"):
        support["leg"] = {
            "width": mm(4, 14),
            "length": mm(40, 200),
            "exposed": mm(20, 400),
            "end": str(rng.choice(["free", "held"])),
            "film_coefficient": f"{rng.uniform(5, 30):.1f} W/m2/K",
        }
    if rng.random() < 0.3:
        support["spacing"] = f"{rng.uniform(1, 6):.2f} m"
    raw: dict[str, Any] = {
        "pipe": {
            "size": f"DN {size}",
            "schedule": "40",
            "material": str(rng.choice(["carbon steel", "HDPE"])),
        },
        "contents": {"state": state},
        "tracer": [tracer],
        "insulation": {"fit": fit, "layer": [{"material": "rock wool", "thickness": f"{thickness:.1f} mm"}]},
        "condition": [
            {
                "name": "a",
                "ambient": f"{rng.uniform(-40, 10):.1f} degC",
                "wind": f"{rng.uniform(0, 9):.1f} m/s",
            }
        ],
        "design": {"maintain": "40 degC"},
        "support": [support],
    }
    if state == "flowing":
        raw["contents"] |= {"temperature": "45 degC", "velocity": "0.5 m/s"}
    elif state == "mixed" and rng.random() < 0.3:
        raw["contents"]["fill"] = round(float(rng.uniform(0.2, 0.9)), 2)
    if fit == "oversize":
        raw["insulation"]["bore"] = f"{outer + rng.uniform(22, 40):.1f} mm"
    if rng.random() < 0.6:
        raw["barrier"] = {"material": "aluminium", "thickness": "0.6 mm"}
    if rng.random() < 0.2 and fit != "oversize":
        raw["foil"] = {"thickness": "0.06 mm"}
    return raw


def changed(raw: dict[str, Any], **support: Any) -> Case:
    return case_for(parse_case(raw | {"support": [raw["support"][0] | support]}), "a")


def chi(case: Case) -> float:
    return solve_level(case, case.supports[0], 0.7).values["chi"]


def tried(seeds: range) -> tuple[int, list[str]]:
    """How many supports were solved, and what was wrong with which."""
    solved, wrong = 0, []
    for seed in seeds:
        raw = random_line(np.random.default_rng(seed))
        try:
            case = case_for(parse_case(raw), "a")
        except CaseError:
            continue  # an overlap that the case refuses
        values = solve_level(case, case.supports[0], 0.7).values
        solved += 1
        label = f"seed {seed} ({raw['support'][0]['family']}, {raw['contents']['state']}, {raw['insulation']['fit']})"
        if not values["closure"] < 1e-6:
            wrong.append(f"{label}: closure {values['closure']:.1e}")
        if not values["chi"] > 0:
            wrong.append(f"{label}: chi {values['chi']:.3g}")
        if raw["support"][0]["family"] == "shoe":
            bare = {k: raw["support"][0][k] for k in ("pad", "material")}
            leg = raw["support"][0]["leg"]
            wider = chi(changed(raw, leg=leg | {"width": f"{1.4 * float(leg['width'].split()[0]):.2f} mm"}))
            if not wider > values["chi"]:
                wrong.append(f"{label}: chi {values['chi']:.4g} does not grow with the leg: {wider:.4g}")
            length = bare["pad"]["length"]
            cradle = raw | {"support": [{"name": "S", "family": "cradle", "insert": {"length": length}}]}
            if not chi(case_for(parse_case(cradle), "a")) < values["chi"]:
                wrong.append(f"{label}: chi of a cradle of the same length is not below {values['chi']:.4g}")
    return solved, wrong


@pytest.mark.slow
def test_some_random_supports() -> None:
    solved, wrong = tried(range(4))
    assert solved >= 2
    assert not wrong, wrong


@pytest.mark.slow
def test_seventy_random_supports() -> None:
    solved, wrong = tried(range(1000, 1070))
    assert solved >= 50
    assert not wrong, wrong
