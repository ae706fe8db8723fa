"""Whole sections that cool, warm, swing and are switched, against closed forms; the sensor's lag.

Cylinder: a pipe whose wall is of its still contents' material is a solid cylinder, which cools through a film as the
sum of 2 J1(l) / (l (J0(l)2 + J1(l)2)) exp(-l2 Fo) J0(l r / R) over the roots of l J1(l) = Bi J0(l) (Carslaw and Jaeger
1959, section 7.7).

Lumped: a line of one temperature goes to its end temperature with one time constant, its capacity times the resistance
to outside. A thermostat then goes round between two exponentials; behind a sensor that lags, the reading is a second
one. Two bodies: insulation that stores, around a core of one temperature (parts.py).

Ring: a thin wall under a film with heat on an arc of it; each harmonic n meets U + k t n2 / R2 and settles with a time
constant of its own.
"""

from typing import Any

import numpy as np
from scipy.optimize import brentq, fsolve
from scipy.special import j0, j1

from validation.checks.time.parts import (
    CORE,
    FILM,
    HOUR,
    LAYER,
    SLOW,
    STRIP,
    THERMOSTAT,
    Run,
    TwoBodies,
    celsius,
    followed,
    per_kelvin,
    stirred,
    traced,
    uniform,
)
from validation.published.rows import Row
from validation.sketches.sketch import COVER, INNER, LIQUID, OUTER, sketch

SERIES = "@carslaw1959, section 7.7, written out in cooling.py"
LUMPED = "closed form, from the definition"
BODIES = "@carslaw1959, chapter XII, and @abate2004, written out in parts.py"
ONE_MESH = "one mesh of fineness 1, steps held to 10 mK"


def cylinder() -> list[Row]:
    """A long solid cylinder that cools through a film."""
    k, heat, film = 2.0, 2e6, 40.0
    fluid = LIQUID | {"conductivity": f"{k} W/m/K", "specific_heat": f"{heat / 1000:g} J/kg/K"}
    raw = sketch(
        contents={"state": "still", "fluid": fluid},
        pipe__material=uniform(k, heat),
        insulation={},
        outside={"coefficient": f"{film} W/m2/K"},
    )
    computed = followed(raw, 1.5, 0.005, start="100 degC", lasts="2 h")
    biot = film * OUTER / k
    edge = np.arange(0.0, 200.0, 0.01)
    sign = np.sign(edge * j1(edge) - biot * j0(edge))
    at = np.flatnonzero(sign[1:] != sign[:-1])
    root = np.array([brentq(lambda x: x * j1(x) - biot * j0(x), edge[i], edge[i + 1]) for i in at])
    weight = 2 * j1(root) / (root * (j0(root) ** 2 + j1(root) ** 2))
    rows = []
    for hours in (0.1, 0.5, 1.0, 2.0):
        left = weight * np.exp(-(root**2) * k / heat * hours * HOUR / OUTER**2)
        for path, exact in (("contents.max", 100 * left.sum()), ("wall.min", 100 * left @ j0(root))):
            value = celsius(float(computed.at(path, hours)[0]))
            what = f"{path} at {hours:g} h"
            why = "0.2 % of the fall: one mesh of fineness 1.5"
            rows.append(Row("cooling cylinder", SERIES, what, float(exact), value, 0.2, why, "degC"))
    return rows


def lumped() -> list[Row]:
    """A line of one temperature that cools, and one that is powered from cold."""
    rows = []
    cold = followed(stirred(), 2.0, start="100 degC", lasts="24 h")
    for hours in (2.0, 8.0, 24.0):
        exact = 100 * np.exp(-hours * HOUR / SLOW)
        value = celsius(float(cold.at("contents.mean", hours)[0]))
        rows.append(Row("cooling line", LUMPED, f"at {hours:g} h", exact, value, 0.15, ONE_MESH, "degC"))
    warm = followed(stirred(STRIP), 2.0, start="0 degC", lasts="24 h")
    for hours in (2.0, 8.0, 24.0):
        exact = 20.0 * traced() * (1 - np.exp(-hours * HOUR / (CORE * traced())))
        value = celsius(float(warm.at("contents.mean", hours)[0]))
        why = "0.4 % of the rise: what the strip changes beside it"
        rows.append(Row("line powered from cold", LUMPED, f"at {hours:g} h", exact, value, 0.12, why, "degC"))
    return rows


