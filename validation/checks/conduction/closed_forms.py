"""The field against closed forms: cylinders, eccentric cylinders, a wall as a fin, a heated arc on an annulus."""

import numpy as np

from sim.solve.at_rest import FINENESS, RATIO
from sim.solve.convergence import banded
from sim.solve.section import solve_section
from validation.checks.conduction.fourier import (
    TwoLayerAnnulus,
    multilayer_cylinder,
    share_reaching_pipe,
    thin_wall_fin,
    thin_wall_fin_around,
)
from validation.published.rows import Array, Profile, Row
from validation.sketches.lines import flowing, plain_pipe
from validation.sketches.sketch import LIQUID
from validation.sketches.sourced import Ring, heated_ring

ZERO = 273.15
FIN = "@incropera, table 3.4, case B (from memory): a fin of uniform section, two of them round the pipe"
SERIES = "@carslaw1959 (from memory); Fourier series of the two-layer annulus, written out in fourier.py"
MEAN_RISE = "0.5 % of the mean rise"
LEVELS = (FINENESS / RATIO**2, FINENESS / RATIO, FINENESS)


def _on_meshes(
    check: str,
    source: str,
    name: str,
    exact: float,
    values: list[float],
    tolerance: float,
    why: str,
    unit: str = "K",
    by: float = 1.0,
) -> Row:
    """A number on three meshes, over `by`, with its band."""
    value = banded((values[0], values[1], values[2]), RATIO)
    return Row(check, source, name, exact, value.value / by, tolerance, why, unit, value.band / by)


def cylinder() -> list[Row]:
    """Two layers around a pipe with flowing contents: loss and temperatures."""
    case = plain_pipe(
        0.1143,
        0.00602,
        50.0,
        [(0.03, 0.04), (0.02, 0.06)],
        10.0,
        contents=flowing(60.0, 500.0),
        ambient=-20.0,
    )
    loss, ring = multilayer_cylinder(
        [0.05113, 0.05715, 0.08715, 0.10715], [50.0, 0.04, 0.06], 500.0, 10.0, 60.0, -20.0
    )
    result = solve_section(case)
    source = "@incropera, section 3.3.1 (from memory); closed form"
    by_name = {
        "heat loss": (loss, result.quantities["heat_out"], "W/m", 0.002 * loss, "0.2 % of the loss"),
        "wall, mean": (
            0.5 * (ring[0] + ring[1]),
            result.quantities["wall.mean"],
            "degC",
            0.4,
            "0.5 % of 80 K",
        ),
        "outside": (ring[3], result.quantities["barrier.mean"], "degC", 0.4, "0.5 % of 80 K"),
    }
    rows = []
    for name, (exact, value, unit, tolerance, reason) in by_name.items():
        ours = value.value - (ZERO if unit == "degC" else 0.0)
        rows.append(
            Row("multilayer cylinder", source, name, exact, ours, tolerance, reason, unit, value.band)
        )
    return rows


def fin() -> list[Row]:
    """A thin wall with a line source as a fin around the pipe.

    The insulation's own conduction is made radial by a small thickness of it.
    """
    rows = []
    for k in (50.0, 15.0):
        radius, wall, u, heat = 0.05715, 0.00602, 0.6, 20.0
        mean_radius = radius - wall / 2
        thin = 1e-3
        film = 1.0 / (1.0 / u - radius * np.log(1 + thin / radius) / 1e-2) * radius / (radius + thin)
        case = plain_pipe(2 * radius, wall, k, [(thin, 1e-2)], float(film))
        rings = [heated_ring(case, f, heat, 1e-3) for f in LEVELS]
        # the fin's formulas at the wall's mean radius, its loss through U of the outer surface
        low, mean, high = thin_wall_fin(mean_radius, wall, k, u * radius / mean_radius, heat)
        for name, exact, values in (
            ("mean", mean, [r.mean for r in rings]),
            ("highest", high, [float(r.at(np.array([0.0]))[0]) for r in rings]),
            ("lowest", low, [float(r.rise.min()) for r in rings]),
        ):
            why = "1.2 %: a fin has no through-wall spreading (thickness/radius 0.1)"
            rows.append(
                _on_meshes(f"thin wall as a fin, k {k:.0f}", FIN, name, exact, values, 0.012 * exact, why)
            )
        around = thin_wall_fin_around(rings[-1].angle, mean_radius, wall, k, u * radius / mean_radius, heat)
        why = "1.2 % of the mean: a fin has no through-wall spreading"
        rows.append(_around(f"thin wall as a fin, k {k:.0f}", FIN, rings[-1], around, 0.012 * mean, why))
    return rows


def _around(check: str, source: str, ring: Ring, exact: Array, tolerance: float, reason: str) -> Row:
    """The largest difference of all faces around the pipe's outside on the finest mesh."""
    profile = Profile(np.degrees(ring.angle), exact, ring.rise)
    worst = float(np.abs(ring.rise - exact).max())
    name = "largest difference around the pipe"
    return Row(check, source, name, 0.0, worst, tolerance, reason, "K", profile=profile)


