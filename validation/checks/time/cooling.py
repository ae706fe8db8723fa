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
    STIRRED,
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
from validation.published.rows import Array, Row, Table
from validation.sketches.lines import ADIABATIC
from validation.sketches.sketch import COVER, INNER, LIQUID, OUTER, sketch

SERIES = "@carslaw1959, section 7.7, written out in cooling.py"
LUMPED = "closed form, from the definition"
BODIES = "@carslaw1959, chapter XII, and @abate2004, written out in parts.py"
ONE_MESH = "one mesh of fineness 1, steps held to 10 mK"
K_CYLINDER, HEAT_CYLINDER, FILM_CYLINDER = 2.0, 2e6, 40.0  # W/m/K, J/m3/K, W/m2/K


def bare_cylinder() -> dict[str, Any]:
    """A pipe and its still contents of one material under a film."""
    heat = {"conductivity": f"{K_CYLINDER} W/m/K", "specific_heat": f"{HEAT_CYLINDER / 1000:g} J/kg/K"}
    return sketch(
        contents={"state": "still", "fluid": LIQUID | heat},
        pipe__material=uniform(K_CYLINDER, HEAT_CYLINDER),
        insulation={},
        outside={"coefficient": f"{FILM_CYLINDER} W/m2/K"},
    )


def cylinder_modes(hours: float) -> tuple[Array, Array]:
    """Roots l of the series, and what is left of each mode of a rise of 1 after some hours."""
    biot, edge = FILM_CYLINDER * OUTER / K_CYLINDER, np.arange(0.0, 200.0, 0.01)
    sign = np.sign(edge * j1(edge) - biot * j0(edge))
    at = np.flatnonzero(sign[1:] != sign[:-1])
    root = np.array([brentq(lambda x: x * j1(x) - biot * j0(x), edge[i], edge[i + 1]) for i in at])
    weight = 2 * j1(root) / (root * (j0(root) ** 2 + j1(root) ** 2))
    return root, weight * np.exp(-(root**2) * K_CYLINDER / HEAT_CYLINDER * hours * HOUR / OUTER**2)


def cylinder() -> list[Row]:
    """A long solid cylinder that cools through a film."""
    computed = followed(bare_cylinder(), 1.5, 0.005, start="100 degC", lasts="2 h")
    why = "0.2 % of the fall: one mesh of fineness 1.5"
    table = Table("cooling cylinder", SERIES, unit="degC", why=why)
    for hours in (0.1, 0.5, 1.0, 2.0):
        root, left = cylinder_modes(hours)
        for path, exact in (("contents.max", 100 * left.sum()), ("wall.min", 100 * left @ j0(root))):
            table.within(f"{path} at {hours:g} h", exact, computed.degc(path, hours), 0.2)
    return table.rows


def lumped() -> list[Row]:
    """A line of one temperature that cools, and one that is powered from cold."""
    table = Table("cooling line", LUMPED, unit="degC", why=ONE_MESH)
    warm = Table("line powered from cold", LUMPED, table.rows, "degC")
    off = followed(stirred(), 2.0, start="100 degC", lasts="24 h")
    on = followed(stirred(STRIP), 2.0, start="0 degC", lasts="24 h")
    why = "0.4 % of the rise: what the strip changes beside it"
    for hours in (2.0, 8.0, 24.0):
        name, fell = f"at {hours:g} h", 100 * np.exp(-hours * HOUR / SLOW)
        table.within(name, fell, off.degc("contents.mean", hours), 0.15)
        rose = 20.0 * traced() * (1 - np.exp(-hours * HOUR / (CORE * traced())))
        warm.within(name, rose, on.degc("contents.mean", hours), 0.12, why)
    return table.rows


