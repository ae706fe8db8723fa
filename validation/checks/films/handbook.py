"""Outside films against a handbook example and a measured table."""

import numpy as np

from sim.heat import film
from validation.published.rows import Row

ZERO = 273.15
PIPE_INCHES = {"1/2": 0.840, "1": 1.315, "2": 2.375, "4": 4.5, "6": 6.625, "8": 8.625, "12": 12.75}
BARE_PIPE = {  # Btu/(h ft degF) by difference in degF
    50.0: (0.455, 0.684, 1.180, 2.118, 3.036, 3.880, 5.590),
    110.0: (0.546, 0.819, 1.412, 2.534, 3.626, 4.638, 6.670),
    157.1: (0.612, 0.919, 1.578, 2.850, 4.074, 5.210, 7.500),
}


def examples() -> list[Row]:
    """A handbook example of a film in cross flow."""
    forced = film.forced(128.4 + ZERO, ambient=26.2 + ZERO, wind=10.0, diameter=0.0127)
    source = "@incropera, example 7.4 (from memory); by @churchillbernstein1977"
    why = "2 %: properties of air read from a table in the book"
    return [Row("cross flow", source, "film coefficient", 96.0, float(forced), 2.0, why, "W/m2/K")]


def bare_pipes() -> list[Row]:
    """A measured table of bare pipes in still air."""
    source, why = "@ashve1941, table 6 (reprinted 1955)", "5 %: measured, emissivity 0.80 taken"
    rows, ambient = [], (70.0 + 459.67) / 1.8
    still = {
        "ambient": ambient,
        "wind": 0.0,
        "wind_from_clock": None,
        "emissivity": 0.80,
        "coefficient": None,
    }
    for difference, listed in BARE_PIPE.items():
        for (size, inches), published in zip(PIPE_INCHES.items(), listed, strict=True):
            diameter, surface = inches * 0.0254, ambient + difference / 1.8
            h = film.outside_coefficient(surface, 0.0, diameter=diameter, **still)  # type: ignore[arg-type]
            name = f"NPS {size}, {difference:g} degF above 70 degF"
            numbers = (published, float(h) * np.pi * diameter / 1.7307, 0.05 * published)
            check, unit = "bare steel pipe in still air", "Btu/(h ft degF)"
            rows.append(Row(check, source, name, *numbers, why, unit, at=1e3 * diameter))
    return rows


GROUPS = (examples, bare_pipes)
