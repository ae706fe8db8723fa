"""The finite-element section against geometry and conservation."""

import copy
import math
from typing import Any

import numpy as np
import pytest

pytest.importorskip("gmsh")
pytest.importorskip("skfem")

from sim.case import parse_case
from validation.checks.elbow.torus import SHELLS, shell_factor
from validation.peers.elements.section import solve_section
from validation.sketches.invented import SECTIONS
from validation.sketches.lines import flowing, plain_pipe

pytestmark = pytest.mark.slow


def solve(section: dict[str, Any], **options: Any) -> dict[str, Any]:
    return solve_section(parse_case(copy.deepcopy(section)), **options)


def test_a_bend_loses_the_shape_factor_of_a_torus_shell() -> None:
    inner, outer, radius = SHELLS[0]
    case = plain_pipe(2 * inner, 0.001, 1e4, [(outer - inner, 0.04)], 1e6, contents=flowing(20.0, 1e7))
    lost = solve_section(case, refine=0.5, bend=(radius, 3.0))["heat_out"]
    assert lost * radius / (0.04 * 20.0) == pytest.approx(shell_factor(inner, outer, radius), rel=2e-4)


def test_areas_of_a_round_tracer_and_its_voids() -> None:
    """Body: circle less the segment within the pipe. Void: the strip between the tangents less what fills it."""
    areas = solve(SECTIONS["bridged_round"], refine=0.7)["area"]
    ro, ri, r, half = 0.05715, 0.05113, 0.006, 0.0012
    eta, gamma = math.asin(half / r), math.asin(half / ro)
    # the chord is common: the tracer lacks its own segment and the pipe's bulge beyond the chord
    segment = r**2 * (eta - math.sin(eta) * math.cos(eta))
    bulge = ro**2 * (gamma - math.sin(gamma) * math.cos(gamma))
    body = math.pi * r**2 - segment - bulge
    assert areas["tracer:0"] == pytest.approx(body, rel=1e-5)
    assert areas["wall"] == pytest.approx(math.pi * (ro**2 - ri**2), rel=1e-6)
    distance = math.sqrt(ro**2 - half**2) + math.sqrt(r**2 - half**2)
    beta = math.acos((ro - r) / distance)
    tangent = math.sqrt(distance**2 - (ro - r) ** 2)
    kites = (ro + r) * tangent  # two right-angled trapezia between the centres and the tangents
    between = kites - ro**2 * beta - r**2 * (math.pi - beta)  # less the sectors of pipe and tracer
    overlap = segment + bulge  # in both sectors, so taken away twice
    assert areas["void"] == pytest.approx(between + overlap, rel=1e-4)


def test_turning_everything_changes_nothing() -> None:
    """A snug section with still, full contents turned by 2.7 hours."""
    turned = copy.deepcopy(SECTIONS["round_still"])
    turned["tracer"][0]["clock"] = 7.7
    a, b = solve(SECTIONS["round_still"]), solve(turned)
    span = a["tracers"]["T1"]["sheath_max"] - 263.15
    assert a["wall"]["min"] == pytest.approx(b["wall"]["min"], abs=1e-4 * span)
    assert a["tracers"]["T1"]["sheath_max"] == pytest.approx(
        b["tracers"]["T1"]["sheath_max"], abs=1e-4 * span
    )
    assert a["wall"]["min_clock"] == pytest.approx(11.0, abs=0.01)
    assert b["wall"]["min_clock"] == pytest.approx(1.7, abs=0.01)


def test_self_regulating_tracer_gives_what_its_table_says() -> None:
    field = solve(SECTIONS["flat_regulating"], refine=0.7)
    tracer = field["tracers"]["T1"]
    table = np.interp(tracer["wall"] - 273.15, [-10, 20, 80], [40, 30, 5])
    assert tracer["output"] == pytest.approx(table, abs=1e-6)
    assert field["closure"] < 1e-8


def test_a_film_given_as_a_function() -> None:
    """A constant one is the coefficient itself; one that rises with the surface's own temperature settles."""
    section = SECTIONS["flat_mixed"]
    fixed = solve(section, refine=0.7)
    same = solve(section, refine=0.7, outside=lambda surface, angle: np.full_like(surface, 10.0))
    assert same["wall"]["max"] == pytest.approx(fixed["wall"]["max"], abs=1e-8)
    rising = solve(section, refine=0.7, outside=lambda surface, angle: 8.0 + 0.2 * (surface - 263.15))
    assert rising["closure"] < 1e-8
    assert rising["heat_out"] == pytest.approx(15.0, rel=1e-7)


@pytest.mark.parametrize("name", [n for n in SECTIONS if "foil" not in n and "bridged" not in n])
def test_refinement_settles(name: str) -> None:
    """A coarse mesh is within 0.1 percent of the span of one with half its element size."""
    coarse, fine = solve(SECTIONS[name], refine=0.5), solve(SECTIONS[name], refine=1.0)
    hottest = max([t["sheath_max"] for t in fine["tracers"].values()] or [fine["wall"]["max"]])
    for place in ("wall", "barrier"):
        for which in ("min", "mean", "max"):
            assert abs(coarse[place][which] - fine[place][which]) < 1e-3 * (hottest - 263.15)
    assert fine["closure"] < 1e-7


@pytest.mark.slow
def test_foil_pressed_on_so_hard_that_it_is_bonded_is_bonded() -> None:
    """The nodes beneath the foil are its own again, radiation in the voids included; and a poor contact is none."""
    pytest.importorskip("gmsh")
    from plain_lines import FLAT, line, only

    from validation.peers.elements.field import by_elements

    def sheath(contact: str) -> float:
        foil = {"thickness": "0.1 mm", "contact_conductance": contact}
        field = by_elements(only(line(FLAT, insulation__fit="bridged", foil=foil)), 0.35, 1e-6)
        return float(field["tracers"]["T1"]["sheath_max"])

    bonded = sheath("bonded")
    assert sheath("1e7 W/m2/K") == pytest.approx(bonded, abs=0.01)
    assert sheath("400 W/m2/K") > bonded + 0.2