def driven() -> list[Row]:
    """A line at half power by the ambient, its power cut at 8 h: temperatures, energy, time on; a sheet that stores."""
    half = {"name": "C1", "sensor": "ambient", "full_below": "-20 degC", "off_above": "0 degC"}
    raw = stirred(STRIP, condition__ambient="-10 degC", control=[half])
    cut_at_8 = [{"at": "8 h", "supply": 0}]
    computed = followed(raw, 2.0, start="0 degC", lasts="24 h", control=["C1"], change=cut_at_8)
    slow, far = CORE * traced() / HOUR, 10.0 * traced()
    cut = far + (10.0 - far) * np.exp(-8.0 / slow)  # over the ambient
    table = Table("half power, then none", LUMPED, unit="degC", why=ONE_MESH)
    for hours, rise in ((8.0, cut), (24.0, cut * np.exp(-16.0 / slow))):
        table.within(f"at {hours:g} h", rise - 10.0, computed.degc("contents.mean", hours), 0.1)
    energy, on = computed.track.energy["T1"], computed.track.on_time["T1"]
    table.within("energy", 10.0 * 8 * HOUR / 1e3, energy / 1e3, 1e-3, "exact", "kJ/m")
    table.within("time on, by the share of power", 12.0, on / HOUR, 1e-6, "exact", "h")
    sheet = uniform(50.0, 8000 * 500.0) | {"thickness": "3 mm", "emissivity": 0.0}
    thin = stirred(
        contents=ADIABATIC,
        pipe__material=uniform(1e4, 0.1e6),
        layer__conductivity="50 W/m/K",
        barrier=sheet,
    )
    stored = np.pi * 0.1e6 * (OUTER**2 - INNER**2) + 2 * np.pi * COVER * 0.003 * 8000 * 500
    left = 100 * np.exp(-0.5 * HOUR / (stored / (2 * np.pi * COVER * FILM)))
    value = followed(thin, 1.0, start="100 degC", lasts="1 h").degc("wall.mean", 0.5)
    table = Table("sheet that stores", LUMPED, table.rows, "degC", "one mesh of fineness 1")
    table.within("at 0.5 h", left, value, 0.2)
    return table.rows


BODY = TwoBodies(CORE, OUTER, COVER, LAYER, 84000.0, 10.0)
STORING = {"layer__density": "100 kg/m3", "layer__specific_heat": "840 J/kg/K"}


def two_bodies() -> list[Row]:
    """A line whose insulation stores, cooling after a fall of the ambient."""
    computed = followed(stirred(**STORING), start="100 degC", lasts="48 h")
    table = Table("cooling of two bodies", BODIES, unit="degC", why=ONE_MESH)
    for hours in (1.0, 6.0, 24.0, 48.0):
        exact = 100 * BODY.cooled(hours * HOUR)
        table.within(f"at {hours:g} h", exact, computed.degc("contents.mean", hours), 0.2)
    return table.rows


