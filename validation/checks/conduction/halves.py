"""A tracer on the border of two half planes: where the heat goes.

Below 3 and 9 o'clock everything conducts m times as well as above: liquid and gas in a half-filled bore, wet
and dry insulation. A small tracer lies on the border, at 3 o'clock. The picture is then its own mirror image but for
the factor: no heat crosses the border, and the temperature is that of a section that conducts the mean of the two all
round. That is a line source at radius s in a cylinder of radius R held at the ambient (Carslaw and Jaeger, section
10.10, by images, from memory): T(p) = q'/(2 pi k) ln(s |p - R2/s| / (R |p - s|)).
"""

import numpy as np

from validation.published.rows import Row, Table
from validation.sketches.lines import solid
from validation.sketches.sketch import DEFINED, GAS, LIQUID, ZERO, numbers, sketch

SMALL = {"name": "T1", "clock": 3, "shape": "flat", "width": "1 mm", "height": "0.2 mm", "output": "10 W/m"}
SMALL |= {"contact_conductance": "1e7 W/m2/K"}
IMAGES = "@carslaw1959, section 10.10, method of images (from memory); mirrored halves, " + DEFINED


def two_halves() -> list[Row]:
    """Half-filled still contents and a layer wet from 3 to 9 o'clock, three times as conductive below as above."""
    low, high = 0.1, 0.3
    wet = {"from_clock": 3.0, "to_clock": 9.0, "factor": high / low}
    liquid, gas = LIQUID | {"conductivity": f"{high} W/m/K"}, GAS | {"conductivity": f"{low} W/m/K"}
    raw = sketch(
        SMALL | {"body_conductivity": "0.2 W/m/K"},
        pipe={"outer_diameter": "100 mm", "wall": "0.4 mm", "material": solid(0.2)},
        contents={"state": "still", "fill": 0.5, "fluid": liquid, "gas": gas},
        insulation={"layer": [{"thickness": "50 mm", "conductivity": f"{low} W/m/K", "wet": wet}]},
        sensor=[{"name": f"at {clock}", "clock": clock} for clock in (0, 6, 9)],
    )
    values = numbers(raw)
    s, edge = 0.0501, 0.1
    unit = 10.0 / (2 * np.pi * 0.5 * (low + high))

    def rise(x: float, y: float) -> float:
        far, near = np.hypot(x - edge**2 / s, y), np.hypot(x - s, y)
        return float(unit * np.log(s * far / (edge * near)))

    why = "the one wall of 0.4 mm that both halves share, a tracer of 1 mm"
    table = Table("half-filled, half wet", IMAGES, unit="K", why=why)
    for name, exact, path in (
        ("liquid, mean", rise(0.0, 0.0), "liquid.mean"),
        ("gas, mean", rise(0.0, 0.0), "gas.mean"),
        ("pipe at 9 o'clock", rise(-0.05, 0.0), "sensors.at 9.reading"),
        ("pipe at 12 o'clock", rise(0.0, 0.05), "sensors.at 0.reading"),
        ("pipe at 6 o'clock", rise(0.0, -0.05), "sensors.at 6.reading"),
    ):
        table.row(name, exact, values[path] - ZERO, 0.03)
    return table.rows


GROUPS = (two_halves,)
