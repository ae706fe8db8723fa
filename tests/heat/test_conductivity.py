"""Conductivity of cells: each region by its own law."""

import numpy as np
import pytest
from plain_lines import FLAT, ROUND, line, only, solution

from sim.heat.conductivity import CellConductivity


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
    law = CellConductivity(only(raw), network.mesh)
    k = law(np.full(network.mesh.cells, 323.15))
    by_name = {}
    for number, region in enumerate(network.mesh.layout.regions):
        by_name[region.kind, region.index] = np.unique(k[network.mesh.cell_region == number].round(12))
    expected = {
        ("liquid", 0): 0.6, ("gas", 0): 0.03, ("wall", 0): 50.0, ("tracer", 0): 0.3, ("tracer", 1): 7.0,
        ("void", 0): 0.2, ("layer", 0): 0.05, ("wet", 0): 0.25,
    }  # fmt: skip
    assert {key: float(value.item()) for key, value in by_name.items()} == pytest.approx(expected)