def daily_swing() -> list[Row]:
    """An ambient that goes up and down in a day: amplitude and lag of the contents."""
    body = TwoBodies(0.2 * CORE, OUTER, COVER, LAYER, 84000.0, 10.0)
    # up and down in straight lines, 10 K about 0: harmonics n = 1, 3, 5, .. of 80 / (pi n)2
    days = 4
    at = [[f"{6 + 12 * i} h", f"{10 if i % 2 == 0 else -10} degC"] for i in range(2 * days)]
    swing = {"at": [["0 h", "0 degC"], *at, [f"{24 * days} h", "0 degC"]]}
    mixed = STIRRED | {"fluid": LIQUID | {"specific_heat": f"{0.2 * 4200:g} J/kg/K"}}
    raw = stirred(**STORING, contents=mixed, pipe__material=uniform(1e4, 0.2e6))
    computed = followed(raw, start="0 degC", lasts=f"{24 * days} h", ambient=swing)
    hours = np.arange(24 * (days - 1), 24 * days, 0.5)
    reading = celsius(computed.at("contents.mean", list(hours)))
    first = complex(reading @ np.exp(-2j * np.pi * hours / 24)) * 2 / len(hours)
    exact = body.response(2j * np.pi / (24 * HOUR), 80 / np.pi**2, 0.0) / 1j
    lag = 24 / (2 * np.pi) * float(np.angle(exact / first))
    slow = 24 / (2 * np.pi) * float(-np.angle(exact * 1j))
    table = Table("daily swing", BODIES, unit="degC", why=ONE_MESH)
    table.within("amplitude", abs(exact), abs(first), 0.01, "0.3 %: one mesh", "K")
    table.within("lag", slow, slow + lag, 0.03, "2 min: one mesh", "h")
    n = np.arange(1, 60, 2)
    wave = np.array([body.response(2j * np.pi * m / (24 * HOUR), 1.0, 0.0) for m in n])
    weight = 80 / (np.pi * n) ** 2 * (-1.0) ** ((n - 1) // 2)
    for hour in (24 * days - 20.0, 24 * days - 12.0, 24 * days - 3.0):
        whole = float((weight * (wave * np.exp(2j * np.pi * n * hour / 24)).imag).sum())
        what = f"contents at {hour % 24:g} h of the last day"
        table.within(what, whole, computed.degc("contents.mean", hour), 0.03)
    return table.rows


def _cycled(lag: str, hours: float) -> Run:
    """A powered line under a thermostat; its liquid a tenth, so that it cycles in hours."""
    raw = stirred(
        STRIP,
        contents=STIRRED | {"fluid": LIQUID | {"specific_heat": "420 J/kg/K"}},
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
    table = Table(
        "limit cycle", LUMPED, unit="s", why="the strip takes a little of the layer's place; one mesh"
    )
    for name, seconds in (("quick sensor", 0.0), ("sensor of 600 s", 600.0)):
        on, off, high, low = _limit_cycle(slow, seconds, end)
        computed = _cycled(f"{seconds} s", 5.5)
        moments = [moment for moment, _ in computed.track.switchings["C1"]][-3:]
        states = [state for _, state in computed.track.switchings["C1"]][-3:]
        spans = np.diff(moments) if len(moments) == 3 else np.full(2, np.nan)
        ours_on, ours_off = (spans[1], spans[0]) if states[1] else (spans[0], spans[1])
        curve = computed.courses["contents.mean"]
        ours_high, ours_low = (celsius(curve.extreme(w, moments[0], moments[-1])[0]) for w in ("max", "min"))
        table.row(f"{name}: on", on, ours_on, 0.01)
        table.row(f"{name}: off", off, ours_off, 0.01)
        table.row(f"{name}: period", on + off, ours_on + ours_off, 0.01)
        table.row(f"{name}: duty", on / (on + off), ours_on / (ours_on + ours_off), 0.01, unit="-")
        warm = "what the sensor and the strip are apart from the contents"
        table.within(f"{name}: highest", high, ours_high, 0.06, warm, "degC")
        table.within(f"{name}: lowest", low, ours_low, 0.06, warm, "degC")
    return table.rows


def sensor_lag() -> list[Row]:
    """A sensor of an hour on a cooling line: its reading is the difference of two exponentials."""
    raw = stirred(sensor=[{"name": "S1", "clock": 3, "time_constant": "1 h"}])
    computed = followed(raw, start="100 degC", lasts="6 h")
    table = Table("sensor that lags", LUMPED, unit="degC", why=ONE_MESH)
    for hours in (0.5, 2.0, 6.0):
        exact = 100 * (SLOW * np.exp(-hours * HOUR / SLOW) - HOUR * np.exp(-hours)) / (SLOW - HOUR)
        table.within(f"reading at {hours:g} h", exact, computed.degc("sensors.S1", hours), 0.15)
    return table.rows


def ring() -> list[Row]:
    """A thin pipe under a film, heated on an arc: around the clock, over time."""
    wall, film, k, heat = 0.002, 5.0, 20.0, 4e6
    middle = OUTER - wall / 2
    clocks = {"90 degrees": 3.0, "180 degrees": 6.0}
    raw = sketch(
        STRIP | {"clock": 12},
        pipe__wall="2 mm",
        pipe__material=uniform(k, heat),
        contents=ADIABATIC,
        layer__density="1 kg/m3",
        layer__specific_heat="10 J/kg/K",
        outside={"coefficient": f"{film} W/m2/K"},
        sensor=[{"name": name, "clock": clock} for name, clock in clocks.items()],
    )
    across = 1 / (2 * np.pi * middle * per_kelvin(OUTER, COVER, LAYER, film))  # W/m2/K on the wall's middle
    computed = followed(raw, 1.5, 0.005, start="0 degC", lasts="6 h")
    n, half = np.arange(1, 400), 0.01 / OUTER
    load = 20.0 * np.sin(n * half) / (np.pi * n * half) / middle
    why = "insulation that is no film, around the clock"
    table = Table("ring heated on an arc", LUMPED, unit="degC", why=why)
    for hours in (0.25, 1.0, 6.0):
        t, stored = hours * HOUR, heat * wall
        u = across + k * wall * n**2 / middle**2
        mean = 20.0 / (2 * np.pi * middle) / across * (1 - np.exp(-across * t / stored))
        amplitude = load / u * (1 - np.exp(-u * t / stored))
        for name, clock in clocks.items():
            exact = float(mean + amplitude @ np.cos(n * clock * np.pi / 6))
            table.row(
                f"{name} from the strip, {hours:g} h", exact, computed.degc(f"sensors.{name}", hours), 0.03
            )
    return table.rows


GROUPS = (cylinder, lumped, driven, two_bodies, sensor_lag, ring)
LONG = (daily_swing, limit_cycle)
