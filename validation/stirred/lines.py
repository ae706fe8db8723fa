"""Forty invented lines whose contents move, drawn once from a fixed seed: every size and condition is invented.

Eight sizes five times over, DN 25 to DN 300, of steel, stainless steel or polyethylene; water, brines, light oil; 30 to
80 mm of insulation; one flat tracer anywhere from 4 to 8 o'clock. Its output is what keeps the contents at a drawn 5 to
60 degC in a drawn -30 to 10 degC, and a draw that asks for less than 10 or more than 40 W/m is drawn again.
"""

from __future__ import annotations

from itertools import product
from typing import Any

import numpy as np

SEED = 13
SIZES = {  # outer diameter, mm (ASME B36.10M)
    "DN 25": 33.4,
    "DN 40": 48.3,
    "DN 50": 60.3,
    "DN 80": 88.9,
    "DN 100": 114.3,
    "DN 150": 168.3,
    "DN 200": 219.1,
    "DN 300": 323.9,
}
METALS = {"carbon steel": "40", "stainless steel": "10S"}
PLASTIC, STANDARD_RATIO = "HDPE", 11.0  # its outer diameter over its wall
FLUIDS = ("water", "water", "calcium chloride brine 25 %", "ethylene glycol 50 %", "light oil")
HEAT = (10.0, 40.0)  # W/m
CONDUCTIVITY = 0.04  # W/m/K, of the insulation


def lines() -> dict[str, dict[str, Any]]:
    """The lines as case files would hold them, by name."""
    rng = np.random.default_rng(SEED)
    return {f"{size} {k + 1}": _line(rng, size) for k, size in product(range(5), SIZES)}


def _line(rng: np.random.Generator, size: str) -> dict[str, Any]:
    while True:
        material = str(rng.choice([*METALS, PLASTIC]))
        fluid = str(rng.choice(FLUIDS))
        thick, clock = float(rng.uniform(30, 80)), float(rng.uniform(4, 8))
        mean, ambient = float(rng.uniform(5, 60)), float(rng.uniform(-30, 10))
        outer = SIZES[size]
        loss = 2 * np.pi * CONDUCTIVITY / np.log(1 + 2 * thick / outer) * (mean - ambient)
        if HEAT[0] <= loss <= HEAT[1]:
            break
    pipe = {"size": size, "schedule": METALS.get(material), "material": material}
    if material == PLASTIC:
        wall = f"{outer / STANDARD_RATIO:.2f} mm"
        pipe = {"outer_diameter": f"{outer} mm", "wall": wall, "material": PLASTIC}
    tracer = {"name": "T1", "clock": round(clock, 2), "shape": "flat", "width": "12 mm", "height": "5 mm"}
    layer = {"thickness": f"{thick:.0f} mm", "conductivity": f"{CONDUCTIVITY} W/m/K"}
    return {
        "pipe": pipe,
        "contents": {"fluid": fluid, "state": "buoyant"},
        "tracer": [tracer | {"output": f"{loss:.1f} W/m"}],
        "insulation": {"fit": "snug", "layer": [layer]},
        "outside": {"coefficient": "15 W/m2/K"},
        "condition": [{"name": "frost", "ambient": f"{ambient:.1f} degC"}],
    }
