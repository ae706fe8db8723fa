"""A tracer on the border of two half planes, and lumped contents beside a tracer: where the heat goes.

Halves. Below 3 and 9 o'clock everything conducts m times as well as above: liquid and gas in a half-filled bore, wet
and dry insulation. A small tracer lies on the border, at 3 o'clock. The picture is then its own mirror image but for
the factor: no heat crosses the border, and the temperature is that of a section that conducts the mean of the two all
round. That is a line source at radius s in a cylinder of radius R held at the ambient (Carslaw and Jaeger, section
10.10, by images, from memory): T(p) = q'/(2 pi k) ln(s |p - R2/s| / (R |p - s|)).

Mixed contents. One temperature, that takes up no net heat: the mean of the bore's (Fourier series of fourier.py).
"""

from typing import Any

import numpy as np

from validation.checks.conduction.fourier import TwoLayerAnnulus
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


def mixed_contents() -> list[Row]:
    """Stirred contents in a plastic pipe: film as given, and as the program assumes (100 W/m2/K)."""
    rows = []
    for name, film, given in (
        ("film 20 W/m2/K", 20.0, {"film_coefficient": "20 W/m2/K"}),
        ("film assumed, 100 W/m2/K", 100.0, {}),
    ):
        raw = sketch(
            SMALL | {"width": "12 mm", "height": "0.4 mm", "body_conductivity": "0.04 W/m/K"},
            pipe__material=solid(1.0),
            contents={"state": "mixed", "fluid": LIQUID} | given,
            outside__coefficient="10 W/m2/K",
            sensor=_sensors(),
        )
        values = numbers(raw)
        exact = TwoLayerAnnulus(0.05, 0.055, 0.095, 1.0, 0.04, 10.0, 10.0, 0.012, "mixed", film_inside=film)
        # the heat sits half the tracer's height off the pipe, which takes this from every mean within
        shift = 10.0 * np.log(0.0552 / 0.055) / (2 * np.pi * 0.04)
        on_pipe = exact.outside_of_pipe(np.array([0.0, np.pi]), 4000) - shift
        for where, value, ours in (
            ("contents", exact.mean - shift, values["contents.mean"]),
            ("sensor at the tracer, 3 o'clock", on_pipe[0], values["sensors.at 3.reading"]),
            ("sensor opposite, 9 o'clock", on_pipe[1], values["sensors.at 9.reading"]),
        ):
            source = "Fourier series of the two-layer annulus (written out in fourier.py)"
            pair, why = (float(value), ours - ZERO), "1 %: one mesh, the tracer of 0.4 mm"
            rows.append(Row("mixed contents", source, f"{name}: {where}", *pair, 0.01 * pair[0], why, "K"))
    return rows


GROUPS = (two_halves, mixed_contents)
