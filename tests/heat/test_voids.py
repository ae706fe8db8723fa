"""Radiation across voids of air in the network: one body or two, mirrors, compound, supports layer by layer."""

import numpy as np
import pytest
from plain_lines import FLAT, ROUND, STORE, line, only, solution

from sim.solve.at_rest import SectionResult
from sim.solve.balance import evaluate
from sim.solve.section import solve_section

HANGING = {"insulation__fit": "oversize", "insulation__bore": "140 mm"}
HALF = 0.5 * 6.0 / 57.15 / (2 * np.pi) * 12  # clock hours over half of the width of a tracer of 6 mm


def result(raw: dict, fineness: float = 2.0) -> SectionResult:
    return solve_section(only(raw), STORE, fineness)


@pytest.mark.parametrize("fit", [HANGING, {"insulation__fit": "bridged"}], ids=["hanging", "bridged"])
def test_a_tracer_drawn_as_two_halves_is_the_same_tracer(fit: dict) -> None:
    whole = FLAT | {"width": "12 mm", "clock": 6.0, "contact_conductance": "1e5 W/m2/K"}
    part = whole | {"width": "6 mm", "output": "10 W/m"}
    halves = part | {"clock": 6.0 - HALF}, part | {"clock": 6.0 + HALF, "name": "T2"}
    one, two = result(line(whole, **fit)), result(line(*halves, **fit))
    for mine, other in (
        ("wall.min", "wall.min"),
        ("tracers.T1.mean", "tracers.T1.mean"),
        ("barrier.max", "barrier.max"),
    ):
        a, b = one.quantities[mine], two.quantities[other]
        assert abs(a.value - b.value) < a.band + b.band
        assert abs(a.value - b.value) < 0.1


def test_a_gap_that_radiates_less_leaves_its_tracer_hotter() -> None:
    """Emissivity of all surfaces, then of the tracer's alone."""
    hot = []
    for void in (
        {"emissivity": 1.0},
        {},
        {"tracer_emissivity": 0.3},
        {"emissivity": 0.3},
        {"emissivity": 0.0},
    ):
        hot.append(result(line(ROUND, insulation__void=void, **HANGING), 1.5).value("tracers.T1.sheath_max"))
    assert (np.diff(hot) > 1.0).all()


@pytest.mark.parametrize("fit", [HANGING, {"insulation__fit": "bridged"}], ids=["hanging", "bridged"])
def test_mirrors_leave_conduction_alone(fit: dict) -> None:
    mirrors = result(line(ROUND, insulation__void={"emissivity": 0.0}, **fit), 1.5)
    assert len(mirrors.solution.network.void_radiation[0].a) == 0
    k = mirrors.solution.conductivity
    air = np.array([r.kind == "void" for r in mirrors.solution.network.mesh.layout.regions])
    air = air[mirrors.solution.network.mesh.cell_region]
    filled = result(line(ROUND, insulation__void={"conductivity": f"{k[air].mean()} W/m/K"}, **fit), 1.5)
    got, expected = (r.value("tracers.T1.sheath_max") for r in (mirrors, filled))
    assert got == pytest.approx(expected, abs=0.02 * (got - 263.15))


@pytest.mark.parametrize(
    "raw",
    [
        line(
            ROUND,
            FLAT | {"name": "T2", "clock": 9.0},
            insulation__fit="bridged",
            foil={"thickness": "0.1 mm"},
        ),
        line(ROUND | {"standoff": "1 mm"}, FLAT | {"name": "T2", "clock": 9.0, "standoff": "1 mm"}),
        line(FLAT, ROUND | {"name": "T2", "over": "T1", "diameter": "6 mm"}, insulation__fit="bridged"),
        line(ROUND | {"clock": 12.0}, insulation__void={"emissivity": 1.0}, **HANGING),
    ],
    ids=["bridged foil", "lifted", "stacked", "hanging on a tracer"],
)
def test_radiation_leaves_nothing_over(raw: dict) -> None:
    """What the joints across voids carry sums to nothing over all nodes, and not to nothing over any one surface."""
    field = solution(raw, 1.5)
    net, t = field.network, field.temperature
    part = net.joints.parts["void radiation"]
    balance = evaluate(net, t, net.law())
    flow = (balance.conductance * (t[balance.a] - t[balance.b]))[part]
    into = np.bincount(balance.b[part], flow, net.nodes) - np.bincount(balance.a[part], flow, net.nodes)
    assert into.sum() == pytest.approx(0.0, abs=1e-9)
    cells = net.cell_node[net.cell_node >= 0]
    surfaces = np.setdiff1d(np.unique(balance.a[part]), net.void_radiation[0].b)
    assert np.abs(into[surfaces]).sum() > 0.5
    assert np.abs(into[cells]).sum() == 0.0
    assert np.abs(into[np.setdiff1d(np.unique(balance.b[part]), surfaces)]).max() < 1e-6


def test_foil_in_a_shells_gap_radiates_on_both_sides() -> None:
    """A foil that conducts nothing along itself, bonded to the sheath, stands in for the sheath's own surface."""
    thin = {"thickness": "0.001 mm", "conductivity": "0.01 W/m/K", "contact_conductance": "bonded"}
    tracer = ROUND | {"clock": 6.0}
    bare, covered = (result(line(tracer, **HANGING, **foil)) for foil in ({}, {"foil": thin}))
    a, b = (r.value("tracers.T1.sheath_max") for r in (bare, covered))
    assert b == pytest.approx(a, abs=0.03 * (a - 263.15))
    assert covered.value("wall.min") > bare.value(
        "wall.min"
    )  # it keeps some of the tracer's radiation from the shell