def driven() -> list[Row]:
    """A line at half power by the ambient, its power cut at 8 h: temperatures, energy, time on; a sheet that stores."""
    half = {"name": "C1", "sensor": "ambient", "full_below": "-20 degC", "off_above": "0 degC"}
    computed = followed(
        stirred(STRIP, condition__ambient="-10 degC", control=[half]),
        2.0,
        start="0 degC",
        lasts="24 h",
        control=["C1"],
        change=[{"at": "8 h", "supply": 0}],
    )
    slow, far = CORE * traced() / HOUR, 10.0 * traced()
    cut = far + (10.0 - far) * np.exp(-8.0 / slow)  # over the ambient
    rows, check = [], "half power, then none"
    for hours, rise in ((8.0, cut), (24.0, cut * np.exp(-16.0 / slow))):
        value = celsius(float(computed.at("contents.mean", hours)[0]))
        rows.append(Row(check, LUMPED, f"at {hours:g} h", rise - 10.0, value, 0.1, ONE_MESH, "degC"))
    energy, on = computed.track.energy["T1"], computed.track.on_time["T1"]
    exact = "exact"
    rows.append(Row(check, LUMPED, "energy", 10.0 * 8 * HOUR / 1e3, energy / 1e3, 1e-3, exact, "kJ/m"))
    rows.append(Row(check, LUMPED, "time on, by the share of power", 12.0, on / HOUR, 1e-6, exact, "h"))
    sheet = {
        "thickness": "3 mm",
        "conductivity": "50 W/m/K",
        "density": "8000 kg/m3",
        "specific_heat": "500 J/kg/K",
    }
    thin = stirred(
        contents={"state": "empty", "film_coefficient": "0 W/m2/K"},
        pipe__material=uniform(1e4, 0.1e6),
        layer__conductivity="50 W/m/K",
        barrier=sheet | {"emissivity": 0.0},
    )
    stored = np.pi * 0.1e6 * (OUTER**2 - INNER**2) + 2 * np.pi * COVER * 0.003 * 8000 * 500
    slow = stored / (2 * np.pi * COVER * FILM)
    computed = followed(thin, 1.0, start="100 degC", lasts="1 h")
    value = celsius(float(computed.at("wall.mean", 0.5)[0]))
    left = 100 * np.exp(-0.5 * HOUR / slow)
    rows.append(
        Row("sheet that stores", LUMPED, "at 0.5 h", left, value, 0.2, "one mesh of fineness 1", "degC")
    )
    return rows


BODY = TwoBodies(CORE, OUTER, COVER, LAYER, 84000.0, 10.0)
STORING = {"layer__density": "100 kg/m3", "layer__specific_heat": "840 J/kg/K"}


def two_bodies() -> list[Row]:
    """A line whose insulation stores, cooling after a fall of the ambient."""
    computed = followed(stirred(**STORING), start="100 degC", lasts="48 h")
    rows = []
    for hours in (1.0, 6.0, 24.0, 48.0):
        value = celsius(float(computed.at("contents.mean", hours)[0]))
        exact = 100 * BODY.cooled(hours * HOUR)
        rows.append(
            Row("cooling of two bodies", BODIES, f"at {hours:g} h", exact, value, 0.2, ONE_MESH, "degC")
        )
    return rows


