"""A tracer on the border of two half planes: where the heat goes.

Below 3 and 9 o'clock everything conducts m times as well as above: liquid and gas in a half-filled bore, wet
and dry insulation. A small tracer lies on the border, at 3 o'clock. The picture is then its own mirror image but for
the factor: no heat crosses the border, and the temperature is that of a section that conducts the mean of the two all
round. That is a line source at radius s in a cylinder of radius R held at the ambient (Carslaw and Jaeger, section
10.10, by images, from memory): T(p) = q'/(2 pi k) ln(s |p - R2/s| / (R |p - s|)).
"""

from typing import Any

import numpy as np

from validation.published.rows import Row
from validation.sketches.lines import solid
from validation.sketches.sketch import DEFINED, GAS, LIQUID, ZERO, numbers, sketch

SMALL = {
    "name": "T1",
    "clock": 3,
    "shape": "flat",
    "width": "1 mm",
    "height": "0.2 mm",
    "output": "10 W/m",
    "contact_conductance": "1e7 W/m2/K",
}
CLOCKS = (0.0, 3.0, 6.0, 9.0)
IMAGES = "@carslaw1959, section 10.10, method of images (from memory); mirrored halves, " + DEFINED


def _sensors() -> list[dict[str, Any]]:
    return [{"name": f"at {clock:g}", "clock": clock} for clock in CLOCKS]


def two_halves() -> list[Row]:
    """Half-filled still contents and a layer wet from 3 to 9 o'clock, three times as conductive below as above."""
    low, high = 0.1, 0.3
    raw = sketch(
        SMALL | {"body_conductivity": "0.2 W/m/K"},
        pipe={"outer_diameter": "100 mm", "wall": "0.4 mm", "material": solid(0.2)},
        contents={
            "state": "still",
            "fill": 0.5,
            "fluid": LIQUID | {"conductivity": f"{high} W/m/K"},
            "gas": GAS | {"conductivity": f"{low} W/m/K"},
        },
        insulation={
            "layer": [
                {
                    "thickness": "50 mm",
                    "conductivity": f"{low} W/m/K",
                    "wet": {"from_clock": 3.0, "to_clock": 9.0, "factor": high / low},
                }
            ]
        },
        sensor=_sensors(),
    )
    values = numbers(raw)
    s, edge = 0.0501, 0.1
    unit = 10.0 / (2 * np.pi * 0.5 * (low + high))

    def rise(x: float, y: float) -> float:
        far, near = np.hypot(x - edge**2 / s, y), np.hypot(x - s, y)
        return float(unit * np.log(s * far / (edge * near)))

    exact = {
        "liquid, mean": (rise(0.0, 0.0), values["liquid.mean"]),
        "gas, mean": (rise(0.0, 0.0), values["gas.mean"]),
        "pipe at 9 o'clock": (rise(-0.05, 0.0), values["sensors.at 9.reading"]),
        "pipe at 12 o'clock": (rise(0.0, 0.05), values["sensors.at 0.reading"]),
        "pipe at 6 o'clock": (rise(0.0, -0.05), values["sensors.at 6.reading"]),
    }
    why = "3 %: the one wall of 0.4 mm that both halves share, a tracer of 1 mm"
    return [
        Row("half-filled, half wet", IMAGES, name, value, ours - ZERO, 0.03 * value, why, "K")
        for name, (value, ours) in exact.items()
    ]


GROUPS = (two_halves,)
