"""Conductivity of cells: an air void by hand, and each region by its own law."""

import numpy as np
import pytest
from plain_lines import FLAT, ROUND, line, only, solution

from sim.heat import air
from sim.heat.conductivity import SIGMA, CellConductivity, air_void


def test_air_void_by_hand() -> None:
    """10 mm at 300 K between surfaces of emissivity 0.9: e = 1/(2/0.9 - 1) = 0.8182, 4 sigma e T^3 L = 0.0501."""
    radiated = 4 * 5.670374419e-8 * 0.8181818 * 300.0**3 * 0.010
    assert radiated == pytest.approx(0.0501, rel=1e-3)
    k = air_void(np.array([300.0]), np.array([0.010]), 0.9)
    assert k[0] - radiated == pytest.approx(float(air.conductivity(300.0)), rel=1e-6)


def test_air_void_limits() -> None:
    t = np.array([260.0, 400.0])
    assert air_void(t, np.zeros(2), 0.9) == pytest.approx(air.conductivity(t))
    black = air_void(t, np.full(2, 0.01), 1.0) - air.conductivity(t)
    assert black == pytest.approx(4 * SIGMA * t**3 * 0.01)
    assert air_void(t, np.full(2, 0.01), 0.0) == pytest.approx(air.conductivity(t))


def test_each_region_has_its_own_law() -> None:
    raw = line(
        FLAT | {"body_conductivity": "0.3 W/m/K"},
        ROUND | {"name": "T2", "clock": 9.0, "body_conductivity": "7 W/m/K"},
        contents__fill=0.5,
        insulation__fit="bridged",
        insulation__void={"conductivity": "0.2 W/m/K"},
        layer__conductivity=[["0 degC", "0.04 W/m/K"], ["100 degC", "0.06 W/m/K"]],
        layer__wet={"from_clock": 1.0, "to_clock": 2.0, "factor": 5.0},
    )
    network = solution(raw, 1.0).network
    law = CellConductivity(only(raw), network.mesh, network.void_width)
    k = law(np.full(network.mesh.cells, 323.15))
    found = {}
    for number, region in enumerate(network.mesh.layout.regions):
        found[region.kind, region.index] = np.unique(k[network.mesh.cell_region == number].round(12))
    expected = {
        ("liquid", 0): 0.6, ("gas", 0): 0.03, ("wall", 0): 50.0, ("tracer", 0): 0.3, ("tracer", 1): 7.0,
        ("void", 0): 0.2, ("layer", 0): 0.05, ("wet", 0): 0.25,
    }  # fmt: skip
    assert {key: float(value.item()) for key, value in found.items()} == pytest.approx(expected)


def test_wet_conductivity_may_be_given() -> None:
    raw = line(layer__wet={"from_clock": 1.0, "to_clock": 2.0, "conductivity": "0.33 W/m/K"})
    found = solution(raw, 1.0)
    wet = found.network.mesh.cell_region == found.network.mesh.layout.number("wet")
    assert found.conductivity[wet] == pytest.approx(0.33)