def daily_swing() -> list[Row]:
    """An ambient that goes up and down in a day: amplitude and lag of the contents."""
    body = TwoBodies(0.2 * CORE, OUTER, COVER, LAYER, 84000.0, 10.0)
    light = LIQUID | {"specific_heat": f"{0.2 * 4200:g} J/kg/K"}
    metal = uniform(1e4, 0.2e6)
    # up and down in straight lines, 10 K about 0: harmonics n = 1, 3, 5, .. of 80 / (pi n)2
    days = 4
    at = [[f"{6 + 12 * i} h", f"{10 if i % 2 == 0 else -10} degC"] for i in range(2 * days)]
    swing = {"at": [["0 h", "0 degC"], *at, [f"{24 * days} h", "0 degC"]]}
    mixed = {"state": "mixed", "film_coefficient": "1e5 W/m2/K", "fluid": light}
    raw = stirred(**STORING, contents=mixed, pipe__material=metal)
    computed = followed(raw, start="0 degC", lasts=f"{24 * days} h", ambient=swing)
    hours = np.arange(24 * (days - 1), 24 * days, 0.5)
    reading = celsius(computed.at("contents.mean", list(hours)))
    phase = 2 * np.pi * hours / 24
    first = complex(reading @ np.exp(-1j * phase)) * 2 / len(hours)
    exact = body.response(2j * np.pi / (24 * HOUR), 80 / np.pi**2, 0.0) / 1j
    lag = 24 / (2 * np.pi) * float(np.angle(exact / first))
    slow = 24 / (2 * np.pi) * float(-np.angle(exact * 1j))
    rows = [
        Row("daily swing", BODIES, "amplitude", abs(exact), abs(first), 0.01, "0.3 %: one mesh", "K"),
        Row("daily swing", BODIES, "lag", slow, slow + lag, 0.03, "2 min: one mesh", "h"),
    ]
    n = np.arange(1, 60, 2)
    wave = np.array([body.response(2j * np.pi * m / (24 * HOUR), 1.0, 0.0) for m in n])
    weight = 80 / (np.pi * n) ** 2 * (-1.0) ** ((n - 1) // 2)
    for hour in (24 * days - 20.0, 24 * days - 12.0, 24 * days - 3.0):
        turn = np.exp(2j * np.pi * n * hour / 24)
        whole = float((weight * (wave * turn).imag).sum())
        value = celsius(float(computed.at("contents.mean", hour)[0]))
        what = f"contents at {hour % 24:g} h of the last day"
        rows.append(Row("daily swing", BODIES, what, whole, value, 0.03, ONE_MESH, "degC"))
    return rows


def _cycled(lag: str, hours: float) -> Run:
    """A powered line under a thermostat; its liquid a tenth, so that it cycles in hours."""
    thin = LIQUID | {"specific_heat": "420 J/kg/K"}
    raw = stirred(
        STRIP,
        contents={"state": "mixed", "film_coefficient": "1e5 W/m2/K", "fluid": thin},
        pipe__material=uniform(1e4, 0.1e6),
        condition__ambient="-20 degC",
        sensor=[{"name": "S1", "clock": 12, "time_constant": lag}],
        control=[THERMOSTAT],
    )
    return followed(raw, 2.0, 0.02, start="10 degC", lasts=f"{hours} h", control=["C1"])


def _limit_cycle(slow: float, lag: float, end: float) -> tuple[float, float, float, float]:
    """Seconds on and off, and the line's greatest and least temperature (over 0): time constants s, end temperature on.

    Between switchings the line is E + (T0 - E) exp(-t / slow), and the reading follows it behind `lag`.
    """

    def after(line: float, reading: float, goal: float, t: float) -> tuple[float, float]:
        share = (line - goal) * slow / (slow - lag) if lag else line - goal
        new = goal + (line - goal) * np.exp(-t / slow)
        own = (reading - goal - share) * np.exp(-t / lag) if lag else 0.0
        return float(new), float(goal + share * np.exp(-t / slow) + own)

    def left(x: Any) -> list[float]:
        high, at_off = after(x[0], 8.0, end, x[2])
        low, at_on = after(x[1], 12.0, -20.0, x[3])
        return [high - x[1], low - x[0], at_off - 12.0, at_on - 8.0]

    low, high, on, off = fsolve(left, [7.5, 12.5, 0.1 * slow, 0.1 * slow], xtol=1e-12)
    return float(on), float(off), float(high), float(low)


def limit_cycle() -> list[Row]:
    """A thermostat's limit cycle on a line of one temperature, its sensor quick or slow."""
    slow, end = 0.1 * CORE * traced(), 20.0 * traced() - 20.0
    rows = []
    for name, seconds in (("quick sensor", 0.0), ("sensor of 600 s", 600.0)):
        on, off, high, low = _limit_cycle(slow, seconds, end)
        computed = _cycled(f"{seconds} s", 5.5)
        moments = [moment for moment, _ in computed.track.switchings["C1"]][-3:]
        states = [state for _, state in computed.track.switchings["C1"]][-3:]
        spans = np.diff(moments) if len(moments) == 3 else np.full(2, np.nan)
        ours_on, ours_off = (spans[1], spans[0]) if states[1] else (spans[0], spans[1])
        last = moments[0] / HOUR
        curve = computed.courses["contents.mean"]
        ours_high = celsius(curve.extreme("max", last * HOUR, moments[-1])[0])
        ours_low = celsius(curve.extreme("min", last * HOUR, moments[-1])[0])
        why = "1 %: the strip takes a little of the layer's place; one mesh"
        for what, exact, value, unit in (
            ("on", on, ours_on, "s"),
            ("off", off, ours_off, "s"),
            ("period", on + off, ours_on + ours_off, "s"),
            ("duty", on / (on + off), ours_on / (ours_on + ours_off), "-"),
        ):
            rows.append(
                Row("limit cycle", LUMPED, f"{name}: {what}", exact, float(value), 0.01 * exact, why, unit)
            )
        warm = "what the sensor and the strip are apart from the contents"
        for what, exact, value in (("highest", high, ours_high), ("lowest", low, ours_low)):
            rows.append(Row("limit cycle", LUMPED, f"{name}: {what}", exact, value, 0.06, warm, "degC"))
    return rows


def sensor_lag() -> list[Row]:
    """A sensor of an hour on a cooling line: its reading is the difference of two exponentials."""
    lag = HOUR
    raw = stirred(sensor=[{"name": "S1", "clock": 3, "time_constant": "1 h"}])
    computed = followed(raw, start="100 degC", lasts="6 h")
    rows = []
    for hours in (0.5, 2.0, 6.0):
        t = hours * HOUR
        exact = 100 * (SLOW * np.exp(-t / SLOW) - lag * np.exp(-t / lag)) / (SLOW - lag)
        value = celsius(float(computed.at("sensors.S1", hours)[0]))
        rows.append(
            Row("sensor that lags", LUMPED, f"reading at {hours:g} h", exact, value, 0.15, ONE_MESH, "degC")
        )
    return rows


def ring() -> list[Row]:
    """A thin pipe under a film, heated on an arc: around the clock, over time."""
    wall, film, k, heat = 0.002, 5.0, 20.0, 4e6
    middle = OUTER - wall / 2
    strip = STRIP | {"width": "20 mm", "clock": 12, "body_density": "10 kg/m3"}
    clocks = {"90 degrees": 3.0, "180 degrees": 6.0}
    raw = sketch(
        strip,
        pipe__wall="2 mm",
        pipe__material=uniform(k, heat),
        contents={"state": "empty", "film_coefficient": "0 W/m2/K"},
        insulation={"layer": [{"thickness": "40 mm", "conductivity": "0.04 W/m/K"} | {"density": "1 kg/m3"}]},
        outside={"coefficient": f"{film} W/m2/K"},
        sensor=[{"name": name, "clock": clock} for name, clock in clocks.items()],
    )
    raw["insulation"]["layer"][0]["specific_heat"] = "10 J/kg/K"
    across = 1 / (2 * np.pi * middle * per_kelvin(OUTER, COVER, LAYER, film))  # W/m2/K on the wall's middle
    computed = followed(raw, 1.5, 0.005, start="0 degC", lasts="6 h")
    n = np.arange(1, 400)
    half = 0.01 / OUTER
    load = 20.0 * np.sin(n * half) / (np.pi * n * half) / middle
    rows = []
    for hours in (0.25, 1.0, 6.0):
        t, stored = hours * HOUR, heat * wall
        u = across + k * wall * n**2 / middle**2
        mean = 20.0 / (2 * np.pi * middle) / across * (1 - np.exp(-across * t / stored))
        for name, clock in clocks.items():
            amplitude = load / u * (1 - np.exp(-u * t / stored))
            exact = float(mean + amplitude @ np.cos(n * clock * np.pi / 6))
            value = celsius(float(computed.at(f"sensors.{name}", hours)[0]))
            what = f"{name} from the strip, {hours:g} h"
            why = "3 %: insulation that is no film, around the clock"
            rows.append(Row("ring heated on an arc", LUMPED, what, exact, value, 0.03 * exact, why, "degC"))
    return rows


GROUPS = (cylinder, lumped, driven, two_bodies, sensor_lag, ring)
LONG = (daily_swing, limit_cycle)
