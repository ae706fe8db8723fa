"""The field around a fitting: balance, closed forms, what must make no difference, and an independent solver."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest
from fitting_lines import across, along, narrowed
from support_lines import narrowed as supported

from sim.solve.support_level import Level, solve_level

COARSE = 0.85


@cache
def flange(diameter: float, cover: str = "bare") -> Level:
    case = narrowed(along(diameter, 45, cover=cover))
    return solve_level(case, case.fittings[0], COARSE)


def test_the_heat_closes() -> None:
    """What leaves outside comes from the contents, to the solver's tolerance."""
    assert flange(230).values["closure"] < 1e-6
    assert flange(170, "40 mm").values["closure"] < 1e-6


@pytest.mark.slow
def test_a_covered_ring_is_todays_flange() -> None:
    """A body along under the line's own cover drains what a support's ring does, but for the ring's contact."""
    ring = {"family": "flange", "pad": {"thickness": "20 mm", "length": "90 mm"}}
    case = supported(ring, tracer=[])
    of_support = solve_level(case, case.supports[0], 1.2).values["chi"]
    own = narrowed(along(154.3, 45, cover="10 mm"))
    of_body = solve_level(own, own.fittings[0], 1.2).values["chi"]
    assert abs(of_body / of_support - 1) < 0.02


def test_a_body_of_the_lines_own_insulation_changes_nothing() -> None:
    """A body across of the line's insulation, within it, drains nothing: the cells in space are the line's own."""
    own: dict[str, Any] = {"from": "57 mm", "material": {"conductivity": "0.04 W/m/K"}}
    case = narrowed(across(60, 100, **own))
    assert abs(solve_level(case, case.fittings[0], COARSE).values["heat_sink"]) < 0.05


def test_chi_grows_with_what_is_bare_and_falls_with_cover() -> None:
    """A wider bare flange drains more; covering it drains less; and that is what covering is said to save."""
    bare, wide, covered = flange(230), flange(260), flange(230, "50 mm")
    assert wide.values["chi"] > bare.values["chi"] > covered.values["chi"] > 0.0
    saves = bare.values["heat_sink"] - covered.values["heat_sink"]
    assert abs(bare.values["covering_saves"] / saves - 1) < 1e-3
    assert "covering_saves" not in covered.values


def test_a_thick_bare_flange_loses_by_its_area() -> None:
    """Of copper, with contents at 60 degC, a bare body is at the bore's own temperature less the bore's film: what
    it loses is its outer area times the film there. Areas are of the cells, 0.5 % of the true ones."""
    case = narrowed(along(230, 45, material="copper"))
    found = solve_level(case, case.fittings[0], COARSE)
    area = np.pi * 0.230 * 0.090 + 2 * np.pi * (0.115**2 - 0.10715**2)
    low, high = (10.0 * area * (t - 273.15) for t in (330.0, 333.15))
    assert low * 0.9 < found.values["bare_loss"] < high


@pytest.mark.slow
def test_a_bonnet_closes_and_drains_as_a_fin() -> None:
    """A bare rod of copper out of a covered body along: a fin with a free end, within what its foot's fall is worth."""
    body = along(180, 90, cover="40 mm", material="copper")
    rod = across(40, 300, material="copper", cover="bare")
    case, without = narrowed(body, rod), narrowed(body)
    found = solve_level(case, case.fittings[0], 1.2).values
    base = solve_level(without, without.fittings[0], 1.2).values
    assert found["closure"] < 1e-6
    k, h, d, length = 398.0, 10.0, 0.040, 0.300 - 0.130
    m = np.sqrt(4 * h / (k * d))
    tip = h / (m * k)
    fin = k * np.pi * d**2 / 4 * m * (np.sinh(m * length) + tip * np.cosh(m * length))
    fin /= np.cosh(m * length) + tip * np.sinh(m * length)
    assert 0.85 < (found["chi"] - base["chi"]) / fin < 1.02