def annulus() -> list[Row]:
    """A heated arc on a two-layer annulus, around the clock, and the order of accuracy."""
    rows = []
    angle = np.radians([0.0, 45.0, 90.0, 180.0])
    for k in (50.0, 15.0):
        check = f"heated arc on an annulus, k {k:.0f}"
        exact = TwoLayerAnnulus(0.05113, 0.05715, 0.10715, k, 0.04, 10.0, 20.0, 0.010)
        case = plain_pipe(0.1143, 0.00602, k, [(0.05, 0.04)], 10.0)
        half = 0.005 / 0.05715
        rings = [heated_ring(case, f, 20.0, half) for f in LEVELS]
        for i, degrees in enumerate((0, 45, 90, 180)):
            there, name = float(exact.outside_of_pipe(angle[i])), f"pipe's outside at {degrees} deg"
            values = [float(r.at(angle)[i]) for r in rings]
            rows.append(_on_meshes(check, SERIES, name, there, values, 0.005 * exact.mean, MEAN_RISE))
        around = exact.outside_of_pipe(rings[-1].angle)
        rows.append(_around(check, SERIES, rings[-1], around, 0.005 * exact.mean, MEAN_RISE))
        errors = [
            float(np.abs(heated_ring(case, f, 20.0, half).at(angle) - exact.outside_of_pipe(angle)).max())
            for f in (4.0, 8.0)
        ]
        order, why = float(np.log2(errors[0] / errors[1])), "second order within 0.2, fineness 4 to 8"
        rows.append(Row(check, SERIES, "order of accuracy", 2.0, order, 0.2, why, "-"))
    return rows


def annulus_inside_and_sheet() -> list[Row]:
    """The heated arc with contents (mixed, still) and a barrier that conducts around the outside."""
    rows = []
    half, angle = 0.005 / 0.05715, np.radians([0.0, 180.0])
    variants = {
        "mixed contents": ({"state": "mixed", "fluid": LIQUID, "film_coefficient": "60 W/m2/K"}, None),
        "still contents": ({"state": "still", "fluid": LIQUID}, None),
        "still contents, barrier 0.6 mm of 160 W/m/K": ({"state": "still", "fluid": LIQUID}, (6e-4, 160.0)),
    }
    for name, (contents, barrier) in variants.items():
        exact = TwoLayerAnnulus(
            0.05113,
            0.05715,
            0.10715,
            15.0,
            0.04,
            10.0,
            20.0,
            0.010,
            inside="mixed" if contents["state"] == "mixed" else "still",
            film_inside=60.0,
            k_contents=0.6,
            sheet=barrier[0] * barrier[1] if barrier else 0.0,
        )
        case = plain_pipe(0.1143, 0.00602, 15.0, [(0.05, 0.04)], 10.0, contents=contents, barrier=barrier)
        values = [heated_ring(case, f, 20.0, half).at(angle) for f in LEVELS]
        for i, degrees in enumerate((0, 180)):
            there, place = float(exact.outside_of_pipe(angle[i])), f"pipe's outside at {degrees} deg"
            three = [float(each[i]) for each in values]
            check = f"heated arc, {name}"
            rows.append(_on_meshes(check, SERIES, place, there, three, 0.005 * exact.mean, MEAN_RISE))
    return rows


def lifted_source() -> list[Row]:
    """A tracer off the pipe: the share of its heat that reaches an isothermal pipe in a uniform medium.

    Body, void and insulation have one conductivity, so the round body acts as a line source at its centre.
    """
    radius, standoff, diameter, thickness, k, film = 0.05715, 0.010, 0.004, 0.05, 0.04, 10.0
    case = plain_pipe(
        2 * radius,
        0.006,
        1e4,
        [(thickness, k)],
        film,
        contents=flowing(0.0, 1e6),
        insulation={"fit": "snug", "void": {"conductivity": f"{k} W/m/K"}},
        tracers=[
            {
                "name": "T1",
                "clock": 3,
                "shape": "round",
                "diameter": f"{diameter} m",
                "standoff": f"{standoff} m",
                "body_conductivity": f"{k} W/m/K",
                "output": "20 W/m",
            }
        ],
    )
    taken = solve_section(case).quantities["from_contents"]
    exact = share_reaching_pipe(radius, radius + standoff + diameter / 2, radius + thickness, k, film)
    source = "closed form, written out in fourier.py: two resistances side by side, B / (A + B)"
    name, share, band = "share of the heat reaching the pipe", -taken.value / 20.0, taken.band / 20.0
    return [Row("tracer off the pipe", source, name, exact, share, 0.005 * exact, "0.5 %", "-", band)]


GROUPS = (cylinder, fin, annulus, annulus_inside_and_sheet, lifted_source)
