"""Random valid cases: conservation, the maximum principle, finite numbers, and better never worse."""

import copy
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_cases import random_raw

from sim.case import Case, case_for, parse_case
from sim.heat.network import network
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.solve.at_rest import MeshStore
from sim.solve.quantities import quantities
from sim.solve.section import solve_section
from sim.solve.steady import Solution, solve

SEEDS = st.integers(10_000, 20_000)
ROUNDING = 1e-9  # K


def narrowed(raw: dict[str, Any]) -> Case:
    return case_for(parse_case(raw), "now")


def solved(case: Case, fineness: float = 1.0) -> Solution:
    return solve(network(case, plan_mesh(place(case), fineness)))


def given_temperatures(case: Case) -> list[float]:
    """What the section exchanges heat with, K: the ambient, and contents of a given temperature."""
    at = [case.conditions[0].ambient]
    if case.contents.state == "flowing" and case.contents.film_coefficient != 0.0:
        assert case.contents.temperature is not None
        at.append(case.contents.temperature)
    return at


def hold(case: Case, field: Solution) -> None:
    """What every solution must satisfy."""
    numbers, at = quantities(field), list(given_temperatures(case))
    if case.conditions[0].sun is not None or case.conditions[0].sky is not None:
        at += field.balance.to_temperature.tolist()  # what a surface would take on by sun, sky and air alone
    assert numbers["closure"] < 1e-8
    assert field.temperature.min() >= min(at) - ROUNDING  # no tracer cools
    if field.balance.heat.sum() == 0.0:
        assert field.temperature.max() <= max(at) + ROUNDING
    else:
        # the hottest place is where heat is made, or a given temperature
        hottest = int(np.argmax(field.temperature))
        heated = field.network.heat_share[field.balance.heat > 0, hottest].sum() > 0
        assert heated or field.temperature[hottest] <= max(at) + ROUNDING
    adiabatic = case.contents.film_coefficient == 0.0 and case.contents.state != "still"
    for path, value in numbers.items():
        if np.isnan(value):
            group, _, last = path.partition(".")
            assert group == "contents", path
            assert adiabatic or last in ("min_clock", "max_clock"), path
        assert not np.isinf(value), path
    for tracer in case.tracers:
        watts = numbers[f"tracers.{tracer.name}.output"]
        assert watts >= 0.0
        assert watts == 0.0 or tracer.on
    for part in ("wall", "barrier"):
        low, mean, high = (numbers[f"{part}.{name}"] for name in ("min", "mean", "max"))
        assert low - ROUNDING <= mean <= high + ROUNDING


@settings(max_examples=20)
@given(SEEDS)
def test_balance_and_maximum_principle(seed: int) -> None:
    case = narrowed(random_raw(seed))
    hold(case, solved(case))


@settings(max_examples=6)
@given(SEEDS, st.floats(0.1, 5.0))
def test_linear_in_the_output_under_fixed_films(seed: int, factor: float) -> None:
    """Constant conductivities, one given outside coefficient, no radiation, no flow: rises scale with the heat."""
    rises = []
    for scale in (1.0, factor):
        raw = random_raw(seed)
        raw["outside"] = {"coefficient": "8 W/m2/K"}
        raw["contents"] = {"state": "still", "fill": raw["contents"].get("fill", 1.0)} | {
            phase: {"conductivity": k, "density": "1000 kg/m3", "specific_heat": "4000 J/kg/K"}
            | {"viscosity": "0.001 Pa s", "expansion": "2e-4 1/K"}
            for phase, k in (("fluid", "0.6 W/m/K"), ("gas", "0.03 W/m/K"))
        }
        raw["insulation"]["void"] = {"conductivity": "0.05 W/m/K"}
        raw["pipe"]["material"] = {
            "conductivity": "16 W/m/K",
            "density": "8000 kg/m3",
            "specific_heat": "500 J/kg/K",
        }
        for layer in raw["insulation"]["layer"]:
            layer.pop("material", None)
            layer["conductivity"] = "0.04 W/m/K"
        for tracer in raw["tracer"]:
            tracer["output"] = f"{20.0 * scale:.12g} W/m"
        case = narrowed(raw)
        fields = solved(case)
        rises.append(fields.temperature - case.conditions[0].ambient)
    assert rises[1] == pytest.approx(factor * rises[0], rel=1e-6, abs=1e-9)


