"""ISO 10211 case 3, and a support's fall on three meshes against the axial fin; its other closed forms have files of
their own (support_plates, support_legs, support_fins, support_bessel)."""

from __future__ import annotations

import numpy as np

from sim.solve.support_meshes import solve_support
from validation.checks.supports.iso_10211_case3 import PUBLISHED, solve
from validation.published.rows import Row
from validation.sketches.stretch import R_COVER, R_I, R_O, line

FIN = "@incropera, table 3.4 (from memory); closed form"


def iso_case_3() -> list[Row]:
    """Corner of two walls with a balcony slab, in three dimensions (ISO 10211, case 3)."""
    field = solve(4.0)
    rows = []
    for name, published in PUBLISHED.items():
        heat = not name.startswith("lowest")
        rows.append(
            Row(
                "ISO 10211 case 3 (3D)",
                "@iso10211, Annex C, case 3",
                f"heat flow, {name}" if heat else f"{name} surface",
                published,
                field[name],
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
    values = solve_support(case, case.supports[0], 1.0).quantities
    loss = 2 * np.pi / (np.log(R_COVER / R_O) / 0.04 + 1 / (10 * R_COVER))
    fin = np.sqrt(k * np.pi * (R_O**2 - R_I**2) * loss)
    exact = float(values["leg_heat"].value / (2 * fin))
    return [
        Row(
            "pipe as an axial fin with a sink",
            FIN,
            "fall of the wall's mean at the leg",
            exact,
            values["fall_mean"].value,
            0.03 * exact,
            "3 %: the leg also warms its insulation, which the closed form leaves out",
            "K",
            values["fall_mean"].band,
        )
    ]


GROUPS = (iso_case_3, axial_fin)
