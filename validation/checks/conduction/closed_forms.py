"""The field against closed forms: cylinders, eccentric cylinders, a wall as a fin, a heated arc on an annulus."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sim.heat.network import network
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.solve.at_rest import FINENESS, RATIO
from sim.solve.convergence import banded
from sim.solve.quantities import quantities
from sim.solve.section import solve_section
from sim.solve.steady import solve
from validation.checks.conduction.fourier import (
    TwoLayerAnnulus,
    eccentric_shape_factor,
    multilayer_cylinder,
    share_reaching_pipe,
    thin_wall_fin,
    thin_wall_fin_around,
)
from validation.published.rows import Array, Profile, Row
from validation.sketches.lines import flowing, plain_pipe
from validation.sketches.sourced import Ring, heated_ring

ZERO = 273.15
FIN = "@incropera, table 3.4, case B (from memory): a fin of uniform section, two of them round the pipe"
SERIES = "@carslaw1959 (from memory); Fourier series of the two-layer annulus, written out in fourier.py"
LEVELS = (FINENESS / RATIO**2, FINENESS / RATIO, FINENESS)


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


def eccentric() -> list[Row]:
    """Eccentric cylinders: a bore off centre around a pipe.

    What fills the gap is the only resistance: D 60, d 20, e 10 mm.
    """
    diameter, bore, offset, k = 0.02, 0.06, 0.01, 0.03
    case = plain_pipe(
        diameter,
        0.002,
        1e4,
        [(0.01, 1e4)],
        1e5,
        contents=flowing(50.0, 1e6),
        insulation={"fit": "oversize", "bore": f"{bore} m", "void": {"conductivity": f"{k} W/m/K"}},
    )
    layout = replace(place(case), drop=offset)
    losses = [quantities(solve(network(case, plan_mesh(layout, f))))["heat_out"] for f in LEVELS]
    value = banded((losses[0], losses[1], losses[2]), RATIO)
    exact = eccentric_shape_factor(bore, diameter, offset)
    return [
        Row(
            "eccentric cylinders",
            "@incropera, table 4.1, case 7; closed form 2 pi / arcosh",
            "shape factor S'",
            exact,
            value.value / (k * 50.0),
            0.002 * exact,
            "0.2 %",
            "-",
            value.band / (k * 50.0),
        )
    ]


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
            value = banded((values[0], values[1], values[2]), RATIO)
            rows.append(
                Row(
                    f"thin wall as a fin, k {k:.0f}",
                    FIN,
                    name,
                    exact,
                    value.value,
                    0.012 * exact,
                    "1.2 %: a fin has no through-wall spreading (thickness/radius 0.1)",
                    "K",
                    value.band,
                )
            )
        around = thin_wall_fin_around(rings[-1].angle, mean_radius, wall, k, u * radius / mean_radius, heat)
        why = "1.2 % of the mean: a fin has no through-wall spreading"
        rows.append(_around(f"thin wall as a fin, k {k:.0f}", FIN, rings[-1], around, 0.012 * mean, why))
    return rows


def _around(check: str, source: str, ring: Ring, exact: Array, tolerance: float, reason: str) -> Row:
    """The largest difference of all faces around the pipe's outside on the finest mesh."""
    profile = Profile(np.degrees(ring.angle), exact, ring.rise)
    worst = float(np.abs(ring.rise - exact).max())
    return Row(
        check,
        source,
        "largest difference around the pipe",
        0.0,
        worst,
        tolerance,
        reason,
        "K",
        profile=profile,
    )


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
            coarse, middle, fine = (float(r.at(angle)[i]) for r in rings)
            value = banded((coarse, middle, fine), RATIO)
            rows.append(
                Row(
                    check,
                    SERIES,
                    f"pipe's outside at {degrees} deg",
                    float(exact.outside_of_pipe(angle[i])),
                    value.value,
                    0.005 * exact.mean,
                    "0.5 % of the mean rise",
                    "K",
                    value.band,
                )
            )
        around = exact.outside_of_pipe(rings[-1].angle)
        why = "0.5 % of the mean rise"
        rows.append(_around(check, SERIES, rings[-1], around, 0.005 * exact.mean, why))
        errors = [
            float(np.abs(heated_ring(case, f, 20.0, half).at(angle) - exact.outside_of_pipe(angle)).max())
            for f in (4.0, 8.0)
        ]
        rows.append(
            Row(
                check,
                SERIES,
                "order of accuracy",
                2.0,
                float(np.log2(errors[0] / errors[1])),
                0.2,
                "second order within 0.2, fineness 4 to 8",
                "-",
            )
        )
    return rows


def annulus_inside_and_sheet() -> list[Row]:
    """The heated arc with contents (mixed, still) and a barrier that conducts around the outside."""
    rows = []
    fluid = {
        "conductivity": "0.6 W/m/K",
        "density": "1000 kg/m3",
        "specific_heat": "4200 J/kg/K",
        "viscosity": "1e-3 Pa*s",
        "expansion": "2e-4 1/K",
    }
    half, angle = 0.005 / 0.05715, np.radians([0.0, 180.0])
    variants = {
        "mixed contents": ({"state": "mixed", "fluid": fluid, "film_coefficient": "60 W/m2/K"}, None),
        "still contents": ({"state": "still", "fluid": fluid}, None),
        "still contents, barrier 0.6 mm of 160 W/m/K": ({"state": "still", "fluid": fluid}, (6e-4, 160.0)),
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
            value = banded((values[0][i], values[1][i], values[2][i]), RATIO)
            rows.append(
                Row(
                    f"heated arc, {name}",
                    SERIES,
                    f"pipe's outside at {degrees} deg",
                    float(exact.outside_of_pipe(angle[i])),
                    value.value,
                    0.005 * exact.mean,
                    "0.5 % of the mean rise",
                    "K",
                    value.band,
                )
            )
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
    return [
        Row(
            "tracer off the pipe",
            "closed form, written out in fourier.py: two resistances side by side, B / (A + B)",
            "share of the heat reaching the pipe",
            exact,
            -taken.value / 20.0,
            0.005 * exact,
            "0.5 %",
            "-",
            taken.band / 20.0,
        )
    ]


GROUPS = (cylinder, eccentric, fin, annulus, annulus_inside_and_sheet, lifted_source)
