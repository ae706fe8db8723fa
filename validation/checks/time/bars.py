"""The integrator and its stores on bars of published and exact answers: conduction, a flux, a film, a front of ice.

NAFEMS T3: a bar of 0.1 m, 0 degC at one end, 100 sin(pi t / 40) degC at the other. The exact answer, a series of the
bar's modes, gives the other places.

Semi-infinite: a flux leaves q sqrt(4 a t / pi) / k exp(-x2 / 4 a t) - q x / k erfc(x / sqrt(4 a t)); a film h leaves
erfc(z) - exp(h x / k + h2 a t / k2) erfc(z + h sqrt(a t) / k), z = x / sqrt(4 a t) (Carslaw and Jaeger 1959, 2.9, 2.7).

Neumann's front: x = 2 l sqrt(a t), where the heats that ice takes away and water brings leave the latent heat of what
freezes (Carslaw and Jaeger 1959, 11.2).
"""

import numpy as np
from scipy.optimize import brentq
from scipy.special import erf, erfc

from validation.checks.time.parts import HOUR, bar, celsius, freezing_bar
from validation.published.rows import Row, Table
from validation.sketches.sketch import ZERO, Array

BAR = "@carslaw1959, from memory; closed form, written out in bars.py"
ONE = "one row of 200 cells, steps held to 1 mK"


def _modes(x: float, t: float, length: float, diffusivity: float, omega: float) -> float:
    """Rise of a bar at zero, driven by sin(omega t) at x = 0 and held at the other end."""
    n = np.arange(1, 4000)
    decay = diffusivity * (n * np.pi / length) ** 2
    # u = (1 - x / L) sin(w t) + sum b_n(t) sin(n pi x / L), b' + decay b = -2 w cos(w t) / (n pi)
    b = decay * np.cos(omega * t) + omega * np.sin(omega * t) - decay * np.exp(-decay * t)
    b *= -2 * omega / (n * np.pi) / (decay**2 + omega**2)
    return float((1 - x / length) * np.sin(omega * t) + b @ np.sin(n * np.pi * x / length))


def nafems_t3() -> list[Row]:
    """A bar whose end swings, NAFEMS benchmark T3."""
    omega, k, rho, c = np.pi / 40, 35.0, 7200.0, 440.5
    swings, held = (lambda t: ZERO + 100 * np.sin(omega * t), np.inf), (lambda t: ZERO, np.inf)
    row = bar(0.1, 200, k, rho, c, 1e-3, first=swings, last=held)
    table = Table("NAFEMS T3", BAR, unit="degC", why=ONE)
    for stop, depth in ((32.0, 0.02), (16.0, 0.02), (40.0, 0.02), (36.0, 0.08)):
        state = row.marched(ZERO, stop, 0.1)
        computed = celsius(float(np.interp(depth, row.middle, state.temperature)))
        where = f"{1e3 * (0.1 - depth):.0f} mm from the cold end at {stop:.0f} s"
        if (stop, depth) == (32.0, 0.02):
            tight = "half of the last digit printed, and what a row of cells leaves"
            table.within(where, 36.60, computed, 0.01, tight, source="@nafems1986, test T3")
        table.within(where, 100 * _modes(depth, stop, 0.1, k / rho / c, omega), computed, 0.01)
    return table.rows


def semi_infinite() -> list[Row]:
    """A thick body under a flux, and one under a film, as if it had no other side."""
    k, rho, c, film, flux = 45.0, 8000.0, 401.79, 500.0, 3.2e5
    a = k / (rho * c)
    x, why = np.array([0.0, 0.025, 0.05]), "a row of 1000 cells"
    table = Table("flux on a thick body", BAR, unit="degC", why=why)
    pushed = bar(0.5, 1000, k, rho, c, 1e-3, heat=flux)
    t = 30.0
    z = x / np.sqrt(4 * a * t)
    rise = flux / k * (np.sqrt(4 * a * t / np.pi) * np.exp(-(z**2)) - x * erfc(z))
    computed = celsius(_at(x, pushed.middle, pushed.marched(ZERO + 35.0, t, 0.01).temperature))
    for depth, exact, ours in zip(x, 35.0 + rise, computed, strict=True):
        table.within(f"{1e3 * depth:.0f} mm deep", exact, ours, 0.05)
    book = "@holman, example 4.2 (79.3 degC as printed)"
    last = "half of the last digit printed"
    table.within("25 mm deep", 79.3, computed[1], 0.05, last, source=book)
    t, cold = 600.0, (lambda time: ZERO, film)
    filmed = bar(1.0, 1000, k, rho, c, 1e-3, first=cold)
    z = x / np.sqrt(4 * a * t)
    fall = erfc(z) - np.exp(film * x / k + film**2 * a * t / k**2) * erfc(z + film * np.sqrt(a * t) / k)
    computed = celsius(_at(x, filmed.middle, filmed.marched(ZERO + 100.0, t, 0.01).temperature))
    table = Table("film on a thick body", BAR, table.rows, "degC", why)
    for depth, exact, ours in zip(x, 100 * (1 - fall), computed, strict=True):
        table.within(f"{1e3 * depth:.0f} mm deep", exact, ours, 0.05)
    return table.rows


def _at(x: Array, middle: Array, temperature: Array) -> Array:
    """A parabola through the three cells nearest to each place."""
    near = np.clip(np.searchsorted(middle, x) - 1, 0, len(middle) - 3)[:, None] + np.arange(3)
    return np.array(
        [np.polyval(np.polyfit(middle[i] - p, temperature[i], 2), 0.0) for i, p in zip(near, x, strict=True)]
    )


def neumann() -> list[Row]:
    """Neumann's front of ice into water above its freezing point."""
    rows = []
    ice, water = 2.22 / (917.0 * 2100.0), 0.566 / (917.0 * 4210.0)
    for wall, warm, hours in ((-10.0, 5.0, 2.0), (-30.0, 20.0, 0.5)):
        ratio = np.sqrt(ice / water)

        def left(x: float, wall: float = wall, warm: float = warm, ratio: float = ratio) -> float:
            taken = 2.22 * -wall * np.exp(-(x**2)) / (np.sqrt(ice) * erf(x))
            brought = 0.566 * warm * np.exp(-((x * ratio) ** 2)) / (np.sqrt(water) * erfc(x * ratio))
            return float(taken - brought - x * np.sqrt(np.pi * ice) * 917.0 * 333.6e3)

        front = 2e3 * brentq(left, 1e-3, 2.0) * np.sqrt(ice * HOUR * hours)
        row = freezing_bar(0.2, 400, ZERO + wall, 0.02)
        state = row.marched(ZERO + warm, hours * HOUR)
        computed = 1e3 * float(row.store.frozen(state.enthalpy) @ np.diff(row.edges))
        what = f"wall {wall:g}, water {warm:g} degC, {hours:g} h"
        why = "0.3 %: cells of 0.5 mm"
        source = "@carslaw1959, section 11.2, written out in bars.py"
        rows.append(Row("Neumann's front", source, what, front, computed, 3e-3 * front, why, "mm"))
    return rows


GROUPS = (nafems_t3, semi_infinite, neumann)