@settings(max_examples=6)
@given(SEEDS, st.floats(1.05, 3.0))
def test_insulation_that_conducts_more_is_never_warmer(seed: int, factor: float) -> None:
    """Warmer everywhere inside needs a line that is warmer than the ambient and outputs that fall with temperature."""
    coldest = []
    for scale in (1.0, factor):
        raw = random_raw(seed)
        raw["condition"][0]["ambient"] = "-20 degC"
        raw["outside"] = {"coefficient": "10 W/m2/K"}
        for layer in raw["insulation"]["layer"]:
            layer.pop("material", None)
            layer["conductivity"] = f"{0.03 * scale:.9g} W/m/K"
        fields = solved(narrowed(raw))
        numbers = quantities(fields)
        coldest.append((numbers["wall.min"], numbers["wall.mean"]))
    assert coldest[1][0] <= coldest[0][0] + 1e-7
    assert coldest[1][1] <= coldest[0][1] + 1e-7


@settings(max_examples=4)
@given(SEEDS, st.floats(0.0, 12.0))
def test_turning_a_symmetric_line_stays_within_bands(seed: int, turn: float) -> None:
    """Snug or bridged, full, dry, wind without a side: turning all tracers turns the field with them."""
    raw = random_raw(seed)
    raw["insulation"] |= {
        "fit": "snug" if raw["insulation"]["fit"] == "oversize" else raw["insulation"]["fit"]
    }
    raw["insulation"].pop("bore", None)
    raw["contents"].pop("fill", None)
    raw["condition"][0].pop("wind_from", None)
    raw.pop("foil", None)
    for layer in raw["insulation"]["layer"]:
        layer.pop("wet", None)
    raw["insulation"]["layer"][0]["thickness"] = "60 mm"
    turned = copy.deepcopy(raw)
    for tracer in turned["tracer"]:
        tracer["clock"] = round((tracer["clock"] + turn) % 12, 6)
    a, b = (solve_section(narrowed(r), MeshStore(), 1.5) for r in (raw, turned))
    for path, one in a.quantities.items():
        other = b.quantities[path]
        if "clock" in path or path.startswith("sensors") or path == "closure" or np.isnan(one.value):
            continue
        assert abs(one.value - other.value) <= one.band + other.band + 1e-6, path


@pytest.mark.slow
@pytest.mark.parametrize("block", range(20))
def test_five_hundred_cases(block: int) -> None:
    """None crashes and none gives a number that does not hold; NotConverged would be an answer, and is not needed."""
    for seed in range(25 * block, 25 * block + 25):
        case = narrowed(random_raw(seed))
        fields = solved(case, 1.5)
        hold(case, fields)
        mesh = fields.network.mesh
        solid = np.isin([r.kind for r in mesh.layout.regions], ("wall", "tracer", "layer", "wet", "void"))
        assert np.abs(mesh.area_error[solid]).max() < 0.3, seed


@pytest.mark.slow
def test_bands_hold_a_finer_mesh_in_nine_of_ten() -> None:
    """Twenty random lines on the default meshes against four times the cells."""
    hits = []
    for seed in range(600, 620):
        case = narrowed(random_raw(seed))
        result = solve_section(case)
        fine = quantities(solved(case, 6.0))
        for path, banded in result.quantities.items():
            if path.rsplit(".", 1)[-1] in ("min", "mean", "max", "sheath_max", "heat_out"):
                hits.append(np.isnan(banded.value) or abs(banded.value - fine[path]) <= banded.band)
    assert np.mean(hits) >= 0.9
