"""What a section stores: sheets by their own volume, beside the section without them."""

from typing import Any

import numpy as np
import pytest
from plain_lines import FLAT, line, solution

from sim.heat.plan_storage import line_store

STORES = {"density": "2700 kg/m3", "specific_heat": "900 J/kg/K"}


def capacity(**changes: Any) -> float:
    """Heat for a kelvin, J/m/K, of a drained line."""
    network = solution(line(FLAT, contents__state="empty", insulation__fit="bridged", **changes), 1.0).network
    store, kelvin = line_store(network), np.full(network.nodes, 300.0)
    return float((store.enthalpy(kelvin + 1.0) - store.enthalpy(kelvin)).sum())


def test_a_sheet_stores_by_its_own_volume() -> None:
    """A weather barrier of 1 mm all around; a foil of 0.5 mm along two tangents and the tracer's outer arc."""
    barrier = {"thickness": "1 mm", "conductivity": "160 W/m/K", "emissivity": 0.5} | STORES
    foil, outer, top = {"thickness": "0.5 mm"} | STORES, 0.05715, 0.06215
    plain, width = capacity(), top * 0.012 / outer + 2 * np.sqrt(top**2 - outer**2)
    around = 2700.0 * 900.0 * 1e-3 * 2 * np.pi * 0.10715
    assert capacity(barrier=barrier) - plain == pytest.approx(around, rel=2e-3)
    assert capacity(foil=foil) - plain == pytest.approx(2700.0 * 900.0 * 5e-4 * width, rel=0.03)
