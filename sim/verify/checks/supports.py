"""The field around a support against closed forms of fins and ISO 10211 case 3."""

from __future__ import annotations

from typing import Any

import numpy as np

from sim.case import Case, case_for, parse_case
from sim.heat.fin import fin_root
from sim.solve.support import solve_support
from sim.verify.checks.iso_10211_case3 import PUBLISHED, solve
from sim.verify.rows import Row

FIN = "@incropera, table 3.4 (from memory); closed form"
R_I, R_O, R_COVER = 0.05113, 0.05715, 0.10715


def line(conductivity: float, support: dict[str, Any], layer: float = 0.04, **changes: Any) -> Case:
    """A bare DN 100 line of a metal of given conductivity with one support; invented."""
    metal = {"conductivity": f"{conductivity} W/m/K", "density": "7850 kg/m3", "specific_heat": "500 J/kg/K"}
    raw: dict[str, Any] = {
        "pipe": {"outer_diameter": "114.3 mm", "wall": "6.02 mm", "material": metal},
        "contents": {"state": "flowing", "temperature": "60 degC", "film_coefficient": "100000 W/m2/K"},
        "insulation": {"layer": [{"conductivity": f"{layer} W/m/K", "thickness": "50 mm"}]},
        "outside": {"coefficient": "10 W/m2/K"},
        "condition": [{"name": "a", "ambient": "0 degC"}],
        "design": {"maintain": "60 degC"},
        "support": [{"name": "S", "family": "parts"} | support],
    }
    return case_for(parse_case(raw | changes), "a")


def iso_case_3() -> list[Row]:
    """Corner of two walls with a balcony slab, in three dimensions (ISO 10211, case 3)."""
    found = solve(4.0)
    rows = []
    for name, published in PUBLISHED.items():
        heat = not name.startswith("lowest")
        rows.append(
            Row(
                "ISO 10211 case 3 (3D)",
                "@iso10211, Annex C, case 3",
                f"heat flow, {name}" if heat else f"{name} surface",
                published,
                found[name],
                0.01 * published if heat else 0.1,
                "the standard's own: 1 % of the flow" if heat else "the standard's own: 0.1 K",
                "W" if heat else "degC",
            )
        )
    return rows


def axial_fin() -> list[Row]:
    """The pipe as an axial fin with a sink.

    A leg on a traced line with an adiabatic bore: fall of the wall's mean Q / (2 M), M = sqrt(k A U').
    """
    metal, k = {"conductivity": "50 W/m/K"}, 50.0
    leg = {"width": "10 mm", "length": "30 mm", "exposed": "200 mm", "film_coefficient": "30 W/m2/K"}
    tracer = {
        "name": "T",
        "clock": 3,
        "output": "25 W/m",
        "shape": "flat",
        "width": "12 mm",
        "height": "5 mm",
    }
    still = {"state": "mixed", "film_coefficient": "0 W/m2/K"}
    case = line(k, {"material": metal, "leg": leg}, tracer=[tracer], contents=still)
    found = solve_support(case, case.supports[0], 1.41).quantities
    loss = 2 * np.pi / (np.log(R_COVER / R_O) / 0.04 + 1 / (10 * R_COVER))
    fin = np.sqrt(k * np.pi * (R_O**2 - R_I**2) * loss)
    exact = found["leg_heat"].value / (2 * fin)
    return [
        Row(
            "pipe as an axial fin with a sink",
            FIN,
            "fall of the wall's mean at the leg",
            exact,
            found["fall_mean"].value,
            0.03 * exact,
            "3 %: the leg also warms its insulation, which the closed form leaves out",
            "K",
            found["fall_mean"].band,
        )
    ]


def leg_ends() -> list[Row]:
    """A leg as a fin, four end conditions.

    A rod through insulation that hardly conducts, in series with the exposed fin.
    """
    rows = []
    ends: dict[str, tuple[dict[str, Any], float]] = {
        "free end": ({"end": "free"}, 0.0),
        "end held at ambient": ({"end": "held"}, 0.0),
        "end held at 30 degC": ({"end": "held", "end_temperature": "30 degC"}, 30.0),
        "very long": ({"end": "free", "exposed": "2 m"}, 0.0),
    }
    for name, (end, at) in ends.items():
        leg = {
            "width": "10 mm",
            "length": "60 mm",
            "exposed": "100 mm",
            "film_coefficient": "10 W/m2/K",
        } | end
        support = {"material": {"conductivity": "20 W/m/K"}, "leg": leg, "spacing": "0.4 m"}
        case = line(9000.0, support, layer=1e-4)
        said = case.supports[0].leg
        assert said is not None
        total, share = fin_root(20.0, 6e-4, 0.14, said.exposed, 10.0, said.end == "held")
        exact = (60.0 - share * at) / (0.05 / (20.0 * 6e-4) + 1 / total)
        found = solve_support(case, case.supports[0], 1.41).quantities["leg_heat_held"]
        rows.append(
            Row(
                "leg as a fin",
                FIN,
                f"heat, {name}",
                exact,
                found.value,
                0.01 * exact,
                "1 %: the wall's own resistance and the insulation's loss",
                "W",
                found.band,
            )
        )
    return rows


def ring() -> list[Row]:
    """The ring of a clamp as radial resistances in series.

    A ring of poor conductor 47 mm high beneath 3 mm of insulation.
    """
    height, length, k = 0.047, 0.3, 1.0
    pad = {
        "arc": "360 deg",
        "thickness": f"{1e3 * height} mm",
        "length": f"{1e3 * length} mm",
        "contact_conductance": "10000000 W/m2/K",
    }
    case = line(9000.0, {"material": {"conductivity": f"{k} W/m/K"}, "pad": pad})
    found = solve_support(case, case.supports[0], 1.41).quantities["heat_sink"]
    around = 2 * np.pi * length
    rim = R_O + height
    through = np.log(rim / R_O) / (around * k) + np.log(R_COVER / rim) / (around * 0.04)
    plain = np.log(R_COVER / R_O) / (around * 0.04)
    film = 1 / (10 * around * R_COVER)
    exact = 60.0 / (through + film) - 60.0 / (plain + film)
    return [
        Row(
            "ring of a clamp, radial resistances in series",
            "@incropera, section 3.3.1 (from memory); closed form",
            "heat sink",
            exact,
            found.value,
            0.05 * exact,
            "5 %: the ring's two faces lose heat to the insulation beside it, and its rim's edges spread; the closed"
            " form has neither, so the field lies above it",
            "W",
            found.band,
        )
    ]


GROUPS = (iso_case_3, axial_fin, leg_ends, ring)
